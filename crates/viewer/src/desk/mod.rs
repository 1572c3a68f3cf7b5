//! The bench without its picture: the plan, what is asked of it, and the answers.
//!
//! One way round: a key, handle or panel sends an [`Act`]; [`perform`] changes [`Plan`] or [`View`];
//! [`answers`] has the bone made and the findings worked out beside the frame. Nothing here draws.

pub mod answers;
pub mod bone_on_bone;
pub mod command;
mod files;
pub mod lesson;
pub mod perform;
pub mod plan;
pub mod view;

use bevy::prelude::{App, IntoScheduleConfigs, Message, Plugin, Resource, SystemSet, Update};
use std::path::PathBuf;

use cupwright_procedure::edit::Edit;

pub use answers::Answers;
pub use bone_on_bone::BoneOnBone;
pub use command::Command;
pub use lesson::Course;
pub use plan::Plan;
pub use view::View;

/// Something that was asked of the bench.
#[derive(Clone, Debug, Message, PartialEq)]
pub enum Act {
    /// A command.
    Do(Command),
    /// A change of the plan, to be undone by itself.
    Edit(Edit),
    /// More of the last change, as in one drag.
    Drag(Edit),
    /// Select a reamer.
    Select(usize),
    /// Go to a step of the plan.
    GoTo(usize),
    /// Open a case or a bone, whatever of the plan is not saved.
    Open(PathBuf),
    /// Save the case.
    Save(PathBuf),
    /// Close the bench, whatever of the plan is not saved.
    Leave,
    /// Begin a lesson, by its place among those that come with the program.
    Learn(usize),
}

/// What the bench has to say of the last thing asked.
#[derive(Clone, Debug, Default, PartialEq, Resource)]
pub struct Notice {
    /// The words; empty where there is nothing to say.
    pub text: String,
    /// Whether it tells of something that went wrong.
    pub is_trouble: bool,
}

impl Notice {
    /// Something went wrong.
    pub fn trouble(&mut self, text: impl ToString) {
        self.text = text.to_string();
        self.is_trouble = true;
    }

    /// Something is done.
    pub fn done(&mut self, text: impl ToString) {
        self.text = text.to_string();
        self.is_trouble = false;
    }
}

/// What the bench does in a frame; what shows it runs after.
#[derive(Clone, Debug, Eq, Hash, PartialEq, SystemSet)]
pub struct DeskSystems;

/// The bench without its picture. [`Plan`] is to be inserted beside it.
#[derive(Debug)]
pub struct DeskPlugin;

/// The part of the [`DeskPlugin`] that does what is asked and works nothing out.
#[derive(Debug)]
pub struct ActsPlugin;

impl Plugin for DeskPlugin {
    fn build(&self, app: &mut App) {
        let exchange = (answers::exchange, bone_on_bone::exchange)
            .in_set(DeskSystems)
            .after(perform::perform);
        app.add_plugins(ActsPlugin).add_systems(Update, exchange);
    }
}

impl Plugin for ActsPlugin {
    fn build(&self, app: &mut App) {
        app.add_message::<Act>()
            .init_resource::<View>()
            .init_resource::<Notice>()
            .init_resource::<Course>()
            .init_resource::<Answers>()
            .init_resource::<BoneOnBone>()
            .add_systems(
                Update,
                (perform::perform, perform::play)
                    .chain()
                    .in_set(DeskSystems),
            );
    }
}
