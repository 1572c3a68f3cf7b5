//! A bone under the reamers: its own triangles that are still whole, and those that cuts have made.

use std::f64::consts::FRAC_PI_8;

use nalgebra::Point3;

use super::clip::{Clip, RimEdge};
use super::lattice;
use super::patch::Patch;
use super::tool::{ON, Tool};
use super::{CutFailed, Labelled, Origin, Problem, Tolerance};
use crate::intersections::passes_through;
use crate::sum::Sum;
use crate::{Bullet, Solid, TriMesh};

/// What each attempt at a cut does otherwise than asked, after one that came out faulty.
const ATTEMPTS: [Attempt; 6] = [
    Attempt::with(1.0, 0.0),
    Attempt::with(1.0, 3.1e-5),
    Attempt::with(0.61, 5.3e-5),
    Attempt::with(0.29, 7.7e-5),
    Attempt::with(0.11, 8.9e-5),
    Attempt::with(0.037, 9.7e-5),
];

/// How much finer the chords are, and how much larger the tool is taken, in mm: vertices and faces of
/// the bone that lie on its surface then no longer do.
struct Attempt {
    finer: f64,
    larger: f64,
}

impl Attempt {
    const fn with(finer: f64, larger: f64) -> Self {
        Self { finer, larger }
    }
}

/// A triangle of the work, and where it comes from.
#[derive(Clone, Copy, Debug)]
pub(super) struct Facet {
    pub(super) corners: [u32; 3],
    pub(super) origin: Origin,
}

#[derive(Clone)]
pub(super) struct Work<'a> {
    solid: &'a Solid,
    points: Vec<Point3<f64>>,
    /// For each triangle of the bone, whether it is still whole.
    whole: Vec<bool>,
    /// Pieces of the bone's surface and walls of cavities.
    made: Vec<Facet>,
    tools: Vec<Tool>,
    bound: Sum,
}

/// What one reamer changes.
struct Change {
    kept: Vec<Facet>,
    inside: Vec<Facet>,
    touched: Vec<usize>,
    wall: Vec<Facet>,
    bound: f64,
}

impl<'a> Work<'a> {
    pub(super) fn on(solid: &'a Solid) -> Self {
        Self {
            solid,
            points: solid.mesh().vertices().to_vec(),
            whole: vec![true; solid.mesh().triangles().len()],
            made: Vec::new(),
            tools: Vec::new(),
            bound: Sum::default(),
        }
    }

    pub(super) fn error_bound(&self) -> f64 {
        self.bound.total()
    }

    /// Takes a bullet away; gives what it removes, closed by the wall of its cavity.
    pub(super) fn cut(
        &mut self,
        bullet: &Bullet,
        reamer: usize,
        tolerance: Tolerance,
    ) -> Result<Option<Labelled>, CutFailed> {
        let tool = Tool::new(bullet, ATTEMPTS[ATTEMPTS.len() - 1].larger);
        let tree = self.solid.tree();
        let mut in_reach = tree.triangles_where(|b| tool.touches(b));
        in_reach.retain(|&t| self.whole[t as usize]);
        let (near, far): (Vec<_>, Vec<_>) = std::mem::take(&mut self.made)
            .into_iter()
            .partition(|facet| self.touches(&tool, facet));
        let triangles = self.solid.mesh().triangles();
        let own = in_reach.iter().map(|&t| Facet {
            corners: triangles[t as usize],
            origin: Origin::Bone(t),
        });
        let facets: Vec<Facet> = own.chain(near.iter().copied()).collect();
        let points = self.points.len();
        let mut last = Problem::Inconsistent;
        let done = ATTEMPTS.iter().find_map(|Attempt { finer, larger }| {
            self.points.truncate(points);
            let tool = Tool::new(bullet, *larger);
            let attempt = self.attempt(&tool, &facets, tolerance.mm() * finer, reamer);
            let change = attempt.map_err(|problem| last = problem).ok()?;
            Some((tool, change))
        });
        self.made = far;
        let Some((tool, change)) = done else {
            self.points.truncate(points);
            self.made.extend(near);
            return Err(CutFailed {
                reamer,
                problem: last,
            });
        };
        let mut touched = change.touched.iter().copied().peekable();
        for (index, facet) in facets.iter().enumerate() {
            if touched.next_if_eq(&index).is_some() {
                if let Some(&t) = in_reach.get(index) {
                    self.whole[t as usize] = false;
                }
            } else if index >= in_reach.len() {
                self.made.push(*facet);
            }
        }
        self.made.extend(change.kept.iter().chain(&change.wall));
        self.bound.add(change.bound);
        self.tools.push(tool);
        let lid = change.wall.iter().map(|facet| {
            let [a, b, c] = facet.corners;
            Facet {
                corners: [a, c, b],
                ..*facet
            }
        });
        Ok(labelled(
            &self.points,
            change.inside.iter().copied().chain(lid),
        ))
    }

