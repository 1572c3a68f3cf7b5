//! Pictures and frame times without a window.

mod frame_times;
mod picture;

use std::path::PathBuf;

use bevy::app::{App, Startup};
use bevy::asset::{Assets, Handle};
use bevy::camera::RenderTarget;
use bevy::image::Image;
use bevy::prelude::{Commands, Res, ResMut, Resource};
use bevy::render::render_resource::{TextureFormat, TextureUsages};
use cupwright_io::BadTarget;
use thiserror::Error;

use crate::arguments::Size;
use crate::scene;
pub(crate) use frame_times::frame_times;
pub(crate) use picture::picture;

/// Why nothing came of it.
#[derive(Debug, Error)]
pub(crate) enum Failed {
    #[error(transparent)]
    Target(#[from] BadTarget),
    #[error("{}: cannot be written ({cause})", path.display())]
    Write {
        path: PathBuf,
        cause: std::io::Error,
    },
    #[error("{0}")]
    Plan(String),
    #[error("the picture could not be had from the graphics card: {0}")]
    Card(String),
    #[error("nothing was drawn within {0} s")]
    TooSlow(u64),
}

/// The image that is drawn on.
#[derive(Debug, Resource)]
struct Target {
    image: Handle<Image>,
}

#[derive(Debug, Resource)]
struct TargetSize(Size);

/// Has the bench drawn on an image of this size.
fn draw_on_image(app: &mut App, size: Size) {
    app.insert_resource(TargetSize(size))
        .add_systems(Startup, cameras);
}

fn cameras(mut commands: Commands, mut images: ResMut<Assets<Image>>, size: Res<TargetSize>) {
    let Size { width, height } = size.0;
    let mut image = Image::new_target_texture(width, height, TextureFormat::Rgba8UnormSrgb, None);
    image.texture_descriptor.usage |= TextureUsages::COPY_SRC;
    let image = images.add(image);
    let target = RenderTarget::Image(image.clone().into());
    commands.spawn((scene::camera(), target));
    commands.insert_resource(Target { image });
}
