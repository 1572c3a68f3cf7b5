//! The fast way that studies measure by, against a run in full and against itself on other threads.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::Preset;
use cupwright_procedure::Instruments;
use cupwright_procedure::findings::Wall;
use cupwright_study::{Evaluator, Measure, Setting, Variable};
use cupwright_tests::pelves::{self, Plan};

fn evaluator(preset: Preset, side: Side) -> Evaluator {
    let bone = pelves::bone(preset, side);
    Evaluator::new(&Plan::COMMON.case_file(&bone), &bone).unwrap()
}

/// Here and there about a plan, with each variable changed at least once.
fn settings(plan: Setting) -> Vec<Setting> {
    vec![
        plan,
        plan.plus(Variable::Inclination, 7.0)
            .plus(Variable::Anteversion, -6.0),
        plan.plus(Variable::Medial, 1.5)
            .plus(Variable::Superior, 4.0)
            .plus(Variable::Anterior, -2.0),
        plan.plus(Variable::CupDiameter, 4.0)
            .plus(Variable::Depth, -2.5),
        plan.plus(Variable::Oversize, 0.6).plus(Variable::Tilt, 8.0),
        plan.plus(Variable::Oversize, 1.4),
    ]
}

#[test]
fn what_a_study_measures_is_what_a_run_in_full_finds() {
    let instruments = Instruments::generic().unwrap();
    for (preset, side) in [
        (Preset::AverageMale, Side::Right),
        (Preset::Shallow2, Side::Left),
    ] {
        let evaluator = evaluator(preset, side);
        for setting in settings(evaluator.plan()) {
            let fast = evaluator.evaluate(&setting, &Measure::ALL).unwrap();
            let full = evaluator
                .run(&setting, &Measure::ALL, &instruments)
                .unwrap();
            for measure in Measure::ALL {
                let (a, b) = (fast.get(measure).unwrap(), full.get(measure).unwrap());
                let told = format!("{preset:?} {setting:?} {measure}: {a} against {b}");
                if measure == Measure::ThinnestWall {
                    // A few hundred rays may pass beside the thinnest place; both walk to it until a step of
                    // a hundredth of a mm finds no thinner one.
                    assert!(a > b - 1e-3 && a < b + 0.3, "{told}");
                } else {
                    assert!((a - b).abs() <= 1e-9 * (1.0 + b.abs()), "{told}");
                }
            }
        }
    }
}

#[test]
fn each_wall_is_found_within_a_millimetre_and_a_half() {
    let instruments = Instruments::generic().unwrap();
    let evaluator = evaluator(Preset::AverageMale, Side::Right);
    let plan = evaluator.plan();
    let fast = evaluator.evaluate(&plan, &Measure::WALLS).unwrap();
    let full = evaluator.run(&plan, &Measure::WALLS, &instruments).unwrap();
    for measure in Measure::WALLS {
        match (fast.get(measure), full.get(measure)) {
            (Some(a), Some(b)) => assert!(a > b - 1e-3 && a < b + 1.5, "{measure}: {a}, {b}"),
            (a, b) => assert_eq!(a, b, "{measure}"),
        }
    }
    assert!(fast.get(Measure::Wall(Wall::Medial)).is_some());
}

#[test]
fn any_number_of_threads_gives_the_same_bits() {
    let evaluator = evaluator(Preset::AverageMale, Side::Right);
    let settings = settings(evaluator.plan());
    let bits = |threads: usize| -> Vec<Option<u64>> {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        let found = pool
            .build()
            .unwrap()
            .install(|| evaluator.evaluate_all(&settings, &Measure::ALL));
        let values = found.into_iter().flat_map(|outcome| {
            let outcome = outcome.unwrap();
            Measure::ALL.map(|measure| outcome.get(measure).map(f64::to_bits))
        });
        values.collect()
    };
    let one = bits(1);
    assert_eq!(one, bits(2));
    assert_eq!(one, bits(5));
}
