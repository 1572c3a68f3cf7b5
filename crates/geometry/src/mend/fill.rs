//! A lid for a hole: the least surface over its border, made as fine as the mesh around and bent on as
//! that runs in.
//!
//! The least surface is found by dynamic programming over the border (after Barequet & Sharir 1995,
//! Computer Aided Geometric Design 12:207), made finer and smoothed as Liepa does (2003, Eurographics
//! Symposium on Geometry Processing, 200): triangles are parted in the middle until they are as fine as
//! the border, edges are turned to suit, and new corners go where the surface bends least.

use std::collections::{BTreeMap, BTreeSet};

use nalgebra::{Point3, Vector3};

use super::soup::{Fans, Soup, area_vector, index};

/// Borders with more corners are cut in two first: the time taken grows with the cube of their number.
const MOST_AT_ONCE: usize = 240;

/// A lid is bent on as the surface around it runs where that meets the border at less than this angle to
/// the lid (60°); where it runs in more steeply, as at a bone cut through, the lid is flat.
const RUNS_ON: f64 = std::f64::consts::FRAC_PI_3;

/// How a hole was closed.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Lid {
    /// With the least surface over its border.
    Flat,
    /// With a surface that goes on from the one around it.
    Bent,
}

/// What the lid of a hole adds to a mesh: corners to come after the mesh's own, and triangles.
pub(super) struct Patch {
    pub(super) vertices: Vec<Point3<f64>>,
    pub(super) triangles: Vec<[u32; 3]>,
    pub(super) lid: Lid,
    /// How far a bent lid stands off the flat one, in mm.
    pub(super) bulge: f64,
    /// How many corners the mesh had: those of the patch are numbered from there.
    pub(super) base: u32,
}

/// A lid over `border`, a chain in the order of the triangles beside it; `None` where it has less than
/// three corners.
pub(super) fn lid(soup: &Soup, fans: &Fans, border: &[u32], wanted: Lid) -> Option<Patch> {
    if border.len() < 3 {
        return None;
    }
    // The lid's sides run against those of the triangles beside it.
    let ring: Vec<u32> = border.iter().rev().copied().collect();
    let points: Vec<_> = ring.iter().map(|&v| soup.at(v)).collect();
    let joined = |i: usize, j: usize| are_joined(soup, fans, ring[i], ring[j]);
    let flat = spanned(&points, &joined);
    let mut draft = Draft::over(soup, &ring, flat);
    draft.refine();
    let slope = (wanted == Lid::Bent).then(|| draft.slope(soup, fans));
    let slope = slope.flatten().filter(|slope| *slope < RUNS_ON);
    let bulge = slope.and_then(|slope| super::fair::bend(&mut draft, soup, fans, slope));
    let base = ring.len();
    let number = |v: u32| match ring.get(v as usize) {
        Some(&old) => old,
        None => index(soup.vertices.len()) + v - index(base),
    };
    Some(Patch {
        vertices: draft.vertices[base..].to_vec(),
        triangles: draft.triangles.iter().map(|t| t.map(number)).collect(),
        lid: bulge.map_or(Lid::Flat, |_| Lid::Bent),
        bulge: bulge.unwrap_or(0.0),
        base: index(soup.vertices.len()),
    })
}

fn are_joined(soup: &Soup, fans: &Fans, u: u32, v: u32) -> bool {
    let of_u = fans.around(u).iter();
    of_u.copied()
        .any(|t| soup.triangles[t as usize].contains(&v))
}

/// Triangles over a closed chain of points, as indices into it.
fn spanned(points: &[Point3<f64>], joined: &impl Fn(usize, usize) -> bool) -> Vec<[u32; 3]> {
    let mut triangles = Vec::with_capacity(points.len() - 2);
    let mut todo = vec![(0..points.len()).collect::<Vec<_>>()];
    while let Some(ring) = todo.pop() {
        if ring.len() > MOST_AT_ONCE {
            todo.extend(halved(points, &ring, joined));
        } else {
            least(points, &ring, joined, &mut triangles);
        }
    }
    triangles
}

