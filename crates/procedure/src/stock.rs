//! How much bone is left behind the whole cavity: walls from where bone begins at each hour, holes with
//! their area, and what a larger cup would still find.
//!
//! Measured along rays from the centre of the last reamer, exact along each. The cavity is what all
//! reamers have swept together. The lip of the socket tapers to nothing by nature: walls are measured
//! from [`LIP`] below the place where bone begins at each hour, so that a lip that is set back, as in a
//! shallow socket, reads no thinner than one at the edge.

use std::collections::BTreeMap;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

use cupwright_geometry::{Bullet, Hemisphere, crossing};
use nalgebra::{Point3, UnitVector3};
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::fan::{Fan, Look, Meridian, Steps, cells};
use crate::findings::{Wall, WallFinding};
use crate::hold::BadInput;
use crate::placed::{NotPlaced, Placed};
use crate::walls::wall_toward;

/// How far below the place where bone begins a wall is measured from, along the cavity, in mm; assumed.
pub const LIP: f64 = 6.0;

/// Share of the whole by which sums between two meridians may be off, for the cavity as it is.
const CLOSELY: f64 = 5e-5;

/// The same for a fallback, which is asked whether and not how much.
const ROUGHLY: f64 = 1e-3;

/// Neighbours whose bone that counts as stock differs by no more than this, in mm, are close.
const CLOSE_MM: f64 = 1.0;

/// How deep behind the cavity bone is counted as stock, in mm; assumed.
pub const STOCK_DEPTH: f64 = 10.0;

/// What the walls and the stock take for granted.
pub const ASSUMES: &str = "first-order estimate: bone as the mesh encloses it, along rays from the last reamer's centre; walls \
     from 6 mm below where bone begins at each hour, stock within 10 mm behind the cavity (assumed)";

/// What the fallback takes for granted.
pub const FALLBACK_ASSUMES: &str =
    "first-order estimate: the fallback cup's reamer at the place and axis of the last reamer";

/// The larger cup that would be used if this one failed, and what it needs.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct FallbackCup {
    /// By how much its last reamer is larger than the last of the case, in mm of diameter; 6, three even
    /// sizes: assumed.
    pub larger_mm: f64,
    /// The least wall that it needs anywhere, in mm; 2: assumed.
    pub least_wall_mm: f64,
    /// The least share of its round side that must meet bone; 0.7, the minimum most often asked for:
    /// common practice, no published source.
    pub least_contact: f64,
}

impl Default for FallbackCup {
    fn default() -> Self {
        Self {
            larger_mm: 6.0,
            least_wall_mm: 2.0,
            least_contact: 0.7,
        }
    }
}

/// Why there is no stock to tell.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoStock {
    /// A tool cannot be placed.
    #[error(transparent)]
    Placed(#[from] NotPlaced),
    /// A number of the fallback that cannot be.
    #[error(transparent)]
    Input(#[from] BadInput),
    /// No reamers.
    #[error("the case has no reamer, so there is no cavity")]
    NoReamers,
}

/// A hole through a wall.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HoleFinding {
    /// Through which wall.
    pub wall: Wall,
    /// Area of the cavity behind which no bone is left, in mm².
    pub area_mm2: f64,
    /// Its middle on the clock.
    pub clock_h: f64,
    /// Angle of its middle from the deepest point of the cavity.
    pub from_pole_deg: f64,
}

/// The wall at one hour.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HourFinding {
    /// Clock position.
    pub clock_h: f64,
    /// From the edge of the last reamer down the cavity to where bone begins; `None` where it never does.
    pub begins_mm: Option<f64>,
    /// Bone left 5 mm below that place, 0 in a hole; `None` past the pole.
    pub wall_5_mm: Option<f64>,
    /// Bone left 10 mm below it.
    pub wall_10_mm: Option<f64>,
}

/// What one cavity leaves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CavityFinding {
    /// The thinnest place of each wall, by the name of the wall; walls not reached are absent.
    pub walls: Vec<WallFinding>,
    /// The holes, by wall.
    pub holes: Vec<HoleFinding>,
    /// Area of all of them.
    pub hole_area_mm2: f64,
    /// Area of a hole through the medial wall: a medial breach; 0 where there is none.
    pub medial_breach_mm2: f64,
    /// Area of the cavity that bone forms.
    pub bone_area_mm2: f64,
    /// The same as a share of the last reamer's round side.
    pub bone_share: f64,
    /// Bone within [`STOCK_DEPTH`] behind the cavity.
    pub stock_mm3: f64,
    /// The same as a share of what bone all around would give.
    pub stock_share: f64,
    /// The wall at every half hour from 12 o'clock.
    pub by_hour: Vec<HourFinding>,
}

/// What a fallback cup would find in one wall.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SpareFinding {
    /// The wall.
    pub wall: Wall,
    /// Its thinnest place now.
    pub left_mm: f64,
    /// Its thinnest place after reaming for the fallback; `None` where that no longer meets this wall
    /// below its lip.
    pub after_mm: Option<f64>,
    /// Whether that is what the fallback needs.
    pub enough: bool,
}

/// What a fallback cup would find.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FallbackFinding {
    /// The numbers that went in.
    pub needs: FallbackCup,
    /// Its last reamer.
    pub reamer_mm: f64,
    /// Wall by wall.
    pub walls: Vec<SpareFinding>,
    /// Area of holes after reaming for it.
    pub hole_area_mm2: f64,
    /// Share of its round side that meets bone.
    pub bone_share: f64,
    /// Whether every wall and the share of bone are enough and no hole is left.
    pub possible: bool,
}

