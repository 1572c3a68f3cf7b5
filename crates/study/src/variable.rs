//! [`Variable`]: a number of the plan that a study changes, with its unit and the range it may have.

use std::borrow::Cow;
use std::ops::RangeInclusive;

use cupwright_procedure::case::LARGEST_DIAMETER;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};
use thiserror::Error;

/// A number of the plan that a study changes. Reamers go with the cup: what moves, turns or grows the
/// cup does the same to each of them.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Variable {
    /// Inclination of the cup in the case's own definition, in degrees.
    Inclination,
    /// Anteversion of the cup in the case's own definition, in degrees.
    Anteversion,
    /// From the native hip centre to the cup's, toward the midline, in mm.
    Medial,
    /// The same toward the head.
    Superior,
    /// The same toward the front.
    Anterior,
    /// Outer diameter of the cup, in mm; what it is larger than the last reamer stays.
    CupDiameter,
    /// How much deeper than the centre says cup and reamers go along the cup's axis, in mm.
    Depth,
    /// How much larger than its size every reamer cuts, in mm of diameter; the cup stays.
    Oversize,
    /// Posterior tilt of the pelvis after the operation against what the case says, in degrees: changes
    /// the cup's functional angles and nothing in the bone.
    Tilt,
}

impl Variable {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::Inclination,
        Self::Anteversion,
        Self::Medial,
        Self::Superior,
        Self::Anterior,
        Self::CupDiameter,
        Self::Depth,
        Self::Oversize,
        Self::Tilt,
    ];

    /// Its name in commands, tables and documents, without unit.
    pub fn name(self) -> &'static str {
        match self {
            Self::Inclination => "inclination",
            Self::Anteversion => "anteversion",
            Self::Medial => "medial",
            Self::Superior => "superior",
            Self::Anterior => "anterior",
            Self::CupDiameter => "cup-diameter",
            Self::Depth => "depth",
            Self::Oversize => "oversize",
            Self::Tilt => "tilt",
        }
    }

    /// The variable of this name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|v| v.name() == name)
    }

    /// What it is, in the words of the trade.
    pub fn label(self) -> &'static str {
        match self {
            Self::Inclination => "inclination",
            Self::Anteversion => "anteversion",
            Self::Medial => "hip centre, medial",
            Self::Superior => "hip centre, superior",
            Self::Anterior => "hip centre, anterior",
            Self::CupDiameter => "cup diameter",
            Self::Depth => "depth along the axis",
            Self::Oversize => "reamer oversize",
            Self::Tilt => "posterior pelvic tilt",
        }
    }

    /// `mm` or `°`.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Inclination | Self::Anteversion | Self::Tilt => "°",
            _ => "mm",
        }
    }

    /// Its heading in tables, such as `cup_diameter_mm`.
    pub fn heading(self) -> String {
        let unit = if self.unit() == "°" { "deg" } else { "mm" };
        format!("{}_{unit}", self.name().replace('-', "_"))
    }

    /// What it may be. The case may refuse a value all the same, where its definition of angles is
    /// narrower.
    pub fn allowed(self) -> RangeInclusive<f64> {
        match self {
            Self::Inclination => -180.0..=180.0,
            Self::Anteversion | Self::Tilt => -90.0..=90.0,
            Self::Medial | Self::Superior | Self::Anterior | Self::Depth => -100.0..=100.0,
            Self::CupDiameter => 1.0..=LARGEST_DIAMETER,
            Self::Oversize => -10.0..=10.0,
        }
    }

    /// Its place in [`ALL`](Self::ALL).
    pub(crate) fn place(self) -> usize {
        self as usize
    }
}

impl std::fmt::Display for Variable {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.label())
    }
}

impl Serialize for Variable {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.heading())
    }
}

impl JsonSchema for Variable {
    fn schema_name() -> Cow<'static, str> {
        "Variable".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A variable by its name, which ends in its unit.",
            "type": "string",
            "enum": Self::ALL.map(Self::heading),
        })
    }
}

