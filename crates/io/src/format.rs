//! The file formats by name and by extension.

use std::fmt;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// A way to store a triangle mesh in a file.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Format {
    /// STL as 50-byte records: coordinates are rounded to `f32`, and no indices are stored.
    StlBinary,
    /// STL as text, with every digit of the coordinates; no indices are stored.
    StlAscii,
    /// OBJ text: vertices and faces, with every digit.
    Obj,
    /// PLY with its data as text, with every digit.
    PlyAscii,
    /// PLY with its data in binary, least significant byte first; coordinates as `f64`.
    PlyLittleEndian,
    /// PLY with its data in binary, most significant byte first; coordinates as `f64`.
    PlyBigEndian,
}

/// What a file holds, whatever its name.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Content {
    /// A triangle mesh.
    Mesh(Format),
    /// A label volume in NIfTI-1, of which a mesh was made.
    Nifti,
    /// A label volume in NRRD, of which a mesh was made.
    Nrrd,
    /// An STL file in a DICOM object.
    DicomStl,
}

impl Content {
    /// The endings of file names for it, without a dot.
    pub fn extensions(self) -> &'static [&'static str] {
        match self {
            Self::Mesh(format) => match format {
                Format::StlBinary | Format::StlAscii => &["stl"],
                Format::Obj => &["obj"],
                Format::PlyAscii | Format::PlyLittleEndian | Format::PlyBigEndian => &["ply"],
            },
            Self::Nifti => &["nii", "gz"],
            Self::Nrrd => &["nrrd", "nhdr", "gz"],
            Self::DicomStl => &["dcm"],
        }
    }
}

impl Content {
    /// Whether the name `path` ends as those of files that a mesh can be had from: `.stl`, `.obj`, `.ply`,
    /// `.nii`, `.nii.gz`, `.nrrd`, `.nrrd.gz`, `.nhdr` or `.dcm`, in whatever case.
    pub fn may_be_in(path: &Path) -> bool {
        let name = path.file_name().and_then(|name| name.to_str());
        let name = name.map(str::to_ascii_lowercase).unwrap_or_default();
        let endings = [".nii", ".nii.gz", ".nrrd", ".nrrd.gz", ".nhdr", ".dcm"];
        Format::for_path(path).is_ok() || endings.iter().any(|ending| name.ends_with(ending))
    }
}

impl From<Format> for Content {
    fn from(format: Format) -> Self {
        Self::Mesh(format)
    }
}

impl fmt::Display for Content {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Mesh(format) => format.fmt(f),
            Self::Nifti => f.write_str("a NIfTI volume"),
            Self::Nrrd => f.write_str("an NRRD volume"),
            Self::DicomStl => f.write_str("an STL file in a DICOM object"),
        }
    }
}

/// No format goes by a file name's ending.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("{}: cannot tell the format from the name; end it in .stl, .obj or .ply", path.display())]
pub struct UnknownExtension {
    /// The file name.
    pub path: PathBuf,
}

impl Format {
    /// The format to write under the name `path`: `.stl` and `.ply` are binary.
    ///
    /// # Errors
    /// When the name does not end in `.stl`, `.obj` or `.ply`, in whatever case.
    pub fn for_path(path: &Path) -> Result<Self, UnknownExtension> {
        let extension = path.extension().and_then(|e| e.to_str());
        let known = extension.map(str::to_ascii_lowercase);
        match known.as_deref() {
            Some("stl") => Ok(Self::StlBinary),
            Some("obj") => Ok(Self::Obj),
            Some("ply") => Ok(Self::PlyLittleEndian),
            _ => Err(UnknownExtension { path: path.into() }),
        }
    }

    /// The ending of file names in this format, without a dot.
    pub fn extension(self) -> &'static str {
        match self {
            Self::StlBinary | Self::StlAscii => "stl",
            Self::Obj => "obj",
            Self::PlyAscii | Self::PlyLittleEndian | Self::PlyBigEndian => "ply",
        }
    }
}

impl fmt::Display for Format {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::StlBinary => "binary STL",
            Self::StlAscii => "ASCII STL",
            Self::Obj => "OBJ",
            Self::PlyAscii => "ASCII PLY",
            Self::PlyLittleEndian => "little-endian PLY",
            Self::PlyBigEndian => "big-endian PLY",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_tells_its_format_in_any_case() {
        assert_eq!(
            Format::for_path(Path::new("a/b.STL")),
            Ok(Format::StlBinary)
        );
        assert_eq!(Format::for_path(Path::new("b.x.obj")), Ok(Format::Obj));
        assert_eq!(
            Format::for_path(Path::new("b.Ply")),
            Ok(Format::PlyLittleEndian)
        );
    }

    #[test]
    fn names_of_volumes_and_meshes_may_hold_a_bone_and_others_not() {
        for name in [
            "a.STL",
            "b/hip.nii.gz",
            "hip.NII",
            "hip.nrrd",
            "hip.nhdr",
            "x.obj",
        ] {
            assert!(Content::may_be_in(Path::new(name)), "{name}");
        }
        for name in ["case.ron", "notes.gz", "nii", "hip"] {
            assert!(!Content::may_be_in(Path::new(name)), "{name}");
        }
    }

    #[test]
    fn a_name_without_a_known_ending_is_refused_by_name() {
        for name in ["pelvis", "pelvis.txt", ".stl"] {
            let refused = Format::for_path(Path::new(name)).unwrap_err();
            assert_eq!(
                refused.to_string(),
                format!(
                    "{name}: cannot tell the format from the name; end it in .stl, .obj or .ply"
                )
            );
        }
    }
}
