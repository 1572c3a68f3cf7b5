//! Two solids of which one moves: how near they are, and at what angle of a turn they first touch.
//!
//! Guaranteed: a turn never passes through a touch, however thin the bone is there, because each
//! step is at most as long as the two stay apart. Not guaranteed: how deep they lie in each other.

use std::f64::consts::TAU;

use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, UnitVector3, Vector3};

use crate::gap::{self, Gap};
use crate::{Bounds, Solid};

/// Surfaces this near, in mm, touch. A step of a turn that comes near is no shorter than what takes a
/// moving point this far; at 0.01 mm and 60 mm from the axis that is 0.01°.
pub const TOUCH: f64 = 0.01;

/// The place where two surfaces are nearest each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// How far apart, in mm; 0 where they cross.
    pub distance: f64,
    /// The nearest point of the fixed solid.
    pub on_fixed: Point3<f64>,
    /// The nearest point of the moving solid, where it stands.
    pub on_moving: Point3<f64>,
    /// The triangle of the fixed solid that it lies on.
    pub fixed_triangle: u32,
    /// The triangle of the moving solid that it lies on.
    pub moving_triangle: u32,
}

/// A turn about a fixed axis, from where a solid stands at its start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// From the moving solid's own coordinates to those of the fixed one, at angle 0.
    pub start: Isometry3<f64>,
    /// A point of the axis, in the fixed solid's coordinates.
    pub pivot: Point3<f64>,
    /// The axis, in the fixed solid's coordinates; angles turn right-handed about it.
    pub axis: UnitVector3<f64>,
}

/// Where a turn first brings two solids together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Touch {
    /// The angle of the turn, in radians; 0 where they touch or overlap from the start.
    pub angle: f64,
    /// Where they are nearest each other there.
    pub nearest: Nearest,
}

impl Turn {
    /// Where the solid stands after `angle` radians.
    pub fn at(&self, angle: f64) -> Isometry3<f64> {
        let turn = UnitQuaternion::from_axis_angle(&self.axis, angle);
        let about = Translation3::from(self.pivot.coords);
        about * turn * about.inverse() * self.start
    }
}

/// Where the surfaces of `fixed` and of `moving`, standing at `pose`, are nearest each other.
///
/// One within the other is as far as its surface, not 0; see [`overlap`].
pub fn nearest(fixed: &Solid, moving: &Solid, pose: &Isometry3<f64>) -> Nearest {
    Pair::new(fixed, moving, 0.0, |_| 1.0).least(pose, (0, 0), f64::INFINITY)
}

/// Whether the solids, `moving` standing at `pose`, have a point in common.
pub fn overlap(fixed: &Solid, moving: &Solid, pose: &Isometry3<f64>) -> bool {
    nearest(fixed, moving, pose).distance <= 0.0 || one_within(fixed, moving, pose)
}

/// The first touch of `moving`, turned from its start, with `fixed`; `None` where there is none before
/// `most` radians, or a whole turn if that is less.
///
/// The angle found is at most that of the touch, and there the two are at most [`TOUCH`] apart.
/// Conservative advancement: what lies ρ from the axis moves at most ρ per radian, so nothing meets
/// before the least of distance / ρ over all pairs of triangles.
///
/// ```
/// # use cupwright_geometry::{contact::{self, Turn}, *};
/// # use nalgebra::{Isometry3, Point3, Vector3};
/// // A ball of 5 mm that goes round at 30 mm, and another one a quarter turn ahead.
/// let ball = Solid::try_from(samples::sphere(5.0, 4))?;
/// let other = Solid::try_from(samples::sphere(5.0, 4).moved(&Isometry3::translation(0.0, 30.0, 0.0)))?;
/// let start = Isometry3::translation(30.0, 0.0, 0.0);
/// let turn = Turn { start, pivot: Point3::origin(), axis: Vector3::z_axis() };
/// let touch = contact::first_touch(&other, &ball, &turn, 3.0).ok_or("they do not meet")?;
/// let expected = 90.0 - 2.0 * (5.0_f64 / 30.0).asin().to_degrees();
/// assert!((touch.angle.to_degrees() - expected).abs() < 0.1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn first_touch(fixed: &Solid, moving: &Solid, turn: &Turn, most: f64) -> Option<Touch> {
    let begin = nearest(fixed, moving, &turn.start);
    if begin.distance <= TOUCH || one_within(fixed, moving, &turn.start) {
        return Some(Touch {
            angle: 0.0,
            nearest: begin,
        });
    }
    let most = most.min(TAU);
    let pivot = turn.start.inverse() * turn.pivot;
    let axis = turn.start.rotation.inverse() * turn.axis;
    let from_axis = |p: &Point3<f64>| (p - pivot).cross(&axis).norm();
    let pair = Pair::new(fixed, moving, 1.0, from_axis);
    let (mut angle, mut next) = (0.0, begin);
    while angle < most {
        let seed = (next.fixed_triangle, next.moving_triangle);
        next = pair.least(&turn.at(angle), seed, most - angle);
        if next.distance <= TOUCH {
            return Some(Touch {
                angle,
                nearest: next,
            });
        }
        angle += next.distance / pair.weight(next.moving_triangle);
    }
    None
}

