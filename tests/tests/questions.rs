//! The questions that a surgeon brings, each a case in demo-models/questions: the answer goes the way that
//! it should when the plan is changed as the case's header says.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::path::{Path, PathBuf};

use cupwright_anatomy::synthetic::Preset;
use cupwright_procedure::case::BoneEntry;
use cupwright_procedure::findings::{CupFinding, StepFinding, Wall};
use cupwright_procedure::joint::{JointFinding, Movement};
use cupwright_procedure::quantity::Quantity;
use cupwright_procedure::{CaseFile, Findings, Instruments, simulate, with_bone_on_bone};
use cupwright_tests::pelves;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-models/questions")
}

fn asked(name: &str) -> CaseFile {
    CaseFile::read(&folder().join(format!("{name}.case.ron"))).unwrap()
}

/// The case with a change.
fn but(case: &CaseFile, change: impl FnOnce(&mut CaseFile)) -> CaseFile {
    let mut changed = case.clone();
    change(&mut changed);
    changed
}

/// What a case finds on the coarse bone of its preset.
fn found(case: &CaseFile) -> Findings {
    let case = case.check().unwrap();
    let BoneEntry::Preset { name, .. } = &case.bone else {
        panic!("the questions are asked of presets");
    };
    let bone = pelves::bone(Preset::named(name).unwrap(), case.side);
    let findings = simulate(&case, &bone, &Instruments::generic().unwrap()).unwrap();
    with_bone_on_bone(findings, &case, &bone)
}

fn wall(step: &StepFinding, wanted: Wall) -> f64 {
    let found = step.walls.iter().find(|wall| wall.wall == wanted);
    found.map_or(f64::INFINITY, |wall| wall.thickness_mm)
}

fn last(findings: &Findings) -> &StepFinding {
    findings.reaming.last().unwrap()
}

/// The farthest that the edge stands proud between two hours.
fn proud(cup: &CupFinding, hours: std::ops::RangeInclusive<f64>) -> f64 {
    let places = cup
        .overhang
        .iter()
        .filter(|place| hours.contains(&place.clock_h));
    places.map(|place| place.proud_mm).fold(0.0, f64::max)
}

fn joint(findings: &Findings) -> &JointFinding {
    findings.joint.as_ref().unwrap()
}

/// How far a movement goes until the neck meets the liner.
fn until_liner(findings: &Findings, movement: Movement) -> f64 {
    let movements = &joint(findings).motion.movements;
    let found = movements.iter().find(|m| m.movement == movement).unwrap();
    found.range_deg.unwrap_or(180.0)
}

/// And until bone meets bone.
fn until_bone(findings: &Findings, movement: Movement) -> f64 {
    let bony = findings.bone_on_bone.as_ref().unwrap();
    let found = bony
        .movements
        .iter()
        .find(|m| m.movement == movement)
        .unwrap();
    found.range_deg.unwrap_or(180.0)
}

#[test]
fn there_is_a_case_for_each_of_the_fifteen() {
    let names = std::fs::read_dir(folder()).unwrap();
    let mut names: Vec<_> = names
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".case.ron"))
        .collect();
    names.sort();
    assert_eq!(names.len(), 15);
    for (number, name) in (1..).zip(&names) {
        assert!(name.starts_with(&format!("{number:02}-")), "{name}");
        let text = std::fs::read_to_string(folder().join(name)).unwrap();
        assert!(
            text.contains("Asked: ") && text.contains("Look at: ") && text.contains("invented")
        );
    }
}

#[test]
fn q01_each_further_mm_takes_more_bone_and_some_wall() {
    let findings = found(&asked("01-each-further-mm"));
    for pair in findings.reaming.windows(2) {
        assert!(pair[1].removed_mm3 > pair[0].removed_mm3);
        for which in [Wall::Anterior, Wall::Posterior, Wall::Medial] {
            let (before, after) = (wall(&pair[0], which), wall(&pair[1], which));
            assert!(after < before + 1e-9, "{which}: {before} to {after}");
        }
    }
    let (first, end) = (&findings.reaming[3], last(&findings));
    assert!(wall(end, Wall::Medial) < wall(first, Wall::Medial) - 1.0);
}

#[test]
fn q02_deeper_leaves_less_medial_wall_until_the_limit_breaks() {
    let case = asked("02-how-deep");
    let planned = found(&case);
    assert!(planned.limits.iter().all(|limit| limit.met));
    let deeper = found(&but(&case, |c| c.cup.centre.medial_mm += 2.0));
    assert!(wall(last(&deeper), Wall::Medial) < 2.0);
    assert!(deeper.limits.iter().any(|limit| !limit.met));
}

