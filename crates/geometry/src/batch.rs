//! Many placements in one bone, measured side by side.
//!
//! Each placement is measured on one thread, whose scratch room is used again for the next, so that the
//! figures have the same bits on any number of threads and the same as when they are asked one by one.

use rayon::prelude::*;

use crate::Solid;
use crate::adaptive::Bounded;
use crate::shape::{Bullet, Hemisphere};
use crate::sweep::{self, Scratch, Swept};
use crate::union::{self, NoCommonPoint};

/// A cup where it would stand, and the bullets of the reamers that would go before it.
#[derive(Clone, Debug, PartialEq)]
pub struct Placement {
    /// The cup's outside.
    pub cup: Hemisphere,
    /// What the reamers sweep; none where only the cup is asked about.
    pub reamers: Vec<Bullet>,
}

/// What one placement gives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measures {
    /// Share of the cup's round side that lies in the bone as it was, 0 to 1, as by
    /// [`within::coverage`](crate::within::coverage).
    pub coverage: f64,
    /// The share of it that lies in bone and in no reamer's bullet, as by
    /// [`union::area_outside`]; exact where each bullet lies within the cup's or holds all of the cup.
    pub coverage_after_reaming: Bounded,
    /// Share of the cup's rim that lies in the bone as it was, 0 to 1.
    pub rim_contact: f64,
    /// Volume that all reamers take together, in mm³, as by [`union::volume_in_union`]; exact where one
    /// bullet encloses the others.
    pub removed: Result<Bounded, NoCommonPoint>,
}

/// The measures of each placement, in their order.
///
/// ```
/// # use cupwright_geometry::*;
/// # use nalgebra::{Point3, Vector3};
/// let block = Solid::try_from(samples::cuboid([100.0, 100.0, 100.0]))?;
/// let place = |height: f64| -> Result<_, BadShape> {
///     let at = |radius| Hemisphere::new(Point3::new(0.0, 0.0, height), Vector3::z(), radius);
///     let reamers = vec![Bullet::open(at(23.0)?), Bullet::open(at(24.0)?)];
///     Ok(batch::Placement { cup: at(25.0)?, reamers })
/// };
/// // Flush with the top of the block, then 5 mm proud of it: 1 − s/R.
/// let found = batch::evaluate(&block, &[place(50.0)?, place(55.0)?]);
/// assert!((found[0].coverage - 1.0).abs() < 1e-12);
/// assert!((found[1].coverage - 0.8).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn evaluate(solid: &Solid, placements: &[Placement]) -> Vec<Measures> {
    /// So many take some milliseconds' work, which is worth handing to another thread.
    const AT_ONCE: usize = 16;
    let each = placements.par_iter().with_min_len(AT_ONCE);
    let measure = |scratch: &mut Scratch, placement: &Placement| one(solid, placement, scratch);
    each.map_init(Scratch::default, measure).collect()
}

fn one(solid: &Solid, placement: &Placement, scratch: &mut Scratch) -> Measures {
    let Placement { cup, reamers } = placement;
    let last = enclosing(reamers);
    let taken = last.map(|last| sweep::bullet(solid, last, scratch));
    let shared = taken.filter(|_| last.is_some_and(|last| last.head() == cup));
    let found = shared.unwrap_or_else(|| sweep::half_ball(solid, cup, scratch));
    let coverage = found.within.area / cup.area();
    Measures {
        coverage,
        coverage_after_reaming: coverage_after(solid, placement, coverage),
        rim_contact: found.rim,
        removed: removed(solid, reamers, taken),
    }
}

fn removed(
    solid: &Solid,
    reamers: &[Bullet],
    taken: Option<Swept>,
) -> Result<Bounded, NoCommonPoint> {
    match taken {
        Some(Swept { within, column, .. }) => Ok(Bounded::exact(within.volume + column)),
        None => union::volume_in_union(solid, reamers),
    }
}

/// The coverage, less what the reamers take from behind the cup.
fn coverage_after(solid: &Solid, placement: &Placement, coverage: f64) -> Bounded {
    let Placement { cup, reamers } = placement;
    let (swept, round_side) = (Bullet::open(*cup), Bullet::half_ball(*cup));
    let within = |b: &Bullet| swept.encloses(b) && !b.encloses(&round_side);
    if reamers.iter().all(within) {
        return Bounded::exact(coverage);
    }
    let Bounded { value, error_bound } = union::area_outside(solid, cup, reamers);
    Bounded {
        value: value / cup.area(),
        error_bound: error_bound / cup.area(),
    }
}

/// The bullet that encloses all others.
fn enclosing(bullets: &[Bullet]) -> Option<&Bullet> {
    let all = |bullet: &&Bullet| bullets.iter().all(|other| bullet.encloses(other));
    bullets.iter().rev().find(all)
}
