//! Where screws may go: quadrants about the line from the ASIS, bone along candidate directions inside
//! the cup's screw-hole cone, and the longest safe screw.
//!
//! Bone is measured from the cup's outer surface along the screw, exact along each. What lies beyond the
//! bone, vessels and nerves, is in no mesh: the quadrants stand for it, as published, and lose their
//! meaning when the hip centre stands high or the cup is very large.

use std::f64::consts::TAU;

use cupwright_anatomy::Hour;
use cupwright_geometry::{Bullet, crossing};
use nalgebra::{Point3, Unit, UnitVector3};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::hold::BadInput;
use crate::placed::{NotPlaced, Placed};

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

/// The longest screw in the postero-inferior quadrant, in mm.
const POSTEROINFERIOR_LIMIT: f64 = 20.0;

/// The longest screw in the postero-superior quadrant, in mm: what was safe along its bisector in 50 hips
/// (Park 2021, J Arthroplasty 36:744).
const POSTEROSUPERIOR_LIMIT: f64 = 43.3;

/// Bone may begin this far behind the cup, in mm, and still be held by a screw; assumed.
const LARGEST_GAP: f64 = 2.0;

/// What no case says of the cup's screws.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
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

/// A quarter of the socket, by the line from the ASIS through the cup's centre and the one square to it.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quadrant {
    /// Toward the head, behind the line.
    PosteroSuperior,
    /// Toward the feet, behind the line.
    PosteroInferior,
    /// Toward the head, in front of the line.
    AnteroSuperior,
    /// Toward the feet, in front of the line.
    AnteroInferior,
}

impl Quadrant {
    /// All of them, the safest first.
    pub const ALL: [Self; 4] = [
        Self::PosteroSuperior,
        Self::PosteroInferior,
        Self::AnteroSuperior,
        Self::AnteroInferior,
    ];

    /// The quadrant of a place on the rim's clock, with the line to the ASIS at `line`.
    ///
    /// On a border: the one next toward 3 o'clock from the line, and so on round.
    pub fn at(place: Hour, line: Hour) -> Self {
        let from_line = Hour::from_hours(place.hours() - line.hours()).hours();
        // The ASIS lies in the upper half of the face; were it in the lower one, the anterior side of the
        // line would be on its other hand.
        let upper = !(3.0..9.0).contains(&line.hours());
        let round = if upper { from_line } else { 12.0 - from_line };
        if round < 3.0 {
            Self::AnteroSuperior
        } else if round < 6.0 {
            Self::AnteroInferior
        } else if round < 9.0 {
            Self::PosteroInferior
        } else {
            Self::PosteroSuperior
        }
    }

    /// What the trade says of it.
    pub fn advice(self) -> &'static str {
        match self {
            Self::PosteroSuperior => {
                "safe, for screws that stay in bone and under 44 mm (Park 2021, J Arthroplasty 36:744)"
            }
            Self::PosteroInferior => "with caution, screws under 20 mm",
            Self::AnteroSuperior => "dangerous: external iliac vessels",
            Self::AnteroInferior => "dangerous: obturator vessels and nerve",
        }
    }

    /// The longest screw that is safe whatever the bone, in mm; 0 where none is.
    fn limit(self) -> f64 {
        match self {
            Self::PosteroSuperior => POSTEROSUPERIOR_LIMIT,
            Self::PosteroInferior => POSTEROINFERIOR_LIMIT,
            Self::AnteroSuperior | Self::AnteroInferior => 0.0,
        }
    }
}

impl std::fmt::Display for Quadrant {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::PosteroSuperior => "postero-superior",
            Self::PosteroInferior => "postero-inferior",
            Self::AnteroSuperior => "antero-superior",
            Self::AnteroInferior => "antero-inferior",
        })
    }
}

/// One hole and the best direction through it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Debug, PartialEq, Serialize)]
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
    let reamers = Placed::reamers(case, bone)?;
    let swept: Vec<_> = reamers.iter().map(Placed::swept).collect();
    screws_of(bone, &Placed::cup(case, bone)?, &swept, inputs)
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

/// What screws are tried with.
struct Drill<'a> {
    bone: &'a Bone,
    cup: &'a Placed,
    swept: &'a [Bullet],
    inputs: &'a ScrewInputs,
    line: Hour,
}

