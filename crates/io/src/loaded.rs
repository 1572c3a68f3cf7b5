//! [`Loaded`]: a mesh from a file, and what was done to it on the way.

use std::fmt;

use cupwright_geometry::TriMesh;

use crate::format::Content;
use crate::volume::{LabelCount, listed};
use crate::weld::Welding;

/// A mesh as a file holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Loaded {
    /// The mesh, in the file's own coordinates and unit; that of a label volume is in mm, x toward the
    /// patient's right, y anterior, z superior.
    pub mesh: TriMesh,
    /// What the file turned out to hold, whatever its name.
    pub format: Content,
    /// How corners became vertices; `None` where the file has its own indices (OBJ and PLY), which
    /// are kept as they are, and where the mesh was made from labels.
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
        format: Content,
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
    /// A mesh was made of one label of a volume.
    LabelTaken {
        /// The label.
        taken: LabelCount,
        /// The others in the volume.
        others: Vec<LabelCount>,
        /// Voxels along each index of the volume.
        size: [usize; 3],
    },
    /// A volume's coordinates became right-anterior-superior ones.
    AxesTurned {
        /// What they were.
        from: &'static str,
    },
    /// A volume does not say where the patient's right is.
    AxesAssumed,
    /// The label reaches the border of its volume.
    CutAtBorder,
    /// The mesh was inside a DICOM object.
    Encapsulated {
        /// The code of its unit of length, where one is stated.
        unit: Option<String>,
    },
    /// Small pieces of a label were left out.
    CrumbsDropped {
        /// How many.
        pieces: usize,
    },
    /// Voxels were added to a label so that its surface does not meet itself along an edge.
    VoxelsAdded {
        /// How many.
        voxels: usize,
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
            Self::LabelTaken { taken, others, size } => {
                let [nx, ny, nz] = size;
                write!(f, "the mesh was made of label {taken} of a volume of {nx} x {ny} x {nz}")?;
                if others.is_empty() {
                    f.write_str(", the only one in it")
                } else {
                    write!(f, "; it also holds {}", listed(others))
                }
            }
            Self::AxesTurned { from } => write!(
                f,
                "the volume's {from} coordinates were turned to right-anterior-superior ones; places in this file's own coordinates do not fit"
            ),
            Self::AxesAssumed => f.write_str(
                "the volume does not say where the patient's right is: x was taken to go right, y anterior and z superior; \
                 check the side, for the bone may be a mirror image",
            ),
            Self::Encapsulated { unit } => {
                let unit = unit.as_deref().unwrap_or("not stated");
                write!(
                    f,
                    "the STL file in the DICOM object was read in its own coordinates (unit: {unit}); \
                     DICOM's patient axes run left, posterior and superior"
                )
            }
            Self::CutAtBorder => f.write_str(
                "the label reaches the border of its volume: the bone goes on beyond it and was closed flat there",
            ),
            Self::CrumbsDropped { pieces } => write!(
                f,
                "{pieces} piece(s) smaller than a hundredth of the largest were left out"
            ),
            Self::VoxelsAdded { voxels } => write!(
                f,
                "{voxels} voxel(s) were added where the surface would have met itself along an edge"
            ),
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
