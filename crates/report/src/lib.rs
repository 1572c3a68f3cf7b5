//! What a rehearsal found, put before its readers: on a terminal, in tables, in figures.
//!
//! | reader | form |
//! |---|---|
//! | surgeon and teacher, at the terminal | [`terminal::write_report`] |
//! | teacher, at the projector | [`plot::write_reaming`], [`plot::write_rim_clock`] |
//! | all of them, on a screen and on two printed pages | [`sheet::write_case`] |
//! | engineer, in a spreadsheet | [`csv::write_steps`], [`csv::write_rim`], [`csv::write_balls`], [`csv::write_motion`] |
//! | engineer, in a program | [`json::write_document`], its form: [`schema`] |
//! | all of them, in a folder | [`files::write_all`] |
//! | those who work on with the meshes | [`files::write_all_with_meshes`] |
//! | all of them, of a study | [`study`] |
//!
//! Guaranteed: every number bears its unit; every form bears the [`CAUTION`], but the CSV tables,
//! which have no place for it; a number that is not finite is never written as one: it reads `-`
//! in text and figures, is `null` in JSON and an empty cell in CSV; the same findings give the
//! same bytes.
//!
//! Not here: any measuring. All numbers come from [`Findings`](cupwright_procedure::Findings) and from
//! the results of [`cupwright_study`].
//!
//! ```
//! use std::path::Path;
//!
//! use cupwright_procedure::{Bone, CaseFile, Instruments, simulate};
//! use cupwright_report::{Style, json, terminal};
//!
//! let file = CaseFile::parse(
//!     r#"(
//!         version: 1,
//!         bone: Preset(name: "average-male", side: Right),
//!         orientation: Radiographic,
//!         reamers: [(diameter_mm: 51), (diameter_mm: 53)],
//!         cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15),
//!     )"#,
//! )?;
//! let (case, folder) = (file.check()?, Path::new("."));
//! let bone = Bone::of_case(&case, folder)?;
//! let findings = simulate(&case, &bone, &Instruments::of_case(&case, folder)?)?;
//!
//! let mut page = Vec::new();
//! terminal::write_report(&mut page, &findings, Style::Plain)?;
//! assert!(String::from_utf8(page)?.contains("Right hip"));
//!
//! let document = json::document(&json::Run::from(&findings))?;
//! assert_eq!(document["schema"], "cupwright/run/1");
//! assert_eq!(document["findings"]["cup"]["diameter_mm"], 54.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod csv;
pub mod files;
pub mod json;
pub mod mending;
pub mod plot;
pub mod schema;
pub mod sheet;
pub mod study;
pub mod terminal;

pub mod words;

#[cfg(test)]
mod sample;

pub use files::{WriteReportError, write_all, write_all_with_meshes};
pub use sheet::CaseSheet;
pub use terminal::Style;

/// What every report says of itself.
pub const CAUTION: &str = "For teaching and engineering study. Not a medical device, not validated \
    for treating anyone; decisions belong to licensed clinicians under local rules.";
