//! [`scatter`]: what becomes of a plan when hands and reamers err as they do.
//!
//! Errors are drawn independently of one another, each variable from a stream of its own: leaving one out
//! changes no other. The same seed gives the same bits on any number of threads.

use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error as ThisError;

use crate::evaluator::{Evaluator, NoOutcome, Outcome};
use crate::influence::{Influence, influences};
use crate::limit::{Limit, needed};
use crate::measure::Measure;
use crate::setting::Setting;
use crate::spread::{BadSpread, Spread};
use crate::variable::Variable;

/// How far a variable is off the plan.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Error {
    /// What is off.
    pub variable: Variable,
    /// By how much, added to the plan's value.
    pub spread: Spread,
    /// Where the spread comes from.
    pub source: String,
}

/// What is drawn, and how often.
#[derive(Clone, Debug, PartialEq)]
pub struct Draws {
    /// The errors; a variable may have one.
    pub errors: Vec<Error>,
    /// How many plans are drawn.
    pub count: usize,
    /// What decides the draws.
    pub seed: u64,
}

/// What became of a plan.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Scatter {
    /// How many plans were drawn.
    pub draws: usize,
    /// What decided them.
    pub seed: u64,
    /// Draws that no cup can have, such as an angle out of its range; they miss every limit and are left out
    /// of all else.
    pub impossible: usize,
    /// The errors they were drawn with.
    pub errors: Vec<Error>,
    /// How each measure lies.
    pub measures: Vec<Lie>,
    /// How often each limit is missed.
    pub misses: Vec<Miss>,
    /// How often one limit or another is missed; `None` where there is no limit.
    pub any_miss: Option<Miss>,
    /// What each measure owes to each error.
    pub influences: Vec<Influence>,
}

/// How a measure lies over all draws.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Lie {
    /// Which.
    pub measure: Measure,
    /// Its value as planned; `None` where there is nothing to measure.
    pub planned: Option<f64>,
    /// In how many draws there was something to measure.
    pub measured: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub deviation: f64,
    /// The values that these shares of the draws stay below, as [`PERCENTILES`].
    pub percentiles: [f64; 7],
}

/// Which percentiles are told: 1 of a hundred, 5, and so on.
pub const PERCENTILES: [u8; 7] = [1, 5, 25, 50, 75, 95, 99];

/// How often a limit is missed.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Miss {
    /// The limit, in words.
    pub limit: String,
    /// Share of the draws that miss it.
    pub share: f64,
    /// Between these lies the true share with 95 % confidence, as far as the number of draws goes (E. B.
    /// Wilson 1927, J Am Stat Assoc 22:209).
    pub between: [f64; 2],
}

/// The most draws.
pub const MOST_DRAWS: usize = 10_000_000;

