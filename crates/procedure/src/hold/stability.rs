//! What it takes to pull, tip or turn a cup out of its press-fit, and what the press-fit asks of the rim.
//!
//! Bone presses as it does where the cup rests, and friction holds everywhere at once against the way
//! in which the cup begins to move: an upper bound for that way of moving (limit analysis).

use std::f64::consts::TAU;

use nalgebra::Vector3;
use rayon::prelude::*;

use super::seating::Contact;
use super::support::{Piece, toward};

/// At how many places of the rim a cup is tried to tip over.
const PLACES: u8 = 24;

/// The easiest of some ways to tip a cup.
pub(crate) fn weakest(places: &[Tipping]) -> Tipping {
    let least = places.iter().min_by(|a, b| a.moment.total_cmp(&b.moment));
    least.copied().unwrap_or(Tipping {
        moment: 0.0,
        over: 0.0,
    })
}

/// How a cup tips most easily over one place of its rim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tipping {
    /// The moment, in N mm; 0 where the cup does not stay by itself.
    pub(crate) moment: f64,
    /// The place of the rim that stays down, as an angle from 12 toward 3 o'clock.
    pub(crate) over: f64,
}

/// The press-fit of a cup at rest.
pub(crate) struct Rest<'a> {
    contact: Contact<'a>,
    proud: f64,
    outward: f64,
    grip: f64,
    lumps: Vec<Lump>,
}

/// The force on a patch, in N, and its direction from the centre in the frame (12, 3, axis).
struct Lump {
    force: f64,
    toward: Vector3<f64>,
}

/// A patch that slides: its force, and the square of how far it goes for a slip of s in each radian,
/// `turning` + 2 s `both` + s² `slipping`.
struct Slide {
    force: f64,
    turning: f64,
    both: f64,
    slipping: f64,
}

impl Slide {
    fn dissipates(&self, slip: f64) -> f64 {
        let square = self.turning + slip * (2.0 * self.both + slip * self.slipping);
        self.force * square.max(0.0).sqrt()
    }
}

impl<'a> Rest<'a> {
    /// A cup that rests `proud` of its planned place.
    pub(crate) fn at(contact: Contact<'a>, proud: f64) -> Self {
        let forces = contact.forces(proud);
        let patches = contact.support.patches();
        let lumps = patches.filter_map(|(patch, pieces)| {
            let (mut force, mut cos, mut sin) = (0.0, 0.0, 0.0);
            for piece in pieces {
                let own = contact.pressure(piece, proud) * piece.area;
                force += own;
                cos += own * piece.cos;
                sin += own * piece.sin;
            }
            (force > 0.0).then(|| Lump {
                force,
                toward: toward(patch.turn, cos / force, sin / force).normalize(),
            })
        });
        Self {
            contact,
            proud,
            outward: forces.outward,
            grip: forces.grip,
            lumps: lumps.collect(),
        }
    }

    /// Where it rests.
    pub(crate) fn proud(&self) -> f64 {
        self.proud
    }

    /// The force that pulls it out along its axis, in N; 0 where it does not stay by itself.
    pub(crate) fn push_out(&self) -> f64 {
        (self.contact.friction * self.grip - self.outward).max(0.0)
    }

    /// The least friction with which it stays by itself; 0 where nothing presses.
    pub(crate) fn least_friction(&self) -> f64 {
        if self.grip > 0.0 {
            self.outward / self.grip
        } else {
            0.0
        }
    }

    /// The moment that turns it about its own axis, in N mm.
    pub(crate) fn torque(&self) -> f64 {
        self.contact.friction * self.contact.support.radius * self.grip
    }

    /// The force across the axis that bone does not balance, in N.
    pub(crate) fn side_thrust(&self) -> f64 {
        let push = |lump: &Lump| lump.toward * lump.force;
        self.lumps
            .iter()
            .map(push)
            .sum::<Vector3<f64>>()
            .xy()
            .norm()
    }

    /// The easiest way to tip it over each of [`PLACES`] of its rim, from 12 o'clock by way of 3.
    pub(crate) fn lever_out(&self) -> Vec<Tipping> {
        let place = |k: u8| TAU * f64::from(k) / f64::from(PLACES);
        (0..PLACES)
            .into_par_iter()
            .map(|k| self.lever_out_over(place(k)))
            .collect()
    }

    /// The moment that tips it with that place of the rim staying down.
    ///
    /// It turns about its centre and slips out along its axis by `slip` mm for each radian, as much as
    /// makes it easiest; a slip of one radius is a turn about that place itself.
    pub(crate) fn lever_out_over(&self, over: f64) -> Tipping {
        let slides = self.slides(over);
        let work = |slip: f64| self.work(&slides, slip);
        let (mut low, mut high) = (0.0, 8.0 * self.contact.support.radius);
        let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
        let mut inner = [high - golden * (high - low), low + golden * (high - low)];
        let mut found = inner.map(work);
        // Near its least the work is flat: a tenth of a mm of slip changes it by less than 10⁻⁵.
        while high - low > 0.2 {
            if found[0] <= found[1] {
                high = inner[1];
                inner = [high - golden * (high - low), inner[0]];
                found = [work(inner[0]), found[0]];
            } else {
                low = inner[0];
                inner = [inner[1], low + golden * (high - low)];
                found = [found[1], work(inner[1])];
            }
        }
        let least = found[0].min(found[1]).min(work(0.0));
        let moment = if self.push_out() > 0.0 {
            least.max(0.0)
        } else {
            0.0
        };
        Tipping { moment, over }
    }

