//! A bone as a label volume comes back as the bone: its volume, its place, its side, its coverage.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::fs::{self, File};
use std::path::Path;
use std::sync::Arc;

use cupwright_anatomy::synthetic::Preset;
use cupwright_anatomy::{Side, Socket, find_socket};
use cupwright_geometry::{Solid, intersections, topology};
use cupwright_io::volume::{write_nifti_gz, write_nrrd};
use cupwright_io::{LabelVolume, Loaded, Remark, read_mesh};
use cupwright_procedure::{Bone, Findings, Instruments, simulate};
use cupwright_tests::desk::Desk;
use cupwright_tests::pelves::{self, Plan};
use cupwright_tests::volumes::{Scan, voxelised};
use nalgebra::Vector3;

/// Between the voxels of a common scan, in mm.
const COMMON: [f64; 3] = [0.8, 0.8, 1.0];

fn through_nifti(volume: &LabelVolume) -> Loaded {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bone.nii.gz");
    write_nifti_gz(File::create(&path).unwrap(), volume).unwrap();
    read_mesh(&path).unwrap()
}

fn nrrd(path: &Path, volume: &LabelVolume) {
    write_nrrd(File::create(path).unwrap(), volume).unwrap();
}

fn through_nrrd(volume: &LabelVolume) -> Loaded {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bone.nrrd");
    nrrd(&path, volume);
    read_mesh(&path).unwrap()
}

/// The common plan on a bone, with another solid in its place.
fn found(bone: &Bone, solid: Solid) -> Findings {
    let remade = Bone {
        solid: Arc::new(solid),
        ..bone.clone()
    };
    let case = Plan::COMMON.case(bone);
    simulate(&case, &remade, &Instruments::generic().unwrap()).unwrap()
}

fn socket(loaded: &Loaded) -> Socket {
    find_socket(&loaded.mesh).unwrap()
}

/// What must hold of a bone that has been a label volume: its volume is kept within 0.1 %, cup coverage
/// within half a point, rim contact within two points, the bone that is removed within 1 %.
#[track_caller]
fn comes_back(preset: Preset, side: Side, scan: &Scan, through: fn(&LabelVolume) -> Loaded) {
    let bone = pelves::bone(preset, side);
    let loaded = through(&voxelised(&bone.solid, scan, 3));
    let held = socket(&loaded);
    assert_eq!(held.side, Some(side), "a mirror image");
    let before = find_socket(bone.solid.mesh()).unwrap();
    assert!((held.centre - before.centre).norm() < 0.3);
    assert_eq!(intersections::crossing_pairs(&loaded.mesh).len(), 0);
    assert_eq!(topology::genus(loaded.mesh.triangles()), Some(1));
    let solid = Solid::try_from(loaded.mesh).unwrap();
    let volume = solid.volume() / bone.solid.volume();
    assert!((volume - 1.0).abs() < 0.001, "{preset:?}: volume {volume}");
    let (before, after) = (found(&bone, (*bone.solid).clone()), found(&bone, solid));
    let coverage = [&before, &after].map(|f| f.cup.coverage_after_reaming);
    assert!(
        (coverage[1] - coverage[0]).abs() < 0.005,
        "{preset:?}: {coverage:?}"
    );
    let rim = [&before, &after].map(|f| f.cup.rim_contact);
    assert!((rim[1] - rim[0]).abs() < 0.02, "{preset:?}: rim {rim:?}");
    let removed = [&before, &after].map(|f| f.reaming[0].cumulative_removed_mm3);
    assert!(
        (removed[1] / removed[0] - 1.0).abs() < 0.01,
        "{preset:?}: removed {removed:?}"
    );
}

#[test]
fn an_average_left_bone_comes_back_through_nifti() {
    comes_back(
        Preset::AverageMale,
        Side::Left,
        &Scan::straight(COMMON),
        through_nifti,
    );
}

#[test]
fn an_average_right_bone_comes_back_through_an_oblique_nrrd() {
    comes_back(
        Preset::AverageMale,
        Side::Right,
        &Scan::oblique(COMMON),
        through_nrrd,
    );
}