/// Cuts a ring in two between the corners that are nearest to each other for their way along the ring.
fn halved(
    points: &[Point3<f64>],
    ring: &[usize],
    joined: &impl Fn(usize, usize) -> bool,
) -> [Vec<usize>; 2] {
    let (mut best, mut cut) = (f64::INFINITY, (0, ring.len() / 2));
    for i in 0..ring.len() {
        for j in i + 2..ring.len() {
            let way = (j - i).min(ring.len() - (j - i));
            if 5 * way < ring.len() || joined(ring[i], ring[j]) {
                continue;
            }
            let apart = (points[ring[i]] - points[ring[j]]).norm();
            if apart < best {
                (best, cut) = (apart, (i, j));
            }
        }
    }
    let (i, j) = cut;
    let inner = ring[i..=j].to_vec();
    let outer = ring[j..].iter().chain(&ring[..=i]).copied().collect();
    [inner, outer]
}

/// The triangulation of a ring that has the least area; of those alike the one with shorter edges.
fn least(
    points: &[Point3<f64>],
    ring: &[usize],
    joined: &impl Fn(usize, usize) -> bool,
    triangles: &mut Vec<[u32; 3]>,
) {
    /// Square of a new edge's length against area: decides between lids alike in area.
    const EDGE: f64 = 1e-3;
    /// A second edge between corners that have one would not be closed.
    const TAKEN: f64 = 1e12;
    let n = ring.len();
    let at = |i: usize| points[ring[i]];
    let mut cost = vec![0.0_f64; n * n];
    let mut tip = vec![0_usize; n * n];
    for span in 2..n {
        for i in 0..n - span {
            let j = i + span;
            let outermost = i == 0 && j == n - 1;
            let taken = !outermost && joined(ring[i], ring[j]);
            let own = EDGE * (at(i) - at(j)).norm_squared() + if taken { TAKEN } else { 0.0 };
            let mut best = f64::INFINITY;
            for k in i + 1..j {
                let area = area_vector(&[at(i), at(k), at(j)]).norm();
                let sum = cost[i * n + k] + cost[k * n + j] + area;
                if sum < best {
                    best = sum;
                    tip[i * n + j] = k;
                }
            }
            cost[i * n + j] = best + own;
        }
    }
    let mut todo = vec![(0, n - 1)];
    while let Some((i, j)) = todo.pop() {
        if j - i >= 2 {
            let k = tip[i * n + j];
            triangles.push([i, k, j].map(|c| index(ring[c])));
            todo.extend([(i, k), (k, j)]);
        }
    }
}

/// A lid being made: the border's corners come first.
pub(super) struct Draft {
    pub(super) vertices: Vec<Point3<f64>>,
    pub(super) triangles: Vec<[u32; 3]>,
    /// The border's corners as the mesh numbers them, in the lid's order.
    pub(super) ring: Vec<u32>,
    /// How long edges should be at each corner, in mm.
    length: Vec<f64>,
}

impl Draft {
    fn over(soup: &Soup, ring: &[u32], triangles: Vec<[u32; 3]>) -> Self {
        let n = ring.len();
        let at = |i: usize| soup.at(ring[i % n]);
        let side = |i: usize| (at(i) - at(i + 1)).norm();
        Self {
            vertices: (0..n).map(at).collect(),
            triangles,
            ring: ring.to_vec(),
            length: (0..n).map(|i| 0.5 * (side(i) + side(i + n - 1))).collect(),
        }
    }

    /// Parts triangles and turns edges until the lid is as fine as its border.
    fn refine(&mut self) {
        /// A lid as fine as its border needs about as many rounds as the border's length has doublings.
        const ROUNDS: usize = 24;
        /// More triangles than this for each corner of the border are never needed.
        const MOST: usize = 200;
        for _ in 0..ROUNDS {
            let parted = self.part();
            self.turn_edges();
            if !parted || self.triangles.len() > MOST * self.ring.len() {
                break;
            }
        }
    }

