//! Liner, ball and stem, and what leg length and offset are to become.

use bevy_egui::egui::{ComboBox, Grid, Ui};
use cupwright_procedure::CaseFile;
use cupwright_procedure::edit::Edit;
use cupwright_procedure::joint::{JointEntry, OffsetChoice};

use crate::desk::{Act, Plan};
use crate::panels::field::{self, Field, degrees, mm};

/// A number of the joint: its name, its field, and where it is kept.
struct Row {
    name: &'static str,
    field: Field,
    of: fn(&mut JointEntry) -> &mut f64,
}

const LINER: [Row; 2] = [
    Row {
        name: "shell",
        field: mm(
            0.5,
            "Thickness of the cup's shell; 4 mm, the middle of the usual 3 to 5: assumed.",
        ),
        of: |joint| &mut joint.liner.shell_mm,
    },
    Row {
        name: "ball",
        field: mm(
            1.0,
            "Diameter of the ball; the bore goes with it. 32 mm: common practice, no published source.",
        ),
        of: |joint| &mut joint.head.diameter_mm,
    },
];

const STEM: [Row; 4] = [
    Row {
        name: "neck-shaft angle",
        field: degrees(
            "Between neck and shaft of the stem; 135°: common practice, no published source.",
        ),
        of: |joint| &mut joint.stem.neck_shaft_angle_deg,
    },
    Row {
        name: "neck length",
        field: mm(
            1.0,
            "Along the neck, from the shaft's axis to the centre of ball 0; 58 mm about restores the default femur: assumed.",
        ),
        of: |joint| &mut joint.stem.neck_length_mm,
    },
    Row {
        name: "antetorsion",
        field: degrees(
            "How far the stem's neck is turned forward against the knee; 15°: common practice, no published source.",
        ),
        of: |joint| &mut joint.stem.antetorsion_deg,
    },
    Row {
        name: "depth",
        field: mm(
            0.5,
            "How much deeper the stem sits than where its neck crosses the shaft's axis as high as the native one did; negative: it stands higher.",
        ),
        of: |joint| &mut joint.stem.insertion_mm,
    },
];

const TARGET: [Row; 2] = [
    Row {
        name: "leg",
        field: mm(
            0.5,
            "Change of leg length asked for, against the native joint; longer is positive.",
        ),
        of: |joint| &mut joint.target.leg_length_mm,
    },
    Row {
        name: "total offset",
        field: mm(
            0.5,
            "Change asked for of the distance from midline to shaft, against the native joint; more is positive.",
        ),
        of: |joint| &mut joint.target.total_offset_mm,
    },
];

pub(super) fn show(ui: &mut Ui, plan: &Plan, acts: &mut Vec<Act>) {
    let joint = plan.file().joint();
    field::heading(ui, "Liner and ball");
    rows(ui, "liner fields", &LINER, &joint, acts);
    field::heading(ui, "Stem");
    version(ui, plan.file(), acts);
    rows(ui, "stem fields", &STEM, &joint, acts);
    field::heading(ui, "To reach");
    rows(ui, "target fields", &TARGET, &joint, acts);
}

fn rows(ui: &mut Ui, id: &str, rows: &[Row], joint: &JointEntry, acts: &mut Vec<Act>) {
    Grid::new(id).num_columns(2).show(ui, |ui| {
        for row in rows {
            let mut changed = joint.clone();
            let value = *(row.of)(&mut changed);
            ui.label(row.name).on_hover_text(row.field.meaning);
            row.field.show(ui, value, acts, |value| {
                *(row.of)(&mut changed) = value;
                Edit::Joint(Box::new(changed))
            });
            ui.end_row();
        }
    });
}

/// What the version's menu says.
fn name(version: Option<OffsetChoice>) -> &'static str {
    match version {
        None => "nearest to the target",
        Some(OffsetChoice::Standard) => "standard offset",
        Some(OffsetChoice::High) => "high offset",
    }
}

fn version(ui: &mut Ui, file: &CaseFile, acts: &mut Vec<Act>) {
    let mut chosen = file.stem.offset;
    ComboBox::from_id_salt("version")
        .selected_text(name(chosen))
        .width(150.0)
        .show_ui(ui, |ui| {
            for one in [None, Some(OffsetChoice::Standard), Some(OffsetChoice::High)] {
                ui.selectable_value(&mut chosen, one, name(one));
            }
        })
        .response
        .on_hover_text("The version of the stem: the head of the high one stands farther from the shaft, at the same height.");
    if chosen != file.stem.offset {
        let mut joint = file.joint();
        joint.stem.offset = chosen;
        acts.push(Act::Edit(Edit::Joint(Box::new(joint))));
    }
}
