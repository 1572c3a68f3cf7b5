//! The stage: what Bevy draws.

use bevy::anti_alias::fxaa::Fxaa;
use bevy::camera::visibility::RenderLayers;
use bevy::camera::visibility::Visibility;
use bevy::camera::{
    Camera, Camera2d, Camera3d, CameraOutputMode, ClearColorConfig, PerspectiveProjection, Projection,
    Viewport,
};
use bevy::color::{Alpha, Color};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::light::{CascadeShadowConfigBuilder, DirectionalLight, GlobalAmbientLight};
use bevy::material::AlphaMode;
use bevy::math::Vec3;
use bevy::mesh::{Mesh, Mesh3d};
use bevy::pbr::{
    MeshMaterial3d, ScreenSpaceAmbientOcclusion, ScreenSpaceAmbientOcclusionQualityLevel,
    StandardMaterial,
};
use bevy::prelude::{
    Assets, Bundle, Commands, Component, DetectChangesMut, Entity, EntityCommands, Handle, Query, Res, ResMut, Resource, Single, Transform, With,
    Without, default,
};
use bevy::render::render_resource::BlendState;
use bevy::render::view::Msaa;
use bevy_egui::PrimaryEguiContext;

use super::eye::{Eye, FIELD_OF_VIEW};
use super::{Drawn, Frame};
use crate::desk::View;
use crate::desk::view::BoneLook;
use crate::drawing::Surface;

/// Behind everything: paper, a little darker than the panels.
const BACKGROUND: Color = Color::srgb(0.80, 0.82, 0.83);

/// How much of the bone is seen where one can see through it.
const GLASS: f32 = 0.28;

/// The camera that sees the scene.
#[derive(Component, Debug, Default)]
pub(crate) struct SceneCamera;

/// The light that goes with the camera.
#[derive(Component, Debug, Default)]
pub(super) struct Lamp;

/// A surface on the stage.
#[derive(Clone, Component, Copy, Debug, Eq, PartialEq)]
pub(super) enum Part {
    Bone,
    Face,
    Reamer,
    Cup,
    Kept,
}

/// The materials of the parts.
#[derive(Debug, Resource)]
pub(super) struct Wardrobe {
    solid: Handle<StandardMaterial>,
    glass: Handle<StandardMaterial>,
}

/// Puts lights, camera and empty parts on the stage.
pub(super) fn set(mut commands: Commands, mut materials: ResMut<Assets<StandardMaterial>>) {
    let bone = StandardMaterial {
        perceptual_roughness: 0.75,
        reflectance: 0.25,
        ..default()
    };
    let metal = StandardMaterial {
        perceptual_roughness: 0.4,
        metallic: 0.35,
        reflectance: 0.6,
        ..default()
    };
    let flat = StandardMaterial {
        perceptual_roughness: 1.0,
        reflectance: 0.05,
        double_sided: true,
        cull_mode: None,
        ..default()
    };
    let see_through = |material: &StandardMaterial, alpha: f32| StandardMaterial {
        base_color: Color::WHITE.with_alpha(alpha),
        alpha_mode: AlphaMode::Blend,
        ..material.clone()
    };
    let wardrobe = Wardrobe {
        solid: materials.add(bone.clone()),
        glass: materials.add(see_through(&bone, GLASS)),
    };
    let metal_handle = materials.add(metal.clone());
    let parts = [
        (Part::Bone, wardrobe.solid.clone()),
        (Part::Face, materials.add(flat)),
        (Part::Reamer, metal_handle.clone()),
        (Part::Cup, metal_handle),
        (Part::Kept, materials.add(see_through(&metal, 0.4))),
    ];
    for (part, material) in parts {
        commands.spawn((part, MeshMaterial3d(material), Transform::IDENTITY));
    }
    commands.insert_resource(wardrobe);
    light(&mut commands);
}

fn light(commands: &mut Commands) {
    commands.insert_resource(GlobalAmbientLight {
        color: Color::srgb(0.93, 0.96, 1.0),
        brightness: 700.0,
        ..default()
    });
    commands.spawn((
        Lamp,
        DirectionalLight {
            illuminance: 5200.0,
            color: Color::srgb(1.0, 0.97, 0.92),
            shadow_maps_enabled: true,
            ..default()
        },
        CascadeShadowConfigBuilder {
            num_cascades: 1,
            minimum_distance: 0.1,
            maximum_distance: 60.0,
            ..default()
        }
        .build(),
        Transform::IDENTITY,
    ));
}

