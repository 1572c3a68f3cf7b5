//! A set of voxels in space, and the smooth closed surface around it.
//!
//! [`surface`] promises a closed, oriented mesh without pinched edges that goes between the centres of
//! the voxels inside and outside, of the same volume as the voxels. Voxels that touch along an edge
//! hang together, voxels that touch in a corner only do not. Where the surface would meet itself along
//! an edge, single voxels are added, and how many is told.

mod net;
mod smooth;

use nalgebra::{Matrix3, Point3, Vector3};
use thiserror::Error;

use crate::mesh::{BadMesh, TriMesh};

/// Where the centres of voxels lie, in mm: voxel (0, 0, 0) at the origin, its neighbours along three axes.
///
/// The axes may be oblique, of any length, and left-handed; the surface still comes out with its
/// outside out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    origin: Point3<f64>,
    axes: Matrix3<f64>,
}

/// Axes that are no grid.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum BadGrid {
    /// A number is NaN or infinite.
    #[error("the place or an axis of the voxels has a coordinate that is not a finite number")]
    NotFinite,
    /// An axis has no length, or lies in the plane of the other two.
    #[error("the axes of the voxels enclose no volume: {0} mm³ for voxels {1} x {2} x {3} mm")]
    Flat(f64, f64, f64, f64),
}

impl Grid {
    /// The grid whose voxel (0, 0, 0) has its centre at `origin` and whose neighbours lie farther by
    /// the columns of `axes`, in mm.
    ///
    /// # Errors
    /// When a number is not finite, or the axes lie in a plane.
    pub fn new(origin: Point3<f64>, axes: Matrix3<f64>) -> Result<Self, BadGrid> {
        if !origin.iter().chain(axes.iter()).all(|c| c.is_finite()) {
            return Err(BadGrid::NotFinite);
        }
        let grid = Self { origin, axes };
        let (volume, [a, b, c]) = (grid.voxel_volume(), grid.spacing());
        // Axes of a skew scan are some degrees off the right angle; a thousandth is far from any of them.
        const LEAST_SHARE: f64 = 1e-3;
        if volume.is_finite() && volume > 0.0 && volume >= LEAST_SHARE * (a * b * c) {
            Ok(grid)
        } else {
            Err(BadGrid::Flat(volume, a, b, c))
        }
    }

    /// The place of a voxel's centre, or of a point between centres.
    pub fn point(&self, index: &Point3<f64>) -> Point3<f64> {
        self.origin + self.axes * index.coords
    }

    /// The same grid, counted from the voxel `first`.
    pub fn counted_from(&self, first: [usize; 3]) -> Self {
        Self {
            origin: self.point(&Point3::from(first.map(real))),
            axes: self.axes,
        }
    }

    /// The centre of voxel (0, 0, 0).
    pub fn origin(&self) -> Point3<f64> {
        self.origin
    }

    /// The steps to the next voxel, as columns.
    pub fn axes(&self) -> Matrix3<f64> {
        self.axes
    }

    /// Distances between neighbouring centres along each axis, in mm.
    pub fn spacing(&self) -> [f64; 3] {
        [0, 1, 2].map(|k| self.axes.column(k).norm())
    }

    /// Volume of one voxel, in mm³.
    pub fn voxel_volume(&self) -> f64 {
        self.axes.determinant().abs()
    }

    /// Whether the axes are left-handed.
    fn is_mirrored(&self) -> bool {
        self.axes.determinant() < 0.0
    }
}

/// A set of voxels in a box of `size`, one bit each.
#[derive(Clone, Debug, PartialEq)]
pub struct Voxels {
    size: [usize; 3],
    /// 64-bit words of a row along the first axis, which has an empty voxel at either end.
    words: usize,
    /// Rows, the second axis before the third, with an empty row on every side.
    bits: Vec<u64>,
}

/// Voxels that get no surface.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum BadVoxels {
    /// More than a box can hold.
    #[error("{} x {} x {} voxels are more than {MOST_VOXELS} in all or {MOST_IN_LAYER} in a layer; crop the volume", .0[0], .0[1], .0[2])]
    TooMany([usize; 3]),
    /// No voxel is in the set.
    #[error("there is no voxel to make a surface of")]
    Empty,
    /// More surface than can be worked on.
    #[error(
        "the surface has more than {MOST_FACES} voxel faces: this is noise, not the outside of a thing; smooth the labels or choose another"
    )]
    TooRough,
    /// The surface is no mesh.
    #[error(transparent)]
    Mesh(#[from] BadMesh),
}

/// The most voxels of a box: 256 MB at one bit each.
pub const MOST_VOXELS: u64 = 1 << 31;

/// The most voxels of a layer across the third axis, of which two are worked on at a time: 4096 x 4096.
pub const MOST_IN_LAYER: u64 = 1 << 24;

/// The most voxel faces between inside and outside; a whole pelvis at 0.5 mm has about two million.
pub const MOST_FACES: usize = 8_000_000;

/// The surface around some voxels.
#[derive(Clone, Debug, PartialEq)]
pub struct Surface {
    /// The surface, in mm.
    pub mesh: TriMesh,
    /// Voxels that were added because the surface would have met itself along an edge.
    pub added: usize,
}

