//! A mesh without its roughness, for what a plane or a tip is fitted to.

use cupwright_geometry::TriMesh;
use nalgebra::{Point3, Vector3};

use crate::socket::surface::edge_squared;

/// Roughness is taken off over about this distance, in mm: more than the steps of voxels (0.5 to 1 mm), less
/// than the narrower half of a symphysis.
const OVER: f64 = 5.0;

/// Strokes at most, which bounds the time on a fine mesh.
const MOST: u32 = 40;

/// A stroke moves each vertex toward the mean of its neighbours by a share, and then away again by a little more,
/// so that the shape does not shrink (Taubin 1995, Proc SIGGRAPH, 351).
const TOWARD: f64 = 0.5;
const AWAY: f64 = -0.52;

/// The same mesh, its vertices moved so that it is smooth.
pub(super) fn smooth(mesh: &TriMesh) -> TriMesh {
    let mut vertices = mesh.vertices().to_vec();
    for _ in 0..strokes(edge_squared(mesh)) {
        for share in [TOWARD, AWAY] {
            move_toward_neighbours(&mut vertices, mesh.triangles(), share);
        }
    }
    TriMesh::new(vertices, mesh.triangles().to_vec()).unwrap_or_else(|_| mesh.clone())
}

/// Reach grows with the square root of the strokes.
fn strokes(edge_squared: f64) -> u32 {
    (0..MOST)
        .find(|n| f64::from(*n + 1) * edge_squared > OVER * OVER)
        .unwrap_or(MOST)
}

fn move_toward_neighbours(vertices: &mut [Point3<f64>], triangles: &[[u32; 3]], share: f64) {
    let mut sums = vec![(Vector3::zeros(), 0.0); vertices.len()];
    for t in triangles {
        let [a, b, c] = t.map(|i| vertices[i as usize].coords);
        for (i, others) in t.iter().zip([b + c, c + a, a + b]) {
            let sum = &mut sums[*i as usize];
            sum.0 += others;
            sum.1 += 2.0;
        }
    }
    for (p, (sum, count)) in vertices.iter_mut().zip(sums) {
        if count > 0.0 {
            *p += (sum / count - p.coords) * share;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::samples;

    /// Root mean square distance of the vertices from a sphere of 25 mm, and their mean distance.
    fn off(mesh: &TriMesh) -> (f64, f64) {
        let off = || mesh.vertices().iter().map(|p| p.coords.norm() - 25.0);
        let count = f64::from(u32::try_from(mesh.vertices().len()).unwrap());
        let squares: f64 = off().map(|d| d * d).sum();
        ((squares / count).sqrt(), off().sum::<f64>() / count)
    }

    #[test]
    fn roughness_goes_and_the_size_stays() {
        let ball = samples::sphere(25.0, 5);
        // The high bits of a product with a large odd number are as good as drawn.
        let drawn =
            |i: u32| f64::from(i.wrapping_mul(2_654_435_761) >> 8) / f64::from(1 << 23) - 1.0;
        let rough = (0_u32..).zip(ball.vertices()).map(|(i, p)| {
            let off = 0.5 * drawn(i.wrapping_mul(i) ^ 0x5bd1);
            p + p.coords.normalize() * off
        });
        let rough = TriMesh::new(rough.collect(), ball.triangles().to_vec()).unwrap();
        let (before, _) = off(&rough);
        let (after, size) = off(&smooth(&rough));
        assert!(before > 0.25 && after < 0.5 * before, "{before} {after}");
        assert!(size.abs() < 0.03, "{size}");
    }

    #[test]
    fn a_smooth_ball_is_left_as_it_is() {
        let (after, _) = off(&smooth(&samples::sphere(25.0, 5)));
        assert!(after < 0.02, "{after}");
    }
}
