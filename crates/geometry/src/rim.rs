//! Where a circle runs through bone: the contact of a cup's rim, the profile along its surface.

use std::f64::consts::TAU;

use nalgebra::{Vector2, Vector3};

use crate::Solid;
use crate::loops::on_plane;
use crate::patches::{Flux, Reach, Walk};
use crate::shape::Circle;

/// The arcs of a circle that lie in bone.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Arcs {
    arcs: Vec<[f64; 2]>,
}

impl Arcs {
    /// Start and end of each arc in radians from the circle's start, ascending; starts lie in
    /// [0, 2π), and an end exceeds 2π where the arc runs past the start. A circle wholly in bone
    /// has the one arc from 0 to 2π.
    pub fn intervals(&self) -> &[[f64; 2]] {
        &self.arcs
    }

    /// Share of the circle that lies in bone, 0 to 1.
    pub fn share(&self) -> f64 {
        self.arcs
            .iter()
            .fold(0.0, |sum, [start, end]| sum + (end - start))
            / TAU
    }

    /// The arcs between those in bone, told in the same way.
    #[must_use]
    pub fn gaps(&self) -> Self {
        let Some((first, last)) = self.arcs.first().zip(self.arcs.last()) else {
            return Self {
                arcs: vec![[0.0, TAU]],
            };
        };
        let between = self.arcs.windows(2).map(|pair| [pair[0][1], pair[1][0]]);
        let closing = [last[1], first[0] + TAU];
        let gaps = between.chain([closing]).filter(|[start, end]| start < end);
        let mut arcs: Vec<_> = gaps
            .map(|[a, b]| if a >= TAU { [a - TAU, b - TAU] } else { [a, b] })
            .collect();
        arcs.sort_by(|a, b| a[0].total_cmp(&b[0]));
        Self { arcs }
    }

    /// Whether the point at `angle` radians lies on one of the arcs.
    pub fn contains(&self, angle: f64) -> bool {
        let angle = angle.rem_euclid(TAU);
        self.arcs.iter().any(|&[start, end]| {
            (start..=end).contains(&angle) || (start..=end).contains(&(angle + TAU))
        })
    }
}

/// The arcs of `circle` that lie in bone, exact up to rounding.
///
/// Each triangle that crosses the circle's plane gives a segment; where it crosses the circle the
/// bone begins or ends. A circle that only touches the surface does not cross it.
///
/// ```
/// # use cupwright_geometry::*;
/// # use nalgebra::{Point3, Vector3};
/// let block = Solid::try_from(samples::cuboid([100.0, 100.0, 100.0]))?;
/// // About a point of the face x = 50, half of a circle runs in the block.
/// let circle = Circle::new(Point3::new(50.0, 0.0, 0.0), 20.0, Vector3::x(), Vector3::y())?;
/// let arcs = rim::arcs_inside(&block, &circle);
/// assert!((arcs.share() - 0.5).abs() < 1e-12);
/// assert!(arcs.contains(std::f64::consts::PI) && !arcs.contains(0.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn arcs_inside(solid: &Solid, circle: &Circle) -> Arcs {
    let mut crossings = crossings(solid, circle);
    crossings.sort_by(|a, b| a.angle.total_cmp(&b.angle).then(b.step.cmp(&a.step)));
    let mut depth = depth_at_start(&crossings, |angle| solid.winding(&circle.point(angle)));
    let starts_inside = depth > 0;
    // The angles where bone begins and ends in turn.
    let mut turns = Vec::new();
    for crossing in &crossings {
        let before = depth > 0;
        depth += crossing.step;
        if before != (depth > 0) {
            turns.push(crossing.angle);
        }
    }
    if starts_inside {
        if turns.is_empty() {
            return Arcs {
                arcs: vec![[0.0, TAU]],
            };
        }
        let end_of_first = turns.remove(0);
        turns.push(end_of_first + TAU);
    }
    let arcs = turns.chunks_exact(2).map(|pair| [pair[0], pair[1]]);
    Arcs {
        arcs: arcs.filter(|[start, end]| end > start).collect(),
    }
}

/// A place where the circle passes through the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Crossing {
    pub(crate) angle: f64,
    /// +1 where the circle passes into bone with growing angle, −1 where it passes out.
    pub(crate) step: i32,
}

/// How much of a circle lies in bone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Around {
    /// The angle in bone, in radians.
    pub(crate) in_bone: f64,
    /// The same, counted as often as bone overlaps itself there.
    pub(crate) layers: f64,
}

