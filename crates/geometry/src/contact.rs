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

/// How much of what is free is turned at once. With less, boxes far from a touch need not be looked into; with
/// more, fewer steps are needed.
const AT_ONCE: f64 = 0.35;

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
    let pair = Pair { fixed, moving };
    let seed = pair.guess(pose);
    let apart = |gap: &Vector3<f64>, _: &Moving| gap.norm();
    pair.least(pose, seed, f64::INFINITY, 1.0, apart)
}

/// Whether the solids, `moving` standing at `pose`, have a point in common.
pub fn overlap(fixed: &Solid, moving: &Solid, pose: &Isometry3<f64>) -> bool {
    nearest(fixed, moving, pose).distance <= 0.0 || one_within(fixed, moving, pose)
}

/// The first touch of `moving`, turned from its start, with `fixed`; `None` where there is none before
/// `most` radians, or a whole turn if that is less.
///
/// The angle found is at most that of the touch, and there the two are at most [`TOUCH`] apart.
/// Conservative advancement: of every pair of triangles it is known how far the turn may go before they can
/// meet; most of the least of these is turned at once.
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
    let (most, pair) = (most.min(TAU), Pair { fixed, moving });
    let (mut angle, mut next) = (0.0, begin);
    while angle < most {
        let pose = turn.at(angle);
        let seed = (next.fixed_triangle, next.moving_triangle);
        let free = |gap: &Vector3<f64>, body: &Moving| turn.free_for(gap, body);
        next = pair.least(&pose, seed, (most - angle) / AT_ONCE, AT_ONCE, free);
        if next.distance <= TOUCH {
            return Some(Touch {
                angle,
                nearest: next,
            });
        }
        let body = Moving {
            points: &pair.standing(&pose, next.moving_triangle),
            radius: 0.0,
        };
        angle += AT_ONCE * turn.free_for(&(next.on_fixed - next.on_moving), &body);
    }
    None
}

/// Whether a piece of one solid lies wholly within the other, their surfaces being apart.
fn one_within(fixed: &Solid, moving: &Solid, pose: &Isometry3<f64>) -> bool {
    let back = pose.inverse();
    let of_moving = moving.pieces().any(|p| fixed.winding(&(pose * p)) > 0);
    of_moving || fixed.pieces().any(|p| moving.winding(&(back * p)) > 0)
}

/// Some of the moving solid where it stands: all of it lies within `radius` of one of the points.
struct Moving<'a> {
    points: &'a [Point3<f64>],
    radius: f64,
}

impl Turn {
    /// How far it may go before `body`, which is convex and from which `gap` leads straight to something
    /// convex, can meet that; infinite where it never can.
    ///
    /// Along the gap's direction n, a point at r from the pivot goes at the speed v = n·(ω×r), and v
    /// changes by no more than a = |n×ω| |ω×r| per radian. So it needs v φ + a φ²/2 ≥ |gap|.
    fn free_for(&self, gap: &Vector3<f64>, body: &Moving) -> f64 {
        let distance = gap.norm();
        if distance <= 0.0 {
            return 0.0;
        }
        let toward = self.axis.cross(gap) / -distance;
        let across = toward.norm();
        let (mut speed, mut from_axis) = (f64::NEG_INFINITY, 0.0_f64);
        for point in body.points {
            let r = point - self.pivot;
            speed = speed.max(toward.dot(&r));
            from_axis = from_axis.max(self.axis.cross(&r).norm());
        }
        let speed = speed + across * body.radius;
        let gain = across * (from_axis + body.radius);
        if gain <= 0.0 {
            return f64::INFINITY;
        }
        let root = (speed * speed + 2.0 * gain * distance).sqrt();
        if speed > 0.0 {
            2.0 * distance / (speed + root)
        } else {
            (root - speed) / gain
        }
    }
}

/// Two solids of which one moves.
struct Pair<'a> {
    fixed: &'a Solid,
    moving: &'a Solid,
}

impl Pair<'_> {
    /// A pair of triangles of which no other costs less than `share` of its `cost`; the pair `seed` where none
    /// is found that costs less than that one, and none costs less than `share` of `most`.
    ///
    /// `cost` is told the gap from a part of the moving solid to one of the fixed solid, and that part. It
    /// must not be greater for a box than for what is in it.
    fn least(
        &self,
        pose: &Isometry3<f64>,
        seed: (u32, u32),
        most: f64,
        share: f64,
        cost: impl Fn(&Vector3<f64>, &Moving) -> f64,
    ) -> Nearest {
        let stretched = pose.rotation.to_rotation_matrix().into_inner().abs();
        let may_beat = |fixed: &Bounds, moving: &Bounds, best: f64| {
            let (middle, half) = (pose * moving.middle(), moving.extent() / 2.0);
            let gap = box_gap(&middle, &(stretched * half), fixed);
            let body = Moving {
                points: &[middle],
                radius: half.norm(),
            };
            cost(&gap, &body) < share * best
        };
        let of_pair = |fixed: u32, moving: u32| {
            let there = self.standing(pose, moving);
            let [on_fixed, on_moving] = self.gap(fixed, &there).ends;
            let body = Moving {
                points: &there,
                radius: 0.0,
            };
            cost(&(on_fixed - on_moving), &body)
        };
        let first = of_pair(seed.0, seed.1).min(most);
        let (ours, theirs) = (self.fixed.tree(), self.moving.tree());
        let found = ours.best_pair(theirs, first, may_beat, of_pair);
        self.nearest(pose, found.unwrap_or(seed))
    }

    /// A pair of triangles that are near each other, if not nearest: the nearest to any of some corners.
    fn guess(&self, pose: &Isometry3<f64>) -> (u32, u32) {
        const CORNERS: usize = 64;
        let count = self.moving.mesh().triangles().len();
        let each = (0..count).step_by(count.div_ceil(CORNERS));
        let pairs = each.filter_map(|moving| {
            let corner = pose * self.moving.mesh().corners(moving)[0];
            let fixed = self.fixed.tree().near(&corner)?;
            Some((fixed, u32::try_from(moving).ok()?))
        });
        let distance = |&(fixed, moving): &(u32, u32)| {
            let gap = self.gap(fixed, &self.standing(pose, moving));
            gap.distance
        };
        let nearest = pairs.min_by(|a, b| distance(a).total_cmp(&distance(b)));
        nearest.unwrap_or((0, 0))
    }

    fn standing(&self, pose: &Isometry3<f64>, moving: u32) -> [Point3<f64>; 3] {
        let corners = self.moving.mesh().corners(moving as usize);
        corners.map(|p| pose * p)
    }

    fn gap(&self, fixed: u32, there: &[Point3<f64>; 3]) -> Gap {
        gap::between(&self.fixed.mesh().corners(fixed as usize), there)
    }

    fn nearest(&self, pose: &Isometry3<f64>, (fixed, moving): (u32, u32)) -> Nearest {
        let gap = self.gap(fixed, &self.standing(pose, moving));
        Nearest {
            distance: gap.distance,
            on_fixed: gap.ends[0],
            on_moving: gap.ends[1],
            fixed_triangle: fixed,
            moving_triangle: moving,
        }
    }
}

/// The straight way from a box, told by its middle and half its edges, to another.
fn box_gap(middle: &Point3<f64>, half: &Vector3<f64>, fixed: &Bounds) -> Vector3<f64> {
    let reach = half + fixed.extent() / 2.0;
    let between = fixed.middle() - middle;
    let apart = (between.abs() - reach).sup(&Vector3::zeros());
    apart.zip_map(&between, f64::copysign)
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
