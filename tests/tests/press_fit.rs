//! The press-fit against closed forms and published experiments.
//!
//! Closed forms: a rigid hemisphere in an even elastic foundation. Experiments: orders, ratios and
//! trends only; what had to be chosen to meet them is said beside each.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use cupwright_anatomy::synthetic::Preset;
use cupwright_anatomy::{Hour, Side};
use cupwright_geometry::{Bullet, Hemisphere, Solid};
use cupwright_procedure::bone::Layers;
use cupwright_procedure::fan::{Fan, Steps};
use cupwright_procedure::hold::quality::{BoneQuality, Quality};
use cupwright_procedure::hold::{
    PressFitFinding, PressFitInputs, Spread, press_fit, press_fit_along,
};
use cupwright_procedure::placed::Placed;
use cupwright_procedure::{Bone, Case};
use cupwright_tests::blocks;
use cupwright_tests::pelves::{self, Plan};

/// Bone that never gives way, of 50 MPa, and a cavity as wide as its reamer.
fn elastic(friction: f64, seating_force_n: f64) -> PressFitInputs {
    PressFitInputs {
        quality: Quality::Own(BoneQuality {
            modulus_mpa: 50.0,
            strength_mpa: 1e6,
            ..BoneQuality::AVERAGE
        }),
        friction,
        reamer_oversize_mm: 0.0,
        seating_force_n,
        spread: Spread::default(),
    }
}

/// A block so large that the cavity does not feel its end.
fn endless() -> Bone {
    blocks::block(8000.0, 4000.0, 1e-6)
}

#[track_caller]
fn close(found: f64, expected: f64, share: f64) {
    let off = (found / expected - 1.0).abs();
    assert!(off <= share, "{found}, expected {expected}");
}

// The pressure of an even foundation on a hemisphere, by hand: radius 27, interference 0.5, and the
// stiffness of a cavity in bone without end, 2E / ((1 + ν) R), Lamé 1852.
const R: f64 = 27.0;
const DELTA: f64 = 0.5;
const K: f64 = 2.0 * 50.0 / (1.3 * R);

#[test]
fn forces_in_an_endless_block_are_those_of_the_closed_form() {
    let case = blocks::case("(diameter_mm: 53)", 54.0);
    let found = press_fit(&case, &endless(), &elastic(0.4, 1e5)).unwrap();
    let whole = PI * R * R * K * DELTA;
    close(
        found.force_to_planned_place_n.mid,
        whole * (1.0 + 0.4 * FRAC_PI_2),
        1e-3,
    );
    // Where the pole just touches the grip is 2πR²kδ (π/4 − 1/3), the push out of the socket a third.
    let floor = whole / 3.0 + 0.4 * whole * 2.0 * (PI / 4.0 - 1.0 / 3.0);
    close(found.force_to_floor_n.mid, floor, 1e-3);
    close(found.stands_proud_mm.mid, DELTA, 1e-6);
    assert!(found.polar_gap_mm.unwrap().mid.abs() < 1e-6);
    close(found.contact_area_mm2.mid, TAU * R * R, 1e-3);
    close(found.least_friction.mid, 0.369, 2e-3);
    for pressed in found.interference_by_hour_mm {
        close(pressed.unwrap(), DELTA, 1e-9);
    }
}

#[test]
fn a_force_too_small_leaves_a_gap_and_the_friction_of_the_closed_form() {
    // Standing 2δ proud it pushes out with 2πR²kδ/24 and asks for a friction of 0.170.
    let out = TAU * R * R * K * DELTA / 24.0;
    let force = out * (1.0 + 0.5 / 0.170);
    let case = blocks::case("(diameter_mm: 53)", 54.0);
    let found = press_fit(&case, &endless(), &elastic(0.5, force)).unwrap();
    close(found.stands_proud_mm.mid, 2.0 * DELTA, 3e-3);
    close(found.polar_gap_mm.unwrap().mid, DELTA, 6e-3);
    assert!(
        (found.least_friction.mid - 0.170).abs() < 1e-3,
        "{}",
        found.least_friction.mid
    );
    close(found.push_out_n.mid, out * (0.5 / 0.170 - 1.0), 0.01);
    assert!(found.self_retaining);
}

#[test]
fn a_thin_block_holds_less_than_an_endless_one() {
    let case = blocks::case("(diameter_mm: 53)", 54.0);
    let inputs = elastic(0.65, 1e5);
    let push = |bone: &Bone| press_fit(&case, bone, &inputs).unwrap().push_out_n.mid;
    let (endless, thin) = (push(&endless()), push(&blocks::block(70.0, 35.0, 1e-6)));
    assert!((0.2..0.8).contains(&(thin / endless)), "{thin}, {endless}");
}

