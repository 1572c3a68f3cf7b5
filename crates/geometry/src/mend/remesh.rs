//! The same surface in triangles of one size.
//!
//! Long edges are parted, short ones collapsed, others turned, corners evened out and put back on the
//! surface they came from, a few times over (after Botsch & Kobbelt 2004, Eurographics Symposium on
//! Geometry Processing, 185).

use nalgebra::{Point3, Vector3};

use super::collapse::{collapse, is_inner, neighbours};
use super::nearest::Surface;
use super::soup::{Soup, area_vector, index};
use crate::mesh::TriMesh;

/// Edges longer than this many times the length wanted are parted, shorter than that collapsed: both
/// leave edges nearer to it.
const LONG: f64 = 4.0 / 3.0;
const SHORT: f64 = 4.0 / 5.0;

/// Rounds after which triangles no longer change much.
const ROUNDS: usize = 5;

/// Corners where the surface bends by more than this cosine's angle (53°) stay: the ridge is meant.
const RIDGE: f64 = 0.6;

/// The surface with edges of about `edge` mm. `None` where nothing is left at that size.
pub(super) fn remeshed(mesh: &TriMesh, edge: f64) -> Option<TriMesh> {
    let surface = Surface::of(mesh);
    let mut soup = Soup::of(mesh);
    for _ in 0..ROUNDS {
        while part_long(&mut soup, LONG * edge) {}
        collapse_short(&mut soup, edge);
        turn(&mut soup);
        even_out(&mut soup, &surface);
    }
    soup.into_mesh().ok()
}

/// Parts all edges longer than `most` in the middle; whether there were any.
fn part_long(soup: &mut Soup, most: f64) -> bool {
    let mut middles = vec![[None; 3]; soup.triangles.len()];
    let mut new = Vec::new();
    for group in soup.edges().groups() {
        let ends = [group[0].0, group[0].1];
        let [a, b] = ends.map(|v| soup.at(v));
        if (b - a).norm() <= most {
            continue;
        }
        let number = index(soup.vertices.len() + new.len());
        new.push(nalgebra::center(&a, &b));
        for &(_, _, code) in group {
            let t = (code >> 1) as usize;
            if let Some(side) = super::soup::side_between(soup.triangles[t], ends) {
                middles[t][side] = Some(number);
            }
        }
    }
    if new.is_empty() {
        return false;
    }
    soup.vertices.extend(new);
    let old = std::mem::take(&mut soup.triangles);
    for (corners, middles) in old.into_iter().zip(middles) {
        parted(soup, corners, middles);
    }
    true
}

/// A triangle with some of its sides parted.
fn parted(soup: &mut Soup, [a, b, c]: [u32; 3], middles: [Option<u32>; 3]) {
    let triangles: &[[u32; 3]] = &match middles {
        [None, None, None] => vec![[a, b, c]],
        [Some(m), None, None] => vec![[a, m, c], [m, b, c]],
        [None, Some(m), None] => vec![[b, m, a], [m, c, a]],
        [None, None, Some(m)] => vec![[c, m, b], [m, a, b]],
        [Some(m), Some(n), None] => corner_cut(soup, [a, b, c], m, n),
        [None, Some(m), Some(n)] => corner_cut(soup, [b, c, a], m, n),
        [Some(n), None, Some(m)] => corner_cut(soup, [c, a, b], m, n),
        [Some(k), Some(m), Some(n)] => vec![[a, k, n], [k, b, m], [n, m, c], [k, m, n]],
    };
    soup.triangles.extend(triangles);
}

/// A triangle whose first two sides are parted at `m` and `n`: the corner between them, and what is left
/// along its shorter diagonal.
fn corner_cut(soup: &Soup, [a, b, c]: [u32; 3], m: u32, n: u32) -> Vec<[u32; 3]> {
    let length = |u: u32, v: u32| (soup.at(u) - soup.at(v)).norm();
    let mut triangles = vec![[m, b, n]];
    if length(a, n) < length(m, c) {
        triangles.extend([[a, m, n], [a, n, c]]);
    } else {
        triangles.extend([[a, m, c], [m, n, c]]);
    }
    triangles
}

/// Collapses edges shorter than wanted, the shortest first, unless that makes others too long.
fn collapse_short(soup: &mut Soup, edge: f64) {
    const PASSES: usize = 6;
    for _ in 0..PASSES {
        let ridges = ridges(soup);
        let fans = soup.fans();
        let mut short: Vec<(u64, [u32; 2])> = Vec::new();
        for group in soup.edges().groups().filter(|group| group.len() == 2) {
            let ends = [group[0].0, group[0].1];
            let long = (soup.at(ends[0]) - soup.at(ends[1])).norm();
            if long < SHORT * edge {
                // Lengths are positive: their bits are in their order.
                short.push((long.to_bits(), ends));
            }
        }
        short.sort_unstable();
        let mut busy = vec![false; soup.vertices.len()];
        let fits = |old: &[Point3<f64>; 3], new: &[Point3<f64>; 3]| {
            let [a, b, c] = new;
            let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
            let (old, new) = (area_vector(old), area_vector(new));
            longest < LONG * edge && new.dot(&old) > 0.5 * new.norm() * old.norm()
        };
        let mut gone = 0;
        for (_, [u, v]) in short {
            let ends = match [u, v].map(|v| ridges[v as usize]) {
                [true, true] => continue,
                [true, false] => [v, u],
                _ => [u, v],
            };
            gone += usize::from(collapse(soup, &fans, &mut busy, ends, fits));
        }
        soup.drop_collapsed();
        if gone == 0 {
            break;
        }
    }
    soup.drop_unused_vertices();
}

