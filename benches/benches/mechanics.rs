//! Press-fit, stock and screws together, as they run while somebody drags a slider: with cup and reamers
//! about one centre, and with the cup aside of them.

use std::path::Path;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{group, settings};
use cupwright_geometry::Solid;
use cupwright_procedure::mechanics::{MechanicsInputs, mechanics};
use cupwright_procedure::{Bone, Case, CaseFile};

fn mechanics_of_a_case(criterion: &mut Criterion) {
    let bones = bones();
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

/// The average man's bone, about as fine as it comes and with 150,000 triangles.
fn bones() -> [(&'static str, Bone); 2] {
    let bone = Bone::of_case(&case("(diameter_mm: 53)"), Path::new("")).expect("the preset's bone");
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

criterion_group!(name = benches; config = settings(); targets = mechanics_of_a_case);
criterion_main!(benches);
