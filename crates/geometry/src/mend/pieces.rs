//! The separate pieces of a mesh, as somebody would number what lies on a table.

use nalgebra::Point3;

use super::soup::{Soup, index};
use crate::mesh::{Bounds, TriMesh};
use crate::topology::{EdgeFault, Edges, Shells};

/// One connected piece of a mesh.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its triangles, in ascending order.
    pub triangles: Vec<u32>,
    /// Area of its surface, in mm².
    pub area: f64,
    /// Signed volume, in mm³, of the cones from the middle of its box: that of the inside where it is
    /// closed.
    pub volume: f64,
    /// The box around it.
    pub bounds: Bounds,
    /// Whether every edge of it has its neighbour.
    pub closed: bool,
}

impl Piece {
    /// The longest edge of its box, in mm.
    pub fn extent(&self) -> f64 {
        self.bounds.extent().amax()
    }
}

/// The pieces of `mesh` that hang together across edges, the largest surface first.
pub fn pieces(mesh: &TriMesh) -> Vec<Piece> {
    let edges = Edges::of(mesh.triangles());
    pieces_by(mesh, &edges, &edges.shells())
}

/// The same, of a mesh whose edges and shells are at hand.
pub(crate) fn pieces_by(mesh: &TriMesh, edges: &Edges, shells: &Shells) -> Vec<Piece> {
    let mut closed = vec![true; shells.count];
    let open = edges.faulty().into_iter();
    for fault in open.filter(|f| f.fault == EdgeFault::Open) {
        closed[shells.of_triangle[fault.triangle as usize] as usize] = false;
    }
    let mut members = vec![Vec::new(); shells.count];
    for (t, &shell) in (0..).zip(&shells.of_triangle) {
        members[shell as usize].push(t);
    }
    let described = members
        .into_iter()
        .zip(closed)
        .filter_map(|(triangles, closed)| described(mesh, triangles, closed));
    let mut pieces: Vec<_> = described.collect();
    pieces.sort_by(|a, b| b.area.total_cmp(&a.area));
    pieces
}

fn described(mesh: &TriMesh, triangles: Vec<u32>, closed: bool) -> Option<Piece> {
    let corners = triangles.iter().flat_map(|&t| mesh.triangles()[t as usize]);
    let bounds = Bounds::around(corners.map(|v| &mesh.vertices()[v as usize]))?;
    let numbers = || triangles.iter().map(|&t| t as usize);
    Some(Piece {
        area: numbers().map(|t| mesh.area_vector(t).norm()).sum(),
        volume: mesh.volume_about(&bounds.middle(), numbers()),
        bounds,
        closed,
        triangles,
    })
}

/// Some pieces of a mesh as a mesh of their own; `None` where they hold no triangle.
pub fn only<'a>(mesh: &TriMesh, pieces: impl IntoIterator<Item = &'a Piece>) -> Option<TriMesh> {
    let mut kept: Vec<u32> = pieces
        .into_iter()
        .flat_map(|piece| piece.triangles.iter().copied())
        .collect();
    kept.sort_unstable();
    let soup = Soup {
        vertices: mesh.vertices().to_vec(),
        triangles: kept.iter().map(|&t| mesh.triangles()[t as usize]).collect(),
    };
    soup.into_mesh().ok()
}

/// The pieces that `piece` encloses, and those that they do: cavities and what lies in them.
///
/// Told by their boxes and one corner of each; none where `piece` is open.
pub fn enclosed<'a>(mesh: &TriMesh, piece: &Piece, pieces: &'a [Piece]) -> Vec<&'a Piece> {
    let inside = |other: &&Piece| {
        let within = (0..3).all(|k| {
            piece.bounds.min[k] <= other.bounds.min[k] && other.bounds.max[k] <= piece.bounds.max[k]
        });
        within && other.triangles != piece.triangles
    };
    let candidates: Vec<_> = pieces.iter().filter(inside).collect();
    if !piece.closed || candidates.is_empty() {
        return Vec::new();
    }
    let Some(own) = only(mesh, [piece]) else {
        return Vec::new();
    };
    let tree = crate::bvh::BoxTree::over(&own);
    let first = |other: &Piece| -> Point3<f64> { mesh.corners(other.triangles[0] as usize)[0] };
    let held = |other: &&Piece| crate::winding::number(&own, &tree, &first(other)) != 0;
    candidates.into_iter().filter(held).collect()
}

/// How many pieces there are of triangles on their own, as where a file's corners were never joined.
pub fn loose_triangles(pieces: &[Piece]) -> usize {
    pieces
        .iter()
        .filter(|p| index(p.triangles.len()) == 1)
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use nalgebra::Isometry3;

    #[test]
    fn pieces_are_numbered_by_their_surface_and_can_be_had_alone() {
        let [small, large] = [5.0, 10.0].map(|radius| samples::sphere(radius, 2));
        let far = Isometry3::translation(50.0, 0.0, 0.0);
        let both = small.joined(&large.moved(&far));
        let found = pieces(&both);
        assert_eq!(found.len(), 2);
        assert!(found[0].area > 3.0 * found[1].area && found[0].closed);
        let alone = only(&both, &found[..1]).unwrap();
        assert!((alone.volume() - large.volume()).abs() < 1e-9);
        assert_eq!(alone.vertices().len(), large.vertices().len());
        assert_eq!(only(&both, []), None);
    }

    #[test]
    fn a_cavity_belongs_to_the_piece_around_it_and_a_neighbour_does_not() {
        let ball = samples::sphere(10.0, 2);
        let cavity = samples::sphere(3.0, 2).reversed();
        let beside = cavity.moved(&Isometry3::translation(9.0, 9.0, 0.0));
        let all = ball.joined(&cavity).joined(&beside);
        let found = pieces(&all);
        let held = enclosed(&all, &found[0], &found);
        assert_eq!(held.len(), 1);
        assert!(held[0].bounds.middle().coords.norm() < 1e-9);
        assert!(enclosed(&all, &found[1], &found).is_empty());
    }
}
