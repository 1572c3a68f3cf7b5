//! The bone in the column that a reamer leaves above its half ball, on its way in.
//!
//! In the tool's own coordinates the volume in bone is the signed sum, over the triangles above the
//! equator, of the volume under each and inside the cylinder: the integral of the plane's height
//! over the projected triangle and the disc. Its edges, split where they cross the circle, give
//! area and first moments in closed form.

use nalgebra::{Vector2, Vector3};

use crate::chord::Chord;
use crate::loops::BEYOND;
use crate::polygon::Polygon;
use crate::shape::{Bullet, Hemisphere};
use crate::sweep::{self, Scratch};
use crate::{Bounds, Solid};

/// Volume of bone inside the bullet that a reamer has swept, in mm³: half ball and column.
pub fn volume_in_bullet(solid: &Solid, bullet: &Bullet) -> f64 {
    let swept = sweep::bullet(solid, bullet, &mut Scratch::default());
    swept.within.volume + swept.column
}

/// Volume of bone inside the column of a bullet alone, in mm³.
///
/// For an open column, that is one of any length that reaches beyond the bone.
pub fn volume_in_column(solid: &Solid, bullet: &Bullet) -> f64 {
    sweep::bullet(solid, bullet, &mut Scratch::default()).column
}

/// Signed volume between a triangle and the plane z = 0.
#[inline]
pub(crate) fn under([a, b, c]: &[Vector3<f64>; 3]) -> f64 {
    (b - a).xy().perp(&(c - a).xy()) * (a.z + b.z + c.z) / 6.0
}

/// Whether a triangle, seen along z, surely lies beside the disc about the origin of the radius squared.
#[inline]
pub(crate) fn is_beside(corners: &[Vector3<f64>; 3], squared: f64) -> bool {
    let middle = (corners[0] + corners[1] + corners[2]).xy();
    let toward = corners.iter().map(|p| p.xy().dot(&middle));
    let least = toward.fold(f64::INFINITY, f64::min);
    least > 0.0 && least * least > BEYOND * squared * middle.norm_squared()
}

/// Whether a box can reach into the open column above a tool.
pub(crate) fn touches(tool: &Hemisphere) -> impl Fn(&Bounds) -> bool {
    let (centre, axis, radius) = (tool.centre(), tool.axis(), tool.radius());
    move |b| {
        let half = b.extent() / 2.0;
        let middle = b.min + half - centre;
        let height = middle.dot(&axis);
        let across = (middle - height * axis.into_inner()).norm();
        height + half.dot(&axis.abs()) >= 0.0 && across <= radius + half.norm()
    }
}

/// Signed volume between a polygon and the plane z = `base`, inside the cylinder about the z axis.
pub(crate) fn volume_over(polygon: &Polygon, base: f64, radius: f64) -> f64 {
    let Some(first) = polygon.corners().first() else {
        return 0.0;
    };
    let Moments {
        area,
        first: moment,
    } = Moments::of(polygon, radius);
    let n = polygon.normal();
    let volume = (first.z - base) * area - n.xy().dot(&(moment - area * first.xy())) / n.z;
    // On a steep triangle the slope is huge and the area tiny: the mean height they imply must
    // still lie between the corners'.
    let heights = polygon.corners().iter().map(|p| p.z - base);
    let (low, high) = heights.fold((f64::MAX, f64::MIN), |(l, h), z| (l.min(z), h.max(z)));
    let mean = volume / area;
    if mean.is_nan() {
        0.0
    } else {
        area * mean.clamp(low, high)
    }
}

/// Signed area and first moments of a projected polygon inside a disc about the origin.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Moments {
    area: f64,
    first: Vector2<f64>,
}

impl Moments {
    fn of(polygon: &Polygon, radius: f64) -> Self {
        let mut moments = Self::default();
        for (from, to) in polygon.edges() {
            moments.add_edge(from.xy(), to.xy(), radius);
        }
        moments
    }

    fn add_edge(&mut self, u: Vector2<f64>, v: Vector2<f64>, radius: f64) {
        let along = v - u;
        let (a, b) = (along.norm_squared(), u.dot(&along));
        let Some(Chord { enter, leave }) = Chord::of(a, b, u.norm_squared() - radius * radius)
        else {
            return self.add_arc(u, v, radius);
        };
        let start = if enter > 0.0 { u + along * enter } else { u };
        let end = if leave < 1.0 { u + along * leave } else { v };
        if enter > 0.0 {
            self.add_arc(u, start, radius);
        }
        let twice = start.perp(&end);
        self.area += 0.5 * twice;
        self.first += (start + end) * (twice / 6.0);
        if leave < 1.0 {
            self.add_arc(end, v, radius);
        }
    }

