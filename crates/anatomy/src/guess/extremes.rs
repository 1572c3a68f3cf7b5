//! Spines and tubercle: where a plane laid against the front of the pelvis touches it, and the rearmost
//! point behind.

use nalgebra::{Matrix6, Point3, Vector3, Vector6};

use crate::socket::surface::SurfacePoint;

/// A point that sticks out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tip {
    /// Where it is.
    pub(super) at: Point3<f64>,
    /// Radius of the surface there along its straightest direction, mm: by how much a turn by 1 rad of
    /// the direction in which it is the outermost would move it.
    pub(super) bluntness: f64,
}

/// The front edge leans at most this much from the forward direction of the pose: cosine of 40°.
const LEAN: f64 = 0.766;

/// A cap is what lies this near its outermost point, sideways and in depth, mm.
const CAP: f64 = 6.0;
const CAP_DEPTH: f64 = 3.0;

/// The outermost point of a fitted cap is at most this far from that of the surface, mm.
const STEP: f64 = 3.5;

/// What is called blunt at most, mm: flatter than this there is no tip.
const BLUNTEST: f64 = 60.0;

/// The two places where a plane parallel to `axes[0]`, laid against the front of the points, touches
/// them: upper and lower. `None` where no such plane leans less than 40° from `axes[1]`.
pub(super) fn front_edge(
    points: &[SurfacePoint],
    axes: &[Vector3<f64>; 3],
) -> Option<[Point3<f64>; 2]> {
    let [_, forward, up] = axes;
    let mut flat: Vec<([f64; 2], usize)> = points
        .iter()
        .enumerate()
        .map(|(i, p)| ([p.at.coords.dot(forward), p.at.coords.dot(up)], i))
        .collect();
    flat.sort_by(|a, b| a.0[1].total_cmp(&b.0[1]).then(a.0[0].total_cmp(&b.0[0])));
    let mut hull: Vec<([f64; 2], usize)> = Vec::new();
    // From the lowest point to the highest, keeping what bulges forward.
    for p in flat {
        while let [.., a, b] = hull[..] {
            let turn =
                (b.0[0] - a.0[0]) * (p.0[1] - a.0[1]) - (b.0[1] - a.0[1]) * (p.0[0] - a.0[0]);
            if turn > 0.0 {
                break;
            }
            hull.pop();
        }
        hull.push(p);
    }
    let edges = hull.windows(2).map(|w| {
        let (dy, dz) = (w[1].0[0] - w[0].0[0], w[1].0[1] - w[0].0[1]);
        (dy.hypot(dz), dz, [w[1].1, w[0].1])
    });
    let leaning_little = edges.filter(|(length, dz, _)| *dz > LEAN * length);
    let (_, _, ends) = leaning_little.max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(ends.map(|i| points[i].at))
}

/// The outermost of `points` along `direction`; `None` where there are none.
pub(super) fn outermost<'a>(
    points: impl Iterator<Item = &'a SurfacePoint>,
    direction: &Vector3<f64>,
) -> Option<Point3<f64>> {
    points
        .max_by(|a, b| {
            let along = |p: &SurfacePoint| p.at.coords.dot(direction);
            along(a).total_cmp(&along(b))
        })
        .map(|p| p.at)
}

/// The top, along `out`, of the paraboloid nearest to the surface about `start`, or `start` itself where
/// that has no top near by.
pub(super) fn tip(
    points: &[SurfacePoint],
    start: &Point3<f64>,
    out: &Vector3<f64>,
    aside: &Vector3<f64>,
) -> Tip {
    let u = (aside - out * out.dot(aside)).normalize();
    let v = out.cross(&u);
    let blunt = Tip {
        at: *start,
        bluntness: BLUNTEST,
    };
    let mut normal = Matrix6::zeros();
    let mut right = Vector6::zeros();
    for p in points {
        let d = p.at - start;
        let (h, a, b) = (d.dot(out), d.dot(&u), d.dot(&v));
        if h < -CAP_DEPTH || a.hypot(b) > CAP || p.normal.dot(out) < 0.2 {
            continue;
        }
        let row = Vector6::new(1.0, a, b, a * a, a * b, b * b);
        normal += row * row.transpose() * p.area;
        right += row * (h * p.area);
    }
    let Some(k) = normal.cholesky().map(|c| c.solve(&right)) else {
        return blunt;
    };
    let (caa, cab, cbb) = (2.0 * k[3], k[4], 2.0 * k[5]);
    let determinant = caa * cbb - cab * cab;
    if caa >= 0.0 || determinant <= 0.0 {
        return blunt;
    }
    let a = (cab * k[2] - cbb * k[1]) / determinant;
    let b = (cab * k[1] - caa * k[2]) / determinant;
    // Curvatures are the eigenvalues; the straighter one sets how far the tip can slide.
    let straighter = -0.5 * (caa + cbb) - (0.25 * (caa - cbb).powi(2) + cab * cab).sqrt();
    let bluntness = (1.0 / straighter.max(1e-9)).min(BLUNTEST);
    if a.hypot(b) > STEP {
        return Tip {
            at: *start,
            bluntness,
        };
    }
    let h = k[0] + 0.5 * (k[1] * a + k[2] * b);
    Tip {
        at: start + u * a + v * b + out * h,
        bluntness,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::socket::surface::points_of;
    use approx::assert_abs_diff_eq;
    use cupwright_geometry::{TriMesh, samples};

    fn ellipsoid(half: [f64; 3]) -> Vec<SurfacePoint> {
        let ball = samples::sphere(1.0, 6);
        let half = Vector3::from(half);
        let stretched = |p: &Point3<f64>| Point3::from(p.coords.component_mul(&half));
        let vertices = ball.vertices().iter().map(stretched).collect();
        points_of(&TriMesh::new(vertices, ball.triangles().to_vec()).unwrap())
    }

    #[test]
    fn the_tip_of_an_ellipsoid_is_its_pole_with_its_larger_radius() {
        // Radii at the pole: 8² / 16 and 12² / 16.
        let points = ellipsoid([8.0, 16.0, 12.0]);
        let out = Vector3::new(0.06, 1.0, -0.03).normalize();
        let start = outermost(points.iter(), &out).unwrap();
        let tip = tip(&points, &start, &Vector3::y(), &Vector3::x());
        assert_abs_diff_eq!(tip.at, Point3::new(0.0, 16.0, 0.0), epsilon = 0.25);
        assert_abs_diff_eq!(tip.bluntness, 9.0, epsilon = 1.5);
    }

    #[test]
    fn a_plane_laid_against_two_balls_touches_both() {
        let two: Vec<SurfacePoint> = [[0.0, 0.0, 50.0], [0.0, 4.0, -50.0]]
            .iter()
            .flat_map(|c| {
                let ball = samples::sphere(6.0, 5);
                points_of(&ball.moved(&nalgebra::Isometry3::translation(c[0], c[1], c[2])))
            })
            .collect();
        let axes = [Vector3::x(), Vector3::y(), Vector3::z()];
        let [upper, lower] = front_edge(&two, &axes).unwrap();
        let slope = (upper - lower).y / (upper - lower).z;
        assert_abs_diff_eq!(slope, -0.04, epsilon = 0.003);
        let turned = [Vector3::x(), Vector3::z(), -Vector3::y()];
        // From above there is no edge across both, only the facets of one.
        let [upper, lower] = front_edge(&two, &turned).unwrap();
        assert!((upper - lower).norm() < 12.0);
    }
}
