//! The movements of a hip that are looked at, each a turn about one axis from a stated posture.

use cupwright_anatomy::Side;
use nalgebra::{Quaternion, UnitQuaternion, UnitVector3, Vector3};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A movement of the thigh against the pelvis.
///
/// A posture is flexion, then abduction, then rotation, each about the axis that those before it have
/// carried along: the thigh turns about its own shaft and is lifted with the pelvis' transverse axis.
/// The amounts of the combined postures are assumed but for the 90° of flexion.
#[derive(
    Clone, Copy, Debug, Deserialize, Eq, JsonSchema, Ord, PartialEq, PartialOrd, Serialize,
)]
pub enum Movement {
    /// From standing.
    Flexion,
    /// From standing.
    Extension,
    /// From standing.
    Abduction,
    /// From standing.
    Adduction,
    /// From standing.
    ExternalRotation,
    /// From standing.
    InternalRotation,
    /// With the thigh flexed 90°.
    InternalRotationAt90Flexion,
    /// With the thigh flexed 90° and adducted 15°, as when the legs are crossed.
    InternalRotationAt90FlexionAdducted,
    /// With the thigh extended 10°, as at the end of a stride.
    ExternalRotationAt10Extension,
    /// With the thigh adducted 10° and turned in 10°, as in rising from a low chair.
    FlexionAdductedTurnedIn,
}

impl Movement {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::Flexion,
        Self::Extension,
        Self::Abduction,
        Self::Adduction,
        Self::ExternalRotation,
        Self::InternalRotation,
        Self::InternalRotationAt90Flexion,
        Self::InternalRotationAt90FlexionAdducted,
        Self::ExternalRotationAt10Extension,
        Self::FlexionAdductedTurnedIn,
    ];

    /// The thigh's turn where the movement begins, in the hip frame; none is standing, knee forward.
    pub fn start(self) -> UnitQuaternion<f64> {
        let [flexion, abduction, outward] = match self {
            Self::InternalRotationAt90Flexion => [90.0, 0.0, 0.0],
            Self::InternalRotationAt90FlexionAdducted => [90.0, -15.0, 0.0],
            Self::ExternalRotationAt10Extension => [-10.0, 0.0, 0.0],
            Self::FlexionAdductedTurnedIn => [0.0, -10.0, -10.0],
            _ => [0.0; 3],
        };
        posture(
            f64::to_radians(flexion),
            f64::to_radians(abduction),
            f64::to_radians(outward),
        )
    }

    /// The axis it turns about, in the hip frame, right-handed.
    pub fn axis(self) -> UnitVector3<f64> {
        match self {
            Self::Flexion | Self::FlexionAdductedTurnedIn => Vector3::x_axis(),
            Self::Extension => -Vector3::x_axis(),
            Self::Abduction => -Vector3::y_axis(),
            Self::Adduction => Vector3::y_axis(),
            Self::ExternalRotation | Self::ExternalRotationAt10Extension => {
                self.start() * -Vector3::z_axis()
            }
            Self::InternalRotation
            | Self::InternalRotationAt90Flexion
            | Self::InternalRotationAt90FlexionAdducted => self.start() * Vector3::z_axis(),
        }
    }
}

impl std::fmt::Display for Movement {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Flexion => "flexion",
            Self::Extension => "extension",
            Self::Abduction => "abduction",
            Self::Adduction => "adduction",
            Self::ExternalRotation => "external rotation",
            Self::InternalRotation => "internal rotation",
            Self::InternalRotationAt90Flexion => "internal rotation at 90° of flexion",
            Self::InternalRotationAt90FlexionAdducted => {
                "internal rotation at 90° of flexion, adducted 15°"
            }
            Self::ExternalRotationAt10Extension => "external rotation at 10° of extension",
            Self::FlexionAdductedTurnedIn => "flexion, adducted 10° and turned in 10°",
        })
    }
}

