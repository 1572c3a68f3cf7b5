//! Label volumes: a number for each voxel, and where the voxels lie in the patient.
//!
//! Read from NIfTI-1 (one file, `.nii` or `.nii.gz`) and NRRD (attached or detached, raw or gzip). Places are
//! in mm, **x toward the patient's right, y anterior, z superior**, whatever the file's own axes; that is
//! told where it changed them ([`Remark::AxesTurned`](crate::Remark)).
//!
//! Guaranteed: a volume is kept as runs of equal labels, so that memory grows with what the file holds and not with
//! what its header announces, nor with how far a gzip stream unpacks.

mod mesh;
mod nifti;
mod nrrd;
mod samples;
mod write;

use std::collections::BTreeMap;
use std::fmt;
use std::io;

use cupwright_geometry::voxels::{BadGrid, Grid};
use thiserror::Error;

pub(crate) use mesh::listed;
pub use mesh::{LabelMesh, NoLabel, mesh_of};
pub use nifti::{is_nifti, read_nifti};
pub use nrrd::{Companion, NoCompanion, read_nrrd};
pub use write::{write_nifti, write_nifti_gz, write_nrrd};

/// The most voxels of a volume: twenty times a scan of 512 x 512 x 400.
pub const MOST_VOXELS: u64 = 1 << 31;

/// The most runs of equal labels, 8 bytes each; smooth labels on a scan of 512 x 512 x 400 have about a
/// million, an image of grey values as many as voxels.
const MOST_RUNS: usize = 1 << 25;

/// The most different labels. Label maps of a whole body have some hundred, images of grey values
/// thousands.
const MOST_LABELS: usize = 1000;

/// A number for each voxel of a box.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelVolume {
    size: [usize; 3],
    grid: Grid,
    axes: Axes,
    runs: Vec<Run>,
    counts: BTreeMap<i32, u64>,
}

/// How the file says where the patient's right is.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Axes {
    /// In right-anterior-superior coordinates.
    Ras,
    /// In others, by this name, which were turned or mirrored to right-anterior-superior ones.
    Turned(&'static str),
    /// Not at all: they were taken to be right-anterior-superior.
    Assumed,
}

/// A label other than 0, and how many voxels have it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct LabelCount {
    /// The label.
    pub label: i32,
    /// Voxels with it.
    pub voxels: u64,
}

/// Voxels of one label that follow each other, as far as `end`, counted through the whole volume.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
struct Run {
    end: u32,
    label: i32,
}

/// Why a label volume cannot be read.
#[derive(Debug, Error)]
pub enum BadVolume {
    /// The file ends within its header.
    #[error(
        "the file ends within its header, after {0} bytes: it was cut short; copy or export it again"
    )]
    NoHeader(u64),
    /// A field of the header cannot be.
    #[error("{field} is {value}; it must be {allowed}, so export the labels again")]
    Field {
        /// The field, as the format calls it.
        field: String,
        /// Its value.
        value: String,
        /// What it may be.
        allowed: &'static str,
    },
    /// A field that must be there is not.
    #[error("the header has no field `{0}`; export the labels again")]
    Missing(&'static str),
    /// A line of the header that is none.
    #[error(
        "line {line}: '{found}' is no field of an NRRD header; correct the line, or export the labels again"
    )]
    Line {
        /// The line, counting from 1.
        line: usize,
        /// Its text.
        found: String,
    },
    /// A kind of file that is valid but not read here.
    #[error("{what} is not read here; {instead}")]
    Unsupported {
        /// What it is.
        what: String,
        /// What to do.
        instead: &'static str,
    },
    /// More voxels than are taken.
    #[error("the header announces {} x {} x {} voxels, more than {MOST_VOXELS} in all; crop or thin out the volume", .0[0], .0[1], .0[2])]
    TooMany([u64; 3]),
    /// The two ways in which NIfTI says where voxels lie contradict each other about left and right.
    #[error(
        "sform and qform disagree about which side is left: one is a mirror image of the other; find out which is right and export the labels again"
    )]
    TwoSides,
    /// The voxels do not lie on a grid.
    #[error("{0}; set spacing and orientation where the labels were made and export them again")]
    Grid(#[from] BadGrid),
    /// The data end too early.
    #[error(
        "the header announces {announced} voxels, but the data end after {found}: the file was cut short; copy or export it again"
    )]
    CutShort {
        /// Voxels according to the header.
        announced: u64,
        /// Whole voxels in the file.
        found: u64,
    },
    /// A value is no whole number of 32 bits.
    #[error(
        "voxel {voxel} has the value {value}, which is no label; labels are whole numbers: give a label map, not an image"
    )]
    NotALabel {
        /// Which voxel, counting from 0 through the volume.
        voxel: u64,
        /// Its value.
        value: f64,
    },
    /// Grey values.
    #[error(
        "the volume has {what}: it is an image of grey values, not a label map; segment the bone first and export the labels"
    )]
    Image {
        /// Too much of what.
        what: String,
    },
    /// The bytes cannot be had, or unpacked.
    #[error(
        "the data cannot be read after voxel {voxel} ({cause}); check the disk, or copy or export the file again"
    )]
    Unreadable {
        /// Whole voxels so far.
        voxel: u64,
        /// What the operating system or the unpacking says.
        cause: io::Error,
    },
    /// The file with the data, which the header names, cannot be had.
    #[error(transparent)]
    Companion(#[from] NoCompanion),
}

