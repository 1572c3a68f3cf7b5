//! [`place`]: the placements that keep all limits and of which none is better in every respect.
//!
//! A search in three parts. The whole space is sampled evenly (Halton's sequence); from the best samples
//! each goal is refined alone; then, along rays through the goals' space, the farthest placement on each
//! is refined from the best one known. Refining is by linear models within a shrinking radius (M. J. D.
//! Powell 1994, COBYLA), which treats each limit on its own. What is returned has been run in full and
//! keeps the limits there too.
//!
//! Not guaranteed: that no better placement exists. The same search gives the same bits on any number of
//! threads.

mod candidate;
mod halton;
mod local;

use cupwright_procedure::Instruments;
use cupwright_procedure::quantity::Sense;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error;

use crate::evaluator::{Evaluator, NoOutcome};
use crate::limit::Limit;
use crate::measure::Measure;
use crate::setting::Setting;
use crate::variable::{Axis, BadAxis, Variable};
use candidate::{Candidate, Problem};
use local::{Aim, refined};

/// What is looked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Search {
    /// What may change, and between what; all else stays as planned.
    pub ranges: Vec<(Variable, [f64; 2])>,
    /// What is to be more or less, as the trade agrees; at least one.
    pub goals: Vec<Measure>,
    /// What must be kept.
    pub limits: Vec<Limit>,
    /// How hard to look.
    pub effort: Effort,
}

/// What a search varies where nobody says otherwise: inclination 35 to 50°, anteversion 5 to 30°, the centre
/// from 3 mm below its place to 6 mm above, medially and superiorly, and 3 mm either way anteriorly.
pub fn usual_ranges(plan: &Setting) -> Vec<(Variable, [f64; 2])> {
    let about = |variable, below: f64, above: f64| {
        let here = plan.get(variable);
        (variable, [here - below, here + above])
    };
    vec![
        (Variable::Inclination, [35.0, 50.0]),
        (Variable::Anteversion, [5.0, 30.0]),
        about(Variable::Medial, 3.0, 6.0),
        about(Variable::Superior, 3.0, 6.0),
        about(Variable::Anterior, 3.0, 3.0),
    ]
}

/// How hard to look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// How many placements are sampled before anything is refined.
    pub samples: u32,
    /// How many evaluations one refinement may take.
    pub refinement: usize,
    /// Into how many directions the front is looked for; about as many members come back.
    pub directions: u32,
}

impl Default for Effort {
    fn default() -> Self {
        Self {
            samples: 600,
            refinement: 90,
            directions: 9,
        }
    }
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Front {
    /// The goals, in the order of [`Member::goals`].
    pub goals: Vec<Measure>,
    /// What was allowed to change.
    pub varied: Vec<Variable>,
    /// The placements, by the first goal, the best first; empty where nothing keeps all limits.
    pub members: Vec<Member>,
    /// Where nothing keeps all limits: the placement that misses them by least.
    pub nearest: Option<Member>,
    /// How many placements were looked at.
    pub evaluations: usize,
}

/// A placement, run in full.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Member {
    /// Values of all variables.
    #[serde(skip)]
    pub setting: Setting,
    /// Value of each goal.
    pub goals: Vec<f64>,
    /// How each limit stands.
    pub limits: Vec<Standing>,
    /// Variables that stand at an end of their range: there more would be better.
    pub at_range_end: Vec<Variable>,
}

impl Member {
    /// What stands in the way of more: limits that bind, then ends of ranges.
    pub fn binding(&self) -> Vec<String> {
        let limits = self.limits.iter().filter(|limit| limit.binds);
        let limits = limits.map(|limit| limit.limit.clone());
        let ends = self.at_range_end.iter();
        let ends = ends.map(|variable| format!("the range of {variable}"));
        limits.chain(ends).collect()
    }
}

/// How a limit stands at a placement.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Standing {
    /// The limit, in words.
    pub limit: String,
    /// What was found; `None` for a zone, or where there was nothing to measure.
    pub found: Option<f64>,
    /// Whether it is kept.
    pub kept: bool,
    /// Whether it is kept or missed by less than a noticeable amount (see [`Limit::scale`]): it is this limit
    /// that stands in the way.
    pub binds: bool,
}

