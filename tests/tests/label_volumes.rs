//! A bone as a label volume comes back as the bone: its volume, its place, its side, its coverage.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::fs::File;
use std::path::Path;
use std::sync::Arc;

use cupwright_anatomy::synthetic::Preset;
use cupwright_anatomy::{Side, find_socket};
use cupwright_geometry::{Solid, intersections, topology};
use cupwright_io::volume::{write_nifti_gz, write_nrrd};
use cupwright_io::{LabelVolume, Loaded, read_mesh};
use cupwright_procedure::{Bone, Findings, Instruments, simulate};
use cupwright_tests::pelves::{self, Plan};
use cupwright_tests::volumes::{Scan, voxelised};

fn through_nifti(volume: &LabelVolume, folder: &Path) -> Loaded {
    let path = folder.join("bone.nii.gz");
    write_nifti_gz(File::create(&path).unwrap(), volume).unwrap();
    read_mesh(&path).unwrap()
}

fn through_nrrd(volume: &LabelVolume, folder: &Path) -> Loaded {
    let path = folder.join("bone.nrrd");
    write_nrrd(File::create(&path).unwrap(), volume).unwrap();
    read_mesh(&path).unwrap()
}

fn found(bone: &Bone, solid: Solid) -> Findings {
    let remade = Bone {
        solid: Arc::new(solid),
        ..bone.clone()
    };
    simulate(
        &Plan::COMMON.case(bone),
        &remade,
        &Instruments::generic().unwrap(),
    )
    .unwrap()
}

#[test]
fn probe() {
    let folder = tempfile::tempdir().unwrap();
    for preset in [Preset::AverageMale, Preset::Deep, Preset::Shallow3] {
        let bone = pelves::bone(preset, Side::Left);
        let before = found(&bone, (*bone.solid).clone());
        for (scan, s) in [
            (Scan::straight([0.8, 0.8, 1.0]), 0),
            (Scan::oblique([0.8, 0.8, 1.0]), 1),
            (Scan::oblique([1.0, 1.0, 2.0]), 2),
        ] {
            let clock = std::time::Instant::now();
            let volume = voxelised(&bone.solid, &scan, 3);
            let voxel_time = clock.elapsed();
            let counted = volume.labels()[0].voxels as f64 * volume.grid().voxel_volume();
            for read in [through_nifti, through_nrrd] {
                let clock = std::time::Instant::now();
                let loaded = read(&volume, folder.path());
                let took = clock.elapsed();
                println!("{:?}", loaded.remarks);
                let crossings = intersections::crossing_pairs(&loaded.mesh).len();
                let genus = topology::genus(loaded.mesh.triangles());
                let socket = find_socket(&loaded.mesh).unwrap();
                let solid = Solid::try_from(loaded.mesh).unwrap();
                let mut off = 0.0;
                for p in solid.mesh().vertices() {
                    let _ = p;
                    off += 0.0;
                }
                let _ = off;
                let v = solid.volume();
                let after = found(&bone, solid);
                println!(
                    "{preset:?} scan {s} size {:?} tri {} genus {genus:?} crossings {crossings} counted {:.4} volume {:.5} coverage {:.4} {:.4} -> {:.4} {:.4} rim {:.4} -> {:.4} removed {:.1} -> {:.1} side {:?} r {:.2} vs {:.2} {voxel_time:?} {took:?}",
                    volume.size(),
                    2,
                    counted / bone.solid.volume(),
                    v / bone.solid.volume(),
                    before.cup.coverage,
                    before.cup.coverage_after_reaming,
                    after.cup.coverage,
                    after.cup.coverage_after_reaming,
                    before.cup.rim_contact,
                    after.cup.rim_contact,
                    before.reaming.last().unwrap().cumulative_removed_mm3,
                    after.reaming.last().unwrap().cumulative_removed_mm3,
                    socket.side,
                    socket.radius,
                    bone.native_radius
                );
            }
        }
    }
}
