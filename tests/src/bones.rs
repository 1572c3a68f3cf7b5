//! Bones to measure on.

use cupwright_geometry::{Solid, TriMesh, samples};
use nalgebra::Point3;

/// A mesh as a solid.
///
/// # Panics
/// When it is none; a fixture is.
pub fn solid(mesh: TriMesh) -> Solid {
    match Solid::try_from(mesh) {
        Ok(solid) => solid,
        Err(defect) => panic!("a fixture must be a solid: {defect}"),
    }
}

/// A lumpy ball of about 25 mm radius with about `triangles` triangles.
pub fn lumpy(triangles: u32) -> Solid {
    let down = triangles.div_ceil(4).isqrt().max(8);
    solid(samples::lumpy_ball(25.0, 0.2, 2 * down, down))
}

/// A lumpy ball of about 60 mm radius with a socket in its side, in the pelvic frame: the socket of
/// a right hip, about [`SOCKET_CENTRE`], 52 mm across.
pub fn socketed() -> TriMesh {
    let ball = samples::lumpy_ball(60.0, 0.12, 60, 36);
    let pushed = ball.vertices().iter().map(pushed_out_of_socket);
    match TriMesh::new(pushed.collect(), ball.triangles().to_vec()) {
        Ok(mesh) => mesh,
        Err(problem) => panic!("a fixture must be a mesh: {problem}"),
    }
}

/// The middle of the socket of [`socketed`], in mm: lateral, a little in front and below.
pub const SOCKET_CENTRE: [f64; 3] = [50.0, 14.0, -28.0];

/// Radius of the socket of [`socketed`], in mm.
pub const SOCKET_RADIUS: f64 = 26.0;

/// Back along the ray from the origin to where that enters the socket, if the point lies in it.
fn pushed_out_of_socket(point: &Point3<f64>) -> Point3<f64> {
    let centre = Point3::from(SOCKET_CENTRE).coords;
    if (point.coords - centre).norm() >= SOCKET_RADIUS {
        return *point;
    }
    let ray = point.coords.normalize();
    let along = ray.dot(&centre);
    let off = centre.norm_squared() - SOCKET_RADIUS.powi(2);
    Point3::from(ray * (along - (along * along - off).sqrt()))
}
