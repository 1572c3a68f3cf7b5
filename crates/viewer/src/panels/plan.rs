//! The plan's panel: bone, cup, what belongs to the page of answers, reamers, limits.

mod hold;
mod joint;

use bevy_egui::egui::{ComboBox, Grid, ScrollArea, TextEdit, Ui};
use cupwright_procedure::case::{
    BoneEntry, DefinitionEntry, ReamerEntry, ReferenceEntry, ShiftEntry, SideEntry,
};
use cupwright_procedure::edit::Edit;

use super::field::{self, degrees, mm};
use super::{Desk, limits, theme};
use crate::desk::command::Command;
use crate::desk::view::{Page, Window};
use crate::desk::{Act, Plan};

const INCLINATION: &str = "Between the cup's axis and the patient's long axis, in the definition chosen above: the larger, the more upright the cup's opening.";
const ANTEVERSION: &str =
    "How far the cup opens to the front, in the definition chosen above; negative is retroversion.";

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| {
            bone(ui, desk);
            cup(ui, desk.plan, desk.acts);
            match desk.view.page {
                Page::Socket => {}
                Page::Hold => hold::show(ui, desk.plan, desk.acts),
                Page::Joint => joint::show(ui, desk.plan, desk.acts),
            }
            reamers(ui, desk.plan, desk.acts);
            limits::show(ui, desk.plan, desk.acts);
            notes(ui, desk.plan, desk.acts);
            ui.add_space(8.0);
        });
}

fn bone(ui: &mut Ui, desk: &mut Desk<'_>) {
    field::heading(ui, "Bone");
    let (plan, acts) = (desk.plan, &mut *desk.acts);
    let (name, side) = match &plan.file().bone {
        BoneEntry::Preset { name, side, .. } => (format!("{name} (synthetic)"), side),
        BoneEntry::File { path, side, .. } => (short(path), side),
    };
    ui.horizontal_wrapped(|ui| {
        let words = format!("{name}, {}", side_name(*side));
        field::command(
            ui,
            &words,
            Command::Show(Window::Bone),
            "The bone that is worked on: choose another",
            acts,
        );
        if desk.answers.is_making_bone() {
            ui.spinner();
            ui.label("making the bone");
        }
    });
    Grid::new("frame").num_columns(2).show(ui, |ui| {
        ui.label("tilt");
        let tilt = degrees("Posterior tilt of the pelvis against the reference plane; anterior is negative. Angles are read after it.");
        tilt.show(ui, plan.file().posterior_tilt_deg, acts, Edit::Tilt);
        ui.end_row();
        ui.label("plane");
        let mut reference = plan.file().reference;
        ComboBox::from_id_salt("plane").selected_text(plane(reference)).show_ui(ui, |ui| {
            for one in [ReferenceEntry::AnteriorPelvicPlane, ReferenceEntry::Isb] {
                ui.selectable_value(&mut reference, one, plane(one));
            }
        });
        if reference != plan.file().reference {
            acts.push(Act::Edit(Edit::Reference(reference)));
        }
        ui.end_row();
    });
}

fn cup(ui: &mut Ui, plan: &Plan, acts: &mut Vec<Act>) {
    field::heading(ui, "Cup");
    let (file, cup) = (plan.file(), plan.file().cup);
    let mut definition = file.orientation;
    ComboBox::from_id_salt("definition")
        .selected_text(format!("{} angles", definition_name(definition)))
        .show_ui(ui, |ui| {
            for one in [
                DefinitionEntry::Radiographic,
                DefinitionEntry::Operative,
                DefinitionEntry::Anatomic,
            ] {
                ui.selectable_value(&mut definition, one, definition_name(one));
            }
        })
        .response
        .on_hover_text("How inclination and anteversion are defined. Changing it moves no axis: the same cup, told in other angles.");
    if definition != file.orientation {
        acts.push(Act::Edit(Edit::Definition(definition)));
    }
    Grid::new("cup").num_columns(2).show(ui, |ui| {
        ui.label("diameter");
        mm(1.0, "Outer diameter of the cup.").show(ui, cup.diameter_mm, acts, Edit::CupDiameter);
        ui.end_row();
        ui.label("inclination");
        degrees(INCLINATION).show(ui, cup.inclination_deg, acts, |inclination_deg| {
            Edit::CupAngles {
                inclination_deg,
                anteversion_deg: cup.anteversion_deg,
            }
        });
        ui.end_row();
        ui.label("anteversion");
        degrees(ANTEVERSION).show(ui, cup.anteversion_deg, acts, |anteversion_deg| {
            Edit::CupAngles {
                inclination_deg: cup.inclination_deg,
                anteversion_deg,
            }
        });
        ui.end_row();
        place(ui, cup.centre, acts, Edit::CupCentre);
    });
}

/// Three fields for a place; medial, superior and anterior of the native hip centre.
fn place(ui: &mut Ui, at: ShiftEntry, acts: &mut Vec<Act>, edit: impl Fn(ShiftEntry) -> Edit) {
    let meaning = "Of the cup's centre, from the native hip centre; negative is the other way.";
    ui.label("medial");
    mm(0.5, meaning).show(ui, at.medial_mm, acts, |medial_mm| {
        edit(ShiftEntry { medial_mm, ..at })
    });
    ui.end_row();
    ui.label("superior");
    mm(0.5, meaning).show(ui, at.superior_mm, acts, |superior_mm| {
        edit(ShiftEntry { superior_mm, ..at })
    });
    ui.end_row();
    ui.label("anterior");
    mm(0.5, meaning).show(ui, at.anterior_mm, acts, |anterior_mm| {
        edit(ShiftEntry { anterior_mm, ..at })
    });
    ui.end_row();
}

