//! Fields to type or drag a number in, and buttons that say their key.

use bevy_egui::egui::{Button, DragValue, Response, RichText, Ui};
use cupwright_procedure::edit::Edit;

use crate::desk::command::key_of;
use crate::desk::{Act, Command};

/// A number to type or drag.
#[derive(Clone, Copy, Debug)]
pub(super) struct Field {
    pub(super) unit: &'static str,
    pub(super) step: f64,
    pub(super) decimals: usize,
    pub(super) meaning: &'static str,
}

/// A length.
pub(super) const fn mm(step: f64, meaning: &'static str) -> Field {
    Field {
        unit: " mm",
        step,
        decimals: 1,
        meaning,
    }
}

/// An angle.
pub(super) const fn degrees(meaning: &'static str) -> Field {
    Field {
        unit: "°",
        step: 0.5,
        decimals: 1,
        meaning,
    }
}

impl Field {
    /// Shows the number; what is asked for when it is changed goes to `acts`. One drag is one change.
    pub(super) fn show(
        &self,
        ui: &mut Ui,
        value: f64,
        acts: &mut Vec<Act>,
        edit: impl FnOnce(f64) -> Edit,
    ) -> Response {
        let mut shown = value;
        let field = DragValue::new(&mut shown)
            .speed(self.step / 4.0)
            .suffix(self.unit)
            .max_decimals(self.decimals)
            .min_decimals(self.decimals)
            .update_while_editing(false);
        let response = ui.add(field).on_hover_text(self.meaning);
        let key = response.id.with("has changed in this drag");
        let going_on = ui.data(|data| data.get_temp::<bool>(key)).unwrap_or(false);
        if response.changed() {
            let edit = edit(self.rounded(shown));
            acts.push(if response.dragged() && going_on {
                Act::Drag(edit)
            } else {
                Act::Edit(edit)
            });
            ui.data_mut(|data| data.insert_temp(key, response.dragged()));
        } else if !response.dragged() && going_on {
            ui.data_mut(|data| data.insert_temp(key, false));
        }
        response
    }

    fn rounded(&self, value: f64) -> f64 {
        let scale = 10.0_f64.powi(i32::try_from(self.decimals).unwrap_or(0));
        (value * scale).round() / scale
    }
}

/// A button for a command; its tooltip says what it does and its key.
pub(super) fn command(
    ui: &mut Ui,
    words: &str,
    command: Command,
    does: &str,
    acts: &mut Vec<Act>,
) -> Response {
    let response = ui.add(Button::new(words)).on_hover_text(tip(does, command));
    if response.clicked() {
        acts.push(Act::Do(command));
    }
    response
}

/// The same for something that is on or off.
pub(super) fn toggle(
    ui: &mut Ui,
    words: &str,
    on: bool,
    command: Command,
    does: &str,
    acts: &mut Vec<Act>,
) -> Response {
    let response = ui
        .selectable_label(on, words)
        .on_hover_text(tip(does, command));
    if response.clicked() {
        acts.push(Act::Do(command));
    }
    response
}

/// What a command does, and its key.
pub(super) fn tip(does: &str, command: Command) -> String {
    match key_of(command) {
        Some(key) => format!("{does}  [{key}]"),
        None => does.to_owned(),
    }
}

/// A heading of a panel.
pub(super) fn heading(ui: &mut Ui, words: &str) {
    ui.add_space(6.0);
    ui.label(RichText::new(words).strong().color(super::theme::ACCENT));
}
