//! The lesson's panel: a page to read, and goals that the findings check.

use bevy_egui::egui::{RichText, ScrollArea, Ui};

use super::{Desk, field, theme};
use crate::desk::Act;
use crate::desk::command::Command;
use cupwright_procedure::edit::Edit;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(lesson) = &desk.course.lesson else {
        return;
    };
    let Some(step) = lesson.steps.get(desk.course.page) else {
        return;
    };
    let findings = desk
        .answers
        .findings
        .as_deref()
        .filter(|_| !desk.is_behind());
    let goals = findings.map(|findings| step.progress(findings));
    ui.add_space(4.0);
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(&lesson.title).strong().color(theme::ACCENT));
        let page = format!("page {} of {}", desk.course.page + 1, lesson.steps.len());
        ui.label(RichText::new(page).small().color(theme::FAINT));
        field::command(
            ui,
            "back",
            Command::LessonBack,
            "The page before",
            desk.acts,
        );
        field::command(ui, "next", Command::LessonOn, "The next page", desk.acts);
        if let Some(plan) = &step.start
            && ui
                .button("start")
                .on_hover_text("Put the plan that this page begins with on the bench")
                .clicked()
        {
            desk.acts
                .push(Act::Edit(Edit::Whole(Box::new(plan.on(desk.plan.file())))));
        }
        if let Some(plan) = &step.solution
            && ui
                .button("show one way")
                .on_hover_text("Put a plan that meets every goal on the bench; undo takes it back")
                .clicked()
        {
            desk.acts
                .push(Act::Edit(Edit::Whole(Box::new(plan.on(desk.plan.file())))));
        }
        field::command(
            ui,
            "leave",
            Command::LeaveLesson,
            "Leave the lesson; the plan stays",
            desk.acts,
        );
    });
    ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| {
            ui.label(RichText::new(&step.title).heading());
            ui.label(&step.text);
            match &goals {
                None if !step.task.is_empty() => {
                    ui.label(RichText::new("checking the goals").color(theme::FAINT));
                }
                None => {}
                Some(goals) => {
                    for goal in goals {
                        let (mark, colour) = if goal.met {
                            ("done", theme::GOOD)
                        } else {
                            ("to do", theme::CAUTION)
                        };
                        let found = goal
                            .found
                            .map_or("not measured".into(), |v| goal.quantity.told(v));
                        let words = format!("{mark}: {}; now {found}", goal.text);
                        ui.label(RichText::new(words).strong().color(colour))
                            .on_hover_text(goal.quantity.meaning());
                    }
                }
            }
            ui.add_space(4.0);
        });
}
