//! What can be told of a bare bone: landmarks guessed or corrected, the native socket measured from its rim,
//! and what an error of one landmark does to the angles.
//!
//! Lengths in mm, angles in degrees, places in the coordinates of the mesh. A survey is computed anew
//! from a guess and its corrections, so frame, tilt, plane and angles follow them.

use cupwright_anatomy::guess::{
    self, Correction, Estimate, Guess, Influence, Mark, Part, Told, leave_one_out,
};
use cupwright_anatomy::{
    BadLandmarks, Definition, NativeRim, NoRim, NotAPelvis, PelvicFrame, Reference, Side,
};
use cupwright_geometry::TriMesh;
use nalgebra::{Point3, UnitVector3, Vector3};
use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error;

use crate::marks::{self, MarksAxes, NamedPoint, Sheet};
use crate::unit::Unit;

/// What is asked of a survey.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// The hip, where somebody says so; of a whole pelvis, the one to measure.
    pub side: Option<Side>,
    /// Where somebody says that things are.
    pub corrections: Vec<SideOpen>,
    /// The landmark error whose effect is told, mm.
    pub error_mm: f64,
}

/// A correction whose side may be left open, as on a single hip bone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SideOpen {
    /// A correction.
    Known(Correction),
    /// A landmark on the side of the bone.
    Own {
        /// Which.
        mark: Mark,
        /// Where, mm.
        at: Point3<f64>,
    },
}

/// What is told of a bone.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Survey {
    /// Hemipelvis or whole pelvis.
    pub part: String,
    /// Which hip is measured.
    pub side: String,
    /// By how much the other side would fit worse: 0 is a toss, 1 certain.
    pub side_margin: f64,
    /// In a word.
    pub side_sureness: String,
    /// Whether the side is what somebody said.
    pub side_given: bool,
    /// The plane between right and left.
    pub midline: MidlineFinding,
    /// ASIS, pubic tubercle and PSIS of both sides.
    pub landmarks: Vec<LandmarkFinding>,
    /// The socket.
    pub socket: SocketFinding,
    /// What an error of each landmark alone does to the native inclination and anteversion, and to
    /// the tilt.
    pub if_off: Vec<InfluenceFinding>,
    /// The error that these are for.
    pub error_mm: f64,
    #[serde(skip)]
    guess: Guess,
    #[serde(skip)]
    rim: Vec<Point3<f64>>,
}

/// The plane between right and left.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct MidlineFinding {
    /// A point on it.
    pub at_mm: [f64; 3],
    /// Its unit normal, toward the patient's right.
    pub right: [f64; 3],
    /// Within how much its direction is thought to be right.
    pub within_deg: f64,
    /// In a word.
    pub sureness: String,
    /// What it rests on.
    pub basis: String,
}

/// A landmark.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct LandmarkFinding {
    /// Its name in landmark files.
    pub name: String,
    /// Where it is.
    pub at_mm: [f64; 3],
    /// Within how much it is thought to be right.
    pub within_mm: f64,
    /// In a word.
    pub sureness: String,
    /// What it rests on.
    pub basis: String,
}

/// The native socket.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct SocketFinding {
    /// Centre of the sphere of the joint surface: the native hip centre.
    pub centre_mm: [f64; 3],
    /// Its diameter.
    pub sphere_diameter_mm: f64,
    /// Root mean square distance of the joint surface from it.
    pub rms_mm: f64,
    /// Share of half a sphere that the hollow covers.
    pub coverage: f64,
    /// Across the lip of the rim.
    pub rim_diameter_mm: f64,
    /// From the rim's plane to the deepest point of the floor.
    pub depth_mm: f64,
    /// Gap between the horns of the rim.
    pub notch_width_mm: Option<f64>,
    /// Root mean square distance of the rim from its plane.
    pub rim_unevenness_mm: f64,
    /// Unit normal of the rim's plane, out of the socket.
    pub rim_axis: [f64; 3],
    /// How the rim's plane faces in the anterior pelvic plane's frame.
    pub faces: Vec<FacingFinding>,
}

/// Inclination and anteversion in one definition.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct FacingFinding {
    /// The definition.
    pub definition: String,
    /// Inclination.
    pub inclination_deg: f64,
    /// Anteversion.
    pub anteversion_deg: f64,
}

