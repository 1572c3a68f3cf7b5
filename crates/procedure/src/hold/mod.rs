//! Will the cup hold by press-fit alone? A first-order estimate from the bone that the reamers leave.
//!
//! The cup is rigid, keeps its axis and its planned path, and presses into an elastic foundation that
//! gives way at the bone's strength. Where bone bears and how far it is pressed is exact along rays from
//! the cup's centre; everything built on it is an estimate, told with its assumptions and with the band
//! that published spreads of stiffness, friction and reamer size give. It ranks plans; it predicts no
//! patient.

pub mod foundation;
mod input;
pub mod quality;
mod seating;
mod stability;
mod support;

use cupwright_geometry::{Bullet, Hemisphere};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::fan::{Fan, Steps};
use crate::placed::{NotPlaced, Placed, Tools};
pub(crate) use input::ranged;
pub use input::{BadInput, PressFitInputs, Spread};
use quality::BoneQuality;
use seating::Contact;
use stability::{Rest, weakest};
use support::{Support, outermost};

/// What every number of a press-fit takes for granted.
pub const ASSUMES: &str = "first-order estimate: a rigid hemispherical cup on its planned path and axis, bone as \
     independent elastic springs that give way at its strength, no movement aside, no bone grown in";

/// What the stiffness takes for granted.
pub const STIFFNESS_ASSUMES: &str = "each direction as stiff as a whole round cavity with the same wall (Lamé); cancellous bone, and the \
     subchondral plate as far as it is left; the far cortex left out, so thin walls read softer than they are";

/// What the seating depth takes for granted.
pub const SEATING_ASSUMES: &str = "steady force along the axis; driven until the floor is touched or the force is spent; one \
     coefficient of friction, no rebound beyond what the floor presses";

/// What the push-out force takes for granted.
pub const PUSH_OUT_ASSUMES: &str =
    "steady pull along the axis; friction holds everywhere at once, pressure as at rest";

/// What the lever-out moment takes for granted.
pub const LEVER_OUT_ASSUMES: &str = "the cup turns about its centre and slips out along its axis in the easiest mixture, over the \
     weakest of 24 places of its rim; an upper bound for that movement";

/// What self-retention takes for granted.
pub const SELF_RETENTION_ASSUMES: &str =
    "stays by itself if friction exceeds the share with which bone pushes it out again";

/// What the hoop strain takes for granted.
pub const HOOP_STRAIN_ASSUMES: &str = "the rim of a round cavity widened by what the cup presses there, none of it taken up by crushing; \
     flagged above 0.06, assumed: between 3 mm of under-reaming, which a 52 mm cup's sockets bore, and 4 mm, \
     which broke some (Curtis 1992, J Bone Joint Surg Br 74-B:372)";

/// Hoop strain of the rim above which it is flagged; see [`HOOP_STRAIN_ASSUMES`].
pub const HOOP_STRAIN_LIMIT: f64 = 0.06;

/// The forces for which the gap at the pole is told, in N.
const FORCES: [f64; 8] = [500.0, 1e3, 1.5e3, 2e3, 2.5e3, 3e3, 4e3, 5e3];

/// Why there is no press-fit to tell.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoPressFit {
    /// A tool cannot be placed.
    #[error(transparent)]
    Placed(#[from] NotPlaced),
    /// A number of the inputs that cannot be.
    #[error(transparent)]
    Input(#[from] BadInput),
}

/// An estimate with the band that the spread of its inputs gives.
#[derive(Clone, Copy, Debug, Default, JsonSchema, PartialEq, Serialize)]
pub struct Banded {
    /// The least over the corners of the spread.
    pub low: f64,
    /// With the inputs as they are.
    pub mid: f64,
    /// The most.
    pub high: f64,
}

/// Where a cup stops under a force.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct GapFinding {
    /// The steady seating force.
    pub force_n: f64,
    /// How far the cup stands outside its planned place.
    pub stands_proud_mm: f64,
    /// Between its pole and bone; `None` where no bone lies behind the pole.
    pub polar_gap_mm: Option<f64>,
}