/// Whether the surface has a ridge or a border at each corner.
fn ridges(soup: &Soup) -> Vec<bool> {
    let mut ridges = vec![false; soup.vertices.len()];
    for group in soup.edges().groups() {
        let flat = match group {
            [one, other] => {
                let [s, t] = [one, other].map(|e| soup.area_vector(e.2 >> 1));
                s.dot(&t) > RIDGE * s.norm() * t.norm()
            }
            _ => false,
        };
        if !flat {
            ridges[group[0].0 as usize] = true;
            ridges[group[0].1 as usize] = true;
        }
    }
    ridges
}

/// Turns edges whose opposite angles exceed half a turn, where the surface is nearly flat.
fn turn(soup: &mut Soup) {
    const PASSES: usize = 4;
    for _ in 0..PASSES {
        if !turn_once(soup) {
            break;
        }
    }
}

fn turn_once(soup: &mut Soup) -> bool {
    let edges = soup.edges();
    let mut busy = vec![false; soup.triangles.len()];
    let mut made = std::collections::BTreeSet::new();
    for group in edges.groups() {
        let [one, other] = group else { continue };
        let ends = [one.0, one.1];
        let (s, t) = ((one.2 >> 1) as usize, (other.2 >> 1) as usize);
        if busy[s] || busy[t] {
            continue;
        }
        let Some((pair, across)) = turned(soup, ends, [s, t]) else {
            continue;
        };
        if edges.count_between(across[0], across[1]) == 0 && made.insert(across) {
            [soup.triangles[s], soup.triangles[t]] = pair;
            (busy[s], busy[t]) = (true, true);
        }
    }
    !made.is_empty()
}

/// Two triangles with their common side turned, and its new ends.
fn turned(soup: &Soup, ends: [u32; 2], [s, t]: [usize; 2]) -> Option<([[u32; 3]; 2], [u32; 2])> {
    let (first, second) = (soup.triangles[s], soup.triangles[t]);
    let apex = first.iter().position(|v| !ends.contains(v))?;
    let (c, a, b) = (first[apex], first[(apex + 1) % 3], first[(apex + 2) % 3]);
    let d = *second.iter().find(|v| !ends.contains(v))?;
    let angle = |tip: u32| (soup.at(a) - soup.at(tip)).angle(&(soup.at(b) - soup.at(tip)));
    if c == d || angle(c) + angle(d) < std::f64::consts::PI + 0.01 {
        return None;
    }
    let facing = |t: [u32; 3]| area_vector(&t.map(|v| soup.at(v)));
    let alike = |u: Vector3<f64>, v: &Vector3<f64>| u.dot(v) > 0.9 * u.norm() * v.norm();
    let old = facing(first) + facing(second);
    let pair = [[c, a, d], [c, d, b]];
    // Turning a ridge would cut it off, though the new triangles lie alike.
    let flat = alike(facing(first), &facing(second));
    let kept = flat && pair.iter().all(|&n| alike(facing(n), &old));
    kept.then_some((pair, [c.min(d), c.max(d)]))
}

/// Moves each corner along the surface toward the middle of its neighbours, and back onto the surface.
fn even_out(soup: &mut Soup, surface: &Surface) {
    use rayon::prelude::*;
    let (fans, ridges) = (soup.fans(), ridges(soup));
    let moved = |v: u32| {
        let at = soup.at(v);
        if ridges[v as usize] || !is_inner(soup, &fans, v) {
            return at;
        }
        let around = neighbours(soup, &fans, v);
        let sum: Vector3<f64> = around.iter().map(|&u| soup.at(u).coords).sum();
        let way = sum / f64::from(index(around.len().max(1))) - at.coords;
        let normal: Vector3<f64> = fans.around(v).iter().map(|&t| soup.area_vector(t)).sum();
        let normal = normal.try_normalize(f64::MIN_POSITIVE).unwrap_or_default();
        surface.nearest(&(at + way - normal * normal.dot(&way)))
    };
    let numbers = 0..index(soup.vertices.len());
    soup.vertices = numbers.into_par_iter().map(moved).collect();
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use crate::solid::Solid;
    use crate::topology;

    fn lengths(mesh: &TriMesh) -> Vec<f64> {
        let all = 0..mesh.triangles().len();
        let of = |t: usize| {
            let [a, b, c] = mesh.corners(t);
            [(b - a).norm(), (c - b).norm(), (a - c).norm()]
        };
        let mut lengths: Vec<f64> = all.flat_map(of).collect();
        lengths.sort_by(f64::total_cmp);
        lengths
    }

    #[test]
    fn a_ring_keeps_its_shape_and_gets_edges_of_one_length() {
        let ring = samples::torus(30.0, 10.0, 96, 24);
        for edge in [1.5, 4.0] {
            let mesh = remeshed(&ring, edge).unwrap();
            assert_eq!(topology::genus(mesh.triangles()), Some(1));
            let lengths = lengths(&mesh);
            let share = |k: usize| lengths[lengths.len() * k / 100];
            assert!(
                share(2) > 0.5 * edge && share(98) < 1.6 * edge,
                "{} {}",
                share(2),
                share(98)
            );
            let off = mesh.volume() / ring.volume() - 1.0;
            assert!(off.abs() < 0.01 * edge, "{edge}: {off}");
            assert!(Solid::try_from(mesh).is_ok());
        }
    }

    #[test]
    fn a_box_keeps_its_corners() {
        let block = samples::cuboid([20.0, 30.0, 10.0]);
        let mesh = remeshed(&block, 2.0).unwrap();
        assert!(mesh.triangles().len() > 800);
        assert!((mesh.volume() / 6000.0 - 1.0).abs() < 1e-9);
    }
}
