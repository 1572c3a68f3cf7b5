//! Text files that a user writes: cases and sets of instruments.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use thiserror::Error;

/// No case is longer than this, in bytes.
const LONGEST: u64 = 1 << 20;

/// Why a text file cannot be read.
#[derive(Debug, Error)]
pub enum Unreadable {
    /// Nothing of that name.
    #[error("{}: there is no such file; check the name and the folder", .0.display())]
    Missing(PathBuf),
    /// A folder.
    #[error("{}: this is a folder; name a file in it", .0.display())]
    Folder(PathBuf),
    /// Bytes that are no text.
    #[error("{}: this is no text; cases, instruments and landmarks are text in RON", .0.display())]
    NotText(PathBuf),
    /// Too long to be one.
    #[error("{}: this is longer than a megabyte; cases, instruments and landmarks are short texts in RON", .0.display())]
    TooLong(PathBuf),
    /// The operating system refused.
    #[error("{}: cannot be read ({cause}); check its permissions", path.display())]
    Refused {
        /// The file.
        path: PathBuf,
        /// What the operating system says.
        cause: io::Error,
    },
}

/// The text in the file at `path`, without the mark that some editors put before it.
///
/// # Errors
/// When there is no such file, it cannot be read, or is no short text.
pub fn read(path: &Path) -> Result<String, Unreadable> {
    let refused = |cause: io::Error| {
        let path = path.into();
        match cause.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => Unreadable::Missing(path),
            io::ErrorKind::IsADirectory => Unreadable::Folder(path),
            io::ErrorKind::InvalidData => Unreadable::NotText(path),
            _ => Unreadable::Refused { path, cause },
        }
    };
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(refused)?;
    let length = file.take(LONGEST + 1).read_to_end(&mut bytes);
    if length.map_err(refused)? as u64 > LONGEST {
        return Err(Unreadable::TooLong(path.into()));
    }
    let text = String::from_utf8(bytes).map_err(|_| Unreadable::NotText(path.into()))?;
    Ok(text.trim_start_matches('\u{feff}').to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn refused(path: &Path, told: &str) {
        let message = read(path).unwrap_err().to_string();
        assert_eq!(message, format!("{}: {told}", path.display()));
    }

    #[test]
    fn what_is_no_text_file_is_told_by_its_kind() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        refused(
            &path,
            "there is no such file; check the name and the folder",
        );
        refused(folder.path(), "this is a folder; name a file in it");
        std::fs::write(&path, [b'(', 0xff, 0xfe]).unwrap();
        refused(
            &path,
            "this is no text; cases, instruments and landmarks are text in RON",
        );
        std::fs::write(&path, vec![b' '; (1 << 20) + 1]).unwrap();
        refused(
            &path,
            "this is longer than a megabyte; cases, instruments and landmarks are short texts in RON",
        );
        std::fs::write(&path, "\u{feff}()").unwrap();
        assert_eq!(read(&path).unwrap(), "()");
    }
}