    /// The moment of a mere turn about its centre, in N mm.
    #[cfg(test)]
    pub(crate) fn work_about_centre(&self, over: f64) -> f64 {
        self.work(&self.slides(over), 0.0)
    }

    /// How each patch slides when the cup tips over a place of the rim.
    ///
    /// About the centre the place d that stays down sinks and the far side rises: for each radian the patch
    /// at w moves by `t = R (d (w·z) − z (w·d))`; slipping out by s adds `s p`, where `p = z − w (w·z)` is
    /// what of it lies along the surface. As d and z are square to each other and t to w, `t·t` is
    /// `R² ((w·z)² + (w·d)²)`, `t·p` is `−R (w·d)` and `p·p` is `1 − (w·z)²`.
    fn slides(&self, over: f64) -> Vec<Slide> {
        let radius = self.contact.support.radius;
        let (sin, cos) = over.sin_cos();
        let slide = |lump: &Lump| {
            let w = &lump.toward;
            let toward = radius * (cos * w.x + sin * w.y);
            Slide {
                force: lump.force,
                turning: (radius * w.z).powi(2) + toward * toward,
                both: -toward,
                slipping: 1.0 - w.z * w.z,
            }
        };
        self.lumps.iter().map(slide).collect()
    }

    /// Work for each radian of tipping, in N mm: what friction takes less what the pressure gives.
    fn work(&self, slides: &[Slide], slip: f64) -> f64 {
        let taken: f64 = slides.iter().map(|slide| slide.dissipates(slip)).sum();
        self.contact.friction * taken - self.outward * slip
    }

    /// What presses at the planned place, in each of twelve sectors about the hours 12, 1, … 11.
    pub(crate) fn interference_by_hour(&self) -> [Sector; 12] {
        let patches = self.contact.support.patches();
        let pieces = patches.flat_map(|(patch, pieces)| pieces.iter().map(|p| (patch.turn, p)));
        self.by_hour(0.0, pieces)
    }

    /// What presses where bone ends toward the edge, in the same sectors, at rest.
    fn rim_by_hour(&self) -> [Sector; 12] {
        let patches: Vec<_> = self.contact.support.patches().collect();
        // Patches of a meridian follow each other from the pole out.
        let outer = patches.iter().enumerate().filter(|(k, (patch, _))| {
            let next = patches.get(k + 1);
            next.is_none_or(|(next, _)| next.turn.total_cmp(&patch.turn).is_ne())
        });
        let pieces = outer.filter_map(|(_, (patch, all))| all.last().map(|p| (patch.turn, p)));
        self.by_hour(self.proud, pieces)
    }

    /// Mean of what is pressed where the cup stands `proud`, over the pieces of each sector that are.
    fn by_hour<'p>(
        &self,
        proud: f64,
        pieces: impl Iterator<Item = (f64, &'p Piece)>,
    ) -> [Sector; 12] {
        let mut sectors = [Sector::default(); 12];
        for (turn, piece) in pieces {
            let pressed = self.contact.pressed(piece, proud);
            if pressed > 0.0 {
                let sector = &mut sectors[hour(turn)];
                sector.pressed += pressed * piece.area;
                sector.area += piece.area;
            }
        }
        for sector in sectors.iter_mut().filter(|s| s.area > 0.0) {
            sector.pressed /= sector.area;
        }
        sectors
    }

    /// By how much the rim of the cavity is stretched where it is stretched most (u / r of a cavity that
    /// grows from r by u), and the hour.
    pub(crate) fn hoop_strain(&self) -> (f64, f64) {
        let sectors = self.rim_by_hour();
        let radius = self.contact.support.radius;
        let strain = |u: f64| u / (radius - u);
        let most = (0_u8..12)
            .zip(&sectors)
            .max_by(|a, b| a.1.pressed.total_cmp(&b.1.pressed));
        most.map_or((0.0, 0.0), |(hour, s)| (strain(s.pressed), f64::from(hour)))
    }
}

/// A twelfth of the round side.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Sector {
    /// Mean of what is pressed, in mm.
    pub(crate) pressed: f64,
    /// Area, in mm².
    pub(crate) area: f64,
}

/// The sector about an hour that a turn lies in.
fn hour(turn: f64) -> usize {
    let hours = (turn / TAU * 12.0).round().rem_euclid(12.0);
    let mut sectors = 0_u8..12;
    let found = sectors.position(|hour| (f64::from(hour) - hours).abs() < 0.5);
    found.unwrap_or(0)
}
