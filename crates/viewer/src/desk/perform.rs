//! Does what was asked of the bench.

use std::path::Path;
use std::sync::Arc;

use bevy::prelude::{AppExit, MessageReader, MessageWriter, Res, ResMut, Time};
use cupwright_procedure::case::{ReamerEntry, ShiftEntry};
use cupwright_procedure::edit::Edit;
use cupwright_procedure::lesson::Lesson;

use super::command::Command;
use super::files::{self, Opened};
use super::plan::Kept;
use super::view::{BoneLook, From, Map, Page, View, Window};
use super::{Act, Answers, BoneOnBone, Course, Notice, Plan};

/// How long the tool of a step takes to come in, in seconds.
const COMING_IN_S: f32 = 1.8;

/// Does everything that was asked since the last frame, in order.
pub(super) fn perform(
    mut acts: MessageReader<Act>,
    mut plan: ResMut<Plan>,
    mut view: ResMut<View>,
    mut course: ResMut<Course>,
    mut notice: ResMut<Notice>,
    answers: Res<Answers>,
    mut bone_on_bone: ResMut<BoneOnBone>,
    mut exit: MessageWriter<AppExit>,
) {
    for act in acts.read() {
        let mut bench = Bench {
            exit: &mut exit,
            answers: &answers,
            bone_on_bone: &mut bone_on_bone,
            plan: &mut plan,
            view: &mut view,
            course: &mut course,
            notice: &mut notice,
        };
        bench.perform(act);
    }
}

/// Moves the tool that is on its way in.
pub(super) fn play(time: Res<Time>, mut view: ResMut<View>) {
    if !view.playing {
        return;
    }
    view.away = (view.away - time.delta_secs() / COMING_IN_S).max(0.0);
    view.playing = view.away > 0.0;
}

struct Bench<'a, 'w> {
    exit: &'a mut MessageWriter<'w, AppExit>,
    answers: &'a Answers,
    bone_on_bone: &'a mut BoneOnBone,
    plan: &'a mut Plan,
    view: &'a mut View,
    course: &'a mut Course,
    notice: &'a mut Notice,
}

impl Bench<'_, '_> {
    fn perform(&mut self, act: &Act) {
        match act {
            Act::Do(command) => self.obey(*command),
            Act::Edit(edit) => self.edit(edit),
            Act::Drag(edit) => self.change(|plan| plan.amend(edit)),
            Act::Select(reamer) => {
                self.plan.selected = (*reamer).min(self.plan.reamers().saturating_sub(1));
            }
            Act::GoTo(step) => self.view.go_to(*step, self.plan.reamers()),
            Act::Open(path) => match files::open(path, self.plan.file()) {
                Ok(Opened::Plan(plan)) => {
                    self.begin(*plan);
                    self.notice.done(format!("opened {}", path.display()));
                }
                Ok(Opened::Lesson(lesson)) => self.teach(*lesson),
                Err(told) => self.notice.trouble(told),
            },
            Act::Save(path) => self.save(path),
            Act::Leave => {
                self.exit.write(AppExit::Success);
            }
            Act::Learn(which) => self.learn(*which),
        }
    }

    fn edit(&mut self, edit: &Edit) {
        self.change(|plan| plan.apply(edit));
    }

    /// Makes a change and keeps the step that is looked at: the cup stays the cup.
    fn change<E: ToString>(&mut self, change: impl FnOnce(&mut Plan) -> Result<(), E>) {
        let at_cup = self.view.shows_cup(self.plan.reamers());
        match change(self.plan) {
            Ok(()) => *self.notice = Notice::default(),
            Err(problem) => self.notice.trouble(problem),
        }
        self.keep_step(at_cup);
    }

    fn keep_step(&mut self, at_cup: bool) {
        let last = self.plan.reamers() + 1;
        self.view.step = if at_cup {
            last
        } else {
            self.view.step.min(last - 1)
        };
    }

