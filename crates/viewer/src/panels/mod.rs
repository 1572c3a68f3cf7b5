//! What lies over and beside the picture: fields, answers, steps, windows, and the handles.
//!
//! One pass a frame: panels read the [`Desk`] and push what is asked for as [`Act`]s. They change
//! nothing of the plan themselves.

mod answers;
mod bar;
mod chart;
mod field;
mod keys;
mod lesson;
mod limits;
mod overlay;
mod plan;
mod rim_clock;
mod screws;
mod theme;
mod timeline;
mod windows;

use bevy::math::{Rect, URect, UVec2, Vec2};
use bevy::prelude::{App, Local, MessageWriter, Plugin, Res, ResMut};
use bevy_egui::egui::{self, LayerId, Panel, Ui, UiBuilder};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

use crate::desk::{Act, Answers, BoneOnBone, Course, Notice, Plan, View};
use crate::scene::eye::Eye;
use crate::scene::{Drawn, Frame};

/// Everything that the panels read, and the acts that they ask for.
struct Desk<'a> {
    plan: &'a Plan,
    view: &'a mut View,
    answers: &'a Answers,
    bone_on_bone: &'a BoneOnBone,
    course: &'a Course,
    notice: &'a mut Notice,
    drawn: &'a Drawn,
    eye: &'a mut Eye,
    acts: &'a mut Vec<Act>,
}

impl Desk<'_> {
    /// Whether the answers that are shown are of an earlier plan.
    fn is_behind(&self) -> bool {
        self.answers.found != self.plan.revision() || self.answers.is_busy()
    }
}

/// How wide the answers are, in points: the widest table can be read.
const ANSWERS: f32 = 296.0;

/// The panels.
#[derive(Debug)]
pub(crate) struct PanelsPlugin;

impl Plugin for PanelsPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(EguiPrimaryContextPass, show);
    }
}

/// What the panels remember from frame to frame.
#[derive(Default)]
struct Memory {
    is_dressed: bool,
    overlay: overlay::Memory,
    windows: windows::Memory,
}

fn show(
    mut contexts: EguiContexts,
    plan: Res<Plan>,
    mut view: ResMut<View>,
    (answers, bone_on_bone): (Res<Answers>, Res<BoneOnBone>),
    (course, drawn): (Res<Course>, Res<Drawn>),
    mut notice: ResMut<Notice>,
    mut eye: ResMut<Eye>,
    mut frame: ResMut<Frame>,
    mut asked: MessageWriter<Act>,
    mut memory: Local<Memory>,
) -> bevy::prelude::Result {
    let ctx = contexts.ctx_mut()?.clone();
    if !memory.is_dressed {
        theme::set(&ctx);
        memory.is_dressed = true;
    }
    ctx.set_zoom_factor(if view.projector {
        theme::PROJECTOR
    } else {
        1.0
    });
    let mut acts = Vec::new();
    let mut desk = Desk {
        plan: &plan,
        view: &mut view,
        answers: &answers,
        bone_on_bone: &bone_on_bone,
        course: &course,
        notice: &mut notice,
        drawn: &drawn,
        eye: &mut eye,
        acts: &mut acts,
    };
    keys::take(&ctx, desk.acts);
    let rect = lay_out(&ctx, &mut desk, &mut memory);
    let seen = in_pixels(rect, ctx.pixels_per_point());
    if *frame != seen {
        *frame = seen;
    }
    asked.write_batch(acts);
    Ok(())
}

/// Lays out all panels; gives the rectangle that is left for the picture, in points.
fn lay_out(ctx: &egui::Context, desk: &mut Desk<'_>, memory: &mut Memory) -> egui::Rect {
    let whole = UiBuilder::new()
        .layer_id(LayerId::background())
        .max_rect(ctx.viewport_rect());
    let mut ui = Ui::new(ctx.clone(), "bench".into(), whole);
    let ui = &mut ui;
    Panel::bottom("caution").show(ui, bar::caution);
    if desk.view.is_bench {
        around(ui, desk);
    }
    let rect = ui.available_rect_before_wrap();
    overlay::show(ui, rect, desk, &mut memory.overlay);
    windows::show(ctx, desk, &mut memory.windows);
    rect
}

/// Bar, panels and steps around the picture.
fn around(ui: &mut Ui, desk: &mut Desk<'_>) {
    Panel::top("bar").show(ui, |ui| bar::show(ui, desk));
    if desk.view.plan_panel {
        Panel::left("plan")
            .exact_size(232.0)
            .resizable(false)
            .show(ui, |ui| plan::show(ui, desk));
    }
    if desk.view.answers_panel {
        Panel::right("answers")
            .exact_size(ANSWERS)
            .resizable(false)
            .show(ui, |ui| answers::show(ui, desk));
    }
    Panel::bottom("steps").show(ui, |ui| timeline::show(ui, desk));
    if let Some(told) = desk
        .answers
        .findings
        .as_deref()
        .and_then(answers::limit_told)
    {
        Panel::top("banner")
            .frame(bar::banner_frame())
            .show(ui, |ui| bar::banner(ui, &told));
    }
    if desk.course.lesson.is_some() {
        Panel::bottom("lesson")
            .exact_size(178.0)
            .show(ui, |ui| lesson::show(ui, desk));
    }
}

/// The picture's rectangle, as the camera needs it.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "pixels of a screen"
)]
fn in_pixels(rect: egui::Rect, scale: f32) -> Frame {
    let whole = |v: egui::Pos2| {
        UVec2::new(
            (v.x * scale).round().max(0.0) as u32,
            (v.y * scale).round().max(0.0) as u32,
        )
    };
    Frame {
        points: Rect::from_corners(vec2(rect.min), vec2(rect.max)),
        pixels: URect::from_corners(whole(rect.min), whole(rect.max)),
    }
}

fn vec2(at: egui::Pos2) -> Vec2 {
    Vec2::new(at.x, at.y)
}

fn pos2(at: Vec2) -> egui::Pos2 {
    egui::pos2(at.x, at.y)
}
