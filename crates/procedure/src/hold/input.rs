//! What a press-fit needs beyond the case: bone quality, friction, force, and how they spread.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::quality::Quality;

/// A number of the inputs that cannot be.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("{field} is {value}; it must be {allowed}")]
pub struct BadInput {
    /// Its name.
    pub field: &'static str,
    /// Its value.
    pub value: f64,
    /// What it may be.
    pub allowed: &'static str,
}

/// What a press-fit depends on and no case says; each has a default.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct PressFitInputs {
    /// The bone; average.
    pub quality: Quality,
    /// Friction between cup and bone; 0.65, near the middle of 0.37 to 0.95 that laser-melted titanium
    /// has on human cancellous bone (Abedi 2025, Sci Rep, doi 10.1038/s41598-025-25586-0).
    pub friction: f64,
    /// By how much the cavity turns out wider than the reamer, in mm of diameter; 0.5: of 1 mm nominal
    /// interference about 0.5 mm is left (Jin 2006, Proc IMechE H 220:299).
    pub reamer_oversize_mm: f64,
    /// Force to drive the cup with, in N; 4000, the largest of the loads of Spears 1999, J Biomech
    /// 32:1183.
    pub seating_force_n: f64,
    /// How the inputs spread.
    pub spread: Spread,
}

/// The published spread of the inputs, from which the bands come.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct Spread {
    /// Factors on modulus and strength: 232 ± 130 MPa is 1 ± 0.56 (Haba 2012, TOORTHJ 6:458, cancellous
    /// bone of femoral heads).
    pub stiffness: [f64; 2],
    /// Factors on friction: 0.37 and 0.95 against 0.65 (Abedi 2025).
    pub friction: [f64; 2],
    /// What to add to the reamer's oversize, in mm of diameter: 0.1 and 1.2 against 0.5 (Karia 2023, J
    /// Orthop Surg Res, doi 10.1186/s13018-023-03888-1).
    pub oversize_mm: [f64; 2],
}

impl Default for Spread {
    fn default() -> Self {
        Self {
            stiffness: [0.44, 1.56],
            friction: [0.37 / 0.65, 0.95 / 0.65],
            oversize_mm: [-0.4, 0.7],
        }
    }
}

impl Default for PressFitInputs {
    fn default() -> Self {
        Self {
            quality: Quality::Average,
            friction: 0.65,
            reamer_oversize_mm: 0.5,
            seating_force_n: 4000.0,
            spread: Spread::default(),
        }
    }
}

/// One corner of the spread.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Corner {
    pub(crate) stiffness: f64,
    pub(crate) friction: f64,
    pub(crate) wider_mm: f64,
}

impl PressFitInputs {
    /// Refuses numbers that cannot be.
    ///
    /// # Errors
    /// The first of them, by the name of its field.
    pub fn check(&self) -> Result<(), BadInput> {
        let (quality, spread) = (self.quality.numbers(), &self.spread);
        let moduli = [
            ("quality.modulus_mpa", quality.modulus_mpa),
            (
                "quality.subchondral_modulus_mpa",
                quality.subchondral_modulus_mpa,
            ),
            ("quality.strength_mpa", quality.strength_mpa),
        ];
        for (field, value) in moduli {
            ranged(field, value, 1e-3..=1e6, "between 0.001 and 1000000 MPa")?;
        }
        ranged(
            "quality.poisson",
            quality.poisson,
            0.0..=0.49,
            "between 0 and 0.49",
        )?;
        ranged("friction", self.friction, 0.0..=10.0, "between 0 and 10")?;
        let oversize = self.reamer_oversize_mm;
        ranged(
            "reamer_oversize_mm",
            oversize,
            -5.0..=5.0,
            "between -5 and 5 mm",
        )?;
        let force = self.seating_force_n;
        ranged(
            "seating_force_n",
            force,
            0.0..=1e6,
            "between 0 and 1000000 N",
        )?;
        for value in spread.stiffness {
            ranged("spread.stiffness", value, 1e-3..=1e3, "a positive factor")?;
        }
        for value in spread.friction {
            ranged("spread.friction", value, 0.0..=1e3, "a positive factor")?;
        }
        for value in spread.oversize_mm {
            ranged(
                "spread.oversize_mm",
                value,
                -5.0..=5.0,
                "between -5 and 5 mm",
            )?;
        }
        Ok(())
    }

    /// All corners of the spread.
    pub(crate) fn corners(&self) -> Vec<Corner> {
        let spread = &self.spread;
        let mut corners = Vec::with_capacity(8);
        for stiffness in spread.stiffness {
            for friction in spread.friction {
                for wider_mm in spread.oversize_mm {
                    corners.push(Corner {
                        stiffness,
                        friction,
                        wider_mm,
                    });
                }
            }
        }
        corners
    }
}

/// Refuses a number out of its range, and one that is none.
pub(crate) fn ranged(
    field: &'static str,
    value: f64,
    range: std::ops::RangeInclusive<f64>,
    allowed: &'static str,
) -> Result<(), BadInput> {
    if range.contains(&value) {
        Ok(())
    } else {
        Err(BadInput {
            field,
            value,
            allowed,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_that_cannot_be_is_told_by_its_field() {
        let bad = PressFitInputs {
            friction: f64::NAN,
            ..PressFitInputs::default()
        };
        let told = bad.check().unwrap_err().to_string();
        assert_eq!(told, "friction is NaN; it must be between 0 and 10");
        assert_eq!(PressFitInputs::default().check(), Ok(()));
    }
}
