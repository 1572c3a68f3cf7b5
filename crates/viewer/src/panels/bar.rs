//! The bar along the top, the banner below it, and the caution at the foot.

use bevy_egui::egui::{ComboBox, Frame, Margin, RichText, Ui};

use super::field::{self, tip};
use super::{Desk, theme};
use crate::desk::command::Command;
use crate::desk::view::{BoneLook, From, Map, Window};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.horizontal_wrapped(|ui| {
        let title = RichText::new("Cupwright")
            .strong()
            .size(15.0)
            .color(theme::ACCENT);
        ui.label(title);
        files(ui, desk);
        ui.separator();
        views(ui, desk);
        ui.separator();
        section(ui, desk);
        map(ui, desk);
        look(ui, desk);
        ui.separator();
        learn(ui, desk);
        panels(ui, desk);
    });
}

fn learn(ui: &mut Ui, desk: &mut Desk<'_>) {
    let acts = &mut *desk.acts;
    let does = "Keep this plan to compare later ones with";
    field::command(ui, "keep", Command::Keep, does, acts);
    let does = "What changed since the kept plan";
    field::toggle(
        ui,
        "compare",
        desk.view.compare,
        Command::Compare,
        does,
        acts,
    );
    let does = "Lessons to learn from, checked as you go";
    field::command(ui, "lessons", Command::Show(Window::Lessons), does, acts);
}

fn panels(ui: &mut Ui, desk: &mut Desk<'_>) {
    let (view, acts) = (&*desk.view, &mut *desk.acts);
    let does = "Larger text, for the back of a room";
    field::toggle(ui, "large", view.projector, Command::Projector, does, acts);
    let does = "The plan's panel, open or closed";
    field::toggle(ui, "plan", view.plan_panel, Command::PlanPanel, does, acts);
    let does = "The answers' panel, open or closed";
    field::toggle(
        ui,
        "answers",
        view.answers_panel,
        Command::AnswersPanel,
        does,
        acts,
    );
    let does = "First steps, and every key";
    field::command(ui, "help", Command::Show(Window::Help), does, acts);
}

fn files(ui: &mut Ui, desk: &mut Desk<'_>) {
    let acts = &mut *desk.acts;
    field::command(
        ui,
        "open",
        Command::Show(Window::Open),
        "Open a case, or a bone from a mesh file",
        acts,
    );
    let words = if desk.plan.is_changed() {
        "save *"
    } else {
        "save"
    };
    field::command(
        ui,
        words,
        Command::Save,
        "Save the case; * marks changes that are not saved",
        acts,
    );
    let (back, again) = desk.plan.depth();
    ui.add_enabled_ui(back > 0, |ui| {
        field::command(
            ui,
            "undo",
            Command::Undo,
            &format!("Take back the last change; {back} to take back"),
            acts,
        );
    });
    ui.add_enabled_ui(again > 0, |ui| {
        field::command(ui, "redo", Command::Redo, "Make it again", acts);
    });
}

fn views(ui: &mut Ui, desk: &mut Desk<'_>) {
    ComboBox::from_id_salt("view")
        .selected_text(format!("from: {}", desk.view.from.name()))
        .width(118.0)
        .show_ui(ui, |ui| {
            for from in From::NAMED {
                let command = Command::Look(from);
                let key = tip(from.name(), command);
                if ui.selectable_label(desk.view.from == from, key).clicked() {
                    desk.acts.push(crate::desk::Act::Do(command));
                }
            }
        })
        .response
        .on_hover_text("Where the picture is looked at from. Drag it to turn, with the right button to move, roll to come nearer.");
}

fn section(ui: &mut Ui, desk: &mut Desk<'_>) {
    let on = desk.view.section.on;
    let does = "Cut everything open along a plane through the cup's axis";
    field::toggle(ui, "section", on, Command::Section, does, desk.acts);
    if on {
        let mut hour = desk.view.section.hour;
        let drag = bevy_egui::egui::DragValue::new(&mut hour)
            .speed(0.02)
            .custom_formatter(|hour, _| cupwright_report::words::clock(hour));
        let does = tip(
            "The hour of the rim that the section runs through; drag to turn it",
            Command::TurnSection(0.5),
        );
        if ui.add(drag).on_hover_text(does).changed() {
            desk.view.section.hour = hour.rem_euclid(12.0);
        }
        field::command(
            ui,
            "flip",
            Command::OtherHalf,
            "Take away the other half",
            desk.acts,
        );
    }
}

fn map(ui: &mut Ui, desk: &mut Desk<'_>) {
    let map = desk.view.map;
    ComboBox::from_id_salt("map")
        .selected_text(map.name())
        .width(108.0)
        .show_ui(ui, |ui| {
            for one in Map::ALL {
                let response = ui.selectable_value(&mut desk.view.map, one, one.name());
                response.on_hover_text(one.meaning());
            }
        })
        .response
        .on_hover_text(tip(map.meaning(), Command::NextMap));
}

fn look(ui: &mut Ui, desk: &mut Desk<'_>) {
    let words = match desk.view.bone {
        BoneLook::Solid => "bone: solid",
        BoneLook::Glass => "bone: glass",
        BoneLook::Hidden => "bone: hidden",
    };
    let does = "Bone solid, see-through, hidden";
    field::command(ui, words, Command::NextBoneLook, does, desk.acts);
    let does = "Reamer and cup at their place; maps of the cavity always leave them out";
    field::toggle(
        ui,
        "tools",
        desk.view.tools,
        Command::Tools,
        does,
        desk.acts,
    );
}

/// The caution that every screen carries.
pub(super) fn caution(ui: &mut Ui) {
    ui.label(
        RichText::new(cupwright_report::CAUTION)
            .small()
            .color(theme::FAINT),
    );
}

pub(super) fn banner_frame() -> Frame {
    Frame::new()
        .fill(theme::STOP)
        .inner_margin(Margin::symmetric(10, 6))
}

/// A limit that is passed, with its number.
pub(super) fn banner(ui: &mut Ui, told: &str) {
    let words = format!("limit passed: {told}");
    ui.label(
        RichText::new(words)
            .strong()
            .color(bevy_egui::egui::Color32::WHITE),
    );
}
