//! Lessons: a case, and steps of text with goals that are checked on what a run finds.
//!
//! Written in RON, like cases, and as strict: a field the program does not know is an error with line
//! and column. A goal asks for a [`Quantity`](crate::quantity::Quantity), never for a way of getting there. What was not measured
//! meets no goal.

mod goal;

use serde::Deserialize;
use thiserror::Error;

use crate::case::{BadCase, CaseFile, CupEntry, ReamerEntry};
use crate::findings::Findings;
use crate::syntax;
pub use goal::{BadGoal, Goal, GoalState};

/// The version of the lesson format that this program reads.
pub const VERSION: u32 = 1;

/// The lessons that come with the program.
const BUILT_IN: [&str; 2] = [
    include_str!("../../../assets/lessons/press-fit.ron"),
    include_str!("../../../assets/lessons/hidden-floor.ron"),
];

/// A lesson.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Lesson {
    /// Version of the format.
    pub version: u32,
    /// Its title.
    pub title: String,
    /// Whom it is written for.
    pub for_whom: String,
    /// The case it begins with.
    pub case: CaseFile,
    /// Its steps, in order.
    pub steps: Vec<Step>,
}

/// One step: something to read, and perhaps something to do.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Its title.
    pub title: String,
    /// What it says; line breaks and indentation in the file are blanks.
    pub text: String,
    /// The plan that the step begins with; absent where it goes on with the one at hand.
    #[serde(default)]
    pub start: Option<Plan>,
    /// What to reach; empty where there is only something to read.
    #[serde(default)]
    pub task: Vec<Goal>,
    /// A plan that meets every goal, one of many.
    #[serde(default)]
    pub solution: Option<Plan>,
}

/// The part of a case that a learner works on.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// The reamers in the order of use.
    pub reamers: Vec<ReamerEntry>,
    /// The cup.
    pub cup: CupEntry,
}

/// Why a lesson is refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BadLesson {
    /// The text is not a lesson.
    #[error("{}", syntax::told(.0))]
    Syntax(Box<ron::error::SpannedError>),
    /// Written for a later version of this program.
    #[error(
        "version is {found}; this program reads version {VERSION} of the lesson format, a later one may read more"
    )]
    Version {
        /// The version it names.
        found: u32,
    },
    /// Nothing to read.
    #[error("{field} is empty; {remedy}")]
    Empty {
        /// The field.
        field: String,
        /// What to do.
        remedy: &'static str,
    },
    /// The case cannot be.
    #[error("case: {0}")]
    Case(#[from] BadCase),
    /// A plan that cannot be.
    #[error("step {step}: {plan}: {problem}")]
    Plan {
        /// The step, counted from 1.
        step: usize,
        /// `start` or `solution`.
        plan: &'static str,
        /// What is wrong.
        problem: BadCase,
    },
    /// A goal that cannot be met.
    #[error("step {step}: goal {goal}: {problem}")]
    Goal {
        /// The step, counted from 1.
        step: usize,
        /// The goal, counted from 1.
        goal: usize,
        /// What is wrong.
        problem: BadGoal,
    },
}

impl Lesson {
    /// A lesson from the text of its file, checked.
    ///
    /// # Errors
    /// When the text is not a lesson, with line and column; when a plan in it cannot be, a goal cannot be
    /// met by any number, or there is nothing to read.
    pub fn parse(text: &str) -> Result<Self, BadLesson> {
        let extensions = ron::extensions::Extensions::IMPLICIT_SOME;
        let options = ron::Options::default().with_default_extension(extensions);
        let mut lesson: Self = options
            .from_str(text)
            .map_err(|error| BadLesson::Syntax(Box::new(error)))?;
        for step in &mut lesson.steps {
            step.text = flowing(&step.text);
        }
        lesson.check()?;
        Ok(lesson)
    }

    /// The lessons that come with the program.
    ///
    /// # Errors
    /// Never, unless the program was built with a broken one.
    pub fn built_in() -> Result<Vec<Self>, BadLesson> {
        BUILT_IN.iter().map(|text| Self::parse(text)).collect()
    }

    /// The case at the beginning of a step, counted from 0, for one who took every worked solution
    /// before; after the last step, at the end of the lesson.
    pub fn case_before(&self, step: usize) -> CaseFile {
        let earlier = self.steps.iter().take(step);
        let plans = earlier.flat_map(|step| [&step.start, &step.solution]);
        let own = self.steps.get(step).and_then(|step| step.start.as_ref());
        let last = plans.flatten().chain(own).last();
        last.map_or_else(|| self.case.clone(), |plan| plan.on(&self.case))
    }

