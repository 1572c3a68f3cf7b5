//! The answers' panel: what the plan as it stands comes to, on three pages.

mod figure;
mod hold;
mod joint;
mod motion;
mod motion_map;
mod socket;
mod table;

use std::sync::Arc;

use bevy_egui::egui::{Color32, RichText, ScrollArea, Spinner, Ui};
use cupwright_procedure::Findings;
use cupwright_procedure::compare::{Better, Kind, changes};
use cupwright_procedure::findings::Level;
use cupwright_procedure::quantity::Quantity;

use super::{Desk, field, theme};
use crate::desk::command::Command;
use crate::desk::view::Page;
pub(super) use hold::colour as quadrant_colour;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.add_space(2.0);
    pages(ui, desk);
    let page = desk.view.page;
    ScrollArea::vertical()
        .id_salt(page.name())
        .auto_shrink([false, false])
        .show(ui, |ui| {
            // Room for the bar that scrolls.
            ui.set_max_width(ui.available_width() - 6.0);
            let Some(findings) = desk.answers.findings.clone() else {
                ui.add_space(12.0);
                waiting(ui, desk);
                return;
            };
            match page {
                Page::Socket => socket::show(ui, desk, &findings),
                Page::Hold => hold::show(ui, desk, &findings),
                Page::Joint => joint::show(ui, desk, &findings),
            }
            if desk.view.compare {
                compare(ui, desk, &findings);
            }
            watch(ui, &findings);
            ui.add_space(8.0);
        });
}

/// The pages to choose from, and whether they are of the plan as it stands.
fn pages(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.horizontal(|ui| {
        for page in Page::ALL {
            let (on, command) = (desk.view.page == page, Command::Page(page));
            field::toggle(ui, page.name(), on, command, page.meaning(), desk.acts);
        }
        state(ui, desk);
    });
    ui.separator();
}

/// Whether the answers are those of the plan as it stands.
fn state(ui: &mut Ui, desk: &Desk<'_>) {
    let (words, colour) = match &desk.answers.no_findings {
        Some(_) if !desk.answers.is_busy() => ("no answer", theme::STOP),
        _ if desk.is_behind() => ("working it out", theme::FAINT),
        _ => ("up to date", theme::FAINT),
    };
    if colour == theme::FAINT && desk.is_behind() {
        ui.add(Spinner::new().size(11.0));
    }
    let why = desk.answers.no_findings.as_deref();
    let meaning = "Whether the answers are those of the plan as it stands.";
    ui.label(RichText::new(words).small().color(colour))
        .on_hover_text(why.unwrap_or(meaning));
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
