//! The numbers that a lesson asks for and a comparison tells, each defined once.
//!
//! A [`Quantity`] is read off [`Findings`] and measures nothing itself. Lengths in mm, volumes in mm³,
//! angles in degrees, shares from 0 to 1.

mod words;

use cupwright_anatomy::Hour;
use serde::Deserialize;

use crate::findings::{CupFinding, Findings, OverhangFinding, Wall, WallFinding};
use crate::joint::JointFinding;
use crate::joint::length::signed;

/// One number of a run.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq)]
#[expect(missing_docs, reason = "each is defined by its meaning()")]
pub enum Quantity {
    Coverage,
    WorstSector,
    RimContact,
    RemovedMm3,
    ThinnestWallMm,
    /// Of one wall, such as `WallMm(Medial)`.
    WallMm(#[serde(with = "WallEntry")] Wall),
    LargestOverhangMm,
    InterferenceMm,
    CentreShiftMm,
    MedialMm,
    SuperiorMm,
    AnteriorMm,
    InclinationDeg,
    AnteversionDeg,
    CupDiameterMm,
    Reamers,
    LargestReamerStepMm,
    FilmCoverage,
    MedialBreachMm2,
    PolarGapMm,
    PushOutN,
    LeverOutNm,
    RimStretch,
    LinerWallMm,
    JumpDistanceMm,
    LegLengthMm,
    TotalOffsetMm,
    MotionMarginDeg,
}

/// How a wall is typed.
#[derive(Deserialize)]
#[serde(remote = "Wall")]
enum WallEntry {
    Medial,
    Anterior,
    Posterior,
    Superior,
    Inferior,
}

/// Which way a number is better, where the trade agrees on one.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Sense {
    /// More is better.
    More,
    /// Less is better.
    Less,
    /// A matter of balance.
    Balance,
}

/// What a number counts.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Measure {
    Share,
    Volume,
    Length,
    Angle,
    Area,
    Force,
    Moment,
    Count,
}

impl Quantity {
    /// What a limit of a case, by the name of its field such as `min_coverage`, is about, and which way it
    /// holds: `at least` or `at most`.
    pub fn of_limit(limit: &str) -> Option<(Self, &'static str)> {
        let quantity = match limit {
            "min_coverage" => Self::Coverage,
            "min_rim_contact" => Self::RimContact,
            "min_wall_mm" => Self::ThinnestWallMm,
            "max_overhang_mm" => Self::LargestOverhangMm,
            "max_centre_shift_mm" => Self::CentreShiftMm,
            "max_removed_mm3" => Self::RemovedMm3,
            _ => return None,
        };
        let way = if limit.starts_with("min_") {
            "at least"
        } else {
            "at most"
        };
        Some((quantity, way))
    }