/// Why nothing was looked for.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoSearch {
    /// Nothing may change.
    #[error("nothing may change; give at least one variable with its range")]
    NoVariable,
    /// A variable twice.
    #[error("{0} is given twice")]
    Twice(Variable),
    /// A range that cannot be.
    #[error(transparent)]
    Range(#[from] BadAxis),
    /// No goal.
    #[error("there is no goal; give at least one measure that is better when it is more or less")]
    NoGoal,
    /// A measure that is neither better when it is more nor when it is less.
    #[error("{0} is no goal: neither more of it nor less is better")]
    Goal(Measure),
    /// No placement within the ranges can be run.
    #[error("no placement within the ranges can be run; the first: {0}")]
    Nowhere(NoOutcome),
}

/// The trade-off between the goals of a search, under its limits.
///
/// # Errors
/// When the search makes no sense, or no placement within its ranges can be run.
pub fn place(
    evaluator: &Evaluator,
    instruments: &Instruments,
    search: &Search,
) -> Result<Front, NoSearch> {
    check(search)?;
    let mut problem = Problem::new(evaluator, search);
    let mut known = sampled(&problem, search.effort.samples)?;
    look(&problem, search.effort, &mut known);
    let mut members = Vec::new();
    // A run in full finds walls a little thinner than the search: it is told to keep so much more.
    for _ in 0..3 {
        members = confirmed(
            &problem,
            instruments,
            chosen(&problem, search.effort, &known),
        );
        let short = problem.short_of_walls(&members);
        if short <= 0.0 {
            break;
        }
        problem.raise_walls(short);
        look(&problem, search.effort, &mut known);
    }
    members.retain(|member| member.limits.iter().all(|limit| limit.kept));
    let nearest = if members.is_empty() {
        let nearest = known
            .iter()
            .min_by(|a, b| problem.missed(a).total_cmp(&problem.missed(b)));
        confirmed(&problem, instruments, nearest.into_iter().collect()).pop()
    } else {
        None
    };
    Ok(Front {
        goals: search.goals.clone(),
        varied: search
            .ranges
            .iter()
            .map(|(variable, _)| *variable)
            .collect(),
        members,
        nearest,
        evaluations: known.len(),
    })
}

fn check(search: &Search) -> Result<(), NoSearch> {
    if search.ranges.is_empty() {
        return Err(NoSearch::NoVariable);
    }
    for (k, &(variable, [least, most])) in search.ranges.iter().enumerate() {
        if search.ranges[..k].iter().any(|(v, _)| *v == variable) {
            return Err(NoSearch::Twice(variable));
        }
        Axis::new(variable, least, most, 2)?;
    }
    if search.goals.is_empty() {
        return Err(NoSearch::NoGoal);
    }
    let balanced = search.goals.iter().find(|g| g.sense() == Sense::Balance);
    balanced.map_or(Ok(()), |goal| Err(NoSearch::Goal(*goal)))
}

/// The plan, where it lies within the ranges, and even samples of the whole space.
fn sampled(problem: &Problem, samples: u32) -> Result<Vec<Candidate>, NoSearch> {
    let points = halton::points(problem.dimensions(), samples);
    let points: Vec<_> = problem.plan().into_iter().chain(points).collect();
    let found: Vec<_> = points
        .into_par_iter()
        .map(|point| problem.candidate(point))
        .collect();
    let mut known = Vec::new();
    let mut first = None;
    for candidate in found {
        match candidate {
            Ok(candidate) => known.push(candidate),
            Err(problem) => first = first.or(Some(problem)),
        }
    }
    match first {
        Some(problem) if known.is_empty() => Err(NoSearch::Nowhere(problem)),
        _ => Ok(known),
    }
}

/// Refines what is known: into the limits where nothing keeps them, then each goal, then the front.
fn look(problem: &Problem, effort: Effort, known: &mut Vec<Candidate>) {
    const STARTS: usize = 4;
    if !known.iter().any(|c| problem.keeps(c)) {
        let starts = best(known, STARTS, |c| problem.missed(c));
        improve(
            problem,
            effort,
            starts.map(|start| (start, Aim::limits())),
            known,
        );
        if !known.iter().any(|c| problem.keeps(c)) {
            return;
        }
    }
    let single = (0..problem.goals()).flat_map(|goal| {
        let worth = move |c: &Candidate| kept_or_last(problem, c, c.goal(goal));
        let starts = best(known, 2, worth);
        starts.map(move |start| (start, goal)).collect::<Vec<_>>()
    });
    let scales = problem.scales(known);
    let single = single.map(|(start, goal)| (start, Aim::goal(goal, &scales)));
    let single: Vec<_> = single.collect();
    improve(problem, effort, single.into_iter(), known);
    if problem.goals() > 1 {
        let scales = problem.scales(known);
        let along = directions(problem.goals(), effort.directions).into_iter();
        let aims: Vec<_> = along
            .filter_map(|direction| {
                let aim = Aim::along(&direction, &scales);
                let start = best(known, 1, |c| kept_or_last(problem, c, aim.worth(c))).next()?;
                Some((start, aim))
            })
            .collect();
        improve(problem, effort, aims.into_iter(), known);
    }
}

