//! A guess in which somebody has said where things are.

use nalgebra::{Point3, Rotation3, UnitVector3, center};

use super::estimate::FRAME_DOUBT;
use super::find::mirror_of;
use super::{Basis, Estimate, Guess, Mark, Midline, MidlineBasis};
use crate::landmarks::Landmarks;
use crate::side::{Both, Side};

/// What somebody says of a guess.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Correction {
    /// A landmark is here, in the mesh's own coordinates, mm.
    Landmark {
        /// Which.
        mark: Mark,
        /// On which side.
        side: Side,
        /// Where, mm.
        at: Point3<f64>,
    },
    /// The hip centre is here, in the mesh's own coordinates, mm.
    HipCentre(Point3<f64>),
}

impl Guess {
    /// The same guess with corrections, the last of several on one landmark counting.
    ///
    /// One that lies where the guess has it, as in a file that the guess was written to, says nothing new.
    /// A mirror image follows the landmark it is of. Once both ASIS are known from the bone or from
    /// somebody, the midline is half way between them and square to their line, and mirror images follow that.
    #[must_use]
    pub fn corrected(&self, corrections: &[Correction]) -> Self {
        let mut new = self.clone();
        for correction in corrections {
            match *correction {
                Correction::HipCentre(at) => new.socket.centre = at,
                Correction::Landmark { mark, side, at } => {
                    // What a file's four decimals leave of a place, mm.
                    const WRITTEN: f64 = 1e-3;
                    let guessed = *self.estimate(mark, side);
                    let is_as_guessed = (at - guessed.at).norm() < WRITTEN;
                    // As careful picks by hand repeat, mm: assumed.
                    const PICKED: f64 = 1.0;
                    let given = Estimate {
                        at,
                        within: PICKED,
                        basis: Basis::Given,
                    };
                    *new.pair_mut(mark).on_mut(side) = if is_as_guessed { guessed } else { given };
                }
            }
        }
        let mirrored = |e: &Estimate| e.basis == Basis::Mirrored;
        if new.asis != self.asis && !mirrored(&new.asis.right) && !mirrored(&new.asis.left) {
            new.midline = between(&new.asis).unwrap_or(new.midline);
        }
        new.mirrored_again()
    }

    /// The corrections that lead from this guess to `landmarks`: none for one that lies where the guess, its mirror
    /// images following, has it already.
    pub fn corrections_to(&self, landmarks: &Landmarks) -> Vec<Correction> {
        // Above what rounding to a hundredth of a mm moves, far below a correction, mm.
        const SAME: f64 = 0.05;
        let mut corrections = Vec::new();
        // Those on the bone first, since mirror images follow them.
        for is_mirrored in [false, true] {
            let so_far = self.corrected(&corrections);
            for (mark, side) in Mark::sided() {
                let estimate = so_far.estimate(mark, side);
                let of_this_kind = (estimate.basis == Basis::Mirrored) == is_mirrored;
                let at = place_of(landmarks, mark).map(|pair| *pair.on(side));
                let other = at.filter(|at| of_this_kind && (at - estimate.at).norm() > SAME);
                corrections.extend(other.map(|at| Correction::Landmark { mark, side, at }));
            }
        }
        corrections
    }

    /// The same guess with its midline turned, mirror images following.
    pub(super) fn with_midline_turned(&self, by: &Rotation3<f64>) -> Self {
        let mut new = self.clone();
        new.midline.right = by * new.midline.right;
        new.mirrored_again()
    }

    /// The same guess, its mirror images where the midline now has them.
    fn mirrored_again(mut self) -> Self {
        let midline = self.midline;
        let mirrored = |e: &Estimate| e.basis == Basis::Mirrored;
        for mark in Mark::ALL {
            let pair = self.pair_mut(mark);
            for side in [Side::Right, Side::Left] {
                if mirrored(pair.on(side)) && !mirrored(pair.on(side.other())) {
                    *pair.on_mut(side) = mirror_of(pair.on(side.other()), &midline);
                }
            }
        }
        self
    }

    fn pair_mut(&mut self, mark: Mark) -> &mut Both<Estimate> {
        match mark {
            Mark::Asis => &mut self.asis,
            Mark::PubicTubercle => &mut self.pubic_tubercle,
            Mark::Psis => &mut self.psis,
        }
    }
}

fn place_of(landmarks: &Landmarks, mark: Mark) -> Option<&Both<Point3<f64>>> {
    match mark {
        Mark::Asis => Some(&landmarks.asis),
        Mark::PubicTubercle => Some(&landmarks.pubic_tubercle),
        Mark::Psis => landmarks.psis.as_ref(),
    }
}

/// The midline of two ASIS; `None` where they coincide.
fn between(asis: &Both<Estimate>) -> Option<Midline> {
    let across = asis.right.at - asis.left.at;
    Some(Midline {
        at: center(&asis.right.at, &asis.left.at),
        right: UnitVector3::try_new(across, f64::MIN_POSITIVE)?,
        within: (asis.right.within.hypot(asis.left.within) / across.norm()).max(0.3 * FRAME_DOUBT),
        basis: MidlineBasis::BothSides,
    })
}
