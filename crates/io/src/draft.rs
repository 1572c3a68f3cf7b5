//! [`Draft`]: a file that takes the place of another only once it is complete.

use std::collections::BTreeSet;
use std::fs::{self, File, Metadata};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use tempfile::NamedTempFile;
use thiserror::Error;

/// Why a file cannot be written where it should.
#[derive(Debug, Error)]
pub enum BadTarget {
    /// The path ends in no file name.
    #[error("{}: this names no file; add a file name", path.display())]
    NoName {
        /// The path.
        path: PathBuf,
    },
    /// There is a folder of this name.
    #[error("{}: this is a folder; name a file in it", path.display())]
    Folder {
        /// The path.
        path: PathBuf,
    },
    /// There is a device, a pipe or the like of this name.
    #[error("{}: this is a device or a pipe, not a file; name a file", path.display())]
    NotAFile {
        /// The path.
        path: PathBuf,
    },
    /// The file that is there must not be changed.
    #[error("{}: this file is write-protected; choose another name, or lift the protection", path.display())]
    Protected {
        /// The path.
        path: PathBuf,
    },
    /// The folder for the file does not exist.
    #[error("{}: there is no folder {}; create it first, or choose another", path.display(), folder.display())]
    NoFolder {
        /// The path.
        path: PathBuf,
        /// The folder.
        folder: PathBuf,
    },
    /// The operating system refused.
    #[error("{}: cannot be written ({cause}), and what was there is unchanged; check the folder's permissions and the space on the disk", path.display())]
    Refused {
        /// The path.
        path: PathBuf,
        /// What the operating system says.
        cause: io::Error,
    },
}

/// A file being written beside the one it is to replace.
///
/// [`publish`](Self::publish) puts it in its place in one step, so that at every moment the path
/// holds either all of the old content or all of the new. Dropped before that, it is removed. A
/// program that is to end at once calls [`abandon_drafts`]; one that is killed meanwhile leaves a
/// file `.cupwright-*.part` behind, and the old content.
///
/// The new file keeps the permissions of the old one. Where the path is a link, the file that it
/// points to is replaced, not the link.
#[derive(Debug)]
pub struct Draft {
    path: PathBuf,
    target: PathBuf,
    file: BufWriter<NamedTempFile>,
    /// Struck off the list once the temporary file is gone: after the fields above.
    _listed: Listed,
}

/// The temporary files of all drafts of this process.
static UNFINISHED: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

fn unfinished() -> MutexGuard<'static, BTreeSet<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A temporary file's entry in [`UNFINISHED`], for as long as its draft lives.
#[derive(Debug)]
struct Listed(PathBuf);

impl Drop for Listed {
    fn drop(&mut self) {
        unfinished().remove(&self.0);
    }
}

/// No draft of this process is left, and while this lives none begins.
#[derive(Debug)]
pub struct Abandoned(#[expect(dead_code, reason = "held, not read")] Held);

type Held = MutexGuard<'static, BTreeSet<PathBuf>>;

/// Removes the temporary files of all drafts of this process, for a program about to end.
///
/// Threads that have to do with drafts wait until the value returned is dropped; keep it until the
/// end. Drafts that were under way cannot be published any more.
///
/// ```no_run
/// let _none = cupwright_io::abandon_drafts();
/// std::process::exit(130);
/// ```
pub fn abandon_drafts() -> Abandoned {
    let unfinished = unfinished();
    for file in unfinished.iter() {
        // One that cannot be removed cannot be helped; the program is ending.
        let _ = fs::remove_file(file);
    }
    Abandoned(unfinished)
}

/// How the name of a temporary file begins and ends.
const MARKS: [&str; 2] = [".cupwright-", ".part"];

/// Removes from `folder` the temporary files that programs left there when they were killed, and tells
/// how many; those of drafts of this process are kept.
///
/// Another program that is writing to the folder loses its drafts and is told so; hold the folder in
/// some way before.
///
/// # Errors
/// When the folder cannot be listed or a file in it cannot be removed.
pub fn remove_leftovers(folder: &Path) -> io::Result<usize> {
    let unfinished = unfinished();
    let [first, last] = MARKS;
    let mut removed = 0;
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default();
        let ours = unfinished
            .iter()
            .any(|draft| draft.file_name() == Some(name));
        let name = name.to_string_lossy();
        if name.starts_with(first) && name.ends_with(last) && !ours {
            fs::remove_file(&path)?;
            removed += 1;
        }
    }
    Ok(removed)
}

