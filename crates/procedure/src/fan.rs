//! Rays from the centre of a tool over its round side: cast once, asked by everything that looks there.
//!
//! The rays lie on meridians of the rim's clock. Where what is seen changes along a meridian, the edge
//! is found by halving; where it changes from one meridian to the next, more of them are put between.
//! So areas and forces over the round side converge although bone ends abruptly.

use std::borrow::Cow;
use std::f64::consts::{FRAC_PI_2, TAU};

use cupwright_geometry::{Solid, crossing};
use nalgebra::{Unit, UnitVector3};
use rayon::prelude::*;

use crate::placed::{Placed, Tools};

/// How often the step between a ray and its neighbour is halved to find an edge: from 4.5° to 0.02°.
const HALVINGS: u32 = 8;

/// How many edges are looked for between a ray and its neighbour.
const MOST_EDGES: u32 = 4;

/// How often the step between a ray and its neighbour is halved where they are not close.
const FILLED: u32 = 4;

/// Rays nearer to each other than this, in radians, have none put between.
const NARROWEST: f64 = 0.002;

/// How often the step between two meridians is halved at most: from 5° to 0.08°.
const DEEPEST: u32 = 6;

/// How close the rays are.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Steps {
    /// Meridians around the clock.
    pub meridians: u16,
    /// Steps down each of them, from the pole to the edge.
    pub rings: u16,
}

impl Default for Steps {
    /// 5° around and 4.5° down: about 2 mm on a cup.
    fn default() -> Self {
        Self {
            meridians: 72,
            rings: 20,
        }
    }
}

impl Steps {
    /// The same with both steps halved.
    #[must_use]
    pub fn halved(self) -> Self {
        Self {
            meridians: self.meridians.saturating_mul(2),
            rings: self.rings.saturating_mul(2),
        }
    }
}

/// What to look for along rays.
pub(crate) trait Look: Sync {
    /// What is seen along one ray.
    type Seen: Copy + Send + Sync;

    /// What is seen toward a direction, where the bone before any reaming lies `inside`.
    fn see(&self, toward: &UnitVector3<f64>, inside: &[[f64; 2]]) -> Self::Seen;

    /// Whether two neighbours see the same kind of thing, so that what lies between is in between.
    fn same_kind(one: &Self::Seen, other: &Self::Seen) -> bool;

    /// Whether there is no edge to look for between two neighbours: none between kinds, nor any fold
    /// within a kind.
    fn alike(one: &Self::Seen, other: &Self::Seen) -> bool;

    /// Whether what lies between two neighbours that are alike may be taken as straight.
    fn close(one: &Self::Seen, other: &Self::Seen) -> bool;

    /// Share of the whole by which the measure between two meridians may be off before one is put between.
    fn may_be_off(&self) -> f64;

    /// The measure of a meridian for which its neighbours are to be close enough.
    fn measure(&self, seen: &[(f64, Self::Seen)]) -> f64;
}

/// One meridian.
#[derive(Clone, Debug)]
pub(crate) struct Meridian<S> {
    /// Its angle from 12 toward 3 o'clock, in radians.
    pub(crate) turn: f64,
    /// The angle around that it stands for.
    pub(crate) width: f64,
    /// What is seen, by angle from the pole, ascending; an edge is two neighbours that are not alike.
    pub(crate) seen: Vec<(f64, S)>,
}

/// Neighbours on a meridian that see the same kind of thing; at a fold or step, very close ones.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cell<S> {
    /// Angles from the pole, in radians.
    pub(crate) down: [f64; 2],
    /// What is seen at either.
    pub(crate) seen: [S; 2],
}

/// The cells of a meridian.
pub(crate) fn cells<L: Look>(seen: &[(f64, L::Seen)]) -> impl Iterator<Item = Cell<L::Seen>> {
    let pairs = seen.windows(2).map(|pair| Cell {
        down: [pair[0].0, pair[1].0],
        seen: [pair[0].1, pair[1].1],
    });
    pairs.filter(|cell| L::same_kind(&cell.seen[0], &cell.seen[1]))
}

/// Rays over the round side of a tool, with the bone along each.
#[derive(Clone)]
pub struct Fan<'a> {
    bone: &'a Solid,
    tool: Placed,
    steps: Steps,
    rays: Vec<Vec<[f64; 2]>>,
}

impl std::fmt::Debug for Fan<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Fan({} rays)", self.rays.len())
    }
}

/// The rays of several tools: those that share centre and axis share their rays.
#[derive(Debug)]
pub struct Fans<'a> {
    bone: &'a Solid,
    fans: Vec<Fan<'a>>,
}

impl<'a> Fans<'a> {
    /// The rays of every tool of a case.
    pub fn cast(bone: &'a Solid, tools: &Tools) -> Self {
        let mut fans: Vec<Fan<'a>> = Vec::new();
        for tool in tools.reamers.iter().chain([&tools.cup]) {
            if !fans.iter().any(|fan| fan.serves(tool)) {
                fans.push(Fan::cast(bone, tool, Steps::default()));
            }
        }
        Self { bone, fans }
    }

