//! Tries directions through a hole of the cup.

use std::f64::consts::TAU;

use cupwright_anatomy::Hour;
use cupwright_geometry::{Bullet, crossing};
use nalgebra::{Point3, Unit, UnitVector3};

use super::{Quadrant, QuadrantFinding, ScrewFinding, ScrewInputs};
use crate::bone::Bone;
use crate::placed::Placed;

/// Bone may begin this far behind the cup, in mm, and still be held by a screw; assumed.
const LARGEST_GAP: f64 = 2.0;

/// What screws are tried with.
pub(super) struct Drill<'a> {
    pub(super) bone: &'a Bone,
    pub(super) cup: &'a Placed,
    pub(super) swept: &'a [Bullet],
    pub(super) inputs: &'a ScrewInputs,
    pub(super) line: Hour,
}

impl Drill<'_> {
    /// The best direction through a hole: the longest safe screw, then the deepest bone.
    pub(super) fn hole(&self, hour: Hour, down: f64) -> ScrewFinding {
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
    pub(super) fn square(&self, hour: Hour, down: f64) -> ScrewFinding {
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

    pub(super) fn quadrant(&self, quadrant: Quadrant, holes: &[ScrewFinding]) -> QuadrantFinding {
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
