//! Closed forms of the press-fit: a round cavity, the same all around.

use super::*;
use approx::assert_relative_eq;
use std::f64::consts::{FRAC_PI_2, PI};

const R: f64 = 27.0;
const DELTA: f64 = 0.5;
/// 2 · 50 / (1.3 · 27), as in bone of 50 MPa.
const K: f64 = 2.849;

fn against(support: &Support) -> Contact<'_> {
    Contact {
        support,
        stiffer: 1.0,
        strength: 1e9,
        wider: 0.0,
        friction: 0.4,
    }
}

/// ∫ over the contact of a cup that stands s proud, with c the cosine of the angle from the pole, by the
/// antiderivatives: pressure out of the socket and the grip of friction 1.
fn closed(s: f64) -> (f64, f64) {
    let c: f64 = if s > DELTA { DELTA / s } else { 1.0 };
    let whole = 2.0 * PI * R * R * K;
    let outward = DELTA * c * c / 2.0 - s * c.powi(3) / 3.0;
    let grip = DELTA * 0.5 * (c * (1.0 - c * c).sqrt() + c.asin())
        - s * (1.0 - (1.0 - c * c).powf(1.5)) / 3.0;
    (whole * outward, whole * grip)
}

#[test]
fn forces_on_a_cup_are_those_of_the_closed_form() {
    let support = Support::even(R, DELTA, K, FRAC_PI_2);
    let contact = against(&support);
    for (s, newton) in [(0.0, 3263.0), (0.25, 2175.0), (0.5, 1088.0), (1.0, 272.0)] {
        let (outward, grip) = closed(s);
        let found = contact.forces(s);
        assert_relative_eq!(outward, newton, max_relative = 1e-3);
        assert_relative_eq!(found.outward, outward, max_relative = 1e-3);
        assert_relative_eq!(found.grip, grip, max_relative = 1e-3);
    }
}

#[test]
fn the_least_friction_is_that_of_the_closed_form() {
    let support = Support::even(R, DELTA, K, FRAC_PI_2);
    let contact = against(&support);
    for (s, least) in [(0.0, 2.0 / PI), (0.25, 0.539), (0.5, 0.369), (1.0, 0.170)] {
        let found = Rest::at(contact, s).least_friction();
        assert!((found - least).abs() < 1e-3, "{s}: {found}, {least}");
    }
}

#[test]
fn area_in_contact_is_the_zone_that_the_rim_touches_first() {
    let support = Support::even(R, DELTA, K, FRAC_PI_2);
    let contact = against(&support);
    for s in [0.0, 0.4, 0.5001, 1.0, 2.0] {
        let share = (DELTA / s).min(1.0);
        let expected = 2.0 * PI * R * R * share;
        assert_relative_eq!(contact.area(s), expected, max_relative = 1e-3);
    }
}

#[test]
fn a_force_drives_the_cup_to_where_it_takes_that_force() {
    let support = Support::even(R, DELTA, K, FRAC_PI_2);
    let contact = against(&support);
    for force in [50.0, 500.0, 2000.0, 4000.0] {
        let s = contact.proud_under(force);
        assert_relative_eq!(contact.driving_force(s), force, max_relative = 1e-3);
    }
    assert_relative_eq!(contact.proud_under(1e5), 0.0);
    assert_relative_eq!(contact.floor(), DELTA, max_relative = 1e-12);
    // More than enough to touch the floor: it stops there. Less: before.
    assert_relative_eq!(contact.rest(4000.0), DELTA, max_relative = 1e-12);
    assert!(contact.rest(1000.0) > DELTA + 0.1);
}