/// How much of a circle lies in bone, from where it passes in and out and the layers at an angle.
pub(crate) fn around(crossings: &mut [Crossing], depth: impl Fn(f64) -> i32) -> Around {
    crossings.sort_unstable_by(|a, b| a.angle.total_cmp(&b.angle).then(b.step.cmp(&a.step)));
    let mut depth = depth_at_start(crossings, depth);
    let mut around = Around::default();
    let mut start = 0.0;
    let mut pass = |from: f64, to: f64, depth: i32| {
        around.layers += f64::from(depth) * (to - from);
        around.in_bone += if depth > 0 { to - from } else { 0.0 };
    };
    for crossing in crossings.iter() {
        pass(start, crossing.angle, depth);
        depth += crossing.step;
        start = crossing.angle;
    }
    pass(start, TAU, depth);
    around
}

fn crossings(solid: &Solid, circle: &Circle) -> Vec<Crossing> {
    let rounding = solid.patches().rounding(&circle.centre(), circle.radius());
    let mut near = Near {
        solid,
        circle,
        normal: circle.normal(),
        rounding,
        found: Vec::new(),
    };
    solid.walk(&mut near);
    near.found
}

/// The triangles near a circle, and what they cross of it.
struct Near<'a> {
    solid: &'a Solid,
    circle: &'a Circle,
    normal: Vector3<f64>,
    rounding: f64,
    found: Vec<Crossing>,
}

impl Walk for Near<'_> {
    fn enters(&mut self, patch: &Reach, _: &Flux) -> bool {
        let (x, radius) = (patch.centre - self.circle.centre(), self.circle.radius());
        let height = x.dot(&self.normal);
        let reach = patch.radius + self.rounding;
        let across = x.norm_squared() - height * height;
        height.abs() <= reach
            && across <= (radius + reach).powi(2)
            && (radius <= reach || across >= (radius - reach).powi(2))
    }

    fn triangle(&mut self, index: u32) {
        let crossings = triangle_crossings(self.solid, index, self.circle);
        self.found.extend(crossings);
    }
}

fn triangle_crossings(
    solid: &Solid,
    triangle: u32,
    circle: &Circle,
) -> impl Iterator<Item = Crossing> {
    let [first, quarter] = circle.directions();
    let normal = circle.normal();
    let indices = solid.mesh().triangles()[triangle as usize];
    let local = solid.mesh().corners(triangle as usize).map(|p| {
        let x = p - circle.centre();
        Vector3::new(x.dot(&first), x.dot(&quarter), x.dot(&normal))
    });
    let segment = on_plane(indices, &local).into_iter();
    segment.flat_map(move |[from, to]| segment_crossings(from.xy(), to.xy(), circle.radius()))
}

/// Where a segment with bone on its left crosses the circle of `radius` about the origin.
fn segment_crossings(
    from: Vector2<f64>,
    to: Vector2<f64>,
    radius: f64,
) -> impl Iterator<Item = Crossing> {
    let inside = |p: &Vector2<f64>| p.norm_squared() < radius * radius;
    let along = to - from;
    let (a, b, c) = (
        along.norm_squared(),
        from.dot(&along),
        from.norm_squared() - radius * radius,
    );
    let root = (b * b - a * c).max(0.0).sqrt();
    let at = |t: f64| {
        let p = from + along * t.clamp(0.0, 1.0);
        p.y.atan2(p.x).rem_euclid(TAU)
    };
    let q = -(b + root.copysign(b));
    let roots = [q / a, c / q];
    let (enter, leave) = (roots[0].min(roots[1]), roots[0].max(roots[1]));
    // Going outward across the circle with bone on the left, growing angles pass into bone.
    let out = |t: f64| Crossing {
        angle: at(t),
        step: 1,
    };
    let inward = |t: f64| Crossing {
        angle: at(t),
        step: -1,
    };
    let found = match (inside(&from), inside(&to)) {
        (true, true) => [None, None],
        (true, false) => [Some(out(leave)), None],
        (false, true) => [Some(inward(enter)), None],
        (false, false) if root > 0.0 && b < 0.0 && -b < a => {
            [Some(inward(enter)), Some(out(leave))]
        }
        (false, false) => [None, None],
    };
    found
        .into_iter()
        .flatten()
        .filter(|crossing| crossing.angle.is_finite())
}

