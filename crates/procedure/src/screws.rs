//! Where screws may go: quadrants about the line from the ASIS, bone along candidate directions inside
//! the cup's screw-hole cone, and the longest safe screw.
//!
//! Bone is measured from the cup's outer surface along the screw, exact along each. What lies beyond the
//! bone, vessels and nerves, is in no mesh: the quadrants stand for it, as published, and lose their
//! meaning when the hip centre stands high or the cup is very large.

mod drill;
mod quadrant;

use cupwright_anatomy::Hour;
use cupwright_geometry::Bullet;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::hold::BadInput;
use crate::placed::{NotPlaced, Placed, Tools};
use drill::Drill;
pub use quadrant::Quadrant;

/// What the screws take for granted.
pub const ASSUMES: &str = "first-order estimate: straight screws without width from the cup's outer surface through one stretch \
     of bone; vessels and nerves are not in the model, quadrants stand for them";

/// Where the quadrants come from.
pub const SOURCE: &str = "Wasielewski 1990, as quoted in review";

/// Height of the hip centre above the native one from which quadrants are unreliable, in mm.
///
/// That a high centre and a jumbo cup make them so is published (reviews); 10 mm is assumed.
pub const HIGH_CENTRE: f64 = 10.0;

/// Diameters from which a cup is called jumbo, in mm: women, men.
pub const JUMBO: [f64; 2] = [62.0, 66.0];

/// What no case says of the cup's screws.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct ScrewInputs {
    /// The holes lie within this angle from the pole, in degrees; 45: assumed.
    pub cone_deg: f64,
    /// A screw may lean this far from square to the cup, in degrees; 15: assumed.
    pub tilt_deg: f64,
    /// The tip stays this far short of the far surface, in mm; 2: assumed.
    pub tip_margin_mm: f64,
    /// The shortest screw, in mm; 15: common practice, no published source.
    pub shortest_mm: f64,
    /// The longest screw, in mm; 70: common practice, no published source.
    pub longest_mm: f64,
    /// From one length to the next, in mm; 5: common practice, no published source.
    pub step_mm: f64,
}

impl Default for ScrewInputs {
    fn default() -> Self {
        Self {
            cone_deg: 45.0,
            tilt_deg: 15.0,
            tip_margin_mm: 2.0,
            shortest_mm: 15.0,
            longest_mm: 70.0,
            step_mm: 5.0,
        }
    }
}

/// Why there are no screws to tell.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoScrews {
    /// A tool cannot be placed.
    #[error(transparent)]
    Placed(#[from] NotPlaced),
    /// A number of the inputs that cannot be.
    #[error(transparent)]
    Input(#[from] BadInput),
    /// The bone's ASIS is not known.
    #[error("quadrants need the ASIS; give landmarks in the case (axes: Landmarks(...))")]
    NoAsis,
    /// The cup faces the ASIS.
    #[error("the cup's axis points at the ASIS, so no line through both divides its rim")]
    AsisOnAxis,
}

/// One hole and the best direction through it.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct ScrewFinding {
    /// The hole on the clock.
    pub clock_h: f64,
    /// The hole's angle from the pole.
    pub from_pole_deg: f64,
    /// The hole's quadrant.
    pub quadrant: Quadrant,
    /// How far the screw leans from square to the cup.
    pub tilt_deg: f64,
    /// Where it points: medial, superior and anterior parts of a unit vector.
    pub toward: [f64; 3],
    /// From the cup's outer surface to where the screw would leave bone; 0 where there is none.
    pub bone_mm: f64,
    /// The longest screw that stays in bone and within the quadrant's limit; `None` where there is none.
    pub longest_safe_mm: Option<f64>,
}

/// A quadrant.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct QuadrantFinding {
    /// Which.
    pub quadrant: Quadrant,
    /// Where it begins and ends on the clock, by way of 3 o'clock.
    pub clock_h: [f64; 2],
    /// What the trade says of it.
    pub advice: &'static str,
    /// The deepest bone along any candidate; 0 where there is none.
    pub deepest_bone_mm: f64,
    /// The best screw, the longest safe one; `None` where there is none.
    pub best: Option<ScrewFinding>,
}

/// Where screws may go.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct ScrewsFinding {
    /// The numbers that went in.
    pub inputs: ScrewInputs,
    /// The ASIS on the clock of the cup.
    pub asis_clock_h: f64,
    /// How far the cup's centre stands above the native one.
    pub centre_above_native_mm: f64,
    /// Why the quadrants are not to be relied on; empty where they are.
    pub unreliable_because: Vec<String>,
    /// The quadrants, the safest first.
    pub quadrants: Vec<QuadrantFinding>,
    /// Square to the cup half way between the borders of the postero-superior quadrant, half way out in
    /// the cone.
    pub bisector: ScrewFinding,
    /// Every hole with its best direction.
    pub holes: Vec<ScrewFinding>,
    /// Where the quadrants come from.
    pub source: &'static str,
    /// The assumptions, for the reader.
    pub assumptions: Vec<&'static str>,
}

/// Where screws of a case's cup may go.
///
/// # Errors
/// When a tool cannot be placed, the ASIS is not known or lies on the cup's axis, or a number of the
/// inputs cannot be.
pub fn screws(case: &Case, bone: &Bone, inputs: &ScrewInputs) -> Result<ScrewsFinding, NoScrews> {
    let tools = Tools::of(case, bone)?;
    screws_of(bone, &tools.cup, &tools.swept, inputs)
}

