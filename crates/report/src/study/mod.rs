//! Studies put before their readers: on a terminal, as one JSON document, as tables and figures in a folder.
//!
//! Every form says of which bone it is and in which definition angles are told, and bears the caution, but
//! the CSV tables, which have no place for it.

mod increments;
mod map;
mod place;
mod scatter;
mod sensitivity;

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use cupwright_procedure::{Bone, Case};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use crate::files::{WriteReportError, write_named};
use crate::json::{VERSION, with_form, write_value};
use crate::sheet::write_study;
use crate::terminal::page::{Label, Page, Tone};
use crate::words::{fixed, shortened};
use crate::{CAUTION, Style};

pub use increments::{Increments, IncrementsResult};
pub use map::MapResult;
pub use place::{Placements, PlacementsResult};
pub use scatter::ScatterResult;
pub use sensitivity::Answers;

/// Which bone a study is of, and how its angles are told.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Subject {
    /// `right hip of synthetic preset average-male`.
    pub bone: String,
    /// `radiographic`, `operative` or `anatomic`.
    pub orientation: String,
    /// The reference plane by name.
    pub reference: String,
}

impl Subject {
    /// Of a case and its bone.
    pub fn new(case: &Case, bone: &Bone) -> Self {
        Self {
            bone: format!("{} hip of {}", bone.side, bone.source),
            orientation: case.definition.to_string(),
            reference: case.reference.to_string(),
        }
    }
}

/// A study that can be told.
pub trait Told {
    /// Its name, as of its command.
    fn name(&self) -> &'static str;
    /// What it is, as a heading.
    fn heading(&self) -> &'static str;
    /// Its paragraphs and tables.
    fn blocks(&self) -> Vec<Block>;
    /// Its part of the document.
    ///
    /// # Errors
    /// When a key is no text.
    fn document(&self) -> serde_json::Result<Value>;
    /// Its tables and figures, by the names of their files.
    ///
    /// # Errors
    /// When a figure cannot be drawn.
    fn files(&self, subject: &Subject) -> io::Result<Vec<(String, Vec<u8>)>>;
}

/// A part of a report on a terminal.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading within it.
    Heading(String),
    /// A paragraph.
    Paragraph(String),
    /// A table: heads, how many columns are set to the left, rows.
    Table(Vec<String>, usize, Vec<Vec<String>>),
}

/// Writes the report of a study to a terminal.
///
/// # Errors
/// When `out` refuses.
pub fn write_report(
    out: &mut dyn Write,
    study: &dyn Told,
    subject: &Subject,
    style: Style,
) -> io::Result<()> {
    let mut page = Page::new(style);
    page.paragraph(&format!(
        "{} of the {}; angles {}, on the {}",
        study.heading(),
        subject.bone,
        subject.orientation,
        subject.reference
    ));
    for block in study.blocks() {
        match block {
            Block::Heading(words) => page.heading(&words),
            Block::Paragraph(words) => page.paragraph(&words),
            Block::Table(heads, left, rows) => {
                let heads: Vec<_> = heads.iter().map(String::as_str).collect();
                let left: Vec<usize> = (0..left).collect();
                page.table(&heads, &left, rows);
            }
        }
    }
    page.heading("CAUTION");
    page.labelled(Label::new("", 0, Tone::Plain), CAUTION);
    out.write_all(page.text().as_bytes())
}

/// The document of a study, its result as of [`Told::document`].
#[derive(Clone, Copy, Debug, JsonSchema, Serialize)]
pub struct StudyDocument<'a, R> {
    /// The version of the form.
    pub version: u32,
    /// What every report says of itself.
    pub caution: &'a str,
    /// Which study: the name of its command.
    pub study: &'a str,
    /// Which bone: `right hip of synthetic preset average-male`.
    pub bone: &'a str,
    /// In which definition angles are told: `radiographic`, `operative` or `anatomic`.
    pub orientation: &'a str,
    /// The reference plane by name.
    pub reference: &'a str,
    /// What was found.
    pub result: R,
}

