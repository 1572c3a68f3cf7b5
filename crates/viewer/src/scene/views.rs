//! The named views.

use bevy::math::Vec3;
use cupwright_procedure::placed::Placed;
use cupwright_procedure::{Bone, Case};

use super::eye::Stand;
use super::ground::{Ground, UNIT_MM, scene_axes, single};
use crate::desk::view::{From, Section};
use crate::drawing::section_plane;

/// Seen from top to bottom where the whole hemipelvis is looked at, in mm.
const WHOLE_MM: f64 = 270.0;

/// Seen from top to bottom where the socket is looked at, in mm.
const SOCKET_MM: f64 = 135.0;

/// Where to stand for a named view; `None` where the camera is free, or the cup has no place.
pub(crate) fn stand(from: From, case: &Case, bone: &Bone, section: &Section) -> Option<Stand> {
    let ground = Ground::of(bone);
    let cup = Placed::cup(case, bone).ok()?;
    let centre = ground.point(&cup.head().centre());
    let lateral = scene_axes(&nalgebra::Vector3::x()) * single(bone.side.sign());
    let whole = |from: Vec3| {
        let middle = bone
            .solid
            .mesh()
            .bounds()
            .map(|b| ground.point(&b.middle()));
        Stand::toward(
            middle.unwrap_or(centre),
            from,
            Vec3::Y,
            single(WHOLE_MM / UNIT_MM),
        )
    };
    let near = |from: Vec3, up: Vec3| Stand::toward(centre, from, up, single(SOCKET_MM / UNIT_MM));
    match from {
        From::Anterior => Some(whole(Vec3::NEG_Z)),
        From::Posterior => Some(whole(Vec3::Z)),
        From::Lateral => Some(whole(lateral)),
        From::Medial => Some(whole(-lateral)),
        From::Socket => {
            let axis = ground.direction(&cup.head().axis());
            Some(near(axis, ground.direction(&cup.twelve())))
        }
        From::Section => {
            let plane = section_plane(&cup, section).ok()?;
            let axis = ground.direction(&cup.head().axis());
            Some(near(ground.direction(&plane.normal()), up_in_section(axis)))
        }
        From::Free => None,
    }
}

/// The head stays up where it can; the cup's axis does where the plane lies flat.
fn up_in_section(axis: Vec3) -> Vec3 {
    Vec3::Y + 0.01 * axis
}
