//! Where a mesh passes through itself, decided by exact signs.

use std::cmp::Ordering;

use nalgebra::Point3;
use rayon::prelude::*;

use crate::bvh::BoxTree;
use crate::predicates::side_of_plane;
use crate::{Bounds, TriMesh};

/// Pairs of triangles that pass through each other, the smaller index first, in ascending order.
///
/// Triangles that only touch, as neighbours do along their common edge or at their common corner,
/// are no pair; nor are two that lie in one plane.
pub fn crossing_pairs(mesh: &TriMesh) -> Vec<[u32; 2]> {
    crossing_pairs_in(mesh, &BoxTree::over(mesh))
}

/// The same, by a tree over all triangles of the mesh.
pub(crate) fn crossing_pairs_in(mesh: &TriMesh, tree: &BoxTree) -> Vec<[u32; 2]> {
    let of_leaf = |leaf: u32| {
        let mut pairs = Vec::new();
        tree.meeting_from(leaf, |a, b| {
            if cross(mesh, a, b) {
                pairs.push([a, b]);
            }
        });
        pairs
    };
    let mut pairs: Vec<_> = tree
        .leaves()
        .into_par_iter()
        .flat_map_iter(of_leaf)
        .collect();
    pairs.sort_unstable();
    pairs
}

/// Whether any of the triangles from number `first` on passes through one before it.
pub(crate) fn passes_through(mesh: &TriMesh, first: usize) -> bool {
    let tree = BoxTree::over_some(mesh, 0..first);
    (first..mesh.triangles().len()).any(|t| {
        let Some(own) = Bounds::around(&mesh.corners(t)) else {
            return false;
        };
        let near = tree.triangles_where(|b| b.meets(&own));
        let this = u32::try_from(t).unwrap_or(u32::MAX);
        near.into_iter().any(|other| cross(mesh, other, this))
    })
}

/// Whether an edge of one triangle passes through the other.
fn cross(mesh: &TriMesh, a: u32, b: u32) -> bool {
    let (ia, ib) = (mesh.triangles()[a as usize], mesh.triangles()[b as usize]);
    let shared = ia.iter().filter(|i| ib.contains(i)).count();
    if shared >= 2 {
        return false;
    }
    let (ca, cb) = (mesh.corners(a as usize), mesh.corners(b as usize));
    pierces(&ca, &ia, &cb, &ib) || pierces(&cb, &ib, &ca, &ia)
}

/// Whether an edge of the first triangle that has no corner in common with the second passes
/// through it.
fn pierces(
    edges: &[Point3<f64>; 3],
    ids: &[u32; 3],
    face: &[Point3<f64>; 3],
    face_ids: &[u32; 3],
) -> bool {
    // A common corner lies exactly on the plane, which is what takes an exact sign longest to find.
    let apart = ids.map(|id| !face_ids.contains(&id));
    let side = |i: usize| {
        if apart[i] {
            side_of_plane(face, &edges[i])
        } else {
            Ordering::Equal
        }
    };
    let side = [side(0), side(1), side(2)];
    (0..3).any(|i| {
        let j = (i + 1) % 3;
        side[i] != Ordering::Equal
            && side[i] == side[j].reverse()
            && through(&edges[i], &edges[j], face)
    })
}

/// Whether the line from `p` to `q` runs inside the face: all edges on the same side of it.
fn through(p: &Point3<f64>, q: &Point3<f64>, [a, b, c]: &[Point3<f64>; 3]) -> bool {
    let turn = |u: &Point3<f64>, v: &Point3<f64>| side_of_plane(&[*p, *u, *v], q);
    let turns = [turn(a, b), turn(b, c), turn(c, a)];
    turns[0] != Ordering::Equal && turns[0] == turns[1] && turns[1] == turns[2]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use nalgebra::Isometry3;

    #[test]
    fn smooth_shapes_do_not_pass_through_themselves() {
        for mesh in [
            samples::sphere(10.0, 3),
            samples::torus(30.0, 10.0, 24, 12),
            samples::cuboid([1.0; 3]),
        ] {
            assert!(crossing_pairs(&mesh).is_empty());
        }
    }

    #[test]
    fn a_ring_fatter_than_itself_does() {
        assert!(!crossing_pairs(&samples::torus(10.0, 14.0, 24, 12)).is_empty());
    }

    #[test]
    fn two_spheres_cross_where_they_overlap() {
        let one = samples::sphere(10.0, 2);
        let moved = |x: f64| one.moved(&Isometry3::translation(x, 0.1, 0.2));
        assert!(!crossing_pairs(&one.joined(&moved(15.0))).is_empty());
        assert!(crossing_pairs(&one.joined(&moved(25.0))).is_empty());
        assert!(crossing_pairs(&one.joined(&one.scaled(0.5))).is_empty());
    }
}