/// The components of the camera that sees the scene.
pub(crate) fn camera() -> impl Bundle {
    (
        SceneCamera,
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
        Msaa::Off,
        Fxaa::default(),
        ScreenSpaceAmbientOcclusion {
            quality_level: ScreenSpaceAmbientOcclusionQualityLevel::Medium,
            ..default()
        },
        RenderLayers::layer(0),
    )
}

/// The components of the camera that shows the panels over the scene.
pub(crate) fn panel_camera() -> impl Bundle {
    (
        PrimaryEguiContext,
        Camera2d,
        Camera {
            order: 1,
            output_mode: CameraOutputMode::Write {
                blend_state: Some(BlendState::ALPHA_BLENDING),
                clear_color: ClearColorConfig::None,
            },
            clear_color: ClearColorConfig::Custom(Color::NONE),
            ..default()
        },
        Msaa::Off,
        RenderLayers::none(),
    )
}

/// Puts a fresh picture on the stage.
pub(super) fn show(
    mut commands: Commands,
    mut drawn: ResMut<Drawn>,
    mut meshes: ResMut<Assets<Mesh>>,
    parts: Query<(Entity, &Part, Option<&Mesh3d>)>,
) {
    let Some(mut picture) = drawn.fresh.take() else { return };
    for (entity, part, old) in &parts {
        let surface = std::mem::take(match part {
            Part::Bone => &mut picture.bone,
            Part::Face => &mut picture.face,
            Part::Reamer => &mut picture.reamer,
            Part::Cup => &mut picture.cup,
            Part::Kept => &mut picture.kept,
        });
        put(&mut commands.entity(entity), &mut meshes, old, surface);
    }
}

fn put(
    entity: &mut EntityCommands,
    meshes: &mut Assets<Mesh>,
    old: Option<&Mesh3d>,
    surface: Surface,
) {
    if let Some(old) = old {
        meshes.remove(&old.0);
    }
    if surface.triangles.is_empty() {
        entity.remove::<Mesh3d>();
    } else {
        entity.insert(Mesh3d(meshes.add(surface.into_mesh())));
    }
}

/// Puts the camera where the eye is, and its light above its shoulder.
pub(super) fn follow(
    eye: Res<Eye>,
    frame: Res<Frame>,
    camera: Single<(&mut Camera, &mut Transform), With<SceneCamera>>,
    lamp: Single<&mut Transform, (With<Lamp>, Without<SceneCamera>)>,
) {
    let (mut camera, mut transform) = camera.into_inner();
    let stand = eye.stand;
    *transform = Transform::from_translation(stand.place()).with_rotation(stand.turn);
    let over_left_shoulder = stand.turn * Vec3::new(-0.55, 0.75, 1.0);
    *lamp.into_inner() = Transform::from_translation(stand.focus + over_left_shoulder)
        .looking_at(stand.focus, stand.turn * Vec3::Y);
    let pixels = frame.pixels;
    if pixels.width() > 1 && pixels.height() > 1 {
        let viewport = Viewport {
            physical_position: pixels.min,
            physical_size: pixels.size(),
            ..default()
        };
        camera.viewport = Some(viewport);
    }
}

/// Draws the bone as it is to be looked at.
pub(super) fn dress(
    view: Res<View>,
    wardrobe: Res<Wardrobe>,
    mut parts: Query<(
        &Part,
        &mut MeshMaterial3d<StandardMaterial>,
        &mut Visibility,
    )>,
) {
    let look = match view.bone {
        // A map on the cup is seen through the bone.
        BoneLook::Solid if view.map.is_on_cup() && !view.section.on => BoneLook::Glass,
        look => look,
    };
    for (part, mut material, mut visibility) in &mut parts {
        if !matches!(part, Part::Bone | Part::Face) {
            continue;
        }
        visibility.set_if_neq(if look == BoneLook::Hidden {
            Visibility::Hidden
        } else {
            Visibility::Inherited
        });
        let wanted = match look {
            BoneLook::Glass => &wardrobe.glass,
            _ => &wardrobe.solid,
        };
        if *part == Part::Bone && material.0 != *wanted {
            material.0 = wanted.clone();
        }
    }
}