impl Voxels {
    /// A box of `size` with no voxel in the set.
    ///
    /// # Errors
    /// When the box has more than [`MOST_VOXELS`], or a layer of it more than [`MOST_IN_LAYER`].
    pub fn none(size: [usize; 3]) -> Result<Self, BadVoxels> {
        let too_many = BadVoxels::TooMany(size);
        let [nx, ny, nz] = size.map(|n| n.checked_add(2));
        let words = nx.ok_or(too_many)?.div_ceil(64);
        let in_layer = ny.and_then(|ny| ny.checked_mul(words));
        let in_layer = in_layer.filter(|words| *words as u64 <= MOST_IN_LAYER / 64);
        let all = in_layer
            .zip(nz)
            .and_then(|(words, nz)| words.checked_mul(nz));
        match all {
            Some(all) if all as u64 <= MOST_VOXELS / 64 => Ok(Self {
                size,
                words,
                bits: vec![0; all],
            }),
            _ => Err(too_many),
        }
    }

    /// How many voxels the box has along each axis.
    pub fn size(&self) -> [usize; 3] {
        self.size
    }

    /// Adds `count` voxels along the first axis, beginning with `first`; those beyond the box are none.
    pub fn add_run(&mut self, [i, j, k]: [usize; 3], count: usize) {
        let [nx, ny, nz] = self.size;
        if j >= ny || k >= nz {
            return;
        }
        let row = self.words * ((k + 1) * (ny + 2) + j + 1);
        for at in i.min(nx) + 1..i.saturating_add(count).min(nx) + 1 {
            self.bits[row + at / 64] |= 1 << (at % 64);
        }
    }

    /// Whether a voxel is in the set; none beyond the box is.
    pub fn contains(&self, [i, j, k]: [usize; 3]) -> bool {
        let [nx, ny, nz] = self.size;
        i < nx && j < ny && k < nz && self.stored([i + 1, j + 1, k + 1])
    }

    /// How many voxels are in the set.
    pub fn count(&self) -> u64 {
        self.bits.iter().map(|w| u64::from(w.count_ones())).sum()
    }

    /// A voxel counted from the corner of the empty border.
    fn stored(&self, [i, j, k]: [usize; 3]) -> bool {
        self.row(j, k)[i / 64] >> (i % 64) & 1 == 1
    }

    fn row(&self, j: usize, k: usize) -> &[u64] {
        let first = self.words * (k * (self.size[1] + 2) + j);
        &self.bits[first..first + self.words]
    }
}

/// The smooth surface around `voxels`, whose centres lie on `grid`.
///
/// A vertex stays within half a voxel of where the staircase has one; the mesh is then moved along its
/// normals by the same small distance everywhere, so that its volume is that of the voxels.
///
/// # Errors
/// When there is no voxel, or the surface has more than [`MOST_FACES`].
///
/// ```
/// use cupwright_geometry::voxels::{Grid, Voxels, surface};
/// use nalgebra::{Matrix3, Point3};
///
/// let mut voxels = Voxels::none([9, 9, 9])?;
/// for (j, k) in (2..7).flat_map(|j| (2..7).map(move |k| (j, k))) {
///     voxels.add_run([2, j, k], 5);
/// }
/// let grid = Grid::new(Point3::origin(), Matrix3::from_diagonal_element(2.0))?;
/// let cube = surface(voxels, &grid)?.mesh;
/// assert!((cube.volume() - 1000.0).abs() < 10.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn surface(mut voxels: Voxels, grid: &Grid) -> Result<Surface, BadVoxels> {
    let added = net::unpinch(&mut voxels)?;
    let volume = real_of(voxels.count()) * grid.voxel_volume();
    let mut net = net::around(&voxels)?;
    drop(voxels);
    smooth::smooth(&mut net);
    // Counted from the empty border, of which the box's first voxel lies inside.
    let inner = Vector3::repeat(-1.0);
    for place in &mut net.places {
        *place = grid.point(&(*place + inner));
    }
    let mesh = triangles(net, grid)?;
    Ok(Surface {
        mesh: smooth::swollen(mesh, volume)?,
        added,
    })
}

/// The net's faces, each as two triangles parted along its shorter diagonal.
fn triangles(net: net::Net, grid: &Grid) -> Result<TriMesh, BadMesh> {
    let at = |v: u32| net.places[v as usize];
    let mirrored = grid.is_mirrored();
    let parted = net.faces.iter().flat_map(|&[a, b, c, d]| {
        let [a, b, c, d] = if mirrored { [d, c, b, a] } else { [a, b, c, d] };
        let across = |u, v| nalgebra::distance_squared(&at(u), &at(v));
        if across(a, c) <= across(b, d) {
            [[a, b, c], [a, c, d]]
        } else {
            [[a, b, d], [b, c, d]]
        }
    });
    let triangles = parted.collect();
    TriMesh::new(net.places, triangles)
}

#[expect(clippy::cast_precision_loss, reason = "indices of voxels are small")]
fn real(index: usize) -> f64 {
    index as f64
}

#[expect(clippy::cast_precision_loss, reason = "counts are below 2^32")]
fn real_of(count: u64) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests;
