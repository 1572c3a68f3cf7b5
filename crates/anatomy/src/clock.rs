//! The clock face on the rim of a socket or cup, seen looking into it.
//!
//! **12 is superior and 3 is anterior on both sides**, so a right and a left hip read alike: the hours
//! of a right hip run clockwise as seen, those of a left hip anticlockwise.
//!
//! 12 o'clock is the superior direction of the pelvic frame projected on the rim plane; 3 o'clock is
//! the direction in that plane square to it, on the anterior side. Being square to the projected
//! superior, it is in general not the anterior direction projected, only its nearest on the face.

use std::f64::consts::TAU;

use nalgebra::{Unit, UnitVector3, Vector3};
use thiserror::Error;

use crate::side::Side;

/// A clock face square to the axis of a cup.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RimClock {
    twelve: UnitVector3<f64>,
    three: UnitVector3<f64>,
}

/// Why an axis has no clock face.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum NoClock {
    /// The axis points straight up or down, so that no direction on the rim is superior.
    #[error("the rim lies level, so 12 o'clock is nowhere on it")]
    Level,
    /// The axis points to the other side of the body.
    #[error(
        "the axis of the {side} cup points across the midline: is the side right, and does the axis point out of the socket?"
    )]
    FacesMidline {
        /// The side given.
        side: Side,
    },
}

/// A place on the clock face: at least 0 and less than 12 hours; twelve o'clock is 0.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Hour(f64);

impl RimClock {
    /// The clock face of a cup with this axis, which points out of the socket, in the pelvic frame
    /// (x right, y anterior, z superior).
    ///
    /// # Errors
    /// When the axis is within a millionth of vertical, or points to the other side of the body, where
    /// 3 o'clock would not be anterior.
    pub fn new(axis: &UnitVector3<f64>, side: Side) -> Result<Self, NoClock> {
        // A cup 0.00006° from level is level to any instrument; one tilted by 0.1° still has a face.
        const LEVEL: f64 = 1e-6;
        let up = Vector3::z() - axis.into_inner() * axis.z;
        let twelve = Unit::try_new(up, LEVEL).ok_or(NoClock::Level)?;
        if side.sign() * axis.x < 0.0 {
            return Err(NoClock::FacesMidline { side });
        }
        let three = Unit::new_normalize(twelve.cross(axis) * side.sign());
        Ok(Self { twelve, three })
    }

    /// Unit vector from the centre of the rim to 12 o'clock, in the pelvic frame.
    pub fn twelve(&self) -> UnitVector3<f64> {
        self.twelve
    }

    /// Unit vector from the centre of the rim to 3 o'clock, in the pelvic frame.
    pub fn three(&self) -> UnitVector3<f64> {
        self.three
    }

    /// Unit vector from the centre of the rim to `hour`, in the pelvic frame.
    pub fn direction(&self, hour: Hour) -> UnitVector3<f64> {
        let (sin, cos) = hour.angle().sin_cos();
        Unit::new_normalize(self.twelve.into_inner() * cos + self.three.into_inner() * sin)
    }

    /// Where on the clock a direction of the pelvic frame lies, once projected on the rim plane.
    ///
    /// A direction along the axis reads 12 o'clock.
    pub fn hour_of(&self, direction: &Vector3<f64>) -> Hour {
        Hour::from_angle(self.three.dot(direction).atan2(self.twelve.dot(direction)))
    }
}

impl Hour {
    /// The place reached by turning from 12 toward 3 o'clock by `angle` radians, of any size.
    pub fn from_angle(angle: f64) -> Self {
        let hours = (angle / TAU).rem_euclid(1.0) * 12.0;
        Self(if hours < 12.0 { hours } else { 0.0 })
    }

    /// The place `hours` after 12 o'clock; whole turns drop out.
    pub fn from_hours(hours: f64) -> Self {
        Self::from_angle(hours / 12.0 * TAU)
    }

