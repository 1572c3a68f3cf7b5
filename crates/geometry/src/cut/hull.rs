//! The triangles over points of a convex surface turned until they are its convex hull.

use std::cmp::Ordering;

use nalgebra::Point3;

use super::clip::RimEdge;
use super::edges::EdgeMap;
use crate::predicates::{side_of_line, side_of_plane};

/// The least height of a triangle, in mm, that is no sliver: far above rounding, far below any chord.
const FLATTEST: f64 = 1e-8;

/// Turns edges shared by two triangles, the rim's excepted, until the surface is convex along all
/// that can be turned; `triangles` face the inside of the convex surface and are counter-clockwise in
/// `views`, the place of each vertex in a plane.
///
/// Each turn leaves fewer slivers, or as many and adds volume, decided exactly; so there is an end.
pub(super) fn make_convex(
    triangles: &mut [[u32; 3]],
    points: &[Point3<f64>],
    views: &[Option<Point3<f64>>],
    rim: &[RimEdge],
) {
    let mut at_edge: EdgeMap<usize> = EdgeMap::default();
    at_edge.reserve(3 * triangles.len());
    for (index, corners) in triangles.iter().enumerate() {
        for k in 0..3 {
            at_edge.insert([corners[k], corners[(k + 1) % 3]], index);
        }
    }
    for edge in rim {
        at_edge.remove(&edge.ends);
    }
    let mut open: Vec<[u32; 2]> = Vec::new();
    for corners in triangles.iter() {
        open.extend(
            (0..3)
                .map(|k| [corners[k], corners[(k + 1) % 3]])
                .filter(|[u, v]| u < v),
        );
    }
    while let Some([u, v]) = open.pop() {
        let (Some(&left), Some(&right)) = (at_edge.get(&[u, v]), at_edge.get(&[v, u])) else {
            continue;
        };
        let (Some(w), Some(x)) = (
            across(&triangles[left], [u, v]),
            across(&triangles[right], [v, u]),
        ) else {
            continue;
        };
        let slivers = |pair: [[u32; 3]; 2]| pair.iter().filter(|c| is_sliver(points, c)).count();
        let now = slivers([[u, v, w], [v, u, x]]);
        let then = slivers([[u, x, w], [x, v, w]]);
        let better = then < now || then == now && dented(points, [u, v, w], x);
        if !better || !turnable(views, [u, v], [w, x]) {
            continue;
        }
        triangles[left] = [u, x, w];
        triangles[right] = [x, v, w];
        at_edge.remove(&[u, v]);
        at_edge.remove(&[v, u]);
        for (edge, index) in [
            ([u, x], left),
            ([w, u], left),
            ([x, v], right),
            ([v, w], right),
        ] {
            // The rim's edges are not listed and stay so.
            if let Some(entry) = at_edge.get_mut(&edge) {
                *entry = index;
            }
        }
        at_edge.extend([([x, w], left), ([w, x], right)]);
        open.extend([[u, x], [w, u], [x, v], [v, w]]);
    }
}

/// The corner of a triangle that is not on its edge `[u, v]`.
fn across(corners: &[u32; 3], [u, v]: [u32; 2]) -> Option<u32> {
    let k = (0..3).find(|&k| corners[k] == u && corners[(k + 1) % 3] == v)?;
    Some(corners[(k + 2) % 3])
}

/// Whether a triangle is flatter than any that a point's rounding could turn over.
fn is_sliver(points: &[Point3<f64>], corners: &[u32; 3]) -> bool {
    let [a, b, c] = corners.map(|id| points[id as usize]);
    let sides = [(a, b), (b, c), (c, a)].map(|(p, q)| (p - q).norm());
    let longest = sides.into_iter().fold(0.0, f64::max);
    (b - a).cross(&(c - a)).norm() <= FLATTEST * longest
}

/// Whether the surface is dented toward its inside along the edge between a triangle and `opposite`.
fn dented(points: &[Point3<f64>], corners: [u32; 3], opposite: u32) -> bool {
    let place = |id: u32| points[id as usize];
    side_of_plane(&corners.map(place), &place(opposite)) == Ordering::Greater
}

/// Whether the other diagonal of the four corners lies between them, as seen.
fn turnable(views: &[Option<Point3<f64>>], [u, v]: [u32; 2], [w, x]: [u32; 2]) -> bool {
    let seen = |id: u32| views[id as usize];
    let (Some(u), Some(v), Some(w), Some(x)) = (seen(u), seen(v), seen(w), seen(x)) else {
        return false;
    };
    side_of_line(&u, &x, &w) == Ordering::Greater && side_of_line(&x, &v, &w) == Ordering::Greater
}