impl Draft {
    /// Begins a file that is to be at `path`.
    ///
    /// # Errors
    /// When `path` names no file, a folder, a device or a write-protected file, or its folder does
    /// not exist or must not be written to.
    pub fn beside(path: &Path) -> Result<Self, BadTarget> {
        let refused = |cause| BadTarget::Refused {
            path: path.into(),
            cause,
        };
        let old = match fs::metadata(path) {
            Ok(metadata) => Some(replaceable(path, metadata)?),
            Err(cause) if is_absent(&cause) => None,
            Err(cause) => return Err(refused(cause)),
        };
        if path.file_name().is_none() {
            return Err(BadTarget::NoName { path: path.into() });
        }
        let target = match old {
            Some(_) => fs::canonicalize(path).map_err(refused)?,
            None => path.into(),
        };
        let (file, listed) = temporary_file(path, folder_of(&target))?;
        if let Some(old) = old {
            let permissions = old.permissions();
            file.as_file()
                .set_permissions(permissions)
                .map_err(refused)?;
        }
        Ok(Self {
            path: path.into(),
            target,
            file: BufWriter::new(file),
            _listed: listed,
        })
    }

    /// Puts the file in its place, replacing what was there.
    ///
    /// # Errors
    /// When the last bytes cannot be written or the file cannot be put in its place; what was there
    /// stays.
    pub fn publish(self) -> Result<(), BadTarget> {
        let refused = |cause| BadTarget::Refused {
            path: self.path,
            cause,
        };
        let file = match self.file.into_inner() {
            Ok(file) => file,
            Err(unflushed) => return Err(refused(unflushed.into_error())),
        };
        let synced = file.as_file().sync_all();
        let placed = synced.and_then(|()| file.persist(&self.target).map_err(|e| e.error));
        placed.map(|_: File| ()).map_err(refused)
    }
}

