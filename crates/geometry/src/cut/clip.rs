//! The bone's triangles parted at a tool's surface.
//!
//! A bullet is convex, so that it meets an edge in one stretch and a triangle in one convex region.
//! Every edge that dips into it with both ends outside, and every triangle pierced in its middle, is
//! first split at a point inside it; each piece is then parted by a single arc of the tool's surface,
//! replaced by chords of it. What is found on an edge is found once for both its triangles, so that
//! they keep fitting together.

use std::collections::HashMap;

use nalgebra::{Point3, Vector3};

use super::edges::EdgeMap;
use super::tool::{ON, Side, Tool};
use super::{Facet, Problem};

/// The most times that an arc is halved; 2¹² chords are far finer than any tolerance asks for.
const MOST_HALVINGS: u32 = 12;

/// How steeply an arc may leave its chord: what lies between them is then well within the ball over
/// the chord, where no other vertex of the wall is put.
const STEEPEST: f64 = 1.0;

/// The shortest chord that is split further, in mm.
const SHORTEST: f64 = 1e-5;

/// A piece of the curve where a tool's surface leaves the bone, directed as the wall of the cavity
/// beside it runs.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub(super) struct RimEdge {
    pub(super) ends: [u32; 2],
    /// Whether it lies on the tool's flat end rather than its round side.
    pub(super) on_top: bool,
}

/// The bone parted by one tool.
#[derive(Default)]
pub(super) struct Parted {
    /// Pieces of split triangles that stay.
    pub(super) kept: Vec<Facet>,
    /// Whole triangles and pieces inside the tool.
    pub(super) inside: Vec<Facet>,
    /// Which of the triangles given are no longer whole, or gone.
    pub(super) touched: Vec<usize>,
}

pub(super) struct Clip<'a> {
    tool: &'a Tool,
    tolerance: f64,
    points: &'a mut Vec<Point3<f64>>,
    sides: HashMap<u32, Side>,
    dips: EdgeMap<Option<u32>>,
    crossings: EdgeMap<u32>,
    on_top: EdgeMap<bool>,
    parted: Parted,
}

impl<'a> Clip<'a> {
    pub(super) fn new(tool: &'a Tool, tolerance: f64, points: &'a mut Vec<Point3<f64>>) -> Self {
        Self {
            tool,
            tolerance,
            points,
            sides: HashMap::new(),
            dips: EdgeMap::default(),
            crossings: EdgeMap::default(),
            on_top: EdgeMap::default(),
            parted: Parted::default(),
        }
    }

    /// Parts all the facets; gives the pieces and the rim between those that stay and those inside.
    pub(super) fn run(mut self, facets: &[Facet]) -> Result<(Parted, Vec<RimEdge>), Problem> {
        for (index, facet) in facets.iter().enumerate() {
            if self.part(facet) {
                self.parted.touched.push(index);
            }
        }
        let rim = self.rim()?;
        Ok((self.parted, rim))
    }

    fn point(&self, id: u32) -> Point3<f64> {
        self.points[id as usize]
    }

    fn add(&mut self, p: Point3<f64>, side: Side) -> u32 {
        let id = u32::try_from(self.points.len()).unwrap_or(u32::MAX);
        self.points.push(p);
        self.sides.insert(id, side);
        id
    }

    fn side(&mut self, id: u32) -> Side {
        let (tool, p) = (self.tool, self.point(id));
        *self.sides.entry(id).or_insert_with(|| tool.side(&p))
    }

    /// Parts one facet; whether it is changed.
    fn part(&mut self, facet: &Facet) -> bool {
        let ids = facet.corners;
        let sides = ids.map(|id| self.side(id));
        if !sides.contains(&Side::Out) && sides.contains(&Side::In) {
            self.parted.inside.push(*facet);
            return true;
        }
        let dips = [0, 1, 2].map(|k| self.dip(ids[k], ids[(k + 1) % 3]));
        let pieces = split(ids, dips);
        if pieces.len() == 1 && !sides.contains(&Side::In) {
            return self.part_untouched(facet);
        }
        for corners in pieces {
            self.part_simple(Facet { corners, ..*facet });
        }
        true
    }

    /// A facet with no corner inside and no edge dipping in.
    fn part_untouched(&mut self, facet: &Facet) -> bool {
        let corners = facet.corners.map(|id| self.point(id));
        if let Some(p) = self.tool.pierced(&corners) {
            let middle = self.add(p, Side::In);
            let [a, b, c] = facet.corners;
            for corners in [[a, b, middle], [b, c, middle], [c, a, middle]] {
                self.part_simple(Facet { corners, ..*facet });
            }
            return true;
        }
        let all_on = facet.corners.iter().all(|id| self.sides[id] == Side::On);
        let centre = Point3::from(corners.iter().map(|p| p.coords / 3.0).sum::<Vector3<f64>>());
        if all_on && self.tool.level(&centre) < -ON {
            self.parted.inside.push(*facet);
            return true;
        }
        false
    }