    /// The rays that serve a tool, cast anew where none of these do.
    pub fn of(&self, tool: &Placed) -> Cow<'_, Fan<'a>> {
        let known = self.fans.iter().find(|fan| fan.serves(tool));
        known.map_or_else(
            || Cow::Owned(Fan::cast(self.bone, tool, Steps::default())),
            Cow::Borrowed,
        )
    }
}

impl<'a> Fan<'a> {
    /// The rays that serve `tool` and every other with its centre and axis.
    pub fn cast(bone: &'a Solid, tool: &Placed, steps: Steps) -> Self {
        let steps = Steps {
            meridians: steps.meridians.max(4),
            rings: steps.rings.max(2),
        };
        let mut fan = Self {
            bone,
            tool: *tool,
            steps,
            rays: Vec::new(),
        };
        let each = usize::from(steps.rings) + 1;
        let all = usize::from(steps.meridians) * each;
        let ray = |k: usize| {
            let toward = fan.direction(fan.turn(k / each), fan.down(k % each));
            fan.inside(&toward)
        };
        fan.rays = (0..all).into_par_iter().map(ray).collect();
        fan
    }

    /// Whether these are the rays of a tool: the same place and axis, whatever its size.
    pub fn serves(&self, tool: &Placed) -> bool {
        let (own, other) = (self.tool.head(), tool.head());
        own.centre() == other.centre() && own.axis() == other.axis()
    }

    /// The tool whose rays they are, with its clock.
    pub(crate) fn tool(&self) -> &Placed {
        &self.tool
    }

    /// The bone before any reaming along a ray from the centre.
    pub(crate) fn inside(&self, toward: &UnitVector3<f64>) -> Vec<[f64; 2]> {
        crossing::intervals_inside(self.bone, &self.tool.head().centre(), toward)
    }

    /// The direction that lies `turn` from 12 toward 3 o'clock and `down` from the pole.
    pub(crate) fn direction(&self, turn: f64, down: f64) -> UnitVector3<f64> {
        let (sin, cos) = turn.sin_cos();
        let across = self.tool.twelve().into_inner() * cos + self.tool.three().into_inner() * sin;
        let axis = self.tool.head().axis().into_inner();
        Unit::new_normalize(across * down.sin() - axis * down.cos())
    }

    /// What is seen on meridians all around, in order from 12 o'clock by way of 3.
    pub(crate) fn around<L: Look>(&self, look: &L) -> Vec<Meridian<L::Seen>> {
        let count = usize::from(self.steps.meridians);
        let base: Vec<_> = (0..count)
            .into_par_iter()
            .map(|k| {
                let seen = self.known(look, k);
                (self.turn(k), look.measure(&seen), seen)
            })
            .collect();
        let step = TAU / f64::from(self.steps.meridians);
        let whole: f64 = base.iter().map(|(_, measure, _)| measure * step).sum();
        let between = |k: usize| {
            let (from, to) = (&base[k], &base[(k + 1) % count]);
            let ends = [(from.0, from.1), (from.0 + step, to.1)];
            self.between(look, ends, look.may_be_off() * whole, DEEPEST)
        };
        let more: Vec<_> = (0..count).into_par_iter().map(between).collect();
        let mut all = Vec::with_capacity(count);
        for ((turn, _, seen), more) in base.into_iter().zip(more) {
            all.push((turn, seen));
            all.extend(more);
        }
        weighed(all)
    }

    /// What is seen along the rays that are cast, without looking for edges between them.
    pub(crate) fn sampled<L: Look>(&self, look: &L) -> Vec<Meridian<L::Seen>> {
        let meridians = 0..usize::from(self.steps.meridians);
        meridians
            .map(|k| Meridian {
                turn: self.turn(k),
                width: TAU / f64::from(self.steps.meridians),
                seen: self.seen(look, k),
            })
            .collect()
    }

    fn turn(&self, meridian: usize) -> f64 {
        let k = u32::try_from(meridian).unwrap_or(u32::MAX);
        TAU * f64::from(k) / f64::from(self.steps.meridians)
    }

    fn down(&self, ring: usize) -> f64 {
        let k = u32::try_from(ring).unwrap_or(u32::MAX);
        FRAC_PI_2 * f64::from(k) / f64::from(self.steps.rings)
    }

    /// A meridian whose rays are cast already.
    fn known<L: Look>(&self, look: &L, meridian: usize) -> Vec<(f64, L::Seen)> {
        self.with_edges(look, self.turn(meridian), self.seen(look, meridian))
    }