/// The form of a study's document: `cupwright/map/1`.
pub(crate) fn form(study: &str) -> String {
    format!("cupwright/{study}/{VERSION}")
}

/// A study as one JSON document: `{"schema": "cupwright/map/1", "version": 1, "caution": "…", "study":
/// "map", …, "result": {…}}`.
///
/// # Errors
/// When a result has a key that is no text.
pub fn document(study: &dyn Told, subject: &Subject) -> serde_json::Result<Value> {
    let document = StudyDocument {
        version: VERSION,
        caution: CAUTION,
        study: study.name(),
        bone: &subject.bone,
        orientation: &subject.orientation,
        reference: &subject.reference,
        result: study.document()?,
    };
    with_form(&form(study.name()), &document)
}

/// Writes the [`document`] of a study, indented, with a line end.
///
/// # Errors
/// When `out` refuses.
pub fn write_document(out: &mut dyn Write, study: &dyn Told, subject: &Subject) -> io::Result<()> {
    write_value(out, &document(study, subject)?)
}

/// Writes a study to `folder`, which is made where it is missing, and returns the paths of its files: its
/// tables and figures, `STUDY.html`, `STUDY.json` and `STUDY.txt`.
///
/// All are complete, beside their places, before the first is put there.
///
/// # Errors
/// When the folder cannot be had, or a file in it cannot be written.
pub fn write_folder(
    folder: &Path,
    study: &dyn Told,
    subject: &Subject,
) -> Result<Vec<PathBuf>, WriteReportError> {
    let made = || -> io::Result<Vec<(String, Vec<u8>)>> {
        let (mut document, mut report) = (Vec::new(), Vec::new());
        write_document(&mut document, study, subject)?;
        write_report(&mut report, study, subject, Style::Plain)?;
        let mut sheet = Vec::new();
        write_study(&mut sheet, study, subject)?;
        let mut files = study.files(subject)?;
        files.push((format!("{}.html", study.name()), sheet));
        files.push((format!("{}.json", study.name()), document));
        files.push((format!("{}.txt", study.name()), report));
        Ok(files)
    };
    let files = made().map_err(|cause| WriteReportError::Unwritten {
        path: folder.join(study.name()),
        cause,
    })?;
    write_named(files, folder)
}

/// What a figure is drawn of.
fn whose(subject: &Subject) -> String {
    format!(
        "{}; angles {}",
        shortened(&subject.bone, 60),
        subject.orientation
    )
}

/// A table as CSV.
fn csv(heads: &[String], rows: impl Iterator<Item = Vec<String>>) -> io::Result<Vec<u8>> {
    let mut table = ::csv::Writer::from_writer(Vec::new());
    table.write_record(heads)?;
    for row in rows {
        table.write_record(row)?;
    }
    table
        .into_inner()
        .map_err(|error| io::Error::other(error.to_string()))
}

/// A number with as many digits as it takes to read back the same bits; empty where there is none.
fn cell(value: Option<f64>) -> String {
    value
        .filter(|v| v.is_finite())
        .map_or(String::new(), |v| v.to_string())
}

/// A value with its unit; `-` where there is none.
fn told(measure: cupwright_study::Measure, value: Option<f64>) -> String {
    value
        .filter(|v| v.is_finite())
        .map_or("-".into(), |v| measure.told(v))
}

/// A value of a variable with its unit.
fn of_variable(variable: cupwright_study::Variable, value: f64) -> String {
    match variable.unit() {
        "°" => format!("{}°", fixed(value, 1)),
        unit => format!("{} {unit}", fixed(value, 1)),
    }
}

/// A name at the head of a column, its long words parted where they may be.
fn head(label: &str) -> String {
    let parted = [
        ("inclination", "incli-\nnation"),
        ("anteversion", "ante-\nversion"),
        ("interference", "inter-\nference"),
    ];
    parted
        .into_iter()
        .fold(label.to_owned(), |label, (word, parts)| {
            label.replace(word, parts)
        })
}
