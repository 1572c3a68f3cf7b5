//! Several reamers in bone: nested, crossing each other, and the bone that they leave behind a cup;
//! beside the crossing ones a mesh boolean that subtracts both.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{
    bones, crossing_reamers, cup, faceted, group, nested_reamers, ours, ours_meshed, settings,
};
use cupwright_geometry::union;
use cupwright_tests::boolean::BoolBone;

fn union_of_nested(criterion: &mut Criterion) {
    let reamers = nested_reamers();
    ours(&mut group(criterion, "union_of_nested"), |solid| {
        union::volume_in_union(solid, &reamers)
    });
}

fn union_of_crossing(criterion: &mut Criterion) {
    let reamers = crossing_reamers();
    let tools = [faceted(&reamers[0]), faceted(&reamers[1])];
    let mut group = group(criterion, "union_of_crossing");
    ours(&mut group, |solid| union::volume_in_union(solid, &reamers));
    ours_meshed(&mut group, &reamers);
    for bone in bones() {
        let peer = BoolBone::new(&bone.solid);
        group.bench_function(BenchmarkId::new("boolmesh", bone.size), |bencher| {
            bencher.iter(|| peer.inside_union(&tools));
        });
    }
}

fn area_outside(criterion: &mut Criterion) {
    let (cup, reamers) = (cup(), crossing_reamers());
    ours(&mut group(criterion, "area_outside"), |solid| {
        union::area_outside(solid, &cup, &reamers)
    });
}

criterion_group!(
    name = benches;
    config = settings();
    targets = union_of_nested, union_of_crossing, area_outside
);
criterion_main!(benches);