#[test]
fn a_shallow_and_a_deep_socket_come_back_through_oblique_nifti() {
    comes_back(
        Preset::Shallow3,
        Side::Left,
        &Scan::oblique(COMMON),
        through_nifti,
    );
    comes_back(
        Preset::Deep,
        Side::Right,
        &Scan::oblique(COMMON),
        through_nifti,
    );
}

#[test]
fn voxels_whose_axes_are_left_handed_make_no_mirror_image() {
    let mut scan = Scan::oblique(COMMON);
    scan.spacing[0] = -scan.spacing[0];
    comes_back(Preset::Small, Side::Right, &scan, through_nifti);
    comes_back(Preset::Small, Side::Right, &scan, through_nrrd);
}

#[test]
fn the_space_of_a_file_decides_about_the_side() {
    let bone = pelves::bone(Preset::Small, Side::Left);
    let volume = voxelised(&bone.solid, &Scan::straight([1.0, 1.0, 1.5]), 1);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bone.nrrd");
    nrrd(&path, &volume);
    let loaded = read_mesh(&path).unwrap();
    assert_eq!(socket(&loaded).side, Some(Side::Left));
    let from = "left-posterior-superior";
    assert!(loaded.remarks.contains(&Remark::AxesTurned { from }));
    // The same numbers in another space are another bone: turned to the front, and a mirror image.
    let file = fs::read(&path).unwrap();
    let place = file
        .windows(from.len())
        .position(|w| w == from.as_bytes())
        .unwrap();
    let other = [
        &file[..place],
        b"left-anterior-superior",
        &file[place + from.len()..],
    ]
    .concat();
    fs::write(&path, other).unwrap();
    let mirrored = read_mesh(&path).unwrap();
    assert_eq!(socket(&mirrored).side, Some(Side::Right));
    assert!((mirrored.mesh.volume() / loaded.mesh.volume() - 1.0).abs() < 1e-3);
}

// The command line

/// A desk with `hip.nii.gz`, the small left bone as label 3 beside a block of label 7, and
/// `hip.stl`, the bone itself; and the line that measures a cup in its socket.
///
/// The cup is 4 mm larger than the socket, as after reaming: the dome of one as large lies in the surface
/// itself, where a tenth of a millimetre decides about a fifth of it.
fn with_two_labels() -> (Desk, String) {
    let bone = pelves::bone(Preset::Small, Side::Left);
    let alone = voxelised(&bone.solid, &Scan::straight(COMMON), 3);
    let [nx, ny, nz] = alone.size();
    let label = |at: usize| {
        let [i, j, k] = [at % nx, at / nx % ny, at / nx / ny];
        match alone.at([i, j, k]) {
            Some(0) if i < 2 && j < 9 && k < 9 => 7,
            held => held.unwrap(),
        }
    };
    let both = (0..nx * ny * nz).map(label);
    let both = LabelVolume::new(alone.size(), *alone.grid(), both).unwrap();
    let desk = Desk::new();
    write_nifti_gz(File::create(desk.path("hip.nii.gz")).unwrap(), &both).unwrap();
    desk.write_mesh("hip.stl", bone.solid.mesh());
    let held = find_socket(bone.solid.mesh()).unwrap();
    let told = |v: Vector3<f64>| format!("{},{},{}", v.x, v.y, v.z);
    let line = format!(
        "--centre {} --axis {} --cup {} --json",
        told(held.centre.coords),
        told(held.axis.into_inner()),
        (2.0 * held.radius).round() + 4.0
    );
    (desk, line)
}

fn number(document: &str, path: &[&str]) -> f64 {
    let document: serde_json::Value = serde_json::from_str(document).unwrap();
    let found = path.iter().fold(&document, |value, key| &value[*key]);
    found.as_f64().unwrap()
}

