//! [`increments`]: reaming up in small steps or large ones, by a steady hand and by one that is off.
//!
//! Each series runs from a start size to the last reamer of the case, all at its place. A hand that is off
//! puts every reamer beside that place, square to its axis, and turns it: by so much, in directions that are
//! drawn evenly. What the steady hand does is run in full; what others do is told in sum.

use std::f64::consts::TAU;

use cupwright_anatomy::{Orientation, Side};
use cupwright_procedure::case::{BadCase, ReamerEntry, ShiftEntry};
use cupwright_procedure::{Bone, CaseFile, Instruments, Placed};
use nalgebra::{Unit, Vector3};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error;

use crate::evaluator::{Evaluator, NoOutcome, Outcome};
use crate::measure::Measure;
use crate::spread::{BadSpread, Spread};

/// What is compared.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Diameters of the first reamer, in mm.
    pub starts_mm: Vec<f64>,
    /// By how much each reamer is larger than the one before it, in mm.
    pub steps_mm: Vec<f64>,
    /// Hands that are off.
    pub hands: Vec<Hand>,
    /// How often each hand tries; the directions differ.
    pub tries: usize,
    /// What decides the directions.
    pub seed: u64,
}

/// How far every reamer of a hand is off.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Hand {
    /// Beside its place, square to its axis, in mm.
    pub offset_mm: f64,
    /// Turned, in degrees.
    pub turn_deg: f64,
}

/// One series of reamers.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Series {
    /// Diameter of the first.
    pub start_mm: f64,
    /// Each is larger than the one before it by this; the last by less, where it does not come out even.
    pub step_mm: f64,
    /// What each does in a steady hand.
    pub reamers: Vec<Pass>,
    /// What the steady hand does in sum.
    pub steady: Sum,
    /// What hands that are off do in sum, in the order given.
    pub hands: Vec<OffHand>,
}

/// One reamer in a steady hand.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Pass {
    /// Its diameter.
    pub diameter_mm: f64,
    /// Bone it removes.
    pub removed_mm3: f64,
    /// Area of its round side that cuts: in bone and in no earlier reamer.
    pub contact_mm2: f64,
    /// Bone removed over the area that cuts: how thick a layer it takes, on average; `None` where none cuts.
    pub layer_mm: Option<f64>,
    /// Share of its round side that a cup of its own size would have covered.
    pub own_size_coverage: f64,
    /// Thinnest wall so far.
    pub thinnest_wall_mm: Option<f64>,
}

/// What a series does in sum.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Sum {
    /// Bone removed.
    pub removed_mm3: f64,
    /// Coverage of the cup after reaming.
    pub coverage_after_reaming: f64,
    /// Thinnest wall; of the steady hand along thousands of rays, of others along fewer.
    pub thinnest_wall_mm: Option<f64>,
}

/// What a hand that is off does, over its tries.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct OffHand {
    /// How far it is off.
    pub hand: Hand,
    /// The mean of its tries.
    pub mean: Sum,
    /// The worst of its tries in each respect.
    pub worst: Sum,
    /// How much more bone it removes than the steady hand, on average.
    pub more_removed_mm3: f64,
    /// How much less of the cup is covered than by the steady hand, on average.
    pub less_covered: f64,
}

/// The most reamers that a series may have.
pub const MOST_REAMERS: usize = 60;

