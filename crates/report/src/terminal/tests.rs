use super::*;
use crate::sample;
use cupwright_procedure::findings::Wall;
use cupwright_procedure::joint::length::signed;
use cupwright_procedure::stock::HoleFinding;

fn report(findings: &Findings, style: Style) -> String {
    let mut out = Vec::new();
    write_report(&mut out, findings, style).unwrap();
    String::from_utf8(out).unwrap()
}

/// The report on one line, so that wrapping hides nothing.
fn flat(findings: &Findings) -> String {
    one_line(&report(findings, Style::Plain))
}

#[track_caller]
fn check(findings: &Findings, expected: &str) {
    let flat = flat(findings);
    assert!(flat.contains(expected), "no {expected:?} in {flat}");
}

/// Columns of a line on a terminal, where the characters of East Asia take two.
fn columns(line: &str) -> usize {
    let wide =
        |c: &char| ('\u{1100}'..'\u{ffff}').contains(c) && !('\u{2000}'..'\u{2fff}').contains(c);
    line.chars().count() + line.chars().filter(wide).count()
}

fn without_colours(text: &str) -> String {
    let mut parts = text.split("\u{1b}[");
    let first = parts.next().unwrap_or_default().to_string();
    parts.fold(first, |text, part| text + part.split_once('m').unwrap().1)
}

#[test]
fn no_line_is_wider_than_eighty_columns() {
    for findings in [
        sample::right(),
        sample::widest(),
        sample::with_reamers(&[f64::MAX; 3]),
    ] {
        for line in report(&findings, Style::Plain).lines() {
            assert!(columns(line) <= 80, "{line}");
        }
    }
}

#[test]
fn a_row_of_large_but_likely_numbers_stays_a_row() {
    let mut findings = sample::with_reamers(&[64.0]);
    let step = &mut findings.reaming[0];
    (step.removed_mm3, step.removed_g) = (12_345.0, 11.1);
    (step.cumulative_removed_mm3, step.new_contact_mm2) = (45_678.0, 6_283.0);
    let wall = step.thinnest_wall.as_mut().unwrap();
    (wall.wall, wall.thickness_mm) = (Wall::Posterior, 12.3);
    let report = report(&findings, Style::Plain);
    let row = report.lines().find(|line| line.contains("12.35")).unwrap();
    let cells: Vec<_> = row.split_whitespace().collect();
    let expected = [
        "64.0",
        "12.35",
        "11.1",
        "45.68",
        "62.8",
        "40",
        "50",
        "12.3",
        "posterior",
        "10:30",
    ];
    assert_eq!(cells, expected);
}

#[test]
fn the_head_says_what_was_worked_on_and_what_came_of_it() {
    let findings = sample::right();
    check(
        &findings,
        "Right hip of average-male: socket 47.8 mm, bone 193.7 cm³",
    );
    check(
        &findings,
        "radiographic, on the anterior pelvic plane, 4.0° posterior tilt",
    );
    check(
        &findings,
        "cup 52.0 mm, coverage 74.1 %, rim contact 54.2 %, 5.23 cm³ of bone removed, \
         thinnest wall 3.2 mm (medial), holds by itself (estimate), ball",
    );
    check(&findings, "; 1 stop, 1 caution, 1 limit NOT met STEPS");
    check(&sample::left(), "Left hip of average-male");
}

#[test]
fn a_calm_case_says_so() {
    let mut findings = sample::right();
    findings.watch.clear();
    findings.limits.clear();
    check(&findings, "; no stop, no caution");
    check(&findings, "Nothing stands out.");
    assert!(!flat(&findings).contains("LIMITS"));
}

#[test]
fn a_tilt_forward_is_anterior() {
    let mut findings = sample::right();
    findings.frame.posterior_tilt_deg = -7.0;
    check(&findings, "7.0° anterior tilt");
}

#[test]
fn every_reamer_has_its_row() {
    let findings = sample::right();
    check(&findings, "46.0 0.01 <0.1 0.01 0.3 3 9 none 48.0");
    check(&findings, "51.0 1.53 1.4 5.23 27.4 67 59 3.2 medial 10:30");
}

#[test]
fn no_reamer_is_said() {
    let findings = sample::with_reamers(&[]);
    check(&findings, "No reamer was used.");
    check(&findings, "not known without a reamer");
}

