//! How a command is told to read a mesh file or label volume.

use std::path::Path;
use std::str::FromStr;

use clap::{Args, ValueEnum};
use cupwright_anatomy::Side;
use cupwright_geometry::{Solid, TriMesh};
use cupwright_io::{Loaded, ReadMeshError};
use cupwright_procedure::bone::{NoBone, Unusable};
use cupwright_procedure::piece::{Choice, NoPiece};
use cupwright_procedure::reading::{Axes, Reading};
use cupwright_procedure::unit::Unit;
use cupwright_procedure::{Bone, Case};

use crate::console::Console;

/// What is said of a file beside its name.
#[derive(Args, Clone, Debug)]
pub(crate) struct ReadingArguments {
    /// Which label of a label volume; needed where it holds several
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    label: Option<i32>,
    /// Unit of the file, where it is not mm; all else here is in mm
    #[arg(long, value_enum)]
    unit: Option<UnitFlag>,
    /// Which way the file's axes point; with lps it is turned to ras: x to the right, y to the front
    #[arg(long, value_enum)]
    axes: Option<AxesFlag>,
    /// The piece to work on, of a file that holds several: its number as inspect counts them, or
    /// largest, left or right (the one with that hip's socket)
    #[arg(long, value_name = "N|largest|left|right", value_parser = choice)]
    piece: Option<Choice>,
}

/// See [`Unit`].
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum UnitFlag {
    Mm,
    Cm,
    In,
    M,
}

/// See [`Axes`].
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
enum AxesFlag {
    /// x to the patient's right, y to the front, z to the head
    Ras,
    /// x to the patient's left, y to the back, z to the head
    Lps,
}

impl ReadingArguments {
    /// The file at `path` and what was said of it, as it would be typed once more.
    pub(crate) fn typed(&self, path: &Path) -> String {
        let mut typed = quoted(&path.display().to_string());
        let label = self.label.map(|label| format!(" --label {label}"));
        let unit = self
            .reading()
            .unit
            .map(|unit| format!(" --unit {}", unit.short()));
        let axes = self.axes.map(|axes| match axes {
            AxesFlag::Ras => " --axes ras".to_owned(),
            AxesFlag::Lps => " --axes lps".to_owned(),
        });
        typed.extend([label, unit, axes].into_iter().flatten());
        typed
    }

    /// What they mean.
    pub(crate) fn reading(&self) -> Reading {
        Reading {
            label: self.label,
            unit: self.unit.map(|unit| match unit {
                UnitFlag::Mm => Unit::Millimetres,
                UnitFlag::Cm => Unit::Centimetres,
                UnitFlag::In => Unit::Inches,
                UnitFlag::M => Unit::Metres,
            }),
            axes: self.axes.map(|axes| match axes {
                AxesFlag::Ras => Axes::RightAnteriorSuperior,
                AxesFlag::Lps => Axes::LeftPosteriorSuperior,
            }),
            piece: self.piece,
        }
    }
}

/// A word of a command line, in quotation marks where a shell would split or change it.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "._-/:\\+,=@%".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

/// A piece as typed.
fn choice(typed: &str) -> Result<Choice, String> {
    match typed {
        "largest" => Ok(Choice::Largest),
        "left" => Ok(Choice::WithSocket(Side::Left)),
        "right" => Ok(Choice::WithSocket(Side::Right)),
        _ => match usize::from_str(typed) {
            Ok(number) if number > 0 => Ok(Choice::Number(number)),
            _ => Err("give a number from 1, largest, left or right".into()),
        },
    }
}

/// The bone of a case; `folder` is the one that its paths are relative to. What reading its file took for granted is
/// told.
pub(crate) fn prepared(case: &Case, folder: &Path, console: &mut Console) -> Result<Bone, NoBone> {
    let bone = console.working("preparing the bone", || Bone::of_case(case, folder))?;
    for remark in &bone.remarks {
        console.note(format_args!("{}: {remark}", bone.source));
    }
    Ok(bone)
}

/// What is in the file at `path`, all pieces; says so where it had to be scaled or turned.
pub(crate) fn read(
    path: &Path,
    reading: &Reading,
    console: &mut Console,
) -> Result<Loaded, ReadMeshError> {
    let loaded = console.working("reading the bone", || reading.read(path))?;
    if let Some(unit) = reading.scaling_unit() {
        let factor = unit.millimetres();
        console.note(format_args!(
            "{}: taken as {unit} and scaled by {factor} to mm",
            path.display()
        ));
    }
    if reading.turning_axes().is_some() {
        console.note(format_args!(
            "{}: taken as LPS and turned to RAS: x to the patient's right, y to the front",
            path.display()
        ));
    }
    Ok(loaded)
}

/// What to do about a volume of several labels.
pub(crate) fn with_label_flag(problem: ReadMeshError) -> anyhow::Error {
    match problem.labels() {
        Some(_) => anyhow::anyhow!("{problem} with --label"),
        None => problem.into(),
    }
}

/// What to do about a piece that is not there.
pub(crate) fn without_piece(problem: NoPiece) -> anyhow::Error {
    anyhow::anyhow!("--piece: {problem}; cupwright inspect tells their numbers")
}

/// The piece of `mesh` that was chosen, as one bone.
pub(crate) fn solid(mesh: TriMesh, reading: &Reading, largest_tool: f64) -> anyhow::Result<Solid> {
    let mesh = reading.chosen(mesh).map_err(without_piece)?;
    let accepted = reading.accept(mesh, largest_tool);
    accepted.map_err(|problem| match problem {
        Unusable::Unit { unit, .. } => {
            let flag = unit.short();
            anyhow::anyhow!("{problem}, or give --unit {flag} (--unit mm takes the file as it is)")
        }
        Unusable::SeveralBones { .. } => anyhow::anyhow!(
            "{problem}, or choose it with --piece (left, right, largest or a number that cupwright inspect tells)"
        ),
        _ => problem.into(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_choice_is_a_number_a_size_or_a_side() {
        assert_eq!(choice("2"), Ok(Choice::Number(2)));
        assert_eq!(choice("largest"), Ok(Choice::Largest));
        assert_eq!(choice("left"), Ok(Choice::WithSocket(Side::Left)));
        for bad in ["0", "-1", "biggest", ""] {
            assert!(choice(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_word_that_a_shell_would_split_is_in_quotation_marks() {
        assert_eq!(quoted("scans/hip-2.stl"), "scans/hip-2.stl");
        assert_eq!(quoted("Hüfte links.stl"), "'Hüfte links.stl'");
        assert_eq!(quoted("it's"), r"'it'\''s'");
    }
}
