//! Numbers with their names: large ones side by side, small ones in rows.

use bevy_egui::egui::{Color32, Grid, RichText, Ui};
use cupwright_procedure::Findings;
use cupwright_procedure::quantity::Quantity;

use crate::panels::theme;

/// A number that stands large.
pub(super) struct Figure {
    pub(super) name: &'static str,
    pub(super) value: String,
    /// What stands below it, small.
    pub(super) under: String,
    pub(super) colour: Color32,
    pub(super) meaning: String,
}

/// Two large numbers, side by side.
pub(super) fn large(ui: &mut Ui, figures: &[Figure; 2]) {
    ui.columns(2, |columns| {
        for (ui, figure) in columns.iter_mut().zip(figures) {
            ui.vertical(|ui| {
                ui.label(RichText::new(figure.name).small().color(theme::FAINT));
                ui.label(RichText::new(&figure.value).size(27.0).color(figure.colour));
                ui.label(RichText::new(&figure.under).small());
            })
            .response
            .on_hover_text(&figure.meaning);
        }
    });
}

/// Rows of names and numbers.
pub(super) fn rows(ui: &mut Ui, id: &str, show: impl FnOnce(&mut Ui)) {
    Grid::new(id).num_columns(2).show(ui, show);
}

/// One of them.
pub(super) fn row(ui: &mut Ui, name: &str, value: &str, colour: Color32, meaning: &str) {
    ui.label(name).on_hover_text(meaning);
    ui.label(RichText::new(value).strong().color(colour))
        .on_hover_text(meaning);
    ui.end_row();
}

/// Words below a heading or a table.
pub(super) fn aside(ui: &mut Ui, words: &str, colour: Color32, meaning: &str) {
    let label = ui.label(RichText::new(words).small().color(colour));
    if !meaning.is_empty() {
        label.on_hover_text(meaning);
    }
}

/// A number as it is told; `none` where there is none.
pub(super) fn of(quantity: Quantity, findings: &Findings) -> String {
    let value = quantity.of(findings);
    value.map_or("none".into(), |value| quantity.told(value))
}

/// Whether a limit on a number is broken.
pub(super) fn is_broken(findings: &Findings, quantity: Quantity) -> bool {
    let mut broken = findings.limits.iter().filter(|limit| !limit.met);
    broken.any(|limit| Quantity::of_limit(&limit.limit).is_some_and(|(of, _)| of == quantity))
}
