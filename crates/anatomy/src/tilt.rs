//! Pelvic tilt: a turn of the whole pelvis about the axis from left to right, posterior positive.

use std::f64::consts::FRAC_PI_2;

use nalgebra::{UnitQuaternion, Vector3};
use thiserror::Error;

/// A tilt of the pelvis, in radians, at most 90° either way.
///
/// Posterior is positive: the top of the pelvis goes back, the cup opens forward. Publications count
/// either way, so both constructors name theirs.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Tilt {
    posterior: f64,
}

/// A tilt that is not a number or passes 90°.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("a pelvic tilt of {}° is not between -90° and 90°", .0.to_degrees())]
pub struct BadTilt(pub f64);

impl Tilt {
    /// No tilt.
    pub const NONE: Self = Self { posterior: 0.0 };

    /// A tilt by `angle` radians, posterior where positive.
    ///
    /// # Errors
    /// When `angle` is not a number or passes ±90°.
    pub fn posterior(angle: f64) -> Result<Self, BadTilt> {
        if angle.abs() <= FRAC_PI_2 {
            Ok(Self { posterior: angle })
        } else {
            Err(BadTilt(angle))
        }
    }

    /// A tilt by `angle` radians, anterior where positive.
    ///
    /// # Errors
    /// When `angle` is not a number or passes ±90°.
    pub fn anterior(angle: f64) -> Result<Self, BadTilt> {
        Self::posterior(-angle)
    }

    /// The tilt in radians, posterior positive.
    pub fn posterior_angle(self) -> f64 {
        self.posterior
    }

    /// The turn of the pelvis, in its own frame: about x (toward the patient's right) by the
    /// posterior angle, which takes superior (z) backward (−y).
    pub fn rotation(self) -> UnitQuaternion<f64> {
        UnitQuaternion::from_axis_angle(&Vector3::x_axis(), self.posterior)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Angles, Definition, Orientation};
    use approx::assert_abs_diff_eq;

    #[test]
    fn posterior_tilt_takes_the_top_of_the_pelvis_back() {
        let tilt = Tilt::posterior(0.2).unwrap();
        assert!((tilt.rotation() * Vector3::z()).y < -0.19);
        assert_eq!(tilt, Tilt::anterior(-0.2).unwrap());
    }

    #[test]
    fn a_tilt_past_a_right_angle_is_refused() {
        assert_eq!(Tilt::posterior(2.0), Err(BadTilt(2.0)));
        assert!(Tilt::anterior(f64::NAN).is_err());
    }

    #[test]
    fn tilt_moves_radiographic_anteversion_by_its_closed_form() {
        let (ri, ra) = (0.7_f64, 0.3_f64);
        let pair = Angles {
            inclination: ri,
            anteversion: ra,
        };
        let cup = Orientation::new(Definition::Radiographic, pair).unwrap();
        for t in [-0.4_f64, -0.1, 0.2, 0.5] {
            let tilted = cup.tilted(Tilt::posterior(t).unwrap());
            let sin_ra = ra.sin() * t.cos() + ra.cos() * ri.cos() * t.sin();
            let tan_ri = ra.cos() * ri.sin() / (ra.cos() * ri.cos() * t.cos() - ra.sin() * t.sin());
            assert_abs_diff_eq!(tilted.anteversion().sin(), sin_ra, epsilon = 1e-14);
            assert_abs_diff_eq!(tilted.inclination().tan(), tan_ri, epsilon = 1e-13);
        }
    }
}