/// How many layers of bone enclose the circle's start, asked in the middle of its widest arc.
///
/// The crossings must be in order; `depth` tells how many layers there are at an angle.
fn depth_at_start(crossings: &[Crossing], depth: impl Fn(f64) -> i32) -> i32 {
    let closing = crossings.first().map(|c| c.angle + TAU);
    let ends = crossings.iter().skip(1).map(|c| c.angle).chain(closing);
    let arcs = crossings.iter().map(|c| c.angle).zip(ends).enumerate();
    let widest = arcs.max_by(|(_, a), (_, b)| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
    let Some((index, (start, end))) = widest else {
        // Of three points at most one is where the circle touches a wall.
        let mut depths = [0.0, 1.0, 2.0].map(|k| depth(k * TAU / 3.0));
        depths.sort_unstable();
        return depths[1];
    };
    let there = depth((start + end) / 2.0);
    there - crossings[..=index].iter().map(|c| c.step).sum::<i32>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use approx::assert_relative_eq;
    use nalgebra::Point3;
    use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

    fn cube() -> Solid {
        Solid::try_from(samples::cuboid([20.0; 3])).unwrap()
    }

    fn flat(centre: [f64; 3], radius: f64) -> Circle {
        Circle::new(centre.into(), radius, Vector3::x(), Vector3::y()).unwrap()
    }

    #[track_caller]
    fn check(centre: [f64; 3], radius: f64, expected: &[[f64; 2]]) {
        let found = arcs_inside(&cube(), &flat(centre, radius));
        assert_eq!(found.intervals().len(), expected.len(), "{found:?}");
        for (found, expected) in found.intervals().iter().zip(expected) {
            assert_relative_eq!(found[0], expected[0], epsilon = 1e-12);
            assert_relative_eq!(found[1], expected[1], epsilon = 1e-12);
        }
    }

    #[test]
    fn a_circle_in_bone_is_one_arc_and_one_outside_none() {
        check([1.0, 2.0, 3.0], 4.0, &[[0.0, TAU]]);
        check([1.0, 2.0, 11.0], 4.0, &[]);
        check([0.0, 0.0, 0.0], 15.0, &[]);
    }

    #[test]
    fn a_circle_about_a_face_is_half_in_bone() {
        check([10.0, 0.0, 1.0], 4.0, &[[FRAC_PI_2, 1.5 * PI]]);
        check([-10.0, 0.0, 1.0], 4.0, &[[1.5 * PI, TAU + FRAC_PI_2]]);
    }

    #[test]
    fn a_circle_through_four_walls_has_four_arcs() {
        // Each wall is crossed 30° to either side of its middle.
        let radius = 10.0 / (PI / 6.0).cos();
        let arc = |k: f64| {
            [
                FRAC_PI_4 * (2.0 * k + 1.0) - PI / 12.0,
                FRAC_PI_4 * (2.0 * k + 1.0) + PI / 12.0,
            ]
        };
        check(
            [0.0, 0.0, 0.0],
            radius,
            &[arc(0.0), arc(1.0), arc(2.0), arc(3.0)],
        );
    }

    #[test]
    fn a_circle_in_the_plane_of_a_face_belongs_to_one_side_of_it() {
        for z in [10.0, -10.0] {
            let share = arcs_inside(&cube(), &flat([0.0, 0.0, z], 4.0)).share();
            assert!(share.to_bits() == 0.0_f64.to_bits() || share.to_bits() == 1.0_f64.to_bits());
        }
    }

    #[test]
    fn a_circle_that_touches_a_wall_from_inside_stays_inside() {
        check([5.0, 0.0, 0.0], 5.0, &[[0.0, TAU]]);
        check([15.0, 0.0, 0.0], 5.0, &[]);
    }

    #[test]
    fn gaps_complete_the_circle() {
        let arcs = Arcs {
            arcs: vec![[0.5, 1.0], [6.0, 6.5]],
        };
        assert_eq!(arcs.gaps().intervals().len(), 2);
        assert_relative_eq!(
            arcs.share() + arcs.gaps().share(),
            1.0,
            max_relative = 1e-15
        );
        assert!(arcs.contains(0.1) && !arcs.contains(0.3) && arcs.gaps().contains(0.3));
        assert_relative_eq!(Arcs::default().gaps().share(), 1.0);
        assert_relative_eq!(
            Arcs {
                arcs: vec![[0.0, TAU]]
            }
            .gaps()
            .share(),
            0.0
        );
    }

    #[test]
    fn the_share_agrees_with_counting_points_along_the_circle() {
        let solid = Solid::try_from(samples::lumpy_ball(25.0, 0.2, 40, 25)).unwrap();
        let centre = Point3::new(14.0, -9.0, 13.0);
        let circle = Circle::new(centre, 17.0, Vector3::new(0.3, 1.0, 0.2), Vector3::z()).unwrap();
        let arcs = arcs_inside(&solid, &circle);
        let angles: Vec<f64> = (0..20_000)
            .map(|k| TAU * (f64::from(k) + 0.5) / 20_000.0)
            .collect();
        let inside = |angle: &f64| solid.winding(&circle.point(*angle)) > 0;
        assert!(
            angles
                .iter()
                .all(|angle| inside(angle) == arcs.contains(*angle))
        );
        assert!(arcs.share() > 0.1 && arcs.share() < 0.9);
    }
}
