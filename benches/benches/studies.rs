//! Studies of the demonstration's plan: a coverage map, a thousand draws of a scatter, a placement search over
//! five variables.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{average_man, case_file, group, settings};
use cupwright_procedure::Instruments;
use cupwright_study::published::{Technique, by_hand, oversize};
use cupwright_study::{
    Axis, Draws, Effort, Evaluator, Limit, Measure, Search, Variable, map, place, scatter,
};

fn evaluators() -> Vec<(&'static str, Evaluator)> {
    let case =
        case_file("(diameter_mm: 47), (diameter_mm: 49), (diameter_mm: 51), (diameter_mm: 53)");
    let bones = average_man().into_iter();
    let prepared = |(size, bone)| (size, Evaluator::new(&case, &bone).expect("a case"));
    bones.map(prepared).collect()
}

/// Coverage at 61 inclinations and 51 anteversions.
fn coverage_map(criterion: &mut Criterion) {
    let axis =
        |variable, least, most, count| Axis::new(variable, least, most, count).expect("a range");
    let axes = [
        axis(Variable::Inclination, 30.0, 60.0, 61),
        axis(Variable::Anteversion, 0.0, 50.0, 51),
    ];
    let mut group = group(criterion, "map_of_coverage");
    for (size, evaluator) in evaluators() {
        group.bench_function(BenchmarkId::new("ours", size), |bencher| {
            bencher.iter(|| map(&evaluator, axes, &[Measure::Coverage], &[]).expect("a map"));
        });
    }
}

/// Coverage and rim contact of a thousand plans that are off as published; a hundred thousand take a hundred
/// times as long.
fn scatter_of_a_thousand(criterion: &mut Criterion) {
    let mut errors = by_hand();
    errors.push(oversize(Technique::Rotating));
    let draws = Draws {
        errors,
        count: 1000,
        seed: 1,
    };
    let asked = [
        Measure::Coverage,
        Measure::RimContact,
        Measure::Interference,
    ];
    let mut group = group(criterion, "scatter_of_a_thousand");
    for (size, evaluator) in evaluators() {
        group.bench_function(BenchmarkId::new("ours", size), |bencher| {
            bencher.iter(|| scatter(&evaluator, &draws, &asked, &[]).expect("a scatter"));
        });
    }
}

/// Bone against coverage over five variables, a wall to keep.
fn search(criterion: &mut Criterion) {
    let instruments = Instruments::generic().expect("the built-in sizes");
    let search = Search {
        ranges: vec![
            (Variable::Inclination, [35.0, 50.0]),
            (Variable::Anteversion, [5.0, 30.0]),
            (Variable::Medial, [-3.0, 6.0]),
            (Variable::Superior, [-3.0, 6.0]),
            (Variable::Anterior, [-3.0, 3.0]),
        ],
        goals: vec![Measure::Removed, Measure::CoverageAfterReaming],
        limits: vec![
            Limit::AtLeast(Measure::CoverageAfterReaming, 0.7),
            Limit::AtLeast(Measure::ThinnestWall, 2.0),
        ],
        effort: Effort::default(),
    };
    let mut group = group(criterion, "search_of_five");
    for (size, evaluator) in evaluators() {
        group.bench_function(BenchmarkId::new("ours", size), |bencher| {
            bencher.iter(|| place(&evaluator, &instruments, &search).expect("a front"));
        });
    }
}

criterion_group!(
    name = benches;
    config = settings();
    targets = coverage_map, scatter_of_a_thousand, search
);
criterion_main!(benches);