#[test]
fn the_command_line_takes_a_label_wherever_it_takes_a_bone() {
    let (desk, line) = with_two_labels();
    let listed = desk.run("inspect @hip.nii.gz");
    let listed = &listed.is_done().out;
    assert!(
        listed.contains("label      3") && listed.contains("label      7         162 voxels"),
        "{listed}"
    );
    let inspected = desk.run("inspect @hip.nii.gz --label 3 --json");
    let document: serde_json::Value = serde_json::from_str(&inspected.is_done().out).unwrap();
    assert_eq!(document["socket"]["side"], "left");
    assert!(
        document["notes"][0]
            .as_str()
            .unwrap()
            .contains("it also holds 7 (162 voxels)")
    );
    let coverage = |bone: &str| {
        let ran = desk.run(&format!("measure --bone {bone} {line}"));
        number(&ran.is_done().out, &["cup", "coverage"])
    };
    let (labels, mesh) = (coverage("@hip.nii.gz --label 3"), coverage("@hip.stl"));
    assert!((labels - mesh).abs() < 0.005, "{labels} {mesh}");
    desk.run(&format!("measure --bone @hip.nii.gz {line}"))
        .is_refused(&[
            "hip.nii.gz: the volume holds 2 labels: 3 (",
            "choose one with --label",
        ]);
    desk.run("inspect @hip.nii.gz --label 4")
        .is_refused(&["no label 4; it holds 3 ("]);
    desk.run("inspect @hip.stl --label 4")
        .is_refused(&["which has no labels"]);
}

#[test]
fn a_case_takes_a_label_too() {
    let (desk, _) = with_two_labels();
    let case = |path: &str| {
        format!(
            "(version: 1, bone: File(path: {path}, side: Left, axes: Pelvic), orientation: Radiographic, \
             reamers: [(diameter_mm: 45)], cup: (diameter_mm: 46, inclination_deg: 40, anteversion_deg: 15))"
        )
    };
    desk.write("mesh.ron", case("\"hip.stl\""));
    desk.write("labels.ron", case("\"hip.nii.gz\", label: 3"));
    desk.write("unsaid.ron", case("\"hip.nii.gz\""));
    let coverage = |name: &str| {
        let ran = desk.run(&format!("run {name} --json"));
        number(&ran.is_done().out, &["findings", "cup", "coverage"])
    };
    let (labels, mesh) = (coverage("@labels.ron"), coverage("@mesh.ron"));
    assert!((labels - mesh).abs() < 0.01, "{labels} {mesh}");
    desk.run("run @unsaid.ron")
        .is_refused(&["unsaid.ron: ", "hip.nii.gz: ", "label: 1"]);
}

/// How long a scan of 512 x 512 x 400 takes, and the most memory: run it alone, with --nocapture.
#[test]
#[ignore = "a hundred million voxels; a measurement rather than a test"]
fn a_scan_of_a_hundred_million_voxels() {
    let bone = pelves::bone(Preset::AverageMale, Side::Left);
    let small = voxelised(&bone.solid, &Scan::straight([0.7, 0.7, 0.7]), 1);
    let [nx, ny, nz] = small.size();
    let size = [512, 512, 400];
    let labels = (0..size[2]).flat_map(|k| {
        let small = &small;
        (0..size[1]).flat_map(move |j| {
            (0..size[0]).map(move |i| {
                let within = i < nx && j < ny && k < nz;
                if within {
                    small.at([i, j, k]).unwrap()
                } else {
                    0
                }
            })
        })
    });
    let volume = LabelVolume::new(size, *small.grid(), labels).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("scan.nii.gz");
    write_nifti_gz(File::create(&path).unwrap(), &volume).unwrap();
    drop(volume);
    // Resets the peak.
    let _ = fs::write("/proc/self/clear_refs", "5");
    let before = peak_memory_kib();
    let start = std::time::Instant::now();
    let loaded = read_mesh(&path).unwrap();
    println!(
        "{} triangles in {:.2} s; peak memory {} MiB before, {} MiB after; file {} KiB",
        loaded.mesh.triangles().len(),
        start.elapsed().as_secs_f64(),
        before / 1024,
        peak_memory_kib() / 1024,
        fs::metadata(&path).unwrap().len() / 1024,
    );
    assert!(peak_memory_kib() - before < 400 * 1024);
}

/// The most memory that this process had, in KiB; 0 where the system does not tell.
fn peak_memory_kib() -> u64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok())
        .unwrap_or(0)
}
