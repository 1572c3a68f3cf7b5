//! Meshes from and to files named by a path.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Component, Path, PathBuf};

use cupwright_geometry::TriMesh;
use thiserror::Error;

use crate::draft::{BadTarget, Draft};
use crate::format::Format;
use crate::loaded::Loaded;
use crate::stream::{Choice, ReadError, WriteError, read_chosen, write_to};
use crate::volume::{LabelCount, NoCompanion, NoLabel};

/// Why a file cannot be read as a mesh.
#[derive(Debug, Error)]
pub enum ReadMeshError {
    /// There is no such file.
    #[error("{}: there is no such file; check the name and the folder", path.display())]
    Missing {
        /// The path.
        path: PathBuf,
    },
    /// It is a folder.
    #[error("{}: this is a folder; name a file in it", path.display())]
    Folder {
        /// The path.
        path: PathBuf,
    },
    /// It is a device, a pipe or the like.
    #[error("{}: this is a device or a pipe, not a file; save its content to a file first", path.display())]
    NotAFile {
        /// The path.
        path: PathBuf,
    },
    /// The operating system refuses to open it.
    #[error("{}: cannot be opened ({cause}); check its permissions", path.display())]
    Unopenable {
        /// The path.
        path: PathBuf,
        /// What the operating system says.
        cause: io::Error,
    },
    /// Its content is no mesh, or a damaged one.
    #[error("{}: {problem}", path.display())]
    Bad {
        /// The path.
        path: PathBuf,
        /// What is wrong.
        problem: Box<ReadError>,
    },
}

impl ReadMeshError {
    /// The labels of a volume that was read without saying which of several.
    pub fn labels(&self) -> Option<&[LabelCount]> {
        match self {
            Self::Bad { problem, .. } => match &**problem {
                ReadError::Label(NoLabel::Several(held)) => Some(held),
                _ => None,
            },
            _ => None,
        }
    }
}

/// Why a mesh cannot be written to a file. What was there is unchanged.
#[derive(Debug, Error)]
pub enum WriteMeshError {
    /// A file cannot be written at this path.
    #[error(transparent)]
    Target(#[from] BadTarget),
    /// The mesh cannot be written in this format, or the disk is full.
    #[error("{}: {problem}", path.display())]
    Mesh {
        /// The path.
        path: PathBuf,
        /// What is wrong.
        problem: WriteError,
    },
}

/// Reads the mesh in the file at `path`; see [`read_from`](crate::read_from) for how its format is told.
///
/// A label volume becomes the mesh around the only label in it.
///
/// # Errors
/// When there is no such file, it cannot be read, or its content is no mesh or a damaged one.
pub fn read_mesh(path: impl AsRef<Path>) -> Result<Loaded, ReadMeshError> {
    read(path.as_ref(), None)
}

/// Reads the mesh around one label of the volume in the file at `path`.
///
/// # Errors
/// When there is no such file, it cannot be read, is no label volume, or has not the label.
pub fn read_label(path: impl AsRef<Path>, label: i32) -> Result<Loaded, ReadMeshError> {
    read(path.as_ref(), Some(label))
}

fn read(path: &Path, label: Option<i32>) -> Result<Loaded, ReadMeshError> {
    let size = size_of_file(path)?;
    let file = File::open(path).map_err(|cause| ReadMeshError::Unopenable {
        path: path.into(),
        cause,
    })?;
    let extension = path.extension().and_then(|e| e.to_str());
    let choice = Choice {
        label,
        beside: &|name| companion(path, name),
    };
    read_chosen(file, size, extension, &choice).map_err(|problem| ReadMeshError::Bad {
        path: path.into(),
        problem: problem.into(),
    })
}

/// The file `name` beside the one at `path`, or in a folder there.
///
/// A name that leads elsewhere is not followed: who opens a file from somebody else means that file and
/// what came with it.
fn companion(path: &Path, name: &str) -> Result<Box<dyn Read>, NoCompanion> {
    let told = |why: String| NoCompanion {
        name: name.into(),
        why,
    };
    let within = |c: Component| matches!(c, Component::Normal(_) | Component::CurDir);
    if !Path::new(name).components().all(within) {
        return Err(told("it is not in the folder of the header".into()));
    }
    let beside = path.parent().unwrap_or(Path::new("")).join(name);
    size_of_file(&beside).map_err(|problem| told(problem.to_string()))?;
    match File::open(&beside) {
        Ok(file) => Ok(Box::new(file)),
        Err(cause) => Err(told(cause.to_string())),
    }
}

/// The size of the file at `path`, in bytes. A pipe must not be opened: that could wait for ever.
fn size_of_file(path: &Path) -> Result<u64, ReadMeshError> {
    let metadata = fs::metadata(path).map_err(|cause| {
        let path = path.into();
        match cause.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => {
                ReadMeshError::Missing { path }
            }
            _ => ReadMeshError::Unopenable { path, cause },
        }
    })?;
    let path = path.into();
    if metadata.is_dir() {
        Err(ReadMeshError::Folder { path })
    } else if !metadata.is_file() {
        Err(ReadMeshError::NotAFile { path })
    } else {
        Ok(metadata.len())
    }
}

