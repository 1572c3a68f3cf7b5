//! The least distance between two triangles, and where.

use nalgebra::{Point3, Vector3};

/// The two points of two triangles that are nearest each other, one on each.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gap {
    /// Their distance, in mm; 0 where the triangles cross.
    pub(crate) distance: f64,
    /// The point on each triangle.
    pub(crate) ends: [Point3<f64>; 2],
}

impl Gap {
    fn from(ends: [Point3<f64>; 2]) -> Self {
        let distance = (ends[1] - ends[0]).norm();
        Self { distance, ends }
    }

    fn nearer(self, other: Self) -> Self {
        if other.distance < self.distance {
            other
        } else {
            self
        }
    }

    fn swapped(self) -> Self {
        let [a, b] = self.ends;
        Self {
            ends: [b, a],
            ..self
        }
    }
}

/// The gap between two triangles.
///
/// Where they do not cross it lies between two edges, or between a corner of one and the inside of
/// the other. Accurate to rounding; a triangle without area counts as its edges.
pub(crate) fn between(a: &[Point3<f64>; 3], b: &[Point3<f64>; 3]) -> Gap {
    let edges = |t: &[Point3<f64>; 3]| [[t[0], t[1]], [t[1], t[2]], [t[2], t[0]]];
    let mut best = Gap {
        distance: f64::INFINITY,
        ends: [a[0], b[0]],
    };
    for one in edges(a) {
        for other in edges(b) {
            best = best.nearer(between_segments(&one, &other));
        }
    }
    let to_face = over_face(a, b).into_iter();
    let from_face = over_face(b, a).into_iter().map(Gap::swapped);
    to_face.chain(from_face).fold(best, Gap::nearer)
}

/// The gap between two straight pieces.
fn between_segments([p, p_end]: &[Point3<f64>; 2], [q, q_end]: &[Point3<f64>; 2]) -> Gap {
    let (u, v, w) = (p_end - p, q_end - q, p - q);
    let (uu, uv, vv) = (u.norm_squared(), u.dot(&v), v.norm_squared());
    let (uw, vw) = (u.dot(&w), v.dot(&w));
    // Of parallel pieces every place is as good, up to the ends, which are looked at below.
    let turned = uu * vv - uv * uv;
    let s = share(uv * vw - vv * uw, turned);
    let t = share_of_line(uv * s + vw, vv);
    let (s, t) = if t < 0.0 {
        (share(-uw, uu), 0.0)
    } else if t > 1.0 {
        (share(uv - uw, uu), 1.0)
    } else {
        (s, t)
    };
    Gap::from([p + u * s, q + v * t])
}

/// `part / whole` kept between 0 and 1; 0 of nothing.
fn share(part: f64, whole: f64) -> f64 {
    share_of_line(part, whole).clamp(0.0, 1.0)
}

fn share_of_line(part: f64, whole: f64) -> f64 {
    if whole > 0.0 { part / whole } else { 0.0 }
}

/// The gap from a corner of `corners` straight to the inside of `face`, and none where an edge passes
/// through it; `None` where no corner stands over the face.
fn over_face(corners: &[Point3<f64>; 3], face: &[Point3<f64>; 3]) -> Option<Gap> {
    let normal = (face[1] - face[0]).cross(&(face[2] - face[0]));
    let size = normal.norm();
    if size <= 0.0 {
        return None;
    }
    let normal = normal / size;
    let height = corners.map(|p| normal.dot(&(p - face[0])));
    let standing = (0..3).filter_map(|k| {
        let foot = corners[k] - normal * height[k];
        holds(face, &normal, &foot).then(|| Gap::from([corners[k], foot]))
    });
    let through = (0..3).filter_map(|k| {
        let next = (k + 1) % 3;
        let crosses = (height[k] < 0.0) != (height[next] < 0.0);
        let share = height[k] / (height[k] - height[next]);
        let at = corners[k] + (corners[next] - corners[k]) * share;
        (crosses && holds(face, &normal, &at)).then(|| Gap::from([at, at]))
    });
    standing.chain(through).reduce(Gap::nearer)
}

