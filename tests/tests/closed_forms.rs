//! Reaming and coverage against closed forms: numbers that calculus gives and that no code of this
//! project went into. Values are printed with the digits to which they were worked out by hand.

use std::f64::consts::{PI, TAU};

use approx::assert_relative_eq;
use cupwright_geometry::{Bullet, Hemisphere, Solid, TriMesh, samples, union, within};
use cupwright_tests::bones;
use nalgebra::{Point3, Vector3};

/// A block of bone whose upper face, z = 0, is far larger than any tool.
fn block() -> Solid {
    let block = samples::cuboid([400.0, 400.0, 200.0]);
    bones::solid(block.moved(&nalgebra::Isometry3::translation(0.0, 0.0, -100.0)))
}

fn tool(centre: [f64; 3], axis: [f64; 3], diameter: f64) -> Hemisphere {
    Hemisphere::new(centre.into(), axis.into(), diameter / 2.0).expect("a fixture's tool can be")
}

#[track_caller]
fn check_shell(from: f64, to: f64, published: f64) {
    let at_face = |diameter| Bullet::open(tool([3.0, -2.0, 0.0], [0.0, 0.0, 1.0], diameter));
    let bone = block();
    let [first, both] = [&[at_face(from)][..], &[at_face(from), at_face(to)][..]]
        .map(|tools| union::volume_in_union(&bone, tools).expect("nested reamers share a point"));
    let shell = both.value - first.value;
    assert_relative_eq!(
        shell,
        PI / 12.0 * (to.powi(3) - from.powi(3)),
        max_relative = 1e-11
    );
    assert!((shell - published).abs() <= 0.5, "{shell}");
    assert_relative_eq!(both.error_bound, 0.0);
}

#[test]
fn a_further_reamer_takes_a_concentric_shell() {
    // π/12 (D2³ − D1³) in mm³.
    check_shell(44.0, 46.0, 3181.0);
    check_shell(48.0, 50.0, 3772.0);
    check_shell(50.0, 51.0, 2003.0);
    check_shell(50.0, 52.0, 4086.0);
    check_shell(52.0, 54.0, 4413.0);
    check_shell(54.0, 56.0, 4752.0);
}

#[test]
fn a_single_reamer_takes_a_half_ball() {
    // πD³/12 in mm³.
    for (diameter, published) in [(52.0, 36_811.0), (54.0, 41_224.0)] {
        let volume =
            within::hemisphere(&block(), &tool([0.0; 3], [0.0, 0.0, 1.0], diameter)).volume;
        assert!((volume - published).abs() <= 0.5, "{volume}");
    }
}

#[test]
fn a_reamer_that_stands_back_takes_a_cap() {
    // πh²(3R − h)/3.
    let (radius, depth) = (25.0_f64, 6.0_f64);
    let back = tool([0.0, 0.0, radius - depth], [0.0, 0.0, 1.0], 2.0 * radius);
    let expected = PI * depth * depth * (3.0 * radius - depth) / 3.0;
    assert_relative_eq!(
        within::hemisphere(&block(), &back).volume,
        expected,
        max_relative = 1e-12
    );
}

#[test]
fn two_offset_reamers_overlap_in_a_lens() {
    // Half of the lens of two spheres, π(R+r−d)²(d²+2d(R+r)−3(R−r)²)/(12d), cut by the plane through
    // both centres.
    let (large, small, apart) = (26.0_f64, 24.0_f64, 7.0_f64);
    let at = |x: f64, r: f64| Bullet::half_ball(tool([x, 0.0, 0.0], [0.0, 0.0, 1.0], 2.0 * r));
    let together = union::volume_in_union(&block(), &[at(0.0, large), at(apart, small)])
        .expect("they overlap");
    let lens = PI
        * (large + small - apart).powi(2)
        * (apart * apart + 2.0 * apart * (large + small) - 3.0 * (large - small).powi(2))
        / (12.0 * apart);
    let expected = TAU / 3.0 * (large.powi(3) + small.powi(3)) - lens / 2.0;
    assert!(
        (together.value - expected).abs() <= together.error_bound,
        "{together:?}, {expected}"
    );
    assert!(together.error_bound <= 0.1);
}

#[test]
fn a_tilted_cup_in_a_half_space_is_covered_but_for_a_lune() {
    // 1 − δ/180°.
    for (tilt, published) in [(5.0_f64, 97.22), (10.0, 94.44), (30.0, 83.33)] {
        let axis = [tilt.to_radians().sin(), 0.0, tilt.to_radians().cos()];
        let coverage = within::coverage(&block(), &tool([1.0, 2.0, 0.0], axis, 54.0));
        assert_relative_eq!(coverage, 1.0 - tilt / 180.0, max_relative = 1e-12);
        assert!((100.0 * coverage - published).abs() < 0.005, "{coverage}");
    }
}