/// Writes `mesh` to the file at `path`, which is replaced only once the new one is complete.
///
/// # Errors
/// When a file cannot be written at `path`, or the format cannot hold a coordinate; what was there
/// stays.
pub fn write_mesh(
    path: impl AsRef<Path>,
    mesh: &TriMesh,
    format: Format,
) -> Result<(), WriteMeshError> {
    let path = path.as_ref();
    let mut draft = Draft::beside(path)?;
    write_to(&mut draft, mesh, format).map_err(|problem| WriteMeshError::Mesh {
        path: path.into(),
        problem,
    })?;
    Ok(draft.publish()?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loaded::Remark;
    use cupwright_geometry::samples;

    #[test]
    fn what_is_written_is_read_back() {
        let folder = tempfile::tempdir().unwrap();
        let mesh = samples::lumpy_ball(24.7, 0.2, 20, 15);
        for name in ["a.stl", "a.obj", "a.ply"] {
            let path = folder.path().join(name);
            write_mesh(&path, &mesh, Format::for_path(&path).unwrap()).unwrap();
            let loaded = read_mesh(&path).unwrap();
            assert_eq!(loaded.mesh.vertices().len(), mesh.vertices().len());
            assert_eq!(loaded.remarks, []);
        }
    }

    #[test]
    fn a_misnamed_file_is_read_by_its_content_and_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bone.obj");
        let cube = samples::cuboid([1.0, 2.0, 3.0]);
        write_mesh(&path, &cube, Format::StlAscii).unwrap();
        let remarks = read_mesh(&path).unwrap().remarks;
        let misnamed = Remark::Misnamed {
            extension: "obj".into(),
            format: Format::StlAscii.into(),
        };
        assert_eq!(remarks, [misnamed]);
        assert_eq!(
            remarks[0].to_string(),
            "the name ends in .obj, but the file holds ASCII STL and was read as that"
        );
    }

    #[test]
    fn a_missing_file_and_a_folder_are_named() {
        let folder = tempfile::tempdir().unwrap();
        let missing = folder.path().join("none.stl");
        assert_eq!(
            read_mesh(&missing).unwrap_err().to_string(),
            format!(
                "{}: there is no such file; check the name and the folder",
                missing.display()
            )
        );
        assert_eq!(
            read_mesh(folder.path()).unwrap_err().to_string(),
            format!(
                "{}: this is a folder; name a file in it",
                folder.path().display()
            )
        );
    }

    #[test]
    fn a_damaged_file_is_named_with_the_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bone.obj");
        fs::write(&path, "v 0 0 0\nv 1 0 x\n").unwrap();
        assert_eq!(
            read_mesh(&path).unwrap_err().to_string(),
            format!(
                "{}: OBJ: line 2: vertex 2: 'x' is no number; write numbers like -12.5 or 1e-3, or export the file again",
                path.display()
            )
        );
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_refused() {
        let refused = read_mesh("/dev/zero").unwrap_err();
        assert!(matches!(refused, ReadMeshError::NotAFile { .. }));
    }

    #[test]
    fn a_mesh_that_cannot_be_written_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bone.stl");
        fs::write(&path, "old").unwrap();
        let huge = samples::cuboid([2e39, 1.0, 1.0]);
        let refused = write_mesh(&path, &huge, Format::StlBinary).unwrap_err();
        assert!(matches!(
            refused,
            WriteMeshError::Mesh {
                problem: WriteError::BeyondSingle { .. },
                ..
            }
        ));
        assert_eq!(fs::read_to_string(&path).unwrap(), "old");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
