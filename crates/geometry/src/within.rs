//! The bone within a ball or half ball, and the part of its round surface that lies in bone.
//!
//! A closed mesh is the signed sum of the cones from the tool's centre over its triangles. Along a
//! direction in which w surfaces are left behind more often than entered, the sphere lies in bone w
//! times; so the solid angle of the sphere in bone is the signed sum of what each triangle shows
//! beyond the sphere, and the volume within follows from Gauss's theorem,
//! `3 V = Σ height · area inside + r · area of the sphere in bone`.
//! Both are exact up to rounding. Triangles that do not touch the ball add up to the winding number
//! of the centre, so that only those that touch it are visited.

use std::f64::consts::PI;

use nalgebra::{Matrix3, Point3, Vector3};

use crate::disc::Share;
use crate::polygon::Polygon;
use crate::shape::{Ball, Hemisphere, perpendicular};
use crate::sum::sums;
use crate::sweep::{self, Scratch};
use crate::{Bounds, Solid};

/// How near the surface a tool's centre must lie, in mm, for the far triangles to be added one by
/// one. Nearer, rounding could put the centre on one side for the winding number and on the other
/// for a triangle; both ways give the same value, so the size of this only changes the time taken.
const NEAR_SURFACE: f64 = 1e-6;

/// The bone within a tool.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Within {
    /// Volume of bone inside the tool, in mm³.
    pub volume: f64,
    /// Area of the tool's round surface that lies in bone, in mm².
    pub area: f64,
}

/// The bone within a ball.
pub fn ball(solid: &Solid, ball: &Ball) -> Within {
    let view = View {
        centre: ball.centre(),
        frame: Matrix3::identity(),
        radius: ball.radius(),
    };
    let touches = |b: &Bounds| b.distance_to(&view.centre) <= view.radius;
    view.measure(solid, touches, 4.0 * PI, |whole| *whole)
}

/// The bone within a half ball; the flat side counts as neither.
pub fn hemisphere(solid: &Solid, tool: &Hemisphere) -> Within {
    sweep::half_ball(solid, tool, &mut Scratch::default()).within
}

/// Share of the tool's round surface that lies in bone, 0 to 1: the coverage of a cup.
///
/// Where bone overlaps itself it counts as often as it does.
///
/// ```
/// # use cupwright_geometry::*;
/// # use nalgebra::{Point3, Vector3};
/// let block = Solid::try_from(samples::cuboid([100.0, 100.0, 100.0]))?;
/// // Flush with the top of the block, then 5 mm proud of it: 1 − s/R.
/// let at = |height| Hemisphere::new(Point3::new(0.0, 0.0, height), Vector3::z(), 25.0);
/// assert!((within::coverage(&block, &at(50.0)?) - 1.0).abs() < 1e-12);
/// assert!((within::coverage(&block, &at(55.0)?) - 0.8).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn coverage(solid: &Solid, tool: &Hemisphere) -> f64 {
    hemisphere(solid, tool).area / tool.area()
}

/// The bone within the parts of a half ball between planes through its axis.
///
/// `around` holds the directions of the planes in order, less than half a turn from one to the
/// next; part `k` lies between directions `k` and `k + 1`, the last between the last and the first.
/// Only their parts at right angles to the axis count.
pub fn sectors(solid: &Solid, tool: &Hemisphere, around: &[Vector3<f64>]) -> Vec<Within> {
    let view = View::of(tool);
    let local: Vec<_> = around
        .iter()
        .map(|u| view.frame * u)
        .map(|u| Vector3::new(u.x, u.y, 0.0))
        .collect();
    let next = local.iter().cycle().skip(1);
    let sector = |(from, to): (&Vector3<f64>, &Vector3<f64>)| {
        let angle = from.xy().angle(&to.xy());
        let turn = Vector3::z() * from.cross(to).z.signum();
        let (before, after) = (from.cross(&turn), -to.cross(&turn));
        let cut = |whole: &Polygon| {
            below_equator(whole)
                .clipped(&before, 0.0)
                .clipped(&after, 0.0)
        };
        let touches = touches(tool);
        let within = |b: &Bounds| touches(b) && view.reaches_below(b, &[before, after]);
        view.measure(solid, within, angle, cut)
    };
    local.iter().zip(next).map(sector).collect()
}

