//! The command line in process, on a folder of its own.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use cupwright::{Console, Exit, Progress, Style, main_with};
use cupwright_geometry::TriMesh;
use cupwright_io::{Format, write_mesh};
use tempfile::TempDir;

/// A folder to work in; its name has spaces and letters beyond ASCII, as folders of users do.
pub struct Desk {
    folder: PathBuf,
    _place: TempDir,
}

/// How a command ended, and what it said.
#[derive(Debug)]
pub struct Ran {
    /// Its exit code.
    pub exit: Exit,
    /// Results.
    pub out: String,
    /// Everything else.
    pub err: String,
}

impl Desk {
    /// An empty folder.
    ///
    /// # Panics
    /// When the system gives none.
    pub fn new() -> Self {
        let place = sure(tempfile::tempdir());
        let folder = place.path().join("Hüfte links, 2. Versuch");
        sure(fs::create_dir(&folder));
        Self {
            folder,
            _place: place,
        }
    }

    /// Where the file `name` is or would be.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// Writes a file.
    ///
    /// # Panics
    /// When it cannot.
    pub fn write(&self, name: &str, content: impl AsRef<[u8]>) {
        sure(fs::write(self.path(name), content));
    }

    /// Writes a mesh, in the format that its name tells.
    ///
    /// # Panics
    /// When it cannot.
    pub fn write_mesh(&self, name: &str, mesh: &TriMesh) {
        let path = self.path(name);
        let format = sure(Format::for_path(&path));
        sure(write_mesh(path, mesh, format));
    }

    /// The text of a file.
    ///
    /// # Panics
    /// When there is none.
    pub fn text(&self, name: &str) -> String {
        sure(fs::read_to_string(self.path(name)))
    }

    /// The names in the folder, sorted.
    ///
    /// # Panics
    /// When it cannot be read.
    pub fn names(&self) -> Vec<String> {
        let entries = sure(fs::read_dir(&self.folder));
        let names = entries.map(|entry| sure(entry).file_name().display().to_string());
        let mut names: Vec<_> = names.collect();
        names.sort();
        names
    }

    /// Runs `cupwright LINE`, split at blanks; a word that begins with `@` is a file of this folder.
    pub fn run(&self, line: &str) -> Ran {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let exit = main_with(
            self.arguments(line),
            &mut Console {
                out: &mut out,
                err: &mut err,
                style: Style::Plain,
                progress: Progress::Hidden,
            },
        );
        let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
        Ran {
            exit,
            out: text(out),
            err: text(err),
        }
    }

    /// The arguments that [`run`](Self::run) gives.
    pub fn arguments(&self, line: &str) -> Vec<OsString> {
        let word = |word: &str| match word.strip_prefix('@') {
            Some(name) => self.path(name).into(),
            None => word.into(),
        };
        let program = std::iter::once("cupwright".into());
        program.chain(line.split_whitespace().map(word)).collect()
    }

    /// The folder's own path.
    pub fn folder(&self) -> &Path {
        &self.folder
    }
}

impl Default for Desk {
    fn default() -> Self {
        Self::new()
    }
}

impl Ran {
    /// Holds if it was refused: exit code 2, nothing on stdout, one line on stderr that has all of
    /// `told` in it.
    ///
    /// # Panics
    /// When it was not.
    #[track_caller]
    pub fn is_refused(&self, told: &[&str]) {
        let Self { exit, out, err } = self;
        assert_eq!((exit.code(), out.as_str()), (2, ""), "{err}");
        assert!(err.starts_with("cupwright: error: "), "{err}");
        assert_eq!(err.matches('\n').count(), 1, "one line: {err}");
        assert!(!err.contains("Usage"), "{err}");
        for part in told {
            assert!(err.contains(part), "{part:?} is not in: {err}");
        }
    }

    /// Holds if it was done: exit code 0, and no error.
    ///
    /// # Panics
    /// When it was not.
    #[track_caller]
    pub fn is_done(&self) -> &Self {
        assert_eq!(self.exit, Exit::Done, "{}", self.err);
        assert!(!self.err.contains("error:"), "{}", self.err);
        self
    }
}

fn sure<T, E: std::fmt::Display>(result: Result<T, E>) -> T {
    match result {
        Ok(value) => value,
        Err(problem) => panic!("a test's own files: {problem}"),
    }
}
