//! Studies on a flat block, where everything has a closed form.
//!
//! The block's face is square to the tools' axis and goes through the native centre. With R the cup's
//! radius and r the reamer's: a cup s proud is covered by 1 − s/R and one turned by δ about its centre by
//! 1 − δ/180°; a reamer with its centre s outside takes a cap of height h = r − s, π h² (3r − h)/3, and
//! a half ball with its column once it is s deep, 2π r³/3 + π r² s.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::f64::consts::PI;

use approx::assert_abs_diff_eq;
use cupwright_anatomy::{Angles, Definition, Orientation, Side};
use cupwright_procedure::{Bone, Instruments};
use cupwright_study::increments::Plan;
use cupwright_study::scatter::Error;
use cupwright_study::{
    Axis, Draws, Effort, Evaluator, Hand, Limit, Measure, Search, Spread, Variable, increments,
    map, place, scatter, sensitivity,
};
use cupwright_tests::blocks;

const CUP: f64 = 54.0;
const REAMER: f64 = 53.0;

fn block(deep: f64) -> Bone {
    blocks::block(400.0, deep, 0.0)
}

fn evaluator(bone: &Bone) -> Evaluator {
    let case = blocks::case_file("(diameter_mm: 47), (diameter_mm: 53)", CUP);
    Evaluator::new(&case, bone).unwrap()
}

/// Volume that a reamer takes with its centre `proud` mm outside the face.
fn taken(radius: f64, proud: f64) -> f64 {
    if proud >= 0.0 {
        let height = radius - proud;
        PI * height * height * (3.0 * radius - height) / 3.0
    } else {
        2.0 / 3.0 * PI * radius.powi(3) - PI * radius * radius * proud
    }
}

#[test]
fn a_map_of_angles_is_the_lune_between_cup_and_face() {
    let bone = block(200.0);
    let x = Axis::new(Variable::Inclination, 25.0, 55.0, 7).unwrap();
    let y = Axis::new(Variable::Anteversion, 0.0, 30.0, 4).unwrap();
    let least = [Limit::AtLeast(Measure::Coverage, 0.95)];
    let found = map(&evaluator(&bone), [x, y], &[Measure::Coverage], &least).unwrap();
    let facing = |inclination, anteversion| {
        let pair = Angles::from_degrees(inclination, anteversion);
        Orientation::new(Definition::Radiographic, pair)
            .unwrap()
            .axis(Side::Right)
    };
    let mut kept = 0;
    for (row, anteversion) in y.values().enumerate() {
        for (column, inclination) in x.values().enumerate() {
            let turned = facing(inclination, anteversion).angle(&facing(40.0, 15.0));
            let expected = 1.0 - turned / PI;
            let at = row * x.count() + column;
            assert_abs_diff_eq!(
                found.layers[0].values[at].unwrap(),
                expected,
                epsilon = 1e-9
            );
            assert_eq!(found.kept[at], expected >= 0.95);
            kept += usize::from(expected >= 0.95);
        }
    }
    assert!(kept > 0 && kept < 28);
    assert_abs_diff_eq!(found.kept_share(), kept as f64 / 28.0, epsilon = 1e-12);
}

#[test]
fn depth_trades_bone_for_coverage_as_the_formulas_say() {
    let bone = block(200.0);
    let x = Axis::new(Variable::Depth, -10.0, 5.0, 16).unwrap();
    let y = Axis::new(Variable::CupDiameter, 50.0, 58.0, 5).unwrap();
    let asked = [Measure::Coverage, Measure::Removed];
    let found = map(&evaluator(&bone), [x, y], &asked, &[]).unwrap();
    for (row, cup) in y.values().enumerate() {
        for (column, depth) in x.values().enumerate() {
            let at = row * x.count() + column;
            let covered = (1.0 + depth / (cup / 2.0)).min(1.0);
            assert_abs_diff_eq!(found.layers[0].values[at].unwrap(), covered, epsilon = 1e-9);
            // The last reamer stays 1 mm below the cup.
            let expected = taken((cup - 1.0) / 2.0, -depth);
            assert_abs_diff_eq!(
                found.layers[1].values[at].unwrap(),
                expected,
                epsilon = 1e-6
            );
        }
    }
}

/// A search over five variables for coverage against bone, in the block.
fn search(limits: Vec<Limit>) -> Search {
    Search {
        ranges: vec![
            (Variable::Depth, [-20.0, 10.0]),
            (Variable::Inclination, [25.0, 55.0]),
            (Variable::Anteversion, [0.0, 30.0]),
            (Variable::Anterior, [-4.0, 4.0]),
            (Variable::CupDiameter, [50.0, 58.0]),
        ],
        goals: vec![Measure::Removed, Measure::CoverageAfterReaming],
        limits,
        effort: Effort::default(),
    }
}

