//! The joint that a cup, a liner, a ball and a stem make: wall, jump distance, leg length, motion.
//!
//! A [`JointEntry`] says what goes into the cup of a [`Case`] and what comes to meet it; [`Joint`] is
//! what it means; [`joint`](joint()) finds everything that is closed form, in well under 5 ms. What costs more
//! is asked for on its own: [`map::motion_map`] and, against bone, [`bony::bony_motion`].
//!
//! Everything here is rigid geometry: no soft tissue, no load, no wear. In the **hip frame** x is
//! lateral, y anterior and z superior on both sides, its origin the native hip centre; a left hip is its
//! mirror image, so no formula knows of sides.

pub mod bony;
pub mod entry;
pub mod femur;
pub mod length;
pub mod liner;
pub mod map;
pub mod motion;
pub mod movement;
pub mod stem;
pub mod version;

use cupwright_anatomy::{NoClock, Orientation, RimClock, Side};
use nalgebra::{UnitVector3, Vector3};
use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error;

pub use entry::{
    FemurEntry, HeadEntry, JointEntry, LinerEntry, NeedEntry, OffsetChoice, Polyethylene,
    SkirtEntry, StemEntry, TargetEntry,
};
pub use movement::Movement;

use crate::case::Case;
use crate::findings::Shift;
use length::LengthFinding;
use liner::{Liner, LinerFinding};
use motion::{Cone, MotionFinding};
use stem::{Femur, Stem};
use version::VersionFinding;

/// A joint that cannot be, with what to change.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BadJoint {
    /// A number out of its range.
    #[error("{field} is {value}; it must be {allowed}")]
    Number {
        /// The field.
        field: &'static str,
        /// Its value.
        value: f64,
        /// What it may be.
        allowed: &'static str,
    },
    /// A ball that does not go into the liner.
    #[error(
        "a head of {head} mm does not go into a bore of {bore} mm; choose a smaller head or the liner made for it"
    )]
    HeadLargerThanBore {
        /// Diameter of the head, in mm.
        head: f64,
        /// Diameter of the bore, in mm.
        bore: f64,
    },
    /// A ball that belongs to another liner.
    #[error("a head of {head} mm is loose in a bore of {bore} mm; choose the liner made for it")]
    HeadLoose {
        /// Diameter of the head, in mm.
        head: f64,
        /// Diameter of the bore, in mm.
        bore: f64,
    },
    /// Shell and bore leave no polyethylene, or too little of it.
    #[error(
        "a cup of {cup} mm with a shell of {shell} mm and a bore of {bore} mm leaves a liner wall of {wall:.2} mm, \
         less than {least} mm; choose a smaller head or a larger cup"
    )]
    Wall {
        /// Outer diameter of the cup, in mm.
        cup: f64,
        /// Thickness of its shell, in mm.
        shell: f64,
        /// Diameter of the bore, in mm.
        bore: f64,
        /// What is left, in mm; negative where they overlap.
        wall: f64,
        /// The least that is accepted, in mm.
        least: f64,
    },
    /// A bevel that is broader than the wall that carries it.
    #[error("a bevel of {bevel} mm does not fit on a wall of {wall:.2} mm")]
    Bevel {
        /// Width of the bevel, in mm.
        bevel: f64,
        /// The wall, in mm.
        wall: f64,
    },
    /// A neck that fills the mouth of the liner.
    #[error("a neck of {neck} mm leaves no room to move in a liner mouth of {mouth:.1} mm")]
    NeckTooWide {
        /// Diameter of the neck, in mm.
        neck: f64,
        /// Diameter of the mouth, in mm.
        mouth: f64,
    },
    /// A neck so short that the rim meets no neck, but what lies behind it.
    #[error(
        "with ball {ball:+} mm the neck is {neck:.1} mm long, but must be longer than {least:.1} mm to pass the liner's edge; \
         choose a longer neck or ball"
    )]
    NeckTooShort {
        /// Length of the ball, in mm.
        ball: f64,
        /// From the shaft's axis to the ball's centre, in mm.
        neck: f64,
        /// From the ball's centre to where the edge meets the neck, in mm.
        least: f64,
    },
    /// A stem with which no ball brings the leg near its target.
    #[error(
        "the stem cannot reach: its balls change the leg by {shortest:+.1} to {longest:+.1} mm, more than {limit} mm from \
         the {target:+.1} mm asked for; choose another neck, another depth or another place of the cup"
    )]
    CannotReach {
        /// The least change of leg length of any ball, in mm.
        shortest: f64,
        /// The greatest, in mm.
        longest: f64,
        /// The change asked for, in mm.
        target: f64,
        /// The farthest from it that is accepted, in mm.
        limit: f64,
    },
    /// A ball that the series does not hold.
    #[error("ball {0:+} mm is not one of lengths_mm")]
    NoSuchBall(f64),
    /// A cup that faces nowhere a clock can be put on.
    #[error(transparent)]
    Clock(#[from] NoClock),
    /// A femur whose numbers make no solid.
    #[error("the femur's numbers make no closed bone: {0}")]
    Femur(String),
}

