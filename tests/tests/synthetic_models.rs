//! The meshes in demo-models: small, readable, and what the files beside them say they are.
//!
//! Set `CUPWRIGHT_WRITE` to write them anew.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::path::{Path, PathBuf};

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::{Pelvis, Resolution, Shape, pelvis};
use cupwright_io::{Format, read_mesh, write_mesh};

const MODELS: [(&str, Side); 4] = [
    ("average-male", Side::Right),
    ("shallow-2", Side::Left),
    ("deep", Side::Right),
    ("retroverted", Side::Right),
];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-models")
}

fn made(preset: &str, side: Side) -> Pelvis {
    pelvis(&Shape::preset(preset).unwrap(), side, Resolution::Coarse).unwrap()
}

/// How the model was made, as the file beside it tells.
fn recipe(preset: &str, side: Side) -> String {
    format!(
        "// Made by: cupwright pelvis {preset} --side {side} --resolution coarse --out {preset}.stl\n\
         (\n    preset: \"{preset}\",\n    side: \"{side}\",\n    resolution: \"coarse\",\n    set: {{}},\n)\n"
    )
}

/// The corners of a binary STL, 84 bytes of head and 50 a triangle.
fn corners(stl: &[u8]) -> Vec<f32> {
    let triangles = stl[84..].chunks_exact(50);
    let coordinates = triangles.flat_map(|t| t[12..48].chunks_exact(4));
    coordinates
        .map(|c| f32::from_le_bytes(c.try_into().unwrap()))
        .collect()
}

#[test]
fn a_model_is_made_again_from_its_recipe() {
    let writing = std::env::var_os("CUPWRIGHT_WRITE").is_some();
    let again = if writing { &MODELS[..] } else { &MODELS[..1] };
    for &(preset, side) in again {
        let kept = folder().join(preset).with_extension("stl");
        let beside = tempfile::tempdir().unwrap();
        let fresh = beside.path().join("fresh.stl");
        write_mesh(
            &fresh,
            &made(preset, side).mesh,
            Format::for_path(&fresh).unwrap(),
        )
        .unwrap();
        if writing {
            std::fs::copy(&fresh, &kept).unwrap();
            std::fs::write(kept.with_extension("ron"), recipe(preset, side)).unwrap();
        }
        let [kept, fresh] = [kept, fresh].map(|path| corners(&std::fs::read(path).unwrap()));
        assert_eq!(kept.len(), fresh.len());
        // A thousandth of a millimetre allows for another machine's sines.
        let apart = |(a, b): (&f32, &f32)| (a - b).abs() > 1e-3;
        assert_eq!(
            kept.iter().zip(&fresh).filter(|pair| apart(*pair)).count(),
            0
        );
    }
}

#[test]
fn every_model_is_small_and_reads_as_one_closed_bone() {
    for (preset, side) in MODELS {
        let path = folder().join(preset).with_extension("stl");
        assert!(
            std::fs::metadata(&path).unwrap().len() < 1_500_000,
            "{preset}"
        );
        let mesh = read_mesh(&path).unwrap().mesh;
        assert_eq!(
            cupwright_geometry::topology::genus(mesh.triangles()),
            Some(1),
            "{preset}"
        );
        assert!(mesh.volume() > 0.0);
        let told = std::fs::read_to_string(path.with_extension("ron")).unwrap();
        assert_eq!(told, recipe(preset, side));
    }
}
