//! What must hold of the measures on any bone and tool, tried on seeded random ones.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use approx::{assert_abs_diff_eq, assert_relative_eq};
use cupwright_geometry::{
    Ball, Bullet, Circle, Hemisphere, Solid, column, rim, samples, union, within,
};
use cupwright_tests::bones;
use nalgebra::{Isometry3, Point3, Vector3};
use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};

/// A half ball somewhere about the surface of the lumpy ball.
#[derive(Clone, Copy, Debug)]
struct Placed {
    centre: Point3<f64>,
    axis: Vector3<f64>,
    radius: f64,
}

impl Placed {
    fn head(&self) -> Hemisphere {
        Hemisphere::new(self.centre, self.axis, self.radius).unwrap()
    }

    fn ball(&self) -> Ball {
        Ball::new(self.centre, self.radius).unwrap()
    }

    fn moved(&self, by: &Isometry3<f64>) -> Self {
        Self {
            centre: by * self.centre,
            axis: by * self.axis,
            radius: self.radius,
        }
    }

    fn scaled(&self, by: f64) -> Self {
        Self {
            centre: self.centre * by,
            radius: self.radius * by,
            ..*self
        }
    }
}

fn direction() -> impl Strategy<Value = Vector3<f64>> {
    let part = || -1.0..1.0_f64;
    (part(), part(), part())
        .prop_map(|(x, y, z)| Vector3::new(x, y, z))
        .prop_filter("a direction", |v| v.norm() > 0.1)
}

fn placed() -> impl Strategy<Value = Placed> {
    (direction(), 10.0..34.0_f64, direction(), 3.0..24.0_f64).prop_map(
        |(toward, out, axis, radius)| Placed {
            centre: Point3::from(toward.normalize() * out),
            axis,
            radius,
        },
    )
}

fn motion() -> impl Strategy<Value = Isometry3<f64>> {
    (direction(), direction()).prop_map(|(shift, turn)| Isometry3::new(300.0 * shift, 3.0 * turn))
}

