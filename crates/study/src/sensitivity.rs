//! [`sensitivity`]: one variable at a time, a step down and a step up, all others as planned.

use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error;

use crate::evaluator::{Evaluator, NoOutcome};
use crate::measure::Measure;
use crate::variable::Variable;

/// How a measure answers to each variable alone.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Sensitivity {
    /// Which measure.
    pub measure: Measure,
    /// Its value as planned; `None` where there is nothing to measure.
    pub planned: Option<f64>,
    /// One entry for each variable, in the order given.
    pub answers: Vec<Answer>,
}

/// How a measure answers to one variable.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Answer {
    /// What changes.
    pub variable: Variable,
    /// By how much, down and up.
    pub step: f64,
    /// The measure a step below the plan.
    pub below: Option<f64>,
    /// The measure a step above the plan.
    pub above: Option<f64>,
}

/// Why it cannot be told.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoSensitivity {
    /// A step that is none.
    #[error("{variable} changes by {step}; a step must be a positive number")]
    Step {
        /// The variable.
        variable: Variable,
        /// The step.
        step: f64,
    },
    /// A setting has no outcome.
    #[error("{variable} {value}: {problem}")]
    Outcome {
        /// The variable.
        variable: Variable,
        /// Its value.
        value: f64,
        /// Why not.
        problem: NoOutcome,
    },
    /// The plan itself cannot be run.
    #[error("the plan itself: {0}")]
    Plan(#[from] NoOutcome),
}

/// Steps where nobody says otherwise: angles by 5° (the delivery error that Pierrepont 2017, Bone Joint J
/// 99-B:184, reckons with), lengths by 2 mm, a size of cup; a reamer by 1 mm. The lengths are choices of this
/// program.
pub const STEPS: [(Variable, f64); 8] = [
    (Variable::Inclination, 5.0),
    (Variable::Anteversion, 5.0),
    (Variable::Medial, 2.0),
    (Variable::Superior, 2.0),
    (Variable::Anterior, 2.0),
    (Variable::CupDiameter, 2.0),
    (Variable::Depth, 2.0),
    (Variable::Oversize, 1.0),
];

impl Answer {
    /// The larger of the two changes from what is planned, in size.
    pub fn swing(&self, planned: Option<f64>) -> f64 {
        let change = |there: Option<f64>| there.zip(planned).map_or(0.0, |(a, b)| (a - b).abs());
        change(self.below).max(change(self.above))
    }

    /// Change of the measure per unit of the variable, from the step below to the step above.
    pub fn slope(&self) -> Option<f64> {
        Some((self.above? - self.below?) / (2.0 * self.step))
    }
}

/// How measures answer to each variable alone.
///
/// # Errors
/// When a step is not positive, or a setting has no outcome.
pub fn sensitivity(
    evaluator: &Evaluator,
    steps: &[(Variable, f64)],
    measures: &[Measure],
) -> Result<Vec<Sensitivity>, NoSensitivity> {
    let bad = steps
        .iter()
        .find(|(_, step)| !(*step > 0.0 && step.is_finite()));
    if let Some(&(variable, step)) = bad {
        return Err(NoSensitivity::Step { variable, step });
    }
    let plan = evaluator.plan();
    let planned = evaluator.evaluate(&plan, measures)?;
    let both = |&(variable, step): &(Variable, f64)| [(variable, -step), (variable, step)];
    let moves: Vec<(Variable, f64)> = steps.iter().flat_map(both).collect();
    let settings: Vec<_> = moves.iter().map(|(v, by)| plan.plus(*v, *by)).collect();
    let outcomes = moves
        .iter()
        .zip(evaluator.evaluate_all(&settings, measures));
    let outcomes: Vec<_> = outcomes
        .map(|(&(variable, by), outcome)| {
            outcome.map_err(|problem| NoSensitivity::Outcome {
                variable,
                value: plan.get(variable) + by,
                problem,
            })
        })
        .collect::<Result<_, _>>()?;
    let answer = |measure: Measure| {
        let pairs = steps.iter().zip(outcomes.chunks_exact(2));
        pairs.map(move |(&(variable, step), pair)| Answer {
            variable,
            step,
            below: pair[0].get(measure),
            above: pair[1].get(measure),
        })
    };
    Ok(measures
        .iter()
        .map(|&measure| Sensitivity {
            measure,
            planned: planned.get(measure),
            answers: answer(measure).collect(),
        })
        .collect())
}