/// The press-fit of a cup: first-order estimates, see [`ASSUMES`] and its sisters.
#[derive(Clone, Debug, Default, JsonSchema, PartialEq, Serialize)]
pub struct PressFitFinding {
    /// The numbers that went in.
    pub inputs: PressFitInputs,
    /// What the bone's quality stands for.
    pub bone: BoneQuality,
    /// Whether the bone says where its subchondral plate is, so that what is left of it counts.
    pub plate_is_known: bool,
    /// Cup diameter less that of the last reamer.
    pub nominal_interference_mm: f64,
    /// The same with the cavity as large as it turns out.
    pub real_interference_mm: f64,
    /// What the cup presses at its planned place, on the radius, as a mean over the bone pressed in each
    /// of twelve sectors about the hours 12, 1, … 11; `None` where none is.
    pub interference_by_hour_mm: [Option<f64>; 12],
    /// Share of each sector of the round side that presses bone at the planned place.
    pub pressed_by_hour: [f64; 12],
    /// How far outside its planned place the cup comes to rest.
    pub stands_proud_mm: Banded,
    /// Between its pole and bone there; `None` where no bone lies behind the pole.
    pub polar_gap_mm: Option<Banded>,
    /// The gap against the seating force.
    pub gap_by_force: Vec<GapFinding>,
    /// Force that drives the cup until its floor is touched: to bottom out.
    pub force_to_floor_n: Banded,
    /// Force that drives it to its planned place, the floor pressed too.
    pub force_to_planned_place_n: Banded,
    /// Area that touches bone at rest.
    pub contact_area_mm2: Banded,
    /// The same as a share of the round side.
    pub contact_share: Banded,
    /// Share of that area where bone has given way.
    pub crushed_share: Banded,
    /// Force that pulls the cup out along its axis; 0 where it does not stay by itself.
    pub push_out_n: Banded,
    /// Moment that tips it over the weakest place of its rim.
    pub lever_out_nm: Banded,
    /// The same over every place tried, at every half hour from 12 o'clock.
    pub lever_out_by_half_hour_nm: Vec<f64>,
    /// The weakest place, which stays down while the far side rises, on the clock.
    pub tips_over_clock_h: f64,
    /// Moment that turns it about its own axis.
    pub torque_nm: Banded,
    /// The least friction with which it stays by itself.
    pub least_friction: Banded,
    /// Whether the friction that went in is more than that.
    pub self_retaining: bool,
    /// Strain around the rim where it is widened most.
    pub hoop_strain: Banded,
    /// Where that is, on the clock.
    pub hoop_strain_clock_h: f64,
    /// Whether it is more than [`HOOP_STRAIN_LIMIT`].
    pub rim_at_risk: bool,
    /// Push across the axis that bone does not balance: the cup would move aside until it does.
    pub side_thrust_n: f64,
    /// The assumptions, for the reader.
    pub assumptions: Vec<&'static str>,
}

/// The press-fit of a case's cup in the cavity that its reamers leave.
///
/// # Errors
/// When a tool cannot be placed, or a number of the inputs cannot be.
pub fn press_fit(
    case: &Case,
    bone: &Bone,
    inputs: &PressFitInputs,
) -> Result<PressFitFinding, NoPressFit> {
    let tools = Tools::of(case, bone)?;
    let fan = Fan::cast(&bone.solid, &tools.cup, Steps::default());
    press_fit_along(&fan, bone, &tools.cup, &tools.swept, inputs)
}

/// The press-fit of a cup along rays that serve it, after reamers have swept `swept` by their nominal
/// sizes.
///
/// # Errors
/// When a number of the inputs cannot be, or a reamer is made larger than any can be.
pub fn press_fit_along(
    fan: &Fan<'_>,
    bone: &Bone,
    cup: &Placed,
    swept: &[Bullet],
    inputs: &PressFitInputs,
) -> Result<PressFitFinding, NoPressFit> {
    inputs.check()?;
    let real = widened(cup, swept, inputs.reamer_oversize_mm)?;
    let quality = &inputs.quality.numbers();
    let support = Support::of(fan, bone, cup.head(), &real, quality);
    let mid = State::of(contact(&support, quality, inputs), inputs, None);
    let over = mid.tips_over;
    let corners: Vec<_> = inputs.corners();
    let states: Vec<_> = corners
        .into_par_iter()
        .map(|corner| {
            let mut contact = contact(&support, quality, inputs);
            contact.stiffer = corner.stiffness;
            contact.strength *= corner.stiffness;
            contact.friction *= corner.friction;
            contact.wider = corner.wider_mm / 2.0;
            State::of(contact, inputs, Some(over))
        })
        .collect();
    let last = swept.last().map_or(0.0, |last| last.head().radius());
    let nominal = 2.0 * (cup.head().radius() - last);
    Ok(finding(&support, inputs, nominal, &mid, &states))
}

/// The reamers that others do not hide, as wide as they cut in truth.
fn widened(cup: &Placed, swept: &[Bullet], oversize: f64) -> Result<Vec<Bullet>, NoPressFit> {
    let wider = |bullet: &Bullet| {
        let head = bullet.head();
        let radius = head.radius() + oversize / 2.0;
        Hemisphere::new(head.centre(), head.axis().into_inner(), radius)
            .map(Bullet::open)
            .map_err(|problem| NoPressFit::Placed(cup.refused(problem)))
    };
    outermost(swept).iter().map(wider).collect()
}

fn contact<'a>(
    support: &'a Support,
    quality: &BoneQuality,
    inputs: &PressFitInputs,
) -> Contact<'a> {
    Contact {
        support,
        stiffer: 1.0,
        strength: quality.strength_mpa,
        wider: 0.0,
        friction: inputs.friction,
    }
}

