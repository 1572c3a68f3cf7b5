//! Better triangles for the same surface: edges turned, edges collapsed, never a change of shape.
//!
//! Vertices stay on the surface to within what collapsing moves them; the caller projects them back.
//! Every step keeps the mesh closed and its connectivity that of the surface.

use std::collections::BTreeSet;

use cupwright_geometry::topology;
use nalgebra::{Point3, Vector3};

use super::surface::Draft;

/// An edge with the triangle on either side.
#[derive(Clone, Copy)]
struct Edge {
    ends: [u32; 2],
    triangles: [u32; 2],
}

/// How many edges have other than two triangles.
pub(super) fn pinched_edges(triangles: &[[u32; 3]]) -> usize {
    let sides = sides(triangles);
    sides
        .chunk_by(|a, b| (a.0, a.1) == (b.0, b.1))
        .filter(|side| side.len() != 2)
        .count()
}

/// Edges in order of their ends; those that do not have two triangles are left out.
fn edges(triangles: &[[u32; 3]]) -> Vec<Edge> {
    sides(triangles)
        .chunk_by(|a, b| (a.0, a.1) == (b.0, b.1))
        .filter(|side| side.len() == 2)
        .map(|side| Edge {
            ends: [side[0].0, side[0].1],
            triangles: [side[0].2, side[1].2],
        })
        .collect()
}

/// The triangles' sides as (smaller end, larger end, triangle), sorted.
fn sides(triangles: &[[u32; 3]]) -> Vec<(u32, u32, u32)> {
    let mut sides = Vec::with_capacity(3 * triangles.len());
    for (t, &[a, b, c]) in (0_u32..).zip(triangles) {
        sides.extend([(a, b), (b, c), (c, a)].map(|(u, v)| (u.min(v), u.max(v), t)));
    }
    sides.sort_unstable();
    sides
}

/// Turns every edge whose two opposite angles exceed half a turn (Delaunay's rule), where the surface is
/// nearly flat there; `passes` times. The number of edges turned.
pub(super) fn turn_edges(draft: &mut Draft, passes: u32) -> usize {
    let mut turned = 0;
    for _ in 0..passes {
        let edges = edges(&draft.triangles);
        let known: std::collections::HashSet<[u32; 2]> = edges.iter().map(|e| e.ends).collect();
        let mut made = std::collections::HashSet::new();
        let mut busy = vec![false; draft.triangles.len()];
        let before = turned;
        for edge in &edges {
            let [s, t] = edge.triangles.map(|i| i as usize);
            if busy[s] || busy[t] {
                continue;
            }
            let Some((new, across)) = turned_pair(draft, edge) else {
                continue;
            };
            if known.contains(&across) || !made.insert(across) {
                continue;
            }
            draft.triangles[s] = new[0];
            draft.triangles[t] = new[1];
            (busy[s], busy[t]) = (true, true);
            turned += 1;
        }
        if turned == before {
            break;
        }
    }
    turned
}

/// The two triangles after turning `edge`, and the new edge, if turning helps and does no harm.
fn turned_pair(draft: &Draft, edge: &Edge) -> Option<([[u32; 3]; 2], [u32; 2])> {
    let first = draft.triangles[edge.triangles[0] as usize];
    let second = draft.triangles[edge.triangles[1] as usize];
    // Turn the first triangle's corners so that the edge runs from a to b with c opposite.
    let opposite = first.iter().position(|v| !edge.ends.contains(v))?;
    let (c, a, b) = (
        first[opposite],
        first[(opposite + 1) % 3],
        first[(opposite + 2) % 3],
    );
    let d = *second.iter().find(|v| !edge.ends.contains(v))?;
    let at = |v: u32| draft.vertices[v as usize];
    let angle_sum = angle(at(c), at(a), at(b)) + angle(at(d), at(a), at(b));
    if c == d || angle_sum < std::f64::consts::PI + 0.02 {
        return None;
    }
    let new = [[c, a, d], [c, d, b]];
    let old = normal(draft, first) + normal(draft, second);
    let facing = new.iter().all(|t| {
        let n = normal(draft, *t);
        n.dot(&old) > 0.85 * n.norm() * old.norm()
    });
    facing.then_some((new, [c.min(d), c.max(d)]))
}

fn angle(at: Point3<f64>, a: Point3<f64>, b: Point3<f64>) -> f64 {
    (a - at).angle(&(b - at))
}

