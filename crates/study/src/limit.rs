//! [`Limit`]: what a placement must keep.

use cupwright_anatomy::{Angles, Zone};
use cupwright_procedure::case::Limits;

use crate::evaluator::Outcome;
use crate::measure::Measure;

/// What a placement must keep.
#[derive(Clone, Debug, PartialEq)]
pub enum Limit {
    /// A number that must reach this.
    AtLeast(Measure, f64),
    /// A number that must not exceed this.
    AtMost(Measure, f64),
    /// The cup must face into this zone, after any change of tilt; the name is for the reader.
    Inside(Zone, String),
}

impl Limit {
    /// The limits of a case, as the program checks them after a run.
    pub fn of_case(limits: &Limits) -> Vec<Self> {
        let least = |measure, asked: Option<f64>| asked.map(|a| Self::AtLeast(measure, a));
        let most = |measure, asked: Option<f64>| asked.map(|a| Self::AtMost(measure, a));
        let all = [
            least(Measure::CoverageAfterReaming, limits.min_coverage),
            least(Measure::RimContact, limits.min_rim_contact),
            least(Measure::ThinnestWall, limits.min_wall_mm),
            most(Measure::Overhang, limits.max_overhang_mm),
            most(Measure::CentreShift, limits.max_centre_shift_mm),
            most(Measure::Removed, limits.max_removed_mm3),
        ];
        all.into_iter().flatten().collect()
    }

    /// The measure that must be asked for to check it; a zone needs none.
    pub fn measure(&self) -> Option<Measure> {
        match self {
            Self::AtLeast(measure, _) | Self::AtMost(measure, _) => Some(*measure),
            Self::Inside(..) => None,
        }
    }

    /// By how much an outcome keeps it, in units of [`scale`](Self::scale); negative where it does not. Where
    /// there was nothing to measure it is kept, by nothing.
    pub fn margin(&self, outcome: &Outcome) -> f64 {
        match self {
            Self::AtLeast(measure, asked) => outcome
                .get(*measure)
                .map_or(0.0, |found| (found - asked) / self.scale()),
            Self::AtMost(measure, asked) => outcome
                .get(*measure)
                .map_or(0.0, |found| (asked - found) / self.scale()),
            Self::Inside(zone, _) => {
                let here = outcome.functional().converted_to(zone.definition());
                let room = |range: &std::ops::RangeInclusive<f64>, value: f64| {
                    (value - range.start()).min(range.end() - value)
                };
                let Angles {
                    inclination,
                    anteversion,
                } = here.angles();
                room(zone.inclination(), inclination)
                    .min(room(zone.anteversion(), anteversion))
                    .to_degrees()
                    / self.scale()
            }
        }
    }

    /// Whether an outcome keeps it.
    pub fn is_kept(&self, outcome: &Outcome) -> bool {
        self.margin(outcome) >= 0.0
    }

    /// What is a noticeable amount of what it limits: 1 point of a share, 0.1 mm, 100 mm³, 1°. These
    /// are choices of this program; only searches and tables read them.
    pub fn scale(&self) -> f64 {
        match self.measure().map(Measure::unit) {
            Some("share") => 0.01,
            Some("mm³") => 100.0,
            Some("mm") => 0.1,
            _ => 1.0,
        }
    }
}

impl std::fmt::Display for Limit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::AtLeast(measure, asked) => {
                write!(f, "{measure} at least {}", measure.told(*asked))
            }
            Self::AtMost(measure, asked) => write!(f, "{measure} at most {}", measure.told(*asked)),
            Self::Inside(_, name) => write!(f, "inside {name}"),
        }
    }
}

/// The measures that `limits` and `others` need, each once.
pub(crate) fn needed(limits: &[Limit], others: &[Measure]) -> Vec<Measure> {
    let mut measures: Vec<_> = others.to_vec();
    measures.extend(limits.iter().filter_map(Limit::measure));
    measures.sort();
    measures.dedup();
    measures
}
