//! Refining a placement by COBYLA: the only module that knows the optimiser.

use std::cell::RefCell;

use cobyla::{RhoBeg, StopTols, minimize};

use super::candidate::{Candidate, Problem};

/// What a refinement is after: the least t for which every goal counts no more than t, the limits kept.
pub(super) struct Aim {
    /// What each goal counts.
    counts: Vec<Count>,
    limits: Limits,
}

/// What a goal counts: weight · (goal − best) / span, and a little of it even where it does not decide.
struct Count {
    goal: usize,
    weight: f64,
    best: f64,
    span: f64,
}

/// What limits do.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Limits {
    /// They must be kept.
    Kept,
    /// The worst miss is what is to become least.
    Missed,
}

/// How much a goal counts where it does not decide: enough to go on where others are as good.
const EVEN_SO: f64 = 0.01;

/// Margins of limits, which count noticeable amounts, become about as large as the goals by this.
const OF_MARGIN: f64 = 0.05;

/// What a placement that cannot be run counts.
const NOWHERE: f64 = 100.0;

impl Aim {
    /// To keep all limits, whatever the goals.
    pub(super) fn limits() -> Self {
        Self {
            counts: vec![],
            limits: Limits::Missed,
        }
    }

    /// The least of one goal.
    pub(super) fn goal(goal: usize, scales: &[[f64; 2]]) -> Self {
        let [best, span] = scales[goal];
        Self {
            counts: vec![Count {
                goal,
                weight: 1.0,
                best,
                span,
            }],
            limits: Limits::Kept,
        }
    }

    /// The farthest along a direction of the goals' space, from where every goal is best.
    pub(super) fn along(direction: &[f64], scales: &[[f64; 2]]) -> Self {
        let least = direction.iter().copied().fold(f64::INFINITY, f64::min);
        let count = |(goal, (part, &[best, span])): (usize, (&f64, &[f64; 2]))| Count {
            goal,
            weight: least / part,
            best,
            span,
        };
        let parts = direction.iter().zip(scales).enumerate();
        Self {
            counts: parts.map(count).collect(),
            limits: Limits::Kept,
        }
    }

    /// What a candidate counts, limits left aside.
    pub(super) fn worth(&self, candidate: &Candidate) -> f64 {
        let counts = self.counts.iter().map(|count| count.of(candidate));
        counts.fold(f64::NEG_INFINITY, f64::max) + self.even_so(candidate)
    }

    fn even_so(&self, candidate: &Candidate) -> f64 {
        let counts = self.counts.iter();
        EVEN_SO
            * counts
                .map(|c| (candidate.goal(c.goal) - c.best) / c.span)
                .sum::<f64>()
    }
}

impl Count {
    fn of(&self, candidate: &Candidate) -> f64 {
        self.weight * (candidate.goal(self.goal) - self.best) / self.span
    }
}

/// Everything that was looked at on the way from `start` to the aim, in at most `most` evaluations.
///
/// The optimiser's variables are the point and t, so that goals and limits are as smooth for it as they are.
pub(super) fn refined(problem: &Problem, start: &[f64], aim: &Aim, most: usize) -> Vec<Candidate> {
    const REACH: f64 = 0.08;
    const FINE: f64 = 2e-4;
    let dimensions = problem.dimensions();
    let seen = Seen::new(problem);
    let first = seen.at(start, |c| aim.highest(problem, c));
    let counts = aim.counts.len();
    let rooms: Vec<Box<dyn Fn(&[f64], &mut ()) -> f64 + '_>> = (0..counts + problem.limits())
        .map(|k| {
            let seen = &seen;
            let room = move |x: &[f64], _: &mut ()| {
                let (point, t) = x.split_at(dimensions);
                seen.at(point, |c| aim.room(problem, c, k, t[0]))
            };
            Box::new(room) as Box<dyn Fn(&[f64], &mut ()) -> f64 + '_>
        })
        .collect();
    let objective = |x: &[f64], _: &mut ()| {
        let (point, t) = x.split_at(dimensions);
        t[0] + seen.at(point, |c| c.map_or(0.0, |c| aim.even_so(c)))
    };
    let mut bounds = vec![(0.0, 1.0); dimensions];
    bounds.push((-NOWHERE, NOWHERE));
    let begin = [start, &[first]].concat();
    let stop = StopTols {
        xtol_abs: vec![FINE; dimensions + 1],
        ..StopTols::default()
    };
    // Whether it says that it succeeded does not matter: what counts is what was seen on the way.
    let _ended = minimize(
        objective,
        &begin,
        &bounds,
        &rooms,
        (),
        most,
        RhoBeg::All(REACH),
        Some(stop),
    );
    drop(rooms);
    seen.all
        .into_inner()
        .into_iter()
        .filter_map(|(_, c)| c)
        .collect()
}

impl Aim {
    /// How much room constraint `k` leaves, which must not be less than none: the counts first, then the
    /// limits.
    fn room(&self, problem: &Problem, candidate: Option<&Candidate>, k: usize, t: f64) -> f64 {
        let Some(candidate) = candidate else {
            return -NOWHERE;
        };
        match self.counts.get(k) {
            Some(count) => (t - count.of(candidate)).clamp(-NOWHERE, NOWHERE),
            None => {
                let margin = problem.margins(candidate)[k - self.counts.len()];
                let margin = (OF_MARGIN * margin).clamp(-NOWHERE, NOWHERE);
                match self.limits {
                    Limits::Kept => margin,
                    Limits::Missed => margin + t,
                }
            }
        }
    }

    /// The t to begin with.
    fn highest(&self, problem: &Problem, candidate: Option<&Candidate>) -> f64 {
        let Some(candidate) = candidate else {
            return 0.0;
        };
        let highest = match self.limits {
            Limits::Missed => OF_MARGIN * problem.missed(candidate),
            Limits::Kept => {
                let counts = self.counts.iter().map(|count| count.of(candidate));
                counts.fold(-NOWHERE, f64::max)
            }
        };
        highest.clamp(-NOWHERE, NOWHERE)
    }
}

/// What was looked at, so that goals and limits of one point are measured once.
struct Seen<'a> {
    problem: &'a Problem<'a>,
    all: RefCell<Vec<(Vec<f64>, Option<Candidate>)>>,
}

impl<'a> Seen<'a> {
    fn new(problem: &'a Problem<'a>) -> Self {
        Self {
            problem,
            all: RefCell::new(vec![]),
        }
    }

    /// What `read` makes of the candidate at a point; of `None` where it cannot be run.
    fn at(&self, point: &[f64], read: impl Fn(Option<&Candidate>) -> f64) -> f64 {
        let mut all = self.all.borrow_mut();
        if !all.last().is_some_and(|(last, _)| last == point) {
            let candidate = self.problem.candidate(point.to_vec()).ok();
            all.push((point.to_vec(), candidate));
        }
        all.last()
            .map_or(0.0, |(_, candidate)| read(candidate.as_ref()))
    }
}
