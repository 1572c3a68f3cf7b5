//! Triangle meshes from and to STL, OBJ and PLY, and from label volumes in NIfTI and NRRD and from STL
//! files in DICOM objects.
//!
//! [`read_mesh`] and [`write_mesh`] work on paths; everything else works on any
//! [`Read`](std::io::Read) or [`Write`](std::io::Write).
//!
//! Guaranteed:
//! - a mesh that is returned has finite coordinates, indices in range and at least one triangle;
//! - what was done to it on the way in is told ([`Loaded::welding`], [`Loaded::remarks`]);
//! - every error says where in the file it lies and ends in what to do about it;
//! - memory grows with what a file holds, not with what its header announces nor with how far it unpacks;
//! - a file that is replaced keeps its old content until the new one is complete.
//!
//! Not guaranteed: that the surface is closed, that its normals point out, or that the file's unit
//! is the millimetre; none of the three mesh formats records a unit. Normals, colours and textures in a
//! file are passed over: a triangle's corners run counter-clockwise seen from outside.
//!
//! ```
//! use cupwright_geometry::samples;
//! use cupwright_io::{Format, read_from, write_to};
//!
//! let cube = samples::cuboid([2.0, 2.0, 2.0]);
//! let mut file = Vec::new();
//! write_to(&mut file, &cube, Format::StlBinary)?;
//! assert_eq!(file.len(), 84 + 50 * 12);
//!
//! let loaded = read_from(file.as_slice(), file.len() as u64, Some("stl"))?;
//! assert_eq!(loaded.mesh.vertices().len(), 8);
//! assert_eq!(loaded.mesh.volume(), 8.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod dicom;
pub mod draft;
pub mod file;
pub mod format;
pub mod loaded;
pub mod obj;
pub mod ply;
pub mod stl;
pub mod stream;
pub mod volume;
pub mod weld;

mod text;

pub use dicom::BadDicom;
pub use draft::{Abandoned, BadTarget, Draft, abandon_drafts};
pub use file::{ReadMeshError, WriteMeshError, read_label, read_mesh, write_mesh};
pub use format::{Content, Format, UnknownExtension};
pub use loaded::{Loaded, Place, Remark};
pub use obj::BadObj;
pub use ply::BadPly;
pub use stl::BadStl;
pub use stream::{ReadError, WriteError, read_from, read_label_from, write_to};
pub use text::BadLine;
pub use volume::{LabelCount, LabelVolume, NoLabel};
pub use weld::{Tolerance, Welding, weld};
