//! Where a surface passes through itself: the places are cut out, to be closed like any hole.

use std::collections::BTreeSet;

use nalgebra::Point3;

use super::facing::members;
use super::soup::{Neighbours, Soup};
use crate::intersections::crossing_pairs;
use crate::mesh::TriMesh;

/// Triangles around a crossing that are cut out with it, in rings of neighbours.
const RINGS: usize = 2;

/// A place where the surface passed through itself.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tangle {
    /// The triangles to cut out.
    pub(super) triangles: Vec<u32>,
    /// The middle of their box.
    pub(super) at: Point3<f64>,
    /// How wide they are, in mm.
    pub(super) across: f64,
}

/// Pairs of triangles that cross, of one piece and of different pieces.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Crossings {
    /// Triangles of one piece that cross others of the same.
    pub(super) own: Vec<[u32; 2]>,
    /// Triangles that cross those of another piece.
    pub(super) foreign: Vec<[u32; 2]>,
}

/// Where triangles cross, by whether their pieces are the same.
pub(super) fn crossings(mesh: &TriMesh) -> Crossings {
    let pairs = crossing_pairs(mesh);
    if pairs.is_empty() {
        return Crossings::default();
    }
    let shells = crate::topology::shells(mesh.triangles());
    let same =
        |[a, b]: &[u32; 2]| shells.of_triangle[*a as usize] == shells.of_triangle[*b as usize];
    let (own, foreign) = pairs.into_iter().partition(same);
    Crossings { own, foreign }
}

/// The places where triangles of one piece cross, each with the triangles around it, as far as they are
/// at most `most` mm across.
pub(super) fn tangles(soup: &Soup, pairs: &[[u32; 2]], most: f64) -> Vec<Tangle> {
    let neighbours = Neighbours::of(soup);
    let mut marked: BTreeSet<u32> = pairs.iter().flatten().copied().collect();
    for _ in 0..RINGS {
        let grown: Vec<u32> = marked.iter().flat_map(|&t| neighbours.around(t)).collect();
        marked.extend(grown);
    }
    // Pieces of the marked surface that touch or cross belong to one tangle.
    let number: std::collections::BTreeMap<u32, u32> = marked.iter().copied().zip(0..).collect();
    let mut sets = crate::topology::DisjointSets::new(marked.len());
    for (&t, &own) in &number {
        for other in neighbours.around(t) {
            if let Some(&other) = number.get(&other) {
                sets.join(own, other);
            }
        }
    }
    for [a, b] in pairs {
        sets.join(number[a], number[b]);
    }
    let of_triangle: Vec<u32> = (0..super::soup::index(marked.len()))
        .map(|k| sets.root(k))
        .collect();
    let all: Vec<u32> = marked.into_iter().collect();
    let mut roots = of_triangle.clone();
    roots.sort_unstable();
    roots.dedup();
    let place = |root: &u32| roots.binary_search(root).unwrap_or(0);
    let shells = crate::topology::Shells {
        of_triangle: of_triangle
            .iter()
            .map(|root| super::soup::index(place(root)))
            .collect(),
        count: roots.len(),
    };
    let groups = members(&shells).into_iter();
    let tangle = |group: Vec<usize>| {
        let triangles: Vec<u32> = group.into_iter().map(|k| all[k]).collect();
        let bounds = soup.bounds_of(&triangles)?;
        let across = bounds.extent().norm();
        let at = bounds.middle();
        (across <= most).then_some(Tangle {
            triangles,
            at,
            across,
        })
    };
    groups.filter_map(tangle).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;

    #[test]
    fn a_dent_pushed_through_the_far_side_is_one_tangle() {
        let ball = samples::sphere(10.0, 4);
        let pushed = ball.vertices().iter().map(|p| {
            if (p - Point3::new(0.0, 0.0, 10.0)).norm() < 1.0 {
                Point3::new(p.x + 0.13, p.y + 0.07, -11.0)
            } else {
                *p
            }
        });
        let mesh = TriMesh::new(pushed.collect(), ball.triangles().to_vec()).unwrap();
        let found = crossings(&mesh);
        assert!(!found.own.is_empty() && found.foreign.is_empty());
        let soup = Soup::of(&mesh);
        assert_eq!(tangles(&soup, &found.own, 5.0), []);
        let tangles = tangles(&soup, &found.own, 50.0);
        assert_eq!(tangles.len(), 1);
        assert!(tangles[0].across > 20.0);
    }

    #[test]
    fn two_pieces_that_cross_are_told_apart_from_one() {
        let ball = samples::sphere(10.0, 3);
        let shift = nalgebra::Isometry3::translation(12.0, 0.1, 0.2);
        let found = crossings(&ball.joined(&ball.moved(&shift)));
        assert!(found.own.is_empty() && !found.foreign.is_empty());
    }
}