    /// What is seen along the rays of a meridian.
    fn seen<L: Look>(&self, look: &L, meridian: usize) -> Vec<(f64, L::Seen)> {
        let each = usize::from(self.steps.rings) + 1;
        let turn = self.turn(meridian);
        let rays = &self.rays[meridian * each..(meridian + 1) * each];
        let see = |(ring, inside): (usize, &Vec<[f64; 2]>)| {
            let down = self.down(ring);
            (down, look.see(&self.direction(turn, down), inside))
        };
        rays.iter().enumerate().map(see).collect()
    }

    /// A meridian of new rays.
    fn fresh<L: Look>(&self, look: &L, turn: f64) -> Vec<(f64, L::Seen)> {
        let rings = 0..=usize::from(self.steps.rings);
        let see = |ring| self.look_at(look, turn, self.down(ring));
        self.with_edges(look, turn, rings.map(see).collect())
    }

    fn look_at<L: Look>(&self, look: &L, turn: f64, down: f64) -> (f64, L::Seen) {
        let toward = self.direction(turn, down);
        (down, look.see(&toward, &self.inside(&toward)))
    }

    /// The same with two neighbours at each edge, one from either side, and more where it is not straight.
    fn with_edges<L: Look>(
        &self,
        look: &L,
        turn: f64,
        seen: Vec<(f64, L::Seen)>,
    ) -> Vec<(f64, L::Seen)> {
        let mut all = Vec::with_capacity(seen.len() + 8);
        for pair in seen.windows(2) {
            let (mut from, end) = (pair[0], pair[1]);
            all.push(from);
            for _ in 0..MOST_EDGES {
                if L::alike(&from.1, &end.1) {
                    break;
                }
                let [before, after] = self.edge(look, turn, from, end);
                self.fill(look, turn, [from, before], FILLED, &mut all);
                all.extend([before, after]);
                from = after;
            }
            self.fill(look, turn, [from, end], FILLED, &mut all);
        }
        all.extend(seen.last());
        all
    }

    /// Puts rays strictly between two that are alike until neighbours are close.
    fn fill<L: Look>(
        &self,
        look: &L,
        turn: f64,
        [from, to]: [(f64, L::Seen); 2],
        deeper: u32,
        all: &mut Vec<(f64, L::Seen)>,
    ) {
        let narrow = to.0 - from.0 < NARROWEST;
        if deeper == 0 || narrow || !L::alike(&from.1, &to.1) || L::close(&from.1, &to.1) {
            return;
        }
        let middle = self.look_at(look, turn, (from.0 + to.0) / 2.0);
        self.fill(look, turn, [from, middle], deeper - 1, all);
        all.push(middle);
        self.fill(look, turn, [middle, to], deeper - 1, all);
    }

    /// The first edge on the way from one place to another that is not alike, seen from either side.
    fn edge<L: Look>(
        &self,
        look: &L,
        turn: f64,
        mut from: (f64, L::Seen),
        mut to: (f64, L::Seen),
    ) -> [(f64, L::Seen); 2] {
        for _ in 0..HALVINGS {
            let middle = self.look_at(look, turn, (from.0 + to.0) / 2.0);
            if L::alike(&from.1, &middle.1) {
                from = middle;
            } else {
                to = middle;
            }
        }
        // What is seen on either side, both at the middle, so that nothing between is left out.
        let at = (from.0 + to.0) / 2.0;
        [(at, from.1), (at, to.1)]
    }

    /// Meridians strictly between two, each given by its turn and its measure, until what they leave
    /// out of a straight line between them is at most `off`.
    fn between<L: Look>(
        &self,
        look: &L,
        [from, to]: [(f64, f64); 2],
        off: f64,
        deeper: u32,
    ) -> Vec<(f64, Vec<(f64, L::Seen)>)> {
        let half = (to.0 - from.0) / 2.0;
        if deeper == 0 || (to.1 - from.1).abs() * half <= off {
            return Vec::new();
        }
        let turn = from.0 + half;
        let seen = self.fresh(look, turn);
        let middle = (turn, look.measure(&seen));
        if (middle.1 - (from.1 + to.1) / 2.0).abs() * half <= off {
            return vec![(turn, seen)];
        }
        let mut all = self.between(look, [from, middle], off, deeper - 1);
        all.push((turn, seen));
        all.extend(self.between(look, [middle, to], off, deeper - 1));
        all
    }
}

/// Gives each meridian half the way to either neighbour (the trapezoid rule around the clock).
fn weighed<S>(all: Vec<(f64, Vec<(f64, S)>)>) -> Vec<Meridian<S>> {
    let turns: Vec<f64> = all.iter().map(|(turn, _)| *turn).collect();
    let count = turns.len();
    let width = |k: usize| {
        let before = turns[(k + count - 1) % count] - if k == 0 { TAU } else { 0.0 };
        let after = turns[(k + 1) % count] + if k + 1 == count { TAU } else { 0.0 };
        (after - before) / 2.0
    };
    let each = all.into_iter().enumerate();
    each.map(|(k, (turn, seen))| Meridian {
        turn,
        width: width(k),
        seen,
    })
    .collect()
}
