//! Studies against what is printed: how often freehand cups miss, coverage of shallow sockets, a high hip
//! centre, two ways to ream, tilt of standing patients.
//!
//! What the published trend is and what the model shows are both said; where they part, the test says so.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use approx::assert_abs_diff_eq;
use cupwright_anatomy::synthetic::{Pelvis, Preset, Resolution, pelvis};
use cupwright_anatomy::{Angles, Definition, Orientation, PublishedZone, Side, Zone};
use cupwright_procedure::{Bone, CaseFile, Instruments};
use cupwright_study::published::{Posture, by_hand, tilt};
use cupwright_study::scatter::Error;
use cupwright_study::{
    Draws, Effort, Evaluator, Limit, Measure, Scatter, Search, Setting, Spread, Variable, place,
    scatter,
};
use cupwright_tests::{blocks, pelves};

const DRAWS: usize = 40_000;

/// The points by which a model of independent normal errors may miss a counted share.
const POINTS: f64 = 0.06;

fn normal(variable: Variable, mean: f64, deviation: f64) -> Error {
    Error::new(variable, Spread::Normal { mean, deviation }, "the series")
}

/// Cups aimed at these angles in a block, which is far from all that counts here.
fn aimed(inclination: f64, anteversion: f64) -> Evaluator {
    let mut case = blocks::case_file("(diameter_mm: 53)", 54.0);
    case.cup.inclination_deg = inclination;
    case.cup.anteversion_deg = anteversion;
    Evaluator::new(&case, &blocks::block(200.0, 100.0, 0.0)).unwrap()
}

fn drawn(evaluator: &Evaluator, errors: Vec<Error>, limits: &[Limit]) -> Scatter {
    let draws = Draws {
        errors,
        count: DRAWS,
        seed: 11,
    };
    let asked = [
        Measure::FunctionalInclination,
        Measure::FunctionalAnteversion,
    ];
    scatter(evaluator, &draws, &asked, limits).unwrap()
}

#[test]
fn freehand_cups_miss_lewinneks_zone_as_often_as_counted() {
    // Saxler 2004, Int Orthop 28:198: 105 freehand cups on CT, 45.8 ± 10.1 and 27.3 ± 15.0, 27 of them inside.
    // The normal model gives 22.3 % (normal distribution function, evaluated outside this program).
    let zone = PublishedZone::Lewinnek1978;
    let limits = [Limit::Inside(zone.zone(), zone.to_string())];
    let errors = vec![
        normal(Variable::Inclination, 0.0, 10.1),
        normal(Variable::Anteversion, 0.0, 15.0),
    ];
    let found = drawn(&aimed(45.8, 27.3), errors, &limits);
    let inside = 1.0 - found.misses[0].share;
    assert_abs_diff_eq!(inside, 0.223, epsilon = 0.007);
    assert_abs_diff_eq!(inside, 27.0 / 105.0, epsilon = POINTS);
}

#[test]
fn aimed_cups_miss_ten_degrees_as_often_as_counted() {
    // J Orthop Traumatol 2024, doi 10.1186/s10195-024-00766-2: 170 cups, target 44.8/19.4, reached 43.1 ± 7.6
    // and 27.2 ± 5.6; within 10° in inclination 84.1 %, anteversion 63.4 %, both 53.1 %. The deviation of the
    // error is not printed; that of the angle stands for it.
    let target = Angles::from_degrees(44.8, 19.4);
    let target = Orientation::new(Definition::Radiographic, target).unwrap();
    let within = |inclination, anteversion| {
        let reach = Angles::from_degrees(inclination, anteversion);
        Limit::Inside(Zone::around(&target, reach).unwrap(), "the target".into())
    };
    let limits = [within(10.0, 180.0), within(180.0, 10.0), within(10.0, 10.0)];
    let errors = vec![
        normal(Variable::Inclination, 43.1 - 44.8, 7.6),
        normal(Variable::Anteversion, 27.2 - 19.4, 5.6),
    ];
    let found = drawn(&aimed(44.8, 19.4), errors, &limits);
    let published = [(0.801, 0.841), (0.652, 0.634), (0.522, 0.531)];
    for (miss, (modelled, counted)) in found.misses.iter().zip(published) {
        assert_abs_diff_eq!(1.0 - miss.share, modelled, epsilon = 0.009);
        assert_abs_diff_eq!(1.0 - miss.share, counted, epsilon = POINTS);
    }
}

#[test]
fn standing_up_opens_the_cup_forward_by_the_published_mean() {
    // Pierrepont 2017, Bone Joint J 99-B:184: from supine to standing the pelvis turns back by 5.5° on average;
    // a cup at 40/15 then faces 4.2° farther forward (tilt formula, worked outside this program).
    let plan = aimed(40.0, 15.0);
    let mean = |posture| {
        let found = drawn(&plan, vec![tilt(posture)], &[]);
        found.measures[1].mean
    };
    let opened = mean(Posture::Standing) - mean(Posture::Supine);
    assert_abs_diff_eq!(opened, 4.2, epsilon = 0.25);
}

