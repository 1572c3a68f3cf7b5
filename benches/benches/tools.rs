//! One tool in bone: ball, half ball, sectors, bullet; beside the bullet a mesh boolean that
//! subtracts the same one.

use std::f64::consts::TAU;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{bones, cup, faceted, group, ours, ours_meshed, reamer, settings};
use cupwright_geometry::{Ball, column, within};
use cupwright_tests::boolean::BoolBone;
use nalgebra::Vector3;

fn within_ball(criterion: &mut Criterion) {
    let ball = Ball::new(cup().centre(), cup().radius()).expect("a cup's ball");
    ours(&mut group(criterion, "within_ball"), |solid| {
        within::ball(solid, &ball)
    });
}

fn within_hemisphere(criterion: &mut Criterion) {
    let cup = cup();
    ours(&mut group(criterion, "within_hemisphere"), |solid| {
        within::hemisphere(solid, &cup)
    });
}

fn within_twelve_sectors(criterion: &mut Criterion) {
    let cup = cup();
    let [first, second] = cup.rim().directions().map(|d| d.into_inner());
    let around: [Vector3<f64>; 12] = std::array::from_fn(|hour| {
        let (sin, cos) = (TAU * hour as f64 / 12.0).sin_cos();
        cos * first + sin * second
    });
    ours(&mut group(criterion, "within_twelve_sectors"), |solid| {
        within::sectors(solid, &cup, &around)
    });
}

/// The volume that a reamer takes; what it leaves as a mesh; the mesh that a boolean leaves, and its
/// volume.
fn subtract(criterion: &mut Criterion) {
    let reamer = reamer();
    let tool = faceted(&reamer);
    let mut group = group(criterion, "subtract");
    ours(&mut group, |solid| column::volume_in_bullet(solid, &reamer));
    ours_meshed(&mut group, &[reamer]);
    for bone in bones() {
        let peer = BoolBone::new(&bone.solid);
        group.bench_function(BenchmarkId::new("boolmesh", bone.size), |bencher| {
            bencher.iter(|| peer.subtracted(&tool));
        });
    }
}

criterion_group!(
    name = benches;
    config = settings();
    targets = within_ball, within_hemisphere, within_twelve_sectors, subtract
);
criterion_main!(benches);
