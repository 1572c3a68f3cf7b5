//! Where bone that the reamers left bears on a cup, how far the cup presses into it and how stiffly it
//! holds: exact along rays from the cup's centre.

use cupwright_geometry::{Bullet, Hemisphere, Solid, crossing};
use nalgebra::{Point3, UnitVector3, Vector3};

use super::foundation::{Layer, layered};
use super::quality::BoneQuality;
use crate::bone::Bone;
use crate::fan::{Cell, Fan, Look, Meridian, cells};
use crate::maps::FARTHEST_GAP;

/// How far behind the cup bone may begin, in mm, and still be kept: a cavity may turn out tighter.
const NEAR: f64 = 1.0;

/// Neighbours whose interference differs by no more than this, in mm, are close.
const CLOSE_MM: f64 = 0.1;

/// And whose stiffness differs by no more than this share.
const CLOSE_SHARE: f64 = 0.2;

/// Into parts no longer than this the way between two rays is parted, in radians, what is between them
/// being taken as straight.
const PART: f64 = 0.02;

/// Into how many at most.
const MOST_PARTS: u8 = 100;

/// A small piece of the cup's round side with bone behind it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece {
    /// Area, in mm².
    pub(crate) area: f64,
    /// Cosine and sine of its angle from the pole.
    pub(crate) cos: f64,
    /// See `cos`.
    pub(crate) sin: f64,
    /// Its extent down the meridian, in radians.
    pub(crate) extent: f64,
    /// From where bone begins to the cup's surface at its planned place, in mm; negative: a gap.
    pub(crate) interference: f64,
    /// Pressure for each mm of interference, in MPa/mm.
    pub(crate) stiffness: f64,
    /// 1 where a reamer made the wall, 0 where it is the bone's own surface.
    pub(crate) reamed: f64,
}

/// Pieces beside each other on one meridian.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Patch {
    /// The first of its pieces and the one after the last.
    pub(crate) pieces: [usize; 2],
    /// The meridian's angle from 12 toward 3 o'clock.
    pub(crate) turn: f64,
}

/// All bone that may bear on a cup.
#[derive(Clone, Debug)]
pub(crate) struct Support {
    /// Radius of the cup.
    pub(crate) radius: f64,
    /// Its pieces, patch by patch.
    pub(crate) pieces: Vec<Piece>,
    /// The patches.
    pub(crate) patches: Vec<Patch>,
    /// How far the cup presses into bone at its pole, negative for a gap; `None` where no bone lies
    /// within [`FARTHEST_GAP`] behind it.
    pub(crate) pole: Option<f64>,
    /// Whether the bone says where its subchondral plate is.
    pub(crate) plate_is_known: bool,
}

impl Support {
    /// The support of `cup`, whose rays are `fan`'s, after reamers have in truth swept `swept`.
    pub(crate) fn of(
        fan: &Fan<'_>,
        bone: &Bone,
        cup: &Hemisphere,
        swept: &[Bullet],
        quality: &BoneQuality,
    ) -> Self {
        let look = Bearing {
            centre: cup.centre(),
            radius: cup.radius(),
            swept,
            plate: bone.layers.as_ref().map(|l| &l.beneath_subchondral),
            quality,
        };
        let mut support = Self {
            radius: cup.radius(),
            pieces: Vec::new(),
            patches: Vec::new(),
            pole: look.pole(fan),
            plate_is_known: look.plate.is_some(),
        };
        for meridian in fan.around(&look) {
            support.add(&meridian);
        }
        support
    }

