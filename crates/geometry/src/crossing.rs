//! Where a straight line passes through the surface of the bone.

use nalgebra::{Matrix3, Point3, UnitVector3, Vector3};

use crate::shape::{Bullet, perpendicular};
use crate::{Bounds, Solid, winding};

/// A place where a line passes through the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Distance from the line's origin, in mm.
    pub distance: f64,
    /// The triangle it passes through.
    pub triangle: u32,
    /// Whether it passes out of bone (else into it).
    pub leaves: bool,
}

/// Every place where a ray passes through the surface, nearest first.
///
/// A ray through an edge or a vertex passes through one of its triangles only.
pub fn along_ray(
    solid: &Solid,
    origin: &Point3<f64>,
    direction: &UnitVector3<f64>,
) -> Vec<Crossing> {
    let slabs = Slabs::of(solid, origin, direction);
    let meets = |b: &Bounds| slabs.meet(b);
    let (first, second) = perpendicular(direction);
    let rows = [first, second, *direction].map(|row| row.into_inner().transpose());
    let along = Matrix3::from_rows(&rows);
    let candidates = solid.tree().triangles_where(meets);
    let mut found: Vec<_> = candidates
        .into_iter()
        .filter_map(|t| at(solid, t, origin, &along))
        .collect();
    found.sort_by(|a, b| {
        a.distance
            .total_cmp(&b.distance)
            .then(a.triangle.cmp(&b.triangle))
    });
    found
}

/// The intervals of a ray that lie in bone, as distances from its origin in mm, nearest first.
///
/// The first begins at 0 when the origin lies in bone.
///
/// ```
/// # use cupwright_geometry::*;
/// # use nalgebra::{Point3, Vector3};
/// let block = Solid::try_from(samples::cuboid([100.0, 100.0, 100.0]))?;
/// let from = Point3::new(-70.0, 1.0, 2.0);
/// let inside = crossing::intervals_inside(&block, &from, &Vector3::x_axis());
/// assert_eq!(inside.len(), 1);
/// assert!((inside[0][1] - inside[0][0] - 100.0).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn intervals_inside(
    solid: &Solid,
    origin: &Point3<f64>,
    direction: &UnitVector3<f64>,
) -> Vec<[f64; 2]> {
    let crossings = along_ray(solid, origin, direction);
    // Beyond the last crossing there is no bone: count the layers from there.
    let net: i32 = crossings
        .iter()
        .map(|c| if c.leaves { 1 } else { -1 })
        .sum();
    let (mut depth, mut start, mut intervals) = (net, 0.0, Vec::new());
    for crossing in crossings {
        let before = depth;
        depth += if crossing.leaves { -1 } else { 1 };
        if before <= 0 && depth > 0 {
            start = crossing.distance;
        } else if before > 0 && depth <= 0 {
            intervals.push([start, crossing.distance]);
        }
    }
    intervals
}

/// The intervals of a ray that lie in bone and in none of the bullets: the bone that reamers left.
///
/// Told as by [`intervals_inside`]. An interval that begins or ends on a reamer's wall does so at
/// the same distance as [`Bullet::along`] tells, to the bit.
pub fn intervals_left(
    solid: &Solid,
    bullets: &[Bullet],
    origin: &Point3<f64>,
    direction: &UnitVector3<f64>,
) -> Vec<[f64; 2]> {
    let inside = intervals_inside(solid, origin, direction);
    without(&inside, bullets, origin, direction)
}

/// What bullets leave of the intervals of a ray, which are ascending and apart.
pub fn without(
    intervals: &[[f64; 2]],
    bullets: &[Bullet],
    origin: &Point3<f64>,
    direction: &UnitVector3<f64>,
) -> Vec<[f64; 2]> {
    let mut left = intervals.to_vec();
    let taken = bullets.iter().filter_map(|b| b.along(origin, direction));
    for [enter, leave] in taken {
        let parts = left
            .iter()
            .flat_map(|&[start, end]| [[start, end.min(enter)], [start.max(leave), end]]);
        left = parts.filter(|[start, end]| start < end).collect();
    }
    left
}