/// Why nothing was drawn.
#[derive(Clone, Debug, PartialEq, ThisError)]
pub enum NoScatter {
    /// Too few or too many draws.
    #[error("{0} draws; it must be 2 to {MOST_DRAWS}")]
    Count(usize),
    /// No distribution.
    #[error("{variable}: {problem}")]
    Spread {
        /// Of which variable.
        variable: Variable,
        /// What is wrong.
        problem: BadSpread,
    },
    /// Two errors of one variable.
    #[error("{0} has two errors; give one")]
    Twice(Variable),
    /// The plan itself cannot be run.
    #[error("the plan itself: {0}")]
    Plan(#[from] NoOutcome),
}

impl Error {
    /// How far `variable` is off the plan, and where that is printed.
    pub fn new(variable: Variable, spread: Spread, source: &str) -> Self {
        Self {
            variable,
            spread,
            source: source.into(),
        }
    }
}

impl Draws {
    /// The plans drawn about one, in their order.
    ///
    /// # Errors
    /// When there are too few or too many draws, a variable has two errors, or a spread is none.
    pub fn about(&self, plan: &Setting) -> Result<Vec<Setting>, NoScatter> {
        if !(2..=MOST_DRAWS).contains(&self.count) {
            return Err(NoScatter::Count(self.count));
        }
        let mut settings = vec![*plan; self.count];
        for (k, error) in self.errors.iter().enumerate() {
            let variable = error.variable;
            if self.errors[..k].iter().any(|e| e.variable == variable) {
                return Err(NoScatter::Twice(variable));
            }
            let stream = variable.place() as u64;
            let drawn = error.spread.draws(self.count, self.seed, stream);
            let drawn = drawn.map_err(|problem| NoScatter::Spread { variable, problem })?;
            for (setting, off) in settings.iter_mut().zip(drawn) {
                *setting = setting.plus(variable, off);
            }
        }
        Ok(settings)
    }
}

/// What becomes of the plan when it is carried out with these errors.
///
/// # Errors
/// When nothing can be drawn, or the plan itself cannot be run.
pub fn scatter(
    evaluator: &Evaluator,
    draws: &Draws,
    measures: &[Measure],
    limits: &[Limit],
) -> Result<Scatter, NoScatter> {
    let plan = evaluator.plan();
    let settings = draws.about(&plan)?;
    let asked = needed(limits, measures);
    let planned = evaluator.evaluate(&plan, &asked)?;
    let found: Vec<(Setting, Outcome)> = settings
        .iter()
        .zip(evaluator.evaluate_all(&settings, &asked))
        .filter_map(|(setting, outcome)| Some((*setting, outcome.ok()?)))
        .collect();
    let impossible = settings.len() - found.len();
    let missed = |limit: String, misses: &dyn Fn(&Outcome) -> bool| {
        let count = found.iter().filter(|(_, outcome)| misses(outcome)).count();
        Miss::new(limit, count + impossible, settings.len())
    };
    let of_limit = |limit: &Limit| missed(limit.to_string(), &|o| !limit.is_kept(o));
    let any = missed("one limit or another".into(), &|outcome| {
        limits.iter().any(|limit| !limit.is_kept(outcome))
    });
    let lies = measures.iter().filter_map(|&measure| {
        let values = found.iter().filter_map(|(_, outcome)| outcome.get(measure));
        Lie::of(measure, planned.get(measure), values.collect())
    });
    let variables: Vec<_> = draws.errors.iter().map(|error| error.variable).collect();
    Ok(Scatter {
        draws: settings.len(),
        seed: draws.seed,
        impossible,
        errors: draws.errors.clone(),
        measures: lies.collect(),
        misses: limits.iter().map(of_limit).collect(),
        any_miss: (!limits.is_empty()).then_some(any),
        influences: influences(&variables, measures, &found),
    })
}

impl Miss {
    fn new(limit: String, missed: usize, of: usize) -> Self {
        const TWO_SIDED_95: f64 = 1.959_963_984_540_054;
        let (n, z2) = (of as f64, TWO_SIDED_95 * TWO_SIDED_95);
        let share = missed as f64 / n;
        let middle = (share + z2 / (2.0 * n)) / (1.0 + z2 / n);
        let reach =
            TWO_SIDED_95 / (1.0 + z2 / n) * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt();
        Self {
            limit,
            share,
            between: [(middle - reach).max(0.0), (middle + reach).min(1.0)],
        }
    }
}

impl Lie {
    /// `None` where nothing was measured.
    fn of(measure: Measure, planned: Option<f64>, mut values: Vec<f64>) -> Option<Self> {
        values.sort_by(f64::total_cmp);
        let count = values.len();
        let mean = values.iter().sum::<f64>() / count as f64;
        let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
        (count > 0).then(|| Self {
            measure,
            planned,
            measured: count,
            mean,
            deviation: (squares / (count.max(2) - 1) as f64).sqrt(),
            percentiles: PERCENTILES.map(|percent| quantile(&values, f64::from(percent) / 100.0)),
        })
    }
}

/// The value that `share` of sorted values stay below, straight between neighbours.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in a list of at most ten million"
)]
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let at = share * (sorted.len() - 1) as f64;
    let below = at.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] + (at - at.floor()) * (sorted[above] - sorted[below])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_lie_straight_between_neighbours() {
        let values = vec![4.0, 1.0, 2.0, 3.0, 5.0];
        let lie = Lie::of(Measure::Coverage, None, values).unwrap();
        assert_eq!(lie.percentiles[3].to_bits(), 3.0_f64.to_bits());
        assert!((lie.percentiles[0] - 1.04).abs() < 1e-12);
        assert!((lie.mean - 3.0).abs() < 1e-12 && (lie.deviation - 2.5_f64.sqrt()).abs() < 1e-12);
        assert_eq!(Lie::of(Measure::Coverage, None, vec![]), None);
    }

    #[test]
    fn a_share_comes_with_the_interval_that_its_draws_allow() {
        // Wilson's interval of 10 in 100 at 95 %: 0.0552 to 0.1744 (worked by hand from his formula).
        let miss = Miss::new(String::new(), 10, 100);
        assert!((miss.between[0] - 0.0552).abs() < 1e-4, "{miss:?}");
        assert!((miss.between[1] - 0.1744).abs() < 1e-4, "{miss:?}");
        let never = Miss::new(String::new(), 0, 100);
        assert!(never.between[0].abs() < 1e-15 && never.between[1] > 0.03);
    }
}
