//! The answers' panel: what the plan as it stands comes to.

use std::sync::Arc;

use bevy_egui::egui::{Color32, Grid, RichText, ScrollArea, Ui};
use cupwright_procedure::Findings;
use cupwright_procedure::compare::{Better, Kind, changes};
use cupwright_procedure::findings::{Level, StepFinding};
use cupwright_procedure::quantity::Quantity;
use cupwright_report::words::fixed;

use super::{Desk, chart, field, rim_clock, theme};
use crate::desk::command::Command;

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

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| {
            let Some(findings) = desk.answers.findings.clone() else {
                ui.add_space(12.0);
                waiting(ui, desk);
                return;
            };
            large(ui, desk, &findings);
            step(ui, desk, &findings);
            listed(ui, &findings);
            field::heading(ui, "Rim of the cup");
            rim_clock::show(ui, &findings, &desk.view.section);
            field::heading(ui, "Against reamer diameter");
            chart::show(ui, &findings, desk.view.step);
            if desk.view.compare {
                compare(ui, desk, &findings);
            }
            watch(ui, &findings);
            ui.add_space(8.0);
        });
}

fn waiting(ui: &mut Ui, desk: &Desk<'_>) {
    match (&desk.answers.no_bone, &desk.answers.no_findings) {
        (Some(told), _) | (None, Some(told)) => {
            ui.label(RichText::new(told).color(theme::STOP));
        }
        (None, None) => {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label("working it out");
            });
        }
    }
}

/// Whether a limit on a number is broken.
fn is_broken(findings: &Findings, quantity: Quantity) -> bool {
    let mut broken = findings.limits.iter().filter(|limit| !limit.met);
    broken.any(|limit| Quantity::of_limit(&limit.limit).is_some_and(|(of, _)| of == quantity))
}

fn large(ui: &mut Ui, desk: &Desk<'_>, findings: &Findings) {
    ui.add_space(4.0);
    ui.columns(2, |columns| {
        for (ui, quantity) in columns.iter_mut().zip(LARGE) {
            let colour = if is_broken(findings, quantity) {
                theme::STOP
            } else {
                theme::INK
            };
            let value = quantity
                .of(findings)
                .map_or("none".into(), |v| quantity.told(v));
            let at = quantity.place(findings).unwrap_or_default();
            ui.vertical(|ui| {
                ui.label(RichText::new(name(quantity)).small().color(theme::FAINT));
                ui.label(RichText::new(value).size(27.0).color(colour));
                ui.label(RichText::new(at).small());
            })
            .response
            .on_hover_text(quantity.meaning());
        }
    });
    if desk.is_behind() {
        ui.horizontal(|ui| {
            ui.add(bevy_egui::egui::Spinner::new().size(11.0));
            ui.label(
                RichText::new("working out the change")
                    .small()
                    .color(theme::FAINT),
            );
        });
    } else {
        ui.label(
            RichText::new("up to date with the plan")
                .small()
                .color(theme::FAINT),
        );
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
    Grid::new("removed").num_columns(2).show(ui, |ui| {
        let so_far = done.map_or(0.0, |step| step.cumulative_removed_mm3);
        let broken = is_broken(findings, Quantity::RemovedMm3);
        row(
            ui,
            "bone removed so far",
            &cm3(so_far),
            broken,
            Quantity::RemovedMm3.meaning(),
        );
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
            false,
            "Bone removed by this reamer and by none before it.",
        );
    });
}

fn row(ui: &mut Ui, name: &str, value: &str, broken: bool, meaning: &str) {
    let colour = if broken { theme::STOP } else { theme::INK };
    ui.label(name).on_hover_text(meaning);
    ui.label(RichText::new(value).strong().color(colour))
        .on_hover_text(meaning);
    ui.end_row();
}

fn listed(ui: &mut Ui, findings: &Findings) {
    Grid::new("listed").num_columns(2).show(ui, |ui| {
        for quantity in LISTED {
            let value = quantity
                .of(findings)
                .map_or("none".into(), |v| quantity.told(v));
            let at = quantity.place(findings).map(|at| format!(" at {at}"));
            let text = value + &at.unwrap_or_default();
            row(
                ui,
                name(quantity),
                &text,
                is_broken(findings, quantity),
                quantity.meaning(),
            );
        }
        for angles in &findings.cup.angles {
            let pair = format!(
                "{}° / {}°",
                fixed(angles.inclination_deg, 1),
                fixed(angles.anteversion_deg, 1)
            );
            let meaning =
                "Inclination and anteversion of the cup in this definition, after pelvic tilt.";
            row(ui, &angles.definition, &pair, false, meaning);
        }
    });
}

/// What changed since the plan that was kept.
fn compare(ui: &mut Ui, desk: &mut Desk<'_>, findings: &Findings) {
    field::heading(ui, "Since the kept plan");
    let Some(before) = desk
        .plan
        .kept
        .as_ref()
        .map(|kept| Arc::clone(&kept.findings))
    else {
        ui.label("No plan is kept yet.");
        field::command(
            ui,
            "keep this one",
            Command::Keep,
            "Keep the plan as it is",
            desk.acts,
        );
        return;
    };
    ui.label(
        RichText::new("its cup is drawn in orange")
            .small()
            .color(theme::KEPT),
    );
    let all = changes(&before, findings);
    if all.is_empty() {
        ui.label("Nothing has changed.");
    }
    for change in all {
        let colour = match change.better {
            Better::Better => theme::GOOD,
            Better::Worse => theme::STOP,
            Better::Neither => theme::INK,
        };
        let told = match change.kind {
            Kind::Number(_) | Kind::LimitBroken | Kind::LimitKept => change.told(),
            Kind::WatchAppeared(_) => format!("new: {}", change.what),
            Kind::WatchWent(_) => format!("gone: {}", change.what),
        };
        ui.label(RichText::new(told).color(colour))
            .on_hover_text(&change.meaning);
    }
}

fn watch(ui: &mut Ui, findings: &Findings) {
    field::heading(ui, "Watch");
    if findings.watch.is_empty() {
        ui.label("Nothing stands out.");
    }
    for watch in &findings.watch {
        let text = format!("{}: {}", watch.level, watch.message);
        ui.label(RichText::new(text).color(colour(watch.level)))
            .on_hover_text(&watch.source);
    }
}

/// The colour of a watch.
pub(super) fn colour(level: Level) -> Color32 {
    match level {
        Level::Stop => theme::STOP,
        Level::Caution => theme::CAUTION,
        Level::Note => theme::INK,
    }
}

/// What to say of limits that are broken.
pub(super) fn limit_told(findings: &Findings) -> Option<String> {
    let broken = findings.limits.iter().filter(|limit| !limit.met);
    let told = broken.filter_map(|limit| {
        let (quantity, way) = Quantity::of_limit(&limit.limit)?;
        let found = limit
            .found
            .map_or("not measured".into(), |found| quantity.told(found));
        let at = quantity
            .place(findings)
            .map(|at| format!(" at {at}"))
            .unwrap_or_default();
        let (name, asked) = (quantity.label(), quantity.told(limit.asked));
        Some(format!("{name} is {found}{at}; asked was {way} {asked}"))
    });
    let told: Vec<_> = told.collect();
    (!told.is_empty()).then(|| told.join("   ·   "))
}