/// The crossing of a triangle by the ray from `origin` along the last row of `frame`.
fn at(
    solid: &Solid,
    triangle: u32,
    origin: &Point3<f64>,
    frame: &Matrix3<f64>,
) -> Option<Crossing> {
    let corners = solid.mesh().corners(triangle as usize);
    let seen = corners.map(|p| Point3::from(frame * (p - origin)));
    let turns = winding::turns(&seen, &Point3::origin());
    if turns == 0 {
        return None;
    }
    let normal = (seen[1] - seen[0]).cross(&(seen[2] - seen[0]));
    let distance = normal.dot(&seen[0].coords) / normal.z;
    (distance >= 0.0).then_some(Crossing {
        distance,
        triangle,
        leaves: turns > 0,
    })
}

/// A ray that is asked for the boxes it meets.
struct Slabs {
    origin: Point3<f64>,
    reciprocal: Vector3<f64>,
    /// Boxes are made larger by this against rounding.
    margin: f64,
}

impl Slabs {
    fn of(solid: &Solid, origin: &Point3<f64>, direction: &Vector3<f64>) -> Self {
        let whole = solid.tree().bounds();
        let farthest = whole.min.coords.amax().max(whole.max.coords.amax());
        // A direction along a slab never leaves it and never comes to it: a reciprocal so large that it
        // tells both, but no infinity, which would make a nought of a margin into no number.
        let reciprocal = |c: f64| {
            if c.abs() < f64::MIN_POSITIVE {
                f64::MAX.sqrt()
            } else {
                1.0 / c
            }
        };
        Self {
            origin: *origin,
            reciprocal: direction.map(reciprocal),
            margin: 1e-9 * (farthest + origin.coords.amax() + 1.0),
        }
    }

