//! Bone that reamers take, one after the other.
//!
//! Guaranteed: no reamer gives bone back, and one that takes exactly what it should has a bound of 0.

use cupwright_geometry::union::{self, NoCommonPoint};
use cupwright_geometry::{Bullet, Hemisphere, Solid};
use rayon::prelude::*;
use thiserror::Error;

/// Bone that one reamer takes, in mm³.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Removal {
    /// In this reamer and in none before it.
    pub volume: f64,
    /// In this reamer or one before it.
    pub cumulative: f64,
    /// The largest error of `volume`; 0 where it is exact.
    pub error_bound: f64,
}

/// Reamers that do not belong to one socket.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("reamer {reamer}: {problem}")]
pub struct Apart {
    /// The first that shares no point with those before it, counted from 1.
    pub reamer: usize,
    /// How far off it is.
    pub problem: NoCommonPoint,
}

/// What each reamer takes from `bone`, in the order of use.
///
/// # Errors
/// When a reamer shares no point with those before it.
pub fn removals(bone: &Solid, reamers: &[Bullet]) -> Result<Vec<Removal>, Apart> {
    let (mut before, mut bound_before) = (0.0, 0.0);
    let mut removals = Vec::with_capacity(reamers.len());
    let unions: Vec<_> = (1..=reamers.len())
        .into_par_iter()
        .map(|count| union::volume_in_union(bone, &reamers[..count]))
        .collect();
    for (k, so_far) in unions.into_iter().enumerate() {
        let so_far = so_far.map_err(|problem| Apart {
            reamer: k + 1,
            problem,
        })?;
        // Rounding must not let a reamer give bone back; what is 0 is plain 0, not −0.
        let cumulative = so_far.value.max(before) + 0.0;
        removals.push(Removal {
            volume: cumulative - before,
            cumulative,
            error_bound: so_far.error_bound + bound_before,
        });
        (before, bound_before) = (cumulative, so_far.error_bound);
    }
    Ok(removals)
}

/// The reamers as far as they may take bone from behind a cup.
///
/// Line to line, cup and cavity are one surface, and which side of it the cup lies on is rounding: such
/// a reamer is taken as so much smaller that the cup touches what it left.
pub fn behind(cup: &Hemisphere, swept: &[Bullet]) -> Vec<Bullet> {
    // Above what typing a place twice can differ by, far below what a reamer can be ground to.
    const SAME: f64 = 1e-6;
    let one_surface = |reamer: &Hemisphere| {
        let apart = (reamer.centre() - cup.centre()).norm();
        apart + (reamer.radius() - cup.radius()).abs() < SAME
    };
    let smaller = |reamer: &Hemisphere| {
        let radius = cup.radius() - 2.0 * SAME;
        Hemisphere::new(reamer.centre(), reamer.axis().into_inner(), radius)
    };
    let reamers = swept.iter().map(Bullet::head);
    let kept = reamers.filter_map(|reamer| {
        if one_surface(reamer) {
            smaller(reamer).ok()
        } else {
            Some(*reamer)
        }
    });
    kept.map(Bullet::open).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::{Hemisphere, samples};
    use nalgebra::{Point3, Vector3};
    use std::f64::consts::PI;

    /// A block with its top at z = 0.
    fn block() -> Solid {
        let cube = samples::cuboid([200.0; 3]);
        let down = nalgebra::Isometry3::translation(0.0, 0.0, -100.0);
        Solid::try_from(cube.moved(&down)).unwrap()
    }

    fn reamer(centre: [f64; 3], diameter: f64) -> Bullet {
        let head = Hemisphere::new(Point3::from(centre), Vector3::z(), diameter / 2.0);
        Bullet::open(head.unwrap())
    }

    fn half_ball(diameter: f64) -> f64 {
        PI / 12.0 * diameter.powi(3)
    }

    #[test]
    fn each_larger_reamer_takes_the_shell_that_it_adds() {
        let at = [0.0; 3];
        let sizes = [40.0, 45.0, 43.0].map(|d| reamer(at, d));
        let found = removals(&block(), &sizes).unwrap();
        let expected = [half_ball(40.0), half_ball(45.0) - half_ball(40.0), 0.0];
        for (found, expected) in found.iter().zip(expected) {
            assert!((found.volume - expected).abs() < 1e-8, "{found:?}");
            assert_eq!(found.error_bound.to_bits(), 0.0_f64.to_bits());
        }
        assert!((found[2].cumulative - half_ball(45.0)).abs() < 1e-8);
    }

    #[test]
    fn the_bound_is_that_of_the_unions_before_and_after_alone() {
        let places = [0.0, 0.5, 1.0].map(|x| reamer([x, 0.0, 0.0], 6.0));
        let found = removals(&block(), &places).unwrap();
        let bound = |count: usize| union::volume_in_union(&block(), &places[..count]).unwrap();
        let expected = bound(3).error_bound + bound(2).error_bound;
        assert!(found[1].error_bound > 0.0);
        assert_eq!(found[2].error_bound.to_bits(), expected.to_bits());
    }

    #[test]
    fn air_is_plain_zero_and_reamers_apart_are_told_by_number() {
        let air = removals(&block(), &[reamer([0.0, 0.0, 500.0], 40.0)]).unwrap();
        assert_eq!(air[0].cumulative.to_bits(), 0.0_f64.to_bits());
        let apart = [reamer([0.0; 3], 40.0), reamer([90.0, 0.0, 0.0], 40.0)];
        let refused = removals(&block(), &apart).unwrap_err();
        assert_eq!(refused.reamer, 2);
        assert!(
            refused
                .to_string()
                .starts_with("reamer 2: the reamers share no point")
        );
    }
}