#[test]
fn a_broken_wall_is_said_in_the_head_the_steps_and_the_bone_left() {
    let mut findings = sample::right();
    let last = findings.reaming.last_mut().unwrap();
    last.walls[0].thickness_mm = 0.0;
    last.thinnest_wall = last.walls.first().cloned();
    findings.stock.cavity.walls[0].thickness_mm = 0.0;
    findings.stock.cavity.holes = vec![HoleFinding {
        wall: Wall::Medial,
        area_mm2: 37.4,
        clock_h: 10.5,
        from_pole_deg: 18.0,
    }];
    check(&findings, "medial wall BROKEN THROUGH, holds");
    check(&findings, "67 59 through medial 10:30");
    check(&findings, "medial through 10:30 18° 0.9");
    check(
        &findings,
        "HOLES medial wall BROKEN THROUGH over 37 mm² about 10:30",
    );
}

#[test]
fn an_error_bound_is_told_where_there_is_one() {
    assert!(!flat(&sample::right()).contains("within 0"));
    let mut findings = sample::right();
    findings.reaming[2].error_bound_mm3 = 0.08;
    findings.cup.coverage_error_bound = 0.0004;
    check(
        &findings,
        "Each removed volume is within 0.08 mm³ of the true one.",
    );
    check(&findings, "74.1 % after reaming, within 0.04 points");
}

#[test]
fn the_cup_has_its_angles_and_its_fit() {
    let findings = sample::right();
    check(
        &findings,
        "radiographic 40.0° / 15.0°, operative 38.7° / 19.3°, anatomic 42.2° / 22.7°",
    );
    check(
        &findings,
        "75.3 % of the round side in bone; 74.1 % after reaming",
    );
    check(
        &findings,
        "54.2 % of the edge in bone: 3:15 to 4:15, 7:25 to 12:15",
    );
    check(&findings, "185.0° or 84.0 mm of the edge outside bone");
    check(&findings, "6.3 mm proud of bone at 1:30");
    check(
        &findings,
        "1.0 mm nominal: cup 52.0 mm, last reamer 51.0 mm",
    );
    check(
        &findings,
        "2.0 mm medial, 1.0 mm superior of the native one",
    );
    check(
        &findings,
        "o'clock 12 1 2 3 4 5 6 7 8 9 10 11 coverage % 94 71 62 77 61 43 38 66 85 93 97 98",
    );
}

#[test]
fn an_edge_in_bone_all_round_has_no_overhang() {
    let mut findings = sample::right();
    (findings.cup.rim_contact, findings.cup.rim_arcs_deg) = (1.0, vec![[0.0, 360.0]]);
    for place in &mut findings.cup.overhang {
        place.proud_mm = 0.0;
    }
    check(&findings, "none at any half hour");
    check(&findings, "100.0 % of the edge in bone Uncovered rim");
}

#[test]
fn of_many_arcs_the_longest_are_told() {
    let mut findings = sample::right();
    findings.cup.rim_arcs_deg = (0..6)
        .map(|i| f64::from(i) * 60.0)
        .map(|a| [a, a + 5.0 + a / 60.0])
        .collect();
    check(
        &findings,
        "in bone: 4:00 to 4:15, 6:00 to 6:15, 8:00 to 8:20, 10:00 to 10:20 and 2 shorter arcs",
    );
}

#[test]
fn what_to_watch_has_level_message_and_source() {
    let findings = sample::right();
    check(
        &findings,
        "STOP the medial wall is 3.2 mm thin [common practice, no published source] CAUTION the edge",
    );
    check(
        &findings,
        "note the cup moves the hip centre 2.0 mm medially [a matter",
    );
}

#[test]
fn limits_are_met_or_not() {
    let findings = sample::right();
    check(&findings, "LIMITS: 1 of 3 NOT met");
    check(&findings, "met min_coverage: asked 0.700, found 0.741");
    check(&findings, "NOT met min_wall_mm: asked 4.000, found 3.200");
    check(
        &findings,
        "max_lateral_shift_mm: asked 3.000, nothing to measure",
    );
}

#[test]
fn a_limit_narrowly_missed_shows_by_how_much() {
    let mut findings = sample::right();
    findings.limits.truncate(1);
    findings.limits[0].met = false;
    findings.limits[0].found = Some(0.699_998);
    check(&findings, "asked 0.700000, found 0.699998");
}