#[test]
fn an_even_pressure_turns_with_the_moment_of_the_textbook() {
    // p over half a ball: about any line through its centre ∫ |e × w| dA = π² R² / 2, both for an axis
    // in the rim's plane and for its own, and the same for the grip.
    let support = Support::even(R, DELTA, 1e6, FRAC_PI_2);
    let contact = Contact {
        strength: 2.0,
        ..against(&support)
    };
    let rest = Rest::at(contact, 0.0);
    let whole = 2.0 * PI * PI * R * R / 2.0;
    assert_relative_eq!(rest.torque(), 0.4 * R * whole, max_relative = 1e-3);
    assert_relative_eq!(contact.forces(0.0).grip, whole, max_relative = 1e-3);
    let about_centre = rest.work_about_centre(0.3);
    assert_relative_eq!(about_centre, 0.4 * R * whole, max_relative = 1e-3);
}

#[test]
fn tipping_takes_no_more_than_a_turn_about_the_centre_or_about_the_rim() {
    let support = Support::even(R, DELTA, K, FRAC_PI_2);
    let contact = Contact {
        friction: 0.65,
        ..against(&support)
    };
    let rest = Rest::at(contact, DELTA);
    let least = weakest(&rest.lever_out());
    assert!(least.moment > 0.0 && least.moment < rest.work_about_centre(0.0));
    // The same all around.
    let other = rest.lever_out_over(1.0);
    assert_relative_eq!(other.moment, least.moment, max_relative = 1e-3);
    let arm = least.moment / rest.push_out();
    assert!((25.0..60.0).contains(&arm), "{arm} mm");
}

#[test]
fn a_cup_with_too_little_friction_holds_nothing() {
    let support = Support::even(R, DELTA, K, FRAC_PI_2);
    for (friction, holds) in [(0.60, false), (0.67, true)] {
        let contact = Contact {
            friction,
            ..against(&support)
        };
        let rest = Rest::at(contact, 0.0);
        assert_eq!(rest.push_out() > 0.0, holds, "{friction}");
        assert_eq!(weakest(&rest.lever_out()).moment > 0.0, holds, "{friction}");
        assert_relative_eq!(rest.least_friction(), 2.0 / PI, max_relative = 1e-3);
    }
}

#[test]
fn bone_gives_way_at_its_strength() {
    let support = Support::even(R, DELTA, K, FRAC_PI_2);
    let contact = Contact {
        strength: 0.7,
        ..against(&support)
    };
    // Pressed by more than 0.7 / K: everything at the planned place.
    let all = 2.0 * PI * R * R;
    assert_relative_eq!(contact.crushed(0.0), all, max_relative = 1e-3);
    assert_relative_eq!(
        contact.forces(0.0).outward,
        PI * R * R * 0.7,
        max_relative = 1e-3
    );
    // Standing δ proud: where 1 − c exceeds 0.7 / (K δ).
    let zone = 1.0 - 0.7 / (K * DELTA);
    assert_relative_eq!(contact.crushed(DELTA), all * zone, max_relative = 1e-3);
}

#[test]
fn a_rim_widened_by_the_interference_is_strained_by_its_share_of_the_radius() {
    let support = Support::even(R, DELTA, K, FRAC_PI_2);
    let rest = Rest::at(against(&support), 0.0);
    assert_relative_eq!(rest.hoop_strain().0, 0.5 / 26.5, max_relative = 1e-9);
    let sectors = rest.interference_by_hour();
    for sector in sectors {
        assert_relative_eq!(sector.pressed, DELTA, max_relative = 1e-9);
    }
    let shared: f64 = sectors.iter().map(|s| s.area).sum();
    assert_relative_eq!(shared, 2.0 * PI * R * R, max_relative = 1e-3);
}

#[test]
fn bone_on_one_side_alone_pushes_the_cup_aside() {
    let even = Support::even(R, DELTA, K, FRAC_PI_2);
    let thrust = |support: &Support| Rest::at(against(support), 0.0).side_thrust();
    let mut half = even.clone();
    let kept = half.patches.iter().copied();
    half.patches = kept.filter(|p| p.turn.cos() > 0.0).collect();
    assert!(thrust(&even) < 1e-6);
    // Even pressure on a quarter ball: p π R² / 2.
    let expected = K * DELTA * PI * R * R / 2.0;
    assert_relative_eq!(thrust(&half), expected, max_relative = 0.05);
}
