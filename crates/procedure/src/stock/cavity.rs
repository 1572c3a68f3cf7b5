//! What rays see of a cavity: bone, holes and open mouth, summed over it.

use std::collections::BTreeMap;
use std::f64::consts::{FRAC_PI_2, TAU};

use cupwright_geometry::{Bullet, crossing};
use nalgebra::{Point3, UnitVector3};

use super::walls::{Thinnest, wall_toward};
use super::{CavityFinding, HoleFinding, HourFinding, STOCK_DEPTH};
use crate::bone::Bone;
use crate::fan::{Fan, Look, Meridian, Steps, cells};
use crate::findings::{Wall, WallFinding};
use crate::placed::Placed;

/// Neighbours whose bone that counts as stock differs by no more than this, in mm, are close.
const CLOSE_MM: f64 = 1.0;

/// What a ray meets at the wall of the cavity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    /// Bone.
    Wall,
    /// No bone, though a reamer took some on the way: a hole, if it lies below the lip.
    Through,
    /// No bone, and none was taken.
    Open,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    pub(super) kind: Kind,
    /// Distance to the wall of the cavity, in mm.
    distance: f64,
    /// Area of the cavity for each steradian, in mm².
    area: f64,
    /// Bone left behind it, in mm; 0 where there is none.
    pub(super) thickness: f64,
}

/// The wall of all that was swept, seen from a centre.
pub(super) struct Cavity<'a> {
    pub(super) centre: Point3<f64>,
    /// See [`Look::may_be_off`].
    may_be_off: f64,
    swept: &'a [Bullet],
}

impl Cavity<'_> {
    /// Distance to where a ray leaves all that was swept, and the factor by which the surface there is
    /// larger than if it were square to the ray.
    pub(super) fn surface(&self, toward: &UnitVector3<f64>) -> (f64, f64) {
        let runs: Vec<_> = self
            .swept
            .iter()
            .filter_map(|bullet| bullet.along(&self.centre, toward).map(|run| (bullet, run)))
            .collect();
        let (mut distance, mut of) = (0.0, None);
        // Where one reamer ends inside another, go on to that one's end.
        while let Some((bullet, run)) = runs
            .iter()
            .find(|(_, run)| run[0] <= distance && run[1] > distance)
        {
            (distance, of) = (run[1], Some(*bullet));
        }
        let Some(bullet) = of.filter(|_| distance.is_finite()) else {
            return (distance, 1.0);
        };
        let head = bullet.head();
        let from = self.centre + toward.into_inner() * distance - head.centre();
        let height = from.dot(&head.axis()).max(0.0);
        let normal = from - head.axis().into_inner() * height;
        let slant = normal.normalize().dot(toward).max(1e-3);
        (distance, 1.0 / slant)
    }
}

impl Look for Cavity<'_> {
    type Seen = Spot;

    fn see(&self, toward: &UnitVector3<f64>, inside: &[[f64; 2]]) -> Spot {
        let (distance, slant) = self.surface(toward);
        let spot = |kind, thickness| Spot {
            kind,
            distance,
            area: distance * distance * slant,
            thickness,
        };
        if !distance.is_finite() {
            return Spot {
                area: 0.0,
                ..spot(Kind::Open, 0.0)
            };
        }
        let stretch = inside
            .iter()
            .find(|[start, end]| *start <= distance && distance < *end);
        let Some([_, far]) = stretch else {
            let taken = inside.iter().any(|[_, end]| *end <= distance);
            return spot(if taken { Kind::Through } else { Kind::Open }, 0.0);
        };
        let left = crossing::without(inside, self.swept, &self.centre, toward);
        let behind = left
            .iter()
            .find(|[start, end]| distance < *end && start < far);
        match behind {
            Some([start, end]) => spot(Kind::Wall, end - start.max(distance)),
            None => spot(Kind::Through, 0.0),
        }
    }

    fn same_kind(one: &Spot, other: &Spot) -> bool {
        one.kind == other.kind
    }

    fn alike(one: &Spot, other: &Spot) -> bool {
        one.kind == other.kind
    }

    fn close(one: &Spot, other: &Spot) -> bool {
        let counted = |spot: &Spot| spot.thickness.min(STOCK_DEPTH);
        (counted(one) - counted(other)).abs() <= CLOSE_MM
    }

    fn may_be_off(&self) -> f64 {
        self.may_be_off
    }

    /// Area and stock of bone, and area of holes much more so, that small ones are seen as finely.
    fn measure(&self, seen: &[(f64, Spot)]) -> f64 {
        let lip = lip(seen);
        let weight = |spot: &Spot| match spot.kind {
            Kind::Wall => 0.5 + spot.thickness.min(STOCK_DEPTH) / STOCK_DEPTH,
            Kind::Through => 20.0,
            Kind::Open => 0.0,
        };
        let below = cells::<Self>(seen).filter(|cell| lip.is_some_and(|lip| cell.down[1] <= lip));
        below
            .map(|cell| {
                let both = weight(&cell.seen[0]) + weight(&cell.seen[1]);
                both * (cell.down[0].cos() - cell.down[1].cos())
            })
            .sum()
    }
}