    fn check(&self) -> Result<(), BadLesson> {
        if self.version == 0 || self.version > VERSION {
            return Err(BadLesson::Version {
                found: self.version,
            });
        }
        filled("title", &self.title)?;
        filled("for_whom", &self.for_whom)?;
        self.case.check()?;
        if self.steps.is_empty() {
            return Err(BadLesson::Empty {
                field: "steps".into(),
                remedy: "give at least one, with a title and a text",
            });
        }
        let mut numbered = self.steps.iter().enumerate();
        numbered.try_for_each(|(k, step)| step.check(k + 1, &self.case))
    }
}

impl Step {
    /// How far each goal of the task is met by what a run found.
    pub fn progress(&self, findings: &Findings) -> Vec<GoalState> {
        self.task.iter().map(|goal| goal.state(findings)).collect()
    }

    fn check(&self, step: usize, case: &CaseFile) -> Result<(), BadLesson> {
        filled(&format!("step {step}: title"), &self.title)?;
        filled(&format!("step {step}: text"), &self.text)?;
        for (k, goal) in self.task.iter().enumerate() {
            let bad = |problem| BadLesson::Goal {
                step,
                goal: k + 1,
                problem,
            };
            goal.check().map_err(bad)?;
        }
        for (plan, given) in [("start", &self.start), ("solution", &self.solution)] {
            if let Some(given) = given {
                let bad = |problem| BadLesson::Plan {
                    step,
                    plan,
                    problem,
                };
                given.on(case).check().map_err(bad)?;
            }
        }
        Ok(())
    }
}

impl Plan {
    /// A case with this plan in place of its own.
    pub fn on(&self, case: &CaseFile) -> CaseFile {
        CaseFile {
            reamers: self.reamers.clone(),
            cup: self.cup,
            ..case.clone()
        }
    }
}