    fn meet(&self, b: &Bounds) -> bool {
        let (mut enter, mut leave) = (0.0_f64, f64::INFINITY);
        for k in 0..3 {
            let low = (b.min[k] - self.margin - self.origin[k]) * self.reciprocal[k];
            let high = (b.max[k] + self.margin - self.origin[k]) * self.reciprocal[k];
            enter = enter.max(low.min(high));
            leave = leave.min(low.max(high));
        }
        enter <= leave
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use approx::assert_relative_eq;

    #[test]
    fn a_ray_through_a_box_is_inside_from_face_to_face() {
        let solid = Solid::try_from(samples::cuboid([2.0, 4.0, 6.0])).unwrap();
        let from = Point3::new(-5.0, 0.3, 0.2);
        let inside = intervals_inside(&solid, &from, &Vector3::x_axis());
        assert_eq!(inside.len(), 1);
        assert_relative_eq!(inside[0][0], 4.0, max_relative = 1e-14);
        assert_relative_eq!(inside[0][1], 6.0, max_relative = 1e-14);
    }

    #[test]
    fn a_ray_from_inside_begins_inside() {
        let solid = Solid::try_from(samples::cuboid([2.0, 4.0, 6.0])).unwrap();
        let inside = intervals_inside(&solid, &Point3::origin(), &Vector3::y_axis());
        assert_eq!(inside.len(), 1);
        assert_relative_eq!(inside[0][0], 0.0);
        assert_relative_eq!(inside[0][1], 2.0, max_relative = 1e-14);
    }

    #[test]
    fn no_ray_slips_through_an_edge_or_vertex() {
        let solid = Solid::try_from(samples::sphere(10.0, 3)).unwrap();
        let from = Point3::origin();
        let toward = |p: &Point3<f64>| UnitVector3::new_normalize(p - from);
        for t in 0..solid.mesh().triangles().len() {
            let [a, b, _] = solid.mesh().corners(t);
            for target in [a, nalgebra::center(&a, &b)] {
                assert_eq!(
                    intervals_inside(&solid, &from, &toward(&target)).len(),
                    1,
                    "triangle {t}"
                );
            }
        }
    }

    #[test]
    fn a_hollow_ball_has_two_walls() {
        let hollow = samples::sphere(10.0, 3).joined(&samples::sphere(5.0, 3).reversed());
        let solid = Solid::try_from(hollow).unwrap();
        let along = UnitVector3::new_normalize(Vector3::new(0.3, 0.2, 1.0));
        let through = intervals_inside(
            &solid,
            &(Point3::origin() - 20.0 * along.into_inner()),
            &along,
        );
        assert_eq!(through.len(), 2);
        assert!(
            intervals_inside(&solid, &Point3::new(0.0, 30.0, 0.0), &Vector3::z_axis()).is_empty()
        );
    }
    fn bullet(centre: [f64; 3], axis: Vector3<f64>, radius: f64) -> Bullet {
        Bullet::half_ball(crate::Hemisphere::new(centre.into(), axis, radius).unwrap())
    }

    #[test]
    fn bullets_leave_the_bone_before_between_and_behind_them() {
        let solid = Solid::try_from(samples::cuboid([40.0; 3])).unwrap();
        let from = Point3::new(-30.0, 0.0, -1e-9);
        let left = |bullets: &[Bullet]| intervals_left(&solid, bullets, &from, &Vector3::x_axis());
        let at = |x: f64| bullet([x, 0.0, 0.0], Vector3::z(), 3.0);
        assert_eq!(left(&[]), [[10.0, 50.0]]);
        let [first, second] = [at(-10.0), at(5.0)];
        let between = left(&[second, first]);
        let expected = [[10.0, 17.0], [23.0, 32.0], [38.0, 50.0]];
        assert_eq!(between.len(), 3);
        for (found, expected) in between.iter().flatten().zip(expected.iter().flatten()) {
            assert_relative_eq!(found, expected, max_relative = 1e-9);
        }
        // Overlapping ones, one past the near face, and one that takes all.
        assert_eq!(left(&[first, at(-7.5), first]).len(), 2);
        assert_relative_eq!(left(&[at(-18.0)])[0][0], 15.0, max_relative = 1e-9);
        let all = bullet([0.0; 3], Vector3::z(), 50.0);
        assert!(left(&[first, all]).is_empty());
    }

    #[test]
    fn what_a_bullet_leaves_and_takes_is_the_bone_there_was() {
        let lumpy = samples::lumpy_ball(25.0, 0.2, 40, 20);
        let hollow = lumpy.joined(&samples::sphere(9.0, 3).reversed());
        let solid = Solid::try_from(hollow).unwrap();
        let reamers = [
            bullet([14.0, -6.0, 12.0], Vector3::new(0.6, -0.2, 0.9), 12.0),
            bullet([15.0, -4.0, 13.0], Vector3::new(0.7, -0.1, 0.8), 11.0),
        ];
        let from = Point3::new(13.0, -5.0, 11.0);
        let inside_one = |t: f64, toward: &UnitVector3<f64>| {
            let at = from + toward.into_inner() * t;
            reamers.iter().any(|b| b.signed_distance(&at) < 0.0)
        };
        let mut differ = 0;
        for k in 0..300 {
            let (u, v) = (f64::from(k) * 2.4, f64::from(k) / 150.0 - 1.0);
            let flat = (1.0 - v * v).sqrt();
            let toward = Vector3::new(flat * u.cos(), flat * u.sin(), v);
            let toward = UnitVector3::new_normalize(toward);
            let before = intervals_inside(&solid, &from, &toward);
            let after = intervals_left(&solid, &reamers, &from, &toward);
            differ += u32::from(before != after);
            let within = |all: &[[f64; 2]], t: f64| all.iter().any(|[a, b]| *a < t && t < *b);
            for t in (0..400).map(|k| 0.1037 * f64::from(k) + 0.05) {
                let expected = within(&before, t) && !inside_one(t, &toward);
                assert_eq!(within(&after, t), expected, "{t} toward {toward:?}");
            }
        }
        assert!(differ > 100, "{differ}");
    }
}
