//! The plan as a row of steps: untouched, reamer after reamer, cup.

use bevy_egui::egui::{Align2, Color32, FontId, ScrollArea, Sense, Stroke, StrokeKind, Ui, vec2};
use cupwright_report::words::fixed;

use super::field;
use super::{Desk, theme};
use crate::desk::Act;
use crate::desk::command::Command;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.horizontal(|ui| {
        let view = &desk.view;
        let words = if view.playing { "stop" } else { "ream" };
        field::command(ui, "<", Command::StepBack, "One step back", desk.acts);
        field::command(
            ui,
            words,
            Command::Play,
            "Let the next tool come in; stop it",
            desk.acts,
        );
        field::command(ui, ">", Command::StepOn, "One step on", desk.acts);
        ui.separator();
        ScrollArea::horizontal().show(ui, |ui| {
            ui.horizontal(|ui| {
                let reamers = &desk.plan.file().reamers;
                let last = reamers.len() + 1;
                for step in 0..=last {
                    let (name, tip) = match step {
                        0 => ("bone".to_owned(), "The untouched bone".to_owned()),
                        n if n == last => {
                            let cup = desk.plan.file().cup.diameter_mm;
                            let size = fixed(cup, decimals(cup));
                            (format!("cup {size}"), format!("The cup, {size} mm"))
                        }
                        n => {
                            let mm = reamers[n - 1].diameter_mm;
                            let size = fixed(mm, decimals(mm));
                            (size.clone(), format!("Reamer {n}, {size} mm"))
                        }
                    };
                    if stop(ui, &name, step, desk.view.step.min(last), &tip) {
                        desk.acts.push(Act::GoTo(step));
                        if (1..last).contains(&step) {
                            desk.acts.push(Act::Select(step - 1));
                        }
                    }
                }
            });
        });
    });
}

fn decimals(mm: f64) -> usize {
    usize::from((mm - mm.round()).abs() > 1e-9)
}

/// One step; true when it is clicked.
fn stop(ui: &mut Ui, name: &str, step: usize, shown: usize, tip: &str) -> bool {
    let font = FontId::proportional(13.0);
    let width = ui
        .painter()
        .layout_no_wrap(name.to_owned(), font.clone(), theme::INK)
        .size()
        .x;
    let (rect, response) = ui.allocate_exact_size(vec2(width + 20.0, 26.0), Sense::click());
    let (fill, ink) = match step.cmp(&shown) {
        std::cmp::Ordering::Less => (Color32::from_rgb(214, 226, 226), theme::INK),
        std::cmp::Ordering::Equal => (theme::ACCENT, Color32::WHITE),
        std::cmp::Ordering::Greater => (theme::PAPER, theme::FAINT),
    };
    let line = if response.has_focus() {
        Stroke::new(2.0, theme::INK)
    } else {
        Stroke::new(1.0, theme::LINE)
    };
    ui.painter()
        .rect(rect.shrink(1.0), 3.0, fill, line, StrokeKind::Inside);
    ui.painter()
        .text(rect.center(), Align2::CENTER_CENTER, name, font, ink);
    let id = ui.id().with("the step that was brought into sight");
    // Brought into sight once for each step and each room for the row, not against a hand that scrolls it.
    let now = (shown, ui.clip_rect().width().to_bits());
    if step == shown && ui.data(|data| data.get_temp(id)) != Some(now) {
        response.scroll_to_me(None);
        ui.data_mut(|data| data.insert_temp(id, now));
    }
    response.on_hover_text(tip).clicked()
}
