//! How much bone is left behind the cavity: the thinnest place of each wall.
//!
//! Bone is measured along rays from the reamer's centre. A ray that meets bone inside the reamer
//! and none beyond tells that the reamer broke through, thickness 0, unless it lies outside a set-back
//! lip. Rays nearer the edge than
//! [`FROM_POLE`] are left out, since there they leave through the lip of the socket, which tapers
//! to nothing by nature. The rays lie by the clock of the rim, so that a left hip, a right one that
//! is its mirror image, and the same bone in other coordinates give the same numbers.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use cupwright_geometry::{Circle, Hemisphere, crossing, rim};
use nalgebra::{Point3, Unit, UnitVector3};
use rayon::prelude::*;

use crate::bone::Bone;
use crate::findings::Wall;
use crate::placed::Placed;

/// Angle from the deepest point of the cavity up to which walls are measured, in radians.
pub const FROM_POLE: f64 = 65.0 * TAU / 360.0;

/// How many rays are cast: about one for each mm² of a reamer of 50 mm.
const RAYS: u32 = 3000;

/// The thinnest place of a wall, in the bone's own coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Thinnest {
    /// Bone left, in mm.
    pub(crate) thickness: f64,
    /// From the reamer's centre toward the place.
    pub(crate) toward: UnitVector3<f64>,
    /// The place on the cavity.
    pub(crate) place: Point3<f64>,
}

/// Rays from the centre that some reamers share, and the bone along them: cast once, asked for each
/// reamer.
pub(crate) struct Rays<'a> {
    bone: &'a Bone,
    centre: Point3<f64>,
    axis: UnitVector3<f64>,
    twelve: UnitVector3<f64>,
    rays: Vec<Ray>,
}

/// One of them.
struct Ray {
    wall: Wall,
    toward: UnitVector3<f64>,
    inside: Vec<[f64; 2]>,
}

impl<'a> Rays<'a> {
    /// The rays that serve `reamer` and every other with its centre and axis. `clock` holds the
    /// directions to 12 and to 3 o'clock on its rim.
    pub(crate) fn cast(bone: &'a Bone, reamer: &Hemisphere, clock: [UnitVector3<f64>; 2]) -> Self {
        let centre = reamer.centre();
        let ray = |toward: UnitVector3<f64>| Ray {
            wall: wall_toward(bone, &toward),
            toward,
            inside: crossing::intervals_inside(&bone.solid, &centre, &toward),
        };
        Self {
            bone,
            centre,
            axis: reamer.axis(),
            twelve: clock[0],
            rays: directions(reamer, clock, RAYS)
                .into_par_iter()
                .map(ray)
                .collect(),
        }
    }

    /// Whether these are the rays of a reamer.
    pub(crate) fn serve(&self, reamer: &Hemisphere) -> bool {
        self.centre == reamer.centre() && self.axis == reamer.axis()
    }

    /// The thinnest place of each wall behind a reamer that they serve, at its final depth; walls
    /// that the reamer does not reach are absent.
    pub(crate) fn thinnest(&self, reamer: &Hemisphere) -> BTreeMap<Wall, Thinnest> {
        let left = |ray: &Ray| thickness(self.bone, reamer, &ray.toward, &ray.inside);
        let samples: Vec<_> = self.rays.par_iter().map(left).collect();
        let mut walls: BTreeMap<Wall, Sample> = BTreeMap::new();
        for (ray, sample) in self.rays.iter().zip(samples) {
            let Some(thickness) = sample else { continue };
            let sample = Sample {
                wall: ray.wall,
                thickness,
                toward: ray.toward,
            };
            match walls.get_mut(&ray.wall) {
                Some(best) if thickness < best.thickness => *best = sample,
                Some(_) => {}
                None => drop(walls.insert(ray.wall, sample)),
            }
        }
        let found = walls.into_par_iter().map(|(wall, start)| {
            let refined = refined(self.bone, reamer, self.twelve, start);
            (wall, refined)
        });
        found.collect()
    }
}

/// The thinnest of `count` rays behind a reamer for each wall, in mm, the thinnest of all walked to: for
/// searches that ask often. The other walls are at times a little thinner than this says, and so is the
/// thinnest where no ray comes near it.
pub fn along_few_rays(bone: &Bone, reamer: &Placed, count: u32) -> BTreeMap<Wall, f64> {
    let (head, clock) = (reamer.head(), [reamer.twelve(), reamer.three()]);
    let mut walls = BTreeMap::new();
    let mut thinnest: Option<Sample> = None;
    for toward in directions(head, clock, count) {
        let inside = crossing::intervals_inside(&bone.solid, &head.centre(), &toward);
        let Some(thickness) = thickness(bone, head, &toward, &inside) else {
            continue;
        };
        let wall = wall_toward(bone, &toward);
        let kept = walls.entry(wall).or_insert(thickness);
        *kept = f64::min(*kept, thickness);
        if thinnest
            .as_ref()
            .is_none_or(|best| thickness < best.thickness)
        {
            thinnest = Some(Sample {
                wall,
                thickness,
                toward,
            });
        }
    }
    if let Some(start) = thinnest {
        let wall = start.wall;
        walls.insert(wall, refined(bone, head, clock[0], start).thickness);
    }
    walls
}

