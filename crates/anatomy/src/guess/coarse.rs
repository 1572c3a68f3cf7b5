//! A mesh with fewer triangles, for what needs no fine detail.

use std::borrow::Cow;

use cupwright_geometry::TriMesh;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::socket::surface::edge_squared;

/// Vertices within a cube of this edge become one, in mm: little against the 3 mm over which normals are
/// averaged and against the radius of the sharpest spine (5 mm), so that a place moves by less than
/// edge² / (8 radius) = 0.06 mm.
const CELL: f64 = 1.5;

/// A mesh whose mean triangle, were it equilateral, has longer edges than this keeps its vertices.
const FINE: f64 = 1.0;

/// The mesh itself, or, where it is finer than needed, one with a vertex for each cube of space.
///
/// The new vertex is the mean of those in the cube. The result need not be closed.
pub(super) fn coarse(mesh: &TriMesh) -> Cow<'_, TriMesh> {
    let fine = edge_squared(mesh) < FINE * FINE;
    let Some(bounds) = mesh.bounds().filter(|_| fine) else {
        return Cow::Borrowed(mesh);
    };
    let mut keyed: Vec<(u64, u32)> = (0..)
        .zip(mesh.vertices())
        .map(|(i, p)| (cube_of(&(p - bounds.min)), i))
        .collect();
    keyed.par_sort_unstable();
    let mut new = vec![0_u32; mesh.vertices().len()];
    let mut vertices = Vec::new();
    for cube in keyed.chunk_by(|a, b| a.0 == b.0) {
        let index = u32::try_from(vertices.len()).unwrap_or(u32::MAX);
        let mut sum = Vector3::zeros();
        for &(_, i) in cube {
            sum += mesh.vertices()[i as usize] - bounds.min;
            new[i as usize] = index;
        }
        let count = f64::from(u32::try_from(cube.len()).unwrap_or(u32::MAX));
        vertices.push(Point3::from(bounds.min + sum / count));
    }
    let kept = mesh
        .triangles()
        .iter()
        .map(|t| t.map(|i| new[i as usize]))
        .filter(|[a, b, c]| a != b && b != c && c != a)
        .collect();
    TriMesh::new(vertices, kept).map_or(Cow::Borrowed(mesh), Cow::Owned)
}

/// The cube in which a place lies, counted from the corner of the box, as one number.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "positive, and a mesh of 2.4 m has 1600 cubes along an edge"
)]
fn cube_of(from_corner: &Vector3<f64>) -> u64 {
    let [x, y, z] = [0, 1, 2].map(|k| (from_corner[k] / CELL) as u64);
    (x << 42) | (y << 21) | z
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::samples;

    #[test]
    fn a_fine_ball_becomes_coarse_and_stays_where_it_is() {
        let ball =
            samples::sphere(30.0, 6).moved(&nalgebra::Isometry3::translation(9.0, -700.0, 2.0));
        let fewer = coarse(&ball);
        assert!(fewer.triangles().len() * 4 < ball.triangles().len() * 3);
        for p in fewer.vertices() {
            let off = (p - Point3::new(9.0, -700.0, 2.0)).norm() - 30.0;
            assert!((-0.02..1e-9).contains(&off), "{off}");
        }
    }

    #[test]
    fn a_coarse_ball_is_left_alone() {
        assert!(matches!(
            coarse(&samples::sphere(30.0, 3)),
            Cow::Borrowed(_)
        ));
    }
}
