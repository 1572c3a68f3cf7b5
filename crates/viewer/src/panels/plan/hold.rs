//! What a press-fit needs beyond cup and reamers: bone, force, friction, and the cup to fall back on.

use bevy_egui::egui::{ComboBox, Grid, Ui};
use cupwright_procedure::CaseFile;
use cupwright_procedure::edit::Edit;
use cupwright_procedure::hold::quality::Quality;
use cupwright_procedure::mechanics::MechanicsInputs;

use crate::desk::{Act, Plan};
use crate::panels::field::{self, Field, mm};

const FORCE: Field = Field {
    unit: " N",
    step: 100.0,
    decimals: 0,
    meaning: "Steady force that the cup is driven in with. 4000 N: the largest of the loads of Spears 1999, J Biomech 32:1183.",
};

const FRICTION: Field = Field {
    unit: "",
    step: 0.02,
    decimals: 2,
    meaning: "Between cup and bone. 0.65 lies near the middle of 0.37 to 0.95, which laser-melted titanium has on human cancellous bone (Abedi 2025, Sci Rep, doi 10.1038/s41598-025-25586-0).",
};

const OVERSIZE: Field = mm(
    0.1,
    "By how much the cavity turns out wider than the reamer, in diameter. Of 1 mm nominal interference about 0.5 mm is left (Jin 2006, Proc IMechE H 220:299).",
);

const LARGER: Field = mm(
    1.0,
    "By how much the last reamer of a cup to fall back on is larger than the last of the plan; 6 mm, three even sizes: assumed.",
);

const QUALITY: &str = "How stiff and strong the bone is: cancellous bone as foam of 20, 10 and 5 lb/ft³ (ASTM F1839, from memory). The numbers are told with the answers.";

pub(super) fn show(ui: &mut Ui, plan: &Plan, acts: &mut Vec<Act>) {
    field::heading(ui, "Bone and seating");
    let file = plan.file();
    let now = file.press_fit;
    Grid::new("press-fit fields").num_columns(2).show(ui, |ui| {
        quality(ui, file, acts);
        ui.label("seating force");
        FORCE.show(ui, now.seating_force_n, acts, |force| {
            with(file, |inputs| inputs.press_fit.seating_force_n = force)
        });
        ui.end_row();
        ui.label("friction");
        FRICTION.show(ui, now.friction, acts, |friction| {
            with(file, |inputs| inputs.press_fit.friction = friction)
        });
        ui.end_row();
        ui.label("reamers cut wider");
        OVERSIZE.show(ui, now.reamer_oversize_mm, acts, |wider| {
            with(file, |inputs| inputs.press_fit.reamer_oversize_mm = wider)
        });
        ui.end_row();
        ui.label("fallback larger by");
        LARGER.show(ui, file.fallback.larger_mm, acts, |larger| {
            with(file, |inputs| inputs.fallback.larger_mm = larger)
        });
        ui.end_row();
    });
}

fn quality(ui: &mut Ui, file: &CaseFile, acts: &mut Vec<Act>) {
    let mut chosen = file.press_fit.quality;
    ui.label("bone");
    ComboBox::from_id_salt("quality")
        .selected_text(chosen.to_string())
        .width(96.0)
        .show_ui(ui, |ui| {
            for one in Quality::GRADES {
                ui.selectable_value(&mut chosen, one, one.to_string());
            }
        })
        .response
        .on_hover_text(QUALITY);
    ui.end_row();
    if chosen != file.press_fit.quality {
        let edit = with(file, |inputs| inputs.press_fit.quality = chosen);
        acts.push(Act::Edit(edit));
    }
}

fn with(file: &CaseFile, change: impl FnOnce(&mut MechanicsInputs)) -> Edit {
    let mut inputs = file.mechanics();
    change(&mut inputs);
    Edit::Mechanics(inputs)
}
