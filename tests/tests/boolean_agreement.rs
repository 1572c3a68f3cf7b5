//! The exact measures against a general mesh boolean (boolmesh 0.2, crates.io), an independent
//! library: volumes within 0.02 mm³, coverage and rim contact within 2e-5.

#![expect(
    clippy::print_stdout,
    reason = "the figures are wanted when the tests are asked for them"
)]

use cupwright_geometry::{Bullet, Hemisphere, Solid, column, rim, samples, union, within};
use cupwright_tests::bones;
use cupwright_tests::boolean::{BoolBone, FacetedTool, extrapolated};

const VOLUME: f64 = 0.02;
const SHARE: f64 = 2e-5;

fn head(centre: [f64; 3], axis: [f64; 3], diameter: f64) -> Hemisphere {
    Hemisphere::new(centre.into(), axis.into(), diameter / 2.0).expect("a fixture's tool can be")
}

#[track_caller]
fn check_half_ball(bone: &Solid, head: &Hemisphere, segments: u32) {
    let peer = BoolBone::new(bone);
    let [volume, coverage, rim_contact] = extrapolated(segments, |n| {
        let found = peer.intersected(&FacetedTool::half_ball(head, n));
        [found.volume, found.coverage, found.rim_contact]
    });
    let exact = within::hemisphere(bone, head);
    let contact = rim::arcs_inside(bone, &head.rim()).share();
    println!(
        "{} triangles: volume {:.4} (boolean {volume:.4}), coverage {:.6} ({coverage:.6}), rim {contact:.6} ({rim_contact:.6})",
        bone.mesh().triangles().len(),
        exact.volume,
        exact.area / head.area(),
    );
    assert!((exact.volume - volume).abs() < VOLUME);
    assert!((exact.area / head.area() - coverage).abs() < SHARE);
    assert!((contact - rim_contact).abs() < SHARE);
    assert!(
        contact > 0.05 && contact < 0.95,
        "the case must cut the rim"
    );
}

#[track_caller]
fn check_sequence(bone: &Solid, bullets: &[Bullet], segments: u32) {
    let peer = BoolBone::new(bone);
    let [volume] = extrapolated(segments, |n| {
        let tools: Vec<_> = bullets.iter().map(|b| FacetedTool::bullet(b, n)).collect();
        [peer.inside_union(&tools)]
    });
    let found = union::volume_in_union(bone, bullets).expect("the reamers share a point");
    println!(
        "union {:.4} ± {:.4} (boolean {volume:.4})",
        found.value, found.error_bound
    );
    assert!((found.value - volume).abs() < VOLUME);
    assert!(found.error_bound <= 0.1);
}

#[test]
fn a_lumpy_ball_of_two_thousand_triangles() {
    let bone = bones::lumpy(2_000);
    check_half_ball(
        &bone,
        &head([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 26.0),
        128,
    );
}

#[test]
fn a_ring_of_nine_thousand_triangles() {
    let bone = bones::solid(samples::torus(32.0, 14.0, 96, 48));
    check_half_ball(&bone, &head([3.0, 5.0, 8.0], [0.1, 0.3, 1.0], 52.0), 128);
}

#[test]
fn a_lumpy_ball_of_thirty_seven_thousand_triangles() {
    let bone = bones::lumpy(37_000);
    check_half_ball(&bone, &head([15.0, 4.0, 11.0], [0.9, 0.4, 0.5], 30.0), 128);
}

#[test]
fn a_reamer_with_its_column() {
    let bone = bones::lumpy(9_000);
    let bullet = Bullet::with_column(head([9.0, -4.0, 6.0], [0.6, -0.2, 0.9], 22.0), 60.0)
        .expect("a column can be");
    let peer = BoolBone::new(&bone);
    let [left] = extrapolated(64, |n| [peer.subtracted(&FacetedTool::bullet(&bullet, n))]);
    let exact = column::volume_in_bullet(&bone, &bullet);
    println!("bullet {exact:.4} (boolean {:.4})", bone.volume() - left);
    assert!((exact - (bone.volume() - left)).abs() < VOLUME);
}

#[test]
fn reamers_that_are_not_nested() {
    let bone = bones::lumpy(9_000);
    let bullet = |centre, axis, diameter| {
        Bullet::with_column(head(centre, axis, diameter), 60.0).expect("a column can be")
    };
    let sequence = [
        bullet([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 22.0),
        bullet([15.5, -5.0, 13.0], [0.7, -0.1, 0.8], 24.0),
        bullet([13.0, -7.5, 13.5], [0.5, -0.3, 0.9], 25.0),
    ];
    check_sequence(&bone, &sequence, 64);
    check_sequence(&bone, &sequence[..2], 64);
}
