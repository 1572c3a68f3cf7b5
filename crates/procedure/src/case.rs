//! The case file: everything one run needs, as typed ([`CaseFile`]) and as meant ([`Case`]).
//!
//! Written in RON. A length carries `_mm` in its name and an angle `_deg`; the orientation's
//! definition has no default; a field the program does not know is an error with line and column.
//! Degrees become radians here and nowhere else.

use std::collections::BTreeMap;

use cupwright_anatomy::Both;
use cupwright_anatomy::{
    Angles, BadAngle, BadTilt, Definition, Landmarks, Orientation, Reference, Side, Tilt,
};
use nalgebra::Point3;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::findings::Shift;

/// The version of the case format that this program writes.
pub const VERSION: u32 = 1;

/// The largest diameter that a reamer or cup may have, in mm; larger ones are slips of the key.
pub const LARGEST_DIAMETER: f64 = 200.0;

/// Weight of the bone removed, in g/cm³, where a case states none: an assumption between wet
/// cancellous bone and the subchondral plate.
pub const ASSUMED_DENSITY: f64 = 1.1;

/// A case as typed.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct CaseFile {
    /// Version of the format.
    pub version: u32,
    /// Free text, printed at the end of the report.
    #[serde(default)]
    pub notes: String,
    /// The bone to work on.
    pub bone: BoneEntry,
    /// The definition of every inclination and anteversion in this file.
    pub orientation: DefinitionEntry,
    /// The plane that directions and angles refer to.
    #[serde(default)]
    pub reference: ReferenceEntry,
    /// Posterior tilt of the pelvis against that plane.
    #[serde(default)]
    pub posterior_tilt_deg: f64,
    /// A file of reamer and cup sizes, relative to the case; the generic set where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instruments: Option<String>,
    /// The reamers in the order of use.
    pub reamers: Vec<ReamerEntry>,
    /// The cup.
    pub cup: CupEntry,
    /// Limits that must be met; each is optional.
    #[serde(default)]
    pub limits: Limits,
    /// Assumed weight of the bone removed.
    #[serde(default = "assumed_density")]
    pub bone_density_g_per_cm3: f64,
}

/// The bone of a case.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub enum BoneEntry {
    /// The synthetic pelvis.
    Preset {
        /// Name of the preset.
        name: String,
        /// Which hip.
        side: SideEntry,
        /// Numbers of the preset to change, by name.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        overrides: BTreeMap<String, f64>,
    },
    /// A mesh file.
    File {
        /// Path, relative to the case file.
        path: String,
        /// Which hip.
        side: SideEntry,
        /// How the file's coordinates lie in the patient.
        axes: AxesEntry,
        /// Native hip centre in the file's coordinates; found by a sphere fit where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        hip_centre_mm: Option<[f64; 3]>,
        /// Native socket diameter; found by a sphere fit where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        socket_diameter_mm: Option<f64>,
    },
}

/// How a mesh file's coordinates lie in the patient.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub enum AxesEntry {
    /// Already x toward the patient's right, y anterior, z superior in the reference plane.
    Pelvic,
    /// To be found from landmarks, in the file's coordinates.
    Landmarks {
        /// Right anterior superior iliac spine.
        asis_right_mm: [f64; 3],
        /// Left anterior superior iliac spine.
        asis_left_mm: [f64; 3],
        /// Right pubic tubercle.
        pubic_tubercle_right_mm: [f64; 3],
        /// Left pubic tubercle.
        pubic_tubercle_left_mm: [f64; 3],
        /// Right and left posterior superior iliac spines, for the ISB frame.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        psis_right_left_mm: Option<([f64; 3], [f64; 3])>,
    },
}

/// One reamer; what is absent is as for the cup.
#[derive(Clone, Copy, Debug, Default, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ReamerEntry {
    /// Its diameter.
    pub diameter_mm: f64,
    /// Its centre at final depth, from the native hip centre.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub centre: Option<ShiftEntry>,
    /// Inclination of its axis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inclination_deg: Option<f64>,
    /// Anteversion of its axis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub anteversion_deg: Option<f64>,
}

/// The cup.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct CupEntry {
    /// Outer diameter.
    pub diameter_mm: f64,
    /// Inclination.
    pub inclination_deg: f64,
    /// Anteversion.
    pub anteversion_deg: f64,
    /// Its centre, from the native hip centre.
    #[serde(default)]
    pub centre: ShiftEntry,
}

