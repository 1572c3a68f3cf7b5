//! What goes wrong with the triangles of a bone, done to its vertices and triangles.

use super::{Triangles, Vertices};

pub(super) fn flip(triangles: &mut Triangles, every: usize) {
    for t in triangles.iter_mut().step_by(every) {
        t.swap(1, 2);
    }
}

/// Some triangles again, some of them turned round.
pub(super) fn copies(_: &mut Vertices, triangles: &mut Triangles) {
    let again: Vec<_> = triangles.iter().step_by(997).copied().collect();
    let turned = triangles
        .iter()
        .skip(5)
        .step_by(1999)
        .map(|&[a, b, c]| [a, c, b]);
    let turned: Vec<_> = turned.collect();
    triangles.extend(again);
    triangles.extend(turned);
}

/// Some edges parted right beside one of their ends, on both sides.
pub(super) fn slivers(vertices: &mut Vertices, triangles: &mut Triangles) {
    for first in (500..20_000).step_by(3000) {
        part_both(vertices, triangles, first, 2e-4);
    }
}

/// Edges parted in the middle on one side only.
pub(super) fn corner_on_edge(vertices: &mut Vertices, triangles: &mut Triangles) {
    for first in (700..20_000).step_by(5000) {
        part_one(vertices, triangles, first, 0.5);
    }
}

/// Parts the first side of a triangle at a share of its length, on both sides of it.
fn part_both(vertices: &mut Vertices, triangles: &mut Triangles, first: usize, share: f64) {
    let [a, b, _] = triangles[first];
    let runs_back = |t: &[u32; 3]| (0..3).any(|k| t[k] == b && t[(k + 1) % 3] == a);
    let Some(beside) = triangles.iter().position(runs_back) else {
        panic!("a sound bone is closed");
    };
    let new = part_one(vertices, triangles, first, share);
    let Some(d) = triangles[beside].into_iter().find(|v| ![a, b].contains(v)) else {
        panic!("a triangle has three corners");
    };
    triangles[beside] = [b, new, d];
    triangles.push([new, a, d]);
}

/// Parts the first side of a triangle on that triangle alone; the new corner.
fn part_one(vertices: &mut Vertices, triangles: &mut Triangles, first: usize, share: f64) -> u32 {
    let [a, b, c] = triangles[first];
    let new = number(vertices.len());
    let [p, q] = [a, b].map(|v| vertices[v as usize]);
    vertices.push(p + share * (q - p));
    triangles[first] = [a, new, c];
    triangles.push([new, b, c]);
    new
}

/// A triangle that hangs on an edge.
pub(super) fn flap(vertices: &mut Vertices, triangles: &mut Triangles) {
    let [a, b, c] = triangles[12_000];
    let [p, q, r] = [a, b, c].map(|v| vertices[v as usize]);
    let out = (q - p).cross(&(r - p)).normalize();
    vertices.push(p + 4.0 * out);
    triangles.push([a, b, number(vertices.len() - 1)]);
}

/// A little pyramid that shares one corner with the bone.
pub(super) fn touching(vertices: &mut Vertices, triangles: &mut Triangles) {
    let [a, b, c] = triangles[12_000];
    let [p, q, r] = [a, b, c].map(|v| vertices[v as usize]);
    let out = (q - p).cross(&(r - p)).normalize();
    let side = (q - p).normalize();
    let first = number(vertices.len());
    vertices.push(p + 3.0 * out + 1.5 * side);
    vertices.push(p + 3.0 * out - 1.5 * side);
    vertices.push(p + 3.0 * out + 1.5 * out.cross(&side));
    let (d, e, f) = (first, first + 1, first + 2);
    triangles.extend([[a, d, e], [a, e, f], [a, f, d], [d, f, e]]);
}

fn number(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}