    /// The unit of the number: `share` (0 to 1), `mm³`, `mm²`, `mm`, `°`, `N`, `Nm`, or nothing for a count.
    pub fn unit(self) -> &'static str {
        match self.measure() {
            Measure::Share => "share",
            Measure::Volume => "mm³",
            Measure::Length => "mm",
            Measure::Angle => "°",
            Measure::Area => "mm²",
            Measure::Force => "N",
            Measure::Moment => "Nm",
            Measure::Count => "",
        }
    }

    /// Which way it is better: common practice, no published source.
    pub fn sense(self) -> Sense {
        match self {
            Self::Coverage
            | Self::WorstSector
            | Self::RimContact
            | Self::ThinnestWallMm
            | Self::WallMm(_)
            | Self::FilmCoverage
            | Self::PushOutN
            | Self::LeverOutNm
            | Self::LinerWallMm
            | Self::JumpDistanceMm
            | Self::MotionMarginDeg => Sense::More,
            Self::RemovedMm3
            | Self::LargestOverhangMm
            | Self::MedialBreachMm2
            | Self::PolarGapMm
            | Self::RimStretch => Sense::Less,
            _ => Sense::Balance,
        }
    }

    /// The number in a run; `None` where there was nothing to measure.
    pub fn of(self, findings: &Findings) -> Option<f64> {
        let cup = &findings.cup;
        let shift = cup.centre_shift;
        match self {
            Self::Coverage => Some(cup.coverage_after_reaming),
            Self::WorstSector => Some(worst_sector(cup).1),
            Self::RimContact => Some(cup.rim_contact),
            Self::RemovedMm3 => findings.reaming.last().map(|s| s.cumulative_removed_mm3),
            Self::ThinnestWallMm | Self::WallMm(_) => {
                self.wall(findings).map(|wall| wall.thickness_mm)
            }
            Self::LargestOverhangMm => proudest(cup).map(|place| place.proud_mm),
            Self::InterferenceMm => Some(cup.interference_mm),
            Self::CentreShiftMm => Some(shift.distance()),
            Self::MedialMm => Some(shift.medial_mm),
            Self::SuperiorMm => Some(shift.superior_mm),
            Self::AnteriorMm => Some(shift.anterior_mm),
            // The case's own definition comes first.
            Self::InclinationDeg => cup.angles.first().map(|pair| pair.inclination_deg),
            Self::AnteversionDeg => cup.angles.first().map(|pair| pair.anteversion_deg),
            Self::CupDiameterMm => Some(cup.diameter_mm),
            Self::Reamers => u32::try_from(findings.reaming.len()).ok().map(f64::from),
            Self::LargestReamerStepMm => {
                let pairs = findings.reaming.windows(2);
                let steps = pairs.map(|pair| pair[1].diameter_mm - pair[0].diameter_mm);
                steps.max_by(f64::total_cmp)
            }
            Self::FilmCoverage => Some(cup.film.width_covered),
            Self::MedialBreachMm2
            | Self::PolarGapMm
            | Self::PushOutN
            | Self::LeverOutNm
            | Self::RimStretch => self.of_hold(findings),
            _ => self.of_joint(findings.joint.as_ref()?),
        }
    }

    fn of_hold(self, findings: &Findings) -> Option<f64> {
        let hold = &findings.press_fit;
        match self {
            Self::MedialBreachMm2 => Some(findings.stock.cavity.medial_breach_mm2),
            Self::PolarGapMm => hold.polar_gap_mm.map(|gap| gap.mid),
            Self::PushOutN => Some(hold.push_out_n.mid),
            Self::LeverOutNm => Some(hold.lever_out_nm.mid),
            _ => Some(hold.hoop_strain.mid),
        }
    }

    fn of_joint(self, joint: &JointFinding) -> Option<f64> {
        let ball = joint.length.balls.get(joint.length.chosen);
        match self {
            Self::LinerWallMm => Some(joint.liner.wall_mm.min(joint.liner.wall_at_pole_mm)),
            Self::JumpDistanceMm => Some(joint.liner.jump_distance_mm),
            Self::LegLengthMm => ball.map(|ball| ball.leg_length_mm),
            Self::TotalOffsetMm => ball.map(|ball| ball.total_offset_mm),
            _ => joint
                .motion
                .needs
                .iter()
                .map(|need| need.margin_deg)
                .min_by(f64::total_cmp),
        }
    }

    /// Where the number was found, such as `medial 4:40`; `None` where it belongs to no place.
    pub fn place(self, findings: &Findings) -> Option<String> {
        match self {
            Self::ThinnestWallMm => {
                let wall = self.wall(findings)?;
                Some(format!("{} {}", wall.wall, clock(wall.clock_h)))
            }
            Self::WallMm(_) => Some(clock(self.wall(findings)?.clock_h)),
            Self::LargestOverhangMm => proudest(&findings.cup)
                .filter(|place| place.proud_mm > 0.0)
                .map(|place| clock(place.clock_h)),
            Self::WorstSector => Some(clock(worst_sector(&findings.cup).0)),
            Self::LeverOutNm => Some(clock(findings.press_fit.tips_over_clock_h)),
            Self::RimStretch => Some(clock(findings.press_fit.hoop_strain_clock_h)),
            Self::LegLengthMm | Self::TotalOffsetMm => {
                let length = &findings.joint.as_ref()?.length;
                let ball = length.balls.get(length.chosen)?;
                Some(format!("ball {}", signed(ball.ball_mm)))
            }
            Self::MotionMarginDeg => {
                let needs = findings.joint.as_ref()?.motion.needs.iter();
                let least = needs.min_by(|a, b| a.margin_deg.total_cmp(&b.margin_deg))?;
                Some(least.movement.to_string())
            }
            _ => None,
        }
    }

    /// A value of it with its unit as a reader wants it: `80.0 %`, `5.88 cm³`, `4.8 mm`, `40.0°`, `3`.
    pub fn told(self, value: f64) -> String {
        match self.measure() {
            Measure::Share => format!("{} %", fixed(100.0 * value, 1)),
            Measure::Volume => format!("{} cm³", fixed(value / 1000.0, 2)),
            Measure::Length => format!("{} mm", fixed(value, 1)),
            Measure::Angle => format!("{}°", fixed(value, 1)),
            Measure::Area => format!("{} mm²", fixed(value, 0)),
            Measure::Force => format!("{} N", fixed(value, 0)),
            Measure::Moment => format!("{} Nm", fixed(value, 1)),
            Measure::Count => fixed(value, 0),
        }
    }

    /// Whether it is a share, which runs from 0 to 1.
    pub fn is_share(self) -> bool {
        self.measure() == Measure::Share
    }

    fn measure(self) -> Measure {
        match self {
            Self::Coverage
            | Self::WorstSector
            | Self::RimContact
            | Self::FilmCoverage
            | Self::RimStretch => Measure::Share,
            Self::RemovedMm3 => Measure::Volume,
            Self::MedialBreachMm2 => Measure::Area,
            Self::PushOutN => Measure::Force,
            Self::LeverOutNm => Measure::Moment,
            Self::InclinationDeg | Self::AnteversionDeg | Self::MotionMarginDeg => Measure::Angle,
            Self::Reamers => Measure::Count,
            _ => Measure::Length,
        }
    }

    fn wall(self, findings: &Findings) -> Option<&WallFinding> {
        let last = findings.reaming.last()?;
        match self {
            Self::WallMm(wanted) => last.walls.iter().find(|wall| wall.wall == wanted),
            _ => last.thinnest_wall.as_ref(),
        }
    }
}