#[test]
fn pelves_that_turn_far_are_about_as_many_as_counted_but_not_with_delivery_error() {
    // Pierrepont 2017: of 1517 patients 17 % turn so far between postures that the cup may be malorientated,
    // and 51 % if the cup may be off by 5°. Mean turns -5.5° (-21.8 to 8.4) from supine to standing and -3.7°
    // (-48.3 to 38.6) to seated; deviations are not printed, and inferred from those ranges as 1/6.7 of them
    // (what 1517 normal numbers span). Too far is 13° in the direction that matters, backward to standing and
    // forward to seated: that number is of Langston 2018, Bone Joint J 100-B:845. Independence is assumed.
    let turns = |mean: f64, range: f64, stream| {
        let spread = Spread::Normal {
            mean,
            deviation: range / 6.7,
        };
        spread.draws(DRAWS, 3, stream).unwrap()
    };
    let standing = turns(-5.5, 21.8 + 8.4, 0);
    let seated = turns(-3.7, 48.3 + 38.6, 1);
    let share = |far: f64| {
        let both = standing.iter().zip(&seated);
        let too_far = both.filter(|(up, down)| **up < -far || **down > far);
        too_far.count() as f64 / DRAWS as f64
    };
    assert_abs_diff_eq!(share(13.0), 0.17, epsilon = POINTS);
    // With 5° of delivery error the model gives 42 %, 9 points fewer than counted: not reproduced.
    assert_abs_diff_eq!(share(8.0), 0.42, epsilon = 0.02);
}

/// A preset made coarsely, with what only the model knows of it.
fn made(preset: Preset) -> (Pelvis, Bone) {
    let pelvis = pelvis(&preset.shape().unwrap(), Side::Right, Resolution::Coarse).unwrap();
    (pelvis, pelves::bone(preset, Side::Right))
}

fn commonly(bone: &Bone) -> CaseFile {
    pelves::Plan::COMMON.case_file(bone)
}

#[test]
fn shallow_sockets_are_covered_within_the_published_band_where_the_cup_is_put_to_be() {
    // Ueno 2019, J Arthroplasty 34:93: 151 stable cups in dysplastic hips, coverage in 3-D 77.1 ± 6.7 %, 61.2
    // to 97.6. As surgeons do, the cup is placed where bone covers it: the least bone removed among placements
    // that cover 70 % (a common minimum; from memory) with 2 mm of wall. Then hands err as published.
    let instruments = Instruments::generic().unwrap();
    let mut means = vec![];
    for preset in [Preset::Shallow1, Preset::Shallow2, Preset::Shallow3] {
        let bone = pelves::bone(preset, Side::Right);
        let case = commonly(&bone);
        let evaluator = Evaluator::new(&case, &bone).unwrap();
        let search = Search {
            ranges: vec![
                (Variable::Medial, [-2.0, 12.0]),
                (Variable::Superior, [-2.0, 12.0]),
                (Variable::Anteversion, [5.0, 25.0]),
            ],
            goals: vec![Measure::CoverageAfterReaming, Measure::CentreShift],
            limits: vec![
                Limit::AtLeast(Measure::CoverageAfterReaming, 0.7),
                Limit::AtLeast(Measure::ThinnestWall, 2.0),
            ],
            effort: Effort {
                samples: 150,
                refinement: 50,
                directions: 5,
            },
        };
        let front = place(&evaluator, &instruments, &search).unwrap();
        assert!(!front.members.is_empty(), "{preset:?}: nowhere 70 %");
        // The middle of the trade-off between coverage and a hip centre in its place.
        let chosen = &front.members[front.members.len() / 2];
        let placed = chosen.setting.applied(&case).unwrap();
        let draws = Draws {
            errors: by_hand(),
            count: 600,
            seed: 2,
        };
        let evaluator = Evaluator::new(&placed, &bone).unwrap();
        let found = scatter(&evaluator, &draws, &[Measure::Coverage], &[]).unwrap();
        let lie = &found.measures[0];
        // The middle half of the draws lies in the published range.
        assert!(
            lie.percentiles[2] > 0.61 && lie.percentiles[4] < 0.98,
            "{preset:?} {lie:?}"
        );
        means.push(lie.mean);
    }
    let mean = means.iter().sum::<f64>() / 3.0;
    assert!((mean - 0.771).abs() < 2.0 * 0.067, "{means:?}");
}