    fn add(&mut self, meridian: &Meridian<Option<Held>>) {
        for cell in cells::<Bearing<'_>>(&meridian.seen) {
            let [Some(from), Some(to)] = cell.seen else {
                continue;
            };
            let length = cell.down[1] - cell.down[0];
            let needed = |parts: &u8| f64::from(*parts) * PART >= length;
            let parts = (1..MOST_PARTS).find(needed).unwrap_or(MOST_PARTS);
            let first = self.pieces.len();
            self.patches.push(Patch {
                pieces: [first, first + usize::from(parts)],
                turn: meridian.turn,
            });
            let extent = length / f64::from(parts);
            for part in 0..parts {
                let at = (f64::from(part) + 0.5) / f64::from(parts);
                let mix = |a: f64, b: f64| a + (b - a) * at;
                let down = mix(cell.down[0], cell.down[1]);
                self.pieces.push(Piece {
                    area: self.radius.powi(2) * down.sin() * extent * meridian.width,
                    cos: down.cos(),
                    sin: down.sin(),
                    extent,
                    interference: mix(from.interference, to.interference),
                    stiffness: mix(from.stiffness, to.stiffness),
                    reamed: mix(from.reamed, to.reamed),
                });
            }
        }
    }

    /// Each patch with its pieces.
    pub(crate) fn patches(&self) -> impl Iterator<Item = (&Patch, &[Piece])> {
        let pieces = |patch: &Patch| &self.pieces[patch.pieces[0]..patch.pieces[1]];
        self.patches.iter().map(move |patch| (patch, pieces(patch)))
    }
}

/// The bullets that others do not enclose.
pub(crate) fn outermost(swept: &[Bullet]) -> Vec<Bullet> {
    let hidden = |k: usize| {
        let by = |j: usize| {
            let both = swept[k].encloses(&swept[j]);
            j != k && swept[j].encloses(&swept[k]) && (j < k || !both)
        };
        (0..swept.len()).any(by)
    };
    let kept = (0..swept.len()).filter(|k| !hidden(*k));
    kept.map(|k| swept[k]).collect()
}

/// What bears on a cup along one ray.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Held {
    interference: f64,
    stiffness: f64,
    reamed: f64,
}

struct Bearing<'a> {
    centre: Point3<f64>,
    radius: f64,
    swept: &'a [Bullet],
    plate: Option<&'a Solid>,
    quality: &'a BoneQuality,
}

impl Bearing<'_> {
    /// The stretch of bone left that the cup's surface lies in or before.
    fn stretch(&self, toward: &UnitVector3<f64>, inside: &[[f64; 2]]) -> Option<[f64; 2]> {
        let left = crossing::without(inside, self.swept, &self.centre, toward);
        left.into_iter().find(|[_, end]| self.radius < *end)
    }

    fn pole(&self, fan: &Fan<'_>) -> Option<f64> {
        let toward = fan.direction(0.0, 0.0);
        let [start, _] = self.stretch(&toward, &fan.inside(&toward))?;
        let interference = self.radius - start;
        (interference >= -FARTHEST_GAP).then_some(interference)
    }

    /// Stiffness of a stretch of bone: subchondral plate, as far as it is left, and cancellous bone.
    fn stiffness(&self, toward: &UnitVector3<f64>, [start, end]: [f64; 2]) -> f64 {
        let layer = |modulus, thickness| Layer {
            modulus,
            poisson: self.quality.poisson,
            thickness,
        };
        let whole = end - start;
        let plate = self.plate.map_or(0.0, |beneath| {
            let inner = crossing::intervals_left(beneath, self.swept, &self.centre, toward);
            let first = inner.iter().find(|[_, inner_end]| start < *inner_end);
            first.map_or(whole, |[inner, _]| (inner - start).clamp(0.0, whole))
        });
        let spongy = layer(self.quality.modulus_mpa, whole - plate);
        if plate > 0.0 {
            let plate = layer(self.quality.subchondral_modulus_mpa, plate);
            layered(self.radius, &[plate, spongy])
        } else {
            layered(self.radius, &[spongy])
        }
    }
}

