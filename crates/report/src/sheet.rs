//! A sheet: one file of HTML to read on a screen, to print on two pages, to send and to keep.
//!
//! Guaranteed: it runs nothing and asks for nothing from anywhere; nothing from outside, such as a file's
//! name or a case's notes, is taken for markup; colour says nothing that words, numbers, dashes or marks
//! do not say too; the same findings give the same bytes. That it takes two pages holds for a case of usual length: longer
//! notes take more.
//!
//! The page itself knows nothing of what it is about, so that it may serve other sheets than a case's.

mod base64;
mod case;
mod html;
mod parts;
mod picture;
mod skeleton;
mod study;

use std::io::{self, Write};

use cupwright_procedure::Findings;
use cupwright_procedure::joint::map::MotionMap;

use crate::study::{Subject, Told};

pub use picture::{BadPicture, Picture};

/// What a sheet of a case shows.
#[derive(Clone, Copy, Debug)]
pub struct CaseSheet<'a> {
    /// What was found.
    pub findings: &'a Findings,
    /// Motion over the directions of the cup; `None` where it was not asked for.
    pub motion_map: Option<&'a MotionMap>,
    /// Pictures to show, such as renderings of the bone.
    pub pictures: &'a [Picture],
}

impl<'a> From<&'a Findings> for CaseSheet<'a> {
    fn from(findings: &'a Findings) -> Self {
        Self {
            findings,
            motion_map: None,
            pictures: &[],
        }
    }
}

/// Writes the sheet of a case as one HTML document.
///
/// # Errors
/// When `out` refuses.
pub fn write_case(out: &mut impl Write, sheet: &CaseSheet) -> io::Result<()> {
    out.write_all(case::document(sheet)?.as_bytes())
}

/// Writes the sheet of a study as one HTML document.
///
/// # Errors
/// When `out` refuses, or a figure cannot be drawn.
pub fn write_study(out: &mut impl Write, study: &dyn Told, subject: &Subject) -> io::Result<()> {
    out.write_all(study::document(study, subject)?.as_bytes())
}
