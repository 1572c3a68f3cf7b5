//! STL: loose triangles, in binary or in text.
//!
//! Reading welds corners with identical coordinates and leaves out triangles of which two corners
//! are identical, so a triangle's index in the mesh can be smaller than its number in the file.
//! Normals in the file are passed over; the order of the corners decides.

mod ascii;
mod binary;

use std::io;

use cupwright_geometry::{BadMesh, TriMesh};
use thiserror::Error;

use crate::format::Format;
use crate::loaded::{Loaded, Place, Remark};
use crate::text::BadLine;
use crate::weld::Welder;

pub use ascii::{read_ascii, write_ascii};
pub use binary::{announced_size, read_binary, write_binary};

/// Why an STL file cannot be read. Triangles count from 0.
#[derive(Debug, Error)]
pub enum BadStl {
    /// Fewer bytes than a header has.
    #[error(
        "the file holds {bytes} bytes, but a binary STL begins with a header of 84; copy or export it again"
    )]
    NoHeader {
        /// Size of the file.
        bytes: u64,
    },
    /// Fewer bytes than the header announces.
    #[error(
        "the header announces {announced} triangles, which take {needed} bytes, but the file holds {bytes} bytes ({whole} whole triangles): \
         it was cut short or is no STL; copy or export it again"
    )]
    CutShort {
        /// Triangles according to the header.
        announced: u32,
        /// Size that they take.
        needed: u64,
        /// Size of the file.
        bytes: u64,
        /// Triangles in the file.
        whole: u64,
    },
    /// More bytes than the header announces.
    #[error(
        "the header announces {announced} triangles, which take {needed} bytes, but the file holds {bytes} bytes: \
         it was not finished or is no STL; export it again"
    )]
    LeftOver {
        /// Triangles according to the header.
        announced: u32,
        /// Size that they take.
        needed: u64,
        /// Size of the file.
        bytes: u64,
    },
    /// A coordinate is NaN or infinite.
    #[error(
        "{place}: triangle {triangle} (counting from 0), {} corner: {} is {value}, not a finite number; repair the mesh where it was made and export it again",
        ORDINALS[*corner], AXES[*axis]
    )]
    NotFinite {
        /// Where in the file.
        place: Place,
        /// Which triangle.
        triangle: usize,
        /// Which of its corners: 0, 1 or 2.
        corner: usize,
        /// Which coordinate: 0, 1 or 2.
        axis: usize,
        /// Its value.
        value: f64,
    },
    /// A word stands where a number should.
    #[error(
        "line {line}: triangle {triangle} (counting from 0), {} corner: {found} is no number; write numbers like -12.5 or 1e-3, or export the file again",
        ORDINALS[*corner]
    )]
    NotANumber {
        /// The line, counting from 1.
        line: u64,
        /// Which triangle.
        triangle: usize,
        /// Which of its corners: 0, 1 or 2.
        corner: usize,
        /// The word.
        found: String,
    },
    /// A word stands where another should.
    #[error(
        "line {line}: expected {expected} but found {found}; correct the line, or export the file again as binary STL"
    )]
    Unexpected {
        /// The line, counting from 1.
        line: u64,
        /// What should stand there.
        expected: &'static str,
        /// The word.
        found: String,
    },
    /// The text ends before `endsolid`.
    #[error(
        "the file ends after line {line} and {triangles} triangles, where {expected} should follow: it was cut short; copy or export it again"
    )]
    EndsEarly {
        /// The last line, counting from 1.
        line: u64,
        /// Whole triangles so far.
        triangles: usize,
        /// What should follow.
        expected: &'static str,
    },
    /// There are no triangles.
    #[error("the file holds no triangles; export the surface again")]
    NoTriangles,
    /// Every triangle has two identical corners.
    #[error(
        "all {triangles} triangles have two corners in the same place; check the unit and the digits of the export"
    )]
    AllDegenerate {
        /// How many triangles.
        triangles: usize,
    },
    /// The mesh has too many triangles.
    #[error("{0}; thin it out or cut it")]
    Mesh(BadMesh),
    /// The operating system refused to read on.
    #[error(
        "the file cannot be read beyond triangle {triangle} ({cause}); check the disk, or copy the file again"
    )]
    Unreadable {
        /// Whole triangles so far.
        triangle: usize,
        /// What the operating system says.
        cause: io::Error,
    },
    /// A line cannot be had.
    #[error(transparent)]
    Line(#[from] BadLine),
}

/// A triangle's corners as messages name them.
const ORDINALS: [&str; 3] = ["first", "second", "third"];
/// The axes as messages name them.
const AXES: [&str; 3] = ["x", "y", "z"];

/// The mesh of all triangles that `welder` took.
fn finished(welder: Welder, format: Format, solids: usize) -> Result<Loaded, BadStl> {
    let triangles_seen = welder.triangles_seen();
    let (vertices, triangles, welding) = welder.finish();
    let mesh = TriMesh::new(vertices, triangles).map_err(|bad| match bad {
        BadMesh::Empty if triangles_seen == 0 => BadStl::NoTriangles,
        BadMesh::Empty => BadStl::AllDegenerate {
            triangles: triangles_seen,
        },
        other => BadStl::Mesh(other),
    })?;
    let mut remarks = Vec::new();
    if solids > 1 {
        remarks.push(Remark::SolidsJoined { solids });
    }
    if welding.dropped_degenerate > 0 {
        remarks.push(Remark::DegenerateDropped {
            triangles: welding.dropped_degenerate,
        });
    }
    Ok(Loaded {
        mesh,
        format: format.into(),
        welding: Some(welding),
        remarks,
    })
}
