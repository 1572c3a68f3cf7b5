//! [`Measure`]: a number that a study tells of a setting.

use std::borrow::Cow;

use cupwright_procedure::findings::Wall;
use cupwright_procedure::quantity::{Quantity, Sense};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};

/// A number that a study tells.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Measure {
    /// Share of the cup's round side that lies in bone as it was before any reaming.
    Coverage,
    /// The same, less what a reamer took from behind the cup. Where reamers cut larger than the cup it
    /// is nothing, whatever bone there is.
    CoverageAfterReaming,
    /// Share of the cup's rim in bone.
    RimContact,
    /// Bone that all reamers take, counted once.
    Removed,
    /// Thinnest wall behind the cavity, along a few hundred rays: at times a little more than a run of
    /// the case finds, never less but for rounding.
    ThinnestWall,
    /// The same of one wall.
    Wall(Wall),
    /// Farthest that the cup's edge stands proud at any half hour.
    Overhang,
    /// Distance from the native hip centre to that of the cup.
    CentreShift,
    /// Cup diameter less what the last reamer cut.
    Interference,
    /// Inclination after the change of tilt, in the case's own definition.
    FunctionalInclination,
    /// Anteversion after the change of tilt, in the case's own definition.
    FunctionalAnteversion,
}

impl Measure {
    /// All of them, without the walls one by one.
    pub const ALL: [Self; 10] = [
        Self::Coverage,
        Self::CoverageAfterReaming,
        Self::RimContact,
        Self::Removed,
        Self::ThinnestWall,
        Self::Overhang,
        Self::CentreShift,
        Self::Interference,
        Self::FunctionalInclination,
        Self::FunctionalAnteversion,
    ];

    /// The walls one by one.
    pub const WALLS: [Self; 5] = [
        Self::Wall(Wall::Medial),
        Self::Wall(Wall::Anterior),
        Self::Wall(Wall::Posterior),
        Self::Wall(Wall::Superior),
        Self::Wall(Wall::Inferior),
    ];

    /// Its name in commands.
    pub fn name(self) -> &'static str {
        match self {
            Self::Coverage => "coverage",
            Self::CoverageAfterReaming => "coverage-after-reaming",
            Self::RimContact => "rim-contact",
            Self::Removed => "removed",
            Self::ThinnestWall => "thinnest-wall",
            Self::Wall(Wall::Medial) => "medial-wall",
            Self::Wall(Wall::Anterior) => "anterior-wall",
            Self::Wall(Wall::Posterior) => "posterior-wall",
            Self::Wall(Wall::Superior) => "superior-wall",
            Self::Wall(Wall::Inferior) => "inferior-wall",
            Self::Overhang => "overhang",
            Self::CentreShift => "centre-shift",
            Self::Interference => "interference",
            Self::FunctionalInclination => "functional-inclination",
            Self::FunctionalAnteversion => "functional-anteversion",
        }
    }

    /// The measure of this name.
    pub fn named(name: &str) -> Option<Self> {
        let mut all = Self::ALL.into_iter().chain(Self::WALLS);
        all.find(|m| m.name() == name)
    }

    /// Its heading in tables, such as `coverage_share` or `removed_mm3`.
    pub fn heading(self) -> String {
        let unit = match self.unit() {
            "mm³" => "mm3",
            "°" => "deg",
            unit => unit,
        };
        format!("{}_{unit}", self.name().replace('-', "_"))
    }

    /// Its name in the words of the trade.
    pub fn label(self) -> &'static str {
        match self {
            Self::Coverage => "coverage",
            Self::Interference => "interference",
            Self::FunctionalInclination => "functional inclination",
            Self::FunctionalAnteversion => "functional anteversion",
            other => other.quantity().label(),
        }
    }

    /// `share` (0 to 1), `mm³`, `mm` or `°`.
    pub fn unit(self) -> &'static str {
        self.quantity().unit()
    }

    /// Which way it is better, where the trade agrees on one.
    pub fn sense(self) -> Sense {
        match self {
            Self::CentreShift => Sense::Less,
            other => other.quantity().sense(),
        }
    }

    /// A value with its unit as a reader wants it: `80.0 %`, `5.88 cm³`, `4.8 mm`, `40.0°`.
    pub fn told(self, value: f64) -> String {
        self.quantity().told(value)
    }

    /// The number of a run that it is, or is like.
    pub fn quantity(self) -> Quantity {
        match self {
            Self::Coverage | Self::CoverageAfterReaming => Quantity::Coverage,
            Self::RimContact => Quantity::RimContact,
            Self::Removed => Quantity::RemovedMm3,
            Self::ThinnestWall => Quantity::ThinnestWallMm,
            Self::Wall(wall) => Quantity::WallMm(wall),
            Self::Overhang => Quantity::LargestOverhangMm,
            Self::CentreShift => Quantity::CentreShiftMm,
            Self::Interference => Quantity::InterferenceMm,
            Self::FunctionalInclination => Quantity::InclinationDeg,
            Self::FunctionalAnteversion => Quantity::AnteversionDeg,
        }
    }
}

impl std::fmt::Display for Measure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.label())
    }
}

impl Serialize for Measure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.heading())
    }
}

impl JsonSchema for Measure {
    fn schema_name() -> Cow<'static, str> {
        "Measure".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let all = Self::ALL.into_iter().chain(Self::WALLS);
        let names: Vec<_> = all.map(Self::heading).collect();
        json_schema!({
            "description": "A measure by its name, which ends in its unit; `share` is 0 to 1.",
            "type": "string",
            "enum": names,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_measure_is_found_by_its_name() {
        for measure in Measure::ALL.into_iter().chain(Measure::WALLS) {
            assert_eq!(Measure::named(measure.name()), Some(measure));
        }
        assert_eq!(Measure::Removed.heading(), "removed_mm3");
        assert_eq!(Measure::Wall(Wall::Medial).heading(), "medial_wall_mm");
        assert_eq!(Measure::Coverage.heading(), "coverage_share");
    }
}