/// The hour of the least covered sector, and its coverage.
fn worst_sector(cup: &CupFinding) -> (f64, f64) {
    let hours = (0..12_u8).map(f64::from).zip(cup.coverage_by_hour);
    let first = (0.0, cup.coverage_by_hour[0]);
    hours.fold(
        first,
        |worst, next| if next.1 < worst.1 { next } else { worst },
    )
}

/// The first of the places where the edge stands proudest.
fn proudest(cup: &CupFinding) -> Option<&OverhangFinding> {
    let places = cup.overhang.iter().rev();
    places.max_by(|a, b| a.proud_mm.total_cmp(&b.proud_mm))
}

fn clock(hours: f64) -> String {
    Hour::from_hours(hours).to_string()
}

/// `value` with this many decimals, and never `-0`.
fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|c| matches!(c, '0' | '.')) => zero.into(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[track_caller]
    fn check(quantity: Quantity, told: &str, place: Option<&str>) {
        let findings = sample::findings();
        let value = quantity.of(&findings).unwrap();
        assert_eq!(quantity.told(value), told);
        assert_eq!(quantity.place(&findings).as_deref(), place);
    }

    #[test]
    fn each_number_is_read_where_the_findings_hold_it() {
        check(Quantity::Coverage, "74.1 %", None);
        check(Quantity::WorstSector, "38.0 %", Some("6:00"));
        check(Quantity::RimContact, "54.2 %", None);
        check(Quantity::RemovedMm3, "5.23 cm³", None);
        check(Quantity::ThinnestWallMm, "3.2 mm", Some("medial 10:30"));
        check(Quantity::WallMm(Wall::Posterior), "9.4 mm", Some("8:00"));
        check(Quantity::LargestOverhangMm, "6.3 mm", Some("1:30"));
        check(Quantity::InterferenceMm, "1.0 mm", None);
        check(Quantity::CentreShiftMm, "3.0 mm", None);
        check(Quantity::MedialMm, "2.0 mm", None);
        check(Quantity::SuperiorMm, "1.0 mm", None);
        check(Quantity::AnteriorMm, "-2.0 mm", None);
        check(Quantity::InclinationDeg, "40.0°", None);
        check(Quantity::AnteversionDeg, "15.0°", None);
        check(Quantity::CupDiameterMm, "52.0 mm", None);
        check(Quantity::Reamers, "3", None);
        check(Quantity::LargestReamerStepMm, "2.0 mm", None);
    }

    #[test]
    fn what_was_not_measured_is_not_told_as_nothing() {
        let mut findings = sample::findings();
        assert_eq!(Quantity::WallMm(Wall::Superior).of(&findings), None);
        findings.reaming.truncate(1);
        assert_eq!(Quantity::LargestReamerStepMm.of(&findings), None);
        findings.reaming.clear();
        assert_eq!(Quantity::ThinnestWallMm.of(&findings), None);
        assert_eq!(Quantity::ThinnestWallMm.place(&findings), None);
        assert_eq!(Quantity::RemovedMm3.of(&findings), None);
    }

    #[test]
    fn an_edge_that_stands_proud_nowhere_has_no_place() {
        let mut findings = sample::findings();
        findings
            .cup
            .overhang
            .iter_mut()
            .for_each(|o| o.proud_mm = 0.0);
        check_nowhere(&findings);
    }

    #[track_caller]
    fn check_nowhere(findings: &Findings) {
        let overhang = Quantity::LargestOverhangMm;
        assert_eq!(overhang.of(findings).map(f64::to_bits), Some(0));
        assert_eq!(overhang.place(findings), None);
    }

    #[test]
    fn a_trace_below_zero_is_no_negative_nought() {
        assert_eq!(Quantity::MedialMm.told(-0.04), "0.0 mm");
        assert_eq!(Quantity::MedialMm.told(-0.06), "-0.1 mm");
    }
}