/// All banded numbers for one set of inputs.
struct State {
    proud: f64,
    gap: Option<f64>,
    to_floor: f64,
    to_planned: f64,
    area: f64,
    crushed: f64,
    push_out: f64,
    lever_out: f64,
    lever_out_by_place: Vec<f64>,
    tips_over: f64,
    torque: f64,
    least_friction: f64,
    hoop: (f64, f64),
    side_thrust: f64,
    by_hour: [stability::Sector; 12],
    by_force: Vec<GapFinding>,
}

impl State {
    /// `over`: the place of the rim to tip it over, where that is known; else the weakest is sought.
    fn of(contact: Contact<'_>, inputs: &PressFitInputs, over: Option<f64>) -> Self {
        let rest = Rest::at(contact, contact.rest(inputs.seating_force_n));
        let tippings = match over {
            Some(over) => vec![rest.lever_out_over(over)],
            None => rest.lever_out(),
        };
        let tipping = weakest(&tippings);
        let proud = rest.proud();
        let area = contact.area(proud);
        let forces: &[f64] = if over.is_none() { &FORCES } else { &[] };
        Self {
            proud,
            gap: gap(&contact, proud),
            to_floor: contact.driving_force(contact.floor()),
            to_planned: contact.driving_force(0.0),
            area,
            crushed: if area > 0.0 {
                (contact.crushed(proud) / area).min(1.0)
            } else {
                0.0
            },
            push_out: rest.push_out(),
            lever_out: tipping.moment,
            lever_out_by_place: tippings.iter().map(|t| t.moment / 1000.0).collect(),
            tips_over: tipping.over,
            torque: rest.torque(),
            least_friction: rest.least_friction(),
            hoop: rest.hoop_strain(),
            side_thrust: rest.side_thrust(),
            by_hour: rest.interference_by_hour(),
            by_force: forces.par_iter().map(|f| gap_under(&contact, *f)).collect(),
        }
    }
}

fn gap(contact: &Contact<'_>, proud: f64) -> Option<f64> {
    let at_pole = contact.support.pole? - contact.wider;
    Some((proud - at_pole).max(0.0))
}

fn gap_under(contact: &Contact<'_>, force_n: f64) -> GapFinding {
    let stands_proud_mm = contact.proud_under(force_n);
    GapFinding {
        force_n,
        stands_proud_mm,
        polar_gap_mm: gap(contact, stands_proud_mm),
    }
}

fn finding(
    support: &Support,
    inputs: &PressFitInputs,
    nominal: f64,
    mid: &State,
    states: &[State],
) -> PressFitFinding {
    let band = |value: &dyn Fn(&State) -> f64| banded(mid, states, value);
    let round_side = std::f64::consts::TAU * support.radius.powi(2);
    let by_hour = &mid.by_hour;
    PressFitFinding {
        inputs: *inputs,
        bone: inputs.quality.numbers(),
        plate_is_known: support.plate_is_known,
        nominal_interference_mm: nominal,
        real_interference_mm: nominal - inputs.reamer_oversize_mm,
        interference_by_hour_mm: by_hour.map(|s| (s.area > 0.0).then_some(s.pressed)),
        pressed_by_hour: by_hour.map(|s| s.area / (round_side / 12.0)),
        stands_proud_mm: band(&|s| s.proud),
        polar_gap_mm: mid.gap.map(|_| band(&|s| s.gap.unwrap_or(0.0))),
        gap_by_force: mid.by_force.clone(),
        force_to_floor_n: band(&|s| s.to_floor),
        force_to_planned_place_n: band(&|s| s.to_planned),
        contact_area_mm2: band(&|s| s.area),
        contact_share: band(&|s| s.area / round_side),
        crushed_share: band(&|s| s.crushed),
        push_out_n: band(&|s| s.push_out),
        lever_out_nm: band(&|s| s.lever_out / 1000.0),
        lever_out_by_half_hour_nm: mid.lever_out_by_place.clone(),
        tips_over_clock_h: mid.tips_over / std::f64::consts::TAU * 12.0,
        torque_nm: band(&|s| s.torque / 1000.0),
        least_friction: band(&|s| s.least_friction),
        self_retaining: mid.push_out > 0.0,
        hoop_strain: band(&|s| s.hoop.0),
        hoop_strain_clock_h: mid.hoop.1,
        rim_at_risk: mid.hoop.0 > HOOP_STRAIN_LIMIT,
        side_thrust_n: mid.side_thrust,
        assumptions: vec![
            ASSUMES,
            STIFFNESS_ASSUMES,
            SEATING_ASSUMES,
            PUSH_OUT_ASSUMES,
            LEVER_OUT_ASSUMES,
            SELF_RETENTION_ASSUMES,
            HOOP_STRAIN_ASSUMES,
        ],
    }
}

fn banded(mid: &State, states: &[State], value: &dyn Fn(&State) -> f64) -> Banded {
    let mid = value(mid);
    let all = states.iter().map(value);
    let (low, high) = all.fold((mid, mid), |(low, high), v| (low.min(v), high.max(v)));
    Banded { low, mid, high }
}

#[cfg(test)]
mod tests;
