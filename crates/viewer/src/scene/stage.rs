//! The stage: what Bevy draws.

use bevy::anti_alias::fxaa::Fxaa;
use bevy::camera::visibility::{NoFrustumCulling, RenderLayers, Visibility};
use bevy::camera::{
    Camera, Camera2d, Camera3d, CameraOutputMode, ClearColorConfig, PerspectiveProjection,
    Projection, SubCameraView,
};
use bevy::color::{Alpha, Color};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::light::{DirectionalLight, GlobalAmbientLight};
use bevy::material::AlphaMode;
use bevy::math::{URect, UVec2, Vec3};
use bevy::mesh::{Mesh, Mesh3d};
use bevy::pbr::{
    MeshMaterial3d, ScreenSpaceAmbientOcclusion, ScreenSpaceAmbientOcclusionQualityLevel,
    StandardMaterial,
};
use bevy::prelude::{
    Assets, Bundle, Commands, Component, DetectChangesMut, Entity, Handle, Query, Res, ResMut,
    Resource, Single, Transform, With, Without, default,
};
use bevy::render::render_resource::BlendState;
use bevy::render::view::Msaa;
use bevy_egui::PrimaryEguiContext;

use super::eye::{Eye, FIELD_OF_VIEW};
use super::{Drawn, Frame};
use crate::desk::View;
use crate::desk::view::BoneLook;

/// Behind everything: paper, a little darker than the panels.
const BACKGROUND: Color = Color::srgb(0.80, 0.82, 0.83);

/// How much of the bone is seen where one can see through it.
const GLASS: f32 = 0.28;

/// The camera that sees the scene.
#[derive(Component, Debug, Default)]
pub(crate) struct SceneCamera;

/// A light that goes with the camera.
#[derive(Clone, Component, Copy, Debug, Eq, PartialEq)]
pub(super) enum Lamp {
    /// Above the left shoulder.
    Key,
    /// Weaker, from the lower right.
    Fill,
}

/// A surface on the stage.
#[derive(Clone, Component, Copy, Debug, Eq, PartialEq)]
pub(super) enum Part {
    Bone,
    Face,
    /// What a map colours.
    Map,
    Reamer,
    Cup,
    Kept,
}

/// Whether there is anything of a part to be seen.
#[derive(Component, Debug, Default)]
pub(super) struct Filled(bool);

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
    // Colours that are read against a scale are shown as they are, whatever the light.
    let legible = StandardMaterial {
        unlit: true,
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
        (Part::Map, materials.add(legible)),
        (Part::Reamer, metal_handle.clone()),
        (Part::Cup, metal_handle),
        (Part::Kept, materials.add(see_through(&metal, 0.4))),
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
    light(&mut commands);
}

fn light(commands: &mut Commands) {
    commands.insert_resource(GlobalAmbientLight {
        color: Color::srgb(0.92, 0.95, 1.0),
        brightness: 520.0,
        ..default()
    });
    let lamps = [
        (Lamp::Key, 2500.0, [1.0, 0.96, 0.90]),
        (Lamp::Fill, 520.0, [0.86, 0.92, 1.0]),
    ];
    for (lamp, illuminance, [r, g, b]) in lamps {
        commands.spawn((
            lamp,
            DirectionalLight {
                illuminance,
                color: Color::srgb(r, g, b),
                shadow_maps_enabled: false,
                ..default()
            },
            Transform::IDENTITY,
        ));
    }
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
                blend_state: Some(BlendState::PREMULTIPLIED_ALPHA_BLENDING),
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
    mut parts: Query<(Entity, &Part, &mut Filled, Option<&Mesh3d>)>,
) {
    let Some(mut picture) = drawn.fresh.take() else {
        return;
    };
    for (entity, part, mut filled, old) in &mut parts {
        let surface = std::mem::take(match part {
            Part::Bone => &mut picture.bone,
            Part::Face => &mut picture.face,
            Part::Map => &mut picture.map,
            Part::Reamer => &mut picture.reamer,
            Part::Cup => &mut picture.cup,
            Part::Kept => &mut picture.kept,
        });
        filled.0 = !surface.triangles.is_empty();
        // An empty part keeps its last mesh, unseen: one that is taken off is not always drawn again
        // when it comes back.
        if filled.0 {
            if let Some(old) = old {
                meshes.remove(&old.0);
            }
            commands
                .entity(entity)
                .insert(Mesh3d(meshes.add(surface.into_mesh())));
        }
    }
}

/// Puts the camera where the eye is, and its lights beside it.
pub(super) fn follow(
    eye: Res<Eye>,
    frame: Res<Frame>,
    camera: Single<(&mut Camera, &mut Projection, &mut Transform), With<SceneCamera>>,
    mut lamps: Query<(&Lamp, &mut Transform), Without<SceneCamera>>,
) {
    let (mut camera, mut projection, mut transform) = camera.into_inner();
    let stand = eye.stand;
    *transform = Transform::from_translation(stand.place()).with_rotation(stand.turn);
    for (lamp, mut transform) in &mut lamps {
        let from = match lamp {
            Lamp::Key => Vec3::new(-0.6, 0.9, 0.8),
            Lamp::Fill => Vec3::new(0.9, -0.5, 0.7),
        };
        let from = stand.focus + stand.turn * from;
        *transform =
            Transform::from_translation(from).looking_at(stand.focus, stand.turn * Vec3::Y);
    }
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
/// one's angle of view. The scene is drawn under the panels too, and never in a part of its target
/// alone, since shading in corners is then looked up beside its place.
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
    mut parts: Query<(
        &Part,
        &Filled,
        &mut MeshMaterial3d<StandardMaterial>,
        &mut Visibility,
    )>,
) {
    let look = match view.bone {
        // A map on the cup is seen through the bone.
        BoneLook::Solid if view.map.is_on_cup() && !view.section.on => BoneLook::Glass,
        look => look,
    };
    for (part, filled, mut material, mut visibility) in &mut parts {
        let is_bone = match part {
            Part::Bone | Part::Face => true,
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
        if *part == Part::Bone && material.0 != *wanted {
            material.0 = wanted.clone();
        }
    }
}