fn normal(draft: &Draft, t: [u32; 3]) -> Vector3<f64> {
    let [a, b, c] = t.map(|v| draft.vertices[v as usize]);
    (b - a).cross(&(c - a))
}

/// Collapses edges shorter than what `length` gives at their middle, shortest first, until none is left
/// that can go without folding the surface, closing a hole or making an edge longer than 1.6 times that.
pub(super) fn collapse_edges(draft: &mut Draft, length: impl Fn(&Point3<f64>) -> f64) {
    loop {
        let gone = collapse_pass(draft, &length);
        compact(draft);
        if gone * 200 < draft.triangles.len() {
            break;
        }
    }
}

/// One sweep over the short edges; each vertex takes part at most once. How many collapsed.
fn collapse_pass(draft: &mut Draft, length: &impl Fn(&Point3<f64>) -> f64) -> usize {
    let around = triangles_around(draft);
    let at = |d: &Draft, v: u32| d.vertices[v as usize];
    let mut short: Vec<(u64, [u32; 2])> = edges(&draft.triangles)
        .iter()
        .filter_map(|e| {
            let [a, b] = e.ends.map(|v| at(draft, v));
            let long = nalgebra::distance(&a, &b);
            (long < length(&nalgebra::center(&a, &b))).then_some((long, e.ends))
        })
        // Lengths are positive, so that their bits sort as they do.
        .map(|(l, ends)| (l.to_bits(), ends))
        .collect();
    short.sort_unstable();
    let mut busy = vec![false; draft.vertices.len()];
    let mut gone = 0;
    for (_, [keep, drop]) in short {
        let star: Vec<u32> = [keep, drop]
            .iter()
            .flat_map(|&v| around[v as usize].iter().copied())
            .collect::<BTreeSet<_>>()
            .into_iter()
            .collect();
        let corners: BTreeSet<u32> = star
            .iter()
            .flat_map(|&t| draft.triangles[t as usize])
            .collect();
        if corners.iter().any(|&v| busy[v as usize]) {
            continue;
        }
        let middle = nalgebra::center(&at(draft, keep), &at(draft, drop));
        let longest = 1.6 * length(&middle);
        if !may_collapse(draft, &star, &corners, [keep, drop], middle, longest) {
            continue;
        }
        for &t in &star {
            let triangle = &mut draft.triangles[t as usize];
            if triangle.contains(&keep) && triangle.contains(&drop) {
                *triangle = [u32::MAX; 3];
            } else {
                *triangle = triangle.map(|v| if v == drop { keep } else { v });
            }
        }
        draft.vertices[keep as usize] = middle;
        for v in corners {
            busy[v as usize] = true;
        }
        gone += 1;
    }
    gone
}

fn triangles_around(draft: &Draft) -> Vec<Vec<u32>> {
    let mut around = vec![Vec::new(); draft.vertices.len()];
    for (t, triangle) in (0_u32..).zip(&draft.triangles) {
        for &v in triangle {
            around[v as usize].push(t);
        }
    }
    around
}

fn may_collapse(
    draft: &Draft,
    star: &[u32],
    corners: &BTreeSet<u32>,
    [keep, drop]: [u32; 2],
    middle: Point3<f64>,
    longest: f64,
) -> bool {
    let triangles = || star.iter().map(|&t| draft.triangles[t as usize]);
    let touches = |v: u32, w: u32| triangles().any(|t| t.contains(&v) && t.contains(&w));
    // The link condition: only the two corners opposite the edge see both of its ends.
    let shared = corners
        .iter()
        .filter(|&&v| v != keep && v != drop && touches(v, keep) && touches(v, drop))
        .count();
    let with_both = triangles()
        .filter(|t| t.contains(&keep) && t.contains(&drop))
        .count();
    if shared != 2 || with_both != 2 || corners.len() < 7 {
        return false;
    }
    let too_far = |v: &u32| nalgebra::distance(&draft.vertices[*v as usize], &middle) > longest;
    if corners.iter().any(too_far) {
        return false;
    }
    triangles()
        .filter(|t| !(t.contains(&keep) && t.contains(&drop)))
        .all(|t| {
            let [a, b, c] = t.map(|v| {
                if v == keep || v == drop {
                    middle
                } else {
                    draft.vertices[v as usize]
                }
            });
            let (old, new) = (normal(draft, t), (b - a).cross(&(c - a)));
            new.dot(&old) > 0.8 * new.norm() * old.norm()
        })
}

