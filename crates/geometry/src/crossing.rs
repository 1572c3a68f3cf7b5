//! Where a straight line passes through the surface of the bone.

use nalgebra::{Matrix3, Point3, UnitVector3, Vector3};

use crate::shape::perpendicular;
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
    let reciprocal = direction.map(|c| 1.0 / c);
    let meets = |b: &Bounds| meets_box(b, origin, direction, &reciprocal);
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

/// Whether a ray meets a box, made a little larger against rounding (slab test).
fn meets_box(
    b: &Bounds,
    origin: &Point3<f64>,
    direction: &Vector3<f64>,
    reciprocal: &Vector3<f64>,
) -> bool {
    let (mut enter, mut leave) = (0.0_f64, f64::INFINITY);
    for k in 0..3 {
        let margin = 1e-9 * (b.max[k].abs().max(b.min[k].abs()) + origin[k].abs() + 1.0);
        let (low, high) = (b.min[k] - margin - origin[k], b.max[k] + margin - origin[k]);
        if direction[k].abs() < f64::MIN_POSITIVE {
            if low > 0.0 || high < 0.0 {
                return false;
            }
            continue;
        }
        let (a, z) = (low * reciprocal[k], high * reciprocal[k]);
        enter = enter.max(a.min(z));
        leave = leave.min(a.max(z));
    }
    enter <= leave
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
}