/// A displacement from the native hip centre; what is absent is 0.
#[derive(Clone, Copy, Debug, Default, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct ShiftEntry {
    /// Toward the midline.
    pub medial_mm: f64,
    /// Toward the head.
    pub superior_mm: f64,
    /// Toward the front.
    pub anterior_mm: f64,
}

/// Limits that a case must keep; absent ones are not checked.
#[derive(Clone, Copy, Debug, Default, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct Limits {
    /// Least coverage of the cup after reaming, 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub min_coverage: Option<f64>,
    /// Least share of the cup's rim in bone, 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub min_rim_contact: Option<f64>,
    /// Least thickness of any wall behind the cavity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub min_wall_mm: Option<f64>,
    /// Most that the cup's edge may stand proud of bone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_overhang_mm: Option<f64>,
    /// Farthest that the hip centre may move.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_centre_shift_mm: Option<f64>,
    /// Most bone that may be removed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_removed_mm3: Option<f64>,
}

/// See [`Definition`].
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[expect(missing_docs, reason = "the variants are those of Definition")]
pub enum DefinitionEntry {
    Radiographic,
    Operative,
    Anatomic,
}

/// See [`Reference`].
#[derive(Clone, Copy, Debug, Default, Deserialize, Eq, PartialEq, Serialize)]
#[expect(missing_docs, reason = "the variants are those of Reference")]
pub enum ReferenceEntry {
    #[default]
    AnteriorPelvicPlane,
    Isb,
}

/// See [`Side`].
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[expect(missing_docs, reason = "the variants are those of Side")]
pub enum SideEntry {
    Right,
    Left,
}

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

/// Why a case is refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BadCase {
    /// The text is not a case.
    #[error("{0}")]
    Syntax(#[from] Box<ron::error::SpannedError>),
    /// Written by a later version of this program.
    #[error("version {found} of the case format; this program reads version {VERSION}")]
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
    /// No reamers.
    #[error("reamers is empty; a case needs at least one reamer")]
    NoReamers,
}

impl CaseFile {
    /// A case from the text of its file.
    ///
    /// # Errors
    /// When the text is not RON or not a case, with line and column.
    pub fn parse(text: &str) -> Result<Self, BadCase> {
        let extensions = ron::extensions::Extensions::IMPLICIT_SOME;
        let options = ron::Options::default().with_default_extension(extensions);
        Ok(options.from_str(text).map_err(Box::new)?)
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
        let reamers = reamers.map(|(k, reamer)| self.tool(&format!("reamers[{k}]"), reamer));
        let density = self.bone_density_g_per_cm3;
        in_range(
            "bone_density_g_per_cm3",
            density,
            0.0..=3.0,
            "between 0 and 3 g/cm³",
        )?;
        self.limits.check()?;
        Ok(Case {
            bone: self.bone.clone(),
            side: self.bone.side(),
            definition: self.orientation.into(),
            reference: self.reference.into(),
            tilt: Tilt::posterior(self.posterior_tilt_deg.to_radians())?,
            instruments: self.instruments.clone(),
            reamers: reamers.collect::<Result<_, _>>()?,
            cup,
            limits: self.limits,
            density,
            notes: self.notes.clone(),
        })
    }