/// The wall that a direction from the centre points at: the part of it that is largest.
pub(crate) fn wall_toward(bone: &Bone, direction: &UnitVector3<f64>) -> Wall {
    let d = bone.shift(direction);
    let parts = [
        (Wall::Medial, d.medial_mm),
        (Wall::Anterior, d.anterior_mm),
        (Wall::Posterior, -d.anterior_mm),
        (Wall::Superior, d.superior_mm),
        (Wall::Inferior, -d.superior_mm),
    ];
    parts
        .into_iter()
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(Wall::Medial, |(wall, _)| wall)
}

/// Bone left beyond the reamer along a direction, where bone lies `inside`; `None` where the reamer
/// touches no bone there.
fn thickness(
    bone: &Bone,
    reamer: &Hemisphere,
    direction: &UnitVector3<f64>,
    inside: &[[f64; 2]],
) -> Option<f64> {
    let radius = reamer.radius();
    let behind = inside
        .iter()
        .find(|[start, end]| *start <= radius && radius < *end);
    match behind {
        Some([_, end]) => Some(end - radius),
        None => {
            let taken = inside.iter().any(|[_, end]| *end <= radius);
            (taken && behind_the_lip(bone, reamer, direction)).then_some(0.0)
        }
    }
}

/// Whether the cavity runs in bone somewhere between its edge and a direction, straight down from
/// the edge: what is missing there is a hole in the wall, and not the end of a set-back lip.
fn behind_the_lip(bone: &Bone, reamer: &Hemisphere, direction: &UnitVector3<f64>) -> bool {
    let down = -reamer.axis().into_inner();
    let across = direction.into_inner() - direction.dot(&down) * down;
    let Ok(meridian) = Circle::new(reamer.centre(), reamer.radius(), across, down) else {
        // Straight down at the pole there is no lip.
        return true;
    };
    let from_edge = direction.dot(&down).asin();
    let arcs = rim::arcs_inside(&bone.solid, &meridian);
    arcs.contains(0.0) || arcs.intervals().iter().any(|[start, _]| *start < from_edge)
}

/// Directions evenly over the part of the round side that is measured (a Fibonacci spiral).
fn directions(
    reamer: &Hemisphere,
    clock: [UnitVector3<f64>; 2],
    count: u32,
) -> Vec<UnitVector3<f64>> {
    let golden = TAU * (2.0 / (1.0 + 5.0_f64.sqrt()));
    let cap = 1.0 - FROM_POLE.cos();
    let [twelve, three] = clock.map(UnitVector3::into_inner);
    let direction = |k: u32| {
        let cos = 1.0 - cap * (f64::from(k) + 0.5) / f64::from(count);
        let (sin, turn) = ((1.0 - cos * cos).sqrt(), golden * f64::from(k));
        let across = twelve * turn.cos() + three * turn.sin();
        Unit::new_normalize(across * sin - reamer.axis().into_inner() * cos)
    };
    (0..count).map(direction).collect()
}

/// A ray that was cast.
struct Sample {
    wall: Wall,
    thickness: f64,
    toward: UnitVector3<f64>,
}

/// Walks from a sample to the thinnest place of the same wall around it.
fn refined(bone: &Bone, reamer: &Hemisphere, twelve: UnitVector3<f64>, start: Sample) -> Thinnest {
    // Steps from half the distance between rays down to a hundredth of a mm on the cavity.
    let (mut step, smallest) = (0.02, 2e-4);
    let (mut best, mut at) = (start.thickness, start.toward);
    let thickness = |d: &UnitVector3<f64>| {
        let inside = crossing::intervals_inside(&bone.solid, &reamer.centre(), d);
        thickness(bone, reamer, d, &inside)
    };
    while step > smallest && best > 0.0 {
        let around = (0..8).map(|k| turned(&at, &twelve, TAU * f64::from(k) / 8.0, step));
        let reachable = around.filter(|d| {
            wall_toward(bone, d) == start.wall && d.angle(&-reamer.axis()) <= FROM_POLE
        });
        let thinner = reachable.filter_map(|d| thickness(&d).map(|t| (t, d)));
        match thinner.min_by(|a, b| a.0.total_cmp(&b.0)) {
            Some((t, d)) if t < best => (best, at) = (t, d),
            _ => step /= 2.0,
        }
    }
    Thinnest {
        thickness: best,
        toward: at,
        place: reamer.centre() + at.into_inner() * reamer.radius(),
    }
}

/// `from` turned by a `step`, toward 12 o'clock where `turn` is 90°. A direction at most
/// [`FROM_POLE`] from the pole never points to 12 o'clock itself.
fn turned(
    from: &UnitVector3<f64>,
    twelve: &UnitVector3<f64>,
    turn: f64,
    step: f64,
) -> UnitVector3<f64> {
    let side = twelve.cross(from).normalize();
    let across = side * turn.cos() + from.cross(&side) * turn.sin();
    Unit::new_normalize(from.into_inner() + across * step)
}
