//! Limits that the plan has to keep, each on or off.

use bevy_egui::egui::{Grid, Ui};
use cupwright_procedure::case::Limits;
use cupwright_procedure::edit::Edit;

use super::field::{self, Field, mm};
use crate::desk::{Act, Plan};

const MEANING: &str = "A banner tells when this limit is passed.";

/// A limit as it is shown: a name, a field, how many of the file's units one of the field's is, and
/// where the limit begins when it is put on.
struct Row {
    name: &'static str,
    field: Field,
    scale: f64,
    usual: f64,
    of: fn(&mut Limits) -> &mut Option<f64>,
}

const SHARE: Field = Field {
    unit: " %",
    step: 1.0,
    decimals: 0,
    meaning: MEANING,
};

const LENGTH: Field = mm(0.5, MEANING);

const VOLUME: Field = Field {
    unit: " cm³",
    step: 0.5,
    decimals: 1,
    meaning: MEANING,
};

const ROWS: [Row; 6] = [
    row("least coverage", SHARE, 0.01, 70.0, |limits| {
        &mut limits.min_coverage
    }),
    row("least rim in bone", SHARE, 0.01, 30.0, |limits| {
        &mut limits.min_rim_contact
    }),
    row("thinnest wall", LENGTH, 1.0, 3.0, |limits| {
        &mut limits.min_wall_mm
    }),
    row("most overhang", LENGTH, 1.0, 10.0, |limits| {
        &mut limits.max_overhang_mm
    }),
    row("most centre shift", LENGTH, 1.0, 5.0, |limits| {
        &mut limits.max_centre_shift_mm
    }),
    row("most bone removed", VOLUME, 1000.0, 10.0, |limits| {
        &mut limits.max_removed_mm3
    }),
];

const fn row(
    name: &'static str,
    field: Field,
    scale: f64,
    usual: f64,
    of: fn(&mut Limits) -> &mut Option<f64>,
) -> Row {
    Row {
        name,
        field,
        scale,
        usual,
        of,
    }
}

pub(super) fn show(ui: &mut Ui, plan: &Plan, acts: &mut Vec<Act>) {
    field::heading(ui, "Limits to keep");
    let now = plan.file().limits;
    Grid::new("limits").num_columns(2).show(ui, |ui| {
        for row in &ROWS {
            row.show(ui, now, acts);
        }
    });
}

impl Row {
    fn show(&self, ui: &mut Ui, now: Limits, acts: &mut Vec<Act>) {
        let with = |shown: Option<f64>| {
            let mut limits = now;
            *(self.of)(&mut limits) = shown.map(|shown| shown.max(0.0) * self.scale);
            Edit::Limits(limits)
        };
        let mut limits = now;
        let value = *(self.of)(&mut limits);
        let mut on = value.is_some();
        if ui.checkbox(&mut on, self.name).changed() {
            acts.push(Act::Edit(with(on.then_some(self.usual))));
        }
        match value {
            Some(value) => {
                self.field
                    .show(ui, value / self.scale, acts, |shown| with(Some(shown)));
            }
            None => {
                ui.weak("not checked");
            }
        }
        ui.end_row();
    }
}