/// What an error does in its worst direction.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct InfluenceFinding {
    /// The landmark, or the midline and its turn.
    pub of: String,
    /// Change of radiographic inclination.
    pub inclination_deg: f64,
    /// Change of radiographic anteversion.
    pub anteversion_deg: f64,
    /// Change of the pelvic tilt.
    pub tilt_deg: f64,
}

/// Why nothing can be told.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoSurvey {
    /// It is no pelvis.
    #[error("{0}")]
    NotAPelvis(#[from] NotAPelvis),
    /// It is none in mm, and one in another unit.
    #[error("it is no pelvis in mm, and looks like a {part} in {unit}; scale it by {}", unit.millimetres())]
    Unit {
        /// What it would be.
        part: Part,
        /// The unit it seems to be in.
        unit: Unit,
    },
    /// Landmarks, as corrected, make no frame.
    #[error("landmarks: {0}")]
    Landmarks(#[from] BadLandmarks),
    /// The socket has no rim.
    #[error("{0}")]
    NoRim(#[from] NoRim),
    /// A correction without a side, of a pelvis with two.
    #[error("this is a whole pelvis: say which side, {key}_right or {key}_left")]
    WhichSide {
        /// The landmark's name.
        key: &'static str,
    },
}

impl Survey {
    /// What can be told of the pelvis that `mesh`, in mm, is.
    ///
    /// # Errors
    /// When it is no pelvis, or one in another unit, when the landmarks as corrected make no frame, and
    /// when the socket has no rim.
    pub fn of(mesh: &TriMesh, ask: &Ask) -> Result<Self, NoSurvey> {
        let found = guess::guess(mesh, ask.side).map_err(|why| in_another_unit(mesh, why))?;
        let corrections = with_sides(&found, &ask.corrections)?;
        let guess = found.corrected(&corrections);
        Self::from_guess(mesh, guess, ask.side.is_some(), ask.error_mm)
    }

    /// What can be told of `mesh` once its landmarks are guessed and corrected.
    ///
    /// # Errors
    /// When the landmarks make no frame, and when the socket has no rim.
    pub fn from_guess(
        mesh: &TriMesh,
        guess: Guess,
        side_given: bool,
        error_mm: f64,
    ) -> Result<Self, NoSurvey> {
        let frame = PelvicFrame::anterior_pelvic_plane(&guess.landmarks())?;
        let socket = &guess.socket;
        let rim = NativeRim::of(mesh, &socket.centre, socket.radius, &frame, guess.side)?;
        Ok(Self {
            part: guess.part.to_string(),
            side: guess.side.to_string(),
            side_margin: guess.side_margin,
            side_sureness: guess.side_sureness().to_string(),
            side_given,
            midline: midline(&guess),
            landmarks: landmarks(&guess),
            socket: socket_finding(&guess, &rim),
            if_off: influences(&guess, rim.axis, error_mm)?,
            error_mm,
            rim: rim.curve.iter().map(|(_, p)| *p).collect(),
            guess,
        })
    }

    /// The guess, corrected, that all this was told from.
    pub fn guess(&self) -> &Guess {
        &self.guess
    }

    /// The line of the rim on the mesh, mm.
    pub fn rim(&self) -> &[Point3<f64>] {
        &self.rim
    }

    /// The landmark file of this survey; `of` is what the mesh is called.
    pub fn sheet(&self, of: &str) -> Sheet<'_> {
        let mut points: Vec<NamedPoint> = Mark::sided()
            .map(|(mark, side)| {
                let estimate = self.guess.estimate(mark, side);
                NamedPoint {
                    name: marks::name(mark, side),
                    at: estimate.at,
                    sure: Some((estimate.within, estimate.basis.to_string())),
                }
            })
            .collect();
        points.push(NamedPoint {
            name: marks::HIP_CENTRE.into(),
            at: self.guess.socket.centre,
            sure: None,
        });
        Sheet {
            comment: format!(
                "Landmarks guessed on {of}, a {}: look at them before use. In mm.",
                self.part
            ),
            axes: MarksAxes::Mesh,
            side: self.guess.side,
            points,
            socket_diameter: 2.0 * self.guess.socket.radius,
            socket_axis: self.socket.rim_axis,
            rim: &self.rim,
            fossa: &[],
        }
    }
}

/// Why a mesh is no pelvis in mm; where it is one in another unit, that.
fn in_another_unit(mesh: &TriMesh, why: NotAPelvis) -> NoSurvey {
    let extent = mesh.bounds().map_or(0.0, |b| b.extent().amax());
    let likely = Unit::likely(extent);
    // The likely one first; then the others, since a whole pelvis in inches is as large as half a one
    // in centimetres, nearly.
    let others = Unit::ALL.into_iter().filter(|unit| *unit != likely);
    for unit in std::iter::once(likely).chain(others) {
        if unit == Unit::Millimetres {
            continue;
        }
        if let Ok(found) = guess::guess(&mesh.scaled(unit.millimetres()), None) {
            let part = found.part;
            return NoSurvey::Unit { part, unit };
        }
    }
    why.into()
}

fn with_sides(guess: &Guess, typed: &[SideOpen]) -> Result<Vec<Correction>, NoSurvey> {
    let meant = typed.iter().map(|correction| match *correction {
        SideOpen::Known(correction) => Ok(correction),
        SideOpen::Own { mark, .. } if guess.part == Part::WholePelvis => {
            Err(NoSurvey::WhichSide { key: mark.key() })
        }
        SideOpen::Own { mark, at } => Ok(Correction::Landmark {
            mark,
            side: guess.side,
            at,
        }),
    });
    meant.collect()
}

fn midline(guess: &Guess) -> MidlineFinding {
    let midline = &guess.midline;
    MidlineFinding {
        at_mm: plain(midline.at.coords),
        right: plain(midline.right.into_inner()),
        within_deg: midline.within.to_degrees(),
        sureness: midline.sureness().to_string(),
        basis: midline.basis.to_string(),
    }
}

fn landmarks(guess: &Guess) -> Vec<LandmarkFinding> {
    let finding = |(mark, side)| {
        let Estimate { at, within, basis } = *guess.estimate(mark, side);
        LandmarkFinding {
            name: marks::name(mark, side),
            at_mm: plain(at.coords),
            within_mm: within,
            sureness: guess.estimate(mark, side).sureness().to_string(),
            basis: basis.to_string(),
        }
    };
    Mark::sided().map(finding).collect()
}

fn socket_finding(guess: &Guess, rim: &NativeRim) -> SocketFinding {
    let facing = |definition| {
        let orientation = rim.orientation(definition);
        FacingFinding {
            definition: definition.to_string(),
            inclination_deg: orientation.inclination().to_degrees(),
            anteversion_deg: orientation.anteversion().to_degrees(),
        }
    };
    let socket = &guess.socket;
    SocketFinding {
        centre_mm: plain(socket.centre.coords),
        sphere_diameter_mm: 2.0 * socket.radius,
        rms_mm: socket.rms,
        coverage: socket.coverage,
        rim_diameter_mm: rim.diameter,
        depth_mm: rim.depth,
        notch_width_mm: rim.notch_width,
        rim_unevenness_mm: rim.unevenness,
        rim_axis: plain(rim.axis.into_inner()),
        faces: Definition::ALL.map(facing).into(),
    }
}

fn influences(
    guess: &Guess,
    axis: UnitVector3<f64>,
    error: f64,
) -> Result<Vec<InfluenceFinding>, BadLandmarks> {
    let told = Told {
        axis,
        side: guess.side,
        definition: Definition::Radiographic,
        reference: Reference::AnteriorPelvicPlane,
    };
    let in_degrees = |of: String, influence: Influence| InfluenceFinding {
        of,
        inclination_deg: influence.inclination.to_degrees(),
        anteversion_deg: influence.anteversion.to_degrees(),
        tilt_deg: influence.tilt.to_degrees(),
    };
    let mut all: Vec<InfluenceFinding> = leave_one_out(&guess.landmarks(), &told, error)?
        .into_iter()
        .map(|(mark, side, influence)| in_degrees(marks::name(mark, side), influence))
        .collect();
    let doubt = guess.midline.within;
    if let Some(influence) = guess.midline_influence(&told, doubt)? {
        let of = format!("midline turned by {:.1}°", doubt.to_degrees());
        all.push(in_degrees(of, influence));
    }
    Ok(all)
}

/// Coordinates of which none is written as -0.0.
fn plain(v: Vector3<f64>) -> [f64; 3] {
    [v.x, v.y, v.z].map(|c| c + 0.0)
}
