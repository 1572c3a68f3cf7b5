//! The point of a surface nearest to a given one.

use nalgebra::Point3;

use crate::bvh::BoxTree;
use crate::mesh::TriMesh;

/// A mesh asked for its nearest point, over and over.
pub(super) struct Surface<'a> {
    mesh: &'a TriMesh,
    tree: BoxTree,
}

impl<'a> Surface<'a> {
    pub(super) fn of(mesh: &'a TriMesh) -> Self {
        Self {
            mesh,
            tree: BoxTree::over(mesh),
        }
    }

    /// The point of the surface nearest to `point`.
    pub(super) fn nearest(&self, point: &Point3<f64>) -> Point3<f64> {
        let on = |t: u32| nearest_on(&self.mesh.corners(t as usize), point);
        let found = self
            .tree
            .cheapest(|b| b.distance_to(point), |t| (on(t) - point).norm());
        found.map_or(*point, |(t, _)| on(t))
    }

    /// How far `point` is from the surface, in mm.
    pub(super) fn distance(&self, point: &Point3<f64>) -> f64 {
        (self.nearest(point) - point).norm()
    }
}

/// The point of a triangle nearest to `point`: its foot where that lies inside, else on a side.
pub(super) fn nearest_on(corners: &[Point3<f64>; 3], point: &Point3<f64>) -> Point3<f64> {
    let [a, b, c] = corners;
    let normal = (b - a).cross(&(c - a));
    let square = normal.norm_squared();
    if square > 0.0 {
        let foot = point - normal * ((point - a).dot(&normal) / square);
        let left =
            |u: &Point3<f64>, v: &Point3<f64>| (v - u).cross(&(foot - u)).dot(&normal) >= 0.0;
        if left(a, b) && left(b, c) && left(c, a) {
            return foot;
        }
    }
    let on_side = |u: &Point3<f64>, v: &Point3<f64>| {
        let way = v - u;
        let length = way.norm_squared();
        let share = if length > 0.0 {
            ((point - u).dot(&way) / length).clamp(0.0, 1.0)
        } else {
            0.0
        };
        u + way * share
    };
    let sides = [on_side(a, b), on_side(b, c), on_side(c, a)];
    let far = |p: &Point3<f64>| (p - point).norm_squared();
    sides
        .into_iter()
        .fold(*a, |best, p| if far(&p) < far(&best) { p } else { best })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;

    #[test]
    fn the_nearest_point_is_on_face_side_or_corner() {
        let corners = [[0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [0.0, 2.0, 0.0]].map(Point3::from);
        for (point, nearest) in [
            ([0.5, 0.5, 3.0], [0.5, 0.5, 0.0]),
            ([1.0, -1.0, 1.0], [1.0, 0.0, 0.0]),
            ([-1.0, -1.0, 1.0], [0.0, 0.0, 0.0]),
            ([2.0, 2.0, 0.0], [1.0, 1.0, 0.0]),
        ] {
            let found = nearest_on(&corners, &Point3::from(point));
            assert!((found - Point3::from(nearest)).norm() < 1e-12, "{point:?}");
        }
    }

    #[test]
    fn a_ball_is_as_far_as_its_faces() {
        let ball = samples::sphere(10.0, 4);
        let surface = Surface::of(&ball);
        let far = surface.distance(&Point3::new(3.0, 20.0, -1.0));
        assert!((far - (410.0_f64.sqrt() - 10.0)).abs() < 0.05);
        assert!(surface.distance(&ball.vertices()[17]) < 1e-12);
    }
}
