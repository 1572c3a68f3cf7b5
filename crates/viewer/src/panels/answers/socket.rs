//! The page of the socket: coverage, walls, bone removed, the rim.

use bevy_egui::egui::{Color32, Ui};
use cupwright_procedure::Findings;
use cupwright_procedure::findings::StepFinding;
use cupwright_procedure::quantity::Quantity;
use cupwright_report::words::fixed;

use super::figure::{Figure, is_broken, large, of, row, rows};
use crate::panels::{Desk, chart, field, rim_clock, theme};

/// What stands large at the top.
const LARGE: [Quantity; 2] = [Quantity::Coverage, Quantity::ThinnestWallMm];

/// What stands below, in this order.
const LISTED: [Quantity; 7] = [
    Quantity::RimContact,
    Quantity::LargestOverhangMm,
    Quantity::InterferenceMm,
    Quantity::CentreShiftMm,
    Quantity::MedialMm,
    Quantity::SuperiorMm,
    Quantity::AnteriorMm,
];

pub(super) fn show(ui: &mut Ui, desk: &Desk<'_>, findings: &Findings) {
    large(ui, &LARGE.map(|quantity| figure(findings, quantity)));
    step(ui, desk, findings);
    listed(ui, findings);
    field::heading(ui, "Rim of the cup");
    rim_clock::show(ui, findings, &desk.view.section);
    field::heading(ui, "Against reamer diameter");
    chart::show(ui, findings, desk.view.step);
}

fn figure(findings: &Findings, quantity: Quantity) -> Figure {
    Figure {
        name: name(quantity),
        value: of(quantity, findings),
        under: quantity.place(findings).unwrap_or_default(),
        colour: colour_of(findings, quantity),
        meaning: quantity.meaning().into(),
    }
}

fn colour_of(findings: &Findings, quantity: Quantity) -> Color32 {
    if is_broken(findings, quantity) {
        theme::STOP
    } else {
        theme::INK
    }
}

/// What a number is called here, where there is little room.
fn name(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Coverage => "cup coverage",
        Quantity::MedialMm => "  medial",
        Quantity::SuperiorMm => "  superior",
        Quantity::AnteriorMm => "  anterior",
        other => other.label(),
    }
}

/// Bone removed so far and by the step that is shown.
fn step(ui: &mut Ui, desk: &Desk<'_>, findings: &Findings) {
    let shown = desk.view.reamers(findings.reaming.len());
    let done: Option<&StepFinding> = shown.checked_sub(1).and_then(|k| findings.reaming.get(k));
    let cm3 = |mm3: f64| format!("{} cm³", fixed(mm3 / 1000.0, 2));
    rows(ui, "removed", |ui| {
        let so_far = done.map_or(0.0, |step| step.cumulative_removed_mm3);
        let (removed, name) = (Quantity::RemovedMm3, "bone removed so far");
        let colour = colour_of(findings, removed);
        row(ui, name, &cm3(so_far), colour, removed.meaning());
        let by_this = done.map_or("none".into(), |step| {
            let error = if step.error_bound_mm3 >= 5.0 {
                format!(" ± {}", cm3(step.error_bound_mm3))
            } else {
                String::new()
            };
            cm3(step.removed_mm3) + &error
        });
        let name = done.map_or("by this step".into(), |step| {
            format!("by reamer {shown}, {} mm", fixed(step.diameter_mm, 0))
        });
        row(
            ui,
            &name,
            &by_this,
            theme::INK,
            "Bone removed by this reamer and by none before it.",
        );
    });
}

fn listed(ui: &mut Ui, findings: &Findings) {
    rows(ui, "listed", |ui| {
        for quantity in LISTED {
            let at = quantity.place(findings).map(|at| format!(" at {at}"));
            let text = of(quantity, findings) + &at.unwrap_or_default();
            let colour = colour_of(findings, quantity);
            row(ui, name(quantity), &text, colour, quantity.meaning());
        }
        for angles in &findings.cup.angles {
            let pair = format!(
                "{}° / {}°",
                fixed(angles.inclination_deg, 1),
                fixed(angles.anteversion_deg, 1)
            );
            let meaning =
                "Inclination and anteversion of the cup in this definition, after pelvic tilt.";
            row(ui, &angles.definition, &pair, theme::INK, meaning);
        }
    });
}