/// The angle from the pole at which bone begins, coming down from the edge; `None` where it never does.
pub(super) fn lip(seen: &[(f64, Spot)]) -> Option<f64> {
    let first = seen.iter().rev().find(|(_, spot)| spot.kind == Kind::Wall);
    first.map(|(down, _)| *down)
}

/// The thinnest place of each wall of what was swept, by the name of the wall: as for [`cavity`], with
/// nothing else.
pub(crate) fn walls_left(
    fan: &Fan<'_>,
    bone: &Bone,
    swept: &[Bullet],
    radius: f64,
) -> Vec<WallFinding> {
    let look = Cavity {
        centre: fan.tool().head().centre(),
        // No area is asked for, so no meridians between those that are cast.
        may_be_off: f64::INFINITY,
        swept,
    };
    let walls = Thinnest {
        fan,
        bone,
        look: &look,
        meridians: &fan.around(&look),
        radius,
    };
    walls.of_each_wall()
}

/// The thinnest ray of each wall of what was swept, in mm, from the centre of the last reamer, the thinnest of
/// all walked to from there: for searches that ask often. The other walls are at times a little thinner than
/// this says, and so is the thinnest where no ray comes near it.
pub fn walls_roughly(
    bone: &Bone,
    last: &Placed,
    swept: &[Bullet],
    steps: Steps,
) -> BTreeMap<Wall, f64> {
    let fan = Fan::cast(&bone.solid, last, steps);
    let look = Cavity {
        centre: last.head().centre(),
        may_be_off: f64::INFINITY,
        swept,
    };
    let walls = Thinnest {
        fan: &fan,
        bone,
        look: &look,
        meridians: &fan.sampled(&look),
        radius: last.head().radius(),
    };
    walls.roughly()
}

/// What `swept` leaves, seen from the fan's centre; `radius` is that of the last reamer.
pub(super) fn cavity(
    fan: &Fan<'_>,
    bone: &Bone,
    swept: &[Bullet],
    radius: f64,
    may_be_off: f64,
) -> CavityFinding {
    let look = Cavity {
        centre: fan.tool().head().centre(),
        may_be_off,
        swept,
    };
    let meridians = fan.around(&look);
    let sums = sums(fan, bone, &meridians);
    let walls = Thinnest {
        fan,
        bone,
        look: &look,
        meridians: &meridians,
        radius,
    };
    let full = TAU * ((radius + STOCK_DEPTH).powi(3) - radius.powi(3)) / 3.0;
    let holes = sums.holes();
    CavityFinding {
        walls: walls.of_each_wall(),
        hole_area_mm2: area_of(&holes, |_| true),
        medial_breach_mm2: area_of(&holes, |hole| hole.wall == Wall::Medial),
        holes,
        bone_area_mm2: sums.bone,
        bone_share: sums.bone / (TAU * radius * radius),
        stock_mm3: sums.stock,
        stock_share: sums.stock / full,
        by_hour: by_hour(&meridians, radius),
    }
}

