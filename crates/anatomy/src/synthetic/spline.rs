//! Smooth curves and surfaces through given points: the draughtsman's tools behind the bone.

use nalgebra::{DMatrix, DVector, Point3, Vector3};

/// A closed curve through `points`, as a polygon with `per_span` corners between neighbours.
///
/// Uniform Catmull–Rom: continuous tangent, passes through every point.
pub(super) fn closed_curve(points: &[[f64; 2]], per_span: u32) -> Vec<[f64; 2]> {
    let n = points.len();
    let at = |i: usize| points[i % n];
    (0..n)
        .flat_map(|i| {
            let p = [at(i + n - 1), at(i), at(i + 1), at(i + 2)];
            (0..per_span).map(move |k| {
                let t = f64::from(k) / f64::from(per_span);
                std::array::from_fn(|c| catmull_rom(p.map(|q| q[c]), t))
            })
        })
        .collect()
}

/// An open curve through `points` with `per_span` pieces between neighbours, ends included.
pub(super) fn open_curve(points: &[[f64; 4]], per_span: u32) -> Vec<[f64; 4]> {
    let n = points.len();
    let before: [f64; 4] = std::array::from_fn(|c| 2.0 * points[0][c] - points[1][c]);
    let after: [f64; 4] = std::array::from_fn(|c| 2.0 * points[n - 1][c] - points[n - 2][c]);
    let at = |i: usize| match i {
        0 => before,
        i if i > n => after,
        i => points[i - 1],
    };
    let mut curve: Vec<[f64; 4]> = (0..n - 1)
        .flat_map(|i| {
            let p = [at(i), at(i + 1), at(i + 2), at(i + 3)];
            (0..per_span).map(move |k| {
                let t = f64::from(k) / f64::from(per_span);
                std::array::from_fn(|c| catmull_rom(p.map(|q| q[c]), t))
            })
        })
        .collect();
    curve.push(points[n - 1]);
    curve
}

/// The value at `t` of 0 to 1 between the middle two of four evenly spaced values.
fn catmull_rom([a, b, c, d]: [f64; 4], t: f64) -> f64 {
    let slope = [0.5 * (c - a), 0.5 * (d - b)];
    let (t2, t3) = (t * t, t * t * t);
    b * (2.0 * t3 - 3.0 * t2 + 1.0)
        + slope[0] * (t3 - 2.0 * t2 + t)
        + c * (3.0 * t2 - 2.0 * t3)
        + slope[1] * (t3 - t2)
}

/// A periodic curve through knots `(angle in rad, value)`, angles rising within one turn.
///
/// Cubic Hermite pieces whose slopes are limited so that no value overshoots its knots
/// (Fritsch & Carlson 1980): a trough is as deep as its knot says and no deeper.
pub(super) fn periodic(knots: &[(f64, f64)], angle: f64) -> f64 {
    let turn = std::f64::consts::TAU;
    let n = knots.len();
    let first = knots[0].0;
    let angle = first + (angle - first).rem_euclid(turn);
    let i = knots.iter().rposition(|k| k.0 <= angle).unwrap_or(0);
    let at = |j: usize| {
        let wraps = if j < n { 0.0 } else { turn };
        let (a, v) = knots[j % n];
        (a + wraps, v)
    };
    let before = |j: usize| {
        if j == 0 {
            let (a, v) = knots[n - 1];
            (a - turn, v)
        } else {
            at(j - 1)
        }
    };
    let slope = |l: (f64, f64), m: (f64, f64), r: (f64, f64)| {
        let (left, right) = ((m.1 - l.1) / (m.0 - l.0), (r.1 - m.1) / (r.0 - m.0));
        if left * right <= 0.0 {
            0.0
        } else {
            2.0 * left * right / (left + right)
        }
    };
    let (a, b) = (at(i), at(i + 1));
    let width = b.0 - a.0;
    let t = (angle - a.0) / width;
    let slopes = [
        slope(before(i), a, b) * width,
        slope(a, b, at(i + 2)) * width,
    ];
    let (t2, t3) = (t * t, t * t * t);
    a.1 * (2.0 * t3 - 3.0 * t2 + 1.0)
        + slopes[0] * (t3 - 2.0 * t2 + t)
        + b.1 * (3.0 * t2 - 2.0 * t3)
        + slopes[1] * (t3 - t2)
}

/// The surface of least bending through values given at scattered points of the plane (Duchon 1977).
pub(super) struct ThinPlate {
    centres: Vec<[f64; 2]>,
    weights: DVector<f64>,
}

