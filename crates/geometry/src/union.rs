//! Several reamers that are not inside one another: the bone they remove together, and the bone
//! left behind a cup.
//!
//! Reamers of one socket share a point, and their union is seen whole from it: along each direction
//! ω it reaches ρ(ω), the farthest of theirs. With w the winding number of that point,
//!
//! `V = w · vol(U) − Σ ± ∫ (ρ³ − min(ρ_triangle, ρ)³)/3 dω`
//!
//! over the triangles of the bone that lie in the union. The same holds of each reamer alone, whose
//! volume has a closed form: so only the difference from the one that takes most is integrated,
//! adaptively over ever smaller triangles; the value comes with the bound on its error. Where one
//! reamer encloses the others the answer is that of it alone, exactly.

mod shadow;
mod star;

use nalgebra::Point3;
use thiserror::Error;

use crate::adaptive::Bounded;
use crate::shape::{Bullet, Hemisphere};
use crate::{Solid, column, within};
use shadow::Shadow;
use star::Star;

/// The most triangles that an integral is split into, some seconds' work. Reamers some millimetres
/// apart take 20,000 to 200,000; more are asked for only where much bone stands in their columns.
const MOST_CELLS: usize = 400_000;

/// Reamers without a common point: they cut separate holes, not one socket.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error(
    "the reamers share no point: no place is inside all of them (the best is {short:.2} mm outside one); \
     work them as separate plans"
)]
pub struct NoCommonPoint {
    /// How far the best place found lies outside the farthest reamer, in mm.
    pub short: f64,
}

/// Volume of the bone that lies in at least one of the bullets, in mm³.
///
/// # Errors
/// When bullets of which none encloses the others share no point.
///
/// ```
/// # use cupwright_geometry::*;
/// # use nalgebra::{Point3, Vector3};
/// let block = Solid::try_from(samples::cuboid([100.0, 100.0, 100.0]))?;
/// let reamer = |diameter: f64| {
///     let head = Hemisphere::new(Point3::new(0.0, 0.0, 50.0), Vector3::z(), diameter / 2.0);
///     head.map(Bullet::open)
/// };
/// // Concentric reamers take what the last takes alone: π/12 D³.
/// let taken = union::volume_in_union(&block, &[reamer(50.0)?, reamer(52.0)?])?;
/// assert!((taken.value - std::f64::consts::PI / 12.0 * 52.0_f64.powi(3)).abs() < 1e-8);
/// assert_eq!(taken.error_bound, 0.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn volume_in_union(solid: &Solid, bullets: &[Bullet]) -> Result<Bounded, NoCommonPoint> {
    match &outermost(bullets)[..] {
        [] => Ok(Bounded::exact(0.0)),
        [one] => Ok(Bounded::exact(column::volume_in_bullet(solid, one))),
        several => Star::new(solid, several).map(|star| star.volume(solid)),
    }
}

/// Area of a cup's or reamer's round side that lies in bone and in none of the bullets, in mm².
///
/// Exact where each bullet, drawn out along the tool's axis, lies within the tool or holds all of it;
/// otherwise with a bound on its error.
pub fn area_outside(solid: &Solid, tool: &Hemisphere, bullets: &[Bullet]) -> Bounded {
    let (swept, round_side) = (Bullet::open(*tool), Bullet::half_ball(*tool));
    if bullets.iter().any(|b| b.encloses(&round_side)) {
        return Bounded::exact(0.0);
    }
    let whole = within::hemisphere(solid, tool).area;
    let mut across = outermost(bullets);
    across.retain(|b| !swept.encloses(b));
    if across.is_empty() {
        return Bounded::exact(whole);
    }
    let taken = Shadow::of(tool, across).area(solid);
    Bounded {
        value: (whole - taken.value).clamp(0.0, whole),
        error_bound: taken.error_bound,
    }
}

/// The bullets that no other encloses, equal ones once.
pub fn outermost(bullets: &[Bullet]) -> Vec<Bullet> {
    let mut kept: Vec<Bullet> = Vec::new();
    for bullet in bullets {
        if !kept.iter().any(|k| k.encloses(bullet)) {
            kept.retain(|k| !bullet.encloses(k));
            kept.push(*bullet);
        }
    }
    kept
}

fn signed_distance(bullets: &[Bullet], point: &Point3<f64>) -> f64 {
    bullets
        .iter()
        .map(|b| b.signed_distance(point))
        .fold(f64::INFINITY, f64::min)
}