/// Area of some holes; a plain 0 where there is none.
fn area_of(holes: &[HoleFinding], count: impl Fn(&HoleFinding) -> bool) -> f64 {
    let areas = holes
        .iter()
        .filter(|hole| count(hole))
        .map(|hole| hole.area_mm2);
    areas.fold(0.0, |sum, area| sum + area)
}

/// What is summed over the cavity.
#[derive(Default)]
struct Sums {
    bone: f64,
    stock: f64,
    /// Of each wall: area of its hole, and the middle as area times (12 o'clock, 3 o'clock, down).
    through: BTreeMap<Wall, [f64; 4]>,
}

fn sums(fan: &Fan<'_>, bone: &Bone, meridians: &[Meridian<Spot>]) -> Sums {
    let mut sums = Sums::default();
    for meridian in meridians {
        let lip = lip(&meridian.seen).unwrap_or(0.0);
        for cell in cells::<Cavity<'_>>(&meridian.seen) {
            let solid = (cell.down[0].cos() - cell.down[1].cos()) * meridian.width;
            let area = solid * (cell.seen[0].area + cell.seen[1].area) / 2.0;
            let kind = cell.seen[0].kind;
            if kind == Kind::Wall {
                sums.bone += area;
                sums.stock += solid * (shell(&cell.seen[0]) + shell(&cell.seen[1])) / 2.0;
            } else if kind == Kind::Through && cell.down[1] <= lip {
                let down = (cell.down[0] + cell.down[1]) / 2.0;
                let toward = fan.direction(meridian.turn, down);
                let sum = sums.through.entry(wall_toward(bone, &toward)).or_default();
                let (sin, cos) = meridian.turn.sin_cos();
                let parts = [1.0, down.sin() * cos, down.sin() * sin, down.cos()];
                for (sum, part) in sum.iter_mut().zip(parts) {
                    *sum += area * part;
                }
            }
        }
    }
    sums
}

/// Bone within [`STOCK_DEPTH`] behind the cavity, for each steradian.
fn shell(spot: &Spot) -> f64 {
    let far = spot.distance + spot.thickness.min(STOCK_DEPTH);
    (far.powi(3) - spot.distance.powi(3)) / 3.0
}

impl Sums {
    fn holes(&self) -> Vec<HoleFinding> {
        let hole = |(wall, [area, twelve, three, down]): (&Wall, &[f64; 4])| HoleFinding {
            wall: *wall,
            area_mm2: *area,
            clock_h: cupwright_anatomy::Hour::from_angle(three.atan2(*twelve)).hours(),
            from_pole_deg: twelve.hypot(*three).atan2(*down).to_degrees(),
        };
        self.through.iter().map(hole).collect()
    }
}

/// The wall at every half hour, on the meridian next to it.
fn by_hour(meridians: &[Meridian<Spot>], radius: f64) -> Vec<HourFinding> {
    let off = |turn: f64, from: f64| {
        let apart = (turn - from).rem_euclid(TAU);
        apart.min(TAU - apart)
    };
    let hour = |k: u8| {
        let turn = TAU * f64::from(k) / 24.0;
        let near = meridians
            .iter()
            .min_by(|a, b| off(a.turn, turn).total_cmp(&off(b.turn, turn)));
        let seen = near.map_or(&[][..], |meridian| &meridian.seen);
        let begins = lip(seen);
        let wall = |mm: f64| thickness_at(seen, begins? - mm / radius);
        HourFinding {
            clock_h: f64::from(k) / 2.0,
            begins_mm: begins.map(|down| (FRAC_PI_2 - down) * radius),
            wall_5_mm: wall(5.0),
            wall_10_mm: wall(10.0),
        }
    };
    (0..24).map(hour).collect()
}

/// Bone left at an angle from the pole, straight between the rays on either side.
fn thickness_at(seen: &[(f64, Spot)], down: f64) -> Option<f64> {
    let pair = seen
        .windows(2)
        .find(|pair| pair[0].0 <= down && down <= pair[1].0)?;
    let at = (down - pair[0].0) / (pair[1].0 - pair[0].0).max(f64::MIN_POSITIVE);
    Some(pair[0].1.thickness + (pair[1].1.thickness - pair[0].1.thickness) * at)
}