/// Whether a piece of one solid lies wholly within the other, their surfaces being apart.
fn one_within(fixed: &Solid, moving: &Solid, pose: &Isometry3<f64>) -> bool {
    let back = pose.inverse();
    let of_moving = moving.pieces().any(|p| fixed.winding(&(pose * p)) > 0);
    of_moving || fixed.pieces().any(|p| moving.winding(&(back * p)) > 0)
}

/// Two solids, and how much each point of the moving one counts: a distance is told divided by that.
struct Pair<'a, W> {
    fixed: &'a Solid,
    moving: &'a Solid,
    slope: f64,
    weight_at: W,
}

impl<'a, W: Fn(&Point3<f64>) -> f64> Pair<'a, W> {
    /// `weight_at` tells the weight of a point in the moving solid's own coordinates. It must be convex
    /// and change by no more than `slope` per mm.
    fn new(fixed: &'a Solid, moving: &'a Solid, slope: f64, weight_at: W) -> Self {
        Self {
            fixed,
            moving,
            slope,
            weight_at,
        }
    }

    /// The greatest weight on a triangle of the moving solid: at a corner, being convex.
    fn weight(&self, triangle: u32) -> f64 {
        let corners = self.moving.mesh().corners(triangle as usize);
        corners.iter().map(&self.weight_at).fold(0.0, f64::max)
    }

    fn gap(&self, pose: &Isometry3<f64>, fixed: u32, moving: u32) -> Gap {
        let ours = self.fixed.mesh().corners(fixed as usize);
        let theirs = self.moving.mesh().corners(moving as usize);
        gap::between(&ours, &theirs.map(|p| pose * p))
    }

    /// The pair of triangles with the least distance / weight, or the pair `seed` where none has less
    /// than that one or than `most`.
    fn least(&self, pose: &Isometry3<f64>, seed: (u32, u32), most: f64) -> Nearest {
        let cost = |fixed: u32, moving: u32| {
            let distance = self.gap(pose, fixed, moving).distance;
            distance / self.weight(moving)
        };
        let stretched = pose.rotation.to_rotation_matrix().into_inner().abs();
        let may_beat = |fixed: &Bounds, moving: &Bounds, best: f64| {
            let (middle, half) = (moving.middle(), moving.extent() / 2.0);
            let heaviest = (self.weight_at)(&middle) + self.slope * half.norm();
            let apart = box_gap(fixed, &(pose * middle), &(stretched * half));
            apart.norm_squared() < (best * heaviest).powi(2)
        };
        let first = cost(seed.0, seed.1).min(most);
        let trees = (self.fixed.tree(), self.moving.tree());
        let (fixed_triangle, moving_triangle) = trees
            .0
            .best_pair(trees.1, first, may_beat, cost)
            .unwrap_or(seed);
        let gap = self.gap(pose, fixed_triangle, moving_triangle);
        Nearest {
            distance: gap.distance,
            on_fixed: gap.ends[0],
            on_moving: gap.ends[1],
            fixed_triangle,
            moving_triangle,
        }
    }
}

