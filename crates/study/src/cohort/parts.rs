//! The files of a cohort's folder: parts while it runs, tables when it is done.

use std::fs::{self, File};
use std::io;
use std::num::NonZeroUsize;
use std::ops::Range;
use std::path::{Path, PathBuf};

use cupwright_io::{BadTarget, Draft};
use thiserror::Error;

use super::parquet::ParquetTable;
use super::summary::Summary;
use super::table::{BadCell, Cell, Column, CsvTable, Row};

/// The folder of the parts.
const PARTS: &str = "parts";

/// The table as comma-separated values.
pub const CSV: &str = "cohort.csv";

/// The table as Parquet.
pub const PARQUET: &str = "cohort.parquet";

/// A table that cannot be read back.
#[derive(Debug, Error)]
#[error("{}: {problem}; remove this file and run the same again", path.display())]
pub struct BadPart {
    /// The file.
    pub path: PathBuf,
    /// What is wrong.
    pub problem: Damage,
}

/// What is wrong with a table.
#[derive(Debug, Error)]
pub enum Damage {
    /// It cannot be read.
    #[error("cannot be read ({0})")]
    Unreadable(#[from] io::Error),
    /// Its lines are no table.
    #[error("this is no table ({0})")]
    Lines(#[from] csv::Error),
    /// Its columns are others.
    #[error("its columns are not those of this cohort")]
    Columns,
    /// A cell of the wrong kind.
    #[error("line {line}: {problem}")]
    Cell {
        /// The line.
        line: u64,
        /// What is wrong.
        problem: BadCell,
    },
    /// Members missing, or out of order.
    #[error("it holds member {found} where member {expected} should be")]
    Order {
        /// The member that is there, 0 for none.
        found: usize,
        /// The one that should be.
        expected: usize,
    },
}

/// Why the tables were not written.
#[derive(Debug, Error)]
pub enum NotWritten {
    /// A file cannot be put in its place.
    #[error(transparent)]
    Target(#[from] BadTarget),
    /// A table that it is made of cannot be read.
    #[error(transparent)]
    Part(#[from] BadPart),
}

/// Which members a part holds: part `number` of `share`, all counted from 0.
pub(super) fn members_of(share: &Range<usize>, number: usize, size: NonZeroUsize) -> Range<usize> {
    let start = share.start + number * size.get();
    start..(start + size.get()).min(share.end)
}

/// The folder of the parts of the cohort in `folder`.
pub(super) fn folder_of(folder: &Path) -> PathBuf {
    folder.join(PARTS)
}

/// Where the part with these members is, in a cohort of `count`: the names sort as the members do.
pub(super) fn path_of(folder: &Path, members: &Range<usize>, count: usize) -> PathBuf {
    let width = count.to_string().len();
    let (first, last) = (members.start + 1, members.end);
    folder
        .join(PARTS)
        .join(format!("{first:0width$}-{last:0width$}.csv"))
}

/// Writes the part at `path`, in one step.
pub(super) fn write(path: &Path, columns: &[Column], rows: &[Row]) -> Result<(), BadTarget> {
    let refused = |cause| BadTarget::Refused {
        path: path.into(),
        cause,
    };
    let mut table = CsvTable::new(Draft::beside(path)?, columns).map_err(refused)?;
    rows.iter()
        .try_for_each(|row| table.push(row))
        .map_err(refused)?;
    table.finish().map_err(refused)?.publish()
}

/// Puts tables with these members, in this order, together as the tables of `folder`.
///
/// Both are complete, beside their places, before the first is put there.
pub(super) fn assemble(
    folder: &Path,
    columns: &[Column],
    tables: impl Iterator<Item = (PathBuf, Range<usize>)>,
) -> Result<Summary, NotWritten> {
    let (csv_path, parquet_path) = (folder.join(CSV), folder.join(PARQUET));
    let refused = |path: &Path| {
        let path = path.to_path_buf();
        move |cause| BadTarget::Refused { path, cause }
    };
    let mut table =
        CsvTable::new(Draft::beside(&csv_path)?, columns).map_err(refused(&csv_path))?;
    let mut parquet = ParquetTable::new(Draft::beside(&parquet_path)?, columns)
        .map_err(refused(&parquet_path))?;
    let mut summary = Summary::of(columns);
    for (path, members) in tables {
        read(&path, &members, columns, |row| {
            summary.push(&row);
            table.push(&row).map_err(refused(&csv_path))?;
            parquet.push(row).map_err(refused(&parquet_path))
        })?;
    }
    let table = table.finish().map_err(refused(&csv_path))?;
    let parquet = parquet.finish().map_err(refused(&parquet_path))?;
    parquet.publish()?;
    table.publish()?;
    Ok(summary)
}

/// Hands every row of the table at `path` to `take`, and holds if they are those of `members`.
fn read(
    path: &Path,
    members: &Range<usize>,
    columns: &[Column],
    mut take: impl FnMut(Row) -> Result<(), BadTarget>,
) -> Result<(), NotWritten> {
    let bad = |problem: Damage| BadPart {
        path: path.into(),
        problem,
    };
    let file = File::open(path).map_err(|cause| bad(cause.into()))?;
    let mut reader = csv::Reader::from_reader(file);
    let headings = reader.headers().map_err(|e| bad(e.into()))?;
    if !headings
        .iter()
        .eq(columns.iter().map(|column| column.name.as_str()))
    {
        return Err(bad(Damage::Columns).into());
    }
    let mut next = members.start + 1;
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).map_err(|e| bad(e.into()))? {
        let line = record.position().map_or(0, csv::Position::line);
        let cells = columns
            .iter()
            .zip(&record)
            .map(|(column, text)| column.cell(text));
        let row: Row = cells
            .collect::<Result<_, _>>()
            .map_err(|problem| bad(Damage::Cell { line, problem }))?;
        let found = match row.first() {
            Some(Cell::Count(member)) => usize::try_from(*member).unwrap_or_default(),
            _ => 0,
        };
        // Another row of the member before, or the next member.
        let again = found + 1 == next && found > members.start;
        if !again && found != next {
            return Err(bad(Damage::Order {
                found,
                expected: next,
            })
            .into());
        }
        next = found + 1;
        take(row)?;
    }
    if next != members.end + 1 {
        let expected = next;
        return Err(bad(Damage::Order { found: 0, expected }).into());
    }
    Ok(())
}

/// Removes what a killed run left half written.
pub(super) fn sweep(folder: &Path) {
    for folder in [folder.to_path_buf(), folder_of(folder)] {
        // What cannot be removed is in nobody's way.
        let _ = cupwright_io::draft::remove_leftovers(&folder);
    }
}

/// Makes a folder where it is missing.
pub(super) fn make(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)
}