    fn touches(&self, tool: &Tool, facet: &Facet) -> bool {
        let [a, b, c] = facet.corners.map(|id| self.points[id as usize]);
        tool.level(&a) <= (b - a).norm().max((c - a).norm()) + ON
    }

    fn attempt(
        &mut self,
        tool: &Tool,
        facets: &[Facet],
        tolerance: f64,
        reamer: usize,
    ) -> Result<Change, Problem> {
        let (parted, rim) = Clip::new(tool, tolerance, &mut self.points).run(facets)?;
        let (solid, tools) = (self.solid, &self.tools);
        let in_bone = |p: &Point3<f64>| {
            solid.winding(p) > 0 && tools.iter().all(|earlier| earlier.level(p) > 0.0)
        };
        let spacing = lattice::spacing(tool.radius, tolerance);
        let wall = Patch::triangles(tool, &rim, &mut self.points, spacing, in_bone)?;
        let bound = self.bound(tool, &wall, &rim);
        let origin = Origin::Reamer(reamer);
        let facet = |corners| Facet { corners, origin };
        let wall: Vec<_> = wall.into_iter().map(facet).collect();
        if self.crosses(&wall, &parted.kept, &rim) {
            return Err(Problem::Crossing);
        }
        Ok(Change {
            kept: parted.kept,
            inside: parted.inside,
            touched: parted.touched,
            wall,
            bound,
        })
    }

    /// Whether the wall passes through the pieces that stay at its rim. All else lies outside the
    /// tool, and the wall, seen whole from one point, does not pass through itself.
    fn crosses(&self, wall: &[Facet], kept: &[Facet], rim: &[RimEdge]) -> bool {
        let mut on_rim: Vec<u32> = rim.iter().flat_map(|edge| edge.ends).collect();
        on_rim.sort_unstable();
        on_rim.dedup();
        let at_rim = |facet: &&Facet| {
            let on = |id: &&u32| on_rim.binary_search(id).is_ok();
            facet.corners.iter().filter(on).count() >= 2
        };
        let beside: Vec<Facet> = kept.iter().filter(at_rim).copied().collect();
        let all = wall.iter().chain(&beside).copied();
        let found = labelled(&self.points, all);
        found.is_some_and(|found| passes_through(&found.mesh, wall.len()))
    }

    /// The most volume that can lie between the wall and the tool's true surface, in mm³.
    fn bound(&self, tool: &Tool, wall: &[[u32; 3]], rim: &[RimEdge]) -> f64 {
        let depth = |corners: &[u32; 3]| tool.depth(&corners.map(|id| self.points[id as usize]));
        let under = wall.iter().map(|corners| {
            let [a, b, c] = corners.map(|id| self.points[id as usize]);
            depth(corners) * (b - a).cross(&(c - a)).norm() / 2.0
        });
        // Beyond each chord of the rim, at most half a disc lies between it and its arc.
        let beyond = rim.iter().map(|edge| {
            let [u, v] = edge.ends;
            let length = (self.points[u as usize] - self.points[v as usize]).norm();
            depth(&[u, v, v]) * FRAC_PI_8 * length * length
        });
        under.chain(beyond).collect::<Sum>().total()
    }

    /// The bone as it is now; `None` when nothing is left.
    pub(super) fn left(&self) -> Option<Labelled> {
        let triangles = self.solid.mesh().triangles();
        let numbers = (0u32..).zip(triangles);
        if self.made.is_empty() && self.whole.iter().all(|whole| *whole) {
            return Some(Labelled {
                mesh: self.solid.mesh().clone(),
                origins: numbers.map(|(t, _)| Origin::Bone(t)).collect(),
            });
        }
        let whole = numbers.filter(|(t, _)| self.whole[*t as usize]);
        let whole = whole.map(|(t, &corners)| Facet {
            corners,
            origin: Origin::Bone(t),
        });
        labelled(&self.points, whole.chain(self.made.iter().copied()))
    }
}

/// The facets as a mesh of their own, vertices in the order they had; `None` when there are no facets.
fn labelled(points: &[Point3<f64>], facets: impl Iterator<Item = Facet>) -> Option<Labelled> {
    let (mut triangles, origins): (Vec<_>, Vec<_>) =
        facets.map(|facet| (facet.corners, facet.origin)).unzip();
    // First which vertices are used, then the number of each among those.
    let mut numbers = vec![0u32; points.len()];
    for id in triangles.iter().flatten() {
        numbers[*id as usize] = 1;
    }
    let mut vertices = Vec::new();
    for (number, p) in numbers.iter_mut().zip(points) {
        if *number == 1 {
            *number = u32::try_from(vertices.len()).unwrap_or(u32::MAX);
            vertices.push(*p);
        }
    }
    for corners in &mut triangles {
        *corners = corners.map(|id| numbers[id as usize]);
    }
    let mesh = TriMesh::new(vertices, triangles).ok()?;
    Some(Labelled { mesh, origins })
}
