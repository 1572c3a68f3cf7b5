//! One picture of a case, as a PNG file.

use std::io::{Cursor, Write};
use std::path::Path;
use std::time::{Duration, Instant};

use bevy::app::{App, PluginsState};
use bevy::prelude::{On, ResMut, Resource};
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use cupwright_io::Draft;
use image::ImageFormat;

use super::{Failed, Target, draw_on_image};
use crate::arguments::Size;
use crate::desk::{Answers, Landmarking, Plan};
use crate::scene::Drawn;

/// How long a picture may take, in seconds: a bone of millions of triangles without a card.
const LONGEST_S: u64 = 600;

/// Frames after the last surface has come, until panels and light have settled.
const SETTLING: u32 = 8;

/// The picture, once the graphics card has given it back.
#[derive(Debug, Default, Resource)]
struct Captured(Option<Result<Vec<u8>, String>>);

/// Draws the bench on an image and writes that to `path`.
pub(crate) fn picture(mut app: App, path: &Path, size: Size) -> Result<(), Failed> {
    let mut draft = Draft::beside(path)?;
    draw_on_image(&mut app, size);
    app.init_resource::<Captured>();
    begin(&mut app);
    let start = Instant::now();
    let mut settled = 0;
    while settled < SETTLING {
        step(&mut app, start)?;
        settled = if is_settled(&app)? { settled + 1 } else { 0 };
    }
    let image = app.world().resource::<Target>().image.clone();
    app.world_mut()
        .spawn(Screenshot::image(image))
        .observe(keep);
    let png = loop {
        step(&mut app, start)?;
        if let Some(png) = app.world_mut().resource_mut::<Captured>().0.take() {
            break png.map_err(Failed::Card)?;
        }
    };
    let unwritten = |cause| Failed::Write {
        path: path.to_owned(),
        cause,
    };
    draft.write_all(&png).map_err(unwritten)?;
    Ok(draft.publish()?)
}

/// Makes the app ready to be stepped frame by frame.
pub(super) fn begin(app: &mut App) {
    while app.plugins_state() == PluginsState::Adding {
        bevy::tasks::tick_global_task_pools_on_main_thread();
    }
    app.finish();
    app.cleanup();
}

fn step(app: &mut App, start: Instant) -> Result<(), Failed> {
    app.update();
    if start.elapsed() > Duration::from_secs(LONGEST_S) {
        return Err(Failed::TooSlow(LONGEST_S));
    }
    Ok(())
}

/// Whether the picture on the stage is of the plan, and the findings too.
pub(super) fn is_settled(app: &App) -> Result<bool, Failed> {
    let world = app.world();
    let (plan, answers) = (world.resource::<Plan>(), world.resource::<Answers>());
    let drawn = world.resource::<Drawn>();
    if let Some(told) = answers.no_bone.as_ref().or(answers.no_findings.as_ref()) {
        return Err(Failed::Plan(told.clone()));
    }
    let is_found = answers.findings.is_some() && answers.found == plan.revision();
    let is_shown = drawn
        .shows
        .as_ref()
        .is_some_and(|shows| shows.revision == plan.revision());
    let is_busy = answers.is_busy() || drawn.is_busy() || world.resource::<Landmarking>().is_busy();
    Ok(is_found && is_shown && !is_busy)
}

fn keep(captured: On<ScreenshotCaptured>, mut kept: ResMut<Captured>) {
    let encoded = captured
        .image
        .clone()
        .try_into_dynamic()
        .map_err(|problem| problem.to_string());
    let png = encoded.and_then(|image| {
        let mut bytes = Cursor::new(Vec::new());
        let written = image.to_rgb8().write_to(&mut bytes, ImageFormat::Png);
        written
            .map(|()| bytes.into_inner())
            .map_err(|problem| problem.to_string())
    });
    kept.0 = Some(png);
}
