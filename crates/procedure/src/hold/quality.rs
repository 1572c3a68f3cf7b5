//! How good the bone is: dense, average or soft, as plain numbers.

use serde::{Deserialize, Serialize};

/// Elastic and breaking numbers of the bone around a socket.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
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

    /// The presets by name, the stiffest first.
    pub const PRESETS: [(&'static str, Self); 3] = [
        ("dense", Self::DENSE),
        ("average", Self::AVERAGE),
        ("soft", Self::SOFT),
    ];

    const fn foam(modulus_mpa: f64, strength_mpa: f64) -> Self {
        Self {
            modulus_mpa,
            strength_mpa,
            subchondral_modulus_mpa: SUBCHONDRAL,
            poisson: POISSON,
        }
    }

    /// The preset of that name.
    pub fn named(name: &str) -> Option<Self> {
        let found = Self::PRESETS.iter().find(|(own, _)| *own == name);
        found.map(|(_, quality)| *quality)
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
    fn presets_go_from_stiff_to_soft_and_are_found_by_name() {
        let all = BoneQuality::PRESETS.map(|(_, quality)| quality);
        for pair in all.windows(2) {
            assert!(pair[0].modulus_mpa > pair[1].modulus_mpa);
            assert!(pair[0].strength_mpa > pair[1].strength_mpa);
        }
        assert_eq!(BoneQuality::named("soft"), Some(BoneQuality::SOFT));
        assert_eq!(BoneQuality::named("steel"), None);
    }
}