#[test]
fn the_front_found_is_the_front_that_was_planted() {
    // Least bone for a coverage c: the smallest cup, s = R (1 − c) proud. Moving it along the face or
    // turning it within its cap changes nothing, so that only depth, size and value are known.
    let bone = block(200.0);
    let instruments = Instruments::generic().unwrap();
    let limits = vec![Limit::AtLeast(Measure::CoverageAfterReaming, 0.6)];
    let front = place(&evaluator(&bone), &instruments, &search(limits)).unwrap();
    assert!(front.members.len() >= 6, "{}", front.members.len());
    let mut coverages = vec![];
    for member in &front.members {
        let (removed, coverage) = (member.goals[0], member.goals[1]);
        let best = taken(24.5, 25.0 * (1.0 - coverage));
        assert!(
            removed >= best - 1e-6,
            "better than can be: {removed} < {best}"
        );
        assert!(
            removed <= best * 1.03 + 60.0,
            "{removed} for {coverage}: {best} is enough"
        );
        assert!(coverage >= 0.6);
        coverages.push(coverage);
    }
    // From where the limit binds to full coverage.
    assert!(coverages[0] < 0.605, "{coverages:?}");
    assert!(front.members[0].limits[0].binds);
    assert!(coverages[coverages.len() - 1] > 0.985, "{coverages:?}");
    assert!(!front.members[front.members.len() - 1].limits[0].binds);
}

/// A search over depth and place in a plate, for 4 mm of wall and a coverage of `least` at once.
fn in_plate(goal: Measure, least: f64) -> Search {
    Search {
        ranges: vec![
            (Variable::Depth, [-20.0, 5.0]),
            (Variable::Anterior, [-3.0, 3.0]),
        ],
        goals: vec![goal],
        limits: vec![
            Limit::AtLeast(Measure::ThinnestWall, 4.0),
            Limit::AtLeast(Measure::CoverageAfterReaming, least),
        ],
        effort: Effort::default(),
    }
}

#[test]
fn a_wall_that_binds_is_named_and_kept_in_a_full_run() {
    // A plate 20 mm thick: the wall behind the pole is T + s − r, so 4 mm of wall ask for s = 10 with
    // r = 26, and no more than 1 − 10/R can be covered.
    let bone = block(20.0);
    let instruments = Instruments::generic().unwrap();
    let front = place(
        &evaluator(&bone),
        &instruments,
        &in_plate(Measure::CoverageAfterReaming, 0.2),
    )
    .unwrap();
    let best = &front.members[0];
    // Anterior moves along the axis too: what counts is how far the centre stands outside the face.
    let proud = REAMER / 2.0 + 4.0 - 20.0;
    let expected = 1.0 - proud / (CUP / 2.0);
    assert!(
        best.goals[0] <= expected + 1e-9,
        "{} of {expected}",
        best.goals[0]
    );
    assert!(
        best.goals[0] > expected - 0.004,
        "{} of {expected}",
        best.goals[0]
    );
    assert!(best.limits[0].kept && best.limits[0].binds && !best.limits[1].binds);
    assert!(best.limits[0].found.unwrap() >= 4.0);
}

#[test]
fn limits_that_cannot_be_kept_leave_no_member_but_the_nearest() {
    // The same plate: 4 mm of wall and 80 % at once cannot be had.
    let bone = block(20.0);
    let instruments = Instruments::generic().unwrap();
    let front = place(
        &evaluator(&bone),
        &instruments,
        &in_plate(Measure::Removed, 0.8),
    )
    .unwrap();
    assert!(front.members.is_empty());
    let nearest = front.nearest.unwrap();
    assert!(nearest.limits.iter().any(|limit| !limit.kept));
}

#[test]
fn a_search_gives_the_same_bits_on_any_number_of_threads() {
    let bone = block(200.0);
    let instruments = Instruments::generic().unwrap();
    let limits = vec![Limit::AtLeast(Measure::CoverageAfterReaming, 0.6)];
    let bits = |threads: usize| -> Vec<u64> {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        let search = search(limits.clone());
        let front = pool
            .install(|| place(&evaluator(&bone), &instruments, &search))
            .unwrap();
        front
            .members
            .iter()
            .flat_map(|m| m.goals.clone())
            .map(f64::to_bits)
            .collect()
    };
    assert_eq!(bits(1), bits(3));
}

fn normal(variable: Variable, deviation: f64) -> Error {
    let spread = Spread::Normal {
        mean: 0.0,
        deviation,
    };
    Error::new(variable, spread, "made up")
}

