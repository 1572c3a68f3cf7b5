//! A run as a folder of files.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use cupwright_io::{BadTarget, Draft, Format, WriteError, write_to};
use cupwright_procedure::Shapes;
use thiserror::Error;

use crate::{CaseSheet, Style, csv, json, plot, sheet, terminal};

/// Why the files were not written.
#[derive(Debug, Error)]
pub enum WriteReportError {
    /// What should be the folder is a file or the like.
    #[error("{}: this is no folder; the report needs one for its files, choose another name", folder.display())]
    NotAFolder {
        /// The path.
        folder: PathBuf,
    },
    /// The folder is not there and cannot be made.
    #[error("{}: this folder cannot be made ({cause}); choose another place, or check the permissions", folder.display())]
    NoFolder {
        /// The path.
        folder: PathBuf,
        /// What the operating system says.
        cause: io::Error,
    },
    /// A file cannot be put in its place.
    #[error(transparent)]
    Target(#[from] BadTarget),
    /// A file cannot be filled.
    #[error("{}: cannot be written ({cause}), and what was there is unchanged; check the space on the disk", path.display())]
    Unwritten {
        /// The file.
        path: PathBuf,
        /// What went wrong.
        cause: io::Error,
    },
    /// A mesh cannot be written in this format, or the disk is full.
    #[error("{}: {problem}", path.display())]
    Mesh {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        problem: WriteError,
    },
}

type Fill = fn(&mut Draft, &CaseSheet) -> io::Result<()>;

/// The files of a report and what fills each.
const FILES: [(&str, Fill); 9] = [
    ("findings.json", |file, case| {
        json::write_document(file, &json::Run::from(case.findings))
    }),
    ("steps.csv", |file, case| {
        csv::write_steps(file, case.findings)
    }),
    ("rim.csv", |file, case| csv::write_rim(file, case.findings)),
    ("balls.csv", |file, case| {
        csv::write_balls(file, case.findings)
    }),
    ("motion.csv", |file, case| {
        csv::write_motion(file, case.findings)
    }),
    ("reaming.svg", |file, case| {
        plot::write_reaming(file, case.findings)
    }),
    ("rim-clock.svg", |file, case| {
        plot::write_rim_clock(file, case.findings)
    }),
    ("sheet.html", sheet::write_case),
    ("report.txt", |file, case| {
        terminal::write_report(file, case.findings, Style::Plain)
    }),
];

/// Writes the whole report to `folder`, which is made where it is missing, and returns the paths of
/// its files: `findings.json`, `steps.csv`, `rim.csv`, `balls.csv`, `motion.csv`, `reaming.svg`,
/// `rim-clock.svg`, `sheet.html` and `report.txt`.
///
/// Files of these names are replaced, others left alone. All of them are complete, beside their
/// places, before the first is put there; each is put there in one step.
///
/// # Errors
/// When `folder` is no folder and cannot be made one, or a file in it cannot be written. Up to the
/// point where all are complete, nothing that was there has changed.
pub fn write_all<'a>(
    case: impl Into<CaseSheet<'a>>,
    folder: &Path,
) -> Result<Vec<PathBuf>, WriteReportError> {
    make(folder)?;
    publish(report_drafts(&case.into(), folder)?)
}

/// Writes the whole report as [`write_all`] does, and a file for each of the `shapes`, such as
/// `bone-reamed.stl`; see [`Shapes::named`].
///
/// All of them are complete, beside their places, before the first is put there.
///
/// # Errors
/// As for [`write_all`], and when the format cannot hold a mesh.
pub fn write_all_with_meshes<'a>(
    case: impl Into<CaseSheet<'a>>,
    shapes: &Shapes,
    format: Format,
    folder: &Path,
) -> Result<Vec<PathBuf>, WriteReportError> {
    make(folder)?;
    let mut drafts = report_drafts(&case.into(), folder)?;
    for (name, mesh) in shapes.named() {
        let path = folder.join(format!("{name}.{}", format.extension()));
        let mut draft = Draft::beside(&path)?;
        match write_to(&mut draft, mesh, format) {
            Ok(()) => drafts.push((path, draft)),
            Err(problem) => return Err(WriteReportError::Mesh { path, problem }),
        }
    }
    publish(drafts)
}

/// Writes each of the named files to `folder`, which is made where it is missing.
///
/// All of them are complete, beside their places, before the first is put there.
pub(crate) fn write_named(
    files: Vec<(String, Vec<u8>)>,
    folder: &Path,
) -> Result<Vec<PathBuf>, WriteReportError> {
    make(folder)?;
    let mut drafts = Vec::new();
    for (name, content) in files {
        let path = folder.join(name);
        let mut draft = Draft::beside(&path)?;
        match draft.write_all(&content).and_then(|()| draft.flush()) {
            Ok(()) => drafts.push((path, draft)),
            Err(cause) => return Err(WriteReportError::Unwritten { path, cause }),
        }
    }
    publish(drafts)
}

