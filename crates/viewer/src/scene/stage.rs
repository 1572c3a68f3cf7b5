//! The stage: what Bevy draws.

use bevy::asset::{Assets, Handle};
use bevy::camera::visibility::{NoFrustumCulling, Visibility};
use bevy::camera::{
    Camera, Camera3d, ClearColorConfig, PerspectiveProjection, Projection, SubCameraView,
};
use bevy::color::Color;
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::math::{URect, UVec2};
use bevy::mesh::{Mesh, Mesh3d};
use bevy::pbr::MeshMaterial3d;
use bevy::prelude::{
    Bundle, Commands, Component, DetectChangesMut, Entity, Query, Res, ResMut, Resource, Single,
    Transform, With, default,
};
use bevy::render::view::Msaa;
use bevy_egui::PrimaryEguiContext;

use super::clay::Clay;
use super::eye::{Eye, FIELD_OF_VIEW};
use super::{Drawn, Frame};
use crate::desk::View;
use crate::desk::view::BoneLook;
use crate::drawing::{Part, Surface};

/// Behind everything: paper, a little darker than the panels.
const BACKGROUND: Color = Color::srgb(0.80, 0.82, 0.83);

/// How much of the bone is seen where one can see through it.
const GLASS: f32 = 0.28;

/// How much of the cup of the kept plan is seen.
const KEPT: f32 = 0.4;

/// The camera that sees the scene.
#[derive(Component, Debug, Default)]
pub(crate) struct SceneCamera;

/// Whether there is anything of a part to be seen.
#[derive(Component, Debug, Default)]
pub(super) struct Filled(bool);

/// The materials of the parts.
#[derive(Debug, Resource)]
pub(super) struct Wardrobe {
    solid: Handle<Clay>,
    glass: Handle<Clay>,
}

/// Puts empty parts on the stage.
pub(super) fn set(mut commands: Commands, mut materials: ResMut<Assets<Clay>>) {
    let wardrobe = Wardrobe {
        solid: materials.add(Clay::BONE),
        glass: materials.add(Clay::BONE.glass(GLASS)),
    };
    let metal = materials.add(Clay::METAL);
    let parts = [
        (Part::Bone, wardrobe.solid.clone()),
        (Part::Far, wardrobe.solid.clone()),
        (Part::Face, materials.add(Clay::BONE)),
        (Part::Map, materials.add(Clay::LEGIBLE)),
        (Part::Reamer, metal.clone()),
        (Part::Cup, metal),
        (Part::Kept, materials.add(Clay::METAL.glass(KEPT))),
    ];
    for (part, material) in parts {
        // All of them are in the middle of every view.
        commands.spawn((
            part,
            Filled::default(),
            MeshMaterial3d(material),
            Transform::IDENTITY,
            NoFrustumCulling,
        ));
    }
    commands.insert_resource(wardrobe);
}

/// The components of the camera that sees the scene.
pub(crate) fn camera() -> impl Bundle {
    (
        SceneCamera,
        // Panels on a camera of their own would cost two more passes over the screen.
        PrimaryEguiContext,
        Camera3d::default(),
        Camera {
            clear_color: ClearColorConfig::Custom(BACKGROUND),
            ..default()
        },
        Projection::Perspective(PerspectiveProjection {
            fov: FIELD_OF_VIEW,
            near: 0.05,
            ..default()
        }),
        Tonemapping::None,
        Msaa::Sample4,
    )
}

/// Puts a fresh picture on the stage.
pub(super) fn show(
    mut commands: Commands,
    mut drawn: ResMut<Drawn>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut parts: Query<(Entity, &Part, &mut Filled, Option<&Mesh3d>)>,
) {
    let Some(mut print) = drawn.fresh.take() else {
        return;
    };
    let (far, number) = &print.far;
    for (entity, part, mut filled, old) in &mut parts {
        let mesh = if *part == Part::Far {
            if drawn.far == *number {
                continue;
            }
            drawn.far = *number;
            (!far.triangles.is_empty()).then(|| Surface::clone(far).into_mesh())
        } else {
            let fresh = print.parts.iter_mut().find(|(of, _)| of == part);
            fresh.and_then(|(_, mesh)| mesh.take())
        };
        filled.0 = mesh.is_some();
        // An empty part keeps its last mesh, unseen: one that is taken off is not always drawn again
        // when it comes back.
        if let Some(mesh) = mesh {
            if let Some(old) = old {
                meshes.remove(&old.0);
            }
            commands.entity(entity).insert(Mesh3d(meshes.add(mesh)));
        }
    }
}

/// Puts the camera where the eye is.
pub(super) fn follow(
    eye: Res<Eye>,
    frame: Res<Frame>,
    camera: Single<(&mut Camera, &mut Projection, &mut Transform), With<SceneCamera>>,
) {
    let (mut camera, mut projection, mut transform) = camera.into_inner();
    let stand = eye.stand;
    *transform = Transform::from_translation(stand.place()).with_rotation(stand.turn);
    let pixels = frame.pixels;
    let Some(screen) = camera.physical_target_size() else {
        return;
    };
    if pixels.width() < 2 || pixels.height() < 2 {
        return;
    }
    let (view, fov) = off_centre(screen, pixels);
    if camera.sub_camera_view != Some(view) {
        camera.sub_camera_view = Some(view);
    }
    if let Projection::Perspective(perspective) = &mut *projection
        && (perspective.fov - fov).abs() > f32::EPSILON
    {
        perspective.fov = fov;
    }
}

/// The screen as a part of a larger one in whose middle the picture's rectangle lies, and the larger
/// one's angle of view. The scene is drawn under the panels too, so that they can be on its camera.
fn off_centre(screen: UVec2, picture: URect) -> (SubCameraView, f32) {
    let middle = (picture.min + picture.max).as_vec2() / 2.0;
    let half = middle.max(screen.as_vec2() - middle).ceil();
    let view = SubCameraView {
        full_size: (2.0 * half).as_uvec2(),
        offset: half - middle,
        size: screen,
    };
    let share = 2.0 * half.y / picture.as_rect().height();
    (view, 2.0 * ((FIELD_OF_VIEW / 2.0).tan() * share).atan())
}

/// Draws the bone as it is to be looked at.
pub(super) fn dress(
    view: Res<View>,
    wardrobe: Res<Wardrobe>,
    mut parts: Query<(&Part, &Filled, &mut MeshMaterial3d<Clay>, &mut Visibility)>,
) {
    let look = match view.bone {
        // A map on the cup is seen through the bone.
        BoneLook::Solid if view.map.is_on_cup() && !view.section.on => BoneLook::Glass,
        look => look,
    };
    for (part, filled, mut material, mut visibility) in &mut parts {
        let is_bone = match part {
            Part::Bone | Part::Far | Part::Face => true,
            Part::Map => !view.map.is_on_cup(),
            _ => false,
        };
        let is_seen = filled.0 && !(is_bone && look == BoneLook::Hidden);
        visibility.set_if_neq(if is_seen {
            Visibility::Inherited
        } else {
            Visibility::Hidden
        });
        let wanted = match look {
            BoneLook::Glass => &wardrobe.glass,
            _ => &wardrobe.solid,
        };
        if matches!(part, Part::Bone | Part::Far) && material.0 != *wanted {
            material.0 = wanted.clone();
        }
    }
}
