//! What a rehearsal found: plain numbers with their unit in the name, ready to print or to save.
//!
//! Lengths in mm, angles in degrees, shares from 0 to 1. "Bone" without more is the bone as it was
//! before any reaming. Clock positions are hours, 12 superior and 3 anterior on both sides, seen
//! looking into the socket.

use schemars::JsonSchema;
use serde::Serialize;

use crate::case::Case;
use crate::hold::PressFitFinding;
use crate::joint::bony::BonyFinding;
use crate::joint::{JointEntry, JointFinding};
use crate::screws::ScrewsFinding;
use crate::stock::StockFinding;

/// Everything a run of one case found.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Findings {
    /// The bone that was worked on.
    pub bone: BoneFinding,
    /// How angles and directions are to be read.
    pub frame: FrameFinding,
    /// One entry for each reamer, in the order of use.
    pub reaming: Vec<StepFinding>,
    /// The cup.
    pub cup: CupFinding,
    /// Whether it holds by itself: first-order estimates.
    pub press_fit: PressFitFinding,
    /// The bone that is left behind the cavity, and what a larger cup would still find.
    pub stock: StockFinding,
    /// Where screws may go; `None` where the ASIS is not known, from which quadrants are told.
    pub screws: Option<ScrewsFinding>,
    /// Liner, ball, leg length, offset and motion; `None` where they make no joint.
    pub joint: Option<JointFinding>,
    /// Why they make none.
    pub no_joint: Option<String>,
    /// Motion until bone meets bone; `None` where it was not searched.
    pub bone_on_bone: Option<BonyFinding>,
    /// What to watch, the gravest first.
    pub watch: Vec<Watch>,
    /// The limits the case asked to check.
    pub limits: Vec<LimitFinding>,
    /// The case's own notes.
    pub notes: String,
}

impl Findings {
    /// Why what the case itself puts into the cup makes no joint; what it leaves to defaults is no reason to
    /// refuse it.
    pub fn refused_joint(&self, case: &Case) -> Option<&str> {
        let stated = case.joint != JointEntry::default();
        self.no_joint.as_deref().filter(|_| stated)
    }
}

/// The bone.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct BoneFinding {
    /// Where it came from: a file's name or a preset's.
    pub source: String,
    /// `right` or `left`.
    pub side: String,
    /// How many triangles.
    pub triangles: usize,
    /// Volume enclosed, in mm³.
    pub volume_mm3: f64,
    /// Surface area, in mm².
    pub area_mm2: f64,
    /// Diameter of the native socket, in mm.
    pub native_diameter_mm: f64,
    /// The density that turns volumes into weights, assumed, in g/cm³.
    pub assumed_density_g_per_cm3: f64,
}

/// The frame that angles and directions refer to.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct FrameFinding {
    /// `radiographic`, `operative` or `anatomic`.
    pub orientation: String,
    /// The reference plane by name.
    pub reference: String,
    /// Posterior pelvic tilt against that plane, in degrees.
    pub posterior_tilt_deg: f64,
}

/// One reamer.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct StepFinding {
    /// Its diameter.
    pub diameter_mm: f64,
    /// Bone removed by this reamer and by none before it.
    pub removed_mm3: f64,
    /// The same as a weight, at the assumed density.
    pub removed_g: f64,
    /// Bone removed so far.
    pub cumulative_removed_mm3: f64,
    /// The same as a weight.
    pub cumulative_removed_g: f64,
    /// The largest error of `removed_mm3`: 0 where it is exact.
    pub error_bound_mm3: f64,
    /// What `removed_mm3` is made of, where the bone is a model that says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layers: Option<LayersFinding>,
    /// Bone newly laid open: area of the reamer's round side in bone and in no earlier reamer.
    pub new_contact_mm2: f64,
    /// The same as a share of the round side.
    pub new_contact: f64,
    /// Share of the reamer's edge that runs in bone.
    pub rim_contact: f64,
    /// The thinnest wall behind the cavity as it is then, `None` where the reamer has met no wall.
    pub thinnest_wall: Option<WallFinding>,
    /// The thinnest place of each wall behind the cavity as it is then.
    pub walls: Vec<WallFinding>,
    /// Share of its round side that a cup of the reamer's own size would have covered here.
    pub coverage: f64,
}

/// A volume of bone by its layers, all model assumptions.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct LayersFinding {
    /// Of the dense plate beneath the cartilage.
    pub subchondral_mm3: f64,
    /// Of the cortical shell.
    pub cortical_mm3: f64,
    /// Of the spongy core.
    pub cancellous_mm3: f64,
}

/// The thinnest place of a wall.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct WallFinding {
    /// Which wall: `medial`, `anterior`, `posterior`, `superior` or `inferior`.
    pub wall: Wall,
    /// Bone left between the cavity and the far side, along the ray from the reamer's centre, from 6 mm
    /// below where bone begins; 0 where it broke through.
    pub thickness_mm: f64,
    /// The place on the cavity, from the hip centre: medial, superior, anterior.
    pub place: Shift,
    /// Clock position.
    pub clock_h: f64,
    /// Angle from the deepest point of the cavity, in degrees: 0 at the pole, 90 at the edge.
    pub from_pole_deg: f64,
}

