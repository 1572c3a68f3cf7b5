//! Bone removed and coverage against reamer diameter; the gap at the pole against seating force.

use bevy_egui::egui::{Color32, RichText, Ui};
use cupwright_procedure::Findings;
use cupwright_procedure::hold::PressFitFinding;
use egui_plot::{AxisHints, GridMark, Line, Plot, PlotPoints, Points, VLine};

use super::theme;

const REMOVED: Color32 = Color32::from_rgb(150, 88, 60);

pub(super) fn show(ui: &mut Ui, findings: &Findings, step: usize) {
    let steps = &findings.reaming;
    let removed = steps
        .iter()
        .map(|s| [s.diameter_mm, s.cumulative_removed_mm3 / 1000.0]);
    let covered = steps.iter().map(|s| [s.diameter_mm, 100.0 * s.coverage]);
    let now = step
        .min(steps.len())
        .checked_sub(1)
        .and_then(|k| steps.get(k));
    let now = now.map(|step| step.diameter_mm);
    let marks: Vec<_> = steps
        .iter()
        .map(|step| mark(step.diameter_mm, 1.0))
        .collect();
    let meaning = "All bone removed up to each reamer, in cm³.";
    plot(
        ui,
        "bone removed, cm³",
        meaning,
        (removed.collect(), REMOVED),
        (now, &marks),
    );
    let meaning = "Share of its round side that a cup of the reamer's own size would have covered there, in percent.";
    plot(
        ui,
        "coverage, %",
        meaning,
        (covered.collect(), theme::ACCENT),
        (now, &marks),
    );
    across(ui, "reamer diameter, mm");
}

/// The gap at the pole against the seating force; the case's own force is marked.
pub(super) fn gap(ui: &mut Ui, found: &PressFitFinding) {
    let gaps = found.gap_by_force.iter();
    let gaps = gaps.filter_map(|at| Some([at.force_n, at.polar_gap_mm?]));
    let gaps: Vec<_> = gaps.collect();
    if gaps.is_empty() {
        ui.label("No bone lies behind the pole.");
        return;
    }
    let marks: Vec<_> = (0..=5_u8)
        .map(|k| mark(1000.0 * f64::from(k), 1000.0))
        .collect();
    let meaning = "Estimate of what is left between pole and bone when the cup is driven in with this force; the bar marks the force of the plan.";
    let force = Some(found.inputs.seating_force_n);
    plot(
        ui,
        "gap, mm",
        meaning,
        (gaps, theme::ACCENT),
        (force, &marks),
    );
    across(ui, "seating force, N");
}

/// What the numbers along a plot's foot are.
fn across(ui: &mut Ui, what: &str) {
    ui.label(RichText::new(what).small().color(theme::FAINT));
}

fn plot(
    ui: &mut Ui,
    name: &str,
    meaning: &str,
    (points, colour): (Vec<[f64; 2]>, Color32),
    (now, marks): (Option<f64>, &[GridMark]),
) {
    ui.label(RichText::new(name).small().color(colour))
        .on_hover_text(meaning);
    let marks = marks.to_vec();
    let close = 10.0..=18.0;
    Plot::new(name)
        .height(92.0)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .show_grid([false, true])
        .include_y(0.0)
        .x_grid_spacer(move |_| marks.clone())
        .custom_x_axes(vec![AxisHints::new_x().label_spacing(close.clone())])
        .custom_y_axes(vec![
            AxisHints::new_y().label_spacing(close).min_thickness(30.0),
        ])
        .show(ui, |plot| {
            if let Some(now) = now {
                plot.vline(VLine::new("shown", now).color(theme::LINE).width(6.0));
            }
            plot.line(
                Line::new(name, PlotPoints::from(points.clone()))
                    .color(colour)
                    .width(2.0),
            );
            plot.points(Points::new(name, points).color(colour).radius(3.5));
        });
}

/// A mark of the axis, so far from the next.
fn mark(value: f64, step_size: f64) -> GridMark {
    GridMark { value, step_size }
}
