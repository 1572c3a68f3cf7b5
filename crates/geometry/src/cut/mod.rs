//! The bone after some of a plan's reamers, as a closed mesh; the bone that each of them removes; and
//! shells of cups and reamers to look at.
//!
//! Guaranteed of [`Cut::mesh`]: closed and oriented where the bone is, each triangle labelled with
//! where it comes from, every vertex of the cavity on a reamer's surface (to 1e-7 mm) and every
//! triangle of it within the chord tolerance's reach of one; the wall of the cavity passes through
//! nothing (checked exactly at each cut). The same input gives the same bits. Its volume is that of
//! the exact measures ([`union`](crate::union)) to within [`Cut::error_bound`].
//!
//! Not guaranteed: anything that the bone itself lacks. A bone that passes through itself still does.

use nalgebra::Point3;
use thiserror::Error;

use crate::union::outermost;
use crate::{Bullet, Solid, TriMesh};

mod clip;
mod edges;
mod hull;
mod lattice;
mod patch;
pub mod shell;
mod tool;
mod work;

use work::{Facet, Work};

/// How far a chord of a curved surface may stand off it, in mm.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Tolerance(f64);

/// A tolerance that nothing can be cut to.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("a chord tolerance lies between {least} and {most} mm, not at {0} mm", least = Tolerance::LEAST, most = Tolerance::MOST)]
pub struct BadTolerance(f64);

/// Where a triangle of a cut bone comes from.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Origin {
    /// The surface of the bone: all or part of the triangle with this index.
    Bone(u32),
    /// The cut of the reamer with this index in the list given.
    Reamer(usize),
}

/// Why a cut could not be meshed.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
pub enum Problem {
    /// The rim of the cut passes one edge or vertex more often than can be told apart.
    #[error("the edge of the cut runs through one place more than once")]
    Pinched,
    /// Parts of the rim lie over each other.
    #[error("the edge of the cut runs over itself")]
    Overlapping,
    /// The rim does not part the tool's surface into bone and air.
    #[error(
        "the edge of the cut does not part bone from air; the bone may pass through itself there"
    )]
    Inconsistent,
    /// The wall of the cavity has an end that is not the rim.
    #[error("the wall of the cut has no end; the bone may pass through itself there")]
    Unbounded,
    /// The wall of the cavity passes through the bone that stays.
    #[error("the wall of the cut passes through the bone that stays")]
    Crossing,
}

/// A reamer whose cut could not be meshed, at the tolerance asked for or any finer one tried.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[error("the cut of reamer {} could not be drawn: {problem}", reamer + 1)]
pub struct CutFailed {
    /// Index of the reamer.
    pub reamer: usize,
    /// What was wrong at the last attempt.
    pub problem: Problem,
}

/// A mesh with the origin of each triangle.
#[derive(Clone, Debug, PartialEq)]
pub struct Labelled {
    /// The triangles.
    pub mesh: TriMesh,
    /// Where each comes from.
    pub origins: Vec<Origin>,
}

/// The bone after some reamers.
#[derive(Clone, Debug)]
pub struct Cut {
    left: Option<Labelled>,
    error_bound: f64,
}

impl Tolerance {
    /// The finest tolerance, in mm: millions of triangles on a reamer.
    pub const LEAST: f64 = 1e-4;
    /// The coarsest tolerance, in mm.
    pub const MOST: f64 = 5.0;

    /// A tolerance in mm.
    ///
    /// # Errors
    /// When it is not a number from [`LEAST`](Self::LEAST) to [`MOST`](Self::MOST).
    pub fn new(mm: f64) -> Result<Self, BadTolerance> {
        if (Self::LEAST..=Self::MOST).contains(&mm) {
            Ok(Self(mm))
        } else {
            Err(BadTolerance(mm))
        }
    }

    /// Its value in mm.
    pub fn mm(self) -> f64 {
        self.0
    }
}

impl Default for Tolerance {
    /// 0.02 mm: no edge shows on a screen, and a cavity has some thousand triangles.
    fn default() -> Self {
        Self(0.02)
    }
}

/// A bone under one reamer after another; a copy is a state to come back to.
#[derive(Clone)]
pub struct Reaming<'a> {
    work: Work<'a>,
    bullets: Vec<Bullet>,
    tolerance: Tolerance,
}