#[test]
fn q03_a_centre_that_drifts_shortens_the_leg_and_takes_offset_until_the_ball_gives_it_back() {
    let found = found(&asked("03-drifted-centre"));
    let length = &joint(&found).length;
    assert!((length.cup.leg_length_mm + 5.0).abs() < 1e-9);
    assert!((length.cup.total_offset_mm + 6.0).abs() < 1e-9);
    let best = &length.balls[length.best];
    assert!(best.leg_length_mm > length.cup.leg_length_mm + 2.0);
    assert!(best.total_offset_mm > length.cup.total_offset_mm + 2.0);
}

#[test]
fn q04_a_shallow_socket_leaves_the_upper_front_edge_bare() {
    let found = found(&asked("04-where-uncovered"));
    let cup = &found.cup;
    let upper_front = proud(cup, 0.0..=4.0);
    assert!(upper_front > 10.0, "{upper_front}");
    assert!(cup.uncovered_rim_mm > 0.5 * std::f64::consts::PI * cup.diameter_mm);
    // The bare stretch of the rim is told by its arcs as well: nothing of 1 to 3 o'clock is in bone.
    let bare = |deg: f64| {
        cup.rim_arcs_deg
            .iter()
            .all(|[from, to]| !(from..=to).contains(&&deg))
    };
    assert!((30..=90).all(|deg| bare(f64::from(deg))));
}

#[test]
fn q05_a_film_shows_another_number_and_no_constant_turns_one_into_the_other() {
    let case = asked("05-film-and-space");
    let apart = |case: &CaseFile| {
        let cup = found(case).cup;
        cup.film.width_covered - cup.coverage
    };
    let shallow = apart(&case);
    let average = apart(&but(&case, |c| {
        let BoneEntry::Preset { name, .. } = &mut c.bone else {
            panic!()
        };
        *name = "average-male".into();
        c.cup.diameter_mm = 54.0;
        c.reamers[2].diameter_mm = 53.0;
    }));
    assert!(shallow.abs() > 0.02, "{shallow}");
    assert!((shallow - average).abs() > 0.03, "{shallow}, {average}");
}

#[test]
fn q06_a_cup_flatter_than_its_socket_stands_proud_above() {
    let case = asked("06-native-inclination");
    let above = |case: &CaseFile| {
        let cup = found(case).cup;
        proud(&cup, 10.0..=11.5).max(proud(&cup, 0.0..=1.0))
    };
    let held = above(&case);
    let native = above(&but(&case, |c| c.cup.inclination_deg = 53.0));
    assert!(held > native + 2.0, "{held}, {native}");
}

#[test]
fn q07_version_takes_the_front_edge_in() {
    let case = asked("07-anterior-overhang");
    let front = [15.0, 20.0, 25.0].map(|anteversion| {
        let turned = but(&case, |c| c.cup.anteversion_deg = anteversion);
        proud(&found(&turned).cup, 1.0..=4.0)
    });
    assert!(front[0] > front[1] && front[1] > front[2], "{front:?}");
}

#[test]
fn q08_high_is_covered_by_the_roof_and_flexes_less_medial_costs_floor() {
    let case = asked("08-high-or-medial");
    let high = found(&case);
    let native = found(&but(&case, |c| c.cup.centre.superior_mm = 0.0));
    let medial = found(&but(&case, |c| {
        (c.cup.centre.superior_mm, c.cup.centre.medial_mm) = (0.0, 5.0);
    }));
    assert!(high.cup.coverage > native.cup.coverage + 0.02);
    assert!(medial.cup.coverage > native.cup.coverage + 0.02);
    let flexion = |findings| until_bone(findings, Movement::Flexion);
    assert!(flexion(&high) < flexion(&medial) - 1.0);
    assert!(wall(last(&medial), Wall::Medial) < wall(last(&native), Wall::Medial));
}

#[test]
fn q09_a_deep_socket_holds_at_its_rim_and_the_floor_is_not_to_be_reamed() {
    let case = asked("09-rim-of-a-deep-socket");
    let planned = found(&case);
    // More of the rim than a socket of average depth gives the same cup.
    let average = found(&but(&case, |c| {
        let BoneEntry::Preset { name, .. } = &mut c.bone else {
            panic!()
        };
        *name = "average-male".into();
    }));
    let rims = [planned.cup.rim_contact, average.cup.rim_contact];
    assert!(rims[0] > rims[1] + 0.1, "{rims:?}");
    assert!(planned.press_fit.self_retaining);
    let deeper = found(&but(&case, |c| c.cup.centre.medial_mm += 4.0));
    assert!(wall(last(&deeper), Wall::Medial) < wall(last(&planned), Wall::Medial) - 2.0);
    assert!(deeper.press_fit.push_out_n.mid < 1.5 * planned.press_fit.push_out_n.mid);
}

