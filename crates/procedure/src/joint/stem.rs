//! Where a stem brings the ball: neck, shaft and head centre of the native femur and of the implant.
//!
//! In the hip frame of a thigh that hangs straight down, knee forward: x lateral, y anterior, z superior,
//! the shaft's axis vertical (its few degrees of slant are left out: an assumption).

use nalgebra::{Unit, UnitVector3, Vector3};

use super::entry::{FemurEntry, OffsetChoice, StemEntry};

/// A stem, in mm and radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stem {
    /// Direction of its neck.
    pub neck: Neck,
    /// Along the neck, from the shaft's axis to the centre of ball 0.
    pub neck_length: f64,
    /// How much farther the high-offset head stands from the shaft.
    pub high_offset: f64,
    /// How much deeper than native its neck crosses the shaft's axis.
    pub insertion: f64,
    /// Radius of the neck where it leaves the ball.
    pub neck_radius: f64,
    /// How much the neck's radius grows per mm toward the shaft.
    pub neck_slope: f64,
}

/// The direction of a neck, in radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Neck {
    /// Between neck and shaft.
    pub shaft_angle: f64,
    /// How far its head is turned forward.
    pub antetorsion: f64,
}

/// The native femur, in mm and radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Femur {
    /// Direction of its neck.
    pub neck: Neck,
    /// From the head's centre square to the shaft's axis.
    pub offset: f64,
    /// How far the tip of the greater trochanter lies below the head's centre.
    pub trochanter_below: f64,
}

impl Neck {
    fn from_degrees(shaft_angle: f64, antetorsion: f64) -> Self {
        Self {
            shaft_angle: shaft_angle.to_radians(),
            antetorsion: antetorsion.to_radians(),
        }
    }

    /// The unit vector from the head along the neck to the shaft.
    ///
    /// Closed form: (sin γ cos β, −sin γ sin β, −cos γ) with γ = π − neck-shaft angle, β antetorsion.
    pub fn direction(&self) -> UnitVector3<f64> {
        let (sin, cos) = (std::f64::consts::PI - self.shaft_angle).sin_cos();
        Unit::new_normalize(self.outward() * sin - Vector3::z() * cos)
    }

    /// The level unit vector from the head to the shaft.
    pub fn outward(&self) -> Vector3<f64> {
        let (sin, cos) = self.antetorsion.sin_cos();
        Vector3::new(cos, -sin, 0.0)
    }
}

impl Stem {
    pub(super) fn new(entry: &StemEntry) -> Self {
        Self {
            neck: Neck::from_degrees(entry.neck_shaft_angle_deg, entry.antetorsion_deg),
            neck_length: entry.neck_length_mm,
            high_offset: entry.high_offset_mm,
            insertion: entry.insertion_mm,
            neck_radius: entry.neck_diameter_mm / 2.0,
            neck_slope: (entry.neck_taper_deg.to_radians() / 2.0).tan(),
        }
    }

    /// From where the neck crosses the shaft's axis to the centre of a ball.
    pub fn to_head(&self, ball: f64, version: OffsetChoice) -> Vector3<f64> {
        let along = -self.neck.direction().into_inner() * (self.neck_length + ball);
        match version {
            OffsetChoice::Standard => along,
            OffsetChoice::High => along - self.neck.outward() * self.high_offset,
        }
    }
}

impl Femur {
    pub(super) fn new(entry: &FemurEntry) -> Self {
        Self {
            neck: Neck::from_degrees(entry.neck_shaft_angle_deg, entry.antetorsion_deg),
            offset: entry.offset_mm,
            trochanter_below: entry.trochanter_below_mm,
        }
    }

    /// From the native head's centre to where its neck crosses the shaft's axis.
    pub fn root(&self) -> Vector3<f64> {
        let slope = self.neck.direction();
        slope.into_inner() * (self.offset / slope.xy().norm())
    }

    /// From the native head's centre to that of a ball on the stem in this femur.
    pub fn implanted_head(&self, stem: &Stem, ball: f64, version: OffsetChoice) -> Vector3<f64> {
        self.root() - Vector3::z() * stem.insertion + stem.to_head(ball, version)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn femur() -> Femur {
        Femur::new(&FemurEntry {
            neck_shaft_angle_deg: 135.0,
            antetorsion_deg: 30.0,
            offset_mm: 40.0,
            trochanter_below_mm: 3.0,
        })
    }

    fn stem(insertion_mm: f64) -> Stem {
        Stem::new(&StemEntry {
            antetorsion_deg: 30.0,
            neck_length_mm: 40.0 * 2.0_f64.sqrt(),
            insertion_mm,
            ..StemEntry::default()
        })
    }

    #[test]
    fn the_head_lies_medial_anterior_and_above_the_root_of_the_neck() {
        let root = femur().root();
        let expected = Vector3::new(40.0 * 0.75_f64.sqrt(), -20.0, -40.0);
        assert!((root - expected).norm() < 1e-12, "{root}");
    }

    #[test]
    fn a_stem_like_the_femur_puts_the_ball_where_the_head_was() {
        let head = femur().implanted_head(&stem(0.0), 0.0, OffsetChoice::Standard);
        assert!(head.norm() < 1e-12, "{head}");
    }

    #[test]
    fn depth_lowers_the_head_and_the_high_version_moves_it_level_from_the_shaft() {
        let deep = femur().implanted_head(&stem(5.0), 0.0, OffsetChoice::Standard);
        assert!((deep - Vector3::new(0.0, 0.0, -5.0)).norm() < 1e-12);
        let high = femur().implanted_head(&stem(0.0), 0.0, OffsetChoice::High);
        assert!((high - Vector3::new(-6.0 * 0.75_f64.sqrt(), 3.0, 0.0)).norm() < 1e-12);
    }
}
