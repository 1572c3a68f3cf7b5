//! The socket on a bare mesh: the sphere of its articular surface.

use cupwright_geometry::TriMesh;
use nalgebra::{Matrix4, Point3, Vector3, Vector4};

use crate::rim::{Bowl, median};

/// The socket: a sphere through its articular vertices, and the triangles about it.
pub(super) struct Socket {
    pub(super) centre: Point3<f64>,
    pub(super) rms: f64,
    pub(super) lunate_area: f64,
    /// The surface about it.
    pub(super) bowl: Bowl,
}

impl Socket {
    /// Fits the sphere that most of the concave surface near an expected centre follows.
    pub(super) fn fitted(mesh: &TriMesh, expected: Point3<f64>) -> Option<Self> {
        let normals = vertex_normals(mesh);
        let around: Vec<(Point3<f64>, Vector3<f64>)> = mesh
            .vertices()
            .iter()
            .zip(&normals)
            .filter(|(p, n)| {
                let to = expected - *p;
                to.norm() < 55.0 && n.dot(&to) > 0.3 * to.norm()
            })
            .map(|(p, n)| (*p, *n))
            .collect();
        let (mut centre, mut radius) = sphere_most_agree_on(&around)?;
        for window in [0.5, 0.35, 0.25, 0.25] {
            let close = around
                .iter()
                .filter(|(p, n)| on_sphere(p, n, &centre, radius, window));
            (centre, radius) = sphere_through(close.map(|(p, _)| *p))?;
        }
        Self::about(mesh, &around, centre, radius)
    }

    fn about(
        mesh: &TriMesh,
        around: &[(Point3<f64>, Vector3<f64>)],
        centre: Point3<f64>,
        radius: f64,
    ) -> Option<Self> {
        let off = |p: &Point3<f64>| ((p - centre).norm() - radius).abs();
        let within = |window: f64| -> Vec<f64> {
            around
                .iter()
                .filter(|(p, n)| on_sphere(p, n, &centre, radius, window))
                .map(|(p, _)| off(p))
                .collect()
        };
        // As wide as the socket's own shape needs: a fifth of a millimetre for a sphere.
        let window = (3.5 * median(within(1.5).into_iter())).clamp(0.2, 1.5);
        let chosen = within(window);
        let count = f64::from(u32::try_from(chosen.len()).ok()?);
        let squares: f64 = chosen.iter().map(|d| d * d).sum();
        let mut lunate_area = 0.0;
        let mut near = Vec::new();
        for t in 0..mesh.triangles().len() {
            let corners = mesh.corners(t).map(|p| p - centre);
            if corners.iter().any(|q| q.norm() > 1.6 * radius) {
                continue;
            }
            near.push(corners);
            let close = |q: &Vector3<f64>| (q.norm() - radius).abs() < window;
            let area = mesh.area_vector(t);
            let facing = -area.dot(&corners[0]) > 0.85 * area.norm() * corners[0].norm();
            if facing && corners.iter().all(close) {
                lunate_area += area.norm();
            }
        }
        Some(Self {
            centre,
            rms: (squares / count).sqrt(),
            lunate_area,
            bowl: Bowl {
                radius,
                window,
                near,
            },
        })
    }
}

fn vertex_normals(mesh: &TriMesh) -> Vec<Vector3<f64>> {
    let mut normals = vec![Vector3::zeros(); mesh.vertices().len()];
    for (t, triangle) in mesh.triangles().iter().enumerate() {
        let area = mesh.area_vector(t);
        for &v in triangle {
            normals[v as usize] += area;
        }
    }
    for n in &mut normals {
        *n = n.try_normalize(0.0).unwrap_or_default();
    }
    normals
}

/// Whether a vertex lies within `window` of a sphere and faces its centre.
fn on_sphere(
    p: &Point3<f64>,
    normal: &Vector3<f64>,
    centre: &Point3<f64>,
    radius: f64,
    window: f64,
) -> bool {
    let to = centre - p;
    let distance = to.norm();
    (distance - radius).abs() < window && normal.dot(&to) > 0.85 * distance
}

/// Of many spheres through four points each, the one that most points lie on (random sample consensus,
/// Fischler & Bolles 1981); the draw is fixed, so that the same mesh gives the same sphere.
fn sphere_most_agree_on(around: &[(Point3<f64>, Vector3<f64>)]) -> Option<(Point3<f64>, f64)> {
    const DRAWS: u32 = 1500;
    const JURY: usize = 1500;
    let jury: Vec<_> = around.iter().step_by(around.len() / JURY + 1).collect();
    if jury.len() < 50 {
        return None;
    }
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut draw = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        let place = (state >> 33) % u64::try_from(jury.len()).unwrap_or(1);
        usize::try_from(place).unwrap_or(0)
    };
    let mut best: (usize, Option<(Point3<f64>, f64)>) = (0, None);
    for _ in 0..DRAWS {
        let four: [Point3<f64>; 4] = std::array::from_fn(|_| jury[draw()].0);
        let Some((centre, radius)) = sphere_through(four.into_iter()) else {
            continue;
        };
        if !(15.0..37.0).contains(&radius) {
            continue;
        }
        let votes = jury
            .iter()
            .filter(|(p, n)| on_sphere(p, n, &centre, radius, 0.3))
            .count();
        if votes > best.0 {
            best = (votes, Some((centre, radius)));
        }
    }
    best.1
}

/// The sphere that least squares put through `points`: |p|² = 2 c·p + (r² − |c|²) is linear.
fn sphere_through(mut points: impl Iterator<Item = Point3<f64>>) -> Option<(Point3<f64>, f64)> {
    let origin = points.next()?;
    // The first point, the origin of the sums, adds to one entry alone.
    let mut normal = Matrix4::from_diagonal(&Vector4::new(0.0, 0.0, 0.0, 1.0));
    let mut right = Vector4::zeros();
    for p in points {
        let q = p - origin;
        let row = Vector4::new(q.x, q.y, q.z, 1.0);
        normal += row * row.transpose();
        right += row * q.norm_squared();
    }
    let solved = normal.lu().solve(&right)?;
    let c = 0.5 * solved.xyz();
    Some((origin + c, (solved.w + c.norm_squared()).max(0.0).sqrt()))
}