impl LabelVolume {
    /// A volume from the labels of its voxels, the first index running fastest.
    ///
    /// `grid` gives places in mm, x toward the patient's right, y anterior, z superior.
    ///
    /// # Errors
    /// When there are fewer labels than voxels, or more different ones or changes than are taken.
    pub fn new(
        size: [usize; 3],
        grid: Grid,
        labels: impl IntoIterator<Item = i32>,
    ) -> Result<Self, BadVolume> {
        let announced = voxels_of(size.map(|n| n as u64))?;
        let mut runs = Runs::default();
        let taken = usize::try_from(announced).unwrap_or(usize::MAX);
        labels
            .into_iter()
            .take(taken)
            .try_for_each(|label| runs.add(label))?;
        runs.volume(size, grid, Axes::Ras)
    }

    /// How many voxels there are along each index.
    pub fn size(&self) -> [usize; 3] {
        self.size
    }

    /// Where the voxels lie, in mm: x toward the patient's right, y anterior, z superior.
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// How the file says so.
    pub fn axes(&self) -> Axes {
        self.axes
    }

    /// The labels in the volume other than 0, which is the background, in ascending order.
    pub fn labels(&self) -> Vec<LabelCount> {
        let all = self.counts.iter().filter(|(label, _)| **label != 0);
        all.map(|(&label, &voxels)| LabelCount { label, voxels })
            .collect()
    }

    /// The label of a voxel; `None` beyond the volume.
    pub fn at(&self, [i, j, k]: [usize; 3]) -> Option<i32> {
        let [nx, ny, nz] = self.size;
        if i >= nx || j >= ny || k >= nz {
            return None;
        }
        let index = (k * ny + j) * nx + i;
        let run = self.runs.partition_point(|run| run.end as usize <= index);
        self.runs.get(run).map(|run| run.label)
    }

    /// The labels of all voxels, the first index running fastest.
    fn values(&self) -> impl Iterator<Item = i32> + '_ {
        let mut start = 0;
        self.runs.iter().flat_map(move |run| {
            let length = run.end - start;
            start = run.end;
            std::iter::repeat_n(run.label, length as usize)
        })
    }
}

impl fmt::Display for LabelCount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({} voxels)", self.label, self.voxels)
    }
}

/// How many voxels a volume of this size has.
fn voxels_of(size: [u64; 3]) -> Result<u64, BadVolume> {
    let [nx, ny, nz] = size;
    let all = nx.checked_mul(ny).and_then(|n| n.checked_mul(nz));
    all.filter(|n| *n <= MOST_VOXELS)
        .ok_or(BadVolume::TooMany(size))
}

/// Runs as they come.
#[derive(Debug, Default)]
struct Runs {
    runs: Vec<Run>,
    counts: BTreeMap<i32, u64>,
    voxels: u32,
}

impl Runs {
    /// The next voxel's label. There must not be more than [`MOST_VOXELS`].
    #[inline]
    fn add(&mut self, label: i32) -> Result<(), BadVolume> {
        self.voxels += 1;
        match self.runs.last_mut() {
            Some(run) if run.label == label => {
                run.end = self.voxels;
                Ok(())
            }
            _ => self.begin(label),
        }
    }

    fn begin(&mut self, label: i32) -> Result<(), BadVolume> {
        self.close();
        self.counts.entry(label).or_default();
        if self.counts.len() > MOST_LABELS {
            let what = format!("more than {MOST_LABELS} different values");
            return Err(BadVolume::Image { what });
        }
        if self.runs.len() == MOST_RUNS {
            let what = format!("more than {MOST_RUNS} changes from voxel to voxel");
            return Err(BadVolume::Image { what });
        }
        let end = self.voxels;
        self.runs.push(Run { end, label });
        Ok(())
    }

    /// Counts the voxels of the last run.
    fn close(&mut self) {
        let (before, last) = match self.runs[..] {
            [.., before, last] => (before.end, last),
            [last] => (0, last),
            [] => return,
        };
        *self.counts.entry(last.label).or_default() += u64::from(last.end - before);
    }

    fn volume(
        mut self,
        size: [usize; 3],
        grid: Grid,
        axes: Axes,
    ) -> Result<LabelVolume, BadVolume> {
        let announced = voxels_of(size.map(|n| n as u64))?;
        let found = u64::from(self.voxels);
        if found < announced {
            return Err(BadVolume::CutShort { announced, found });
        }
        self.close();
        Ok(LabelVolume {
            size,
            grid,
            axes,
            runs: self.runs,
            counts: self.counts,
        })
    }
}

#[cfg(test)]
mod tests;