    /// The point that splits an edge which dips into the tool between ends that are not inside.
    fn dip(&mut self, a: u32, b: u32) -> Option<u32> {
        if self.side(a) == Side::In || self.side(b) == Side::In {
            return None;
        }
        let key = [a.min(b), a.max(b)];
        if let Some(found) = self.dips.get(&key) {
            return *found;
        }
        let middle = self.tool.dip(&self.point(key[0]), &self.point(key[1]));
        let id = middle.map(|p| self.add(p, Side::In));
        self.dips.insert(key, id);
        id
    }

    /// Where the edge between a point inside and one that is not leaves the tool.
    fn crossing(&mut self, inside: u32, other: u32) -> u32 {
        if self.side(other) == Side::On {
            return other;
        }
        let key = [inside, other];
        if let Some(found) = self.crossings.get(&key) {
            return *found;
        }
        let p = self.tool.crossing(&self.point(inside), &self.point(other));
        let id = self.add(p, Side::On);
        self.crossings.insert(key, id);
        id
    }

    /// Parts a facet whose edges the tool's surface crosses once at most.
    fn part_simple(&mut self, facet: Facet) {
        let sides = facet.corners.map(|id| self.side(id));
        let count = |side: Side| sides.iter().filter(|&&s| s == side).count();
        match (count(Side::In), count(Side::Out)) {
            (0, _) => self.parted.kept.push(facet),
            (_, 0) => self.parted.inside.push(facet),
            (_, 1) => self.part_at_outer(facet, turned(facet.corners, sides, Side::Out)),
            _ => self.part_at_inner(facet, turned(facet.corners, sides, Side::In)),
        }
    }

    /// A facet of which the first corner alone is outside.
    fn part_at_outer(&mut self, facet: Facet, [v, a, b]: [u32; 3]) {
        let inner = [a, b].map(|id| (id, self.side(id) == Side::In));
        let [start, end] = inner.map(|(id, inside)| if inside { self.crossing(id, v) } else { id });
        let arc = self.arc(facet.corners, [start, end], v);
        for pair in arc.windows(2) {
            let corners = [v, pair[0], pair[1]];
            self.parted.kept.push(Facet { corners, ..facet });
        }
        let within = inner
            .iter()
            .filter(|(_, inside)| *inside)
            .map(|(id, _)| *id);
        let outline: Vec<u32> = within.chain(arc.iter().rev().copied()).collect();
        self.push_inside(facet, &outline);
    }

    /// A facet of which the first corner alone is inside, the others outside.
    fn part_at_inner(&mut self, facet: Facet, [a, b, c]: [u32; 3]) {
        let (start, end) = (self.crossing(a, b), self.crossing(a, c));
        let arc = self.arc(facet.corners, [start, end], b);
        let outline: Vec<u32> = std::iter::once(a).chain(arc.iter().copied()).collect();
        self.push_inside(facet, &outline);
        // The arc's point nearest the far edge is seen from both its ends.
        let (from, along) = (self.point(b), self.point(c) - self.point(b));
        let away = |id: &u32| (self.point(*id) - from).cross(&along).norm_squared();
        let nearest = (0..arc.len()).min_by(|&i, &j| away(&arc[i]).total_cmp(&away(&arc[j])));
        let nearest = nearest.unwrap_or(0);
        let fans = arc.windows(2).enumerate();
        let fans = fans.map(|(i, pair)| [if i < nearest { b } else { c }, pair[1], pair[0]]);
        for corners in fans.chain([[b, c, arc[nearest]]]) {
            self.parted.kept.push(Facet { corners, ..facet });
        }
    }

    fn push_inside(&mut self, facet: Facet, outline: &[u32]) {
        for pair in outline[1..].windows(2) {
            let corners = [outline[0], pair[0], pair[1]];
            self.parted.inside.push(Facet { corners, ..facet });
        }
    }

    /// The chords of the arc that the tool's surface draws across a facet, as points from end to end;
    /// `outer` is a corner on its outer side.
    fn arc(&mut self, corners: [u32; 3], [start, end]: [u32; 2], outer: u32) -> Vec<u32> {
        let x = corners.map(|id| self.point(id));
        let normal = (x[1] - x[0]).cross(&(x[2] - x[0]));
        let chord = self.point(end) - self.point(start);
        let out = normal.cross(&chord);
        // Turned so that the outer side lies along normal × chord.
        let sign = out.dot(&(self.point(outer) - self.point(start))).signum();
        let normal = normal * sign;
        let mut stops = vec![start];
        for p in self.creases(&x, &normal, [start, end]) {
            stops.push(self.add(p, Side::On));
        }
        stops.push(end);
        let mut arc = vec![start];
        for pair in stops.windows(2) {
            self.refine(&normal, pair[0], pair[1], 0, &mut arc);
        }
        arc
    }

