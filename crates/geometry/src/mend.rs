//! Mending a broken surface, step by step, each told with its place and what it moved.
//!
//! [`Mending`] takes any mesh and does what it is asked: joins corners that lie side by side, takes away
//! what is there twice, turns triangles that face the wrong way, leaves out crumbs and pieces not wanted,
//! cuts out places where the surface passes through itself, closes holes, takes out slivers, remeshes.
//! [`Mending::finish`] tells what was done ([`Change`]) and what is still wrong ([`Left`]), and
//! [`Mended::difference`] how far the surface moved, in all or in one region.
//!
//! Guaranteed: nothing is changed that is not told; a mesh without defects comes back with the same
//! triangles; the same bits on any number of threads. Not guaranteed: that a lid over a hole lies where
//! the surface once was: nobody knows.
//!
//! ```
//! use cupwright_geometry::mend::{Change, Mending};
//! use cupwright_geometry::{Solid, TriMesh, samples};
//!
//! let ball = samples::sphere(10.0, 4);
//! let away_from_the_pole = |t: &&[u32; 3]| !t.contains(&0);
//! let triangles = ball.triangles().iter().filter(away_from_the_pole).copied();
//! let broken = TriMesh::new(ball.vertices().to_vec(), triangles.collect())?;
//! let mut mending = Mending::of(&broken);
//! mending.close_holes(20.0);
//! let mended = mending.finish()?;
//! assert!(matches!(mended.changes[..], [Change::HoleClosed { .. }]));
//! assert!(Solid::try_from(mended.mesh).is_ok());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod change;
mod collapse;
mod difference;
mod facing;
mod fair;
mod fill;
mod heal;
mod holes;
mod lids;
mod nearest;
mod pieces;
mod pinch;
mod remesh;
mod soup;
mod survey;
mod thin;
mod twins;
mod untangle;
mod weld;

use std::collections::BTreeSet;

use nalgebra::Point3;
use thiserror::Error;

pub use change::{Change, Left};
pub use difference::{Changed, Difference, Far};
pub use fill::Lid;
pub use holes::{Hole, holes};
pub use pieces::{Piece, enclosed, loose_triangles, only, pieces};
pub use survey::Survey;
pub use thin::{THIN, slivers};

use crate::mesh::TriMesh;
use crate::topology::EdgeFault;
use holes::borders;
use soup::{Neighbours, Soup};

/// Rounds of cutting out what crosses and closing it again.
const UNTANGLINGS: usize = 4;

/// Crumbs that are together more than this share of the surface are no crumbs.
const MOST_CRUMBS: f64 = 0.1;

/// A surface being mended.
#[derive(Clone, Debug)]
pub struct Mending {
    soup: Soup,
    changes: Vec<Change>,
    left: Vec<Left>,
    /// What was left out on purpose.
    dropped: Vec<[Point3<f64>; 3]>,
}

/// A mended surface, and what was done to it.
#[derive(Clone, Debug)]
pub struct Mended {
    /// The surface.
    pub mesh: TriMesh,
    /// Everything that was done, in order.
    pub changes: Vec<Change>,
    /// What is still wrong.
    pub left: Vec<Left>,
    /// What was left out on purpose: copies, flaps, crumbs, pieces not wanted.
    pub dropped: Option<TriMesh>,
}

/// Mending left no triangle.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[error("nothing is left of the surface")]
pub struct NothingLeft;

impl Mended {
    /// How far the surface moved from `before`, the mesh that mending began with.
    pub fn difference(&self, before: &TriMesh) -> Difference {
        Difference::between(before, &self.mesh, self.dropped.as_ref())
    }
}

impl Mending {
    /// A mesh as it is.
    pub fn of(mesh: &TriMesh) -> Self {
        Self {
            soup: Soup::of(mesh),
            changes: Vec::new(),
            left: Vec::new(),
            dropped: Vec::new(),
        }
    }

    /// The mesh as it is now; `None` where no triangle is left.
    pub fn mesh(&self) -> Option<TriMesh> {
        self.soup.clone().into_mesh().ok()
    }

    /// Joins corners on borders that lie within `tolerance` mm of each other, and drops triangles
    /// that name a corner twice.
    pub fn join(&mut self, tolerance: f64) {
        let degenerate = self.soup.drop_collapsed();
        let joined = weld::weld_borders(&mut self.soup, tolerance);
        let collapsed = degenerate + joined.collapsed;
        if joined.vertices > 0 || collapsed > 0 {
            self.changes.push(Change::Joined {
                vertices: joined.vertices,
                farthest: joined.farthest,
                collapsed,
            });
        }
    }