    /// Parts triangles in three that are larger than their corners ask for; whether there were any.
    fn part(&mut self) -> bool {
        let mut parted = false;
        for t in 0..self.triangles.len() {
            let corners = self.triangles[t];
            let [a, b, c] = corners.map(|v| self.vertices[v as usize]);
            let middle = Point3::from((a.coords + b.coords + c.coords) / 3.0);
            let wanted = corners.map(|v| self.length[v as usize]).iter().sum::<f64>() / 3.0;
            let large = corners.iter().all(|&v| {
                let far = std::f64::consts::SQRT_2 * (self.vertices[v as usize] - middle).norm();
                far > wanted && far > self.length[v as usize]
            });
            if large {
                let new = index(self.vertices.len());
                self.vertices.push(middle);
                self.length.push(wanted);
                let [a, b, c] = corners;
                self.triangles[t] = [a, b, new];
                self.triangles.extend([[b, c, new], [c, a, new]]);
                parted = true;
            }
        }
        parted
    }

    /// Turns inner edges whose opposite angles exceed half a turn.
    fn turn_edges(&mut self) {
        const PASSES: usize = 10;
        for _ in 0..PASSES {
            if !self.turn_once() {
                break;
            }
        }
    }

    fn turn_once(&mut self) -> bool {
        let mut beside: BTreeMap<[u32; 2], Vec<usize>> = BTreeMap::new();
        for (t, &[a, b, c]) in self.triangles.iter().enumerate() {
            for (u, v) in [(a, b), (b, c), (c, a)] {
                beside.entry([u.min(v), u.max(v)]).or_default().push(t);
            }
        }
        let mut busy = vec![false; self.triangles.len()];
        let mut turned = BTreeSet::new();
        for (edge, triangles) in &beside {
            let &[s, t] = triangles.as_slice() else {
                continue;
            };
            if busy[s] || busy[t] {
                continue;
            }
            if let Some((pair, across)) = self.turned_pair(*edge, s, t)
                && !beside.contains_key(&across)
                && !turned.contains(&across)
            {
                (self.triangles[s], self.triangles[t]) = pair;
                (busy[s], busy[t]) = (true, true);
                turned.insert(across);
            }
        }
        !turned.is_empty()
    }

    fn turned_pair(
        &self,
        edge: [u32; 2],
        s: usize,
        t: usize,
    ) -> Option<(([u32; 3], [u32; 3]), [u32; 2])> {
        let first = self.triangles[s];
        let apex = first.iter().position(|v| !edge.contains(v))?;
        let (c, a, b) = (first[apex], first[(apex + 1) % 3], first[(apex + 2) % 3]);
        let d = *self.triangles[t].iter().find(|v| !edge.contains(v))?;
        let at = |v: u32| self.vertices[v as usize];
        let angle = |tip: u32| (at(a) - at(tip)).angle(&(at(b) - at(tip)));
        let flat = angle(c) + angle(d) > std::f64::consts::PI + 1e-6;
        let pair = ([c, a, d], [c, d, b]);
        let old = self.facing(first) + self.facing(self.triangles[t]);
        let kept = [pair.0, pair.1]
            .iter()
            .all(|&n| self.facing(n).dot(&old) > 0.0);
        (c != d && flat && kept).then_some((pair, [c.min(d), c.max(d)]))
    }

    fn facing(&self, t: [u32; 3]) -> Vector3<f64> {
        area_vector(&t.map(|v| self.vertices[v as usize]))
    }

    /// The angle at which the surface around runs into the lid: 0 where it runs on, a right angle where
    /// it comes up to it from one side. `None` where the lid faces nowhere.
    fn slope(&self, soup: &Soup, fans: &Fans) -> Option<f64> {
        let all = 0..self.triangles.len();
        let lid: Vector3<f64> = all.map(|t| self.facing(self.triangles[t])).sum();
        let lid = lid.try_normalize(f64::MIN_POSITIVE)?;
        let around = |&v: &u32| -> Vector3<f64> {
            fans.around(v).iter().map(|&t| soup.area_vector(t)).sum()
        };
        let (mut along, mut whole) = (0.0, 0.0);
        for facing in self.ring.iter().map(around) {
            along += facing.dot(&lid);
            whole += facing.norm();
        }
        (whole > 0.0).then(|| (along / whole).clamp(-1.0, 1.0).acos())
    }
}

#[cfg(test)]
mod tests {
    use super::super::holes::holes;
    use super::*;
    use crate::mesh::TriMesh;
    use crate::samples;
    use crate::solid::Solid;

