//! Leg length and offset: what balls, cups and stems change, against trigonometry done by hand.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use cupwright_procedure::joint::length::{BallFinding, LengthFinding};
use cupwright_procedure::joint::{BadJoint, JointEntry, OffsetChoice, joint};
use cupwright_tests::joints::{Cup, snug};

fn lengths(entry: &JointEntry, shift: [f64; 3]) -> LengthFinding {
    let cup = Cup {
        shift,
        ..Cup::film(40.0, 15.0)
    };
    joint(entry, &cup.case()).unwrap().length
}

fn ball(found: &LengthFinding, length: f64, version: OffsetChoice) -> &BallFinding {
    let mut balls = found.balls.iter();
    let same = |b: &&BallFinding| b.version == version && b.ball_mm.total_cmp(&length).is_eq();
    balls.find(same).unwrap()
}

#[test]
fn a_longer_ball_lengthens_and_offsets_by_the_angle_of_the_neck() {
    // L cos(180° − angle) down, L sin(180° − angle) cos(antetorsion) out.
    for (angle, length, down, out) in [
        (135.0, 3.5, 2.47, 2.47),
        (127.0, 3.5, 2.11, 2.80),
        (125.0, 4.0, 2.29, 3.28),
    ] {
        let mut entry = snug(32.0, 12.0, angle, 0.0);
        entry.head.lengths_mm = vec![0.0, length];
        let found = lengths(&entry, [0.0; 3]);
        let [none, longer] =
            [0.0, length].map(|length| ball(&found, length, OffsetChoice::Standard));
        let leg = longer.leg_length_mm - none.leg_length_mm;
        let offset = longer.total_offset_mm - none.total_offset_mm;
        assert!((leg - down).abs() < 0.01, "{angle}: {leg}");
        assert!((offset - out).abs() < 0.01, "{angle}: {offset}");
    }
}

#[test]
fn antetorsion_hides_part_of_the_offset_from_the_front() {
    let entry = snug(32.0, 12.0, 135.0, 30.0);
    let found = lengths(&entry, [0.0; 3]);
    let [short, long] = [0.0, 7.0].map(|length| ball(&found, length, OffsetChoice::Standard));
    let expected = 7.0 * 0.5_f64.sqrt() * 0.75_f64.sqrt();
    assert!((long.total_offset_mm - short.total_offset_mm - expected).abs() < 1e-9);
}

#[test]
fn a_cup_moves_the_leg_as_it_is_moved() {
    let entry = JointEntry::default();
    let native = lengths(&entry, [0.0; 3]);
    let moved = lengths(&entry, [5.0, 8.0, 2.0]);
    let [native, moved] = [&native, &moved].map(|f| ball(f, 0.0, OffsetChoice::Standard));
    assert!((moved.leg_length_mm - native.leg_length_mm + 8.0).abs() < 1e-9);
    assert!((moved.total_offset_mm - native.total_offset_mm + 5.0).abs() < 1e-9);
    assert!((moved.anterior_mm - native.anterior_mm - 2.0).abs() < 1e-9);
    assert!((moved.femoral_offset_mm - native.femoral_offset_mm).abs() < 1e-9);
}

#[test]
fn a_lateralised_liner_moves_the_joint_along_the_cups_axis() {
    let mut entry = JointEntry::default();
    entry.liner.lateralised_mm = 4.0;
    let found = lengths(&entry, [0.0; 3]).cup;
    let (ri, ra) = (40.0_f64.to_radians(), 15.0_f64.to_radians());
    assert!((found.total_offset_mm - 4.0 * ra.cos() * ri.sin()).abs() < 1e-9);
    assert!((found.leg_length_mm - 4.0 * ra.cos() * ri.cos()).abs() < 1e-9);
}