    /// Takes away triangles that are there twice, and flaps along edges that have two triangles without
    /// them.
    pub fn drop_surplus(&mut self) {
        let before = self.soup.clone();
        let copies = twins::drop_copies(&mut self.soup);
        if copies.triangles > 0 {
            self.changes.push(Change::CopiesDropped {
                triangles: copies.triangles,
            });
        }
        let flaps = twins::drop_flaps(&mut self.soup);
        if flaps.triangles > 0 {
            self.changes.push(Change::FlapsDropped {
                triangles: flaps.triangles,
                area: flaps.area,
            });
        }
        if copies.triangles + flaps.triangles > 0 {
            self.note_dropped(&before);
        }
    }

    /// Notes as dropped what is in `before` and no longer there; copies count as often as they are.
    fn note_dropped(&mut self, before: &Soup) {
        let mut now = self.soup.triangles.iter().peekable();
        for triangle in &before.triangles {
            // Triangles keep their order.
            if now.peek() == Some(&triangle) {
                now.next();
            } else {
                self.dropped.push(triangle.map(|v| before.at(v)));
            }
        }
    }

    /// Turns triangles round until neighbours agree about which side is out.
    pub fn agree(&mut self) {
        let agreed = facing::agree(&mut self.soup);
        if agreed.turned > 0 {
            self.changes.push(Change::Turned {
                triangles: agreed.turned,
            });
        }
    }

    /// Leaves out pieces less than `extent` mm in their longest extent, except the one with the largest
    /// surface, and except cavities in it. Where such pieces are more than a tenth of the surface they
    /// are no crumbs, and stay.
    pub fn drop_crumbs(&mut self, extent: f64) {
        let Some(mesh) = self.mesh() else { return };
        let all = pieces(&mesh);
        let Some((largest, others)) = all.split_first() else {
            return;
        };
        let inside: Vec<&Piece> = enclosed(&mesh, largest, &all);
        let is_cavity = |piece: &Piece| {
            piece.closed
                && piece.volume * largest.volume < 0.0
                && inside.iter().any(|held| held.triangles == piece.triangles)
        };
        let crumbs: Vec<&Piece> = others
            .iter()
            .filter(|piece| piece.extent() < extent && !is_cavity(piece))
            .collect();
        let area = |pieces: &[&Piece]| pieces.iter().map(|p| p.area).sum::<f64>();
        let whole: f64 = all.iter().map(|p| p.area).sum();
        if crumbs.is_empty() {
            return;
        }
        if area(&crumbs) > MOST_CRUMBS * whole {
            self.left.push(Left::Loose {
                pieces: crumbs.len(),
            });
            return;
        }
        let largest = crumbs.iter().map(|p| p.extent()).fold(0.0, f64::max);
        self.changes.push(Change::CrumbsDropped {
            pieces: crumbs.len(),
            triangles: crumbs.iter().map(|p| p.triangles.len()).sum(),
            largest,
        });
        self.drop_pieces(mesh, &crumbs);
    }

    /// Keeps some pieces of the present [`mesh`](Self::mesh) and leaves out the others.
    pub fn keep(&mut self, kept: &[&Piece]) {
        let Some(mesh) = self.mesh() else { return };
        let all = pieces(&mesh);
        let wanted = |piece: &&Piece| kept.iter().any(|k| k.triangles == piece.triangles);
        let gone: Vec<&Piece> = all.iter().filter(|piece| !wanted(piece)).collect();
        if gone.is_empty() {
            return;
        }
        self.changes.push(Change::PiecesDropped {
            pieces: gone.len(),
            triangles: gone.iter().map(|p| p.triangles.len()).sum(),
        });
        self.drop_pieces(mesh, &gone);
    }

    fn drop_pieces(&mut self, mesh: TriMesh, gone: &[&Piece]) {
        let gone: BTreeSet<u32> = gone.iter().flat_map(|p| p.triangles.clone()).collect();
        let soup = Soup::of(&mesh);
        self.dropped.extend(gone.iter().map(|&t| soup.corners(t)));
        self.soup = soup;
        self.soup.retain(|t| !gone.contains(&t));
        self.soup.drop_unused_vertices();
    }

    /// Cuts out places up to `across` mm wide where a piece passes through itself, and closes them.
    /// What cannot be helped so is left as it was.
    pub fn untangle(&mut self, across: f64) {
        for _ in 0..UNTANGLINGS {
            let Some(mesh) = self.mesh() else { return };
            let own = untangle::crossings(&mesh).own;
            if own.is_empty() {
                return;
            }
            let soup = Soup::of(&mesh);
            let tangles = untangle::tangles(&soup, &own, across);
            if tangles.is_empty() {
                return;
            }
            let healed = heal::healed(soup, &tangles, across);
            let left = healed.clone().into_mesh().ok();
            let left = left.map(|mesh| untangle::crossings(&mesh).own.len());
            if left.is_none_or(|left| left >= own.len()) {
                return;
            }
            self.soup = healed;
            for tangle in tangles {
                self.changes.push(Change::Untangled {
                    triangles: tangle.triangles.len(),
                    at: tangle.at,
                    across: tangle.across,
                });
            }
        }
    }