    /// The corners of the arc where it passes between the round side and the flat end.
    fn creases(
        &self,
        corners: &[Point3<f64>; 3],
        normal: &Vector3<f64>,
        ends: [u32; 2],
    ) -> Vec<Point3<f64>> {
        let found = self.tool.top.is_finite();
        let found = found.then(|| self.tool.on_crease(&corners[0], normal));
        let [start, end] = ends.map(|id| self.point(id));
        let chord = end - start;
        let facing = (corners[1] - corners[0]).cross(&(corners[2] - corners[0]));
        let within = |p: &Point3<f64>| {
            let turn = |k: usize| {
                let along = corners[(k + 1) % 3] - corners[k];
                along.cross(&(p - corners[k])).dot(&facing)
            };
            (0..3).all(|k| turn(k) > 0.0)
        };
        let apart = |p: &Point3<f64>| {
            let gap = (p - start).norm().min((p - end).norm());
            gap > SHORTEST && normal.cross(&chord).dot(&(p - start)) >= 0.0
        };
        let mut on_arc: Vec<_> = found
            .flatten()
            .into_iter()
            .flatten()
            .filter(|p| within(p) && apart(p))
            .collect();
        on_arc.sort_by(|p, q| chord.dot(&(p - start)).total_cmp(&chord.dot(&(q - start))));
        on_arc
    }

    /// Appends the points after `start` of the arc up to `end`.
    fn refine(
        &mut self,
        normal: &Vector3<f64>,
        start: u32,
        end: u32,
        halvings: u32,
        arc: &mut Vec<u32>,
    ) {
        let (from, chord) = (self.point(start), self.point(end) - self.point(start));
        let middle = from + chord / 2.0;
        let length = chord.norm();
        let outward = normal.cross(&chord).try_normalize(0.0);
        let exit = |share: f64| {
            let on_chord = from + share * chord;
            let (p, on_top) = outward.map_or((on_chord, false), |d| self.tool.exit(&on_chord, &d));
            (p, on_top, (p - on_chord).norm())
        };
        let (on_arc, on_top, rise) = exit(0.5);
        let steep = [0.1, 0.9]
            .iter()
            .any(|&share| exit(share).2 > STEEPEST * 0.1 * length);
        let deep = -self.tool.level(&middle) > self.tolerance || steep || rise > 0.2 * length;
        if deep && halvings < MOST_HALVINGS && length > SHORTEST {
            let between = self.add(on_arc, Side::On);
            self.refine(normal, start, between, halvings + 1, arc);
            self.refine(normal, between, end, halvings + 1, arc);
        } else {
            self.on_top.insert([start.min(end), start.max(end)], on_top);
            arc.push(end);
        }
    }

    /// The border of the pieces inside.
    fn rim(&self) -> Result<Vec<RimEdge>, Problem> {
        let mut border = EdgeMap::default();
        for facet in &self.parted.inside {
            for k in 0..3 {
                let (u, v) = (facet.corners[k], facet.corners[(k + 1) % 3]);
                if border.remove(&[v, u]).is_none() && border.insert([u, v], ()).is_some() {
                    return Err(Problem::Pinched);
                }
            }
        }
        let mut rim: Vec<_> = border
            .into_keys()
            .map(|ends| RimEdge {
                ends,
                on_top: self.is_on_top(ends),
            })
            .collect();
        rim.sort_unstable();
        Ok(rim)
    }

    fn is_on_top(&self, [u, v]: [u32; 2]) -> bool {
        let known = self.on_top.get(&[u.min(v), u.max(v)]);
        known.copied().unwrap_or_else(|| {
            let middle = self
                .tool
                .own(&nalgebra::center(&self.point(u), &self.point(v)));
            (middle.z - self.tool.top).abs() < SHORTEST
        })
    }
}

/// The corners turned so that the one on `side` comes first.
fn turned(ids: [u32; 3], sides: [Side; 3], side: Side) -> [u32; 3] {
    let first = sides.iter().position(|&s| s == side).unwrap_or(0);
    [0, 1, 2].map(|k| ids[(first + k) % 3])
}

/// A triangle split at points on some of its edges: `splits[k]` on the edge from corner k to k + 1.
fn split([a, b, c]: [u32; 3], splits: [Option<u32>; 3]) -> Vec<[u32; 3]> {
    match splits {
        [None, None, None] => vec![[a, b, c]],
        [Some(m), None, None] => vec![[a, m, c], [m, b, c]],
        [None, Some(m), None] => vec![[a, b, m], [a, m, c]],
        [None, None, Some(m)] => vec![[a, b, m], [m, b, c]],
        [Some(m), Some(n), None] => vec![[m, b, n], [a, m, n], [a, n, c]],
        [None, Some(m), Some(n)] => vec![[m, c, n], [b, m, n], [b, n, a]],
        [Some(n), None, Some(m)] => vec![[m, a, n], [c, m, n], [c, n, b]],
        [Some(l), Some(m), Some(n)] => vec![[a, l, n], [l, b, m], [m, c, n], [l, m, n]],
    }
}