fn reamers(ui: &mut Ui, plan: &Plan, acts: &mut Vec<Act>) {
    field::heading(ui, "Reamers, in order");
    for (k, reamer) in plan.file().reamers.iter().enumerate() {
        let selected = plan.selected == k;
        ui.horizontal(|ui| {
            if ui
                .selectable_label(selected, format!("{}", k + 1))
                .on_hover_text("Select this reamer: keys change it, and its own place and axis are shown below.")
                .clicked()
            {
                acts.push(Act::Select(k));
            }
            let size = mm(1.0, "Diameter of this reamer.");
            size.show(ui, reamer.diameter_mm, acts, |diameter_mm| {
                Edit::ChangeReamer(k, ReamerEntry { diameter_mm, ..*reamer })
            });
            if ui.small_button("×").on_hover_text("Leave this reamer out").clicked() {
                acts.push(Act::Edit(Edit::RemoveReamer(k)));
            }
            if is_own(reamer) {
                ui.weak("own place").on_hover_text("It has a place or axis of its own; the others follow the cup.");
            }
        });
    }
    ui.horizontal(|ui| {
        field::command(
            ui,
            "add",
            Command::AddReamer,
            "Add a reamer after the selected one, 1 mm larger",
            acts,
        );
    });
    if let Some(reamer) = plan.file().reamers.get(plan.selected) {
        own_place(ui, plan, *reamer, acts);
    }
}

fn is_own(reamer: &ReamerEntry) -> bool {
    reamer.centre.is_some() || reamer.inclination_deg.is_some() || reamer.anteversion_deg.is_some()
}

/// Place and axis of the selected reamer, where they are not the cup's.
fn own_place(ui: &mut Ui, plan: &Plan, reamer: ReamerEntry, acts: &mut Vec<Act>) {
    let (k, cup) = (plan.selected, plan.file().cup);
    let mut own = is_own(&reamer);
    ui.checkbox(
        &mut own,
        format!("reamer {} has its own place and axis", k + 1),
    )
    .on_hover_text("Off: it runs where the cup will sit. On: give it another centre, or tilt it.");
    if own != is_own(&reamer) {
        let changed = if own {
            ReamerEntry {
                centre: Some(cup.centre),
                inclination_deg: Some(cup.inclination_deg),
                anteversion_deg: Some(cup.anteversion_deg),
                ..reamer
            }
        } else {
            ReamerEntry {
                diameter_mm: reamer.diameter_mm,
                ..ReamerEntry::default()
            }
        };
        acts.push(Act::Edit(Edit::ChangeReamer(k, changed)));
    }
    if !is_own(&reamer) {
        return;
    }
    let change = move |reamer| Edit::ChangeReamer(k, reamer);
    Grid::new("own place").num_columns(2).show(ui, |ui| {
        place(ui, reamer.centre.unwrap_or(cup.centre), acts, |centre| {
            change(ReamerEntry {
                centre: Some(centre),
                ..reamer
            })
        });
        ui.label("inclination");
        let inclination = reamer.inclination_deg.unwrap_or(cup.inclination_deg);
        degrees(INCLINATION).show(ui, inclination, acts, |inclination| {
            change(ReamerEntry {
                inclination_deg: Some(inclination),
                ..reamer
            })
        });
        ui.end_row();
        ui.label("anteversion");
        let anteversion = reamer.anteversion_deg.unwrap_or(cup.anteversion_deg);
        degrees(ANTEVERSION).show(ui, anteversion, acts, |anteversion| {
            change(ReamerEntry {
                anteversion_deg: Some(anteversion),
                ..reamer
            })
        });
        ui.end_row();
    });
}

fn notes(ui: &mut Ui, plan: &Plan, acts: &mut Vec<Act>) {
    field::heading(ui, "Notes");
    let id = ui.id().with("notes being written");
    let kept = ui.data(|data| data.get_temp::<String>(id));
    let mut text = kept.unwrap_or_else(|| plan.file().notes.clone());
    let response = ui.add(
        TextEdit::multiline(&mut text)
            .desired_width(f32::INFINITY)
            .desired_rows(3),
    );
    if response.lost_focus() {
        if text != plan.file().notes {
            acts.push(Act::Edit(Edit::Notes(text)));
        }
        ui.data_mut(|data| data.remove::<String>(id));
    } else if response.has_focus() {
        ui.data_mut(|data| data.insert_temp(id, text));
    }
    if let Some(path) = &plan.path {
        ui.label(
            bevy_egui::egui::RichText::new(path.display().to_string())
                .small()
                .color(theme::FAINT),
        );
    }
}

fn short(path: &str) -> String {
    let name = std::path::Path::new(path).file_name();
    name.map_or_else(|| path.to_owned(), |name| name.display().to_string())
}

pub(super) fn side_name(side: SideEntry) -> &'static str {
    match side {
        SideEntry::Right => "right hip",
        SideEntry::Left => "left hip",
    }
}

pub(super) fn definition_name(definition: DefinitionEntry) -> &'static str {
    match definition {
        DefinitionEntry::Radiographic => "radiographic",
        DefinitionEntry::Operative => "operative",
        DefinitionEntry::Anatomic => "anatomic",
    }
}

fn plane(reference: ReferenceEntry) -> &'static str {
    match reference {
        ReferenceEntry::AnteriorPelvicPlane => "anterior pelvic plane",
        ReferenceEntry::Isb => "ISB pelvic frame",
    }
}