#[test]
fn notes_and_the_foot_are_there() {
    let findings = sample::right();
    let report = report(&findings, Style::Plain);
    assert!(report.contains("  Teaching case.\n\n  Compare with a cup one size down.\n"));
    check(&findings, CAUTION);
    check(&findings, CLOCK);
    check(
        &findings,
        "densities are assumed, not measured: weights are volumes at 0.90 g/cm³",
    );
}

#[test]
fn colours_add_nothing_and_plain_has_none() {
    let findings = sample::right();
    let (plain, coloured) = (
        report(&findings, Style::Plain),
        report(&findings, Style::Coloured),
    );
    assert_ne!(plain, coloured);
    assert_eq!(plain, without_colours(&coloured));
    assert!(coloured.contains("\u{1b}[1;31mSTOP\u{1b}[0m"));
    // The notes of this one try to colour the terminal.
    assert!(!report(&sample::widest(), Style::Plain).contains('\u{1b}'));
}

#[test]
fn what_is_not_finite_is_never_a_number() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let mut findings = sample::right();
        findings.bone.native_diameter_mm = bad;
        let step = &mut findings.reaming[3];
        (step.removed_mm3, step.new_contact, step.error_bound_mm3) = (bad, bad, bad);
        let cup = &mut findings.cup;
        (
            cup.coverage,
            cup.interference_mm,
            cup.centre_shift.medial_mm,
        ) = (bad, bad, bad);
        (cup.overhang[3].clock_h, cup.overhang[4].proud_mm) = (bad, bad);
        cup.rim_arcs_deg[0] = [bad, bad];
        findings.limits[0].found = Some(bad);
        let flat = flat(&findings);
        assert!(!flat.contains("NaN") && !flat.contains("inf "), "{flat}");
        check(&findings, "socket - mm");
    }
}

#[test]
fn the_blocks_follow_the_questions() {
    let flat = flat(&sample::right());
    let order = [
        "STEPS",
        "BONE LEFT BEHIND THE CAVITY",
        "CUP 52.0 mm",
        "WILL IT HOLD",
        "SCREWS",
        "LINER AND BALL",
        "LEG LENGTH AND OFFSET",
        "MOTION with ball",
        "CUP AND STEM VERSION",
        "WHAT TO WATCH",
    ];
    let places: Vec<_> = order.map(|heading| flat.find(heading).unwrap()).into();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn an_estimate_stands_with_its_range_and_is_called_one() {
    let findings = sample::right();
    check(&findings, "WILL IT HOLD: first-order estimates");
    check(&findings, "Push-out 840 N (210 to 2900)");
    check(
        &findings,
        "Lever-out 11.2 Nm (3.0 to 40.0), tipping over 10:30",
    );
    check(&findings, "gap at the pole 1.2 mm (0.7 to 1.9)");
    check(&findings, "Rim stretch 2.1 % (1.2 to 3.3) at 8:00");
    check(&findings, "Stays by itself yes: needs a friction of 0.21");
    let mut loose = findings.clone();
    loose.press_fit.self_retaining = false;
    check(&loose, "does NOT hold by itself (estimate)");
    check(&loose, "Stays by itself NO:");
}

#[test]
fn the_bone_left_is_told_beside_what_a_larger_cup_needs() {
    let findings = sample::right();
    check(&findings, "medial 3.2 10:30 18° 0.9");
    check(&findings, "posterior 9.4 10:30 18°");
    check(&findings, "Holes none");
    check(&findings, "Fallback NOT possible: a cup 6.0 mm larger");
    check(&findings, "medial wall too thin");
}

#[test]
fn the_balls_are_told_to_be_read_aloud_and_the_chosen_one_is_marked() {
    let findings = sample::right();
    let joint = findings.joint.as_ref().unwrap();
    let chosen = &joint.length.balls[joint.length.chosen];
    check(&findings, &format!("> {} ", signed(chosen.ball_mm)));
    check(
        &findings,
        &format!("Nearest: {}", joint.length.balls[joint.length.best].said),
    );
    check(&findings, "> 32.0");
}

#[test]
fn a_joint_that_cannot_be_says_why() {
    let mut findings = sample::right();
    findings.joint = None;
    findings.no_joint = Some("a head of 40 mm does not go into a bore of 36 mm".into());
    check(
        &findings,
        "NO JOINT a head of 40 mm does not go into a bore of 36 mm",
    );
}
