//! Runs a share of a cohort into a folder, or goes on where an earlier run stopped.

use std::collections::BTreeMap;
use std::fs::File;
use std::io;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;

use cupwright_io::BadTarget;
use cupwright_procedure::case::BadCase;
use thiserror::Error;

use super::manifest::{self, BadManifest, Manifest};
use super::members::Changed;
use super::parts::{self, NotWritten};
use super::summary::Summary;
use super::table::{Column, Row};
use super::{Cohort, Shard};

/// How far a run is.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Tally {
    /// Members of the share.
    pub members: usize,
    /// Those done, in earlier runs included.
    pub done: usize,
    /// Those that earlier runs had done.
    pub found: usize,
}

/// Why a run stopped. What was complete stays, and the same call goes on from there.
#[derive(Debug, Error)]
pub enum NotRun {
    /// The case is refused.
    #[error("the case: {0}")]
    Case(#[from] BadCase),
    /// The folder cannot be made.
    #[error("{}: this folder cannot be made ({cause}); choose another place, or check the permissions", folder.display())]
    NoFolder {
        /// The folder.
        folder: PathBuf,
        /// What the operating system says.
        cause: io::Error,
    },
    /// Tables of something else.
    #[error("{}: there is no {} beside it that says what it is of; choose an empty folder", .0.display(), manifest::FILE)]
    Foreign(PathBuf),
    /// The manifest there is another's, or no file can be written.
    #[error(transparent)]
    Manifest(#[from] BadManifest),
    /// Another run is at work there.
    #[error("{}: another run is writing to this folder; wait for it, or choose another folder", .0.display())]
    Busy(PathBuf),
    /// A bone changed.
    #[error(transparent)]
    Changed(#[from] Changed),
    /// A file cannot be written or read back.
    #[error(transparent)]
    Files(#[from] NotWritten),
}

/// Runs `shard` of `cohort` into `folder`, and tells `watch` how far it is.
///
/// The folder gets the manifest, a part for every few members as they are done, and in the end
/// `cohort.csv` and `cohort.parquet`. Parts that are there are kept.
///
/// # Errors
/// When the folder belongs to another cohort or another run, a bone has changed since it was begun,
/// or a file cannot be written.
pub fn run(
    cohort: &Cohort,
    shard: Shard,
    folder: &Path,
    watch: &mut dyn FnMut(Tally),
) -> Result<Summary, NotRun> {
    cohort.check()?;
    let manifest = cohort.manifest(shard);
    let _alone = begin(&manifest, folder)?;
    let work = Work {
        cohort,
        manifest: &manifest,
        columns: cohort.columns(),
        folder,
        share: shard.members(cohort.members.count()),
    };
    work.remaining(watch)?;
    let tables = work.parts().map(|members| (work.path(&members), members));
    Ok(parts::assemble(folder, &work.columns, tables)?)
}

/// Makes the folder ready, and holds if it is this cohort's and no other run's.
pub(super) fn begin(manifest: &Manifest, folder: &Path) -> Result<Option<File>, NotRun> {
    let no_folder = |folder: PathBuf| move |cause| NotRun::NoFolder { folder, cause };
    if folder.exists() && !folder.is_dir() {
        let cause = io::ErrorKind::NotADirectory.into();
        let folder = folder.into();
        return Err(NotRun::NoFolder { folder, cause });
    }
    parts::make(folder).map_err(no_folder(folder.into()))?;
    if Manifest::read(folder)?.is_none() {
        let ours = [
            parts::folder_of(folder),
            folder.join(parts::CSV),
            folder.join(parts::PARQUET),
        ];
        if let Some(foreign) = ours.into_iter().find(|path| path.exists()) {
            return Err(NotRun::Foreign(foreign));
        }
        manifest.write(folder)?;
    }
    let alone = lock(folder)?;
    if let Some(there) = Manifest::read(folder)? {
        there.agrees(manifest, folder)?;
    }
    let of_parts = parts::folder_of(folder);
    parts::make(&of_parts).map_err(no_folder(of_parts))?;
    if alone.is_some() {
        parts::sweep(folder);
    }
    Ok(alone)
}

/// Holds the folder for this run until the file is dropped or the program ends in whatever way; `None`
/// where the file system cannot.
fn lock(folder: &Path) -> Result<Option<File>, NotRun> {
    let Ok(file) = File::open(folder.join(manifest::FILE)) else {
        return Ok(None);
    };
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(std::fs::TryLockError::WouldBlock) => Err(NotRun::Busy(folder.into())),
        Err(std::fs::TryLockError::Error(_)) => Ok(None),
    }
}

/// A share being worked on.
struct Work<'a> {
    cohort: &'a Cohort,
    manifest: &'a Manifest,
    columns: Vec<Column>,
    folder: &'a Path,
    share: Range<usize>,
}

/// A member's rows.
type Answer = (usize, Result<Vec<Row>, Changed>);

impl Work<'_> {
    /// The members of each part.
    fn parts(&self) -> impl Iterator<Item = Range<usize>> {
        let size = self.cohort.part;
        let count = self.share.len().div_ceil(size.get());
        (0..count).map(move |number| parts::members_of(&self.share, number, size))
    }

    fn path(&self, members: &Range<usize>) -> PathBuf {
        parts::path_of(self.folder, members, self.cohort.members.count())
    }

    /// Works on the members whose parts are missing.
    fn remaining(&self, watch: &mut dyn FnMut(Tally)) -> Result<(), NotRun> {
        let missing: Vec<_> = self
            .parts()
            .filter(|part| !self.path(part).exists())
            .collect();
        let todo: usize = missing.iter().map(ExactSizeIterator::len).sum();
        let found = self.share.len() - todo;
        let mut tally = Tally {
            members: self.share.len(),
            done: found,
            found,
        };
        watch(tally);
        let (next, stop) = (AtomicUsize::new(0), AtomicBool::new(false));
        thread::scope(|scope| {
            let (send, answers) = channel();
            for _ in 0..rayon::current_num_threads().min(todo) {
                let (send, missing, next, stop) = (send.clone(), &missing, &next, &stop);
                scope.spawn(move || self.answer(missing, next, stop, &send));
            }
            drop(send);
            let collected = self.collect(&missing, &answers, || {
                tally.done += 1;
                watch(tally);
            });
            stop.store(true, Ordering::Relaxed);
            collected
        })
    }

    /// Takes one member after the other until there is none left.
    fn answer(
        &self,
        missing: &[Range<usize>],
        next: &AtomicUsize,
        stop: &AtomicBool,
        send: &Sender<Answer>,
    ) {
        let size = self.cohort.part.get();
        while !stop.load(Ordering::Relaxed) {
            let number = next.fetch_add(1, Ordering::Relaxed);
            // All parts but the last of the share are full.
            let part = missing.get(number / size);
            let Some(index) = part.and_then(|part| part.clone().nth(number % size)) else {
                return;
            };
            let rows = self.cohort.rows(index, self.manifest);
            if send.send((index, rows)).is_err() {
                return;
            }
        }
    }

    /// Writes each part as soon as all its members are there.
    fn collect(
        &self,
        missing: &[Range<usize>],
        answers: &Receiver<Answer>,
        mut one_more: impl FnMut(),
    ) -> Result<(), NotRun> {
        let mut waiting: BTreeMap<usize, Vec<Row>> = BTreeMap::new();
        let part_of = |index: usize| missing.partition_point(|part| part.end <= index);
        for (index, rows) in answers {
            waiting.insert(index, rows?);
            let Some(part) = missing.get(part_of(index)) else {
                continue;
            };
            one_more();
            if waiting.range(part.clone()).count() < part.len() {
                continue;
            }
            let rows = part.clone().filter_map(|index| waiting.remove(&index));
            let rows: Vec<Row> = rows.flatten().collect();
            let written = parts::write(&self.path(part), &self.columns, &rows);
            written.map_err(|problem: BadTarget| NotWritten::from(problem))?;
        }
        Ok(())
    }
}
