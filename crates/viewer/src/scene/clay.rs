//! The one material: bone and metal under soft lights, in one cheap pass.
//!
//! Shading by physics, shadow maps and screen-space effects cost more than a frame has where the
//! graphics card is small, or is none; and a hollow reads better by light that is known to reach it.

use bevy::app::{App, Plugin};
use bevy::asset::{Asset, embedded_asset};
use bevy::material::AlphaMode;
use bevy::mesh::MeshVertexBufferLayoutRef;
use bevy::pbr::{Material, MaterialPipeline, MaterialPipelineKey, MaterialPlugin};
use bevy::reflect::TypePath;
use bevy::render::render_resource::{
    AsBindGroup, RenderPipelineDescriptor, ShaderType, SpecializedMeshPipelineError,
};
use bevy::shader::ShaderRef;

/// How a part looks.
#[derive(Asset, AsBindGroup, Clone, Debug, TypePath)]
pub(super) struct Clay {
    #[uniform(0)]
    look: Look,
}

#[derive(Clone, Copy, Debug, ShaderType)]
struct Look {
    shine: f32,
    sharpness: f32,
    opacity: f32,
    lit: f32,
}

impl Clay {
    /// Dull, as bone is.
    pub(super) const BONE: Self = Self::of(0.06, 12.0);
    /// With a glint, as metal has.
    pub(super) const METAL: Self = Self::of(0.45, 48.0);
    /// Colours that are read against a scale are shown as they are, whatever the light.
    pub(super) const LEGIBLE: Self = Self {
        look: Look {
            lit: 0.0,
            ..Self::BONE.look
        },
    };

    const fn of(shine: f32, sharpness: f32) -> Self {
        Self {
            look: Look {
                shine,
                sharpness,
                opacity: 1.0,
                lit: 1.0,
            },
        }
    }

    /// The same, seen through.
    pub(super) fn glass(mut self, opacity: f32) -> Self {
        self.look.opacity = opacity;
        self
    }
}

impl Material for Clay {
    fn fragment_shader() -> ShaderRef {
        "embedded://cupwright_viewer/scene/clay.wgsl".into()
    }

    fn alpha_mode(&self) -> AlphaMode {
        if self.look.opacity < 1.0 {
            AlphaMode::Blend
        } else {
            AlphaMode::Opaque
        }
    }

    fn enable_prepass() -> bool {
        false
    }

    fn enable_shadows() -> bool {
        false
    }

    fn specialize(
        _: &MaterialPipeline,
        descriptor: &mut RenderPipelineDescriptor,
        _: &MeshVertexBufferLayoutRef,
        _: MaterialPipelineKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        // Where the section has cut a shell open its other side is seen.
        descriptor.primitive.cull_mode = None;
        Ok(())
    }
}

/// Brings the material and its shader.
#[derive(Debug)]
pub(super) struct ClayPlugin;

impl Plugin for ClayPlugin {
    fn build(&self, app: &mut App) {
        embedded_asset!(app, "clay.wgsl");
        app.add_plugins(MaterialPlugin::<Clay>::default());
    }
}