    fn tool(&self, field: &str, entry: &ReamerEntry) -> Result<Tool, BadCase> {
        let diameter = entry.diameter_mm;
        let allowed = "more than 0 and at most 200 mm";
        in_range(
            &format!("{field}.diameter_mm"),
            diameter,
            0.0..=LARGEST_DIAMETER,
            allowed,
        )?;
        if diameter <= 0.0 {
            return Err(BadCase::Number {
                field: format!("{field}.diameter_mm"),
                value: diameter,
                allowed,
            });
        }
        let centre = entry.centre.unwrap_or(self.cup.centre);
        centre.check(&format!("{field}.centre"))?;
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

impl BoneEntry {
    /// Which hip.
    pub fn side(&self) -> Side {
        match self {
            Self::Preset { side, .. } | Self::File { side, .. } => (*side).into(),
        }
    }
}

impl AxesEntry {
    /// The landmarks, in the file's coordinates; `None` where the axes are pelvic already.
    pub fn landmarks(&self) -> Option<Landmarks> {
        let Self::Landmarks {
            asis_right_mm,
            asis_left_mm,
            pubic_tubercle_right_mm,
            pubic_tubercle_left_mm,
            psis_right_left_mm,
        } = self
        else {
            return None;
        };
        let both = |right: &[f64; 3], left: &[f64; 3]| Both {
            right: Point3::from(*right),
            left: Point3::from(*left),
        };
        Some(Landmarks {
            asis: both(asis_right_mm, asis_left_mm),
            pubic_tubercle: both(pubic_tubercle_right_mm, pubic_tubercle_left_mm),
            psis: psis_right_left_mm
                .as_ref()
                .map(|(right, left)| both(right, left)),
        })
    }
}

impl CupEntry {
    fn as_reamer(self) -> ReamerEntry {
        ReamerEntry {
            diameter_mm: self.diameter_mm,
            ..ReamerEntry::default()
        }
    }
}

impl ShiftEntry {
    fn check(self, field: &str) -> Result<(), BadCase> {
        let named = [
            ("medial", self.medial_mm),
            ("superior", self.superior_mm),
            ("anterior", self.anterior_mm),
        ];
        named.into_iter().try_for_each(|(name, value)| {
            in_range(
                &format!("{field}.{name}_mm"),
                value,
                -200.0..=200.0,
                "between -200 and 200 mm",
            )
        })
    }
}

impl Limits {
    fn check(&self) -> Result<(), BadCase> {
        for (field, value) in [
            ("min_coverage", self.min_coverage),
            ("min_rim_contact", self.min_rim_contact),
        ] {
            in_range(
                &format!("limits.{field}"),
                value.unwrap_or(0.0),
                0.0..=1.0,
                "a share between 0 and 1",
            )?;
        }
        let sizes = [
            ("min_wall_mm", self.min_wall_mm),
            ("max_overhang_mm", self.max_overhang_mm),
            ("max_centre_shift_mm", self.max_centre_shift_mm),
            ("max_removed_mm3", self.max_removed_mm3),
        ];
        sizes.into_iter().try_for_each(|(field, value)| {
            let value = value.unwrap_or(0.0);
            in_range(
                &format!("limits.{field}"),
                value,
                0.0..=f64::MAX,
                "0 or more",
            )
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

fn assumed_density() -> f64 {
    ASSUMED_DENSITY
}

impl From<DefinitionEntry> for Definition {
    fn from(entry: DefinitionEntry) -> Self {
        match entry {
            DefinitionEntry::Radiographic => Self::Radiographic,
            DefinitionEntry::Operative => Self::Operative,
            DefinitionEntry::Anatomic => Self::Anatomic,
        }
    }
}

impl From<ReferenceEntry> for Reference {
    fn from(entry: ReferenceEntry) -> Self {
        match entry {
            ReferenceEntry::AnteriorPelvicPlane => Self::AnteriorPelvicPlane,
            ReferenceEntry::Isb => Self::Isb,
        }
    }
}

impl From<SideEntry> for Side {
    fn from(entry: SideEntry) -> Self {
        match entry {
            SideEntry::Right => Self::Right,
            SideEntry::Left => Self::Left,
        }
    }
}

impl From<ShiftEntry> for Shift {
    fn from(entry: ShiftEntry) -> Self {
        let ShiftEntry {
            medial_mm,
            superior_mm,
            anterior_mm,
        } = entry;
        Self {
            medial_mm,
            superior_mm,
            anterior_mm,
        }
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
    fn a_case_reads_back_as_it_was_written() {
        let file = CaseFile::parse(SHORT).unwrap();
        assert_eq!(CaseFile::parse(&file.to_text().unwrap()).unwrap(), file);
    }

    #[test]
    fn a_field_the_program_does_not_know_is_told_with_its_line() {
        refused("limits: (min", "limits: (least", "7:");
        refused("limits: (min", "limits: (least", "least_coverage");
        refused("orientation: Radiographic,", "", "orientation");
        refused("Radiographic", "Sideways", "4:");
    }

    #[test]
    fn numbers_that_cannot_be_are_told_by_field() {
        refused(
            "diameter_mm: 51",
            "diameter_mm: -51",
            "reamers[0].diameter_mm is -51",
        );
        refused(
            "diameter_mm: 54",
            "diameter_mm: 540",
            "cup.diameter_mm is 540",
        );
        refused(
            "diameter_mm: 54",
            "diameter_mm: NaN",
            "cup.diameter_mm is NaN",
        );
        refused(
            "medial_mm: 1",
            "medial_mm: inf",
            "reamers[1].centre.medial_mm is inf",
        );
        refused("inclination_deg: 40", "inclination_deg: 400", "cup");
        refused(
            "min_coverage: 0.7",
            "min_coverage: 70",
            "limits.min_coverage is 70",
        );
        refused("version: 1", "version: 2", "version 2");
        let none = "reamers: [(diameter_mm: 51), (diameter_mm: 53, centre: (medial_mm: 1), anteversion_deg: 20)]";
        refused(none, "reamers: []", "reamers is empty");
    }
}