    /// The mesh with lids over all its holes.
    fn closed(mesh: &TriMesh, wanted: Lid) -> (Solid, Vec<Lid>) {
        let mut soup = Soup::of(mesh);
        let mut lids = Vec::new();
        for hole in holes(mesh) {
            let fans = soup.fans();
            let patch = lid(&soup, &fans, &hole.border, wanted).unwrap();
            soup.vertices.extend(patch.vertices);
            soup.triangles.extend(patch.triangles);
            lids.push(patch.lid);
        }
        (Solid::try_from(soup.into_mesh().unwrap()).unwrap(), lids)
    }

    fn without(mesh: &TriMesh, gone: impl Fn(&Point3<f64>) -> bool) -> TriMesh {
        let all = 0..mesh.triangles().len();
        let kept = all.filter(|&t| !mesh.corners(t).iter().any(&gone));
        let triangles = kept.map(|t| mesh.triangles()[t]).collect();
        TriMesh::new(mesh.vertices().to_vec(), triangles).unwrap()
    }

    #[test]
    fn a_bent_lid_on_a_ball_is_part_of_the_ball() {
        let ball = samples::sphere(26.0, 5);
        let open = without(&ball, |p| p.z > 23.5);
        let (bent, lids) = closed(&open, Lid::Bent);
        assert_eq!(lids, [Lid::Bent]);
        let (flat, lids) = closed(&open, Lid::Flat);
        assert_eq!(lids, [Lid::Flat]);
        let lost = |solid: &Solid| (ball.volume() - solid.volume()).abs();
        assert!(
            lost(&bent) < 0.15 * lost(&flat),
            "{} {}",
            lost(&bent),
            lost(&flat)
        );
        let off = |p: &Point3<f64>| (p.coords.norm() - 26.0).abs();
        let farthest = bent.mesh().vertices().iter().map(off).fold(0.0, f64::max);
        assert!(farthest < 0.4, "{farthest}");
    }

    #[test]
    fn a_bone_cut_through_gets_a_flat_end() {
        let bar = samples::cuboid([10.0, 10.0, 40.0])
            .subdivided()
            .subdivided()
            .subdivided();
        let open = without(&bar, |p| p.z > 19.99);
        let top = open
            .vertices()
            .iter()
            .zip(0..)
            .filter(|(_, v)| open.triangles().iter().flatten().any(|u| u == v));
        let height = top.map(|(p, _)| p.z).fold(f64::MIN, f64::max);
        let (solid, lids) = closed(&open, Lid::Bent);
        assert_eq!(lids, [Lid::Flat]);
        assert!((solid.volume() - 100.0 * (height + 20.0)).abs() < 1e-6);
    }

    #[test]
    fn a_notched_border_is_spanned_without_folds() {
        // A flat star: the least lid is the star itself.
        let points: Vec<_> = (0..40_u32)
            .map(|i| {
                let turn = std::f64::consts::TAU * f64::from(i) / 40.0;
                let reach = if i % 2 == 0 { 10.0 } else { 6.0 };
                Point3::new(reach * turn.cos(), reach * turn.sin(), 0.0)
            })
            .collect();
        let triangles = spanned(&points, &|_, _| false);
        assert_eq!(triangles.len(), 38);
        let facing = |t: &[u32; 3]| area_vector(&t.map(|v| points[v as usize])).z;
        assert!(triangles.iter().all(|t| facing(t) > -1e-9));
        let area: f64 = triangles.iter().map(facing).sum();
        let star = 0.5 * 40.0 * 60.0 * (std::f64::consts::TAU / 40.0).sin();
        assert!((area - star).abs() < 1e-9);
    }

    #[test]
    fn a_long_border_is_cut_in_parts_and_closed_all_the_same() {
        for (height, most) in [(23.5, 2e-4), (20.0, 1e-3), (16.0, 3e-3)] {
            let ball = samples::sphere(26.0, 7);
            let open = without(&ball, |p| p.z > height);
            assert!(holes(&open)[0].border.len() > MOST_AT_ONCE / 2);
            let (bent, lids) = closed(&open, Lid::Bent);
            let off = bent.volume() / ball.volume() - 1.0;
            assert_eq!(lids, [Lid::Bent]);
            assert!(off.abs() < most, "{off}");
        }
    }
}
