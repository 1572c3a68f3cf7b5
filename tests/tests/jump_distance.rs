//! Jump distance against the five slopes of Sariali 2009, Acta Orthop 80:277, read in the cited text.
//!
//! Nothing is fitted. The formula itself is from memory; that abduction and anteversion of that paper are
//! the anatomic pair follows from the axis it defines.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use cupwright_anatomy::{Angles, Definition, Orientation};
use cupwright_procedure::joint::liner::{jump_distance, planar_inclination};
use cupwright_procedure::joint::{JointEntry, joint};
use cupwright_tests::joints::{Cup, snug};

/// A ball in a cup: diameter and offset in mm, abduction and anteversion in degrees.
#[derive(Clone, Copy)]
struct Ball {
    diameter: f64,
    abduction: f64,
    anteversion: f64,
    offset: f64,
}

const USUAL: Ball = Ball {
    diameter: 32.0,
    abduction: 45.0,
    anteversion: 0.0,
    offset: 0.0,
};

fn jump(ball: Ball) -> f64 {
    let angles = Angles::from_degrees(ball.abduction, ball.anteversion);
    let cup = Orientation::new(Definition::Anatomic, angles).unwrap();
    jump_distance(ball.diameter / 2.0, planar_inclination(&cup), ball.offset)
}

/// The mean slope between two balls that are `apart` units apart.
#[track_caller]
fn slope(from: Ball, to: Ball, apart: f64, published: f64) {
    let found = (jump(to) - jump(from)) / apart;
    assert!(
        (found - published).abs() < 0.02,
        "{found}, published {published}"
    );
}

#[test]
fn a_degree_of_abduction_costs_a_quarter_of_a_millimetre() {
    let abducted = |abduction| Ball { abduction, ..USUAL };
    slope(abducted(44.5), abducted(45.5), 1.0, -0.25);
    slope(abducted(40.0), abducted(50.0), 10.0, -0.25);
}

#[test]
fn a_degree_of_anteversion_gains_a_twentieth() {
    // Over which range it is a mean is not told; within each of these it holds.
    let turned = |anteversion| Ball {
        anteversion,
        ..USUAL
    };
    slope(turned(0.0), turned(30.0), 30.0, 0.05);
    slope(turned(0.0), turned(40.0), 40.0, 0.05);
    slope(turned(14.5), turned(15.5), 1.0, 0.05);
}

#[test]
fn a_millimetre_of_diameter_gains_less_in_a_steeper_cup() {
    let sized = |diameter, abduction| Ball {
        diameter,
        abduction,
        ..USUAL
    };
    slope(sized(28.0, 45.0), sized(48.0, 45.0), 20.0, 0.40);
    slope(sized(28.0, 60.0), sized(48.0, 60.0), 20.0, 0.25);
}

#[test]
fn a_millimetre_of_head_offset_costs_nearly_a_millimetre() {
    let proud = |offset| Ball { offset, ..USUAL };
    slope(proud(-0.5), proud(0.5), 1.0, -0.92);
}

#[test]
fn distances_at_15_degrees_of_anteversion() {
    // Evaluated from the same formula by other means.
    for (diameter, abduction, expected) in [
        (22.2, 45.0, 8.67),
        (28.0, 45.0, 10.94),
        (32.0, 45.0, 12.50),
        (36.0, 45.0, 14.06),
        (40.0, 45.0, 15.63),
        (32.0, 30.0, 16.21),
        (32.0, 60.0, 8.52),
    ] {
        let found = jump(Ball {
            diameter,
            abduction,
            anteversion: 15.0,
            offset: 0.0,
        });
        assert!(
            (found - expected).abs() < 0.01,
            "{diameter} {abduction}: {found}"
        );
    }
}

#[test]
fn a_case_tells_the_same_and_trades_it_against_the_wall() {
    let cup = Cup {
        definition: "Anatomic",
        ..Cup::film(45.0, 15.0)
    };
    let found = joint(&snug(32.0, 12.0, 135.0, 15.0), &cup.case())
        .unwrap()
        .liner;
    assert!((found.jump_distance_mm - 12.50).abs() < 0.01);
    for pair in found.trade.windows(2) {
        assert!(pair[0].jump_distance_mm < pair[1].jump_distance_mm);
        assert!(pair[0].wall_mm > pair[1].wall_mm);
        assert!(pair[0].oscillation_deg < pair[1].oscillation_deg);
    }
    let own = found
        .trade
        .iter()
        .find(|t| t.head_diameter_mm.total_cmp(&32.0).is_eq());
    assert!((own.unwrap().wall_mm - found.wall_mm).abs() < 1e-12);
}

#[test]
fn a_proud_head_in_a_case_costs_what_the_paper_says() {
    let at = |head_proud_mm| {
        let mut entry: JointEntry = snug(32.0, 12.0, 135.0, 15.0);
        entry.liner.head_proud_mm = head_proud_mm;
        joint(&entry, &Cup::film(45.0, 0.0).case())
            .unwrap()
            .liner
            .jump_distance_mm
    };
    assert!((at(0.5) - at(-0.5) + 0.92).abs() < 0.02);
}