impl Look for Bearing<'_> {
    type Seen = Option<Held>;

    fn see(&self, toward: &UnitVector3<f64>, inside: &[[f64; 2]]) -> Option<Held> {
        let [start, end] = self.stretch(toward, inside)?;
        if start > self.radius + NEAR {
            return None;
        }
        let own = inside.iter().any(|[s, _]| s.total_cmp(&start).is_eq());
        Some(Held {
            interference: self.radius - start,
            stiffness: self.stiffness(toward, [start, end]),
            reamed: if own { 0.0 } else { 1.0 },
        })
    }

    fn same_kind(one: &Self::Seen, other: &Self::Seen) -> bool {
        one.is_some() == other.is_some()
    }

    fn alike(one: &Self::Seen, other: &Self::Seen) -> bool {
        match (one, other) {
            // A reamer's wall meets the bone's own surface at an angle.
            (Some(a), Some(b)) => a.reamed.total_cmp(&b.reamed).is_eq(),
            (None, None) => true,
            _ => false,
        }
    }

    fn close(one: &Self::Seen, other: &Self::Seen) -> bool {
        let (Some(a), Some(b)) = (one, other) else {
            return true;
        };
        let stiffest = a.stiffness.max(b.stiffness);
        let far_off = a.interference.max(b.interference) < -CLOSE_MM;
        far_off
            || (a.interference - b.interference).abs() <= CLOSE_MM
                && (a.stiffness - b.stiffness).abs() <= CLOSE_SHARE * stiffest
    }

    fn may_be_off(&self) -> f64 {
        1e-5
    }

    /// Area that bone may bear on, and the force with which it does.
    fn measure(&self, seen: &[(f64, Self::Seen)]) -> f64 {
        let bears = |held: &Held| 0.2 + held.interference.max(0.0) * held.stiffness;
        let band = |cell: Cell<Self::Seen>| {
            let [Some(from), Some(to)] = cell.seen else {
                return 0.0;
            };
            (bears(&from) + bears(&to)) * (cell.down[0].cos() - cell.down[1].cos())
        };
        cells::<Self>(seen).map(band).sum()
    }
}

/// The direction of a piece of the cup's round side in the frame (12 o'clock, 3 o'clock, axis).
pub(crate) fn toward(turn: f64, cos: f64, sin: f64) -> Vector3<f64> {
    Vector3::new(sin * turn.cos(), sin * turn.sin(), -cos)
}

#[cfg(test)]
impl Support {
    /// The same bone all around, from the pole to an angle `edge`.
    pub(crate) fn even(radius: f64, interference: f64, stiffness: f64, edge: f64) -> Self {
        let (around, down) = (72_u8, 20_u8);
        let held = Some(Held {
            interference,
            stiffness,
            reamed: 1.0,
        });
        let seen: Vec<_> = (0..=down)
            .map(|k| (edge * f64::from(k) / f64::from(down), held))
            .collect();
        let mut support = Self {
            radius,
            pieces: Vec::new(),
            patches: Vec::new(),
            pole: Some(interference),
            plate_is_known: false,
        };
        let width = std::f64::consts::TAU / f64::from(around);
        for k in 0..around {
            support.add(&Meridian {
                turn: width * f64::from(k),
                width,
                seen: seen.clone(),
            });
        }
        support
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bullet(height: f64, radius: f64) -> Bullet {
        let centre = Point3::new(0.0, 0.0, height);
        Bullet::open(Hemisphere::new(centre, Vector3::z(), radius).unwrap())
    }

    #[test]
    fn of_nested_reamers_one_is_kept_and_of_equal_ones_the_first() {
        let nested = [bullet(0.0, 24.0), bullet(0.0, 26.0), bullet(0.0, 25.0)];
        assert_eq!(outermost(&nested), [nested[1]]);
        let equal = [bullet(0.0, 26.0); 3];
        assert_eq!(outermost(&equal), [equal[0]]);
        let apart = [bullet(0.0, 26.0), bullet(-1.0, 25.5)];
        assert_eq!(outermost(&apart), apart);
    }
}
