//! The time of each frame while a script drags the cup and adds reamers, without a window.
//!
//! Frames follow each other at once, and each waits until the graphics card has finished it, so that a
//! frame's time is that of all its work. A line for each frame: number, part of the script, its time, and how many of the plan's changes
//! the picture and the findings on the screen are behind.

use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use bevy::app::App;
use bevy::prelude::{IntoScheduleConfigs, Res};
use bevy::render::render_resource::PollType;
use bevy::render::renderer::{RenderAdapterInfo, RenderDevice};
use bevy::render::{Render, RenderApp, RenderSystems};
use cupwright_geometry::Solid;
use cupwright_io::Draft;
use cupwright_procedure::Bone;
use cupwright_procedure::case::{ReamerEntry, ShiftEntry};
use cupwright_procedure::edit::Edit;

use super::picture::{begin, is_settled};
use super::{Failed, draw_on_image};
use crate::arguments::Size;
use crate::desk::{Act, Answers, Command, Plan, View};
use crate::scene::Drawn;

/// How long frames are drawn before the first that counts: a card that had nothing to do runs slowly.
const WARM_UP: Duration = Duration::from_secs(3);

/// Frames at rest.
const REST: u32 = 300;

/// Frames of the drag.
const DRAG: u32 = 900;

/// How often a reamer is added.
const STEPS: u32 = 30;

/// One frame.
struct Row {
    part: &'static str,
    ms: f64,
    behind_drawing: u64,
    behind_findings: u64,
}

/// Runs the script and writes the times to `path`.
pub(crate) fn frame_times(
    mut app: App,
    path: &Path,
    size: Size,
    triangles: Option<usize>,
) -> Result<(), Failed> {
    let mut draft = Draft::beside(path)?;
    draw_on_image(&mut app, size);
    if let Some(render) = app.get_sub_app_mut(RenderApp) {
        render.add_systems(Render, wait_for_card.after(RenderSystems::Render));
    }
    begin(&mut app);
    let card = card(&app);
    while !is_settled(&app)? {
        app.update();
    }
    if let Some(triangles) = triangles {
        part(&mut app, triangles)?;
    }
    let mut rows = Vec::new();
    let start = Instant::now();
    while start.elapsed() < WARM_UP {
        app.update();
    }
    for _ in 0..REST {
        frame(&mut app, "rest", &mut rows);
    }
    drag(&mut app, &mut rows);
    let redraws = add_reamers(&mut app, &mut rows)?;
    let unwritten = |cause| Failed::Write {
        path: path.to_owned(),
        cause,
    };
    write(&mut draft, &rows).map_err(unwritten)?;
    draft.publish()?;
    summary(&app, &card, &rows, &redraws).map_err(unwritten)
}

/// Puts the same bone in more triangles on the bench.
fn part(app: &mut App, triangles: usize) -> Result<(), Failed> {
    let mut answers = app.world_mut().resource_mut::<Answers>();
    if let Some(bone) = answers.bone().cloned() {
        let parted = Solid::try_from(bone.solid.mesh().parted(triangles));
        let solid = parted.map_err(|problem| Failed::Plan(problem.to_string()))?;
        answers.put_bone(Bone {
            solid: Arc::new(solid),
            ..Bone::clone(&bone)
        });
    }
    app.update();
    while !is_settled(app)? {
        app.update();
    }
    Ok(())
}

fn wait_for_card(device: Res<RenderDevice>) {
    // A card that is lost shows in the next frame.
    let _ = device.poll(PollType::Wait {
        submission_index: None,
        timeout: None,
    });
}

fn card(app: &App) -> String {
    let info = app.world().get_resource::<RenderAdapterInfo>();
    info.map_or("unknown".into(), |info| {
        format!("{} ({})", info.name, info.backend)
    })
}

fn frame(app: &mut App, part: &'static str, rows: &mut Vec<Row>) {
    let start = Instant::now();
    app.update();
    let ms = start.elapsed().as_secs_f64() * 1000.0;
    let world = app.world();
    let revision = world.resource::<Plan>().revision();
    let shown = world
        .resource::<Drawn>()
        .shows
        .as_ref()
        .map_or(0, |shows| shows.revision);
    rows.push(Row {
        part,
        ms,
        behind_drawing: revision.saturating_sub(shown),
        behind_findings: revision.saturating_sub(world.resource::<Answers>().found),
    });
}

