//! The unit of a bone's file.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A unit of length.
#[derive(Clone, Copy, Debug, Default, Deserialize, Eq, PartialEq, Serialize)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Unit {
    #[default]
    Millimetres,
    Centimetres,
    Inches,
    Metres,
}

impl Unit {
    /// All of them, the shortest first.
    pub const ALL: [Self; 4] = [
        Self::Millimetres,
        Self::Centimetres,
        Self::Inches,
        Self::Metres,
    ];

    /// Its length in mm.
    pub fn millimetres(self) -> f64 {
        match self {
            Self::Millimetres => 1.0,
            Self::Centimetres => 10.0,
            Self::Inches => 25.4,
            Self::Metres => 1000.0,
        }
    }

    /// Its short name, as commands and scripts give it.
    pub fn short(self) -> &'static str {
        match self {
            Self::Millimetres => "mm",
            Self::Centimetres => "cm",
            Self::Inches => "in",
            Self::Metres => "m",
        }
    }

    /// The unit in which a bone of this extent would be about as large as a hemipelvis.
    pub fn likely(extent: f64) -> Self {
        // Between a child's hemipelvis and a large whole pelvis; half way between inches and
        // centimetres both are possible, and the one nearer to an adult hemipelvis is named.
        const ADULT: f64 = 220.0;
        let off = |unit: &Self| (extent * unit.millimetres() / ADULT).ln().abs();
        let nearest = Self::ALL
            .into_iter()
            .min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.unwrap_or_default()
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Millimetres => "millimetres",
            Self::Centimetres => "centimetres",
            Self::Inches => "inches",
            Self::Metres => "metres",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_is_recognised_by_the_size_of_the_bone() {
        for (extent, unit) in [
            (0.22, Unit::Metres),
            (8.7, Unit::Inches),
            (22.0, Unit::Centimetres),
            (1e-3, Unit::Metres),
            (180.0, Unit::Millimetres),
            (2000.0, Unit::Millimetres),
        ] {
            assert_eq!(Unit::likely(extent), unit, "{extent}");
        }
    }
}