    fn obey(&mut self, command: Command) {
        match command {
            Command::Undo => self.step_in_history("nothing to undo", Plan::undo),
            Command::Redo => self.step_in_history("nothing to redo", Plan::redo),
            Command::Save => match self.plan.path.clone() {
                Some(path) => self.save(&path),
                None => self.view.window = Some(Window::Save),
            },
            Command::Keep => self.keep(),
            Command::Move(_)
            | Command::Turn(_)
            | Command::Resize(_)
            | Command::ResizeReamer(_)
            | Command::AddReamer
            | Command::RemoveReamer => {
                if let Some(edit) = self.edit_of(command) {
                    self.edit(&edit);
                }
            }
            Command::Select(places) => {
                let places = isize::try_from(places).unwrap_or(0);
                let last = self.plan.reamers().saturating_sub(1);
                self.plan.selected = self.plan.selected.saturating_add_signed(places).min(last);
            }
            Command::BoneOnBone => self.search(),
            Command::LessonOn => self.course.turn(1),
            Command::LessonBack => self.course.turn(-1),
            Command::LeaveLesson => self.course.leave(),
            looking => look(self.view, looking, self.plan.reamers()),
        }
    }

    fn keep(&mut self) {
        match &self.answers.findings {
            Some(findings) if self.answers.found == self.plan.revision() => {
                self.plan.kept = Some(Kept {
                    case: Arc::new(self.plan.case().clone()),
                    findings: Arc::clone(findings),
                });
                self.view.compare = true;
                self.notice
                    .done("kept this plan; what changes from now on is compared with it");
            }
            _ => self
                .notice
                .trouble("the plan is still being worked out; keep it in a moment"),
        }
    }

    /// Has the plan's joint searched for where bone meets bone, and shows the page that tells it.
    fn search(&mut self) {
        self.view.page = Page::Joint;
        self.view.answers_panel = true;
        match self.bone_on_bone.search(self.plan, self.answers) {
            Ok(()) => *self.notice = Notice::default(),
            Err(told) => self.notice.trouble(told),
        }
    }

    fn step_in_history(&mut self, none: &str, step: impl FnOnce(&mut Plan) -> bool) {
        let at_cup = self.view.shows_cup(self.plan.reamers());
        if step(self.plan) {
            *self.notice = Notice::default();
        } else {
            self.notice.done(none);
        }
        self.keep_step(at_cup);
    }

    /// The change of the plan that a command asks for.
    fn edit_of(&self, command: Command) -> Option<Edit> {
        let (file, selected) = (self.plan.file(), self.plan.selected);
        let cup = file.cup;
        let reamer = file.reamers.get(selected).copied();
        Some(match command {
            Command::Move([medial, superior, anterior]) => Edit::CupCentre(ShiftEntry {
                medial_mm: cup.centre.medial_mm + medial,
                superior_mm: cup.centre.superior_mm + superior,
                anterior_mm: cup.centre.anterior_mm + anterior,
            }),
            Command::Turn([inclination, anteversion]) => Edit::CupAngles {
                inclination_deg: cup.inclination_deg + inclination,
                anteversion_deg: cup.anteversion_deg + anteversion,
            },
            Command::Resize(mm) => Edit::CupDiameter(cup.diameter_mm + mm),
            Command::ResizeReamer(mm) => {
                let reamer = reamer?;
                let diameter_mm = reamer.diameter_mm + mm;
                Edit::ChangeReamer(
                    selected,
                    ReamerEntry {
                        diameter_mm,
                        ..reamer
                    },
                )
            }
            Command::AddReamer => {
                let reamer = reamer?;
                let diameter_mm = reamer.diameter_mm + 1.0;
                Edit::AddReamer(
                    selected + 1,
                    ReamerEntry {
                        diameter_mm,
                        ..reamer
                    },
                )
            }
            Command::RemoveReamer => Edit::RemoveReamer(selected),
            _ => return None,
        })
    }