impl<'a> Reaming<'a> {
    /// The bone before the first reamer.
    pub fn of(solid: &'a Solid, tolerance: Tolerance) -> Self {
        Self {
            work: Work::on(solid),
            bullets: Vec::new(),
            tolerance,
        }
    }

    /// Takes away the next bullet; gives the bone it removes as a closed mesh, `None` where there is
    /// none.
    ///
    /// Labels of that mesh: the bone's surface, the walls left by earlier reamers, and the reamer's
    /// own wall. Where two reamers' surfaces lie closer together than the tolerance it may pass
    /// through itself, for both its sides are chords; its volume counts such places as negative.
    ///
    /// # Errors
    /// When the cut cannot be meshed free of faults, which a bone that passes through itself may
    /// cause; the bone stays as it was, and the reamer counts as used.
    pub fn ream(&mut self, bullet: &Bullet) -> Result<Option<Labelled>, CutFailed> {
        let enclosed = self.bullets.iter().any(|earlier| earlier.encloses(bullet));
        let reamer = self.bullets.len();
        self.bullets.push(*bullet);
        if enclosed {
            return Ok(None);
        }
        self.work.cut(bullet, reamer, self.tolerance)
    }

    /// The bone as it is now.
    pub fn cut(&self) -> Cut {
        Cut {
            error_bound: self.work.error_bound(),
            left: self.work.left(),
        }
    }
}

impl std::fmt::Debug for Reaming<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Reaming({} reamers)", self.bullets.len())
    }
}

impl Cut {
    /// The bone less all the bullets; only those that no other encloses are cut, so that it matters
    /// neither for the mesh nor for the time what smaller reamers went before.
    ///
    /// # Errors
    /// When a cut cannot be meshed free of faults, which a bone that passes through itself may cause.
    pub fn new(solid: &Solid, bullets: &[Bullet], tolerance: Tolerance) -> Result<Self, CutFailed> {
        let mut work = Work::on(solid);
        for bullet in outermost(bullets) {
            let reamer = bullets.iter().position(|b| *b == bullet).unwrap_or(0);
            work.cut(&bullet, reamer, tolerance)?;
        }
        Ok(Self {
            error_bound: work.error_bound(),
            left: work.left(),
        })
    }

    /// What is left of the bone; `None` when the reamers swallow it.
    pub fn mesh(&self) -> Option<&TriMesh> {
        self.left.as_ref().map(|left| &left.mesh)
    }

    /// Where each triangle of [`mesh`](Self::mesh) comes from.
    pub fn origins(&self) -> &[Origin] {
        self.left.as_ref().map_or(&[], |left| &left.origins)
    }

    /// The mesh and its origins together.
    pub fn into_labelled(self) -> Option<Labelled> {
        self.left
    }

    /// How far the mesh's volume can be from that of the bone less the true bullets, in mm³: each
    /// flat triangle's area times its largest distance from the tool's surface.
    pub fn error_bound(&self) -> f64 {
        self.error_bound
    }

    /// The triangles cut by a reamer, with its index.
    pub fn walls(&self) -> impl Iterator<Item = ([Point3<f64>; 3], usize)> + '_ {
        let labelled = self.left.iter().flat_map(|left| {
            let triangles = left.origins.iter().enumerate();
            triangles.map(|(t, origin)| (left.mesh.corners(t), *origin))
        });
        labelled.filter_map(|(corners, origin)| match origin {
            Origin::Reamer(reamer) => Some((corners, reamer)),
            Origin::Bone(_) => None,
        })
    }
}

/// The bone that each reamer removes, as closed meshes: in its bullet and in no earlier one; `None`
/// where it removes nothing. See [`Reaming::ream`].
///
/// # Errors
/// As for [`Reaming::ream`].
pub fn removed_by_step(
    solid: &Solid,
    bullets: &[Bullet],
    tolerance: Tolerance,
) -> Result<Vec<Option<Labelled>>, CutFailed> {
    let mut reaming = Reaming::of(solid, tolerance);
    bullets.iter().map(|bullet| reaming.ream(bullet)).collect()
}

#[cfg(test)]
mod tests;
