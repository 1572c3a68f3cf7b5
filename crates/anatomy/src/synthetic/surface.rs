//! From the implicit bone to a closed triangle mesh: sampling, extraction, projection.

use fast_surface_nets::ndshape::{RuntimeShape, Shape as _};
use fast_surface_nets::{SurfaceNetsBuffer, surface_nets};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::bone::Bone;
use super::table::{index, whole};

/// Vertices and triangles before they become a mesh.
#[derive(Clone, Default)]
pub(super) struct Draft {
    pub(super) vertices: Vec<Point3<f64>>,
    pub(super) triangles: Vec<[u32; 3]>,
}

/// A box of samples.
struct Grid {
    low: Point3<f64>,
    step: f64,
    size: [usize; 3],
}

impl Grid {
    /// Samples come in cubes of this many along each edge; a cube the surface cannot reach is not sampled.
    const CUBE: usize = 4;

    fn around(low: Point3<f64>, high: Point3<f64>, step: f64) -> Self {
        let cubes = |c: usize| whole((high[c] - low[c]) / step / index(Self::CUBE)) + 1;
        Self {
            low,
            step,
            size: std::array::from_fn(|c| Self::CUBE * cubes(c)),
        }
    }

    fn point(&self, [i, j, k]: [usize; 3]) -> Point3<f64> {
        self.low + self.step * Vector3::new(index(i), index(j), index(k))
    }

    /// The field at every sample: exact near the surface, of the right sign elsewhere.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "single precision is enough to find the surface"
    )]
    fn samples(&self, bone: &Bone) -> Vec<f32> {
        const CUBE: usize = Grid::CUBE;
        let [nx, ny, _] = self.size;
        let mut samples = vec![1.0_f32; self.size.iter().product()];
        let half_way = 0.5 * index(CUBE - 1);
        // The field grows by at most about 1.5 per mm.
        let reach = 1.5 * (half_way + 1.0) * self.step * 3.0_f64.sqrt();
        samples
            .par_chunks_mut(nx * ny * CUBE)
            .enumerate()
            .for_each(|(layer, slab)| {
                for j0 in (0..ny).step_by(CUBE) {
                    for i0 in (0..nx).step_by(CUBE) {
                        let first = [i0, j0, layer * CUBE];
                        let middle = self.point(first) + Vector3::repeat(half_way * self.step);
                        let field = bone.at(&middle);
                        let near = field.abs() < reach;
                        for (k, j) in (0..CUBE).flat_map(|k| (j0..j0 + CUBE).map(move |j| (k, j))) {
                            for i in i0..i0 + CUBE {
                                let value = if near {
                                    bone.at(&self.point([i, j, first[2] + k]))
                                } else {
                                    field
                                };
                                slab[(k * ny + j) * nx + i] = value as f32;
                            }
                        }
                    }
                }
            });
        samples
    }
}

/// The surface of `bone` from samples `step` mm apart, its vertices on the surface.
#[expect(
    clippy::cast_possible_truncation,
    reason = "grids have far fewer than 2^32 samples"
)]
pub(super) fn extracted(bone: &Bone, low: Point3<f64>, high: Point3<f64>, step: f64) -> Draft {
    let grid = Grid::around(low, high, step);
    let samples = grid.samples(bone);
    let size = grid.size.map(|n| n as u32);
    let shape = RuntimeShape::<u32, 3>::new(size);
    debug_assert_eq!(shape.usize(), samples.len());
    let mut buffer = SurfaceNetsBuffer::default();
    surface_nets(&samples, &shape, [0; 3], size.map(|n| n - 1), &mut buffer);
    let vertices: Vec<_> = buffer
        .positions
        .par_iter()
        .map(|p| grid.low + grid.step * Vector3::from(p.map(f64::from)))
        .collect();
    let triangles = buffer
        .indices
        .chunks_exact(3)
        .map(|t| [t[0], t[1], t[2]])
        .collect();
    Draft {
        vertices,
        triangles,
    }
}