impl Drill<'_> {
    /// The best direction through a hole: the longest safe screw, then the deepest bone.
    fn hole(&self, hour: Hour, down: f64) -> ScrewFinding {
        let square = self.square(hour, down);
        let out = self.out(hour, down);
        let lean = self.inputs.tilt_deg.to_radians();
        let side = Unit::new_normalize(self.cup.head().axis().cross(&out));
        let across = out.cross(&side);
        let leaning = (0_u8..8).map(|k| {
            let (sin, cos) = (TAU * f64::from(k) / 8.0).sin_cos();
            let aside = side.into_inner() * cos + across * sin;
            let toward = Unit::new_normalize(out.into_inner() * lean.cos() + aside * lean.sin());
            self.screw(hour, down, &toward)
        });
        let stays = leaning.filter(|screw| self.stays(screw, hour, down));
        let better = |screw: &ScrewFinding| (screw.longest_safe_mm.unwrap_or(0.0), screw.bone_mm);
        stays.fold(square, |best, screw| {
            if better(&screw) > better(&best) {
                screw
            } else {
                best
            }
        })
    }

    /// Straight out of the cup at a place on its round side.
    fn square(&self, hour: Hour, down: f64) -> ScrewFinding {
        self.screw(hour, down, &self.out(hour, down))
    }

    /// From the cup's centre to a place on its round side.
    fn out(&self, hour: Hour, down: f64) -> UnitVector3<f64> {
        let axis = self.cup.head().axis().into_inner();
        Unit::new_normalize(self.cup.toward(hour) * down.sin() - axis * down.cos())
    }

    fn place(&self, hour: Hour, down: f64) -> Point3<f64> {
        let head = self.cup.head();
        head.centre() + self.out(hour, down).into_inner() * head.radius()
    }

    fn screw(&self, hour: Hour, down: f64, toward: &UnitVector3<f64>) -> ScrewFinding {
        let from = self.place(hour, down);
        let left = crossing::intervals_left(&self.bone.solid, self.swept, &from, toward);
        let first = left.first().filter(|[start, _]| *start <= LARGEST_GAP);
        let bone_mm = first.map_or(0.0, |[_, end]| *end);
        let quadrant = Quadrant::at(hour, self.line);
        let shift = self.bone.shift(toward);
        ScrewFinding {
            clock_h: hour.hours(),
            from_pole_deg: down.to_degrees(),
            quadrant,
            tilt_deg: toward.angle(&self.out(hour, down)).to_degrees(),
            toward: [shift.medial_mm, shift.superior_mm, shift.anterior_mm],
            bone_mm,
            longest_safe_mm: self.inputs.longest(bone_mm, quadrant.limit()),
        }
    }

    /// Whether the tip of a screw lies in the quadrant of its hole.
    fn stays(&self, screw: &ScrewFinding, hour: Hour, down: f64) -> bool {
        let [medial_mm, superior_mm, anterior_mm] = screw.toward;
        let toward = self.bone.vector(crate::findings::Shift {
            medial_mm,
            superior_mm,
            anterior_mm,
        });
        let length = screw.longest_safe_mm.unwrap_or(screw.bone_mm);
        let tip = self.place(hour, down) + toward * length - self.cup.head().centre();
        Quadrant::at(self.cup.hour_of(&tip), self.line) == screw.quadrant
    }

    fn quadrant(&self, quadrant: Quadrant, holes: &[ScrewFinding]) -> QuadrantFinding {
        let own = || holes.iter().filter(|screw| screw.quadrant == quadrant);
        let safe = own().filter(|screw| screw.longest_safe_mm.is_some());
        let best = safe.max_by(|a, b| {
            let of = |s: &ScrewFinding| s.longest_safe_mm.unwrap_or(0.0);
            of(a)
                .total_cmp(&of(b))
                .then(a.bone_mm.total_cmp(&b.bone_mm))
        });
        let begins = [0.0, 3.0, 6.0, 9.0].map(|after| self.line.hours() + after);
        let begin = begins
            .into_iter()
            .find(|begin| Quadrant::at(Hour::from_hours(begin + 1.5), self.line) == quadrant);
        let begin = begin.unwrap_or(0.0);
        QuadrantFinding {
            quadrant,
            clock_h: [begin, begin + 3.0].map(|hours| Hour::from_hours(hours).hours()),
            advice: quadrant.advice(),
            deepest_bone_mm: own().map(|screw| screw.bone_mm).fold(0.0, f64::max),
            best: best.copied(),
        }
    }
}

impl ScrewInputs {
    fn check(&self) -> Result<(), BadInput> {
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

    fn at(place: f64, line: f64) -> Quadrant {
        Quadrant::at(Hour::from_hours(place), Hour::from_hours(line))
    }

    #[test]
    fn quadrants_lie_on_either_side_of_the_line_and_of_its_square() {
        // The ASIS at 1:30: in front of it, below it, behind it.
        for (place, quadrant) in [
            (1.6, Quadrant::AnteroSuperior),
            (4.4, Quadrant::AnteroSuperior),
            (4.6, Quadrant::AnteroInferior),
            (7.4, Quadrant::AnteroInferior),
            (7.6, Quadrant::PosteroInferior),
            (10.4, Quadrant::PosteroInferior),
            (10.6, Quadrant::PosteroSuperior),
            (1.4, Quadrant::PosteroSuperior),
            (0.0, Quadrant::PosteroSuperior),
        ] {
            assert_eq!(at(place, 1.5), quadrant, "{place}");
        }
    }

    #[test]
    fn an_asis_in_the_lower_half_of_the_face_keeps_front_and_back() {
        assert_eq!(at(3.0, 4.0), Quadrant::AnteroSuperior);
        assert_eq!(at(6.0, 4.0), Quadrant::PosteroSuperior);
    }

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
