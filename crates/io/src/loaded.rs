//! [`Loaded`]: a mesh from a file, and what was done to it on the way.

use std::fmt;

use cupwright_geometry::TriMesh;

use crate::format::Format;
use crate::weld::Welding;

/// A mesh as a file holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Loaded {
    /// The mesh, in the file's own coordinates and unit.
    pub mesh: TriMesh,
    /// What the file turned out to hold, whatever its name.
    pub format: Format,
    /// How corners became vertices; `None` where the file has its own indices (OBJ and PLY), which
    /// are kept as they are.
    pub welding: Option<Welding>,
    /// What a reader of the results should know.
    pub remarks: Vec<Remark>,
}

/// Something about a file that is no error but should be told.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Remark {
    /// The name promises another format than the file holds.
    Misnamed {
        /// The name's ending.
        extension: String,
        /// What the file holds.
        format: Format,
    },
    /// Faces with more than three corners were cut into triangles, all from their first corner.
    PolygonsSplit {
        /// How many faces.
        polygons: usize,
    },
    /// Several solids became one mesh.
    SolidsJoined {
        /// How many.
        solids: usize,
    },
    /// Triangles with two corners in the same place were left out.
    DegenerateDropped {
        /// How many.
        triangles: usize,
    },
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Misnamed { extension, format } => {
                write!(
                    f,
                    "the name ends in .{extension}, but the file holds {format} and was read as that"
                )
            }
            Self::PolygonsSplit { polygons } => {
                write!(
                    f,
                    "{polygons} face(s) with more than three corners were cut into triangles"
                )
            }
            Self::SolidsJoined { solids } => {
                write!(f, "the file's {solids} solids were joined into one mesh")
            }
            Self::DegenerateDropped { triangles } => {
                write!(
                    f,
                    "{triangles} triangle(s) with two corners in the same place were left out"
                )
            }
        }
    }
}

/// Where in a file something lies.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Place {
    /// In this line, counting from 1.
    Line(u64),
    /// At this byte, counting from 0.
    Byte(u64),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line(number) => write!(f, "line {number}"),
            Self::Byte(offset) => write!(f, "byte {offset}"),
        }
    }
}
