//! From the implicit bone to a closed triangle mesh: sampling, extraction, projection.

use fast_surface_nets::ndshape::{RuntimeShape, Shape as _};
use fast_surface_nets::{SurfaceNetsBuffer, surface_nets};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::bone::Bone;
use super::remesh;
use super::table::{index, whole};

/// Vertices and triangles before they become a mesh.
#[derive(Clone, Default)]
pub(super) struct Draft {
    pub(super) vertices: Vec<Point3<f64>>,
    pub(super) triangles: Vec<[u32; 3]>,
}

/// What becomes of bone too thin for the samples.
#[derive(Clone, Copy, Eq, PartialEq)]
pub(super) enum Thin {
    /// It is made thick enough.
    Fill,
    /// It is left out.
    Drop,
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

    /// Changes the sign of single samples until the surface crosses every cell in one sheet.
    ///
    /// One vertex a cell is all that surface nets give; a cell crossed twice would pinch the mesh
    /// there. The samples changed are the smallest of their cell, so that the surface passes close by,
    /// and all change the same way, so that there is an end to it.
    fn unpinch(&self, samples: &mut [f32], thin: Thin) {
        let [nx, ny, nz] = self.size;
        let corner: [usize; 8] =
            std::array::from_fn(|c| (c & 1) + nx * ((c >> 1 & 1) + ny * (c >> 2 & 1)));
        loop {
            let pinched: Vec<usize> = (0..(nz - 1) * (ny - 1))
                .into_par_iter()
                .flat_map_iter(|row| {
                    let first = nx * (row % (ny - 1) + ny * (row / (ny - 1)));
                    let samples = &samples;
                    (first..first + nx - 1).filter(move |cell| {
                        let signs = (0..8).fold(0, |signs, c| {
                            signs | u8::from(samples[cell + corner[c]] < 0.0) << c
                        });
                        !one_sheet(signs)
                    })
                })
                .collect();
            if pinched.is_empty() {
                return;
            }
            for cell in pinched {
                let turned = corner
                    .iter()
                    .map(|c| cell + c)
                    .filter(|&at| (samples[at] < 0.0) == (thin == Thin::Drop))
                    .min_by(|&a, &b| samples[a].abs().total_cmp(&samples[b].abs()));
                if let Some(at) = turned {
                    samples[at] = -samples[at];
                }
            }
        }
    }
}

/// Whether a cell with these corners inside, one bit each, is crossed by no more than one sheet: both
/// the corners inside and those outside hang together along edges, and no face is a chequerboard.
fn one_sheet(inside: u8) -> bool {
    const FACES: [[u8; 4]; 6] = [
        [0, 1, 3, 2],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 3, 7, 6],
        [0, 2, 6, 4],
        [1, 3, 7, 5],
    ];
    let hangs_together = |set: u8| {
        let mut seen = set & set.wrapping_neg();
        loop {
            let along_x = (seen & 0x55) << 1 | (seen & 0xaa) >> 1;
            let along_y = (seen & 0x33) << 2 | (seen & 0xcc) >> 2;
            let along_z = seen.rotate_left(4);
            let grown = seen | (along_x | along_y | along_z) & set;
            if grown == seen {
                return seen == set;
            }
            seen = grown;
        }
    };
    let chequered = FACES.iter().any(|face| {
        let [a, b, c, d] = face.map(|corner| inside >> corner & 1);
        a == c && b == d && a != b
    });
    !chequered && hangs_together(inside) && hangs_together(!inside)
}

/// The surface of `bone` from samples `step` mm apart, its vertices on the surface.
#[expect(
    clippy::cast_possible_truncation,
    reason = "grids have far fewer than 2^32 samples"
)]
pub(super) fn extracted(
    bone: &Bone,
    (low, high): (Point3<f64>, Point3<f64>),
    step: f64,
    thin: Thin,
) -> Draft {
    let grid = Grid::around(low, high, step);
    let mut samples = grid.samples(bone);
    grid.unpinch(&mut samples, thin);
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
    let mut draft = Draft {
        vertices,
        triangles,
    };
    remesh::drop_crumbs(&mut draft);
    draft
}

#[cfg(test)]
mod tests {
    use super::one_sheet;

    #[test]
    fn a_cell_cut_once_is_fine_and_one_cut_twice_is_not() {
        assert!(one_sheet(0) && one_sheet(0xff));
        assert!(one_sheet(0b0000_0001));
        assert!(one_sheet(0b0000_1111));
        // Opposite corners of the cube, of a face, and a corner each of two opposite edges.
        assert!(!one_sheet(0b1000_0001));
        assert!(!one_sheet(0b0000_1001));
        assert!(!one_sheet(0b0111_1110));
    }
}
