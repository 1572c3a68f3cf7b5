//! The lesson's panel: a page to read, and goals that the findings check.

use bevy_egui::egui::{RichText, ScrollArea, Ui};

use cupwright_procedure::edit::Edit;
use cupwright_procedure::lesson::{GoalState, Step};

use super::{Desk, field, theme};
use crate::desk::command::Command;
use crate::desk::{Act, Plan};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(lesson) = &desk.course.lesson else {
        return;
    };
    let Some(step) = lesson.steps.get(desk.course.page) else {
        return;
    };
    ui.add_space(4.0);
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(&lesson.title).strong().color(theme::ACCENT));
        let page = format!("page {} of {}", desk.course.page + 1, lesson.steps.len());
        ui.label(RichText::new(page).small().color(theme::FAINT));
        buttons(ui, step, desk.plan, desk.acts);
    });
    let findings = desk.answers.findings.as_deref();
    let goals = findings
        .filter(|_| !desk.is_behind())
        .map(|findings| step.progress(findings));
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
                Some(goals) => goals.iter().for_each(|state| goal(ui, state)),
            }
            ui.add_space(4.0);
        });
}

fn buttons(ui: &mut Ui, step: &Step, on_bench: &Plan, acts: &mut Vec<Act>) {
    field::command(ui, "back", Command::LessonBack, "The page before", acts);
    field::command(ui, "next", Command::LessonOn, "The next page", acts);
    let plans = [
        (
            &step.start,
            "start",
            "Put the plan that this page begins with on the bench",
        ),
        (
            &step.solution,
            "show one way",
            "Put a plan that meets every goal on the bench; undo takes it back",
        ),
    ];
    for (plan, words, does) in plans {
        if let Some(plan) = plan
            && ui.button(words).on_hover_text(does).clicked()
        {
            let whole = Edit::Whole(Box::new(plan.on(on_bench.file())));
            acts.push(Act::Edit(whole));
        }
    }
    let does = "Leave the lesson; the plan stays";
    field::command(ui, "leave", Command::LeaveLesson, does, acts);
}

fn goal(ui: &mut Ui, state: &GoalState) {
    let (mark, colour) = if state.met {
        ("done", theme::GOOD)
    } else {
        ("to do", theme::CAUTION)
    };
    let found = state
        .found
        .map_or("not measured".into(), |v| state.quantity.told(v));
    let words = format!("{mark}: {}; now {found}", state.text);
    ui.label(RichText::new(words).strong().color(colour))
        .on_hover_text(state.quantity.meaning());
}
