//! Press-fit, stock and screws together, as they run while somebody drags a slider: with cup and reamers
//! about one centre, and with the cup aside of them.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{average_man, case, group, settings};
use cupwright_procedure::mechanics::{MechanicsInputs, mechanics};

fn mechanics_of_a_case(criterion: &mut Criterion) {
    let bones = average_man();
    let inputs = MechanicsInputs::default();
    for (measure, reamers) in [
        ("mechanics_shared", "(diameter_mm: 51), (diameter_mm: 53)"),
        (
            "mechanics_apart",
            "(diameter_mm: 51), (diameter_mm: 53, centre: (medial_mm: 2, superior_mm: 1))",
        ),
    ] {
        let (mut group, case) = (group(criterion, measure), case(reamers));
        for (size, bone) in &bones {
            group.bench_function(BenchmarkId::new("ours", size), |bencher| {
                bencher.iter(|| mechanics(&case, bone, &inputs).expect("findings"));
            });
        }
    }
}

criterion_group!(name = benches; config = settings(); targets = mechanics_of_a_case);
criterion_main!(benches);