pub(crate) fn below_equator(whole: &Polygon) -> Polygon {
    whole.clipped(&Vector3::z(), 0.0)
}

/// Whether a box can touch the half ball.
pub(crate) fn touches(tool: &Hemisphere) -> impl Fn(&Bounds) -> bool {
    let (centre, axis, radius) = (tool.centre(), tool.axis(), tool.radius());
    move |b| {
        let half = b.extent() / 2.0;
        let middle = b.min + half - centre;
        let lowest = middle.dot(&axis) - half.dot(&axis.abs());
        lowest <= 0.0 && b.distance_to(&centre) <= radius
    }
}

/// A tool's own coordinates: origin at its centre, z along its axis.
pub(crate) struct View {
    pub(crate) centre: Point3<f64>,
    pub(crate) frame: Matrix3<f64>,
    pub(crate) radius: f64,
}

impl View {
    /// The coordinates of a reamer or cup.
    pub(crate) fn of(tool: &Hemisphere) -> Self {
        let axis = tool.axis();
        let (first, second) = perpendicular(&axis);
        let rows = [first, second, axis].map(|row| row.into_inner().transpose());
        Self {
            centre: tool.centre(),
            frame: Matrix3::from_rows(&rows),
            radius: tool.radius(),
        }
    }

    /// Whether a box may reach to the side of each plane through the centre where its direction,
    /// in these coordinates, is not positive.
    fn reaches_below(&self, b: &Bounds, directions: &[Vector3<f64>]) -> bool {
        let half = b.extent() / 2.0;
        let middle = self.frame * (b.min + half - self.centre);
        // The margin covers the rounding of the middle.
        let reach = half.norm() + 1e-9 * (1.0 + middle.norm());
        directions
            .iter()
            .all(|d| d.dot(&middle) <= d.norm() * reach)
    }

    /// The corners of a triangle of the mesh in these coordinates.
    #[inline]
    pub(crate) fn corners(&self, solid: &Solid, index: u32) -> [Vector3<f64>; 3] {
        let [a, b, c] = solid.mesh().corners(index as usize);
        let seen = |p: Point3<f64>| self.frame * (p - self.centre);
        [seen(a), seen(b), seen(c)]
    }

    /// A triangle of the mesh in these coordinates.
    pub(crate) fn triangle(&self, solid: &Solid, index: u32) -> Option<Polygon> {
        Polygon::triangle(self.corners(solid, index))
    }

    /// The measures of the part of the ball that `cut`, which keeps a cone about the centre of
    /// solid angle `opening`, leaves of it.
    fn measure(
        &self,
        solid: &Solid,
        touches: impl Fn(&Bounds) -> bool,
        opening: f64,
        cut: impl Fn(&Polygon) -> Polygon + Sync,
    ) -> Within {
        let beside_surface = distance_to_surface(solid, &self.centre) < NEAR_SURFACE;
        let triangles = solid
            .tree()
            .triangles_where(|b| beside_surface || touches(b));
        let far = if beside_surface {
            0.0
        } else {
            f64::from(solid.winding(&self.centre)) * opening
        };
        let [cone, beyond, whole] = sums(&triangles, |&t| {
            let Some(triangle) = self.triangle(solid, t) else {
                return [0.0; 3];
            };
            let Share {
                cone,
                whole,
                beyond,
            } = Share::of(&cut(&triangle), self.radius);
            if beside_surface {
                [cone, beyond, 0.0]
            } else {
                [cone, beyond, whole]
            }
        });
        let area = self.radius * self.radius * (far + (beyond - whole));
        // Where there is no bone rounding must not leave less than none.
        Within {
            volume: ((cone + self.radius * area) / 3.0).max(0.0),
            area: area.max(0.0),
        }
    }
}

/// Distance from a point to the nearest triangle, in mm.
pub(crate) fn distance_to_surface(solid: &Solid, point: &Point3<f64>) -> f64 {
    solid.tree().minimum(
        |b| b.distance_to(point),
        |t| distance_to_triangle(&solid.mesh().corners(t as usize), point),
    )
}