/// A text without the line breaks and the indentation of its file.
fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn filled(field: &str, text: &str) -> Result<(), BadLesson> {
    if text.trim().is_empty() {
        return Err(BadLesson::Empty {
            field: field.into(),
            remedy: "write what the learner should read there",
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Bone, Instruments, simulate};
    use std::path::Path;

    const SHORT: &str = r#"(
    version: 1,
    title: "A lesson",
    for_whom: "anyone",
    case: (
        version: 1,
        bone: Preset(name: "average-male", side: Right),
        orientation: Radiographic,
        reamers: [(diameter_mm: 51)],
        cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15),
    ),
    steps: [
        (title: "Read", text: "Some text."),
        (
            title: "Do",
            text: "More text.",
            task: [AtLeast(Coverage, 0.8), AtMost(WallMm(Medial), 5), Between(Reamers, 2, 4)],
            solution: (
                reamers: [(diameter_mm: 51), (diameter_mm: 53)],
                cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15),
            ),
        ),
    ],
)"#;

    #[track_caller]
    fn refused(from: &str, to: &str, told: &str) {
        assert!(SHORT.contains(from), "nothing to replace");
        let message = Lesson::parse(&SHORT.replacen(from, to, 1))
            .unwrap_err()
            .to_string();
        assert_eq!(message, told);
    }

    #[test]
    fn a_slip_in_the_text_is_told_with_line_and_column() {
        assert!(Lesson::parse(SHORT).is_ok());
        refused(
            "title: \"Do\"",
            "titel: \"Do\"",
            "line 15, column 13: there is no field titel here; there are: title, text, start, task, solution",
        );
        refused(
            "for_whom",
            "whom",
            "line 4, column 5: there is no field whom here; there are: version, title, for_whom, case, steps",
        );
        refused(
            "inclination_deg: 40",
            "tilt: 40",
            "line 10, column 32: there is no field tilt here; there are: diameter_mm, inclination_deg, anteversion_deg, centre",
        );
        refused(
            "WallMm(Medial)",
            "WallMm(Upper)",
            "line 17, column 58: there is no Upper here; write one of: Medial, Anterior, Posterior, Superior, Inferior",
        );
        refused(
            "Between(Reamers, 2, 4)",
            "Exactly(Reamers, 2)",
            "line 17, column 71: there is no Exactly here; write one of: AtLeast, AtMost, Between",
        );
    }

    #[test]
    fn a_lesson_that_cannot_be_taught_is_refused_with_its_place() {
        refused(
            "version: 1,\n    title",
            "version: 2,\n    title",
            "version is 2; this program reads version 1 of the lesson format, a later one may read more",
        );
        refused(
            "Some text.",
            " ",
            "step 1: text is empty; write what the learner should read there",
        );
        refused(
            "reamers: [(diameter_mm: 51)],\n        cup",
            "reamers: [],\n        cup",
            "case: reamers is empty; give at least one, as in reamers: [(diameter_mm: 51)]",
        );
        refused(
            "(diameter_mm: 53)]",
            "(diameter_mm: -53)]",
            "step 2: solution: reamer 2: diameter_mm is -53; it must be more than 0 and at most 200 mm",
        );
        refused(
            "Coverage, 0.8",
            "Coverage, 80",
            "step 2: goal 1: coverage after reaming is a share between 0 and 1, not 80",
        );
        refused(
            "Reamers, 2, 4",
            "Reamers, 4, 2",
            "step 2: goal 3: nothing is at least 4 and at most 2",
        );
    }

    #[test]
    fn a_lesson_without_steps_is_refused() {
        let none = Lesson {
            steps: Vec::new(),
            ..Lesson::parse(SHORT).unwrap()
        };
        let message = none.check().unwrap_err().to_string();
        assert!(message.starts_with("steps is empty"), "{message}");
    }

    #[test]
    fn a_step_begins_with_its_own_plan_or_the_last_one_given() {
        let mut lesson = Lesson::parse(SHORT).unwrap();
        let reamers = |lesson: &Lesson, step| lesson.case_before(step).reamers.len();
        let counts = |lesson: &Lesson| [0, 1, 2, 9].map(|step| reamers(lesson, step));
        assert_eq!(counts(&lesson), [1, 1, 2, 2]);
        let mut plan = lesson.steps[1].solution.clone().unwrap();
        plan.reamers = vec![plan.reamers[0]; 5];
        lesson.steps[1].start = Some(plan.clone());
        assert_eq!(counts(&lesson), [1, 5, 2, 2]);
        plan.reamers.truncate(3);
        lesson.steps[0].start = Some(plan);
        lesson.steps[1].start = None;
        assert_eq!(counts(&lesson), [3, 3, 2, 2]);
    }

    /// What a run of a case finds.
    fn found(case: &CaseFile, bone: &Bone) -> Findings {
        let case = case.check().unwrap();
        simulate(&case, bone, &Instruments::generic().unwrap()).unwrap()
    }

    fn told(states: &[GoalState]) -> String {
        let lines = states.iter().map(GoalState::told);
        lines.collect::<Vec<_>>().join("; ")
    }

    /// Every task can be done, by the worked solution, and is not done before it is begun.
    #[track_caller]
    fn can_be_learnt_from(lesson: &Lesson) {
        let bone = Bone::of_case(&lesson.case.check().unwrap(), Path::new("")).unwrap();
        let tasks = lesson.steps.iter().enumerate();
        for (k, step) in tasks.filter(|(_, step)| !step.task.is_empty()) {
            let before = step.progress(&found(&lesson.case_before(k), &bone));
            let title = &step.title;
            assert!(
                before.iter().any(|goal| !goal.met),
                "{title} is done before it is begun: {}",
                told(&before)
            );
            let solution = step.solution.as_ref().unwrap().on(&lesson.case);
            let after = step.progress(&found(&solution, &bone));
            assert!(
                after.iter().all(|goal| goal.met),
                "{title} is not done by its solution: {}",
                told(&after)
            );
        }
    }

    #[test]
    fn the_press_fit_lesson_can_be_learnt_from() {
        can_be_learnt_from(&Lesson::built_in().unwrap()[0]);
    }

    #[test]
    fn the_hidden_floor_lesson_can_be_learnt_from() {
        can_be_learnt_from(&Lesson::built_in().unwrap()[1]);
    }

    #[test]
    fn the_example_in_the_readme_can_be_learnt_from() {
        let readme = include_str!("../../../README.md");
        let section = readme.split("## A lesson").nth(1).unwrap();
        let example = section.split("```ron").nth(1).unwrap();
        let example = example.split("```").next().unwrap();
        can_be_learnt_from(&Lesson::parse(example).unwrap());
    }

    #[test]
    fn the_lessons_say_that_they_are_invented_and_are_short_to_read() {
        for lesson in Lesson::built_in().unwrap() {
            let title = &lesson.title;
            assert!(lesson.case.notes.starts_with("Invented"), "{title}");
            assert!(lesson.steps[0].text.contains("an invented"), "{title}");
            for step in &lesson.steps {
                // A decimal point has a digit behind it, the end of a sentence a blank or nothing.
                let sentences = step.text.split(". ").count();
                assert!((2..=5).contains(&sentences), "{}: {sentences}", step.title);
                assert!(!step.text.contains('\n') && step.text.ends_with('.'));
            }
        }
    }

    #[test]
    fn a_text_may_run_over_several_lines_of_its_file() {
        let broken = SHORT.replace("Some text.", "Some\n            text.");
        assert_eq!(Lesson::parse(&broken), Lesson::parse(SHORT));
    }
}