/// How far the values in the middles of a cell's edges lie off those at their ends' middle: about a
/// half of the most that the function can rise above the straight line between any two places.
fn bend(corners: &[f64; 3], middles: &[f64; 3]) -> f64 {
    let off = |k: usize| (middles[k] - (corners[k] + corners[(k + 1) % 3]) / 2.0).abs();
    off(0).max(off(1)).max(off(2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use std::f64::consts::PI;

    fn cube(edge: f64) -> Solid {
        Solid::try_from(samples::cuboid([edge; 3])).unwrap()
    }

    fn head(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Hemisphere {
        Hemisphere::new(centre.into(), axis.into(), radius).unwrap()
    }

    #[track_caller]
    fn check(found: Bounded, expected: f64, at_most: f64) {
        assert!(
            found.error_bound <= at_most,
            "bound {} for {}",
            found.error_bound,
            found.value
        );
        assert!(
            (found.value - expected).abs() <= found.error_bound.max(1e-9),
            "{found:?}, expected {expected}"
        );
    }

    #[test]
    fn nested_reamers_are_the_last_one_exactly() {
        let sizes =
            [8.0, 9.0, 10.0].map(|r| Bullet::open(head([0.0, 0.0, 10.0], [0.0, 0.0, 1.0], r)));
        let found = volume_in_union(&cube(40.0), &sizes).unwrap();
        check(found, column::volume_in_bullet(&cube(40.0), &sizes[2]), 0.0);
        assert_eq!(outermost(&sizes), [sizes[2]]);
        assert_eq!(outermost(&[sizes[1], sizes[1]]).len(), 1);
    }

    #[test]
    fn two_columns_side_by_side_share_a_lens() {
        // Parallel open bullets of radius r, a apart, sunk from the top of a cube: heads and columns
        // each overlap in a lens.
        let (r, a, depth) = (6.0_f64, 4.0, 5.0);
        let at = |x: f64| Bullet::open(head([x, 0.0, 20.0 - depth], [0.0, 0.0, 1.0], r));
        let found = volume_in_union(&cube(40.0), &[at(-a / 2.0), at(a / 2.0)]).unwrap();
        let one = 2.0 / 3.0 * PI * r.powi(3) + PI * r * r * depth;
        let half_lens = PI * (4.0 * r + a) * (2.0 * r - a).powi(2) / 24.0;
        let flat_lens = 2.0 * r * r * (a / 2.0 / r).acos() - a / 2.0 * (4.0 * r * r - a * a).sqrt();
        check(found, 2.0 * one - half_lens - flat_lens * depth, 0.1);
    }

    #[test]
    fn two_tools_wholly_in_bone_are_counted_from_a_point_in_bone() {
        let (r, a) = (6.0_f64, 3.0);
        let at = |x: f64| Bullet::half_ball(head([x, 0.0, 0.0], [0.0, 0.0, 1.0], r));
        let found = volume_in_union(&cube(40.0), &[at(-a / 2.0), at(a / 2.0)]).unwrap();
        let half_lens = PI * (4.0 * r + a) * (2.0 * r - a).powi(2) / 24.0;
        check(found, 2.0 * 2.0 / 3.0 * PI * r.powi(3) - half_lens, 0.1);
    }

    #[test]
    fn reamers_of_separate_holes_are_refused() {
        let at = |x: f64| Bullet::open(head([x, 0.0, 15.0], [0.0, 0.0, 1.0], 4.0));
        let refused = volume_in_union(&cube(40.0), &[at(-9.0), at(9.0)]).unwrap_err();
        assert!(refused.short > 4.0 && refused.short < 6.0, "{refused}");
    }

    #[test]
    fn the_bone_behind_a_cup_is_what_the_reamers_left() {
        let cup = head([0.0, 0.0, 20.0], [0.0, 0.0, 1.0], 10.0);
        let reamed = |radius| {
            [Bullet::open(head(
                [0.0, 0.0, 20.0],
                [0.0, 0.0, 1.0],
                radius,
            ))]
        };
        check(
            area_outside(&cube(60.0), &cup, &reamed(9.5)),
            cup.area(),
            0.0,
        );
        check(area_outside(&cube(60.0), &cup, &reamed(10.5)), 0.0, 0.0);
    }

    #[test]
    fn a_reamer_set_deeper_takes_the_cap_of_the_cup() {
        // A ball of radius r sunk by d meets the sphere of radius R in a circle at depth
        // (R² − r² + d²) / 2d; below it, and below the reamer's edge, the cup hangs free. The last two
        // run almost along each other.
        for (big, small, d) in [
            (10.0_f64, 9.5_f64, 2.0),
            (26.0, 26.0, 0.5),
            (26.0, 25.9, 0.3),
        ] {
            for height in [40.0, 0.0] {
                let cup = head([0.0, 0.0, height], [0.0, 0.0, 1.0], big);
                let deeper = head([0.0, 0.0, height - d], [0.0, 0.0, 1.0], small);
                let circle = (big * big - small * small + d * d) / (2.0 * d);
                let depth = circle.max(d);
                let left = area_outside(&cube(80.0), &cup, &[Bullet::half_ball(deeper)]);
                check(left, 2.0 * PI * big * depth, 0.1);
            }
        }
    }
}
