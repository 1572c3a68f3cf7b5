//! How often a closed mesh encloses a point, exactly.

use std::cmp::Ordering;

use nalgebra::Point3;

use crate::bvh::BoxTree;
use crate::mesh::TriMesh;
use crate::predicates::{side_of_line, side_of_plane};

/// Winding number of the mesh about `point`: the triangles above it, along z, that face up less
/// those that face down.
///
/// All signs are exact and a point straight below a shared edge or vertex belongs to one of its
/// triangles only, so that no ray needs to be cast again.
pub(crate) fn number(mesh: &TriMesh, tree: &BoxTree, point: &Point3<f64>) -> i32 {
    number_among(mesh, tree, point, |_| true)
}

/// The same, counting only the triangles that `counts` accepts.
pub(crate) fn number_among(
    mesh: &TriMesh,
    tree: &BoxTree,
    point: &Point3<f64>,
    counts: impl Fn(u32) -> bool,
) -> i32 {
    let above = tree.triangles_where(|b| {
        b.min.x <= point.x
            && point.x <= b.max.x
            && b.min.y <= point.y
            && point.y <= b.max.y
            && point.z <= b.max.z
    });
    let crossings = above.into_iter().filter(|&t| counts(t));
    crossings
        .map(|t| crossing(&mesh.corners(t as usize), point))
        .sum()
}

/// +1 if the triangle lies above the point and faces up, −1 if it faces down, 0 if it is not above.
fn crossing(corners: &[Point3<f64>; 3], point: &Point3<f64>) -> i32 {
    let turns = turns(corners, point);
    let below = match side_of_plane(corners, point) {
        Ordering::Greater => turns > 0,
        Ordering::Less => turns < 0,
        Ordering::Equal => false,
    };
    if below { turns } else { 0 }
}

/// How often a triangle goes round a point, seen along z: +1 where it faces up and its projection
/// holds the point, −1 where it faces down, else 0.
///
/// A point on an edge or vertex shared by several triangles is held by one layer of them only.
pub(crate) fn turns(corners: &[Point3<f64>; 3], point: &Point3<f64>) -> i32 {
    let [a, b, c] = corners;
    half_turn(a, b, point) + half_turn(b, c, point) + half_turn(c, a, point)
}

/// Seen along z: +1 if the edge crosses upward the half line from `point` toward +x, −1 if
/// downward, else 0. An end at the height of the point counts as below it.
pub(crate) fn half_turn(from: &Point3<f64>, to: &Point3<f64>, point: &Point3<f64>) -> i32 {
    let upward = from.y <= point.y && point.y < to.y;
    let downward = to.y <= point.y && point.y < from.y;
    // Asked of the same directed line by both neighbours, so that they agree when it is hit.
    if upward && side_of_line(from, to, point) == Ordering::Greater {
        1
    } else if downward && side_of_line(to, from, point) == Ordering::Greater {
        -1
    } else {
        0
    }
}