#[test]
fn depth_errors_scatter_coverage_by_the_formula() {
    // 8 mm proud on average, 2 mm either way: coverage 1 − 8/27 ± 2/27, below 0.65 as often as a normal
    // number is below (0.65 − 0.7037)/0.0741 = −0.725, which is 23.42 %.
    let bone = block(200.0);
    let case = blocks::case_file("(diameter_mm: 53)", CUP);
    let out = blocks::axis() * 8.0;
    let centre = bone.shift(&out);
    let mut proud = case.clone();
    proud.cup.centre.medial_mm = centre.medial_mm;
    proud.cup.centre.superior_mm = centre.superior_mm;
    proud.cup.centre.anterior_mm = centre.anterior_mm;
    let draws = Draws {
        errors: vec![normal(Variable::Depth, 2.0), normal(Variable::Tilt, 5.0)],
        count: 20_000,
        seed: 1,
    };
    let limits = [Limit::AtLeast(Measure::Coverage, 0.65)];
    let evaluator = Evaluator::new(&proud, &bone).unwrap();
    let found = scatter(&evaluator, &draws, &[Measure::Coverage], &limits).unwrap();
    let lie = &found.measures[0];
    assert_abs_diff_eq!(lie.planned.unwrap(), 1.0 - 8.0 / 27.0, epsilon = 1e-9);
    assert_abs_diff_eq!(lie.mean, 1.0 - 8.0 / 27.0, epsilon = 0.002);
    assert_abs_diff_eq!(lie.deviation, 2.0 / 27.0, epsilon = 0.002);
    // 5 % of normal numbers lie more than 1.645 deviations below the mean.
    let fifth = 1.0 - 8.0 / 27.0 - 1.645 * 2.0 / 27.0;
    assert_abs_diff_eq!(lie.percentiles[1], fifth, epsilon = 0.003);
    let [low, high] = found.misses[0].between;
    assert!(low < 0.2342 && 0.2342 < high, "{:?}", found.misses[0]);
    // All of it is owed to depth, nothing to tilt.
    let influence = &found.influences[0];
    assert_abs_diff_eq!(influence.explained, 1.0, epsilon = 1e-3);
    assert_abs_diff_eq!(influence.parts[0].regression, 1.0, epsilon = 1e-3);
    assert_abs_diff_eq!(influence.parts[0].rank, 1.0, epsilon = 1e-3);
    assert_abs_diff_eq!(influence.parts[1].regression, 0.0, epsilon = 0.02);
    assert_abs_diff_eq!(influence.parts[1].rank, 0.0, epsilon = 0.03);
}

#[test]
fn one_variable_at_a_time_answers_by_the_formula() {
    let bone = block(200.0);
    let steps = [(Variable::Depth, 3.0), (Variable::CupDiameter, 2.0)];
    let asked = [Measure::Coverage, Measure::Removed];
    let found = sensitivity(&evaluator(&bone), &steps, &asked).unwrap();
    let depth = found[0].answers[0];
    assert_abs_diff_eq!(depth.below.unwrap(), 1.0 - 3.0 / 27.0, epsilon = 1e-9);
    assert_abs_diff_eq!(depth.above.unwrap(), 1.0, epsilon = 1e-9);
    assert_abs_diff_eq!(depth.swing(found[0].planned), 3.0 / 27.0, epsilon = 1e-9);
    let size = found[1].answers[1];
    assert_abs_diff_eq!(size.below.unwrap(), taken(25.5, 0.0), epsilon = 1e-6);
    assert_abs_diff_eq!(size.above.unwrap(), taken(27.5, 0.0), epsilon = 1e-6);
}

#[test]
fn reaming_up_takes_shells_and_small_steps_take_thin_ones() {
    let bone = block(200.0);
    let instruments = Instruments::generic().unwrap();
    let plan = Plan {
        starts_mm: vec![47.0],
        steps_mm: vec![1.0, 2.0],
        hands: vec![
            Hand {
                offset_mm: 0.0,
                turn_deg: 0.0,
            },
            Hand {
                offset_mm: 2.0,
                turn_deg: 0.0,
            },
        ],
        tries: 3,
        seed: 5,
    };
    let case = blocks::case_file("(diameter_mm: 53)", CUP);
    let series = increments(&case, &bone, &instruments, &plan).unwrap();
    let counts: Vec<_> = series.iter().map(|s| s.reamers.len()).collect();
    assert_eq!(counts, [7, 4]);
    let whole = PI / 12.0 * REAMER.powi(3);
    for series in &series {
        for pair in series.reamers.windows(2) {
            let [before, now] = [pair[0].diameter_mm, pair[1].diameter_mm];
            let shell = PI / 12.0 * (now.powi(3) - before.powi(3));
            assert_abs_diff_eq!(pair[1].removed_mm3, shell, epsilon = 1e-6);
            assert_abs_diff_eq!(pair[1].contact_mm2, PI / 2.0 * now * now, epsilon = 1e-6);
        }
        assert_abs_diff_eq!(series.steady.removed_mm3, whole, epsilon = 1e-6);
        assert_abs_diff_eq!(series.steady.coverage_after_reaming, 1.0, epsilon = 1e-9);
        // A hand that is off by nothing is the steady one; off by 2 mm it takes more and covers less.
        let [none, off] = [&series.hands[0], &series.hands[1]];
        assert_abs_diff_eq!(none.more_removed_mm3, 0.0, epsilon = 1e-6);
        assert!(off.more_removed_mm3 > 200.0, "{off:?}");
        assert!(off.less_covered > 0.05 && off.worst.removed_mm3 >= off.mean.removed_mm3);
    }
    let thickest = |k: usize| {
        let layers = series[k].reamers.iter().skip(1).filter_map(|r| r.layer_mm);
        layers.fold(0.0, f64::max)
    };
    assert!(
        thickest(0) < 0.55 && thickest(1) > 0.95,
        "{} {}",
        thickest(0),
        thickest(1)
    );
}