/// The turn of a thigh, in the hip frame: outward rotation first, then abduction, then flexion, all in
/// radians; negative angles are internal rotation, adduction and extension.
pub fn posture(flexion: f64, abduction: f64, outward: f64) -> UnitQuaternion<f64> {
    let about = UnitQuaternion::from_axis_angle;
    about(&Vector3::x_axis(), flexion)
        * about(&Vector3::y_axis(), -abduction)
        * about(&Vector3::z_axis(), -outward)
}

/// A turn of the hip frame as one of the pelvic frame, in which a left hip is mirrored.
pub(super) fn on_side(turn: UnitQuaternion<f64>, side: Side) -> UnitQuaternion<f64> {
    match side {
        Side::Right => turn,
        Side::Left => {
            let q = turn.quaternion();
            UnitQuaternion::new_unchecked(Quaternion::new(q.w, q.i, -q.j, -q.k))
        }
    }
}

/// An axis of the hip frame as one of the pelvic frame about which the same angle turns the same way.
pub(super) fn axis_on_side(axis: UnitVector3<f64>, side: Side) -> UnitVector3<f64> {
    match side {
        Side::Right => axis,
        Side::Left => UnitVector3::new_unchecked(Vector3::new(axis.x, -axis.y, -axis.z)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::FRAC_PI_2;

    /// The thigh points down and the knee forward; where they point after a small turn.
    #[track_caller]
    fn goes(movement: Movement, thigh: Vector3<f64>, knee: Vector3<f64>) {
        let turn = UnitQuaternion::from_axis_angle(&movement.axis(), 0.1);
        let moved = |v: Vector3<f64>| turn * v - v;
        let along = |found: Vector3<f64>, expected: Vector3<f64>| {
            (found - expected * found.dot(&expected)).norm() < 0.01 && found.dot(&expected) >= 0.0
        };
        assert!(along(moved(-Vector3::z()), thigh), "{movement} thigh");
        assert!(along(moved(Vector3::y()), knee), "{movement} knee");
    }

    #[test]
    fn each_movement_goes_where_its_name_says() {
        let (lateral, anterior, up) = (Vector3::x(), Vector3::y(), Vector3::z());
        let still = Vector3::zeros();
        goes(Movement::Flexion, anterior, up);
        goes(Movement::Extension, -anterior, -up);
        goes(Movement::Abduction, lateral, still);
        goes(Movement::Adduction, -lateral, still);
        goes(Movement::ExternalRotation, still, lateral);
        goes(Movement::InternalRotation, still, -lateral);
    }

    #[test]
    fn at_90_flexion_the_foot_goes_out_when_the_thigh_turns_in() {
        // The shank hangs down from a knee that is forward; turned in, the foot swings outward.
        let start = Movement::InternalRotationAt90Flexion.start();
        assert!((start * -Vector3::z() - Vector3::y()).norm() < 1e-15);
        let axis = Movement::InternalRotationAt90Flexion.axis();
        let turn = UnitQuaternion::from_axis_angle(&axis, FRAC_PI_2);
        assert!((turn * -Vector3::z() - Vector3::x()).norm() < 1e-15);
    }

    #[test]
    fn a_left_hip_is_the_mirror_image() {
        let mirrored = |v: Vector3<f64>| Vector3::new(-v.x, v.y, v.z);
        let turn = posture(0.7, 0.3, -0.4);
        let v = Vector3::new(0.2, -0.5, 0.9);
        let left = on_side(turn, Side::Left) * mirrored(v);
        assert!((left - mirrored(turn * v)).norm() < 1e-15);
        let axis = axis_on_side(Movement::FlexionAdductedTurnedIn.axis(), Side::Left);
        let left = UnitQuaternion::from_axis_angle(&axis, 0.4) * mirrored(v);
        let right = UnitQuaternion::from_axis_angle(&Vector3::x_axis(), 0.4) * v;
        assert!((left - mirrored(right)).norm() < 1e-15);
    }
}