#[test]
fn a_subchondral_plate_that_is_left_stiffens_the_fit_and_one_reamed_away_does_not() {
    let case = blocks::case("(diameter_mm: 53)", 54.0);
    let push = |depth: Option<f64>| {
        // The plate of such a bone reaches from its face to that depth; there is none above it.
        let layers = depth.map(|depth| {
            let beneath = blocks::block(8000.0, 4000.0, -depth);
            let solid = || Solid::clone(&beneath.solid);
            Layers {
                beneath_subchondral: solid(),
                cancellous: solid(),
            }
            .into()
        });
        let bone = Bone {
            layers,
            ..endless()
        };
        press_fit(&case, &bone, &elastic(0.65, 1e5))
            .unwrap()
            .push_out_n
            .mid
    };
    let (none, reamed, left) = (push(None), push(Some(-1.0)), push(Some(29.0)));
    assert!(left > 1.2 * none, "{left}, {none}");
    assert!(
        (reamed / none - 1.0).abs() < 0.3 && reamed < left,
        "{reamed}, {none}"
    );
}

#[test]
fn seating_takes_the_force_that_was_measured_and_grows_with_oversize_as_measured() {
    // Kim 1995, J Bone Joint Surg Am 77:111: 2000 N for cups 2 mm over the cavity, 3000 N for 4 mm.
    // Modulus, friction and half of the nominal interference (Jin 2006, Proc IMechE H 220:299) are our
    // choices, not measured on those sockets: the order of the force is checked within a factor of 2.
    let force = |nominal: f64| {
        let inputs = PressFitInputs {
            friction: 0.4,
            reamer_oversize_mm: nominal / 2.0,
            ..PressFitInputs::default()
        };
        let case = blocks::case(&format!("(diameter_mm: {})", 54.0 - nominal), 54.0);
        press_fit(&case, &endless(), &inputs)
            .unwrap()
            .force_to_floor_n
            .mid
    };
    let (two, four) = (force(2.0), force(4.0));
    assert!((1000.0..4000.0).contains(&two), "{two}");
    assert!((1500.0..6000.0).contains(&four), "{four}");
    assert!((1.3..2.2).contains(&(four / two)), "{two}, {four}");
}

#[test]
fn more_under_reaming_holds_better_until_the_rim_is_at_risk() {
    // Curtis 1992, J Bone Joint Surg Br 74-B:372: torsional stability of 52 mm cups rises from 1 to 2 mm,
    // not much from there to 3; 4 mm broke some sockets.
    let found = [1.0, 2.0, 3.0, 4.0].map(|nominal| {
        let case = blocks::case(&format!("(diameter_mm: {})", 52.0 - nominal), 52.0);
        press_fit(&case, &endless(), &PressFitInputs::default()).unwrap()
    });
    let torque = |k: usize| found[k].torque_nm.mid;
    assert!(torque(1) > 1.3 * torque(0), "{} {}", torque(0), torque(1));
    assert!(torque(2) / torque(1) < torque(1) / torque(0));
    let risks = found.each_ref().map(|f| f.rim_at_risk);
    assert_eq!(risks, [false, false, false, true]);
}

#[test]
fn line_to_line_nothing_holds() {
    let case = blocks::case("(diameter_mm: 54)", 54.0);
    let found = press_fit(&case, &endless(), &PressFitInputs::default()).unwrap();
    assert!(!found.self_retaining && found.push_out_n.mid <= 0.0 && found.lever_out_nm.mid <= 0.0);
    assert!(found.real_interference_mm < 0.0);
}

#[test]
fn bands_enclose_the_estimate_and_widen_with_the_spread() {
    let case = blocks::case("(diameter_mm: 52)", 54.0);
    let of = |spread: Spread| {
        let inputs = PressFitInputs {
            spread,
            ..PressFitInputs::default()
        };
        press_fit(&case, &endless(), &inputs).unwrap()
    };
    let wide = of(Spread::default());
    let none = of(Spread {
        stiffness: [1.0; 2],
        friction: [1.0; 2],
        oversize_mm: [0.0; 2],
    });
    let bands = |f: &PressFitFinding| {
        [
            f.push_out_n,
            f.lever_out_nm,
            f.torque_nm,
            f.force_to_floor_n,
            f.hoop_strain,
        ]
    };
    for (wide, none) in bands(&wide).into_iter().zip(bands(&none)) {
        assert!(wide.low < wide.mid && wide.mid < wide.high, "{wide:?}");
        close(none.low, none.mid, 1e-6);
        close(none.high, none.mid, 1e-6);
        close(wide.mid, none.mid, 1e-9);
    }
}