fn report_drafts(
    case: &CaseSheet,
    folder: &Path,
) -> Result<Vec<(PathBuf, Draft)>, WriteReportError> {
    let files = FILES.iter();
    files
        .map(|(name, fill)| draft(folder.join(name), *fill, case))
        .collect()
}

fn publish(drafts: Vec<(PathBuf, Draft)>) -> Result<Vec<PathBuf>, WriteReportError> {
    let publish = |(path, draft): (PathBuf, Draft)| {
        draft.publish()?;
        Ok(path)
    };
    drafts.into_iter().map(publish).collect()
}

fn make(folder: &Path) -> Result<(), WriteReportError> {
    if folder.exists() && !folder.is_dir() {
        let folder = folder.into();
        return Err(WriteReportError::NotAFolder { folder });
    }
    fs::create_dir_all(folder).map_err(|cause| WriteReportError::NoFolder {
        folder: folder.into(),
        cause,
    })
}

/// A file that is complete but for its place.
fn draft(
    path: PathBuf,
    fill: Fill,
    case: &CaseSheet,
) -> Result<(PathBuf, Draft), WriteReportError> {
    let mut draft = Draft::beside(&path)?;
    match fill(&mut draft, case).and_then(|()| draft.flush()) {
        Ok(()) => Ok((path, draft)),
        Err(cause) => Err(WriteReportError::Unwritten { path, cause }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let mut names: Vec<_> = entries
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    const NAMES: [&str; 9] = [
        "balls.csv",
        "findings.json",
        "motion.csv",
        "reaming.svg",
        "report.txt",
        "rim-clock.svg",
        "rim.csv",
        "sheet.html",
        "steps.csv",
    ];

    #[test]
    fn a_missing_folder_is_made_and_nine_files_are_in_it() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("new").join("run");
        let written = write_all(&sample::right(), &folder).unwrap();
        assert_eq!(written.len(), 9);
        assert!(written.iter().all(|path| path.is_file()));
        assert_eq!(names(&folder), NAMES);
    }

    #[test]
    fn each_file_holds_what_its_name_says() {
        let folder = tempfile::tempdir().unwrap();
        write_all(&sample::left(), folder.path()).unwrap();
        let read = |name| fs::read_to_string(folder.path().join(name)).unwrap();
        assert!(read("findings.json").starts_with("{\n  \"schema\": \"cupwright/run/1\","));
        assert!(read("steps.csv").starts_with("step,diameter_mm,"));
        assert!(read("rim.csv").starts_with("clock_h,"));
        assert!(read("balls.csv").starts_with("ball_mm,"));
        assert!(read("motion.csv").starts_with("movement,"));
        assert!(read("sheet.html").starts_with("<!DOCTYPE html>"));
        assert!(read("reaming.svg").contains("bone removed (cm³)"));
        assert!(read("rim-clock.svg").contains("clock face"));
        let report = read("report.txt");
        assert!(report.contains("Left hip") && !report.contains('\u{1b}'));
    }

    #[test]
    fn an_older_report_is_replaced_and_other_files_stay() {
        let folder = tempfile::tempdir().unwrap();
        let (note, steps) = (folder.path().join("note"), folder.path().join("steps.csv"));
        fs::write(&note, "mine").unwrap();
        fs::write(&steps, "old").unwrap();
        write_all(&sample::right(), folder.path()).unwrap();
        assert_eq!(fs::read_to_string(&note).unwrap(), "mine");
        assert!(fs::read_to_string(&steps).unwrap().starts_with("step"));
        assert_eq!(names(folder.path()).len(), 10);
    }

    #[test]
    fn a_file_in_place_of_the_folder_is_an_error_and_stays() {
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join("run");
        fs::write(&file, "mine").unwrap();
        let refused = write_all(&sample::right(), &file).unwrap_err();
        assert!(matches!(&refused, WriteReportError::NotAFolder { folder } if *folder == file));
        assert!(refused.to_string().contains("this is no folder"));
        let below = write_all(&sample::right(), &file.join("deeper")).unwrap_err();
        assert!(matches!(below, WriteReportError::NoFolder { .. }));
        assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
    }

    #[test]
    fn one_file_in_the_way_leaves_all_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("report.txt")).unwrap();
        let refused = write_all(&sample::right(), folder.path()).unwrap_err();
        assert!(matches!(
            refused,
            WriteReportError::Target(BadTarget::Folder { .. })
        ));
        assert_eq!(names(folder.path()), ["report.txt"]);
    }
}