#[test]
fn a_deeper_stem_shortens_and_the_high_version_only_offsets() {
    let mut entry = JointEntry::default();
    let before = lengths(&entry, [0.0; 3]);
    entry.stem.insertion_mm = 3.0;
    let after = lengths(&entry, [0.0; 3]);
    let standard = |found| ball(found, 0.0, OffsetChoice::Standard).clone();
    let (before, after) = (standard(&before), (standard(&after), after));
    assert!((after.0.leg_length_mm - before.leg_length_mm + 3.0).abs() < 1e-9);
    assert!((after.0.total_offset_mm - before.total_offset_mm).abs() < 1e-9);
    let high = ball(&after.1, 0.0, OffsetChoice::High);
    assert!((high.leg_length_mm - after.0.leg_length_mm).abs() < 1e-9);
    let out = 6.0 * 15.0_f64.to_radians().cos();
    assert!((high.total_offset_mm - after.0.total_offset_mm - out).abs() < 1e-9);
}

#[test]
fn the_default_stem_about_restores_the_default_femur() {
    let found = lengths(&JointEntry::default(), [0.0; 3]);
    assert!(found.balls[found.best].miss_mm < 2.5, "{found:?}");
}

#[test]
fn the_best_ball_makes_up_for_a_cup_that_stands_high_and_medial() {
    let mut entry = JointEntry::default();
    let native = lengths(&entry, [0.0; 3]);
    let high = lengths(&entry, [6.0, 5.0, 0.0]);
    assert!(high.balls[high.best].ball_mm > native.balls[native.best].ball_mm);
    for found in [&native, &high] {
        let least = found
            .balls
            .iter()
            .map(|b| b.miss_mm)
            .fold(f64::INFINITY, f64::min);
        assert!(found.balls[found.best].miss_mm <= least);
    }
    entry.target.leg_length_mm = 5.0;
    let longer = lengths(&entry, [0.0; 3]);
    assert!(
        longer.balls[longer.best].leg_length_mm > native.balls[native.best].leg_length_mm + 2.0
    );
}

#[test]
fn what_the_case_chooses_is_kept_though_another_would_be_nearer() {
    let mut entry = JointEntry::default();
    entry.head.length_mm = Some(7.0);
    entry.stem.offset = Some(OffsetChoice::High);
    let found = lengths(&entry, [0.0; 3]);
    let chosen = &found.balls[found.chosen];
    assert_eq!(
        (chosen.ball_mm.to_bits(), chosen.version),
        (7.0_f64.to_bits(), OffsetChoice::High)
    );
    assert!(found.balls[found.best].miss_mm < chosen.miss_mm);
}

#[test]
fn the_table_can_be_read_aloud() {
    let mut entry = snug(32.0, 12.0, 135.0, 0.0);
    entry.femur.neck_shaft_angle_deg = 135.0;
    entry.femur.antetorsion_deg = 0.0;
    entry.femur.offset_mm = 40.0;
    entry.stem.neck_length_mm = 40.0 * 2.0_f64.sqrt();
    entry.head.lengths_mm = vec![7.0, 0.0];
    let found = lengths(&entry, [0.0; 3]);
    let said: Vec<_> = found.balls.iter().map(|b| b.said.as_str()).collect();
    assert_eq!(
        said,
        [
            "ball 0, standard offset: leg unchanged, offset unchanged",
            "ball +7, standard offset: leg 5 mm longer, offset 5 mm more",
            "ball 0, high offset: leg unchanged, offset 6 mm more",
            "ball +7, high offset: leg 5 mm longer, offset 11 mm more",
        ]
    );
}

#[test]
fn a_stem_that_cannot_reach_is_refused_with_what_it_reaches() {
    let mut entry = JointEntry::default();
    entry.stem.insertion_mm = 30.0;
    let refused = joint(&entry, &Cup::film(40.0, 15.0).case()).unwrap_err();
    assert!(matches!(refused, BadJoint::CannotReach { longest, .. } if longest < -15.0));
    assert!(refused.to_string().contains("cannot reach"), "{refused}");
    let high = Cup {
        shift: [0.0, 45.0, 0.0],
        ..Cup::film(40.0, 15.0)
    };
    let refused = joint(&JointEntry::default(), &high.case());
    assert!(matches!(refused, Err(BadJoint::CannotReach { .. })));
}
