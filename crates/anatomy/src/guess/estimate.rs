//! What a guess consists of: places, what each rests on, and how sure it is.

use nalgebra::{Point3, UnitVector3};

use crate::side::Side;

/// A named point of the pelvis, one on each side.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Mark {
    /// Anterior superior iliac spine.
    Asis,
    /// Pubic tubercle.
    PubicTubercle,
    /// Posterior superior iliac spine.
    Psis,
}

/// What a landmark rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Basis {
    /// The outermost point of the surface, in front or behind.
    Outermost {
        /// Radius of the surface there along its straightest direction, mm: how far it would move if
        /// the frame turned by 1 rad.
        bluntness: f64,
    },
    /// The mirror image of the other side's.
    Mirrored,
    /// Somebody said so.
    Given,
}

/// A landmark, guessed or given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Where it is, in the mesh's own coordinates, mm.
    pub at: Point3<f64>,
    /// Within how many mm it is thought to be right: about one standard deviation.
    pub within: f64,
    /// What it rests on.
    pub basis: Basis,
}

/// How sure a value is, in a word.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Sureness {
    /// Check it before use.
    Doubtful,
    /// Look at it.
    Fair,
    /// As sure as a careful pick by hand.
    Good,
}

/// Which part of the pelvis a mesh is of.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Part {
    /// One hip bone.
    Hemipelvis,
    /// Both, with or without the sacrum.
    WholePelvis,
}

/// What the midline rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MidlineBasis {
    /// The face of the symphysis of one hemipelvis.
    Symphysis {
        /// Area of its flat part, mm².
        area: f64,
        /// Root mean square distance of that from its plane, mm.
        roughness: f64,
    },
    /// Both sides of a whole pelvis, or landmarks of both sides given by hand.
    BothSides,
    /// The coarse model alone: no flat face was found at the symphysis.
    Model,
}

/// The plane between right and left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Midline {
    /// A point on it, in the mesh's own coordinates, mm.
    pub at: Point3<f64>,
    /// Its normal, toward the patient's right.
    pub right: UnitVector3<f64>,
    /// Within how many radians its direction is thought to be right.
    pub within: f64,
    /// What it rests on.
    pub basis: MidlineBasis,
}

/// Half the width of the symphysis, mm: between the face of the bone and the midline. Assumed; joints of 3
/// to 6 mm are usual (from memory).
pub(super) const HALF_SYMPHYSIS: f64 = 2.0;

/// How far a frame may be off even where everything is clear, rad: 1°.
pub(super) const FRAME_DOUBT: f64 = 0.0175;

impl Mark {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Asis, Self::PubicTubercle, Self::Psis];

    /// All of them with their sides, the right one first.
    pub fn sided() -> impl Iterator<Item = (Self, Side)> {
        let sides = |mark| [Side::Right, Side::Left].map(|side| (mark, side));
        Self::ALL.into_iter().flat_map(sides)
    }

    /// Its name in files and on the command line.
    pub fn key(self) -> &'static str {
        match self {
            Self::Asis => "asis",
            Self::PubicTubercle => "pubic_tubercle",
            Self::Psis => "psis",
        }
    }
}

impl Estimate {
    /// How sure it is: good within 3 mm, fair within 6 mm.
    pub fn sureness(&self) -> Sureness {
        match self.within {
            within if within <= 3.0 => Sureness::Good,
            within if within <= 6.0 => Sureness::Fair,
            _ => Sureness::Doubtful,
        }
    }
}

impl Midline {
    /// How sure it is: good within 2°, fair within 5°.
    pub fn sureness(&self) -> Sureness {
        match self.within.to_degrees() {
            within if within <= 2.0 => Sureness::Good,
            within if within <= 5.0 => Sureness::Fair,
            _ => Sureness::Doubtful,
        }
    }
}

impl std::fmt::Display for Sureness {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Doubtful => "doubtful",
            Self::Fair => "fair",
            Self::Good => "good",
        })
    }
}

impl std::fmt::Display for Part {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Hemipelvis => "hemipelvis",
            Self::WholePelvis => "whole pelvis",
        })
    }
}

impl std::fmt::Display for Basis {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Outermost { bluntness } => write!(
                f,
                "outermost point; moves {:.1} mm with each degree of the frame",
                bluntness * 1_f64.to_radians()
            ),
            Self::Mirrored => f.write_str("mirror image of the other side"),
            Self::Given => f.write_str("given"),
        }
    }
}

impl std::fmt::Display for MidlineBasis {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Symphysis { area, roughness } => write!(
                f,
                "the face of the symphysis, flat to {roughness:.2} mm over {area:.0} mm², taken to be square to the midline and {HALF_SYMPHYSIS} mm from it"
            ),
            Self::BothSides => f.write_str("both sides"),
            Self::Model => {
                f.write_str("the general shape alone, since no flat face of a symphysis was found")
            }
        }
    }
}
