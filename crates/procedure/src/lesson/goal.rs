//! What a step of a lesson asks for, and whether a run has reached it.

use serde::Deserialize;
use thiserror::Error;

use crate::findings::Findings;
use crate::quantity::Quantity;

/// One number that a step asks for, in the unit of its quantity, ends included.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq)]
pub enum Goal {
    /// This much or more.
    AtLeast(Quantity, f64),
    /// This much or less.
    AtMost(Quantity, f64),
    /// From the first number to the second.
    Between(Quantity, f64, f64),
}

/// How a goal stands.
#[derive(Clone, Debug, PartialEq)]
pub struct GoalState {
    /// What is asked, such as `coverage after reaming at least 80.0 %`.
    pub text: String,
    /// The number it asks for.
    pub quantity: Quantity,
    /// The least that will do.
    pub least: Option<f64>,
    /// The most that will do.
    pub most: Option<f64>,
    /// What was found; `None` where there was nothing to measure.
    pub found: Option<f64>,
    /// Whether it is met; what was not measured meets nothing.
    pub met: bool,
}

/// Why a goal is refused.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum BadGoal {
    /// Not a number.
    #[error("{} cannot be asked to be {value}", quantity.label())]
    NotANumber {
        /// The quantity.
        quantity: Quantity,
        /// What it was asked to be.
        value: f64,
    },
    /// A share outside its range.
    #[error("{} is a share between 0 and 1, not {value}", quantity.label())]
    Share {
        /// The quantity.
        quantity: Quantity,
        /// What it was asked to be.
        value: f64,
    },
    /// A range that holds nothing.
    #[error("nothing is at least {least} and at most {most}")]
    Nothing {
        /// The lower end.
        least: f64,
        /// The upper end.
        most: f64,
    },
}

impl Goal {
    /// How this goal stands in a run.
    pub fn state(self, findings: &Findings) -> GoalState {
        let (quantity, least, most) = self.parts();
        let found = quantity.of(findings);
        let met = found.is_some_and(|found| {
            least.is_none_or(|least| found >= least) && most.is_none_or(|most| found <= most)
        });
        GoalState {
            text: self.text(),
            quantity,
            least,
            most,
            found,
            met,
        }
    }

    fn parts(self) -> (Quantity, Option<f64>, Option<f64>) {
        match self {
            Self::AtLeast(quantity, least) => (quantity, Some(least), None),
            Self::AtMost(quantity, most) => (quantity, None, Some(most)),
            Self::Between(quantity, least, most) => (quantity, Some(least), Some(most)),
        }
    }

    fn text(self) -> String {
        let (quantity, least, most) = self.parts();
        let label = quantity.label();
        let told = |value| quantity.told(value);
        match (least.map(told), most.map(told)) {
            (Some(least), Some(most)) if least == most => format!("{label} {least}"),
            (Some(least), Some(most)) => format!("{label} from {least} to {most}"),
            (Some(least), None) => format!("{label} at least {least}"),
            (_, most) => format!("{label} at most {}", most.unwrap_or_default()),
        }
    }

    pub(super) fn check(self) -> Result<(), BadGoal> {
        let (quantity, least, most) = self.parts();
        for value in [least, most].into_iter().flatten() {
            if !value.is_finite() {
                return Err(BadGoal::NotANumber { quantity, value });
            }
            if quantity.is_share() && !(0.0..=1.0).contains(&value) {
                return Err(BadGoal::Share { quantity, value });
            }
        }
        match (least, most) {
            (Some(least), Some(most)) if least > most => Err(BadGoal::Nothing { least, most }),
            _ => Ok(()),
        }
    }
}

impl GoalState {
    /// The goal and how it stands on one line, such as `medial wall at least 3.0 mm: 4.8 mm, met`.
    ///
    /// Where rounding would make a number that misses look like one that meets, it says so.
    pub fn told(&self) -> String {
        let met = if self.met { "met" } else { "not yet met" };
        let found = self
            .found
            .map_or("not measured".into(), |found| self.found_told(found));
        format!("{}: {found}, {met}", self.text)
    }

    fn found_told(&self, found: f64) -> String {
        let shown = self.quantity.told(found);
        let ends = [self.least, self.most].into_iter().flatten();
        let missed = ends.filter(|_| !self.met);
        let looks_met = missed
            .map(|end| self.quantity.told(end))
            .any(|end| end == shown);
        let less = self.least.is_some_and(|least| found < least);
        match (looks_met, less) {
            (true, true) => format!("just under {shown}"),
            (true, false) => format!("just over {shown}"),
            (false, _) => shown,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::Wall;
    use crate::sample;

    #[track_caller]
    fn check(goal: Goal, told: &str) {
        let state = goal.state(&sample::findings());
        assert_eq!(state.told(), told);
        assert!(goal.check().is_ok());
    }

    #[test]
    fn a_goal_is_met_up_to_and_with_its_ends() {
        let wall = Quantity::WallMm(Wall::Medial);
        let interference = Quantity::InterferenceMm;
        check(
            Goal::AtLeast(wall, 3.2),
            "medial wall at least 3.2 mm: 3.2 mm, met",
        );
        check(
            Goal::AtLeast(wall, 3.3),
            "medial wall at least 3.3 mm: 3.2 mm, not yet met",
        );
        check(
            Goal::AtMost(Quantity::RemovedMm3, 5230.0),
            "bone removed at most 5.23 cm³: 5.23 cm³, met",
        );
        check(
            Goal::AtMost(Quantity::RemovedMm3, 5000.0),
            "bone removed at most 5.00 cm³: 5.23 cm³, not yet met",
        );
        check(
            Goal::Between(interference, 1.0, 2.0),
            "nominal interference from 1.0 mm to 2.0 mm: 1.0 mm, met",
        );
        check(
            Goal::Between(interference, 0.0, 1.0),
            "nominal interference from 0.0 mm to 1.0 mm: 1.0 mm, met",
        );
        check(
            Goal::Between(interference, 0.0, 0.5),
            "nominal interference from 0.0 mm to 0.5 mm: 1.0 mm, not yet met",
        );
        check(
            Goal::Between(Quantity::Reamers, 3.0, 3.0),
            "reamers 3: 3, met",
        );
    }

    #[test]
    fn a_near_miss_does_not_read_like_a_hit() {
        check(
            Goal::AtLeast(Quantity::Coverage, 0.7413),
            "coverage after reaming at least 74.1 %: just under 74.1 %, not yet met",
        );
        check(
            Goal::AtMost(Quantity::Coverage, 0.7411),
            "coverage after reaming at most 74.1 %: just over 74.1 %, not yet met",
        );
    }

    #[test]
    fn what_was_not_measured_meets_nothing() {
        let superior = Quantity::WallMm(Wall::Superior);
        check(
            Goal::AtMost(superior, 9.0),
            "superior wall at most 9.0 mm: not measured, not yet met",
        );
    }

    #[test]
    fn a_goal_that_no_number_meets_is_refused() {
        let nothing = Goal::AtLeast(Quantity::MedialMm, f64::NAN);
        assert!(matches!(nothing.check(), Err(BadGoal::NotANumber { .. })));
        let percent = Goal::AtMost(Quantity::RimContact, 1.01);
        assert!(matches!(percent.check(), Err(BadGoal::Share { .. })));
        let backward = Goal::Between(Quantity::MedialMm, 2.0, 1.9);
        assert!(matches!(backward.check(), Err(BadGoal::Nothing { .. })));
    }
}