#[test]
fn q10_restoring_version_costs_cover_behind_and_gives_rotation_in_flexion() {
    let case = asked("10-follow-or-restore");
    let follow = found(&case);
    let restore = found(&but(&case, |c| c.cup.anteversion_deg = 20.0));
    let behind = |findings: &Findings| proud(&findings.cup, 8.0..=10.0);
    assert!(behind(&restore) > behind(&follow) + 1.0);
    let rotation = |findings| until_liner(findings, Movement::InternalRotationAt90Flexion);
    assert!(rotation(&restore) > rotation(&follow) + 5.0);
}

#[test]
fn q11_more_under_reaming_holds_more_seats_less_and_stretches_the_rim() {
    let case = asked("11-under-ream-in-soft-bone");
    let one = found(&case).press_fit;
    let two = found(&but(&case, |c| c.reamers[2].diameter_mm = 48.0)).press_fit;
    assert!(two.push_out_n.mid > one.push_out_n.mid);
    assert!(two.hoop_strain.mid > one.hoop_strain.mid);
    assert!(two.stands_proud_mm.mid >= one.stands_proud_mm.mid);
    assert!(two.force_to_floor_n.mid > one.force_to_floor_n.mid);
    // Bone that gives way holds less than bone that does not.
    let average = found(&but(&case, |c| c.press_fit = Default::default())).press_fit;
    assert!(one.push_out_n.mid < average.push_out_n.mid);
}

#[test]
fn q12_the_error_of_reamers_is_in_the_ranges() {
    let case = asked("12-reamer-and-hand");
    let range = |case: &CaseFile| {
        let force = found(case).press_fit.push_out_n;
        assert!(force.low <= force.mid && force.mid <= force.high);
        force.high - force.low
    };
    let published = range(&case);
    let exact = range(&but(&case, |c| c.press_fit.spread.oversize_mm = [0.0, 0.0]));
    assert!(published > 1.05 * exact, "{published}, {exact}");
}

#[test]
fn q13_the_ball_marked_is_the_nearest_and_a_higher_centre_asks_for_a_longer_one() {
    let case = asked("13-which-ball");
    let findings = found(&case);
    let length = &joint(&findings).length;
    let best = &length.balls[length.best];
    assert!(length.balls.iter().all(|ball| best.miss_mm <= ball.miss_mm));
    assert!(best.miss_mm < 4.0, "{}", best.said);
    let higher = found(&but(&case, |c| c.cup.centre.superior_mm += 5.0));
    let length = &joint(&higher).length;
    assert!(length.balls[length.best].ball_mm > best.ball_mm);
}

#[test]
fn q14_a_bigger_head_swings_farther_and_jumps_later_in_a_thinner_liner() {
    let case = asked("14-bigger-head");
    let small = found(&case);
    let big = found(&but(&case, |c| c.head.diameter_mm = 36.0));
    let flexion = |findings| until_liner(findings, Movement::Flexion);
    assert!(flexion(&big) > flexion(&small) + 3.0);
    let of = |quantity: Quantity, findings| quantity.of(findings).unwrap();
    for (quantity, sign) in [
        (Quantity::JumpDistanceMm, 1.0),
        (Quantity::LinerWallMm, -1.0),
    ] {
        assert!(
            sign * (of(quantity, &big) - of(quantity, &small)) > 1.0,
            "{quantity:?}"
        );
    }
}

#[test]
fn q15_a_missing_posterior_wall_lets_the_cup_tip() {
    let case = asked("15-rim-defect");
    let defect = found(&case);
    let whole = found(&but(&case, |c| {
        let BoneEntry::Preset { name, .. } = &mut c.bone else {
            panic!()
        };
        *name = "average-male".into();
    }));
    let lever = |findings: &Findings| findings.press_fit.lever_out_nm.mid;
    assert!(
        lever(&defect) < 0.9 * lever(&whole),
        "{}, {}",
        lever(&defect),
        lever(&whole)
    );
    assert!(defect.cup.coverage < whole.cup.coverage - 0.02);
}