/// Whether a point of its plane lies in the face.
fn holds(face: &[Point3<f64>; 3], normal: &Vector3<f64>, point: &Point3<f64>) -> bool {
    (0..3).all(|k| {
        let edge = face[(k + 1) % 3] - face[k];
        normal.dot(&edge.cross(&(point - face[k]))) >= 0.0
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;

    fn triangle(corners: [[f64; 3]; 3]) -> [Point3<f64>; 3] {
        corners.map(Point3::from)
    }

    const FLAT: [[f64; 3]; 3] = [[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [0.0, 4.0, 0.0]];

    #[track_caller]
    fn check(other: [[f64; 3]; 3], distance: f64) {
        let (a, b) = (triangle(FLAT), triangle(other));
        for gap in [between(&a, &b), between(&b, &a).swapped()] {
            assert!((gap.distance - distance).abs() < 1e-14, "{gap:?}");
            assert!(((gap.ends[1] - gap.ends[0]).norm() - distance).abs() < 1e-14);
        }
    }

    #[test]
    fn a_corner_over_the_inside_is_as_far_as_it_is_high() {
        check([[1.0, 1.0, 2.0], [9.0, 9.0, 3.0], [9.0, 8.0, 3.0]], 2.0);
    }

    #[test]
    fn edges_that_pass_each_other_are_as_far_as_their_common_square() {
        let falling = [[2.0, -3.0, 3.0], [2.0, 1.0, -5.0], [2.0, -9.0, -9.0]];
        check(falling, 3.0 / 5.0_f64.sqrt());
        let rising = [[2.0, -1.0, 1.0], [2.0, -1.0, 9.0], [2.0, 3.0, 5.0]];
        check(rising, 2.0_f64.sqrt());
    }

    #[test]
    fn parallel_edges_and_corners_are_told_apart() {
        check([[0.0, -1.0, 0.0], [4.0, -1.0, 0.0], [0.0, -4.0, 0.0]], 1.0);
        check(
            [[-3.0, -4.0, 0.0], [-9.0, -4.0, 0.0], [-3.0, -9.0, 0.0]],
            5.0,
        );
    }

    #[test]
    fn an_edge_through_the_inside_leaves_no_gap() {
        check([[1.0, 1.0, -2.0], [1.0, 1.0, 2.0], [9.0, 9.0, 0.5]], 0.0);
    }

    #[test]
    fn a_triangle_without_area_is_its_edges() {
        check([[1.0, 1.0, 2.0], [1.0, 1.0, 2.0], [1.0, 1.0, 2.0]], 2.0);
        let needle = triangle([[1.0, 1.0, 1.0], [1.0, 1.0, 3.0], [1.0, 1.0, 2.0]]);
        assert!((between(&needle, &triangle(FLAT)).distance - 1.0).abs() < 1e-14);
    }

    #[test]
    fn no_pair_of_points_is_nearer_than_the_gap() {
        let (near, far) = (
            samples::lumpy_ball(5.0, 0.3, 8, 5),
            samples::torus(9.0, 3.0, 7, 5),
        );
        let grid = |t: &[Point3<f64>; 3]| {
            let [a, b, c] = *t;
            let share = |k: i32| f64::from(k) / 12.0;
            let all = (0..=12).flat_map(|i| (0..=12 - i).map(move |j| (share(i), share(j))));
            let at = move |(s, t)| a + (b - a) * s + (c - a) * t;
            all.map(at).collect::<Vec<_>>()
        };
        for k in 0..20 {
            let (a, b) = (near.corners(k), far.corners(3 * k));
            let gap = between(&a, &b).distance;
            let (ours, theirs) = (grid(&a), grid(&b));
            let pairs = ours
                .iter()
                .flat_map(|p| theirs.iter().map(move |q| (p - q).norm()));
            let least = pairs.fold(f64::INFINITY, f64::min);
            assert!(gap <= least + 1e-12, "{gap} {least}");
            assert!(least - gap < 0.6, "{gap} {least}");
        }
    }
}