/// Distance from a point to a triangle, in mm.
fn distance_to_triangle(corners: &[Point3<f64>; 3], point: &Point3<f64>) -> f64 {
    let edge = |a: &Point3<f64>, b: &Point3<f64>| {
        let along = b - a;
        let t = ((point - a).dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
        if t.is_nan() {
            (point - a).norm()
        } else {
            (point - (a + along * t)).norm()
        }
    };
    let [a, b, c] = corners;
    let to_edges = edge(a, b).min(edge(b, c)).min(edge(c, a));
    let Some(normal) = (b - a).cross(&(c - a)).try_normalize(0.0) else {
        return to_edges;
    };
    let left_of =
        |p: &Point3<f64>, q: &Point3<f64>| normal.dot(&(q - p).cross(&(point - p))) >= 0.0;
    let over_face = left_of(a, b) && left_of(b, c) && left_of(c, a);
    if over_face {
        normal.dot(&(point - a)).abs()
    } else {
        to_edges
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use approx::assert_relative_eq;
    use std::f64::consts::TAU;

    fn cube(edge: f64) -> Solid {
        Solid::try_from(samples::cuboid([edge; 3])).unwrap()
    }

    fn tool(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Hemisphere {
        Hemisphere::new(centre.into(), axis.into(), radius).unwrap()
    }

    #[track_caller]
    fn check_ball(centre: [f64; 3], radius: f64, volume: f64, area: f64) {
        let found = ball(&cube(20.0), &Ball::new(centre.into(), radius).unwrap());
        assert_relative_eq!(found.volume, volume, epsilon = 1e-10, max_relative = 1e-12);
        assert_relative_eq!(found.area, area, epsilon = 1e-10, max_relative = 1e-12);
    }

    #[test]
    fn a_ball_inside_bone_is_all_bone() {
        check_ball([1.0, 2.0, 3.0], 2.0, 4.0 / 3.0 * PI * 8.0, 4.0 * PI * 4.0);
    }

    #[test]
    fn a_ball_outside_touches_none() {
        check_ball([0.0, 0.0, 13.0], 2.0, 0.0, 0.0);
        check_ball([11.5, 11.5, 11.5], 2.0, 0.0, 0.0);
    }

    #[test]
    fn a_ball_around_the_bone_holds_it_whole() {
        check_ball([1.0, 0.0, -1.0], 40.0, 8000.0, 0.0);
    }

    #[test]
    fn a_ball_centred_on_a_face_edge_or_corner_is_a_half_a_quarter_an_eighth_bone() {
        let (volume, area) = (4.0 / 3.0 * PI * 27.0, 4.0 * PI * 9.0);
        check_ball([0.5, -0.25, 10.0], 3.0, volume / 2.0, area / 2.0);
        check_ball([0.0, 10.0, 10.0], 3.0, volume / 4.0, area / 4.0);
        check_ball([10.0, 10.0, 10.0], 3.0, volume / 8.0, area / 8.0);
    }

    #[test]
    fn a_centre_beside_the_face_gives_the_value_of_the_face() {
        for off in [1e-15, 1e-12, 1e-9, 2e-6] {
            for sign in [-1.0, 1.0] {
                let b = Ball::new(Point3::new(0.5, -0.25, 10.0 + sign * off), 3.0).unwrap();
                let expected = 2.0 * PI * 9.0 - sign * off * TAU * 3.0;
                assert_relative_eq!(ball(&cube(20.0), &b).area, expected, max_relative = 1e-13);
            }
        }
    }

    #[test]
    fn a_ball_that_pokes_through_a_face_is_short_of_a_cap() {
        // A cap of height 1 of a ball of radius 3: π h² (3r − h) / 3, and 2π r h.
        let (volume, area) = (4.0 / 3.0 * PI * 27.0, 4.0 * PI * 9.0);
        check_ball(
            [0.0, 0.0, 8.0],
            3.0,
            volume - PI * 8.0 / 3.0,
            area - TAU * 3.0,
        );
        check_ball([0.0, 0.0, 7.0], 3.0, volume, area);
    }

    #[test]
    fn vertices_and_edges_on_the_sphere_do_no_harm() {
        // The corners of the cube lie on a sphere of radius 10√3, its edges touch one of 10√2.
        let around = ball(
            &cube(20.0),
            &Ball::new(Point3::origin(), 300.0_f64.sqrt()).unwrap(),
        );
        assert_relative_eq!(around.volume, 8000.0, max_relative = 1e-12);
        assert!(around.area.abs() < 1e-9);
        let (r, h) = (200.0_f64.sqrt(), 200.0_f64.sqrt() - 10.0);
        let six_caps = 6.0 * PI * h * h * (3.0 * r - h) / 3.0;
        check_ball(
            [0.0; 3],
            r,
            4.0 / 3.0 * PI * r.powi(3) - six_caps,
            4.0 * PI * r * r - 6.0 * TAU * r * h,
        );
    }

    #[test]
    fn half_a_ball_inside_bone_is_half_a_ball() {
        let within = hemisphere(&cube(20.0), &tool([1.0, 0.0, 0.0], [1.0, 2.0, 3.0], 4.0));
        assert_relative_eq!(within.volume, TAU / 3.0 * 64.0, max_relative = 1e-13);
        assert_relative_eq!(within.area, TAU * 16.0, max_relative = 1e-13);
    }

    #[test]
    fn a_half_ball_flush_with_a_face_is_whole_and_turned_over_is_nothing() {
        let flush = hemisphere(&cube(20.0), &tool([0.0, 0.0, 10.0], [0.0, 0.0, 1.0], 4.0));
        assert_relative_eq!(flush.area, TAU * 16.0, max_relative = 1e-13);
        let over = hemisphere(&cube(20.0), &tool([0.0, 0.0, 10.0], [0.0, 0.0, -1.0], 4.0));
        assert!(over.volume.abs() < 1e-12 && over.area.abs() < 1e-12);
    }

    #[test]
    fn two_half_balls_make_the_ball() {
        let solid = Solid::try_from(samples::lumpy_ball(25.0, 0.2, 40, 25)).unwrap();
        let (centre, axis) = ([9.0, -4.0, 12.0], Vector3::new(0.2, 0.9, 0.4));
        let half = |axis: Vector3<f64>| hemisphere(&solid, &tool(centre, axis.into(), 14.0));
        let whole = ball(&solid, &Ball::new(centre.into(), 14.0).unwrap());
        assert_relative_eq!(
            half(axis).volume + half(-axis).volume,
            whole.volume,
            max_relative = 1e-13
        );
        assert_relative_eq!(
            half(axis).area + half(-axis).area,
            whole.area,
            max_relative = 1e-13
        );
    }

    #[test]
    fn sectors_add_up_to_the_half_ball_whichever_way_round() {
        let solid = Solid::try_from(samples::lumpy_ball(25.0, 0.2, 40, 25)).unwrap();
        let tool = tool([12.0, -4.0, 12.0], [0.0, 0.0, 1.0], 14.0);
        let direction = |k: u32| {
            Vector3::new(
                (f64::from(k) * TAU / 7.0).cos(),
                (f64::from(k) * TAU / 7.0).sin(),
                0.3,
            )
        };
        let around: Vec<_> = (0..7).map(direction).collect();
        let parts = sectors(&solid, &tool, &around);
        let whole = hemisphere(&solid, &tool);
        assert_relative_eq!(
            parts.iter().map(|p| p.area).sum::<f64>(),
            whole.area,
            max_relative = 1e-12
        );
        assert_relative_eq!(
            parts.iter().map(|p| p.volume).sum::<f64>(),
            whole.volume,
            max_relative = 1e-12
        );
        let backward: Vec<_> = around.iter().rev().copied().collect();
        let turned = sectors(&solid, &tool, &backward);
        assert_relative_eq!(turned[0].area, parts[5].area, max_relative = 1e-12);
    }

    #[test]
    fn a_sector_flush_with_a_face_holds_its_share_of_the_half_ball() {
        let around = [Vector3::x(), Vector3::y(), -Vector3::x(), -Vector3::y()];
        let flush = tool([0.0, 0.0, 10.0], [0.0, 0.0, 1.0], 4.0);
        for part in sectors(&cube(20.0), &flush, &around) {
            assert_relative_eq!(part.area, TAU * 4.0, max_relative = 1e-13);
        }
    }
}