/// Bone left by the reamers of a case.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StockFinding {
    /// The cavity as it is.
    pub cavity: CavityFinding,
    /// What a fallback cup would find.
    pub fallback: FallbackFinding,
    /// The assumptions, for the reader.
    pub assumptions: Vec<&'static str>,
}

/// The bone that the reamers of a case leave, and what a fallback cup would find.
///
/// # Errors
/// When a tool cannot be placed, or a number of the fallback cannot be.
pub fn stock(case: &Case, bone: &Bone, fallback: &FallbackCup) -> Result<StockFinding, NoStock> {
    let reamers = Placed::reamers(case, bone)?;
    let last = reamers.last().ok_or(NoStock::NoReamers)?;
    let fan = Fan::cast(&bone.solid, last, Steps::default());
    stock_along(&fan, bone, &reamers, fallback)
}

/// The bone left, along rays that serve the last of the reamers.
///
/// # Errors
/// As for [`stock`].
pub fn stock_along(
    fan: &Fan<'_>,
    bone: &Bone,
    reamers: &[Placed],
    fallback: &FallbackCup,
) -> Result<StockFinding, NoStock> {
    fallback.check()?;
    let last = reamers.last().ok_or(NoStock::NoReamers)?;
    let swept: Vec<_> = reamers.iter().map(Placed::swept).collect();
    let (head, radius) = (last.head(), last.head().radius());
    let larger = radius + fallback.larger_mm / 2.0;
    let larger_head = Hemisphere::new(head.centre(), head.axis().into_inner(), larger)
        .map_err(|problem| last.refused(problem))?;
    let with_larger: Vec<_> = swept
        .iter()
        .copied()
        .chain([Bullet::open(larger_head)])
        .collect();
    let (cavity, after) = rayon::join(
        || cavity(fan, bone, &swept, radius, CLOSELY),
        || cavity(fan, bone, &with_larger, larger, ROUGHLY),
    );
    let fallback = fallback_finding(fallback, 2.0 * larger, &cavity, &after);
    Ok(StockFinding {
        cavity,
        fallback,
        assumptions: vec![ASSUMES, FALLBACK_ASSUMES],
    })
}

impl FallbackCup {
    fn check(&self) -> Result<(), BadInput> {
        let range = crate::hold::ranged;
        let size = "between 0 and 50 mm";
        range("fallback.larger_mm", self.larger_mm, 0.0..=50.0, size)?;
        range(
            "fallback.least_wall_mm",
            self.least_wall_mm,
            0.0..=50.0,
            size,
        )?;
        let share = "a share from 0 to 1";
        range(
            "fallback.least_contact",
            self.least_contact,
            0.0..=1.0,
            share,
        )
    }
}

fn fallback_finding(
    needs: &FallbackCup,
    reamer_mm: f64,
    now: &CavityFinding,
    after: &CavityFinding,
) -> FallbackFinding {
    let spare = |left: &WallFinding| {
        let then = after.walls.iter().find(|w| w.wall == left.wall);
        let after_mm = then.map(|w| w.thickness_mm);
        SpareFinding {
            wall: left.wall,
            left_mm: left.thickness_mm,
            after_mm,
            enough: after_mm.is_some_and(|mm| mm >= needs.least_wall_mm),
        }
    };
    let walls: Vec<_> = now.walls.iter().map(spare).collect();
    let share = after.bone_share;
    FallbackFinding {
        needs: *needs,
        reamer_mm,
        hole_area_mm2: after.hole_area_mm2,
        bone_share: share,
        possible: share >= needs.least_contact
            && after.hole_area_mm2 <= 0.0
            && walls.iter().all(|wall| wall.enough),
        walls,
    }
}

/// What a ray meets at the wall of the cavity.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    /// Bone.
    Wall,
    /// No bone, though a reamer took some on the way: a hole, if it lies below the lip.
    Through,
    /// No bone, and none was taken.
    Open,
}

#[derive(Clone, Copy, Debug)]
struct Spot {
    kind: Kind,
    /// Distance to the wall of the cavity, in mm.
    distance: f64,
    /// Area of the cavity for each steradian, in mm².
    area: f64,
    /// Bone left behind it, in mm; 0 where there is none.
    thickness: f64,
}

struct Cavity<'a> {
    centre: Point3<f64>,
    /// See [`Look::may_be_off`].
    may_be_off: f64,
    swept: &'a [Bullet],
}

impl Cavity<'_> {
    /// Distance to where a ray leaves all that was swept, and the factor by which the surface there is
    /// larger than if it were square to the ray.
    fn surface(&self, toward: &UnitVector3<f64>) -> (f64, f64) {
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
fn lip(seen: &[(f64, Spot)]) -> Option<f64> {
    let first = seen.iter().rev().find(|(_, spot)| spot.kind == Kind::Wall);
    first.map(|(down, _)| *down)
}

fn cavity(
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

/// Looks for the thinnest place of each wall.
struct Thinnest<'a> {
    fan: &'a Fan<'a>,
    bone: &'a Bone,
    look: &'a Cavity<'a>,
    meridians: &'a [Meridian<Spot>],
    radius: f64,
}

#[derive(Clone, Copy)]
struct Thin {
    thickness: f64,
    turn: f64,
    down: f64,
}

impl Thinnest<'_> {
    fn of_each_wall(&self) -> Vec<WallFinding> {
        let mut walls: BTreeMap<Wall, Thin> = BTreeMap::new();
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
                let least = walls.entry(wall_toward(self.bone, &toward)).or_insert(thin);
                if thin.thickness < least.thickness {
                    *least = thin;
                }
            }
        }
        walls
            .into_iter()
            .map(|(wall, thin)| self.finding(wall, self.refined(wall, thin)))
            .collect()
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