/// The press-fit with rays so close, in a socket with a round piece of its rim missing.
fn with_defect(
    bone: &Bone,
    case: &Case,
    steps: Steps,
    defect: Option<(f64, f64)>,
) -> PressFitFinding {
    let cup = Placed::cup(case, bone).unwrap();
    let reamer = Placed::reamers(case, bone).unwrap()[0].swept();
    let mut swept = vec![reamer];
    if let Some((hour, radius)) = defect {
        let head = cup.head();
        let rim = head.centre() + cup.toward(Hour::from_hours(hour)) * head.radius();
        let missing = Hemisphere::new(rim, head.axis().into_inner(), radius).unwrap();
        swept.insert(0, Bullet::open(missing));
    }
    let fan = Fan::cast(&bone.solid, &cup, steps);
    press_fit_along(&fan, bone, &cup, &swept, &PressFitInputs::default()).unwrap()
}

#[test]
fn a_defect_of_the_rim_costs_most_at_the_roof() {
    // Zhang 2025, Front Med, doi 10.3389/fmed.2025.1729549: the weight-bearing zone is the worst place
    // for a segmental defect, wider and deeper ones cost more, and lever-out over push-out is about 41 mm
    // (100 Nm over 2429 N). Their socket, friction and moduli are not ours: trend and order only. The
    // cup lies in the plane of the native rim here, so that all of the rim bears. Lever-out is the mean
    // over all places of the rim: over the weakest place alone the roof is not the worst to lose.
    let bone = pelves::bone(Preset::AverageMale, Side::Right);
    let plan = Plan {
        facing: ("Anatomic", 57.7, 17.4),
        over_mm: 4.0,
        ..Plan::COMMON
    };
    let case = plan.case(&bone);
    let of = |defect| with_defect(&bone, &case, Steps::default(), defect);
    let at = |hour: f64, radius: f64| of(Some((hour, radius)));
    let whole = of(None);
    let [roof, front, below, back] = [12.0, 3.0, 6.0, 9.0].map(|hour| at(hour, 12.0));
    let mean = |f: &PressFitFinding| f.lever_out_by_half_hour_nm.iter().sum::<f64>() / 24.0;
    for other in [&front, &below, &back, &whole] {
        assert!(roof.push_out_n.mid < 0.9 * other.push_out_n.mid);
        assert!(mean(&roof) < mean(other) && roof.torque_nm.mid < other.torque_nm.mid);
    }
    for found in [&whole, &roof] {
        let arm = 1000.0 * mean(found) / found.push_out_n.mid;
        assert!((25.0..60.0).contains(&arm), "{arm} mm");
    }
    let larger = [8.0, 12.0, 16.0].map(|radius| at(12.0, radius).push_out_n.mid);
    assert!(larger[0] > larger[1] && larger[1] > larger[2], "{larger:?}");
}

#[test]
fn halving_every_step_moves_no_integral_by_a_thousandth() {
    for (preset, defect) in [
        (Preset::AverageMale, None),
        (Preset::AverageMale, Some((12.0, 12.0))),
        (Preset::Shallow2, None),
        (Preset::Deep, None),
    ] {
        let bone = pelves::bone(preset, Side::Right);
        let case = Plan::COMMON.case(&bone);
        let [once, twice] = [Steps::default(), Steps::default().halved()]
            .map(|steps| with_defect(&bone, &case, steps, defect));
        // What friction holds, of which push-out and lever-out are the rest that bone does not push out.
        let grip =
            1000.0 * twice.torque_nm.mid / (Placed::cup(&case, &bone).unwrap().head().radius());
        let integrals = |f: &PressFitFinding| {
            [
                ("area", f.contact_area_mm2.mid, f.contact_area_mm2.mid),
                (
                    "to the floor",
                    f.force_to_floor_n.mid,
                    f.force_to_floor_n.mid,
                ),
                (
                    "to the planned place",
                    f.force_to_planned_place_n.mid,
                    f.force_to_planned_place_n.mid,
                ),
                ("torque", f.torque_nm.mid, f.torque_nm.mid),
                ("push-out", f.push_out_n.mid, grip),
                ("lever-out", f.lever_out_nm.mid, twice.torque_nm.mid),
            ]
        };
        for ((name, one, _), (_, two, whole)) in integrals(&once).into_iter().zip(integrals(&twice))
        {
            let off = (one - two).abs() / whole;
            assert!(off < 1e-3, "{} {name}: {one}, {two}", preset.name());
        }
    }
}