/// Drops collapsed triangles and unused vertices; what stays keeps its order.
fn compact(draft: &mut Draft) {
    draft.triangles.retain(|t| t[0] != u32::MAX);
    let mut used = vec![false; draft.vertices.len()];
    for &v in draft.triangles.iter().flatten() {
        used[v as usize] = true;
    }
    let mut next = 0;
    let number: Vec<u32> = used
        .iter()
        .map(|&u| {
            next += u32::from(u);
            next.wrapping_sub(1)
        })
        .collect();
    for v in draft.triangles.iter_mut().flatten() {
        *v = number[*v as usize];
    }
    let mut used = used.into_iter();
    draft.vertices.retain(|_| used.next().unwrap_or(false));
}

/// Splits every triangle into four at the middles of its edges.
pub(super) fn split(draft: &mut Draft) {
    let edges = edges(&draft.triangles);
    let first = draft.vertices.len();
    let middles = edges.iter().map(|e| {
        let [a, b] = e.ends.map(|v| draft.vertices[v as usize]);
        nalgebra::center(&a, &b)
    });
    let middles: Vec<_> = middles.collect();
    draft.vertices.extend(middles);
    let middle = |a: u32, b: u32| {
        let ends = [a.min(b), a.max(b)];
        let place = edges.partition_point(|e| e.ends < ends);
        u32::try_from(first + place).unwrap_or(u32::MAX)
    };
    draft.triangles = draft
        .triangles
        .iter()
        .flat_map(|&[a, b, c]| {
            let [ab, bc, ca] = [middle(a, b), middle(b, c), middle(c, a)];
            [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]
        })
        .collect();
}

/// Drops pieces that have less than a hundredth of the triangles: crumbs of the sampling.
pub(super) fn drop_crumbs(draft: &mut Draft) {
    let shells = topology::shells(&draft.triangles);
    let mut sizes = vec![0_usize; shells.count];
    for &shell in &shells.of_triangle {
        sizes[shell as usize] += 1;
    }
    let least = draft.triangles.len() / 100;
    for (triangle, &shell) in draft.triangles.iter_mut().zip(&shells.of_triangle) {
        if sizes[shell as usize] < least {
            *triangle = [u32::MAX; 3];
        }
    }
    compact(draft);
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::samples;

    fn draft(mesh: &cupwright_geometry::TriMesh) -> Draft {
        Draft {
            vertices: mesh.vertices().to_vec(),
            triangles: mesh.triangles().to_vec(),
        }
    }

    #[test]
    fn collapsing_keeps_a_ring_a_closed_ring() {
        let mut ring = draft(&samples::torus(30.0, 10.0, 120, 60));
        let before = ring.triangles.len();
        collapse_edges(&mut ring, |_| 3.0);
        assert!(ring.triangles.len() < before / 2);
        assert_eq!(pinched_edges(&ring.triangles), 0);
        assert_eq!(topology::faulty_edges(&ring.triangles), []);
        assert_eq!(topology::genus(&ring.triangles), Some(1));
    }

    #[test]
    fn turning_edges_mends_slivers_and_nothing_else() {
        let mut ring = draft(&samples::torus(30.0, 10.0, 40, 60));
        assert_eq!(turn_edges(&mut ring, 4), 0, "all angles are fair");
        // Sheared one way on one side of the tube and the other way on the other, some quads want
        // their other diagonal.
        let mut ring = draft(&samples::torus(30.0, 10.0, 40, 20));
        for p in &mut ring.vertices {
            let rho = p.x.hypot(p.y);
            let angle = p.y.atan2(p.x) + 0.4 * p.z.atan2(rho - 30.0).sin();
            (p.x, p.y) = (rho * angle.cos(), rho * angle.sin());
        }
        assert!(turn_edges(&mut ring, 8) > 0);
        assert_eq!(topology::faulty_edges(&ring.triangles), []);
        assert_eq!(topology::genus(&ring.triangles), Some(1));
    }

    #[test]
    fn splitting_makes_four_of_each_and_stays_closed() {
        let mut ball = draft(&samples::sphere(10.0, 2));
        let before = ball.triangles.len();
        split(&mut ball);
        assert_eq!(ball.triangles.len(), 4 * before);
        assert_eq!(topology::genus(&ball.triangles), Some(0));
    }
}