/// Why there is nothing to compare.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoIncrements {
    /// A start or step that makes no series.
    #[error(
        "from {start} mm by {step} mm to {last} mm is no series of at most {MOST_REAMERS} reamers; \
         the start must lie below the last reamer and the step be positive"
    )]
    Series {
        /// Where it starts.
        start: f64,
        /// Its step.
        step: f64,
        /// The last reamer.
        last: f64,
    },
    /// A hand that cannot be.
    #[error("a hand off by {} mm and {}°: both must be 0 or more, at most 20 mm and 45°", .0.offset_mm, .0.turn_deg)]
    Hand(Hand),
    /// No try.
    #[error("tries is 0; give at least 1")]
    NoTry,
    /// The case cannot be.
    #[error(transparent)]
    Case(#[from] BadCase),
    /// A series cannot be run.
    #[error("from {start} mm by {step} mm: {problem}")]
    Outcome {
        /// Where it starts.
        start: f64,
        /// Its step.
        step: f64,
        /// Why not.
        problem: NoOutcome,
    },
    /// Directions cannot be drawn.
    #[error(transparent)]
    Spread(#[from] BadSpread),
}

/// Every start with every step, by a steady hand and by those that are off.
///
/// # Errors
/// When a start, step or hand cannot be, or a series cannot be run.
pub fn increments(
    case: &CaseFile,
    bone: &Bone,
    instruments: &Instruments,
    plan: &Plan,
) -> Result<Vec<Series>, NoIncrements> {
    case.check()?;
    if plan.tries == 0 {
        return Err(NoIncrements::NoTry);
    }
    let fits = |hand: &Hand| {
        (0.0..=20.0).contains(&hand.offset_mm) && (0.0..=45.0).contains(&hand.turn_deg)
    };
    if let Some(hand) = plan.hands.iter().find(|hand| !fits(hand)) {
        return Err(NoIncrements::Hand(*hand));
    }
    let steps = plan.steps_mm.iter();
    let pairs = steps.flat_map(|&step| plan.starts_mm.iter().map(move |&start| (start, step)));
    pairs
        .map(|(start, step)| series(case, bone, instruments, plan, start, step))
        .collect()
}

fn series(
    case: &CaseFile,
    bone: &Bone,
    instruments: &Instruments,
    plan: &Plan,
    start: f64,
    step: f64,
) -> Result<Series, NoIncrements> {
    let failed = |problem| NoIncrements::Outcome {
        start,
        step,
        problem,
    };
    let template = case.reamers.last().copied().unwrap_or_default();
    let diameters = diameters(start, step, template.diameter_mm)?;
    let at = |diameter_mm: &f64| ReamerEntry {
        diameter_mm: *diameter_mm,
        ..template
    };
    let steady = CaseFile {
        reamers: diameters.iter().map(at).collect(),
        ..case.clone()
    };
    let evaluator = Evaluator::new(&steady, bone)?;
    let findings = evaluator
        .simulate(&evaluator.plan(), instruments)
        .map_err(failed)?;
    let reamers = findings.reaming.iter().map(|step| Pass {
        diameter_mm: step.diameter_mm,
        removed_mm3: step.removed_mm3,
        contact_mm2: step.new_contact_mm2,
        layer_mm: (step.new_contact_mm2 > 0.0).then(|| step.removed_mm3 / step.new_contact_mm2),
        own_size_coverage: step.coverage,
        thinnest_wall_mm: step.thinnest_wall.as_ref().map(|wall| wall.thickness_mm),
    });
    let last = findings.reaming.last();
    let sum = Sum {
        removed_mm3: last.map_or(0.0, |step| step.cumulative_removed_mm3),
        coverage_after_reaming: findings.cup.coverage_after_reaming,
        thinnest_wall_mm: last
            .and_then(|step| step.thinnest_wall.as_ref())
            .map(|wall| wall.thickness_mm),
    };
    let hands = plan.hands.iter().enumerate().map(|(k, hand)| {
        off_hand(&steady, bone, plan, (k as u64, *hand), &sum).map_err(|error| match error {
            NotTried::Outcome(problem) => failed(problem),
            NotTried::Spread(problem) => problem.into(),
        })
    });
    Ok(Series {
        start_mm: start,
        step_mm: step,
        reamers: reamers.collect(),
        steady: sum,
        hands: hands.collect::<Result<_, _>>()?,
    })
}

/// From the start by steps to the last, which always stands at the end.
fn diameters(start: f64, step: f64, last: f64) -> Result<Vec<f64>, NoIncrements> {
    /// A reamer this near to the last one, in mm, is the last one typed with rounding.
    const SAME: f64 = 1e-6;
    let refused = NoIncrements::Series { start, step, last };
    if !(start > 0.0 && step > 0.0 && start < last && step.is_finite()) {
        return Err(refused);
    }
    let mut diameters = Vec::new();
    let mut next = start;
    for count in 1_u32.. {
        if next >= last - SAME {
            break;
        }
        if diameters.len() + 1 >= MOST_REAMERS {
            return Err(refused);
        }
        diameters.push(next);
        next = start + f64::from(count) * step;
    }
    diameters.push(last);
    Ok(diameters)
}

enum NotTried {
    Outcome(NoOutcome),
    Spread(BadSpread),
}

impl From<NoOutcome> for NotTried {
    fn from(problem: NoOutcome) -> Self {
        Self::Outcome(problem)
    }
}

impl From<BadSpread> for NotTried {
    fn from(problem: BadSpread) -> Self {
        Self::Spread(problem)
    }
}

fn off_hand(
    steady: &CaseFile,
    bone: &Bone,
    plan: &Plan,
    (stream, hand): (u64, Hand),
    sum: &Sum,
) -> Result<OffHand, NotTried> {
    let round = Spread::Uniform {
        least: 0.0,
        most: TAU,
    };
    let count = steady.reamers.len();
    let turns = round.draws(2 * count * plan.tries, plan.seed, stream)?;
    let tries: Vec<_> = turns.chunks_exact(2 * count).collect();
    let tried = |turns: &&[f64]| -> Result<Outcome, NoOutcome> {
        let off = off(steady, bone, hand, turns)?;
        let evaluator = Evaluator::new(&off, bone)?;
        evaluator.evaluate(&evaluator.plan(), &SUMMED)
    };
    let outcomes = tries.par_iter().map(tried).collect::<Result<Vec<_>, _>>()?;
    let mean = over(&outcomes, mean, mean);
    Ok(OffHand {
        hand,
        mean,
        worst: over(&outcomes, most, least),
        more_removed_mm3: mean.removed_mm3 - sum.removed_mm3,
        less_covered: sum.coverage_after_reaming - mean.coverage_after_reaming,
    })
}

const SUMMED: [Measure; 3] = [
    Measure::Removed,
    Measure::CoverageAfterReaming,
    Measure::ThinnestWall,
];

/// One number for several; `of_much` for what is the worse the more there is of it.
fn over(outcomes: &[Outcome], of_much: fn(&[f64]) -> f64, of_little: fn(&[f64]) -> f64) -> Sum {
    let values = |measure| -> Vec<f64> { outcomes.iter().filter_map(|o| o.get(measure)).collect() };
    let walls = values(Measure::ThinnestWall);
    Sum {
        removed_mm3: of_much(&values(Measure::Removed)),
        coverage_after_reaming: of_little(&values(Measure::CoverageAfterReaming)),
        thinnest_wall_mm: (!walls.is_empty()).then(|| of_little(&walls)),
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn least(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::INFINITY, f64::min)
}

fn most(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

/// The case with every reamer off, each in directions of its own: where it stands and how it is turned.
fn off(steady: &CaseFile, bone: &Bone, hand: Hand, turns: &[f64]) -> Result<CaseFile, NoOutcome> {
    let case = steady.check()?;
    let placed = Placed::reamers(&case, bone)?;
    let mut off = steady.clone();
    let reamers = off.reamers.iter_mut().zip(case.reamers.iter().zip(&placed));
    for ((entry, (tool, placed)), turns) in reamers.zip(turns.chunks_exact(2)) {
        let around = |turn: f64| {
            placed.twelve().into_inner() * turn.cos() + placed.three().into_inner() * turn.sin()
        };
        let moved = bone.shift(&(around(turns[0]) * hand.offset_mm));
        let centre = tool.centre;
        entry.centre = Some(ShiftEntry {
            medial_mm: centre.medial_mm + moved.medial_mm,
            superior_mm: centre.superior_mm + moved.superior_mm,
            anterior_mm: centre.anterior_mm + moved.anterior_mm,
        });
        let (sin, cos) = hand.turn_deg.to_radians().sin_cos();
        let axis = placed.head().axis().into_inner() * cos + around(turns[1]) * sin;
        let turned = orientation(bone, axis, tool.orientation);
        entry.inclination_deg = Some(turned.inclination().to_degrees());
        entry.anteversion_deg = Some(turned.anteversion().to_degrees());
    }
    Ok(off)
}

/// An axis in the bone's own coordinates as angles of the same definition as `like`.
fn orientation(bone: &Bone, axis: Vector3<f64>, like: Orientation) -> Orientation {
    let side: Side = bone.side;
    let pelvic = Unit::new_normalize(bone.to_pelvic.rotation * axis);
    Orientation::of_axis(&pelvic, side, like.definition())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_series_ends_at_the_last_reamer_whether_it_comes_out_even_or_not() {
        assert_eq!(
            diameters(47.0, 2.0, 53.0).unwrap(),
            [47.0, 49.0, 51.0, 53.0]
        );
        assert_eq!(
            diameters(48.0, 2.0, 53.0).unwrap(),
            [48.0, 50.0, 52.0, 53.0]
        );
        assert_eq!(diameters(52.7, 0.1, 53.0).unwrap().len(), 4);
        for (start, step) in [
            (53.0, 1.0),
            (0.0, 1.0),
            (47.0, 0.0),
            (47.0, 0.01),
            (f64::NAN, 1.0),
        ] {
            assert!(diameters(start, step, 53.0).is_err(), "{start} {step}");
        }
    }
}