    /// The arc of the circle between the directions of two points outside it.
    fn add_arc(&mut self, u: Vector2<f64>, v: Vector2<f64>, radius: f64) {
        let angle = u.perp(&v).atan2(u.dot(&v));
        self.area += 0.5 * radius * radius * angle;
        let turn = v.normalize() - u.normalize();
        self.first += Vector2::new(turn.y, -turn.x) * (radius.powi(3) / 3.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use approx::assert_relative_eq;
    use nalgebra::Isometry3;
    use std::f64::consts::PI;

    fn cube() -> Solid {
        Solid::try_from(samples::cuboid([20.0; 3])).unwrap()
    }

    fn open(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Bullet {
        Bullet::open(Hemisphere::new(centre.into(), axis.into(), radius).unwrap())
    }

    #[test]
    fn a_column_through_bone_is_as_long_as_the_bone_is_thick() {
        let upright = open([1.0, 2.0, -3.0], [0.0, 0.0, 1.0], 4.0);
        assert_relative_eq!(
            volume_in_column(&cube(), &upright),
            PI * 16.0 * 13.0,
            max_relative = 1e-13
        );
        let from_below = open([0.0, 0.0, -15.0], [0.0, 0.0, 1.0], 4.0);
        assert_relative_eq!(
            volume_in_column(&cube(), &from_below),
            PI * 16.0 * 20.0,
            max_relative = 1e-13
        );
    }

    #[test]
    fn a_column_of_stated_length_stops_there() {
        let head = *open([1.0, 2.0, -3.0], [0.0, 0.0, 1.0], 4.0).head();
        for (length, expected) in [(0.0, 0.0), (5.0, 5.0), (13.0, 13.0), (100.0, 13.0)] {
            let bullet = Bullet::with_column(head, length).unwrap();
            let volume = volume_in_column(&cube(), &bullet);
            assert_relative_eq!(
                volume,
                PI * 16.0 * expected,
                epsilon = 1e-12,
                max_relative = 1e-13
            );
        }
    }

    #[test]
    fn a_column_on_an_edge_of_the_bone_takes_half_of_itself() {
        let at_edge = open([10.0, 0.0, 0.0], [0.0, 0.0, 1.0], 4.0);
        assert_relative_eq!(
            volume_in_column(&cube(), &at_edge),
            PI * 16.0 * 10.0 / 2.0,
            max_relative = 1e-13
        );
    }

    #[test]
    fn a_slanted_top_counts_at_its_middle() {
        // The axis leaves the cube's top at 30° to its normal, 10/cos 30° above the middle.
        let tilted = open([0.0; 3], [0.5, 0.0, 0.75_f64.sqrt()], 2.0);
        let expected = PI * 4.0 * 10.0 / 0.75_f64.sqrt();
        assert_relative_eq!(
            volume_in_column(&cube(), &tilted),
            expected,
            max_relative = 1e-13
        );
    }

    #[test]
    fn faces_along_the_axis_add_nothing_even_when_barely_tilted() {
        for angle in [0.0, 1e-15, 1e-12, 1e-9, 1e-7, 1e-5] {
            let turned = samples::cuboid([20.0; 3]).subdivided().subdivided();
            let turned = turned.moved(&Isometry3::rotation(Vector3::new(angle, 0.0, 0.0)));
            let solid = Solid::try_from(turned).unwrap();
            let wide = open([0.0, 0.0, -20.0], [0.0, 0.0, 1.0], 30.0);
            assert_relative_eq!(volume_in_column(&solid, &wide), 8000.0, max_relative = 1e-9);
        }
    }

    #[test]
    fn a_bullet_around_the_bone_holds_it_whole() {
        let solid = Solid::try_from(samples::lumpy_ball(25.0, 0.2, 40, 25)).unwrap();
        let bullet = open([3.0, 2.0, 1.0], [1.0, 0.2, 0.4], 60.0);
        assert_relative_eq!(
            volume_in_bullet(&solid, &bullet),
            solid.volume(),
            max_relative = 1e-12
        );
    }

    #[test]
    fn a_bullet_far_from_the_bone_holds_none() {
        let beyond = open([0.0, 0.0, 11.0], [0.0, 0.0, 1.0], 30.0);
        assert_relative_eq!(volume_in_column(&cube(), &beyond), 0.0);
        let beside = open([0.0, 40.0, 0.0], [0.0, 0.0, 1.0], 9.0);
        assert_relative_eq!(volume_in_bullet(&cube(), &beside), 0.0);
    }

    #[test]
    fn a_column_longer_than_the_bone_is_an_open_one() {
        let head = *open([12.0, -4.0, 12.0], [0.3, 0.2, 1.0], 9.0).head();
        let solid = Solid::try_from(samples::lumpy_ball(25.0, 0.2, 40, 25)).unwrap();
        let long = Bullet::with_column(head, 500.0).unwrap();
        assert_relative_eq!(
            volume_in_bullet(&solid, &long),
            volume_in_bullet(&solid, &Bullet::open(head)),
            max_relative = 1e-12
        );
    }
}