impl ThinPlate {
    /// Through `(u, v, value)`; `stiffness` above zero passes near the values instead, smoother.
    pub(super) fn through(points: &[[f64; 3]], stiffness: f64) -> Self {
        let n = points.len();
        let mut system = DMatrix::zeros(n + 3, n + 3);
        let mut right = DVector::zeros(n + 3);
        for (i, p) in points.iter().enumerate() {
            for (j, q) in points.iter().enumerate() {
                system[(i, j)] = Self::kernel(p[0] - q[0], p[1] - q[1]);
            }
            system[(i, i)] += stiffness;
            for (c, value) in [1.0, p[0], p[1]].into_iter().enumerate() {
                system[(i, n + c)] = value;
                system[(n + c, i)] = value;
            }
            right[i] = p[2];
        }
        let weights = system.lu().solve(&right).unwrap_or(right);
        Self {
            centres: points.iter().map(|p| [p[0], p[1]]).collect(),
            weights,
        }
    }

    /// The value at `(u, v)`.
    pub(super) fn at(&self, u: f64, v: f64) -> f64 {
        let n = self.centres.len();
        let w = &self.weights;
        let bending: f64 = self
            .centres
            .iter()
            .zip(w.iter())
            .map(|(c, w)| w * Self::kernel(u - c[0], v - c[1]))
            .sum();
        bending + w[n] + w[n + 1] * u + w[n + 2] * v
    }

    fn kernel(du: f64, dv: f64) -> f64 {
        let square = du * du + dv * dv;
        if square > 0.0 {
            0.5 * square * square.ln()
        } else {
            0.0
        }
    }
}

/// The smoothest map of space that takes given points to given places: an affine map plus r-kernels.
pub(super) struct Warp {
    centres: Vec<Point3<f64>>,
    weights: DMatrix<f64>,
}

impl Warp {
    /// From pairs `(from, to)`; at least four, not all in one plane.
    pub(super) fn taking(pairs: &[(Point3<f64>, Point3<f64>)]) -> Self {
        let n = pairs.len();
        let mut system = DMatrix::zeros(n + 4, n + 4);
        let mut right = DMatrix::zeros(n + 4, 3);
        for (i, (p, to)) in pairs.iter().enumerate() {
            for (j, (q, _)) in pairs.iter().enumerate() {
                system[(i, j)] = (p - q).norm();
            }
            for (c, value) in [1.0, p.x, p.y, p.z].into_iter().enumerate() {
                system[(i, n + c)] = value;
                system[(n + c, i)] = value;
            }
            // The displacement is what is spread, so that an unchanged shape is unchanged to the bit.
            for (c, value) in (to - p).iter().enumerate() {
                right[(i, c)] = *value;
            }
        }
        let weights = system.lu().solve(&right).unwrap_or(right);
        Self {
            centres: pairs.iter().map(|p| p.0).collect(),
            weights,
        }
    }

    /// Where the map takes `p`.
    pub(super) fn map(&self, p: Point3<f64>) -> Point3<f64> {
        let n = self.centres.len();
        let w = &self.weights;
        let mut moved = Vector3::from_fn(|c, _| {
            w[(n, c)] + w[(n + 1, c)] * p.x + w[(n + 2, c)] * p.y + w[(n + 3, c)] * p.z
        });
        for (i, centre) in self.centres.iter().enumerate() {
            let r = (p - centre).norm();
            moved += Vector3::from_fn(|c, _| w[(i, c)] * r);
        }
        p + moved
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_trough_is_as_deep_as_its_knot_and_no_deeper() {
        let knots = [(0.0, 4.0), (1.0, 21.0), (2.0, 6.0), (4.0, -2.0)];
        let values = (0..1000).map(|i| periodic(&knots, f64::from(i) * 0.01));
        let (least, most) = values.fold((f64::MAX, f64::MIN), |(l, m), v| (l.min(v), m.max(v)));
        assert_relative_eq!(most, 21.0, epsilon = 1e-9);
        assert!((-2.0..-1.99).contains(&least));
    }

    #[test]
    fn a_thin_plate_passes_through_its_points_and_keeps_a_plane_plane() {
        let points = [
            [0.0, 0.0, 1.0],
            [9.0, 1.0, 12.0],
            [2.0, 8.0, -9.0],
            [7.0, 7.0, -0.4],
            [3.0, 4.0, 0.0],
        ];
        let plate = ThinPlate::through(&points[..4], 0.0);
        assert_relative_eq!(plate.at(3.0, 4.0), -1.2, epsilon = 1e-9);
        let plate = ThinPlate::through(&points, 0.0);
        assert_relative_eq!(plate.at(9.0, 1.0), 12.0, epsilon = 1e-9);
    }

    #[test]
    fn a_warp_takes_each_point_to_its_place() {
        let from = [
            [0.0, 0.0, 0.0],
            [10.0, 0.0, 0.0],
            [0.0, 10.0, 0.0],
            [0.0, 0.0, 10.0],
            [9.0, 8.0, 7.0],
        ]
        .map(Point3::from);
        let pairs = from.map(|p| (p, p + Vector3::new(p.y, 0.1 * p.z * p.z, -1.0)));
        let warp = Warp::taking(&pairs);
        for (p, to) in pairs {
            assert_relative_eq!(warp.map(p), to, epsilon = 1e-9);
        }
    }
}
