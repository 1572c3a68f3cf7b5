//! Ranges of inclination and anteversion that publications call safe, each with its definition.
//!
//! A [`Zone`] never compares numbers of another definition: [`contains`](Zone::contains) converts
//! first. None of these zones is a recommendation of this program.

use std::ops::RangeInclusive;

use thiserror::Error;

use crate::orientation::{Angles, Definition, Orientation};
use crate::source::{Source, Trust};

/// A rectangle of inclination and anteversion in one definition, its edges included.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    definition: Definition,
    inclination: RangeInclusive<f64>,
    anteversion: RangeInclusive<f64>,
}

/// A range that is empty or not a number.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("the {angle} of a zone runs from {}° to {}°, which holds nothing", least.to_degrees(), most.to_degrees())]
pub struct EmptyRange {
    /// `"inclination"` or `"anteversion"`.
    pub angle: &'static str,
    /// Its lower end, in radians.
    pub least: f64,
    /// Its upper end, in radians.
    pub most: f64,
}

impl Zone {
    /// The zone with these ranges, in radians, of `definition`.
    ///
    /// # Errors
    /// When a range is empty or an end of it is not a number.
    pub fn new(
        definition: Definition,
        inclination: RangeInclusive<f64>,
        anteversion: RangeInclusive<f64>,
    ) -> Result<Self, EmptyRange> {
        for (angle, range) in [("inclination", &inclination), ("anteversion", &anteversion)] {
            if range.is_empty() {
                return Err(EmptyRange {
                    angle,
                    least: *range.start(),
                    most: *range.end(),
                });
            }
        }
        Ok(Self {
            definition,
            inclination,
            anteversion,
        })
    }

    /// The zone of the pairs that lie within `reach`, in radians, of `target` in each angle.
    ///
    /// # Errors
    /// When a reach is negative or not a number.
    pub fn around(target: &Orientation, reach: Angles) -> Result<Self, EmptyRange> {
        let about = |middle: f64, reach: f64| middle - reach..=middle + reach;
        Self::new(
            target.definition(),
            about(target.inclination(), reach.inclination),
            about(target.anteversion(), reach.anteversion),
        )
    }

    /// Whether `orientation`, converted to this zone's definition, lies in it.
    pub fn contains(&self, orientation: &Orientation) -> bool {
        let here = orientation.converted_to(self.definition);
        self.inclination.contains(&here.inclination())
            && self.anteversion.contains(&here.anteversion())
    }

    /// The definition of the angles of the zone.
    pub fn definition(&self) -> Definition {
        self.definition
    }

    /// Its inclinations, in radians.
    pub fn inclination(&self) -> &RangeInclusive<f64> {
        &self.inclination
    }

    /// Its anteversions, in radians.
    pub fn anteversion(&self) -> &RangeInclusive<f64> {
        &self.anteversion
    }
}

/// The zones in print that this program can name.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum PublishedZone {
    /// 40 ± 10° and 15 ± 10°, measured on films.
    Lewinnek1978,
    /// 30 to 45° and 5 to 25°.
    Callanan2011,
    /// 32 to 50° and 8 to 25°, compiled from published targets.
    Yoon2013,
}

impl PublishedZone {
    /// All of them, oldest first.
    pub const ALL: [Self; 3] = [Self::Lewinnek1978, Self::Callanan2011, Self::Yoon2013];

    /// The zone itself; all three are of radiographic angles.
    pub fn zone(self) -> Zone {
        let [inclination, anteversion] = match self {
            Self::Lewinnek1978 => [30.0..=50.0, 5.0..=25.0],
            Self::Callanan2011 => [30.0..=45.0, 5.0..=25.0],
            Self::Yoon2013 => [32.0..=50.0, 8.0..=25.0],
        }
        .map(|degrees: RangeInclusive<f64>| {
            degrees.start().to_radians()..=degrees.end().to_radians()
        });
        Zone {
            definition: Definition::Radiographic,
            inclination,
            anteversion,
        }
    }

    /// Where it is printed.
    pub fn source(self) -> Source {
        let (citation, trust) = match self {
            Self::Lewinnek1978 => (
                "Lewinnek 1978, J Bone Joint Surg Am 60:217, as quoted in Bosker 2007, Arch Orthop Trauma Surg, doi 10.1007/s00402-007-0294-y",
                Trust::Read,
            ),
            Self::Callanan2011 => (
                "Callanan 2011, Clin Orthop Relat Res 469:319",
                Trust::FromMemory,
            ),
            Self::Yoon2013 => (
                "Yoon 2013, as quoted in Turley 2014, Med Biol Eng Comput, doi 10.1007/s11517-014-1171-9",
                Trust::Read,
            ),
        };
        Source { citation, trust }
    }
}

impl std::fmt::Display for PublishedZone {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Lewinnek1978 => "Lewinnek 1978",
            Self::Callanan2011 => "Callanan 2011",
            Self::Yoon2013 => "Yoon 2013",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film(inclination: f64, anteversion: f64) -> Orientation {
        Orientation::new(
            Definition::Radiographic,
            Angles::from_degrees(inclination, anteversion),
        )
        .unwrap()
    }

    #[test]
    fn a_zone_holds_its_edges_and_nothing_past_them() {
        let zone = PublishedZone::Lewinnek1978.zone();
        assert!(zone.contains(&film(30.0, 25.0)) && zone.contains(&film(50.0, 5.0)));
        assert!(!zone.contains(&film(50.01, 15.0)) && !zone.contains(&film(40.0, 4.99)));
    }

    #[test]
    fn the_same_cup_is_judged_alike_in_every_definition() {
        let zone = PublishedZone::Lewinnek1978.zone();
        for definition in Definition::ALL {
            assert!(zone.contains(&film(40.0, 20.0).converted_to(definition)));
            assert!(!zone.contains(&film(40.0, 26.0).converted_to(definition)));
        }
    }

    #[test]
    fn a_zone_around_a_target_reaches_as_far_as_told() {
        let zone = Zone::around(&film(44.8, 19.4), Angles::from_degrees(10.0, 5.0)).unwrap();
        assert!(zone.contains(&film(54.7, 24.3)) && !zone.contains(&film(44.8, 24.5)));
    }

    #[test]
    fn an_empty_range_is_refused() {
        let backwards = Zone::new(Definition::Radiographic, 0.9..=0.5, 0.0..=0.4);
        assert_eq!(backwards.unwrap_err().angle, "inclination");
        let nan = Zone::new(Definition::Radiographic, 0.5..=0.9, 0.0..=f64::NAN);
        assert_eq!(nan.unwrap_err().angle, "anteversion");
    }

    #[test]
    fn a_zone_from_memory_says_so() {
        let source = PublishedZone::Callanan2011.source().to_string();
        assert!(source.ends_with("(from memory)"), "{source}");
    }
}