/// How far a box lies from another that is told by its middle and half its edges, along each axis.
fn box_gap(fixed: &Bounds, middle: &Point3<f64>, half: &Vector3<f64>) -> Vector3<f64> {
    let reach = half + fixed.extent() / 2.0;
    let between = (middle - fixed.middle()).abs() - reach;
    between.sup(&Vector3::zeros())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use nalgebra::Unit;

    fn solid(mesh: crate::TriMesh) -> Solid {
        Solid::try_from(mesh).unwrap()
    }

    fn moved(x: f64, y: f64, z: f64) -> Isometry3<f64> {
        Isometry3::translation(x, y, z)
    }

    #[test]
    fn two_balls_are_as_far_as_their_middles_less_their_radii() {
        let (one, other) = (
            solid(samples::sphere(10.0, 4)),
            solid(samples::sphere(4.0, 4)),
        );
        for pose in [
            moved(20.0, 0.0, 0.0),
            moved(0.0, -12.0, 16.0),
            moved(14.5, 0.0, 0.0),
        ] {
            let apart = pose.translation.vector.norm() - 14.0;
            let found = nearest(&one, &other, &pose);
            assert!((found.distance - apart).abs() < 0.03, "{found:?} {apart}");
            assert!((found.on_fixed.coords.norm() - 10.0).abs() < 0.03);
        }
    }

    #[test]
    fn the_nearest_pair_is_that_of_a_walk_over_all_pairs() {
        let one = solid(samples::lumpy_ball(20.0, 0.3, 14, 9));
        let other = solid(samples::torus(12.0, 4.0, 13, 7));
        let turn = UnitQuaternion::from_euler_angles(0.4, -0.9, 2.1);
        for shift in [[45.0, 3.0, -8.0], [-5.0, 30.0, 30.0], [2.0, 1.0, -37.0]] {
            let pose = Isometry3::from_parts(Translation3::from(shift), turn);
            let there = other.mesh().moved(&pose);
            let pairs = (0..one.mesh().triangles().len())
                .flat_map(|a| (0..there.triangles().len()).map(move |b| (a, b)));
            let gap = |(a, b)| gap::between(&one.mesh().corners(a), &there.corners(b)).distance;
            let least = pairs.map(gap).fold(f64::INFINITY, f64::min);
            let found = nearest(&one, &other, &pose);
            assert!((found.distance - least).abs() < 1e-12, "{found:?} {least}");
        }
    }

    #[test]
    fn one_within_the_other_overlaps_it_though_their_surfaces_are_apart() {
        let (large, small) = (
            solid(samples::sphere(10.0, 3)),
            solid(samples::sphere(2.0, 2)),
        );
        for pose in [moved(0.0, 0.0, 0.0), moved(5.0, 1.0, 0.0)] {
            assert!(overlap(&large, &small, &pose) && overlap(&small, &large, &pose.inverse()));
        }
        assert!(overlap(&large, &small, &moved(9.9, 0.0, 0.0)));
        assert!(!overlap(&large, &small, &moved(12.1, 0.0, 0.0)));
    }

    #[test]
    fn a_bar_meets_a_thin_plate_and_never_passes_through_it() {
        // The end of the bar moves 20 mm in the turn, over 60 times the plate's thickness.
        let bar = solid(samples::cuboid([80.0, 2.0, 2.0]));
        let plate = solid(samples::cuboid([40.0, 0.3, 40.0]));
        let plate_up = solid(plate.mesh().moved(&moved(0.0, 20.15, 0.0)));
        let turn = Turn {
            start: moved(40.0, 0.0, 0.0),
            pivot: Point3::origin(),
            axis: Vector3::z_axis(),
        };
        let touch = first_touch(&plate_up, &bar, &turn, 3.0).unwrap();
        // The top edge of the bar, 1 mm over its middle, reaches the plate's right lower edge (20, 20).
        let expected = 45.0_f64.to_radians() - (1.0 / 800.0_f64.sqrt()).asin();
        assert!(
            (touch.angle - expected).abs() < 1e-3,
            "{touch:?} {expected}"
        );
        assert!(touch.angle <= expected + 1e-9);
        assert!(first_touch(&plate_up, &bar, &turn, 0.6).is_none());
    }

    #[test]
    fn what_overlaps_from_the_start_touches_at_once_and_what_is_out_of_reach_never() {
        let (one, other) = (
            solid(samples::sphere(10.0, 3)),
            solid(samples::sphere(4.0, 3)),
        );
        let about = |start, pivot| Turn {
            start,
            pivot,
            axis: Unit::new_normalize(Vector3::new(0.3, 0.2, 1.0)),
        };
        let within = about(moved(3.0, 0.0, 0.0), Point3::origin());
        assert_eq!(
            first_touch(&one, &other, &within, 1.0).map(|t| t.angle),
            Some(0.0)
        );
        let around = about(moved(30.0, 0.0, 0.0), Point3::origin());
        assert!(first_touch(&one, &other, &around, f64::INFINITY).is_none());
    }
}
