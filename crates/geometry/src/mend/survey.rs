//! [`Survey`]: everything that can be said of a mesh before it is mended, found in one go.

use super::holes::{Hole, borders};
use super::pieces::{Piece, pieces_by};
use super::soup::{Neighbours, Soup};
use super::{pinch, slivers, twins};
use crate::bvh::BoxTree;
use crate::intersections::crossing_pairs_in;
use crate::mesh::TriMesh;
use crate::solid::{Defect, defects_by};
use crate::topology::{Edges, Shells};

/// The state of a mesh.
#[derive(Clone, Debug)]
pub struct Survey {
    /// What keeps it from enclosing bone; see [`defects`](crate::solid::defects).
    pub defects: Vec<Defect>,
    /// Its pieces, the largest surface first; see [`pieces`](super::pieces).
    pub pieces: Vec<Piece>,
    /// Total genus, where it is closed and the count makes sense; see [`genus`](crate::topology::genus).
    pub genus: Option<usize>,
    /// Its holes, the widest first; see [`holes`](super::holes).
    pub holes: Vec<Hole>,
    /// Triangles that have the same corners as an earlier one.
    pub copies: usize,
    /// Edges along which three, five, … triangles meet.
    pub odd_edges: usize,
    /// Corners where parts of the surface touch at a single point.
    pub pinches: usize,
    /// Triangles thinner than [`THIN`](super::THIN).
    pub slivers: usize,
    /// Pairs of triangles that pass through each other; see
    /// [`crossing_pairs`](crate::intersections::crossing_pairs).
    pub crossings: Vec<[u32; 2]>,
}

impl Survey {
    /// Looks at everything.
    ///
    /// About a second of one core for a million triangles.
    pub fn of(mesh: &TriMesh) -> Self {
        let (edges, tree) = rayon::join(|| Edges::of(mesh.triangles()), || BoxTree::over(mesh));
        let shells = edges.shells();
        let (crossings, rest) = rayon::join(
            || crossing_pairs_in(mesh, &tree),
            || Self::without_crossings(mesh, &edges, &shells, &tree),
        );
        Self { crossings, ..rest }
    }

    fn without_crossings(mesh: &TriMesh, edges: &Edges, shells: &Shells, tree: &BoxTree) -> Self {
        let soup = Soup::of(mesh);
        let neighbours = Neighbours::by(&soup, edges);
        let mut holes = borders(&soup, &neighbours);
        holes.sort_by(|a, b| b.across.total_cmp(&a.across));
        let crowded = edges.groups().any(|group| group.len() > 2);
        let copies = crowded.then(|| twins::copies(mesh.triangles()).len());
        let odd = edges.groups().filter(|g| g.len() > 2 && g.len() % 2 == 1);
        Self {
            defects: defects_by(mesh, edges, shells, tree),
            pieces: pieces_by(mesh, edges, shells),
            genus: edges.genus(mesh.triangles(), shells.count),
            holes,
            copies: copies.unwrap_or(0),
            odd_edges: odd.count(),
            pinches: pinch::pinches(&soup, &neighbours),
            slivers: slivers(mesh),
            crossings: Vec::new(),
        }
    }

    /// Whether every edge has its neighbour.
    pub fn is_closed(&self) -> bool {
        let open = |d: &Defect| matches!(d, Defect::Open { .. });
        !self.defects.iter().any(open)
    }

    /// Whether neighbours agree about which side is out, and no piece is inside out.
    pub fn is_oriented(&self) -> bool {
        let turned = |d: &Defect| matches!(d, Defect::Flipped { .. } | Defect::InsideOut { .. });
        !self.defects.iter().any(turned)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{intersections, samples, solid, topology};

    #[test]
    fn a_survey_says_what_the_single_questions_say() {
        let ring = samples::torus(30.0, 10.0, 24, 12);
        let fat = samples::torus(10.0, 14.0, 24, 12);
        let open = TriMesh::new(ring.vertices().to_vec(), ring.triangles()[5..].to_vec()).unwrap();
        let both = ring.joined(&samples::sphere(5.0, 2).reversed());
        for mesh in [ring, fat, open, both] {
            let survey = Survey::of(&mesh);
            assert_eq!(survey.defects, solid::defects(&mesh));
            assert_eq!(survey.pieces, super::super::pieces(&mesh));
            assert_eq!(survey.holes, super::super::holes(&mesh));
            assert_eq!(survey.genus, topology::genus(mesh.triangles()));
            assert_eq!(survey.crossings, intersections::crossing_pairs(&mesh));
            assert_eq!(survey.slivers, super::super::slivers(&mesh));
        }
    }

    #[test]
    fn copies_and_flaps_are_counted() {
        let ring = samples::torus(30.0, 10.0, 24, 12);
        let mut triangles = ring.triangles().to_vec();
        triangles.push(triangles[3]);
        let mesh = TriMesh::new(ring.vertices().to_vec(), triangles).unwrap();
        let survey = Survey::of(&mesh);
        assert_eq!((survey.copies, survey.odd_edges), (1, 3));
        assert!(!survey.is_closed() && survey.is_oriented());
    }
}
