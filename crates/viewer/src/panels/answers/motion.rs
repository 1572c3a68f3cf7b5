//! Motion until the neck meets the liner and, once it is searched, until bone meets bone.

use bevy_egui::egui::{Button, Color32, Ui};
use cupwright_procedure::joint::JointFinding;
use cupwright_procedure::joint::bony::{BonyFinding, BonyMovement, First};
use cupwright_procedure::joint::length::signed;
use cupwright_procedure::joint::motion::{MotionFinding, MovementFinding};
use cupwright_report::words::{clock, fixed};

use super::figure::aside;
use super::table::{self, Cell, Column, Row, number, words};
use crate::desk::Act;
use crate::desk::command::Command;
use crate::panels::{Desk, field, theme};

const COLUMNS: [Column; 5] = [
    words(
        "movement",
        100.0,
        "From standing, unless it says otherwise.",
    ),
    number(
        "neck meets liner",
        40.0,
        "How far the thigh moves until the neck meets the liner's edge. Rigid geometry: no soft tissue.",
    ),
    number("at hour", 42.0, "Where on the rim's clock they meet."),
    number("needed", 50.0, "What the case asks for."),
    number(
        "bone meets bone",
        46.0,
        "How far until a model femur meets the pelvis before reaming, whatever neck and liner do.",
    ),
];

/// Bone against bone, and whether it is of the plan as it stands.
#[derive(Clone, Copy)]
struct Bony<'a> {
    found: &'a BonyFinding,
    ink: Color32,
}

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>, joint: &JointFinding) {
    let found = &joint.motion;
    field::heading(ui, &format!("Motion with ball {}", signed(found.ball_mm)));
    let is_current = desk.bone_on_bone.is_of(desk.plan, desk.answers);
    let ink = if is_current { theme::INK } else { theme::FAINT };
    let bony = desk.bone_on_bone.found().map(|found| Bony { found, ink });
    let columns = if bony.is_some() {
        &COLUMNS[..]
    } else {
        &COLUMNS[..4]
    };
    table::head(ui, columns);
    for movement in &found.movements {
        let cells = cells(movement, found, bony);
        table::row(ui, columns, &cells, Row::Plain, "");
    }
    table::foot(ui);
    let swing = format!(
        "the neck swings {}°; {}° would allow all that is needed",
        fixed(found.oscillation_deg, 0),
        fixed(found.needed_oscillation_deg, 0)
    );
    let meaning = "The angle between opposite places of the rim, and the least with which this cup and stem would allow every movement that is needed.";
    aside(ui, &swing, theme::FAINT, meaning);
    search(ui, desk, bony.is_some() && !is_current);
}

/// The button that has bone on bone searched.
fn search(ui: &mut Ui, desk: &mut Desk<'_>, is_outdated: bool) {
    ui.horizontal_wrapped(|ui| {
        let is_busy = desk.bone_on_bone.is_busy();
        let does = "Turn a model femur against the pelvis until they meet: some tenths of a second, beside the picture";
        let tip = field::tip(does, Command::BoneOnBone);
        let button = Button::new("search bone on bone").small();
        if ui.add_enabled(!is_busy, button).on_hover_text(tip).clicked() {
            desk.acts.push(Act::Do(Command::BoneOnBone));
        }
        if is_busy {
            ui.spinner();
        } else if is_outdated {
            let meaning = "Bone, cup or joint have changed since it was searched.";
            aside(ui, "out of date: search again", theme::CAUTION, meaning);
        }
    });
}

fn cells(found: &MovementFinding, motion: &MotionFinding, bony: Option<Bony<'_>>) -> Vec<Cell> {
    let mut needs = motion.needs.iter();
    let need = needs.find(|need| need.movement == found.movement);
    let is_short = need.is_some_and(|need| !need.met);
    let ink = if is_short { theme::CAUTION } else { theme::INK };
    let needed = need.map_or(String::new(), |need| {
        let far = fixed(need.needed_deg, 0);
        if need.met {
            format!("{far}°")
        } else {
            format!("{far}°, {} short", fixed(-need.margin_deg, 0))
        }
    });
    let mut cells = vec![
        (found.movement.to_string(), ink),
        (degrees(found.range_deg), ink),
        (found.rim_clock_h.map_or(String::new(), clock), theme::INK),
        (needed, ink),
    ];
    if let Some(bony) = bony {
        let mut all = bony.found.movements.iter();
        let bone = all.find(|bone| bone.movement == found.movement);
        let needed = need.map(|need| need.needed_deg);
        cells.push(bone.map_or((String::new(), theme::INK), |bone| {
            (degrees(bone.range_deg), colour(bone, needed, bony.ink))
        }));
    }
    cells
}

fn degrees(range: Option<f64>) -> String {
    range.map_or("free".into(), |deg| format!("{}°", fixed(deg, 0)))
}

/// Bone that comes first, or before what is needed, is told in colour.
fn colour(bone: &BonyMovement, needed: Option<f64>, ink: Color32) -> Color32 {
    let is_before = |deg: f64| needed.is_some_and(|needed| deg < needed);
    let is_short = bone.range_deg.is_some_and(is_before);
    if ink == theme::INK && (is_short || bone.first == First::Bone) {
        theme::CAUTION
    } else {
        ink
    }
}
