//! How deep a force drives a cup: pressure on an elastic foundation that gives way at its strength.
//!
//! A cup of radius R stands `proud` by s outside its planned place, along its axis. At the angle θ from
//! the pole it then presses by δ − s cos θ, where δ is the interference at the planned place: the rim
//! touches first, the pole last.

use super::support::{Piece, Support};

/// Within which angle from the pole a piece belongs to the floor: cosine of 40°; assumed.
const FLOOR: f64 = 0.766;

/// The seating depth that is tried first, in mm, where there is no floor.
const FIRST_TRY: f64 = 0.1;

/// How often a seating depth is tried at most.
const MOST_TRIES: u32 = 60;

/// The cup against its support in bone and cavity as they turn out.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Contact<'a> {
    /// The support.
    pub(crate) support: &'a Support,
    /// Factor on its stiffness.
    pub(crate) stiffer: f64,
    /// Pressure at which bone gives way, in MPa.
    pub(crate) strength: f64,
    /// By how much the radius of the cavity is wider than the support was measured with, in mm.
    pub(crate) wider: f64,
    /// Friction between cup and bone.
    pub(crate) friction: f64,
}

/// What the pressure of bone adds up to, in N.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Forces {
    /// Out of the socket, along the axis.
    pub(crate) outward: f64,
    /// What friction holds along the axis, for a coefficient of 1.
    pub(crate) grip: f64,
}

impl Contact<'_> {
    /// How far a piece is pressed into bone, in mm; negative where it stands off.
    pub(crate) fn pressed(&self, piece: &Piece, proud: f64) -> f64 {
        piece.interference - self.wider * piece.reamed - proud * piece.cos
    }

    /// The pressure on a piece, in MPa.
    pub(crate) fn pressure(&self, piece: &Piece, proud: f64) -> f64 {
        let elastic = self.stiffer * piece.stiffness * self.pressed(piece, proud);
        elastic.clamp(0.0, self.strength)
    }

    /// The forces on a cup that stands `proud`.
    pub(crate) fn forces(&self, proud: f64) -> Forces {
        let mut sum = Forces::default();
        for piece in &self.support.pieces {
            let force = self.pressure(piece, proud) * piece.area;
            sum.outward += force * piece.cos;
            sum.grip += force * piece.sin;
        }
        sum
    }

    /// The force that drives the cup on where it stands `proud`, in N.
    pub(crate) fn driving_force(&self, proud: f64) -> f64 {
        let forces = self.forces(proud);
        forces.outward + self.friction * forces.grip
    }

    /// Where the cup stands when its floor is touched: what it presses there at its planned place, as a
    /// mean over the floor that it does press; 0 where it presses none.
    pub(crate) fn floor(&self) -> f64 {
        let (mut pressed, mut area) = (0.0, 0.0);
        for piece in &self.support.pieces {
            let own = self.pressed(piece, 0.0);
            if own > 0.0 {
                // Of a piece across the border a part counts.
                let within = 0.5 + (piece.cos - FLOOR) / (piece.sin * piece.extent).max(1e-9);
                let counted = piece.area * within.clamp(0.0, 1.0);
                pressed += own * counted;
                area += counted;
            }
        }
        if area > 0.0 { pressed / area } else { 0.0 }
    }

    /// How far proud of its planned place a force leaves the cup, in mm: 0 where it suffices, at most
    /// the cup's radius.
    pub(crate) fn proud_under(&self, force: f64) -> f64 {
        // What is too much where it stands low, too little where it stands high: the force falls as the
        // cup stands farther out.
        let too_much = |proud: f64| self.driving_force(proud) - force;
        let (mut low, mut at_low) = (0.0, too_much(0.0));
        if at_low <= 0.0 {
            return low;
        }
        let mut high = self.floor().max(FIRST_TRY);
        let mut at_high = too_much(high);
        while at_high > 0.0 {
            if high >= self.support.radius {
                return self.support.radius;
            }
            (low, at_low) = (high, at_high);
            high = (2.0 * high).min(self.support.radius);
            at_high = too_much(high);
        }
        let (enough, mut side) = (1e-6 * force + 1e-9, 0.0);
        for _ in 0..MOST_TRIES {
            // A straight line between both; an end that stays twice counts for half (Illinois).
            let proud = (low * at_high - high * at_low) / (at_high - at_low);
            let found = too_much(proud);
            if found.abs() <= enough || high - low < 1e-7 {
                return proud;
            }
            let again = found * side > 0.0;
            if found > 0.0 {
                (low, at_low) = (proud, found);
                at_high *= if again { 0.5 } else { 1.0 };
            } else {
                (high, at_high) = (proud, found);
                at_low *= if again { 0.5 } else { 1.0 };
            }
            side = found;
        }
        (low + high) / 2.0
    }

    /// Where the cup comes to rest: driven until its floor is touched or the force is spent.
    pub(crate) fn rest(&self, force: f64) -> f64 {
        let floor = self.floor();
        if self.driving_force(floor) <= force {
            floor
        } else {
            self.proud_under(force)
        }
    }

    /// Area that touches bone where the cup stands `proud`, in mm².
    pub(crate) fn area(&self, proud: f64) -> f64 {
        self.area_pressed(proud, |_| 0.0)
    }

    /// Area where bone has given way, in mm².
    pub(crate) fn crushed(&self, proud: f64) -> f64 {
        let stiffness = |piece: &Piece| (self.stiffer * piece.stiffness).max(f64::MIN_POSITIVE);
        self.area_pressed(proud, |piece| self.strength / stiffness(piece))
    }

    /// Area pressed by more than a limit.
    fn area_pressed(&self, proud: f64, limit: impl Fn(&Piece) -> f64) -> f64 {
        let over = |piece: &Piece| {
            let over = self.pressed(piece, proud) - limit(piece);
            // How much what is pressed changes over the piece: of one at the border a part counts.
            let change = proud * piece.sin * piece.extent;
            if over.abs() < change / 2.0 {
                piece.area * (0.5 + over / change)
            } else if over > 0.0 {
                piece.area
            } else {
                0.0
            }
        };
        self.support.pieces.iter().map(over).sum()
    }
}
