//! Between the bone's own coordinates in mm and the scene's: its origin is the native hip centre, x
//! goes toward the patient's right, y up to the head, z to the back.

use bevy::math::Vec3;
use cupwright_procedure::Bone;
use nalgebra::{Isometry3, Point3, Vector3};

/// Millimetres in one unit of the scene.
pub(crate) const UNIT_MM: f64 = 40.0;

/// Where a bone lies in the scene.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ground {
    to_pelvic: Isometry3<f64>,
    centre: Point3<f64>,
}

impl Ground {
    pub(crate) fn new(to_pelvic: Isometry3<f64>, centre: Point3<f64>) -> Self {
        Self { to_pelvic, centre }
    }

    pub(crate) fn of(bone: &Bone) -> Self {
        Self::new(bone.to_pelvic, bone.native_centre)
    }

    /// A place of the bone's own coordinates in the scene.
    pub(crate) fn point(&self, place: &Point3<f64>) -> Vec3 {
        self.vector(&(place - self.centre))
    }

    /// A place of the scene in the bone's own coordinates.
    pub(crate) fn place(&self, point: Vec3) -> Point3<f64> {
        let mm = pelvic_axes(point) * UNIT_MM;
        self.centre + self.to_pelvic.rotation.inverse() * mm
    }

    /// A displacement in mm as one of the scene.
    pub(crate) fn vector(&self, mm: &Vector3<f64>) -> Vec3 {
        scene_axes(&(self.to_pelvic.rotation * mm)) / single(UNIT_MM)
    }

    /// A unit vector of the bone's own coordinates in the scene.
    pub(crate) fn direction(&self, unit: &Vector3<f64>) -> Vec3 {
        scene_axes(&(self.to_pelvic.rotation * unit))
    }
}

/// A vector of the pelvic frame along the scene's axes.
pub(crate) fn scene_axes(pelvic: &Vector3<f64>) -> Vec3 {
    Vec3::new(single(pelvic.x), single(pelvic.z), single(-pelvic.y))
}

/// A vector of the scene along the pelvic frame's axes.
pub(crate) fn pelvic_axes(scene: Vec3) -> Vector3<f64> {
    Vector3::new(scene.x.into(), (-scene.z).into(), scene.y.into())
}

/// To the graphics card's precision.
#[expect(
    clippy::cast_possible_truncation,
    reason = "to draw, single precision will do"
)]
pub(crate) fn single(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn right_front_and_head_lie_where_the_scene_expects_them() {
        assert_eq!(scene_axes(&Vector3::x()), Vec3::X);
        assert_eq!(scene_axes(&Vector3::y()), Vec3::NEG_Z);
        assert_eq!(scene_axes(&Vector3::z()), Vec3::Y);
        let v = Vector3::new(1.0, 2.0, 3.0);
        assert_eq!(pelvic_axes(scene_axes(&v)), v);
    }
}
