//! The thinnest place of each wall behind a cavity.

use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

use nalgebra::UnitVector3;
use rayon::prelude::*;

use super::LIP;
use super::cavity::{Cavity, Kind, Spot, lip};
use crate::bone::Bone;
use crate::fan::{Fan, Look, Meridian};
use crate::findings::{Wall, WallFinding};

/// From how many places the thinnest place of a wall is looked for.
const STARTS: usize = 4;

/// Places nearer to each other than this, in radians, are looked from once: about one ray and the next.
const NEIGHBOURS: f64 = 0.1;

/// The wall that a direction from the centre points at: the part of it that is largest.
pub(super) fn wall_toward(bone: &Bone, direction: &UnitVector3<f64>) -> Wall {
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

/// Looks for the thinnest place of each wall.
pub(super) struct Thinnest<'a> {
    pub(super) fan: &'a Fan<'a>,
    pub(super) bone: &'a Bone,
    pub(super) look: &'a Cavity<'a>,
    pub(super) meridians: &'a [Meridian<Spot>],
    pub(super) radius: f64,
}

#[derive(Clone, Copy)]
struct Thin {
    thickness: f64,
    turn: f64,
    down: f64,
}

impl Thinnest<'_> {
    pub(super) fn of_each_wall(&self) -> Vec<WallFinding> {
        let thinnest = |(wall, starts): (Wall, Vec<Thin>)| {
            let refined = starts.iter().map(|start| self.refined(wall, *start));
            let least = refined.min_by(|a, b| a.thickness.total_cmp(&b.thickness))?;
            Some(self.finding(wall, least))
        };
        let walls: Vec<_> = self.starts().into_iter().collect();
        walls.into_par_iter().filter_map(thinnest).collect()
    }

    /// The thinnest ray of each wall, the thinnest of all walked to.
    pub(super) fn roughly(&self) -> BTreeMap<Wall, f64> {
        let first = self.starts().into_iter().filter_map(|(wall, starts)| {
            let thinnest = starts.first()?;
            Some((wall, *thinnest))
        });
        let mut walls: BTreeMap<Wall, Thin> = first.collect();
        let thinnest = walls
            .iter_mut()
            .min_by(|a, b| a.1.thickness.total_cmp(&b.1.thickness));
        if let Some((wall, thin)) = thinnest {
            *thin = self.refined(*wall, *thin);
        }
        let told = walls.into_iter();
        told.map(|(wall, thin)| (wall, thin.thickness)).collect()
    }

    /// Where to look for the thinnest place of each wall: the thinnest rays that are not neighbours, for
    /// the far side of a bone has dents between rays.
    fn starts(&self) -> BTreeMap<Wall, Vec<Thin>> {
        let mut walls: BTreeMap<Wall, Vec<Thin>> = BTreeMap::new();
        for meridian in self.meridians {
            let limit = self.limit_of(&meridian.seen);
            let below = meridian.seen.iter().filter(|(down, _)| *down <= limit);
            for (down, spot) in below.filter(|(_, spot)| spot.kind != Kind::Open) {
                let toward = self.fan.direction(meridian.turn, *down);
                let thin = Thin {
                    thickness: spot.thickness,
                    turn: meridian.turn,
                    down: *down,
                };
                let wall = walls.entry(wall_toward(self.bone, &toward)).or_default();
                wall.push(thin);
            }
        }
        for thins in walls.values_mut() {
            thins.sort_by(|a, b| a.thickness.total_cmp(&b.thickness));
            let mut kept: Vec<Thin> = Vec::with_capacity(STARTS);
            for thin in thins.iter() {
                if kept.len() == STARTS {
                    break;
                }
                if kept
                    .iter()
                    .all(|other| self.apart(other, thin) > NEIGHBOURS)
                {
                    kept.push(*thin);
                }
            }
            *thins = kept;
        }
        walls
    }

    /// The angle between two places, in radians.
    fn apart(&self, one: &Thin, other: &Thin) -> f64 {
        let toward = |thin: &Thin| self.fan.direction(thin.turn, thin.down);
        toward(one).angle(&toward(other))
    }

    /// How far from the pole walls are measured on a meridian.
    fn limit_of(&self, seen: &[(f64, Spot)]) -> f64 {
        lip(seen).map_or(0.0, |lip| lip - LIP / self.radius)
    }

    /// The same at any turn, the nearer of the meridians on either side.
    fn limit(&self, turn: f64) -> f64 {
        let turn = turn.rem_euclid(TAU);
        let after = self.meridians.partition_point(|m| m.turn <= turn);
        let count = self.meridians.len();
        let sides = [(after + count - 1) % count, after % count];
        let limits = sides.map(|k| self.limit_of(&self.meridians[k].seen));
        limits[0].min(limits[1])
    }

    /// Walks from a ray to the thinnest place of the same wall around it.
    fn refined(&self, wall: Wall, start: Thin) -> Thin {
        // Steps from half the distance between rays down to a hundredth of a mm on the cavity.
        let (mut step, mut best) = (0.04, start);
        while step > 4e-4 && best.thickness > 0.0 {
            let around = (0_u8..8).map(|k| PI * f64::from(k) / 4.0);
            let tried = around.filter_map(|way| self.tried(wall, &best, way, step));
            match tried.min_by(|a, b| a.thickness.total_cmp(&b.thickness)) {
                Some(thinner) if thinner.thickness < best.thickness => best = thinner,
                _ => step /= 2.0,
            }
        }
        best
    }

    /// The place a step off, if it belongs to the same wall and lies deep enough.
    fn tried(&self, wall: Wall, from: &Thin, way: f64, step: f64) -> Option<Thin> {
        let down = from.down + step * way.cos();
        let turn = from.turn + step * way.sin() / from.down.sin().max(step);
        if !(0.0..=self.limit(turn)).contains(&down) {
            return None;
        }
        let toward = self.fan.direction(turn, down);
        let spot = self.look.see(&toward, &self.fan.inside(&toward));
        let same = spot.kind != Kind::Open && wall_toward(self.bone, &toward) == wall;
        same.then_some(Thin {
            thickness: spot.thickness,
            turn,
            down,
        })
    }

    fn finding(&self, wall: Wall, thin: Thin) -> WallFinding {
        let toward = self.fan.direction(thin.turn, thin.down);
        let (distance, _) = self.look.surface(&toward);
        let place = self.look.centre + toward.into_inner() * distance;
        WallFinding {
            wall,
            thickness_mm: thin.thickness,
            place: self.bone.shift(&(place - self.bone.native_centre)),
            clock_h: cupwright_anatomy::Hour::from_angle(thin.turn).hours(),
            from_pole_deg: thin.down.to_degrees(),
        }
    }
}
