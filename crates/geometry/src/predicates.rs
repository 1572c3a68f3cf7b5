//! Exact signs (adaptive precision, Shewchuk 1997): neighbours never disagree about a point.

use std::cmp::Ordering;

use nalgebra::Point3;
use robust::{Coord, Coord3D};

/// On which side of the line from `a` to `b` the point `p` lies, all seen along the z axis:
/// `Greater` to the left, `Equal` on the line.
pub(crate) fn side_of_line(a: &Point3<f64>, b: &Point3<f64>, p: &Point3<f64>) -> Ordering {
    let flat = |q: &Point3<f64>| Coord { x: q.x, y: q.y };
    sign(robust::orient2d(flat(a), flat(b), flat(p)))
}

/// On which side of a triangle's plane the point `p` lies: `Greater` on the side its normal
/// points away from (behind it), `Equal` on the plane.
pub(crate) fn side_of_plane(corners: &[Point3<f64>; 3], p: &Point3<f64>) -> Ordering {
    let [a, b, c] = corners.map(|q| Coord3D {
        x: q.x,
        y: q.y,
        z: q.z,
    });
    sign(robust::orient3d(
        a,
        b,
        c,
        Coord3D {
            x: p.x,
            y: p.y,
            z: p.z,
        },
    ))
}

fn sign(value: f64) -> Ordering {
    value.partial_cmp(&0.0).unwrap_or(Ordering::Equal)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_origin_is_behind_a_triangle_whose_normal_points_away_from_it() {
        let up = [
            Point3::new(0.0, 0.0, 1.0),
            Point3::new(1.0, 0.0, 1.0),
            Point3::new(0.0, 1.0, 1.0),
        ];
        assert_eq!(side_of_plane(&up, &Point3::origin()), Ordering::Greater);
        assert_eq!(
            side_of_plane(&up, &Point3::new(9.0, 9.0, 1.0)),
            Ordering::Equal
        );
    }

    #[test]
    fn a_point_one_bit_off_a_line_is_told_from_one_on_it() {
        let (a, b) = (Point3::new(0.5, 0.5, 0.0), Point3::new(12.0, 12.0, 0.0));
        let off = Point3::new(24.0, 24.0_f64.next_up(), 0.0);
        assert_eq!(
            side_of_line(&a, &b, &Point3::new(24.0, 24.0, 0.0)),
            Ordering::Equal
        );
        assert_eq!(side_of_line(&a, &b, &off), Ordering::Greater);
    }
}
