//! The case file as typed: the fields of the format, and nothing of what they mean.

use std::collections::BTreeMap;

use cupwright_anatomy::{Both, Definition, Landmarks, Reference, Side};
use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use super::{ASSUMED_DENSITY, BadCase, in_range};
use crate::findings::Shift;
use crate::hold::PressFitInputs;
use crate::joint::{
    FemurEntry, HeadEntry, JointEntry, LinerEntry, NeedEntry, StemEntry, TargetEntry,
};
use crate::mechanics::MechanicsInputs;
use crate::piece::Choice;
use crate::reading::{Axes, Reading};
use crate::screws::ScrewInputs;
use crate::stock::FallbackCup;
use crate::unit::Unit;

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
    /// Bone, friction and force of the press-fit.
    #[serde(default, skip_serializing_if = "is_default")]
    pub press_fit: PressFitInputs,
    /// The larger cup to fall back on.
    #[serde(default, skip_serializing_if = "is_default")]
    pub fallback: FallbackCup,
    /// The cup's screws.
    #[serde(default, skip_serializing_if = "is_default")]
    pub screws: ScrewInputs,
    /// The liner.
    #[serde(default, skip_serializing_if = "is_default")]
    pub liner: LinerEntry,
    /// The ball.
    #[serde(default, skip_serializing_if = "is_default")]
    pub head: HeadEntry,
    /// The stem.
    #[serde(default, skip_serializing_if = "is_default")]
    pub stem: StemEntry,
    /// The native femur that the stem goes into.
    #[serde(default, skip_serializing_if = "is_default")]
    pub femur: FemurEntry,
    /// What leg length and offset are to become.
    #[serde(default, skip_serializing_if = "is_default")]
    pub target: TargetEntry,
    /// The motion that the joint must allow.
    #[serde(default = "usual_needs", skip_serializing_if = "are_usual")]
    pub needs: Vec<NeedEntry>,
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
        /// Whether to say which layers the bone removed is made of: model assumptions, some seconds'
        /// more work.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        layers: bool,
    },
    /// A mesh file, or a label volume, whose coordinates are mm to the patient's right, anterior and
    /// superior. Every place given here is in mm, in the file's axes.
    File {
        /// Path, relative to the case file.
        path: String,
        /// Which hip.
        side: SideEntry,
        /// Which label of a label volume; needed where it holds several.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        label: Option<i32>,
        /// The file's unit; where absent it must be mm, and a bone too small for the tools is refused.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unit: Option<Unit>,
        /// Which piece is meant, of a file that holds several.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        piece: Option<PieceEntry>,
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
    /// x toward the patient's left, y posterior, z superior in the reference plane: turned to the pelvic
    /// axes when read.
    LeftPosteriorSuperior,
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

/// A piece of a mesh file.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub enum PieceEntry {
    /// The one that holds the socket of the case's side.
    WithSocket,
    /// The one with the largest surface.
    Largest,
    /// The one of this number, counting from 1, the largest surface first.
    Number(usize),
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

impl BoneEntry {
    /// Which hip.
    pub fn side(&self) -> Side {
        match self {
            Self::Preset { side, .. } | Self::File { side, .. } => (*side).into(),
        }
    }

    /// How its file is to be read; a preset has none.
    pub fn reading(&self) -> Reading {
        let Self::File {
            side,
            label,
            unit,
            piece,
            axes,
            ..
        } = self
        else {
            return Reading::default();
        };
        let turned = *axes == AxesEntry::LeftPosteriorSuperior;
        let choice = |piece: PieceEntry| match piece {
            PieceEntry::WithSocket => Choice::WithSocket((*side).into()),
            PieceEntry::Largest => Choice::Largest,
            PieceEntry::Number(number) => Choice::Number(number),
        };
        Reading {
            label: *label,
            unit: *unit,
            axes: turned.then_some(Axes::LeftPosteriorSuperior),
            piece: piece.map(choice),
        }
    }
}

impl AxesEntry {
    /// The landmarks, in the file's coordinates; `None` where no landmarks are needed.
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
    pub(super) fn as_reamer(self) -> ReamerEntry {
        ReamerEntry {
            diameter_mm: self.diameter_mm,
            ..ReamerEntry::default()
        }
    }
}

impl ShiftEntry {
    pub(super) fn check(self, field: &str) -> Result<(), BadCase> {
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
    pub(super) fn check(&self) -> Result<(), BadCase> {
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

impl CaseFile {
    /// What is put into the cup and what comes to meet it.
    pub fn joint(&self) -> JointEntry {
        JointEntry {
            liner: self.liner,
            head: self.head.clone(),
            stem: self.stem,
            femur: self.femur,
            target: self.target,
            needs: self.needs.clone(),
        }
    }

    /// What press-fit, bone stock and screws need beyond cup and reamers.
    pub fn mechanics(&self) -> MechanicsInputs {
        MechanicsInputs {
            press_fit: self.press_fit,
            fallback: self.fallback,
            screws: self.screws,
        }
    }
}

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

fn usual_needs() -> Vec<NeedEntry> {
    JointEntry::default().needs
}

fn are_usual(needs: &[NeedEntry]) -> bool {
    needs == usual_needs()
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

impl From<Side> for SideEntry {
    fn from(side: Side) -> Self {
        match side {
            Side::Right => Self::Right,
            Side::Left => Self::Left,
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