/// A variable and the values it takes, evenly from the least to the most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    variable: Variable,
    least: f64,
    most: f64,
    count: usize,
}

/// The most values that an axis may have.
pub const MOST_VALUES: usize = 2001;

/// Why an axis is refused.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum BadAxis {
    /// A range that is empty or reaches beyond what the variable may be.
    #[error("{variable} from {least} to {most}: the range must be ascending and lie between {} and {} {}",
        variable.allowed().start(), variable.allowed().end(), variable.unit())]
    Range {
        /// The variable.
        variable: Variable,
        /// Its lower end.
        least: f64,
        /// Its upper end.
        most: f64,
    },
    /// Too few or too many values.
    #[error("{variable} takes {count} values; it must be 2 to {MOST_VALUES}")]
    Count {
        /// The variable.
        variable: Variable,
        /// How many.
        count: usize,
    },
}

impl Axis {
    /// `count` values of `variable` evenly from `least` to `most`, both among them.
    ///
    /// # Errors
    /// When the range is empty or reaches beyond what the variable may be, or there are fewer than two
    /// values or more than [`MOST_VALUES`].
    pub fn new(variable: Variable, least: f64, most: f64, count: usize) -> Result<Self, BadAxis> {
        let allowed = variable.allowed();
        if !(least < most && allowed.contains(&least) && allowed.contains(&most)) {
            return Err(BadAxis::Range {
                variable,
                least,
                most,
            });
        }
        if !(2..=MOST_VALUES).contains(&count) {
            return Err(BadAxis::Count { variable, count });
        }
        Ok(Self {
            variable,
            least,
            most,
            count,
        })
    }

    /// What changes.
    pub fn variable(&self) -> Variable {
        self.variable
    }

    /// How many values it takes.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The least and the most.
    pub fn ends(&self) -> [f64; 2] {
        [self.least, self.most]
    }

    /// Value `k` of them, counted from 0.
    pub fn value(&self, k: usize) -> f64 {
        let share = k as f64 / (self.count - 1) as f64;
        self.least * (1.0 - share) + self.most * share
    }

    /// All of them, ascending.
    pub fn values(&self) -> impl Iterator<Item = f64> {
        (0..self.count).map(|k| self.value(k))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_variable_is_found_by_its_name_and_stands_at_its_place() {
        for (k, variable) in Variable::ALL.into_iter().enumerate() {
            assert_eq!(Variable::named(variable.name()), Some(variable));
            assert_eq!(variable.place(), k);
        }
        assert_eq!(Variable::named("sideways"), None);
        assert_eq!(Variable::CupDiameter.heading(), "cup_diameter_mm");
        assert_eq!(Variable::Tilt.heading(), "tilt_deg");
    }

    #[test]
    fn an_axis_holds_its_ends_and_even_steps() {
        let axis = Axis::new(Variable::Inclination, 30.0, 60.0, 61).unwrap();
        let values: Vec<f64> = axis.values().collect();
        assert_eq!((values.len(), values[0], values[60]), (61, 30.0, 60.0));
        assert!((values[21] - 40.5).abs() < 1e-12);
    }

    #[test]
    fn a_range_that_cannot_be_is_told_with_what_can() {
        let refused = |variable, least, most, count| {
            Axis::new(variable, least, most, count)
                .unwrap_err()
                .to_string()
        };
        let told = refused(Variable::Anteversion, 0.0, 91.0, 5);
        assert!(told.contains("between -90 and 90 °"), "{told}");
        assert!(refused(Variable::Depth, 3.0, 1.0, 5).contains("ascending"));
        assert!(refused(Variable::Depth, f64::NAN, 1.0, 5).contains("ascending"));
        assert!(refused(Variable::Depth, 0.0, 1.0, 1).contains("2 to 2001"));
        assert!(refused(Variable::Depth, 0.0, 1.0, 5000).contains("2 to 2001"));
    }
}
