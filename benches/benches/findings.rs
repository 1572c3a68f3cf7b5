//! Everything that `simulate` finds, as it runs while somebody drags a slider: the demonstration's
//! reamers, which share centre and axis, and reamers that cross each other.

use std::path::Path;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{group, settings};
use cupwright_geometry::Solid;
use cupwright_procedure::{Bone, Case, CaseFile, Instruments, simulate};

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
    let bones = bones();
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

/// The demonstration's bone without its layers, about as fine as it comes and with 150,000 triangles.
fn bones() -> [(&'static str, Bone); 2] {
    let bone = Bone::of_case(&case(CONCENTRIC), Path::new("")).expect("the preset's bone");
    let mesh = bone.solid.mesh().parted(150_000);
    let solid = Solid::try_from(mesh).expect("a solid stays one");
    let fine = Bone {
        solid: solid.into(),
        ..bone.clone()
    };
    [("120k", bone), ("150k", fine)]
}

fn case(reamers: &str) -> Case {
    let text = format!(
        "(version: 1, bone: Preset(name: \"average-male\", side: Right), orientation: Radiographic, \
         reamers: [{reamers}], cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15, \
         centre: (medial_mm: 3, superior_mm: 1)))"
    );
    let file = CaseFile::parse(&text).expect("a case");
    file.check().expect("a case that can be")
}

criterion_group!(name = benches; config = settings(); targets = findings);
criterion_main!(benches);
