//! Landmarks guessed from a bare mesh: a hemipelvis or a whole pelvis, in any pose, in mm.
//!
//! What is found, and how:
//!
//! 1. the socket, by a robust sphere fit ([`socket`]); two of them, mirror images of each other, make a
//!    whole pelvis;
//! 2. about how the bone lies and which side it is: a coarse right hemipelvis and its mirror image are
//!    laid over it, and the nearer one is taken, with the margin by which it is;
//! 3. the midline: the perpendicular bisector of the pairs where both sides are there; on one
//!    hemipelvis the plane of the symphyseal face, half a joint's width beyond it;
//! 4. ASIS and pubic tubercle, where a plane square to the midline, laid against the front, touches the
//!    bone, and PSIS, the rearmost point above the hip centre: the anterior pelvic plane's own
//!    definition. Each is the top of a paraboloid fitted to the surface about it.
//!
//! On one hemipelvis the other side's landmarks are mirror images. Every landmark says what it rests on
//! and within how many mm it is thought to be right; that is an estimate, not a bound. Nothing is known of the
//! mesh but its surface. Guarantees: the same mesh gives the same bits. A shape that is no pelvis is
//! refused with the reason where it can be told; landmarks are to be looked at before they are used.

mod coarse;
mod correct;
mod estimate;
mod extremes;
mod find;
mod influence;
mod midline;
mod pose;
mod smooth;

use cupwright_geometry::TriMesh;
use nalgebra::UnitVector3;
use thiserror::Error;

use crate::landmarks::Landmarks;
use crate::side::{Both, Side};
use crate::socket::surface::{SurfacePoint, points_of};
use crate::socket::{self, Hollow, NoSocket, Socket};
pub use correct::Correction;
pub use estimate::{Basis, Estimate, Mark, Midline, MidlineBasis, Part, Sureness};
use find::{hemipelvis, whole};
pub use influence::{Influence, Told, leave_one_out};

/// Landmarks, side and socket guessed from a mesh, corrected or not.
#[derive(Clone, Debug, PartialEq)]
pub struct Guess {
    /// Which part of the pelvis the mesh is of.
    pub part: Part,
    /// Which hip the socket is of.
    pub side: Side,
    /// By how much the mirror image of the model (for a whole pelvis: the model turned round) fits worse, as a
    /// share of its distance: 0 is a toss, 1 certain.
    pub side_margin: f64,
    /// The socket; of a whole pelvis the one asked for, or the one that covers more of its sphere.
    pub socket: Socket,
    /// The plane between right and left.
    pub midline: Midline,
    pub(crate) asis: Both<Estimate>,
    pub(crate) pubic_tubercle: Both<Estimate>,
    pub(crate) psis: Both<Estimate>,
}

/// Why a mesh is taken for no pelvis.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum NotAPelvis {
    /// It has no socket.
    #[error("no socket: {0}")]
    NoSocket(#[from] NoSocket),
    /// It has a hollow like a socket but is not like a pelvis around it.
    #[error(
        "there is a hollow like a socket, but the shape around it is unlike a hip bone: it lies {:.0} % of its size from the nearest one, where hip bones lie within {:.0} %",
        100.0 * share, 100.0 * pose::UNLIKE
    )]
    Unlike {
        /// Mean distance from the coarse hemipelvis laid over it, as a share of its size.
        share: f64,
    },
    /// Nothing stands out in front as spine and tubercle do.
    #[error(
        "no plane can be laid against its front that touches it above and below, at ASIS and pubic tubercle"
    )]
    NoFront,
    /// What would be a landmark lies where none can be.
    #[error(
        "what would be the {what} is {found:.0} mm; in a pelvis in mm it is {least:.0} to {most:.0}: part of the bone may be missing, or the unit may be wrong"
    )]
    Proportion {
        /// Which distance.
        what: &'static str,
        /// Its value, mm.
        found: f64,
        /// The least that is believed, mm.
        least: f64,
        /// The most that is believed, mm.
        most: f64,
    },
}

/// Landmarks, side and socket of the pelvis that `mesh` is, in mm, in any pose.
///
/// A side that is `asked` for is believed against the shape; of a whole pelvis it chooses the hip.
///
/// # Errors
/// When the mesh has no socket, or what is around it is unlike a pelvis; the error says how.
pub fn guess(mesh: &TriMesh, asked: Option<Side>) -> Result<Guess, NotAPelvis> {
    socket::of_plausible_size(mesh)?;
    socket::right_side_out(mesh)?;
    let mesh = coarse::coarse(mesh);
    let sockets = socket::sockets_on(&points_of(&mesh))?;
    let surface = points_of(&smooth::smooth(&mesh));
    let first = sockets[0];
    match sockets.iter().skip(1).find(|s| paired(&first, s, &surface)) {
        Some(second) => whole(&surface, [first, *second], asked),
        None => hemipelvis(&surface, &first, asked),
    }
}

/// Whether two hollows are the two sockets of one pelvis: mirror images of each other in the plane half
/// way between them, with bone on both sides of it.
fn paired(first: &Hollow, second: &Hollow, surface: &[SurfacePoint]) -> bool {
    const APART: std::ops::Range<f64> = 100.0..280.0;
    // 45°: two normal sockets differ by some 5°, a dysplastic and a normal one by 20°.
    const ALIKE: f64 = 0.7;
    let (a, b) = (first.sphere, second.sphere);
    let Some(across) = UnitVector3::try_new(a.centre - b.centre, 1.0) else {
        return false;
    };
    let mirrored = *second.opening - across.into_inner() * 2.0 * across.dot(&second.opening);
    let middle = nalgebra::center(&a.centre, &b.centre);
    let area = |on: fn(f64) -> bool| -> f64 {
        let there = surface.iter().filter(|p| on((p.at - middle).dot(&across)));
        there.map(|p| p.area).sum()
    };
    let (here, there) = (area(|d| d > 0.0), area(|d| d < 0.0));
    APART.contains(&(a.centre - b.centre).norm())
        && (a.radius / b.radius).ln().abs() < 0.35
        && mirrored.dot(&first.opening) > ALIKE
        && first.opening.dot(&across) > 0.0
        && here.min(there) > 0.25 * here.max(there)
}

impl Guess {
    /// The estimate of a landmark.
    pub fn estimate(&self, mark: Mark, side: Side) -> &Estimate {
        self.pair(mark).on(side)
    }

    fn pair(&self, mark: Mark) -> &Both<Estimate> {
        match mark {
            Mark::Asis => &self.asis,
            Mark::PubicTubercle => &self.pubic_tubercle,
            Mark::Psis => &self.psis,
        }
    }

    /// All landmarks, as frames are built from them.
    pub fn landmarks(&self) -> Landmarks {
        let places = |pair: &Both<Estimate>| Both {
            right: pair.right.at,
            left: pair.left.at,
        };
        Landmarks {
            asis: places(&self.asis),
            pubic_tubercle: places(&self.pubic_tubercle),
            psis: Some(places(&self.psis)),
        }
    }

    /// How sure the side is.
    ///
    /// On synthetic bones in any pose, up to 5 mm coarse and 0.5 mm rough, the margin is 0.44 and more (200
    /// draws); the bounds are assumed, with room for bones less like them.
    pub fn side_sureness(&self) -> Sureness {
        match self.side_margin {
            margin if margin > 0.2 => Sureness::Good,
            margin if margin > 0.1 => Sureness::Fair,
            _ => Sureness::Doubtful,
        }
    }
}