impl Write for Draft {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// `old`, if it is that of a file that may be replaced.
fn replaceable(path: &Path, old: Metadata) -> Result<Metadata, BadTarget> {
    let path = path.into();
    if old.is_dir() {
        Err(BadTarget::Folder { path })
    } else if !old.is_file() {
        Err(BadTarget::NotAFile { path })
    } else if old.permissions().readonly() {
        Err(BadTarget::Protected { path })
    } else {
        Ok(old)
    }
}

/// Whether this error says that there is nothing of that name.
fn is_absent(cause: &io::Error) -> bool {
    matches!(
        cause.kind(),
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
    )
}

/// The folder that a file lies in.
fn folder_of(target: &Path) -> &Path {
    match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

fn temporary_file(path: &Path, folder: &Path) -> Result<(NamedTempFile, Listed), BadTarget> {
    if !folder.is_dir() {
        return Err(BadTarget::NoFolder {
            path: path.into(),
            folder: folder.into(),
        });
    }
    let mut builder = tempfile::Builder::new();
    let [first, last] = MARKS;
    builder.prefix(first).suffix(last);
    #[cfg(unix)]
    let everyone = std::os::unix::fs::PermissionsExt::from_mode(0o666);
    #[cfg(unix)]
    builder.permissions(everyone); // as for any new file, less what the user's mask withholds
    let mut unfinished = unfinished();
    let file = builder
        .tempfile_in(folder)
        .map_err(|cause| BadTarget::Refused {
            path: path.into(),
            cause: without_path(cause),
        })?;
    let listed = Listed(file.path().into());
    unfinished.insert(file.path().into());
    Ok((file, listed))
}

/// The usual refusals without the name of the temporary file, which would only puzzle the reader.
fn without_path(cause: io::Error) -> io::Error {
    match cause.kind() {
        kind @ (io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem) => kind.into(),
        _ => cause,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> tempfile::TempDir {
        tempfile::tempdir().unwrap()
    }

    /// Writes `text` to `path` through a draft.
    fn put(path: &Path, text: &str) -> Result<(), BadTarget> {
        let mut draft = Draft::beside(path)?;
        draft.write_all(text.as_bytes()).unwrap();
        draft.publish()
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let mut names: Vec<_> = entries
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_published_draft_is_the_new_content_and_nothing_is_left_beside_it() {
        let folder = folder();
        let path = folder.path().join("a.txt");
        put(&path, "one").unwrap();
        put(&path, "two").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "two");
        assert_eq!(names(folder.path()), ["a.txt"]);
    }

    #[test]
    fn until_then_the_old_content_stays_and_a_dropped_draft_leaves_no_trace() {
        let folder = folder();
        let path = folder.path().join("a.txt");
        put(&path, "old").unwrap();
        let mut draft = Draft::beside(&path).unwrap();
        draft.write_all(&[b'x'; 100_000]).unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "old");
        assert_eq!(names(folder.path()).len(), 2);
        drop(draft);
        assert_eq!(fs::read_to_string(&path).unwrap(), "old");
        assert_eq!(names(folder.path()), ["a.txt"]);
    }

    #[test]
    fn a_folder_in_the_way_is_refused() {
        let folder = folder();
        let refused = Draft::beside(folder.path()).unwrap_err();
        assert!(matches!(refused, BadTarget::Folder { .. }));
        let message = format!(
            "{}: this is a folder; name a file in it",
            folder.path().display()
        );
        assert_eq!(refused.to_string(), message);
    }

    #[test]
    fn a_missing_folder_is_named() {
        let folder = folder();
        let missing = folder.path().join("none");
        let path = missing.join("a.txt");
        let message = format!(
            "{}: there is no folder {}; create it first, or choose another",
            path.display(),
            missing.display()
        );
        assert_eq!(Draft::beside(&path).unwrap_err().to_string(), message);
    }

    #[test]
    fn a_file_where_the_folder_should_be_is_named() {
        let folder = folder();
        let file = folder.path().join("a.txt");
        put(&file, "old").unwrap();
        let refused = Draft::beside(&file.join("b.txt")).unwrap_err();
        assert!(matches!(refused, BadTarget::NoFolder { folder, .. } if folder == file));
    }

    #[test]
    fn a_write_protected_file_is_refused_and_stays() {
        let folder = folder();
        let path = folder.path().join("a.txt");
        put(&path, "old").unwrap();
        let mut permissions = fs::metadata(&path).unwrap().permissions();
        permissions.set_readonly(true);
        fs::set_permissions(&path, permissions).unwrap();
        let refused = put(&path, "new").unwrap_err();
        assert!(matches!(refused, BadTarget::Protected { .. }));
        assert_eq!(fs::read_to_string(&path).unwrap(), "old");
    }

    #[test]
    fn a_path_without_a_file_name_is_refused() {
        let refused = Draft::beside(Path::new("")).unwrap_err();
        assert!(matches!(refused, BadTarget::NoName { .. }));
        let refused = Draft::beside(Path::new("..")).unwrap_err();
        assert!(matches!(refused, BadTarget::Folder { .. }));
    }

    #[test]
    fn what_a_killed_program_left_is_removed_and_nothing_else() {
        let folder = folder();
        let path = |name: &str| folder.path().join(name);
        fs::write(path(".cupwright-x1.part"), "half").unwrap();
        fs::write(path("a.part"), "mine").unwrap();
        let draft = Draft::beside(&path("b.txt")).unwrap();
        assert_eq!(remove_leftovers(folder.path()).unwrap(), 1);
        assert!(!path(".cupwright-x1.part").exists() && path("a.part").exists());
        draft.publish().unwrap();
        assert!(path("b.txt").exists());
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_refused() {
        let refused = Draft::beside(Path::new("/dev/null")).unwrap_err();
        assert!(matches!(refused, BadTarget::NotAFile { .. }));
    }

    #[cfg(unix)]
    #[test]
    fn links_and_permissions_survive() {
        use std::os::unix::fs::PermissionsExt;
        let folder = folder();
        let (path, link) = (folder.path().join("a.txt"), folder.path().join("link"));
        put(&path, "old").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
        std::os::unix::fs::symlink(&path, &link).unwrap();
        put(&link, "new").unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        let mode = fs::metadata(&path).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o640);
    }

    #[cfg(unix)]
    #[test]
    fn a_new_file_has_the_permissions_of_any_new_file() {
        use std::os::unix::fs::PermissionsExt;
        let folder = folder();
        let (drafted, plain) = (folder.path().join("a"), folder.path().join("b"));
        put(&drafted, "").unwrap();
        fs::write(&plain, "").unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&drafted), mode(&plain));
    }
}
