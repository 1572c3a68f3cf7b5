//! The picture: camera, light, bone and tools.
//!
//! [`Drawn`] asks the draughtsman for the latest plan and view and puts what comes onto the stage;
//! the camera follows [`eye::Eye`]. What is drawn over the picture is in `panels`.

mod clay;
pub(crate) mod eye;
pub(crate) mod ground;
pub(crate) mod handles;
mod stage;
pub(crate) mod views;

use std::sync::Arc;

use bevy::math::{Rect, URect, Vec3};
use bevy::prelude::{
    App, IntoScheduleConfigs, Local, Plugin, Res, ResMut, Resource, Startup, Time, Update,
};
use cupwright_procedure::Case;

use crate::desk::view::{From, Section};
use crate::desk::{Answers, Notice, Plan, View};
use crate::drawing::scale::Scale;
use crate::drawing::{Draughtsman, Picture, Print, Sketch};
use crate::work::{Broken, Latest};
use eye::{Eye, Stand};

pub(crate) use stage::camera;

/// Where the picture lies on the screen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Resource)]
pub(crate) struct Frame {
    /// In points.
    pub(crate) points: Rect,
    /// In pixels.
    pub(crate) pixels: URect,
}

/// What was asked to be drawn: the plan's revision, the bone's generation, and the view.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Asked {
    pub(crate) revision: u64,
    generation: u64,
    view: View,
    kept: Option<Arc<Case>>,
}

/// The picture that is on the stage, and the thread that draws the next.
#[derive(Debug, Resource)]
pub(crate) struct Drawn {
    draughtsman: Latest<(Asked, Sketch), (Asked, Result<Print, String>)>,
    asked: Option<Asked>,
    /// A picture that is not on the stage yet.
    fresh: Option<Print>,
    /// The number of the far bone that is on the stage.
    far: u64,
    /// What the picture on the stage shows.
    pub(crate) shows: Option<Asked>,
    /// Its scale.
    pub(crate) scale: Option<Scale>,
}

impl Default for Drawn {
    fn default() -> Self {
        let mut draughtsman = Draughtsman::default();
        Self {
            draughtsman: Latest::new("drawing", move |(asked, sketch): (Asked, Sketch)| {
                let drawn = draughtsman.draw(&sketch).map(Picture::printed);
                (asked, drawn)
            }),
            asked: None,
            fresh: None,
            far: 0,
            shows: None,
            scale: None,
        }
    }
}

impl Drawn {
    /// Whether a newer picture is still being drawn.
    pub(crate) fn is_busy(&self) -> bool {
        self.draughtsman.is_busy()
    }
}

/// Camera, light, bone and tools.
#[derive(Debug)]
pub(crate) struct ScenePlugin;

impl Plugin for ScenePlugin {
    fn build(&self, app: &mut App) {
        app.add_plugins(clay::ClayPlugin)
            .init_resource::<Drawn>()
            .init_resource::<Frame>()
            .insert_resource(Eye::at(Stand::toward(Vec3::ZERO, Vec3::X, Vec3::Y, 4.0)))
            .add_systems(Startup, stage::set)
            .add_systems(
                Update,
                (exchange, stage::show, turn, stage::follow, stage::dress)
                    .chain()
                    .after(crate::desk::DeskSystems),
            );
    }
}

/// Asks for a picture of the latest plan and view, and takes what has been drawn.
fn exchange(
    plan: Res<Plan>,
    view: Res<View>,
    answers: Res<Answers>,
    mut drawn: ResMut<Drawn>,
    mut notice: ResMut<Notice>,
) {
    let drawn = &mut *drawn;
    if let Some(bone) = answers.bone().filter(|_| !answers.is_making_bone()) {
        let asked = Asked::of(&plan, &view, answers.generation);
        if drawn.asked.as_ref() != Some(&asked) {
            let kept = plan
                .kept
                .as_ref()
                .filter(|kept| view.compare && kept.case.bone == plan.case().bone);
            let kept = kept.map(|kept| Arc::clone(&kept.case));
            let sketch = Sketch {
                bone: Arc::clone(bone),
                case: Arc::new(Case::clone(plan.case())),
                kept,
                step: view.step.min(plan.reamers() + 1),
                away: view.away,
                map: view.map,
                section: view.section,
                tools: view.tools,
            };
            drawn.asked = Some(asked.clone());
            drawn.draughtsman.ask((asked, sketch));
        }
    }
    match drawn.draughtsman.take() {
        Some(Ok((asked, Ok(picture)))) => {
            if let Some(told) = &picture.trouble {
                notice.trouble(told);
            }
            drawn.scale = picture.scale;
            drawn.shows = Some(asked);
            drawn.fresh = Some(picture);
        }
        Some(Ok((_, Err(told))) | Err(Broken(told))) => notice.trouble(told),
        None => {}
    }
}

impl Asked {
    fn of(plan: &Plan, view: &View, generation: u64) -> Self {
        // Only what changes the surfaces: neither camera nor windows do.
        let view = View {
            step: view.step.min(plan.reamers() + 1),
            away: view.away,
            map: view.map,
            section: view.section,
            compare: view.compare,
            tools: view.tools,
            ..View::default()
        };
        Self {
            revision: plan.revision(),
            generation,
            view,
            kept: plan.kept.as_ref().map(|kept| Arc::clone(&kept.case)),
        }
    }
}

/// Turns the camera to a named view when it is asked for, and again for another bone.
fn turn(
    plan: Res<Plan>,
    view: Res<View>,
    answers: Res<Answers>,
    time: Res<Time>,
    mut eye: ResMut<Eye>,
    mut last: Local<Option<(From, u64, Option<Section>)>>,
) {
    eye.pass(time.delta_secs());
    let Some(bone) = answers.bone() else { return };
    let section = (view.from == From::Section).then_some(view.section);
    let wanted = (view.from, answers.generation, section);
    if *last == Some(wanted) {
        return;
    }
    let first = last.is_none();
    if let Some(stand) = views::stand(view.from, plan.case(), bone, &view.section) {
        if first {
            eye.jump(stand);
        } else {
            eye.go(stand);
        }
    }
    *last = Some(wanted);
}
