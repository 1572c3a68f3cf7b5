//! Everything that `simulate` finds, as it runs while somebody drags a slider: the demonstration's
//! reamers, which share centre and axis, and reamers that cross each other.

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{average_man, case, group, settings};
use cupwright_procedure::{Instruments, simulate};

/// The demonstration's reamers, all about the cup's centre.
const CONCENTRIC: &str =
    "(diameter_mm: 47), (diameter_mm: 49), (diameter_mm: 51), (diameter_mm: 53)";

/// The same sizes, each at its own place or angle.
const CROSSING: &str = "(diameter_mm: 47, centre: (medial_mm: 1)), \
     (diameter_mm: 49, centre: (medial_mm: 2, superior_mm: 0.5), inclination_deg: 43), \
     (diameter_mm: 51, centre: (medial_mm: 2.5, superior_mm: 2), inclination_deg: 42), \
     (diameter_mm: 53)";

fn findings(criterion: &mut Criterion) {
    let instruments = Instruments::generic().expect("the built-in sizes");
    let bones = average_man();
    for (measure, reamers) in [
        ("findings_concentric", CONCENTRIC),
        ("findings_crossing", CROSSING),
    ] {
        let (mut group, case) = (group(criterion, measure), case(reamers));
        for (size, bone) in &bones {
            group.bench_function(BenchmarkId::new("ours", size), |bencher| {
                bencher.iter(|| simulate(&case, bone, &instruments).expect("findings"));
            });
        }
    }
}

criterion_group!(name = benches; config = settings(); targets = findings);
criterion_main!(benches);
