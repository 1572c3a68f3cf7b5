//! The case file: everything one run needs, as typed ([`CaseFile`]) and as meant ([`Case`]).
//!
//! Written in RON. A length carries `_mm` in its name and an angle `_deg`; the orientation's
//! definition has no default; a field the program does not know is an error with line and column.
//! Degrees become radians here and nowhere else.

mod entry;

use std::path::Path;

use cupwright_anatomy::{
    Angles, BadAngle, BadTilt, Definition, Orientation, Reference, Side, Tilt,
};
use thiserror::Error;

use crate::findings::Shift;
use crate::hold::BadInput;
use crate::joint::{BadJoint, JointEntry};
use crate::mechanics::MechanicsInputs;
use crate::syntax;
use crate::text::{self, Unreadable};
pub use entry::{
    AxesEntry, BoneEntry, CaseFile, CupEntry, DefinitionEntry, Limits, PieceEntry, ReamerEntry,
    ReferenceEntry, ShiftEntry, SideEntry,
};

/// The version of the case format that this program writes.
pub const VERSION: u32 = 1;

/// The largest diameter that a reamer or cup may have, in mm; larger ones are slips of the key.
pub const LARGEST_DIAMETER: f64 = 200.0;

/// The farthest that a place may lie from the origin of its file, in mm: a kilometre, where numbers
/// still tell 10⁻⁹ mm apart.
pub const FARTHEST: f64 = 1e6;

/// Weight of the bone removed, in g/cm³, where a case states none: an assumption between wet
/// cancellous bone and the subchondral plate.
pub const ASSUMED_DENSITY: f64 = 1.1;

/// A case as meant: checked, in mm and radians.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// The bone, still to be made or read.
    pub bone: BoneEntry,
    /// Which hip.
    pub side: Side,
    /// The definition that the case speaks in.
    pub definition: Definition,
    /// The reference plane.
    pub reference: Reference,
    /// Tilt of the pelvis against it.
    pub tilt: Tilt,
    /// A file of instrument sizes, relative to the case.
    pub instruments: Option<String>,
    /// The reamers in the order of use.
    pub reamers: Vec<Tool>,
    /// The cup.
    pub cup: Tool,
    /// What press-fit, bone stock and screws need beyond cup and reamers.
    pub mechanics: MechanicsInputs,
    /// What is put into the cup and what comes to meet it.
    pub joint: JointEntry,
    /// Limits to check.
    pub limits: Limits,
    /// Assumed weight of the bone removed, in g/cm³.
    pub density: f64,
    /// Free text.
    pub notes: String,
}

/// A reamer or cup: a half ball somewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tool {
    /// Diameter in mm.
    pub diameter: f64,
    /// Centre, from the native hip centre.
    pub centre: Shift,
    /// Direction of its axis.
    pub orientation: Orientation,
}