    /// Closes holes up to `across` mm wide.
    pub fn close_holes(&mut self, across: f64) {
        let neighbours = Neighbours::of(&self.soup);
        let (small, wide): (Vec<_>, Vec<_>) = borders(&self.soup, &neighbours)
            .into_iter()
            .partition(|hole| hole.across <= across);
        for hole in wide {
            self.left.push(Left::Hole {
                at: hole.middle,
                across: hole.across,
            });
        }
        let closed = lids::put_on(&mut self.soup, &small);
        for (hole, lid) in small.iter().zip(closed) {
            if let Some(lid) = lid {
                self.changes.push(Change::HoleClosed {
                    at: hole.middle,
                    across: hole.across,
                    edges: hole.border.len(),
                    area: lid.area,
                    lid: lid.lid,
                    bulge: lid.bulge,
                });
            }
        }
    }

    /// Takes out triangles thinner than [`THIN`].
    pub fn drop_slivers(&mut self) {
        let thinned = thin::drop_slivers(&mut self.soup);
        if thinned.slivers > 0 {
            self.changes.push(Change::SliversDropped {
                triangles: thinned.slivers,
                farthest: thinned.farthest,
            });
        }
    }

    /// Turns closed pieces that are inside out, and those that bound a cavity in another and do not face
    /// into it.
    pub fn face_out(&mut self) {
        let Some(mesh) = self.mesh() else { return };
        let (mesh, turned) = facing::face_out(&mesh);
        if turned.is_empty() {
            return;
        }
        self.soup = Soup::of(&mesh);
        for shell in turned {
            self.changes.push(Change::PieceTurned {
                triangles: shell.triangles,
                at: shell.at,
                cavity: shell.cavity,
            });
        }
    }

    /// Cuts the surface anew into triangles with edges of about `edge` mm.
    pub fn remesh(&mut self, edge: f64) {
        let Some(mesh) = self.mesh() else { return };
        let Some(new) = remesh::remeshed(&mesh, edge) else {
            return;
        };
        self.changes.push(Change::Remeshed {
            before: mesh.triangles().len(),
            after: new.triangles().len(),
            edge,
        });
        self.soup = Soup::of(&new);
    }

    /// The mended mesh, what was done, and what is still wrong.
    ///
    /// # Errors
    /// When no triangle is left.
    pub fn finish(mut self) -> Result<Mended, NothingLeft> {
        let mesh = self.mesh().ok_or(NothingLeft)?;
        self.left.extend(still_wrong(&mesh, &self.left));
        let corners = self.dropped.iter().flatten().copied().collect::<Vec<_>>();
        let triangles = (0..soup::index(self.dropped.len())).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]);
        let dropped = TriMesh::new(corners, triangles.collect()).ok();
        Ok(Mended {
            mesh,
            changes: self.changes,
            left: self.left,
            dropped,
        })
    }
}

/// What keeps the mesh from being sound, beside the holes that `known` names.
fn still_wrong(mesh: &TriMesh, known: &[Left]) -> Vec<Left> {
    let mut left = Vec::new();
    let soup = Soup::of(mesh);
    let faults = soup.edges().faulty();
    let of_kind = |kind: EdgeFault| faults.iter().filter(|f| f.fault == kind).count();
    let (open, flipped) = (of_kind(EdgeFault::Open), of_kind(EdgeFault::Flipped));
    let odd = twins::odd_edges(&soup);
    if odd > 0 {
        left.push(Left::OddEdges { edges: odd });
    }
    if flipped > 0 {
        left.push(Left::OneSided { edges: flipped });
    }
    let told = known.iter().any(|l| matches!(l, Left::Hole { .. }));
    if open > odd && !told {
        left.push(Left::Open { edges: open - odd });
    }
    let crossings = untangle::crossings(mesh);
    for (pairs, between_pieces) in [(crossings.own, false), (crossings.foreign, true)] {
        if let Some([first, _]) = pairs.first() {
            left.push(Left::Crossing {
                pairs: pairs.len(),
                at: mesh.corners(*first as usize)[0],
                between_pieces,
            });
        }
    }
    let slivers = slivers(mesh);
    if slivers > 0 {
        left.push(Left::Slivers { triangles: slivers });
    }
    left
}

#[cfg(test)]
mod tests;