/// A joint as meant: checked, in mm and radians, in the hip frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// Which hip it is in the patient.
    pub side: Side,
    /// Direction of the cup.
    pub orientation: Orientation,
    /// The cup's axis, out of the socket.
    pub axis: UnitVector3<f64>,
    /// Centre of the cup.
    pub cup_centre: Vector3<f64>,
    /// The liner in the cup.
    pub liner: Liner,
    /// The stem.
    pub stem: Stem,
    /// The native femur.
    pub femur: Femur,
    clock: RimClock,
    entry: JointEntry,
}

/// Everything closed form about a joint.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct JointFinding {
    /// Liner and ball.
    pub liner: LinerFinding,
    /// Leg length and offset.
    pub length: LengthFinding,
    /// Motion until the neck meets the liner.
    pub motion: MotionFinding,
    /// The version of cup and stem together.
    pub version: VersionFinding,
}

/// Everything closed form about the joint that `entry` makes in the cup of `case`.
///
/// # Errors
/// When a number is out of its range, or the joint cannot be; see [`BadJoint`].
pub fn joint(entry: &JointEntry, case: &Case) -> Result<JointFinding, BadJoint> {
    let joint = Joint::new(entry, case)?;
    Ok(JointFinding {
        liner: liner::liner(&joint),
        length: length::lengths(&joint)?,
        motion: motion::motion(&joint)?,
        version: version::versions(&joint),
    })
}

impl Joint {
    /// What `entry` means in the cup of `case`.
    ///
    /// # Errors
    /// When a number is out of its range, the head does not fit the liner or the liner the cup, or the
    /// cup faces the midline or straight up or down.
    pub fn new(entry: &JointEntry, case: &Case) -> Result<Self, BadJoint> {
        entry.check()?;
        let orientation = case.cup.orientation;
        let axis = orientation.axis(Side::Right);
        Ok(Self {
            side: case.side,
            orientation,
            axis,
            cup_centre: in_hip_frame(case.cup.centre),
            liner: Liner::new(&entry.liner, &entry.head, case.cup.diameter)?,
            stem: Stem::new(&entry.stem),
            femur: Femur::new(&entry.femur),
            clock: RimClock::new(&axis, Side::Right)?,
            entry: entry.clone(),
        })
    }

    /// The entry it was made of.
    pub fn entry(&self) -> &JointEntry {
        &self.entry
    }

    /// The same joint with its cup facing elsewhere.
    ///
    /// # Errors
    /// When it then faces the midline or straight up or down.
    pub fn facing(&self, orientation: Orientation) -> Result<Self, BadJoint> {
        let axis = orientation.axis(Side::Right);
        Ok(Self {
            orientation,
            axis,
            clock: RimClock::new(&axis, Side::Right)?,
            ..self.clone()
        })
    }

    /// The clock face of the liner, in the hip frame.
    pub fn clock(&self) -> &RimClock {
        &self.clock
    }

    /// The centre about which the joint turns: where the ball sits in the liner.
    pub fn centre(&self) -> Vector3<f64> {
        self.cup_centre + self.axis.into_inner() * self.liner.lateralised
    }

    /// Length of the ball that the entry chooses, in mm; the nearest to the target of what it leaves open.
    ///
    /// # Errors
    /// When no ball brings the leg near enough to its target.
    pub fn chosen_ball(&self) -> Result<f64, BadJoint> {
        let found = length::lengths(self)?;
        Ok(found.balls[found.chosen].ball_mm)
    }

    /// The free cone of the neck with the ball of this length.
    ///
    /// # Errors
    /// When the neck fills the liner's mouth, or is too short to pass its edge.
    pub fn cone(&self, ball: f64) -> Result<Cone, BadJoint> {
        Cone::new(&self.liner, &self.stem, &self.entry.head, ball)
    }
}

/// A displacement in the hip frame.
pub(crate) fn in_hip_frame(shift: Shift) -> Vector3<f64> {
    Vector3::new(-shift.medial_mm, shift.anterior_mm, shift.superior_mm)
}

/// A vector of the hip frame as a displacement.
pub(crate) fn as_shift(v: &Vector3<f64>) -> Shift {
    Shift {
        medial_mm: -v.x,
        anterior_mm: v.y,
        superior_mm: v.z,
    }
}