/// Where screws of a cup may go, after reamers have swept `swept`.
///
/// # Errors
/// As for [`screws`].
pub fn screws_of(
    bone: &Bone,
    cup: &Placed,
    swept: &[Bullet],
    inputs: &ScrewInputs,
) -> Result<ScrewsFinding, NoScrews> {
    inputs.check()?;
    let drill = Drill {
        bone,
        cup,
        swept,
        inputs,
        line: line(bone, cup)?,
    };
    let rings = [1.0 / 3.0, 2.0 / 3.0, 1.0].map(|part| part * inputs.cone_deg);
    let places = rings
        .iter()
        .flat_map(|&deg| (0_u8..12).map(move |hour| (f64::from(hour), deg)));
    let places: Vec<_> = places.collect();
    let holes: Vec<_> = places
        .into_par_iter()
        .map(|(hour, deg)| drill.hole(Hour::from_hours(hour), deg.to_radians()))
        .collect();
    let middle = Hour::from_hours(drill.line.hours() - 1.5);
    let half_way = (inputs.cone_deg / 2.0).to_radians();
    let above = bone
        .shift(&(cup.head().centre() - bone.native_centre))
        .superior_mm;
    Ok(ScrewsFinding {
        inputs: *inputs,
        asis_clock_h: drill.line.hours(),
        centre_above_native_mm: above,
        unreliable_because: doubts(above, 2.0 * cup.head().radius()),
        quadrants: Quadrant::ALL
            .map(|quadrant| drill.quadrant(quadrant, &holes))
            .to_vec(),
        bisector: drill.square(middle, half_way),
        holes,
        source: SOURCE,
        assumptions: vec![ASSUMES],
    })
}

/// The ASIS on the clock of the cup.
fn line(bone: &Bone, cup: &Placed) -> Result<Hour, NoScrews> {
    let landmarks = bone.landmarks.as_ref().ok_or(NoScrews::NoAsis)?;
    let toward = landmarks.asis.on(bone.side) - cup.head().centre();
    let across = toward.dot(&cup.twelve()).hypot(toward.dot(&cup.three()));
    // Nearer to the axis than this share of its distance it is on it to any eye.
    if across > 1e-3 * toward.norm() {
        Ok(cup.hour_of(&toward))
    } else {
        Err(NoScrews::AsisOnAxis)
    }
}

fn doubts(above_mm: f64, diameter_mm: f64) -> Vec<String> {
    let mut doubts = Vec::new();
    if above_mm > HIGH_CENTRE {
        doubts.push(format!(
            "the cup's centre stands {above_mm:.0} mm above the native one, more than {HIGH_CENTRE:.0}: the quadrants \
             no longer lie where they were published"
        ));
    }
    let [women, men] = JUMBO;
    if diameter_mm >= women {
        doubts.push(format!(
            "a cup of {diameter_mm:.0} mm is a jumbo one (from {women:.0} in women, {men:.0} in men): the quadrants no \
             longer lie where they were published"
        ));
    }
    doubts
}

impl ScrewInputs {
    /// Refuses numbers that cannot be.
    ///
    /// # Errors
    /// The first of them, by the name of its field.
    pub fn check(&self) -> Result<(), BadInput> {
        let range = crate::hold::ranged;
        let size = "between 0 and 200 mm";
        range(
            "screws.cone_deg",
            self.cone_deg,
            0.0..=90.0,
            "between 0 and 90 degrees",
        )?;
        range(
            "screws.tilt_deg",
            self.tilt_deg,
            0.0..=45.0,
            "between 0 and 45 degrees",
        )?;
        range(
            "screws.tip_margin_mm",
            self.tip_margin_mm,
            0.0..=200.0,
            size,
        )?;
        range("screws.shortest_mm", self.shortest_mm, 0.0..=200.0, size)?;
        range("screws.longest_mm", self.longest_mm, 0.0..=200.0, size)?;
        range(
            "screws.step_mm",
            self.step_mm,
            0.1..=200.0,
            "between 0.1 and 200 mm",
        )
    }

    /// The longest screw whose tip stays short of the end of the bone, at most `limit`.
    fn longest(&self, bone_mm: f64, limit: f64) -> Option<f64> {
        let room = (bone_mm - self.tip_margin_mm)
            .min(limit)
            .min(self.longest_mm);
        let steps = ((room - self.shortest_mm) / self.step_mm + 1e-9).floor();
        (steps >= 0.0).then_some(self.shortest_mm + steps * self.step_mm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_screw_stays_short_of_the_far_surface_and_of_its_quadrant_s_limit() {
        let inputs = ScrewInputs::default();
        assert_eq!(inputs.longest(47.0, f64::INFINITY), Some(45.0));
        assert_eq!(inputs.longest(46.9, f64::INFINITY), Some(40.0));
        assert_eq!(inputs.longest(46.9, 20.0), Some(20.0));
        assert_eq!(inputs.longest(16.9, f64::INFINITY), None);
        assert_eq!(inputs.longest(60.0, 0.0), None);
        assert_eq!(inputs.longest(500.0, f64::INFINITY), Some(70.0));
    }

    #[test]
    fn high_centres_and_jumbo_cups_are_doubted() {
        assert!(doubts(10.0, 54.0).is_empty());
        assert_eq!(doubts(15.0, 54.0).len(), 1);
        assert_eq!(doubts(15.0, 66.0).len(), 2);
    }
}