/// Refines from each start toward its aim, side by side, and adds all that was looked at.
fn improve(
    problem: &Problem,
    effort: Effort,
    starts: impl Iterator<Item = (Vec<f64>, Aim)>,
    known: &mut Vec<Candidate>,
) {
    let starts: Vec<_> = starts.collect();
    let found: Vec<Vec<Candidate>> = starts
        .into_par_iter()
        .map(|(start, aim)| refined(problem, &start, &aim, effort.refinement))
        .collect();
    known.extend(found.into_iter().flatten());
}

/// The points of the `count` candidates of least worth, least first.
fn best(
    known: &[Candidate],
    count: usize,
    worth: impl Fn(&Candidate) -> f64,
) -> std::vec::IntoIter<Vec<f64>> {
    let mut order: Vec<_> = known.iter().map(|c| (worth(c), c)).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let points = order.into_iter().take(count).map(|(_, c)| c.point.clone());
    points.collect::<Vec<_>>().into_iter()
}

fn kept_or_last(problem: &Problem, candidate: &Candidate, worth: f64) -> f64 {
    if problem.keeps(candidate) {
        worth
    } else {
        f64::INFINITY
    }
}

/// Directions into a space of goals, evenly: from one axis to the other of two, over the simplex of more.
fn directions(goals: usize, count: u32) -> Vec<Vec<f64>> {
    const ALONG_AXIS: f64 = 0.004;
    if goals < 2 {
        return vec![vec![1.0; goals]];
    }
    let mut lattice = 1;
    while points_of_lattice(goals, lattice + 1) <= count.max(2) {
        lattice += 1;
    }
    let mut all = vec![vec![]];
    for _ in 0..goals - 1 {
        let more = |taken: Vec<u32>| {
            let left = lattice - taken.iter().sum::<u32>();
            (0..=left).map(move |next| [taken.clone(), vec![next]].concat())
        };
        all = all.into_iter().flat_map(more).collect();
    }
    let share = |parts: Vec<u32>| {
        let last = lattice - parts.iter().sum::<u32>();
        let parts = parts.into_iter().chain([last]);
        let parts = parts.map(|part| f64::from(part) / f64::from(lattice));
        parts.map(|part| part.max(ALONG_AXIS)).collect()
    };
    all.into_iter().map(share).collect()
}

/// How many ways there are to part `lattice` into so many whole parts.
fn points_of_lattice(goals: usize, lattice: u32) -> u32 {
    let mut points = 1;
    for (k, _) in (1..).zip(1..goals) {
        points = points * (lattice + k) / k;
    }
    points
}

/// The best known placement in each direction, each once, best in the first goal first.
fn chosen<'a>(problem: &Problem, effort: Effort, known: &'a [Candidate]) -> Vec<&'a Candidate> {
    let kept: Vec<_> = known.iter().filter(|c| problem.keeps(c)).collect();
    let scales = problem.scales(known);
    let mut chosen: Vec<&Candidate> = Vec::new();
    for direction in directions(problem.goals(), effort.directions) {
        let aim = Aim::along(&direction, &scales);
        let best = kept
            .iter()
            .min_by(|a, b| aim.worth(a).total_cmp(&aim.worth(b)));
        if let Some(best) = best
            && !chosen.iter().any(|c| c.point == best.point)
        {
            chosen.push(best);
        }
    }
    chosen.sort_by(|a, b| a.goal(0).total_cmp(&b.goal(0)));
    chosen
}

/// Each placement run in full; those that cannot be are left out.
fn confirmed(
    problem: &Problem,
    instruments: &Instruments,
    candidates: Vec<&Candidate>,
) -> Vec<Member> {
    let members = candidates.into_par_iter();
    let members = members.map(|candidate| problem.member(candidate, instruments).ok());
    members.collect::<Vec<_>>().into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_are_even_and_as_many_as_asked() {
        let two = directions(2, 9);
        assert_eq!(two.len(), 9);
        assert_eq!((two[0][0], two[0][1]), (0.004, 1.0));
        assert_eq!((two[4][0], two[4][1]), (0.5, 0.5));
        assert_eq!(directions(3, 15).len(), 15);
        assert_eq!(directions(3, 14).len(), 10);
        assert_eq!(directions(1, 9), [[1.0]]);
    }
}