/// Why the case of a file cannot be had.
#[derive(Debug, Error)]
pub enum NoCase {
    /// The file cannot be read.
    #[error(transparent)]
    Unreadable(#[from] Unreadable),
    /// It is no case.
    #[error("{file}: {problem}")]
    Bad {
        /// The file.
        file: String,
        /// What is wrong.
        problem: BadCase,
    },
}

/// Why a case is refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BadCase {
    /// The text is not a case.
    #[error("{}", syntax::told(.0))]
    Syntax(Box<ron::error::SpannedError>),
    /// Written by a later version of this program.
    #[error(
        "version is {found}; this program reads version {VERSION} of the case format, a later one may read more"
    )]
    Version {
        /// The version it names.
        found: u32,
    },
    /// A number out of its range.
    #[error("{field} is {value}; it must be {allowed}")]
    Number {
        /// The field.
        field: String,
        /// Its value.
        value: f64,
        /// What it may be.
        allowed: &'static str,
    },
    /// An angle that its definition cannot have.
    #[error("{field}: {problem}")]
    Angle {
        /// The tool.
        field: String,
        /// What is wrong.
        problem: BadAngle,
    },
    /// A tilt that no pelvis has.
    #[error("posterior_tilt_deg: {0}")]
    Tilt(#[from] BadTilt),
    /// A number of press-fit, fallback or screws.
    #[error(transparent)]
    Input(#[from] BadInput),
    /// A number of the joint.
    #[error(transparent)]
    Joint(#[from] BadJoint),
    /// No reamers.
    #[error("reamers is empty; give at least one, as in reamers: [(diameter_mm: 51)]")]
    NoReamers,
}

impl CaseFile {
    /// The case in a file.
    ///
    /// # Errors
    /// When the file cannot be read, or is no case.
    pub fn read(path: &Path) -> Result<Self, NoCase> {
        Self::parse(&text::read(path)?).map_err(|problem| NoCase::Bad {
            file: path.display().to_string(),
            problem,
        })
    }

    /// A case from the text of its file.
    ///
    /// # Errors
    /// When the text is not RON or not a case, with line and column.
    pub fn parse(text: &str) -> Result<Self, BadCase> {
        let extensions = ron::extensions::Extensions::IMPLICIT_SOME;
        let options = ron::Options::default().with_default_extension(extensions);
        let file = options.from_str(text);
        file.map_err(|error| BadCase::Syntax(Box::new(error)))
    }

    /// The text of a case file that reads back as this case.
    ///
    /// # Errors
    /// When a number cannot be written, which RON can for all.
    pub fn to_text(&self) -> Result<String, ron::Error> {
        let extensions = ron::extensions::Extensions::IMPLICIT_SOME;
        let options = ron::Options::default().with_default_extension(extensions);
        options.to_string_pretty(self, ron::ser::PrettyConfig::default().struct_names(false))
    }

    /// What the case means.
    ///
    /// # Errors
    /// The first number that cannot be, by the name of its field.
    pub fn check(&self) -> Result<Case, BadCase> {
        if self.version == 0 || self.version > VERSION {
            return Err(BadCase::Version {
                found: self.version,
            });
        }
        if self.reamers.is_empty() {
            return Err(BadCase::NoReamers);
        }
        let cup = self.tool("cup", &self.cup.as_reamer())?;
        let reamers = self.reamers.iter().enumerate();
        let reamers = reamers.map(|(k, reamer)| self.tool(&format!("reamer {}", k + 1), reamer));
        let density = self.bone_density_g_per_cm3;
        in_range(
            "bone_density_g_per_cm3",
            density,
            0.0..=3.0,
            "between 0 and 3 g/cm³",
        )?;
        self.limits.check()?;
        let (mechanics, joint) = (self.mechanics(), self.joint());
        mechanics.check()?;
        joint.check()?;
        Ok(Case {
            bone: self.bone.clone(),
            side: self.bone.side(),
            definition: self.orientation.into(),
            reference: self.reference.into(),
            tilt: Tilt::posterior(self.posterior_tilt_deg.to_radians())?,
            instruments: self.instruments.clone(),
            reamers: reamers.collect::<Result<_, _>>()?,
            cup,
            mechanics,
            joint,
            limits: self.limits,
            density,
            notes: self.notes.clone(),
        })
    }

    fn tool(&self, field: &str, entry: &ReamerEntry) -> Result<Tool, BadCase> {
        let diameter = entry.diameter_mm;
        let allowed = "more than 0 and at most 200 mm";
        in_range(
            &format!("{field}: diameter_mm"),
            diameter,
            0.0..=LARGEST_DIAMETER,
            allowed,
        )?;
        if diameter <= 0.0 {
            return Err(BadCase::Number {
                field: format!("{field}: diameter_mm"),
                value: diameter,
                allowed,
            });
        }
        let centre = entry.centre.unwrap_or(self.cup.centre);
        centre.check(&format!("{field}: centre"))?;
        let angles = Angles::from_degrees(
            entry.inclination_deg.unwrap_or(self.cup.inclination_deg),
            entry.anteversion_deg.unwrap_or(self.cup.anteversion_deg),
        );
        let orientation = Orientation::new(self.orientation.into(), angles).map_err(|problem| {
            BadCase::Angle {
                field: field.into(),
                problem,
            }
        })?;
        Ok(Tool {
            diameter,
            centre: centre.into(),
            orientation,
        })
    }
}

fn in_range(
    field: &str,
    value: f64,
    range: std::ops::RangeInclusive<f64>,
    allowed: &'static str,
) -> Result<(), BadCase> {
    if range.contains(&value) {
        Ok(())
    } else {
        Err(BadCase::Number {
            field: field.into(),
            value,
            allowed,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHORT: &str = r#"(
    version: 1,
    bone: Preset(name: "average-male", side: Right),
    orientation: Radiographic,
    reamers: [(diameter_mm: 51), (diameter_mm: 53, centre: (medial_mm: 1), anteversion_deg: 20)],
    cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15, centre: (medial_mm: 2)),
    limits: (min_coverage: 0.7),
)"#;

    #[track_caller]
    fn refused(from: &str, to: &str, told: &str) {
        assert!(SHORT.contains(from), "nothing to replace");
        let case = CaseFile::parse(&SHORT.replace(from, to)).and_then(|file| file.check());
        let message = case.unwrap_err().to_string();
        assert!(message.contains(told), "{message}");
    }

    #[test]
    fn a_reamer_takes_from_the_cup_what_it_does_not_say() {
        let case = CaseFile::parse(SHORT).unwrap().check().unwrap();
        assert_eq!(
            case.reamers[0].centre.medial_mm.to_bits(),
            2.0_f64.to_bits()
        );
        assert_eq!(case.reamers[0].orientation, case.cup.orientation);
        assert_eq!(
            case.reamers[1].centre.medial_mm.to_bits(),
            1.0_f64.to_bits()
        );
        assert!((case.reamers[1].orientation.anteversion() - 20.0_f64.to_radians()).abs() < 1e-15);
        assert_eq!(case.limits.min_coverage, Some(0.7));
    }

    #[test]
    fn the_bone_from_a_file_in_the_readme_is_one_and_reads_back_as_it_was_written() {
        let readme = include_str!("../../../README.md");
        let from = readme.find("    bone: File(").unwrap();
        let bone = readme[from..].split("```").next().unwrap();
        let preset = "    bone: Preset(name: \"average-male\", side: Right),\n";
        let file = CaseFile::parse(&SHORT.replace(preset, bone)).unwrap();
        assert!(matches!(
            &file.bone,
            BoneEntry::File {
                axes: AxesEntry::LandmarksFile(_),
                ..
            }
        ));
        assert_eq!(file.bone.reading().label, Some(3));
        assert_eq!(CaseFile::parse(&file.to_text().unwrap()).unwrap(), file);
    }

    #[test]
    fn a_case_reads_back_as_it_was_written() {
        let file = CaseFile::parse(SHORT).unwrap();
        assert_eq!(CaseFile::parse(&file.to_text().unwrap()).unwrap(), file);
    }

    #[test]
    fn a_field_the_program_does_not_know_is_told_with_its_line() {
        refused("limits: (min", "limits: (least", "line 7");
        refused("limits: (min", "limits: (least", "least_coverage");
        refused("orientation: Radiographic,", "", "orientation");
        refused("Radiographic", "Sideways", "line 4");
    }

    #[test]
    fn numbers_that_cannot_be_are_told_by_field() {
        refused(
            "diameter_mm: 51",
            "diameter_mm: -51",
            "reamer 1: diameter_mm is -51",
        );
        refused(
            "diameter_mm: 54",
            "diameter_mm: 540",
            "cup: diameter_mm is 540",
        );
        refused(
            "diameter_mm: 54",
            "diameter_mm: NaN",
            "cup: diameter_mm is NaN",
        );
        refused(
            "medial_mm: 1",
            "medial_mm: inf",
            "reamer 2: centre.medial_mm is inf",
        );
        refused("inclination_deg: 40", "inclination_deg: 400", "cup");
        refused(
            "min_coverage: 0.7",
            "min_coverage: 70",
            "limits.min_coverage is 70",
        );
        refused("version: 1", "version: 2", "version is 2");
        let none = "reamers: [(diameter_mm: 51), (diameter_mm: 53, centre: (medial_mm: 1), anteversion_deg: 20)]";
        refused(none, "reamers: []", "reamers is empty");
    }
}
