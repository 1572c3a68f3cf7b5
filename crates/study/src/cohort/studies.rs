//! Searches and reamer increments, asked of every member of a cohort.

use serde_json::{Value, json};

use super::evaluation::{Evaluation, Ready};
use super::table::{Cell, Column, Row};
use crate::increments::{self, Pass, Series, increments};
use crate::place::{Effort, Member, Search, place, usual_ranges};
use crate::{Evaluator, Limit, Measure, Variable};

/// A placement search about the member's own plan, under the limits of the case. One row for each
/// placement of the trade-off.
#[derive(Clone, Debug, PartialEq)]
pub struct Searches {
    /// What is to be more or less; at least one.
    pub goals: Vec<Measure>,
    /// How hard to look.
    pub effort: Effort,
}

impl Default for Searches {
    /// The goals of a search where nobody says otherwise.
    fn default() -> Self {
        Self {
            goals: vec![Measure::Removed, Measure::CoverageAfterReaming],
            effort: Effort::default(),
        }
    }
}

/// What a search varies, in the order of the columns.
const VARIED: [Variable; 5] = [
    Variable::Inclination,
    Variable::Anteversion,
    Variable::Medial,
    Variable::Superior,
    Variable::Anterior,
];

impl Evaluation for Searches {
    fn described(&self) -> Value {
        let Effort {
            samples,
            refinement,
            directions,
        } = self.effort;
        json!({
            "name": "search",
            "goals": self.goals.iter().map(|goal| goal.heading()).collect::<Vec<_>>(),
            "samples": samples,
            "refinement": refinement,
            "directions": directions,
        })
    }

    fn columns(&self) -> Vec<Column> {
        let varied = VARIED.iter().map(|variable| variable.heading());
        let goals = self.goals.iter().map(|goal| goal.heading());
        let mut columns = vec![Column::count("placement")];
        columns.extend(varied.chain(goals).map(Column::number));
        columns.push(Column::text("binds"));
        columns
    }

    fn rows(&self, member: Ready) -> Result<Vec<Row>, String> {
        let evaluator = Evaluator::new(member.file, member.bone).map_err(|e| e.to_string())?;
        let search = Search {
            ranges: usual_ranges(&evaluator.plan()),
            goals: self.goals.clone(),
            limits: Limit::of_case(&member.file.limits),
            effort: self.effort,
        };
        let front = place(&evaluator, member.instruments, &search).map_err(|e| e.to_string())?;
        if front.members.is_empty() {
            return Err("no placement that was looked at keeps the limits".into());
        }
        let rows = (1..).zip(&front.members);
        Ok(rows.map(|(number, found)| placed(number, found)).collect())
    }
}

fn placed(number: usize, found: &Member) -> Row {
    let values = VARIED.iter().map(|variable| found.setting.get(*variable));
    let numbers = values.chain(found.goals.iter().copied());
    let mut row = vec![Cell::count(number)];
    row.extend(numbers.map(Cell::number));
    row.push(Cell::text(&found.binding().join(", ")));
    row
}

/// Reaming up in steps, all to the member's last reamer. One row for each reamer of each series, in a
/// steady hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Reaming {
    /// How far below the last the first reamer is, in mm.
    pub below_mm: f64,
    /// By how much each reamer is larger than the one before it, in mm.
    pub steps_mm: Vec<f64>,
}

impl Default for Reaming {
    /// Steps of 1 and of 2 mm, from 6 mm below the last.
    fn default() -> Self {
        Self {
            below_mm: 6.0,
            steps_mm: vec![1.0, 2.0],
        }
    }
}

impl Evaluation for Reaming {
    fn described(&self) -> Value {
        json!({ "name": "increments", "below_mm": self.below_mm, "steps_mm": self.steps_mm })
    }

    fn columns(&self) -> Vec<Column> {
        let numbers = [
            "step_mm",
            "reamer_mm",
            "removed_mm3",
            "contact_mm2",
            "layer_mm",
            "own_size_coverage",
            "thinnest_wall_mm",
        ];
        numbers.into_iter().map(Column::number).collect()
    }

    fn rows(&self, member: Ready) -> Result<Vec<Row>, String> {
        let last = member.case.reamers.last().map_or(0.0, |last| last.diameter);
        let plan = increments::Plan {
            starts_mm: vec![last - self.below_mm],
            steps_mm: self.steps_mm.clone(),
            hands: Vec::new(),
            tries: 1,
            seed: 0,
        };
        let found = increments(member.file, member.bone, member.instruments, &plan);
        let found = found.map_err(|problem| problem.to_string())?;
        let row = |series: &Series, pass: &Pass| {
            let numbers = [
                Some(series.step_mm),
                Some(pass.diameter_mm),
                Some(pass.removed_mm3),
                Some(pass.contact_mm2),
                pass.layer_mm,
                Some(pass.own_size_coverage),
                pass.thinnest_wall_mm,
            ];
            numbers.map(Cell::number_or_empty).to_vec()
        };
        let each = found.iter().flat_map(|series| {
            let reamers = series.reamers.iter();
            reamers.map(move |pass| row(series, pass))
        });
        Ok(each.collect())
    }
}
