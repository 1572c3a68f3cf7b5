//! What a mesh costs before the first measure: its edges checked, its boxes laid in a tree.

use criterion::{BatchSize, BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{bones, group, settings};
use cupwright_geometry::Solid;

fn solid_of_mesh(criterion: &mut Criterion) {
    let mut group = group(criterion, "solid_of_mesh");
    for bone in bones() {
        group.bench_function(BenchmarkId::new("ours", bone.size), |bencher| {
            bencher.iter_batched(
                || bone.solid.mesh().clone(),
                Solid::try_from,
                BatchSize::PerIteration,
            );
        });
    }
}

criterion_group!(name = benches; config = settings(); targets = solid_of_mesh);
criterion_main!(benches);
