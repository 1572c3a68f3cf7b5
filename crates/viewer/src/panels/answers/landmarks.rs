//! The page of the landmarks: where they are, how sure, the native socket, and what an error would do.

use bevy_egui::egui::{RichText, Ui};
use cupwright_anatomy::Definition;
use cupwright_anatomy::guess::{Basis, Guess, Mark};
use cupwright_procedure::case::{AxesEntry, BoneEntry};
use cupwright_procedure::marks::named;
use cupwright_procedure::survey::Survey;
use cupwright_report::words::fixed;

use super::figure::{aside, row, rows};
use super::table::{self, Column, Row, number, words};
use crate::desk::Act;
use crate::desk::landmarking::ERROR_MM;
use crate::panels::landmarks::{called, colour};
use crate::panels::{Desk, field, theme};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    field::heading(ui, "Landmarks");
    let BoneEntry::File { axes, .. } = &desk.plan.file().bone else {
        let told = "A synthetic bone knows its landmarks. Open a bone from a file to place them.";
        ui.label(told);
        return;
    };
    let is_used = matches!(
        axes,
        AxesEntry::Landmarks { .. } | AxesEntry::LandmarksFile(_)
    );
    let Some(survey) = desk.landmarking.survey.clone() else {
        waiting(ui, desk);
        return;
    };
    bone(ui, desk, &survey);
    if !is_used || survey.guess().side != desk.plan.case().side {
        if !is_used {
            let told = "The case takes the file's axes as they lie: the landmarks below are a guess, not in use.";
            ui.label(told);
        }
        let does = "Side and landmarks become part of the case; the plan follows them. Undo takes it back.";
        if ui
            .button("use these landmarks")
            .on_hover_text(does)
            .clicked()
        {
            desk.acts.push(Act::TakeGuess);
        }
    }
    places(ui, desk, survey.guess());
    socket(ui, &survey);
    influences(ui, &survey);
}

fn waiting(ui: &mut Ui, desk: &Desk<'_>) {
    let trouble = desk.landmarking.trouble.as_ref();
    match trouble.or(desk.answers.no_bone.as_ref()) {
        Some(told) => {
            ui.label(RichText::new(told).color(theme::STOP));
            ui.label("Landmarks can be given in the case file.");
        }
        None => {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label("looking for landmarks");
            });
        }
    }
}

/// What the bone is taken for, and whether the case says the same.
fn bone(ui: &mut Ui, desk: &Desk<'_>, survey: &Survey) {
    let guess = survey.guess();
    let told = format!(
        "{}; its shape is a {} hip's (sureness: {})",
        survey.part, survey.side, survey.side_sureness
    );
    aside(
        ui,
        &told,
        colour(guess.side_sureness()),
        "By how much less the other side's shape fits.",
    );
    let of_case = desk.plan.case().side;
    if guess.side != of_case {
        let told =
            format!("the case says {of_case} hip; these landmarks bring the other side with them");
        ui.label(RichText::new(told).color(theme::STOP));
    }
    let midline = &survey.midline;
    let told = format!("midline within {}°", fixed(midline.within_deg, 1));
    aside(ui, &told, colour(guess.midline.sureness()), &midline.basis);
}

const PLACES: [Column; 3] = [
    words(
        "landmark",
        5.0,
        "Click a row, then click its place on the bone in the picture.",
    ),
    number(
        "within",
        2.4,
        "Within how many mm it is thought to be right: an estimate, not a bound.",
    ),
    words("from", 3.0, "What it rests on."),
];

fn places(ui: &mut Ui, desk: &mut Desk<'_>, guess: &Guess) {
    table::head(ui, &PLACES);
    for (mark, side) in Mark::sided() {
        let estimate = guess.estimate(mark, side);
        let from = match estimate.basis {
            Basis::Outermost { .. } => "the surface",
            Basis::Mirrored => "mirror image",
            Basis::Given => "the case",
        };
        let tint = colour(estimate.sureness());
        let cells = [
            (called(mark, side), theme::INK),
            (format!("{} mm", fixed(estimate.within, 1)), tint),
            (from.to_owned(), theme::INK),
        ];
        let is_armed = desk.landmarking.armed == Some((mark, side));
        let kind = if is_armed { Row::Chosen } else { Row::Open };
        let more = estimate.basis.to_string();
        if table::row(ui, &PLACES, &cells, kind, &more).clicked() {
            let arm = (!is_armed).then_some((mark, side));
            desk.acts.push(Act::Arm(arm));
        }
    }
    table::foot(ui);
    aside(
        ui,
        "click a row, then its place on the bone",
        theme::FAINT,
        "",
    );
}

fn socket(ui: &mut Ui, survey: &Survey) {
    field::heading(ui, "Native socket");
    let socket = &survey.socket;
    rows(ui, "native socket", |ui| {
        let mut told = |name: &str, value: String, meaning: &str| {
            row(ui, name, &value, theme::INK, meaning);
        };
        told(
            "sphere of the joint",
            format!("{} mm", fixed(socket.sphere_diameter_mm, 1)),
            "Diameter of the sphere that fits the joint surface.",
        );
        told(
            "across the rim",
            format!("{} mm", fixed(socket.rim_diameter_mm, 1)),
            "Across the lip of the rim, which is wider than the joint surface by its rounding.",
        );
        told(
            "depth",
            format!("{} mm", fixed(socket.depth_mm, 1)),
            "From the plane of the rim to the deepest point of the floor.",
        );
        let radiographic = Definition::Radiographic.to_string();
        if let Some(faces) = socket.faces.iter().find(|f| f.definition == radiographic) {
            let degrees = |value| format!("{}°", fixed(value, 1));
            told(
                "inclination",
                degrees(faces.inclination_deg),
                "Of the rim's plane, radiographic, against the anterior pelvic plane.",
            );
            told(
                "anteversion",
                degrees(faces.anteversion_deg),
                "Of the rim's plane, radiographic, against the anterior pelvic plane.",
            );
        }
    });
}

const OFF: [Column; 4] = [
    words(
        "off alone",
        5.0,
        "One landmark off in the direction that is worst, the others right.",
    ),
    number("incl.", 2.0, "Change of radiographic inclination."),
    number("antev.", 2.2, "Change of radiographic anteversion."),
    number("tilt", 2.0, "Change of the pelvic tilt."),
];

fn influences(ui: &mut Ui, survey: &Survey) {
    field::heading(ui, &format!("If one is {ERROR_MM} mm off"));
    table::head(ui, &OFF);
    for off in &survey.if_off {
        let degrees = |value| (format!("{}°", fixed(value, 1)), theme::INK);
        let cells = [
            (
                named(&off.of).map_or(off.of.clone(), |(mark, side)| called(mark, side)),
                theme::INK,
            ),
            degrees(off.inclination_deg),
            degrees(off.anteversion_deg),
            degrees(off.tilt_deg),
        ];
        table::row(ui, &OFF, &cells, Row::Plain, "");
    }
    table::foot(ui);
}
