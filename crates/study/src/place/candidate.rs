//! The search as numbers: points of a unit box, goals that are to be little, limits with their margins.

use cupwright_procedure::Instruments;
use cupwright_procedure::quantity::Sense;

use super::{Member, Search, Standing};
use crate::evaluator::{Evaluator, NoOutcome, Outcome};
use crate::limit::{Limit, needed};
use crate::measure::Measure;
use crate::setting::Setting;
use crate::variable::Variable;

/// A placement that was looked at.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    /// Where in the unit box.
    pub(super) point: Vec<f64>,
    /// The goals, each to be little; infinite where there was nothing to measure.
    goals: Vec<f64>,
    /// The outcome, for the limits.
    outcome: Outcome,
}

impl Candidate {
    /// A goal, to be little.
    pub(super) fn goal(&self, goal: usize) -> f64 {
        self.goals[goal]
    }
}

/// The search as numbers.
pub(super) struct Problem<'a> {
    evaluator: &'a Evaluator,
    search: &'a Search,
    /// The limits of the search, walls raised by what a run in full finds less.
    limits: Vec<Limit>,
    asked: Vec<Measure>,
}

impl<'a> Problem<'a> {
    pub(super) fn new(evaluator: &'a Evaluator, search: &'a Search) -> Self {
        Self {
            evaluator,
            search,
            limits: search.limits.clone(),
            asked: needed(&search.limits, &search.goals),
        }
    }

    pub(super) fn dimensions(&self) -> usize {
        self.search.ranges.len()
    }

    pub(super) fn goals(&self) -> usize {
        self.search.goals.len()
    }

    pub(super) fn limits(&self) -> usize {
        self.limits.len()
    }

    /// The plan as a point, where it lies within the ranges.
    pub(super) fn plan(&self) -> Option<Vec<f64>> {
        let plan = self.evaluator.plan();
        let ranges = self.search.ranges.iter();
        let shares = ranges.map(|&(variable, [least, most])| {
            let share = (plan.get(variable) - least) / (most - least);
            (0.0..=1.0).contains(&share).then_some(share)
        });
        shares.collect()
    }

    pub(super) fn setting(&self, point: &[f64]) -> Setting {
        let ranges = self.search.ranges.iter().zip(point);
        ranges.fold(
            self.evaluator.plan(),
            |setting, (&(variable, [least, most]), share)| {
                let share = share.clamp(0.0, 1.0);
                setting.with(variable, least * (1.0 - share) + most * share)
            },
        )
    }

    pub(super) fn candidate(&self, point: Vec<f64>) -> Result<Candidate, NoOutcome> {
        let outcome = self
            .evaluator
            .evaluate(&self.setting(&point), &self.asked)?;
        let goal = |goal: &Measure| match outcome.get(*goal) {
            Some(value) if goal.sense() == Sense::More => -value,
            Some(value) => value,
            None => f64::INFINITY,
        };
        Ok(Candidate {
            point,
            goals: self.search.goals.iter().map(goal).collect(),
            outcome,
        })
    }

    /// By how much each limit is kept, in units of its scale.
    pub(super) fn margins(&self, candidate: &Candidate) -> Vec<f64> {
        let limits = self.limits.iter();
        limits
            .map(|limit| limit.margin(&candidate.outcome))
            .collect()
    }

    /// By how much the worst limit is missed, in units of its scale; 0 where all are kept.
    pub(super) fn missed(&self, candidate: &Candidate) -> f64 {
        let margins = self.margins(candidate).into_iter();
        margins.fold(0.0, |worst, margin| worst.max(-margin))
    }

    /// Whether all limits are kept and all goals were measured.
    pub(super) fn keeps(&self, candidate: &Candidate) -> bool {
        self.missed(candidate) <= 0.0 && candidate.goals.iter().all(|g| g.is_finite())
    }

    /// For each goal the best value among placements that keep all limits, and how far it is to the worst of
    /// the best placements for another goal.
    pub(super) fn scales(&self, known: &[Candidate]) -> Vec<[f64; 2]> {
        let kept: Vec<_> = known.iter().filter(|c| self.keeps(c)).collect();
        let best_for = |goal: usize| {
            let kept = kept.iter();
            kept.min_by(|a, b| a.goal(goal).total_cmp(&b.goal(goal)))
        };
        let bests: Vec<_> = (0..self.goals()).filter_map(best_for).collect();
        let scale = |goal: usize| {
            let values = bests.iter().map(|best| best.goal(goal));
            let (least, most) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, m), v| {
                (l.min(v), m.max(v))
            });
            // Where one placement is best for all there is nothing to trade; any unit will do.
            let smallest = 1e-6 * (1.0 + least.abs());
            [least, (most - least).max(smallest)]
        };
        (0..self.goals()).map(scale).collect()
    }

    /// By how much members, run in full, miss limits on walls, in mm; 0 where they keep them.
    pub(super) fn short_of_walls(&self, members: &[Member]) -> f64 {
        let limits = self.search.limits.iter().enumerate();
        let walls = limits.filter_map(|(k, limit)| match limit {
            Limit::AtLeast(Measure::ThinnestWall | Measure::Wall(_), asked) => Some((k, *asked)),
            _ => None,
        });
        let short = walls.flat_map(|(k, asked)| {
            let found = members.iter().filter_map(move |m| m.limits[k].found);
            found.map(move |found| asked - found)
        });
        short.fold(0.0, f64::max)
    }

    /// Has the search keep walls thicker by this and a little more, in mm.
    pub(super) fn raise_walls(&mut self, by: f64) {
        const MORE: f64 = 0.01;
        for limit in &mut self.limits {
            if let Limit::AtLeast(Measure::ThinnestWall | Measure::Wall(_), asked) = limit {
                *asked += by + MORE;
            }
        }
    }

    /// A candidate run in full.
    pub(super) fn member(
        &self,
        candidate: &Candidate,
        instruments: &Instruments,
    ) -> Result<Member, NoOutcome> {
        let setting = self.setting(&candidate.point);
        let outcome = self.evaluator.run(&setting, &self.asked, instruments)?;
        let goals = self.search.goals.iter();
        let standing = |limit: &Limit| Standing {
            limit: limit.to_string(),
            found: limit.measure().and_then(|measure| outcome.get(measure)),
            kept: limit.is_kept(&outcome),
            binds: limit.margin(&outcome) < 1.0,
        };
        Ok(Member {
            setting,
            goals: goals.map(|g| outcome.get(*g).unwrap_or(f64::NAN)).collect(),
            limits: self.search.limits.iter().map(standing).collect(),
            at_range_end: self.at_range_end(&candidate.point),
        })
    }

    fn at_range_end(&self, point: &[f64]) -> Vec<Variable> {
        /// Refining stops within a thousandth of a range.
        const AT_END: f64 = 2e-3;
        let ranges = self.search.ranges.iter().zip(point);
        let ends = ranges.filter(|(_, share)| !(AT_END..=1.0 - AT_END).contains(*share));
        ends.map(|((variable, _), _)| *variable).collect()
    }
}