#[test]
fn a_rim_referenced_cup_keeps_the_centre_and_one_on_the_floor_does_not() {
    // Meermans 2016, Bone Joint J 98-B:1597: the centre moved 0.8 ± 1.4 mm medially and 0.7 ± 1.3 superiorly
    // where reaming followed the rim, 5.0 ± 3.3 and 3.7 ± 2.6 where it went to the floor. Here: the cup's edge
    // level with the rim, on average round it; or the last reamer's round side through the true floor, moving
    // along the axis of a cup at 40/15 both times. Within two deviations.
    for preset in [Preset::AverageMale, Preset::AverageFemale] {
        let (pelvis, bone) = made(preset);
        let case = commonly(&bone);
        let evaluator = Evaluator::new(&case, &bone).unwrap();
        let native = evaluator.plan().with(Variable::Medial, 0.0);
        let placed = cupwright_procedure::Placed::cup(
            &native.applied(&case).unwrap().check().unwrap(),
            &bone,
        )
        .unwrap();
        let (centre, axis) = (placed.head().centre(), placed.head().axis());
        let rim = &pelvis.socket.rim;
        let height = rim.iter().map(|p| (p - centre).dot(&axis)).sum::<f64>() / rim.len() as f64;
        let to_rim = -height;
        // Where the sphere of the last reamer, moved in by d, meets the floor: |f + d a| = r.
        let radius = case.reamers[0].diameter_mm / 2.0;
        let floor = pelvis.socket.true_floor - centre;
        let along = floor.dot(&axis);
        let to_floor = -along - (along * along - floor.norm_squared() + radius * radius).sqrt();
        let moved = |depth: f64| {
            let setting = native.with(Variable::Depth, depth);
            let centre = setting.applied(&case).unwrap().cup.centre;
            let outcome = evaluator.evaluate(&setting, &[Measure::Coverage]).unwrap();
            (
                centre.medial_mm,
                centre.superior_mm,
                outcome.get(Measure::Coverage).unwrap(),
            )
        };
        let (by_rim, by_floor) = (moved(to_rim), moved(to_floor));
        assert!(
            (by_rim.0 - 0.8).abs() < 2.8 && (by_rim.1 - 0.7).abs() < 2.6,
            "{by_rim:?}"
        );
        assert!(
            (by_floor.0 - 5.0).abs() < 6.6 && (by_floor.1 - 3.7).abs() < 5.2,
            "{by_floor:?}"
        );
        assert!(by_floor.0 > by_rim.0 && by_floor.1 > by_rim.1);
        assert!(by_floor.2 > by_rim.2, "going in covers more");
    }
}

#[test]
fn a_high_hip_centre_in_a_shallow_socket_and_where_its_coverage_is_most() {
    // Komiyama 2016, J Arthroplasty 31:2342, 32 hips of Crowe grades II and III: covered best with the centre
    // 30 to 35 mm above the teardrops, 15 to 20 above the true one, and worse from 40. Here the shallowest
    // preset, the cup as large and as deep at every height.
    let bone = pelves::bone(Preset::Shallow3, Side::Right);
    let evaluator = Evaluator::new(&commonly(&bone), &bone).unwrap();
    let plan = evaluator.plan();
    let heights: Vec<f64> = (0..=8).map(|k| 5.0 * f64::from(k)).collect();
    let covered = |plan: &Setting, up: f64| {
        let setting = plan.plus(Variable::Superior, up);
        let outcome = evaluator.evaluate(&setting, &[Measure::Coverage]).unwrap();
        outcome.get(Measure::Coverage).unwrap()
    };
    let found: Vec<f64> = heights.iter().map(|up| covered(&plan, *up)).collect();
    let best = found
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.total_cmp(b.1))
        .unwrap()
        .0;
    assert!((10.0..=25.0).contains(&heights[best]), "{found:?}");
    assert!(found[8] < found[best] - 0.02);
}

#[test]
fn the_worked_examples_stand_in_the_sockets_of_their_bones() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-models");
    for (name, preset, side) in [
        ("average-male-hands", Preset::AverageMale, Side::Right),
        ("shallow-2-where-to", Preset::Shallow2, Side::Left),
    ] {
        let file = CaseFile::read(&folder.join(name).with_extension("case.ron")).unwrap();
        let bone = Bone::of_case(&file.check().unwrap(), &folder).unwrap();
        let made = pelves::bone(preset, side);
        assert!(
            (bone.native_centre - made.native_centre).norm() < 1e-9,
            "{name}"
        );
        assert!(
            (bone.native_radius - made.native_radius).abs() < 1e-9,
            "{name}"
        );
        let evaluator = Evaluator::new(&file, &bone).unwrap();
        let asked = [Measure::Coverage];
        let outcome = evaluator.evaluate(&evaluator.plan(), &asked).unwrap();
        let covered = outcome.get(Measure::Coverage).unwrap();
        // The plain plan is covered, the one that asks where to go is not.
        assert_eq!(
            covered > 0.7,
            preset == Preset::AverageMale,
            "{name}: {covered}"
        );
    }
}