    fn save(&mut self, path: &Path) {
        match files::save(self.plan, path) {
            Ok(()) => {
                self.view.window = None;
                self.notice.done(format!("saved {}", path.display()));
            }
            Err(told) => self.notice.trouble(told),
        }
    }

    fn learn(&mut self, which: usize) {
        let lessons = match Lesson::built_in() {
            Ok(lessons) => lessons,
            Err(problem) => return self.notice.trouble(problem),
        };
        if let Some(lesson) = lessons.into_iter().nth(which) {
            self.teach(lesson);
        }
    }

    fn teach(&mut self, lesson: Lesson) {
        match Plan::new(lesson.case.clone(), None) {
            Ok(plan) => {
                self.begin(plan);
                self.course.begin(lesson);
            }
            Err(problem) => self.notice.trouble(problem),
        }
    }

    /// Puts another plan on the bench; undo brings the last one back.
    fn begin(&mut self, plan: Plan) {
        self.plan.make_way_for(plan);
        self.view.go_to(usize::MAX, self.plan.reamers());
        self.view.window = None;
        self.view.compare = false;
        self.course.leave();
    }
}

/// Commands that change nothing but what is looked at.
fn look(view: &mut View, command: Command, reamers: usize) {
    match command {
        Command::Show(window) => {
            view.window = (view.window != Some(window)).then_some(window);
        }
        Command::Close => view.compare &= view.window.take().is_some(),
        Command::StepOn => view.go_to(view.step.saturating_add(1), reamers),
        Command::StepBack => view.go_to(view.step.min(reamers + 1).saturating_sub(1), reamers),
        Command::FirstStep => view.go_to(0, reamers),
        Command::LastStep => view.go_to(reamers + 1, reamers),
        Command::Play => start_or_stop(view, reamers),
        Command::Look(from) => look_from(view, from),
        Command::Section => view.section.on = !view.section.on,
        Command::TurnSection(hours) => {
            view.section.on = true;
            // The plane runs through an hour and the one opposite: half a turn is the same plane.
            view.section.hour = (view.section.hour + hours).rem_euclid(12.0);
        }
        Command::OtherHalf => view.section.other_half = !view.section.other_half,
        Command::NextMap => view.map = next(&Map::ALL, view.map),
        Command::NextBoneLook => {
            let looks = [BoneLook::Solid, BoneLook::Glass, BoneLook::Hidden];
            view.bone = next(&looks, view.bone);
        }
        Command::Page(page) => {
            view.page = page;
            view.answers_panel = true;
        }
        Command::Screws => view.screws = !view.screws,
        Command::Tools => view.tools = !view.tools,
        Command::Compare => view.compare = !view.compare,
        Command::Projector => {
            view.projector = !view.projector;
            // Room for the larger answers and the picture.
            view.plan_panel = !view.projector;
        }
        Command::PlanPanel => view.plan_panel = !view.plan_panel,
        Command::AnswersPanel => view.answers_panel = !view.answers_panel,
        Command::Handles => view.handles = !view.handles,
        _ => {}
    }
}

fn look_from(view: &mut View, from: From) {
    view.from = from;
    if from == From::Section {
        view.section.on = true;
    }
}

/// Starts the next step's tool on its way in; stops one that is under way, or starts it again.
fn start_or_stop(view: &mut View, reamers: usize) {
    if view.playing {
        view.playing = false;
    } else if view.away > 0.0 {
        view.playing = true;
    } else {
        let next = if view.step > reamers {
            1
        } else {
            view.step + 1
        };
        view.go_to(next, reamers);
        view.away = 1.0;
        view.playing = true;
    }
}

fn next<T: Copy + PartialEq>(all: &[T], now: T) -> T {
    let place = all.iter().position(|one| *one == now).unwrap_or(0);
    all[(place + 1) % all.len()]
}
