//! How good the bone is: dense, average or soft, as plain numbers.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The bone around a socket: one of three grades, or numbers of one's own.
#[derive(Clone, Copy, Debug, Default, Deserialize, JsonSchema, PartialEq, Serialize)]
pub enum Quality {
    /// [`BoneQuality::DENSE`].
    Dense,
    /// [`BoneQuality::AVERAGE`].
    #[default]
    Average,
    /// [`BoneQuality::SOFT`].
    Soft,
    /// Numbers of one's own.
    Own(BoneQuality),
}

impl Quality {
    /// The grades, the stiffest first.
    pub const GRADES: [Self; 3] = [Self::Dense, Self::Average, Self::Soft];

    /// What it stands for.
    pub fn numbers(&self) -> BoneQuality {
        match self {
            Self::Dense => BoneQuality::DENSE,
            Self::Average => BoneQuality::AVERAGE,
            Self::Soft => BoneQuality::SOFT,
            Self::Own(numbers) => *numbers,
        }
    }
}

impl std::fmt::Display for Quality {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Dense => "dense",
            Self::Average => "average",
            Self::Soft => "soft",
            Self::Own(_) => "of its own numbers",
        })
    }
}

/// Elastic and breaking numbers of the bone around a socket.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct BoneQuality {
    /// Young's modulus of cancellous bone, in MPa.
    pub modulus_mpa: f64,
    /// Pressure at which cancellous bone gives way, in MPa.
    pub strength_mpa: f64,
    /// Young's modulus of what is left of the subchondral plate, in MPa.
    pub subchondral_modulus_mpa: f64,
    /// Poisson's ratio of both.
    pub poisson: f64,
}

/// Modulus of the subchondral plate in MPa: 1 to 2 GPa, from memory (Dalstra, Anderson 2005).
const SUBCHONDRAL: f64 = 1500.0;

/// Poisson's ratio of bone in models of the pelvis, from memory.
const POISSON: f64 = 0.3;

impl BoneQuality {
    /// Dense bone: polyurethane foam of 20 lb/ft³, 210 and 8.4 MPa (ASTM F1839, from memory); the
    /// stiffest cancellous bone of the pelvis has about 186 MPa (Dalstra 1993, from memory).
    pub const DENSE: Self = Self::foam(210.0, 8.4);

    /// Average bone: foam of 10 lb/ft³, 58 and 2.2 MPa (ASTM F1839, from memory); the mean of the
    /// pelvis is about 60 MPa (Dalstra 1993, from memory).
    pub const AVERAGE: Self = Self::foam(58.0, 2.2);

    /// Soft bone: foam of 5 lb/ft³, 16 and 0.6 MPa (ASTM F1839, from memory).
    pub const SOFT: Self = Self::foam(16.0, 0.6);

    const fn foam(modulus_mpa: f64, strength_mpa: f64) -> Self {
        Self {
            modulus_mpa,
            strength_mpa,
            subchondral_modulus_mpa: SUBCHONDRAL,
            poisson: POISSON,
        }
    }
}

impl Default for BoneQuality {
    fn default() -> Self {
        Self::AVERAGE
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grades_go_from_stiff_to_soft() {
        let all = Quality::GRADES.map(|grade| grade.numbers());
        for pair in all.windows(2) {
            assert!(pair[0].modulus_mpa > pair[1].modulus_mpa);
            assert!(pair[0].strength_mpa > pair[1].strength_mpa);
        }
    }

    #[test]
    fn a_grade_or_numbers_can_be_typed() {
        let read = |text: &str| ron::from_str::<Quality>(text).unwrap();
        assert_eq!(read("Soft"), Quality::Soft);
        let own = read("Own((modulus_mpa: 100))").numbers();
        assert!((own.modulus_mpa - 100.0).abs() < 1e-12);
        assert!((own.strength_mpa - BoneQuality::AVERAGE.strength_mpa).abs() < 1e-12);
    }
}
