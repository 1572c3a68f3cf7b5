//! What a screen waits for: the bone after one more reamer as a mesh, and a cross-section of the bone.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{bones, group, next_reamer, ours, reamers_so_far, settings};
use cupwright_geometry::cut::{Reaming, Tolerance};
use cupwright_geometry::{Plane, section};
use nalgebra::{Point3, Vector3};

fn one_more_reamer(criterion: &mut Criterion) {
    let mut group = group(criterion, "one_more_reamer");
    for bone in bones() {
        let mut so_far = Reaming::of(&bone.solid, Tolerance::default());
        for reamer in reamers_so_far() {
            so_far.ream(&reamer).expect("the cut can be drawn");
        }
        group.bench_function(BenchmarkId::new("ours-meshed", bone.size), |bencher| {
            bencher.iter(|| {
                let mut reaming = so_far.clone();
                let removed = reaming.ream(&next_reamer());
                let removed = removed.expect("the cut can be drawn");
                (removed.expect("it meets bone"), reaming.cut())
            });
        });
    }
}

fn cross_section(criterion: &mut Criterion) {
    let plane = Plane::new(Point3::new(0.4, -0.3, 1.1), Vector3::new(0.2, -0.1, 1.0));
    let plane = plane.expect("a plane");
    ours(&mut group(criterion, "cross_section"), |solid| {
        section::cross_section(solid.mesh(), &plane)
    });
}

criterion_group!(
    name = benches;
    config = settings();
    targets = one_more_reamer, cross_section
);
criterion_main!(benches);