    /// The angle from 12 toward 3 o'clock, in radians, from 0 to 2π.
    pub fn angle(self) -> f64 {
        self.0 / 12.0 * TAU
    }

    /// Hours after 12 o'clock, from 0 to 12.
    pub fn hours(self) -> f64 {
        self.0
    }
}

/// As hours and minutes, to the nearest of them: `1:30`, `12:00`.
impl std::fmt::Display for Hour {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let minutes = (self.0 * 60.0).round().rem_euclid(720.0);
        let hour = (minutes / 60.0).floor();
        let shown = if hour < 1.0 { 12.0 } else { hour };
        write!(f, "{shown:.0}:{:02.0}", minutes - 60.0 * hour)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Angles, Definition, Orientation};
    use approx::assert_abs_diff_eq;

    fn clock(side: Side) -> RimClock {
        let pair = Angles::from_degrees(48.0, 21.0);
        let cup = Orientation::new(Definition::Anatomic, pair).unwrap();
        RimClock::new(&cup.axis(side), side).unwrap()
    }

    #[test]
    fn three_is_anterior_and_twelve_superior_on_both_sides() {
        for side in [Side::Right, Side::Left] {
            let clock = clock(side);
            assert!(clock.twelve().z > 0.5 && clock.three().y > 0.5);
            assert_abs_diff_eq!(clock.three().z, 0.0, epsilon = 1e-15);
            assert_abs_diff_eq!(clock.twelve().dot(&clock.three()), 0.0, epsilon = 1e-15);
        }
        let (right, left) = (clock(Side::Right), clock(Side::Left));
        assert_abs_diff_eq!(right.three().x, -left.three().x, epsilon = 1e-15);
        assert_abs_diff_eq!(right.twelve().x, -left.twelve().x, epsilon = 1e-15);
    }

    #[test]
    fn a_right_face_runs_clockwise_for_one_who_looks_into_it() {
        let axis = Orientation::new(Definition::Anatomic, Angles::from_degrees(48.0, 21.0))
            .unwrap()
            .axis(Side::Right);
        let clock = clock(Side::Right);
        // Whoever looks along −axis with `twelve` overhead has this on the right hand.
        let right_hand = (-axis.into_inner()).cross(&clock.twelve());
        assert_abs_diff_eq!(right_hand, clock.three().into_inner(), epsilon = 1e-15);
    }

    #[test]
    fn hours_and_directions_turn_into_each_other() {
        for side in [Side::Right, Side::Left] {
            let clock = clock(side);
            for hours in [0.0, 1.5, 3.0, 6.0, 7.25, 11.99] {
                let direction = clock.direction(Hour::from_hours(hours));
                assert_abs_diff_eq!(clock.hour_of(&direction).hours(), hours, epsilon = 1e-12);
            }
            assert!(clock.hour_of(&Vector3::y()).hours() < 4.0);
        }
    }

    #[test]
    fn a_clock_is_read_as_a_clock() {
        let shown = |hours| Hour::from_hours(hours).to_string();
        assert_eq!(shown(1.5), "1:30");
        assert_eq!(shown(0.0), "12:00");
        assert_eq!(shown(11.999), "12:00");
        assert_eq!(shown(12.25), "12:15");
        assert_eq!(shown(-1.0), "11:00");
        assert_eq!(
            Hour::from_angle(-1e-20).hours().to_bits(),
            0.0_f64.to_bits()
        );
    }

    #[test]
    fn an_axis_without_a_face_is_refused() {
        assert_eq!(
            RimClock::new(&-Vector3::z_axis(), Side::Right),
            Err(NoClock::Level)
        );
        let across = Unit::new_normalize(Vector3::new(-0.6, 0.3, -0.7));
        assert!(matches!(
            RimClock::new(&across, Side::Right),
            Err(NoClock::FacesMidline { .. })
        ));
        assert!(RimClock::new(&across, Side::Left).is_ok());
    }
}