/// A wall of the socket.
#[derive(Clone, Copy, Debug, Eq, JsonSchema, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Wall {
    /// Toward the midline: floor and quadrilateral plate.
    Medial,
    /// Toward the front.
    Anterior,
    /// Toward the back.
    Posterior,
    /// Toward the head: the roof.
    Superior,
    /// Toward the feet: ischium and notch.
    Inferior,
}

impl std::fmt::Display for Wall {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Medial => "medial",
            Self::Anterior => "anterior",
            Self::Posterior => "posterior",
            Self::Superior => "superior",
            Self::Inferior => "inferior",
        })
    }
}

/// A displacement along the axes of the pelvic frame.
#[derive(Clone, Copy, Debug, Default, JsonSchema, PartialEq, Serialize)]
pub struct Shift {
    /// Toward the midline; lateral is negative.
    pub medial_mm: f64,
    /// Toward the head; inferior is negative.
    pub superior_mm: f64,
    /// Toward the front; posterior is negative.
    pub anterior_mm: f64,
}

impl Shift {
    /// How far it goes, in mm.
    pub fn distance(&self) -> f64 {
        let sides = [self.medial_mm, self.superior_mm, self.anterior_mm];
        sides.iter().map(|mm| mm * mm).sum::<f64>().sqrt()
    }
}

/// The cup at its final place.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct CupFinding {
    /// Outer diameter.
    pub diameter_mm: f64,
    /// Its two angles in all three definitions; the case's own first.
    pub angles: Vec<AnglesFinding>,
    /// Share of its round side that lies in bone.
    pub coverage: f64,
    /// The same, less what a reamer took away from behind it.
    pub coverage_after_reaming: f64,
    /// The largest error of `coverage_after_reaming`: 0 where it is exact.
    pub coverage_error_bound: f64,
    /// Coverage of each of twelve sectors about the hours 12, 1, 2 … 11, each half an hour either
    /// side of its hour.
    pub coverage_by_hour: [f64; 12],
    /// What a film would show of its coverage.
    pub film: FilmFinding,
    /// Share of its rim that lies in bone.
    pub rim_contact: f64,
    /// The arcs of its rim in bone, in degrees from 12 o'clock by way of 3.
    pub rim_arcs_deg: Vec<[f64; 2]>,
    /// Rim outside bone, in degrees.
    pub uncovered_rim_deg: f64,
    /// Rim outside bone, in mm of arc.
    pub uncovered_rim_mm: f64,
    /// How far its edge stands proud of bone at every half hour, measured along its surface from
    /// the edge to where bone begins; starts at 12 o'clock.
    pub overhang: Vec<OverhangFinding>,
    /// Cup diameter less that of the last reamer: the nominal interference.
    pub interference_mm: f64,
    /// From the native hip centre to that of the cup.
    pub centre_shift: Shift,
    /// The place of its centre in the bone file's own coordinates.
    pub centre_mm: [f64; 3],
    /// Its axis, out of the socket, in the bone file's own coordinates.
    pub axis: [f64; 3],
}

/// Coverage as a film would show it: in the frontal plane through the cup's centre, before reaming.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct FilmFinding {
    /// The cup's centre-edge angle: from straight up outward to where the roof ends on the cup, at most
    /// to the cup's own edge; `None` where no roof touches it.
    pub centre_edge_deg: Option<f64>,
    /// Share of the cup's width, pole side included, that lies under the roof.
    pub width_covered: f64,
}

/// The two angles of a cup in one definition.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct AnglesFinding {
    /// `radiographic`, `operative` or `anatomic`.
    pub definition: String,
    /// Inclination.
    pub inclination_deg: f64,
    /// Anteversion.
    pub anteversion_deg: f64,
}

/// How far the edge stands proud of bone at one place.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct OverhangFinding {
    /// Clock position.
    pub clock_h: f64,
    /// Along the cup's surface from its edge to bone; 0 where the edge lies in bone.
    pub proud_mm: f64,
}

/// Something to watch.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Watch {
    /// How grave.
    pub level: Level,
    /// What, with its number.
    pub message: String,
    /// Where the threshold comes from.
    pub source: String,
}

/// How grave a [`Watch`] is; the graver the smaller.
#[derive(Clone, Copy, Debug, Eq, JsonSchema, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// The plan is likely to fail as it stands.
    Stop,
    /// Worth a second look.
    Caution,
    /// Worth knowing.
    Note,
}

impl std::fmt::Display for Level {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Stop => "stop",
            Self::Caution => "caution",
            Self::Note => "note",
        })
    }
}

/// A limit the case asked to check.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct LimitFinding {
    /// What was asked, by the name of its field, such as `min_coverage`.
    pub limit: String,
    /// The limit.
    pub asked: f64,
    /// What was found; `None` where there was nothing to measure.
    pub found: Option<f64>,
    /// Whether the limit is kept.
    pub met: bool,
}
