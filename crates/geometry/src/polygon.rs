//! A triangle and what clipping by planes leaves of it.

use nalgebra::Vector3;

/// Three corners and one more for each plane that can clip them.
const CAPACITY: usize = 10;

/// A convex plane polygon, its corners in order, seen from the middle of a tool.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Polygon {
    corners: [Vector3<f64>; CAPACITY],
    count: usize,
    normal: Vector3<f64>,
    height: f64,
}

impl Polygon {
    /// The triangle as a polygon; `None` when it is a mere line or point.
    pub(crate) fn triangle([a, b, c]: [Vector3<f64>; 3]) -> Option<Self> {
        let area_vector = (b - a).cross(&(c - a));
        let normal = area_vector.try_normalize(0.0)?;
        let mut corners = [Vector3::zeros(); CAPACITY];
        corners[..3].copy_from_slice(&[a, b, c]);
        Some(Self {
            corners,
            count: 3,
            normal,
            height: normal.dot(&a),
        })
    }

    /// The corners in order; none when everything was clipped away.
    pub(crate) fn corners(&self) -> &[Vector3<f64>] {
        &self.corners[..self.count]
    }

    /// The directed edges.
    pub(crate) fn edges(&self) -> impl Iterator<Item = (Vector3<f64>, Vector3<f64>)> + '_ {
        let next = self.corners().iter().cycle().skip(1);
        self.corners().iter().copied().zip(next.copied())
    }

    /// The outward unit normal.
    pub(crate) fn normal(&self) -> Vector3<f64> {
        self.normal
    }

    /// Distance of the plane from the origin along the normal.
    pub(crate) fn height(&self) -> f64 {
        self.height
    }

    /// Distance of the farthest corner from the origin, squared.
    pub(crate) fn reach_squared(&self) -> f64 {
        self.corners()
            .iter()
            .map(Vector3::norm_squared)
            .fold(0.0, f64::max)
    }

    /// What is left on the side of a plane where `direction · x ≤ offset`.
    ///
    /// A crossing is computed from the end that is kept toward the one that is dropped, so that
    /// the two triangles at an edge find the same point, bit for bit.
    pub(crate) fn clipped(&self, direction: &Vector3<f64>, offset: f64) -> Self {
        let mut left = Self { count: 0, ..*self };
        let depth = |p: &Vector3<f64>| direction.dot(p) - offset;
        for (from, to) in self.edges() {
            let (d0, d1) = (depth(&from), depth(&to));
            if d0 <= 0.0 {
                left.push(from);
                if d0 < 0.0 && d1 > 0.0 {
                    left.push(from + (to - from) * (d0 / (d0 - d1)));
                }
            } else if d1 < 0.0 {
                left.push(to + (from - to) * (d1 / (d1 - d0)));
            }
        }
        left
    }

    fn push(&mut self, corner: Vector3<f64>) {
        debug_assert!(
            self.count < CAPACITY,
            "a triangle met more planes than it has room for"
        );
        if self.count < CAPACITY {
            self.corners[self.count] = corner;
            self.count += 1;
        }
    }

    /// Signed solid angle at the origin: positive when the normal points away from it.
    ///
    /// Fan of triangles after van Oosterom & Strackee 1983, IEEE Trans Biomed Eng 30:125.
    pub(crate) fn solid_angle(&self) -> f64 {
        let corners = self.corners();
        let Some((a, rest)) = corners.split_first() else {
            return 0.0;
        };
        rest.windows(2)
            .map(|pair| triangle_solid_angle(a, &pair[0], &pair[1]))
            .sum()
    }

    /// Area, in the square of the unit of length.
    pub(crate) fn area(&self) -> f64 {
        let corners = self.corners();
        let Some((a, rest)) = corners.split_first() else {
            return 0.0;
        };
        let twice = |pair: &[Vector3<f64>]| self.normal.dot(&(pair[0] - a).cross(&(pair[1] - a)));
        0.5 * rest.windows(2).map(twice).sum::<f64>()
    }
}

fn triangle_solid_angle(a: &Vector3<f64>, b: &Vector3<f64>, c: &Vector3<f64>) -> f64 {
    let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
    let det = a.dot(&b.cross(c));
    2.0 * det.atan2(la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use std::f64::consts::PI;

    fn octant() -> Polygon {
        Polygon::triangle([Vector3::x(), Vector3::y(), Vector3::z()]).unwrap()
    }

    #[test]
    fn the_face_of_an_octahedron_fills_an_eighth_of_the_view() {
        assert_relative_eq!(octant().solid_angle(), PI / 2.0, max_relative = 1e-15);
    }

    #[test]
    fn clipping_both_ways_keeps_the_whole() {
        let cut = Vector3::new(1.0, -0.3, -0.2);
        let parts = [octant().clipped(&cut, 0.0), octant().clipped(&-cut, 0.0)];
        let angle: f64 = parts.iter().map(Polygon::solid_angle).sum();
        let area: f64 = parts.iter().map(Polygon::area).sum();
        assert_relative_eq!(angle, PI / 2.0, max_relative = 1e-14);
        assert_relative_eq!(area, 3.0_f64.sqrt() / 2.0, max_relative = 1e-14);
    }

    #[test]
    fn a_corner_on_the_plane_is_kept_once() {
        let half = octant().clipped(&(Vector3::x() - Vector3::y()), 0.0);
        assert_eq!(half.corners().len(), 3);
        let nothing = octant().clipped(&Vector3::new(1.0, 1.0, 1.0), 0.5);
        assert_eq!(nothing.corners().len(), 0);
        assert_eq!(nothing.solid_angle().to_bits(), 0.0_f64.to_bits());
    }

    #[test]
    fn three_points_in_a_row_are_no_triangle() {
        assert!(
            Polygon::triangle([Vector3::x(), 2.0 * Vector3::x(), 3.0 * Vector3::x()]).is_none()
        );
    }
}