/// Tries a property on the same random values every time.
#[track_caller]
fn holds<S: Strategy>(cases: u32, strategy: S, property: impl Fn(S::Value)) {
    let config = ProptestConfig {
        cases,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let tried = TestRunner::new_with_rng(config, rng).run(&strategy, |value| {
        property(value);
        Ok(())
    });
    tried.unwrap();
}

fn bone() -> Solid {
    bones::lumpy(3_000)
}

#[test]
fn a_rigid_motion_changes_nothing() {
    let bone = bone();
    holds(40, (placed(), motion()), |(tool, motion)| {
        let moved = bones::solid(bone.mesh().moved(&motion));
        let (here, there) = (tool.head(), tool.moved(&motion).head());
        let (a, b) = (
            within::hemisphere(&bone, &here),
            within::hemisphere(&moved, &there),
        );
        assert_abs_diff_eq!(a.volume, b.volume, epsilon = 1e-7);
        assert_abs_diff_eq!(a.area, b.area, epsilon = 1e-7);
        let columns = [(&bone, here), (&moved, there)]
            .map(|(bone, head)| column::volume_in_column(bone, &Bullet::open(head)));
        assert_abs_diff_eq!(columns[0], columns[1], epsilon = 1e-6);
        let shares = [(&bone, here), (&moved, there)]
            .map(|(bone, head)| rim::arcs_inside(bone, &head.rim()).share());
        assert_abs_diff_eq!(shares[0], shares[1], epsilon = 1e-9);
    });
}

#[test]
fn a_scale_k_gives_k_cubed_and_k_squared() {
    let bone = bone();
    holds(40, (placed(), 0.05..20.0_f64), |(tool, k)| {
        let scaled = bones::solid(bone.mesh().scaled(k));
        let (a, b) = (
            within::ball(&bone, &tool.ball()),
            within::ball(&scaled, &tool.scaled(k).ball()),
        );
        assert_relative_eq!(
            a.volume * k.powi(3),
            b.volume,
            max_relative = 1e-9,
            epsilon = 1e-9 * k.powi(3)
        );
        assert_relative_eq!(
            a.area * k * k,
            b.area,
            max_relative = 1e-9,
            epsilon = 1e-9 * k * k
        );
    });
}

#[test]
fn splitting_every_triangle_changes_nothing() {
    let bone = bone();
    let split = bones::solid(bone.mesh().subdivided());
    holds(40, placed(), |tool| {
        let (a, b) = (
            within::hemisphere(&bone, &tool.head()),
            within::hemisphere(&split, &tool.head()),
        );
        assert_abs_diff_eq!(a.volume, b.volume, epsilon = 1e-8);
        assert_abs_diff_eq!(a.area, b.area, epsilon = 1e-8);
        let bullet = Bullet::open(tool.head());
        assert_abs_diff_eq!(
            column::volume_in_column(&bone, &bullet),
            column::volume_in_column(&split, &bullet),
            epsilon = 1e-8
        );
    });
}

#[test]
fn inside_and_outside_make_the_whole() {
    let bone = bone();
    let block = samples::cuboid([200.0; 3]);
    let around = bones::solid(block.joined(&bone.mesh().clone().reversed()));
    holds(40, placed(), |tool| {
        let (inside, outside) = (
            within::hemisphere(&bone, &tool.head()),
            within::hemisphere(&around, &tool.head()),
        );
        let half_ball = tool.head().area() * tool.radius / 3.0;
        assert_abs_diff_eq!(inside.volume + outside.volume, half_ball, epsilon = 1e-8);
        assert_abs_diff_eq!(
            inside.area + outside.area,
            tool.head().area(),
            epsilon = 1e-8
        );
        let [a, b] =
            [&bone, &around].map(|bone| rim::arcs_inside(bone, &tool.head().rim()).share());
        assert_abs_diff_eq!(a + b, 1.0, epsilon = 1e-12);
    });
}

#[test]
fn the_volume_grows_with_the_radius_by_the_area_in_bone() {
    let bone = bone();
    holds(40, placed(), |tool| {
        let step = 1e-4;
        let at = |radius| within::ball(&bone, &Ball::new(tool.centre, radius).unwrap());
        let slope = (at(tool.radius + step).volume - at(tool.radius - step).volume) / (2.0 * step);
        assert_abs_diff_eq!(slope, at(tool.radius).area, epsilon = 2e-2);
        assert!(at(tool.radius + step).volume >= at(tool.radius).volume - 1e-9);
    });
}

#[test]
fn two_halves_make_the_ball() {
    let bone = bone();
    holds(40, placed(), |tool| {
        let whole = within::ball(&bone, &tool.ball());
        let halves = [tool.axis, -tool.axis]
            .map(|axis| within::hemisphere(&bone, &Placed { axis, ..tool }.head()));
        assert_abs_diff_eq!(
            halves[0].volume + halves[1].volume,
            whole.volume,
            epsilon = 1e-8
        );
        assert_abs_diff_eq!(halves[0].area + halves[1].area, whole.area, epsilon = 1e-8);
    });
}

#[test]
fn a_column_of_no_length_leaves_the_half_ball() {
    let bone = bone();
    holds(40, placed(), |tool| {
        let volume =
            column::volume_in_bullet(&bone, &Bullet::with_column(tool.head(), 0.0).unwrap());
        assert_abs_diff_eq!(
            volume,
            within::hemisphere(&bone, &tool.head()).volume,
            epsilon = 1e-9
        );
    });
}

#[test]
fn the_order_of_reamers_does_not_matter_and_a_repeated_one_takes_nothing() {
    let bone = bone();
    holds(
        6,
        (placed(), direction(), 0.5..3.0_f64),
        |(tool, shift, apart)| {
            let first = Placed {
                radius: tool.radius.max(8.0),
                ..tool
            };
            let second = Placed {
                centre: first.centre + shift.normalize() * apart,
                ..first
            };
            let [a, b] = [first, second].map(|tool| Bullet::open(tool.head()));
            let volume = |tools: &[Bullet]| union::volume_in_union(&bone, tools).unwrap();
            let (forward, backward) = (volume(&[a, b]), volume(&[b, a]));
            assert!(
                (forward.value - backward.value).abs()
                    <= forward.error_bound + backward.error_bound
            );
            assert_abs_diff_eq!(volume(&[a, b, a]).value, forward.value, epsilon = 1e-9);
            assert_abs_diff_eq!(volume(&[a, a]).value, volume(&[a]).value, epsilon = 1e-12);
            let larger = [a, b].map(|tool| column::volume_in_bullet(&bone, &tool));
            assert!(forward.value >= larger[0].max(larger[1]) - forward.error_bound);
            assert!(forward.value <= larger[0] + larger[1] + forward.error_bound);
        },
    );
}

#[test]
fn any_number_of_threads_gives_the_same_bits() {
    let bone = bones::lumpy(40_000);
    let head = Hemisphere::new(
        Point3::new(9.0, -4.0, 6.0),
        Vector3::new(0.6, -0.2, 0.9),
        24.0,
    )
    .unwrap();
    let tilted = Hemisphere::new(
        Point3::new(9.5, -4.0, 6.0),
        Vector3::new(0.7, -0.2, 0.9),
        24.0,
    )
    .unwrap();
    let all = || {
        let within = within::hemisphere(&bone, &head);
        let column = column::volume_in_column(&bone, &Bullet::open(head));
        let union =
            union::volume_in_union(&bone, &[Bullet::open(head), Bullet::open(tilted)]).unwrap();
        let rim = rim::arcs_inside(&bone, &head.rim()).share();
        [
            within.volume,
            within.area,
            column,
            union.value,
            union.error_bound,
            rim,
        ]
        .map(f64::to_bits)
    };
    let on = |threads| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(all)
    };
    assert_eq!(on(1), on(3));
}

#[test]
fn arcs_in_bone_agree_with_asking_point_by_point() {
    let bone = bone();
    holds(20, (placed(), direction()), |(tool, toward)| {
        let Ok(circle) = Circle::new(tool.centre, tool.radius, tool.axis, toward) else {
            return;
        };
        let arcs = rim::arcs_inside(&bone, &circle);
        for k in 0..360 {
            let angle = (f64::from(k) + 0.123).to_radians();
            assert_eq!(arcs.contains(angle), bone.winding(&circle.point(angle)) > 0);
        }
    });
}
