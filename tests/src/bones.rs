//! Bones to measure on.

use cupwright_geometry::{Solid, TriMesh, samples};

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
