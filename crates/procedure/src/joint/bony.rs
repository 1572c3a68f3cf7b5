//! How far the thigh moves before the femur meets the pelvis, whatever neck and liner do.
//!
//! The femur is a model (see [`femur`](super::femur)), the pelvis the bone of the case before any reaming;
//! soft tissue, cartilage and the other leg are left out, so that a real hip stops earlier.

use cupwright_anatomy::Side;
use cupwright_geometry::contact::{self, Turn};
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use super::entry::OffsetChoice;
use super::femur::{AROUND, FemurPart, FemurSolid, femur_solid};
use super::movement::{axis_on_side, on_side};
use super::{BadJoint, Joint, Movement, as_shift, length, motion};
use crate::bone::Bone;
use crate::findings::Shift;

/// The farthest that a movement is followed, in degrees.
pub const SEARCHED: f64 = 170.0;

/// Motion until femur and pelvis meet.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct BonyFinding {
    /// The ball it holds for.
    pub ball_mm: f64,
    /// The version of the stem it holds for.
    pub version: OffsetChoice,
    /// How far each movement was followed.
    pub searched_to_deg: f64,
    /// Every movement.
    pub movements: Vec<BonyMovement>,
}

/// How far one movement goes.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct BonyMovement {
    /// Which.
    pub movement: Movement,
    /// How far until bone meets bone; 0 where it does in the posture it begins in, `None` where it does
    /// not as far as was searched.
    pub range_deg: Option<f64>,
    /// How far until the neck meets the liner; `None` where nothing limits it.
    pub prosthetic_deg: Option<f64>,
    /// What comes first.
    pub first: First,
    /// Where bone meets bone.
    pub contact: Option<BonyContact>,
}

/// Where femur and pelvis meet.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct BonyContact {
    /// The place on the pelvis, from the native hip centre.
    pub on_pelvis: Shift,
    /// The same in the bone file's own coordinates.
    pub place_mm: [f64; 3],
    /// Where on the cup's clock it lies, seen along the cup's axis.
    pub clock_h: f64,
    /// The part of the femur.
    pub femur_part: FemurPart,
}

/// What ends a movement.
#[derive(Clone, Copy, Debug, Eq, JsonSchema, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum First {
    /// The neck meets the liner.
    Implant,
    /// The femur meets the pelvis.
    Bone,
    /// Neither, as far as was searched.
    Neither,
}

/// Motion of the joint's femur against the pelvis of `bone`, with the ball and version that the joint chooses.
///
/// # Errors
/// When no ball reaches, the neck has no room in the liner, or the femur's numbers make no bone.
pub fn bony_motion(joint: &Joint, bone: &Bone) -> Result<BonyFinding, BadJoint> {
    bony_motion_of(joint, bone, AROUND)
}

/// The same with a femur of `around` triangles round each part.
///
/// # Errors
/// As for [`bony_motion`].
pub fn bony_motion_of(joint: &Joint, bone: &Bone, around: u32) -> Result<BonyFinding, BadJoint> {
    let found = length::lengths(joint)?;
    let chosen = &found.balls[found.chosen];
    let head = joint
        .femur
        .implanted_head(&joint.stem, chosen.ball_mm, chosen.version);
    let right = femur_solid(&joint.femur, around)?;
    let thigh = Thigh {
        joint,
        bone,
        femur: match joint.side {
            Side::Right => right,
            Side::Left => right.mirrored()?,
        },
        head,
    };
    let prosthetic = motion::motion(joint)?.movements;
    let movements = prosthetic.par_iter().map(|found| {
        let touch = thigh.first_touch(found.movement);
        let range_deg = touch.map(|touch| touch.angle.to_degrees());
        BonyMovement {
            movement: found.movement,
            range_deg,
            prosthetic_deg: found.range_deg,
            first: first(range_deg, found.range_deg),
            contact: touch.map(|touch| thigh.contact(&touch)),
        }
    });
    Ok(BonyFinding {
        ball_mm: chosen.ball_mm,
        version: chosen.version,
        searched_to_deg: SEARCHED,
        movements: movements.collect(),
    })
}

fn first(bone: Option<f64>, implant: Option<f64>) -> First {
    match (bone, implant) {
        (Some(bone), Some(implant)) if bone < implant => First::Bone,
        (Some(_), None) => First::Bone,
        (_, Some(implant)) if implant <= SEARCHED => First::Implant,
        _ => First::Neither,
    }
}

/// A femur on its joint, in a pelvis.
struct Thigh<'a> {
    joint: &'a Joint,
    bone: &'a Bone,
    /// In the hip frame, mirrored for a left hip.
    femur: FemurSolid,
    /// The ball's centre in the femur, in the hip frame.
    head: Vector3<f64>,
}

impl Thigh<'_> {
    fn first_touch(&self, movement: Movement) -> Option<contact::Touch> {
        let back = self.bone.to_pelvic.rotation.inverse();
        let centre = self.centre();
        let start = back * on_side(movement.start(), self.joint.side);
        let turn = Turn {
            start: self.standing(&centre, start),
            pivot: centre,
            axis: back * axis_on_side(movement.axis(), self.joint.side),
        };
        let most = SEARCHED.to_radians();
        contact::first_touch(&self.bone.solid, &self.femur.solid, &turn, most)
    }

    /// From the femur's coordinates to the bone's, the ball in the liner and the thigh turned.
    fn standing(&self, centre: &Point3<f64>, turn: UnitQuaternion<f64>) -> Isometry3<f64> {
        let sign = self.joint.side.sign();
        let head = Vector3::new(sign * self.head.x, self.head.y, self.head.z);
        Translation3::from(centre.coords) * turn * Translation3::from(-head)
    }

    /// The joint's centre in the bone's own coordinates.
    fn centre(&self) -> Point3<f64> {
        self.bone.native_centre + self.bone.vector(as_shift(&self.joint.centre()))
    }

    fn contact(&self, touch: &contact::Touch) -> BonyContact {
        let place = touch.nearest.on_fixed;
        let on_pelvis = self.bone.shift(&(place - self.bone.native_centre));
        let from_joint = super::in_hip_frame(on_pelvis) - self.joint.centre();
        BonyContact {
            on_pelvis,
            place_mm: place.into(),
            clock_h: self.joint.clock().hour_of(&from_joint).hours(),
            femur_part: self.femur.part(touch.nearest.moving_triangle),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_first_is_named_and_beyond_the_search_is_neither() {
        assert_eq!(first(Some(100.0), Some(120.0)), First::Bone);
        assert_eq!(first(Some(120.0), Some(100.0)), First::Implant);
        assert_eq!(first(None, Some(100.0)), First::Implant);
        assert_eq!(first(Some(100.0), None), First::Bone);
        assert_eq!(first(None, None), First::Neither);
        assert_eq!(first(None, Some(175.0)), First::Neither);
    }
}
