//! What a joint finds, its map over the direction of the cup, and its motion against bone.

use std::path::Path;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{group, settings};
use cupwright_procedure::Bone;
use cupwright_procedure::joint::bony::bony_motion;
use cupwright_procedure::joint::map::{MapGrid, motion_map};
use cupwright_procedure::joint::{Joint, JointEntry, joint};
use cupwright_tests::joints::Cup;

/// All that is closed form, and the map of 36 by 46 cups; no bone is asked.
fn closed_forms(criterion: &mut Criterion) {
    let (entry, case) = (JointEntry::default(), Cup::film(40.0, 15.0).case());
    let made = Joint::new(&entry, &case).expect("a joint");
    let mut group = group(criterion, "joint");
    group.bench_function("findings", |bencher| {
        bencher.iter(|| joint(&entry, &case).expect("findings"));
    });
    group.bench_function("motion_map", |bencher| {
        bencher.iter(|| motion_map(&made, &MapGrid::default()).expect("a map"));
    });
}

/// All ten movements against the average man.
fn against_bone(criterion: &mut Criterion) {
    let case = Cup::film(40.0, 15.0).case();
    let made = Joint::new(&JointEntry::default(), &case).expect("a joint");
    let bone = Bone::of_case(&case, Path::new("")).expect("the preset's bone");
    let mut group = group(criterion, "bony_motion");
    group.bench_function(BenchmarkId::new("ours", "116k"), |bencher| {
        bencher.iter(|| bony_motion(&made, &bone).expect("motion"));
    });
}

criterion_group!(name = benches; config = settings(); targets = closed_forms, against_bone);
criterion_main!(benches);
