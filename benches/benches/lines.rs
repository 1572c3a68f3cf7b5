//! Lines and points in bone: the arcs of a rim, a fan of rays, how often bone encloses a point.

use std::f64::consts::TAU;

use criterion::{Criterion, criterion_group, criterion_main};
use cupwright_benches::{cup, group, ours, settings};
use cupwright_geometry::{crossing, rim};
use nalgebra::{UnitVector3, Vector3};

/// Rays of the fan: four rings of sixteen.
const RINGS: u32 = 4;
const RAYS_IN_RING: u32 = 16;

fn rim_arcs(criterion: &mut Criterion) {
    let circle = cup().rim();
    ours(&mut group(criterion, "rim_arcs"), |solid| {
        rim::arcs_inside(solid, &circle)
    });
}

fn intervals_of_64_rays(criterion: &mut Criterion) {
    let (centre, fan) = (cup().centre(), fan());
    ours(&mut group(criterion, "intervals_of_64_rays"), |solid| {
        fan.iter()
            .map(|ray| crossing::intervals_inside(solid, &centre, ray).len())
            .sum::<usize>()
    });
}

fn winding(criterion: &mut Criterion) {
    let centre = cup().centre();
    ours(&mut group(criterion, "winding"), |solid| {
        solid.winding(&centre)
    });
}

/// From the cup's centre through its round side.
fn fan() -> Vec<UnitVector3<f64>> {
    let axis = cup().axis().into_inner();
    let [first, second] = cup().rim().directions().map(|d| d.into_inner());
    let ray = |ring: u32, k: u32| {
        let polar = TAU / 4.0 * (f64::from(ring) + 0.5) / f64::from(RINGS);
        let around = TAU * f64::from(k) / f64::from(RAYS_IN_RING);
        let sideways: Vector3<f64> = around.cos() * first + around.sin() * second;
        UnitVector3::new_normalize(polar.sin() * sideways - polar.cos() * axis)
    };
    (0..RINGS)
        .flat_map(|ring| (0..RAYS_IN_RING).map(move |k| ray(ring, k)))
        .collect()
}

criterion_group!(
    name = benches;
    config = settings();
    targets = rim_arcs, intervals_of_64_rays, winding
);
criterion_main!(benches);