/// Moves the cup to and fro and turns it, a little every frame, as one drag.
fn drag(app: &mut App, rows: &mut Vec<Row>) {
    let cup = app.world().resource::<Plan>().file().cup;
    for k in 0..DRAG {
        let angle = f64::from(k) / f64::from(DRAG) * 6.0 * std::f64::consts::TAU;
        let edit = if k < DRAG / 2 {
            Edit::CupCentre(ShiftEntry {
                medial_mm: cup.centre.medial_mm + 2.0 * angle.sin(),
                superior_mm: cup.centre.superior_mm + 1.5 * angle.cos() - 1.5,
                anterior_mm: cup.centre.anterior_mm,
            })
        } else {
            Edit::CupAngles {
                inclination_deg: cup.inclination_deg + 8.0 * angle.sin(),
                anteversion_deg: cup.anteversion_deg + 6.0 * (1.0 - angle.cos()),
            }
        };
        let starts = k == 0 || k == DRAG / 2;
        let act = if starts {
            Act::Edit(edit)
        } else {
            Act::Drag(edit)
        };
        app.world_mut().write_message(act);
        frame(app, if k < DRAG / 2 { "move" } else { "turn" }, rows);
    }
}

/// Adds a reamer, waits for the bone to show it, takes it back; the times to the frame that shows it,
/// in ms.
fn add_reamers(app: &mut App, rows: &mut Vec<Row>) -> Result<Vec<f64>, Failed> {
    let mut times = Vec::new();
    for _ in 0..STEPS {
        settle(app, rows)?;
        let (reamers, last) = {
            let plan = app.world().resource::<Plan>();
            (
                plan.reamers(),
                plan.file().reamers.last().copied().unwrap_or_default(),
            )
        };
        let diameter_mm = last.diameter_mm + 0.5;
        let reamer = ReamerEntry {
            diameter_mm,
            ..last
        };
        let start = Instant::now();
        app.world_mut()
            .write_message(Act::Edit(Edit::AddReamer(reamers, reamer)));
        app.world_mut().resource_mut::<View>().step = reamers + 1;
        loop {
            frame(app, "add", rows);
            let world = app.world();
            let revision = world.resource::<Plan>().revision();
            if world
                .resource::<Drawn>()
                .shows
                .as_ref()
                .is_some_and(|s| s.revision == revision)
            {
                break;
            }
        }
        times.push(start.elapsed().as_secs_f64() * 1000.0);
        app.world_mut().write_message(Act::Do(Command::Undo));
    }
    Ok(times)
}

fn settle(app: &mut App, rows: &mut Vec<Row>) -> Result<(), Failed> {
    frame(app, "add", rows);
    while !is_settled(app)? {
        frame(app, "add", rows);
    }
    Ok(())
}

fn write(out: &mut impl Write, rows: &[Row]) -> std::io::Result<()> {
    writeln!(
        out,
        "frame,part,ms,changes_behind_drawing,changes_behind_findings"
    )?;
    for (k, row) in rows.iter().enumerate() {
        let Row {
            part,
            ms,
            behind_drawing,
            behind_findings,
        } = row;
        writeln!(out, "{k},{part},{ms:.3},{behind_drawing},{behind_findings}")?;
    }
    Ok(())
}

/// The figures in words, on the standard output.
fn summary(app: &App, card: &str, rows: &[Row], redraws: &[f64]) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    let triangles = app
        .world()
        .resource::<Answers>()
        .bone()
        .map_or(0, |bone| bone.solid.mesh().triangles().len());
    writeln!(out, "card {card}; bone of {triangles} triangles")?;
    for part in ["rest", "move", "turn"] {
        let of_part = || rows.iter().filter(|row| row.part == part);
        let behind = |of: fn(&Row) -> u64| quantiles(of_part().map(|row| count(of(row))));
        let [half, most, worst] = quantiles(of_part().map(|row| row.ms));
        writeln!(
            out,
            "{part}: {} frames, median {half:.2} ms, 95th percentile {most:.2} ms, longest {worst:.2} ms; \
             behind by {} changes (drawing), {} changes (findings) at the 95th percentile",
            of_part().count(),
            behind(|row| row.behind_drawing)[1],
            behind(|row| row.behind_findings)[1],
        )?;
    }
    let [half, most, worst] = quantiles(redraws.iter().copied());
    writeln!(
        out,
        "one more reamer shown: median {half:.2} ms, 95th percentile {most:.2} ms, longest {worst:.2} ms"
    )
}

#[expect(clippy::cast_precision_loss, reason = "a count of changes")]
fn count(n: u64) -> f64 {
    n as f64
}

/// Median, 95th percentile and the largest; zeros where there is nothing.
fn quantiles(values: impl Iterator<Item = f64>) -> [f64; 3] {
    let mut sorted: Vec<_> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let at = |percent: usize| {
        let last = sorted.len().saturating_sub(1);
        sorted
            .get((last * percent).div_ceil(100))
            .copied()
            .unwrap_or(0.0)
    };
    [at(50), at(95), at(100)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_the_sorted_values() {
        let is = |values: Vec<f64>, wanted: [f64; 3]| {
            let found = quantiles(values.into_iter());
            let close = found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-12);
            assert!(close, "{found:?}");
        };
        is(
            (1..=100).rev().map(f64::from).collect(),
            [51.0, 96.0, 100.0],
        );
        is(Vec::new(), [0.0; 3]);
        is(vec![3.0], [3.0; 3]);
    }
}