#[test]
fn a_proud_cup_in_a_half_space_is_covered_but_for_a_zone() {
    // 1 − s/R with R = 27 mm.
    for (proud, published) in [(1.0, 96.30), (3.0, 88.89), (5.0, 81.48), (8.0, 70.37)] {
        let coverage = within::coverage(&block(), &tool([1.0, 2.0, proud], [0.0, 0.0, 1.0], 54.0));
        assert_relative_eq!(coverage, 1.0 - proud / 27.0, max_relative = 1e-12);
        assert!((100.0 * coverage - published).abs() < 0.005, "{coverage}");
    }
}

/// Bone between two spheres about the origin, wherever the direction lies more than `below(φ)` under
/// the plane z = 0: a socket whose rim stands at that angle.
fn bowl(below: impl Fn(f64) -> f64, around: u32) -> Solid {
    let (inner, outer, down) = (20.0, 40.0, 60_u32);
    let mut vertices = vec![Point3::new(0.0, 0.0, -inner), Point3::new(0.0, 0.0, -outer)];
    let mut triangles = Vec::new();
    let at = |shell: u32, ring: u32, k: u32| 2 + (shell * down + ring - 1) * around + k % around;
    for radius in [inner, outer] {
        for ring in 1..=down {
            for k in 0..around {
                let azimuth = TAU * f64::from(k) / f64::from(around);
                let polar = (PI / 2.0 - below(azimuth)) * f64::from(ring) / f64::from(down);
                let across = polar.sin();
                let direction =
                    Vector3::new(across * azimuth.cos(), across * azimuth.sin(), -polar.cos());
                vertices.push(Point3::from(radius * direction));
            }
        }
    }
    for k in 0..around {
        triangles.push([0, at(0, 1, k), at(0, 1, k + 1)]);
        triangles.push([1, at(1, 1, k + 1), at(1, 1, k)]);
        for ring in 1..down {
            let (a, b, c, d) = (
                at(0, ring, k),
                at(0, ring, k + 1),
                at(0, ring + 1, k),
                at(0, ring + 1, k + 1),
            );
            triangles.extend([[a, c, d], [a, d, b]]);
            let (a, b, c, d) = (
                at(1, ring, k),
                at(1, ring, k + 1),
                at(1, ring + 1, k),
                at(1, ring + 1, k + 1),
            );
            triangles.extend([[a, d, c], [a, b, d]]);
        }
        let (a, b) = (at(0, down, k), at(0, down, k + 1));
        let (c, d) = (at(1, down, k), at(1, down, k + 1));
        triangles.extend([[a, c, d], [a, d, b]]);
    }
    bones::solid(TriMesh::new(vertices, triangles).expect("a fixture is finite and in range"))
}

#[test]
fn a_cup_under_an_uneven_rim_is_covered_up_to_it() {
    // 1 − (1/2π) ∮ sin e dφ for a rim e degrees below the level of the half ball: constant 11°
    // gives 80.92 %, 8 + 6 cos φ + 5 sin 2φ gives 85.92 % (the rim nowhere above that level).
    let cup = tool([0.0; 3], [0.0, 0.0, 1.0], 54.0);
    let even = within::coverage(&bowl(|_| 11.0_f64.to_radians(), 720), &cup);
    assert!((100.0 * even - 80.92).abs() < 0.01, "{even}");
    let rim = |turn: f64| (8.0 + 6.0 * turn.cos() + 5.0 * (2.0 * turn).sin()).to_radians();
    let uneven = within::coverage(&bowl(|turn| rim(turn).max(0.0), 720), &cup);
    assert!((100.0 * uneven - 85.92).abs() < 0.05, "{uneven}");
}

#[test]
fn coverage_by_sector_follows_an_uneven_rim() {
    let rim = |turn: f64| (8.0 + 6.0 * turn.cos()).to_radians();
    let bone = bowl(rim, 720);
    let cup = tool([0.0; 3], [0.0, 0.0, 1.0], 54.0);
    let around: Vec<_> = (0..12).map(|k| TAU * f64::from(k) / 12.0).collect();
    let directions: Vec<_> = around
        .iter()
        .map(|a| Vector3::new(a.cos(), a.sin(), 0.0))
        .collect();
    for (start, sector) in around.iter().zip(within::sectors(&bone, &cup, &directions)) {
        let steps = 1000;
        let mean: f64 = (0..steps)
            .map(|k| rim(start + TAU / 12.0 * (f64::from(k) + 0.5) / 1000.0).sin())
            .sum::<f64>();
        let expected = 1.0 - mean / f64::from(steps);
        assert!((sector.area / (cup.area() / 12.0) - expected).abs() < 1e-4);
    }
}
