//! [`Placed`]: a reamer or cup of a case where it stands in the bone's own coordinates.

use cupwright_anatomy::{Hour, NoClock, RimClock};
use cupwright_geometry::{BadShape, Bullet, Circle, Hemisphere};
use nalgebra::{UnitVector3, Vector3};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::{Case, Tool};

/// Why a tool could not be placed.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum NotPlaced {
    /// A tool that cannot be.
    #[error("{tool}: {problem}")]
    Tool {
        /// Which tool.
        tool: Which,
        /// What is wrong.
        problem: BadShape,
    },
    /// A tool that faces nowhere a clock can be put on.
    #[error("{tool}: {problem}")]
    Clock {
        /// Which tool.
        tool: Which,
        /// What is wrong.
        problem: NoClock,
    },
}

/// A tool of a case, by its place in it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Which {
    /// A reamer, counted from 1.
    Reamer(usize),
    /// The cup.
    Cup,
}

impl std::fmt::Display for Which {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Reamer(number) => write!(f, "reamer {number}"),
            Self::Cup => f.write_str("the cup"),
        }
    }
}

/// Every tool of a case where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Tools {
    /// The reamers in the order of use.
    pub reamers: Vec<Placed>,
    /// What each of them has swept.
    pub swept: Vec<Bullet>,
    /// The cup.
    pub cup: Placed,
}

impl Tools {
    /// The tools of a case.
    ///
    /// # Errors
    /// When one cannot be, or faces the midline or straight up or down.
    pub fn of(case: &Case, bone: &Bone) -> Result<Self, NotPlaced> {
        let reamers = Placed::reamers(case, bone)?;
        Ok(Self {
            swept: reamers.iter().map(Placed::swept).collect(),
            reamers,
            cup: Placed::cup(case, bone)?,
        })
    }

    /// The reamer used last; the cup where there is none.
    pub fn last(&self) -> &Placed {
        self.reamers.last().unwrap_or(&self.cup)
    }
}

/// A tool in the bone's own coordinates, with the clock on its rim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    which: Which,
    head: Hemisphere,
    twelve: UnitVector3<f64>,
    three: UnitVector3<f64>,
}

impl Placed {
    /// A tool where `bone` has it; `which` is what an error calls it.
    ///
    /// # Errors
    /// When the tool cannot be, or faces the midline or straight up or down.
    pub fn new(tool: &Tool, bone: &Bone, which: Which) -> Result<Self, NotPlaced> {
        let pelvic = tool.orientation.axis(bone.side);
        let clock = RimClock::new(&pelvic, bone.side).map_err(|problem| NotPlaced::Clock {
            tool: which,
            problem,
        })?;
        let centre = bone.native_centre + bone.vector(tool.centre);
        let head = Hemisphere::new(
            centre,
            bone.direction(&pelvic).into_inner(),
            tool.diameter / 2.0,
        )
        .map_err(|problem| NotPlaced::Tool {
            tool: which,
            problem,
        })?;
        Ok(Self {
            which,
            head,
            twelve: bone.direction(&clock.twelve()),
            three: bone.direction(&clock.three()),
        })
    }

    /// The reamers of a case, in the order of use.
    ///
    /// # Errors
    /// As for [`new`](Self::new), for the first that cannot be placed.
    pub fn reamers(case: &Case, bone: &Bone) -> Result<Vec<Self>, NotPlaced> {
        let reamers = (1..).zip(&case.reamers);
        reamers
            .map(|(number, tool)| Self::new(tool, bone, Which::Reamer(number)))
            .collect()
    }

    /// The cup of a case.
    ///
    /// # Errors
    /// As for [`new`](Self::new).
    pub fn cup(case: &Case, bone: &Bone) -> Result<Self, NotPlaced> {
        Self::new(&case.cup, bone, Which::Cup)
    }

    /// Which tool it is.
    pub fn which(&self) -> Which {
        self.which
    }

    /// Its half ball, in mm; the axis points out of the socket.
    pub fn head(&self) -> &Hemisphere {
        &self.head
    }

    /// What it has swept once it is there, having come in along its axis from outside.
    pub fn swept(&self) -> Bullet {
        Bullet::open(self.head)
    }

    /// The unit vector from its centre to 12 o'clock, the superior place on its rim.
    pub fn twelve(&self) -> UnitVector3<f64> {
        self.twelve
    }

    /// The unit vector from its centre to 3 o'clock, the anterior place on its rim on both sides.
    pub fn three(&self) -> UnitVector3<f64> {
        self.three
    }

    /// The unit vector from its centre to a place on its rim.
    pub fn toward(&self, hour: Hour) -> Vector3<f64> {
        let (sin, cos) = hour.angle().sin_cos();
        self.twelve.into_inner() * cos + self.three.into_inner() * sin
    }

    /// The hour that a direction from its centre points to, seen along its axis.
    pub fn hour_of(&self, direction: &Vector3<f64>) -> Hour {
        Hour::from_angle(self.three.dot(direction).atan2(self.twelve.dot(direction)))
    }

    /// The rim with its angles counted from 12 o'clock by way of 3.
    ///
    /// # Errors
    /// When numbers have overflowed.
    pub fn rim(&self) -> Result<Circle, NotPlaced> {
        let clock = self
            .head
            .rim()
            .counted_from(self.twelve.into_inner(), self.three.into_inner());
        clock.map_err(|problem| self.refused(problem))
    }

    /// A shape of this tool's that cannot be.
    pub(crate) fn refused(&self, problem: BadShape) -> NotPlaced {
        NotPlaced::Tool {
            tool: self.which,
            problem,
        }
    }
}
