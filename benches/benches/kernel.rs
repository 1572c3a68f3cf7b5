//! One step of a plan and many placements of one: how fast the kernel is beside a mesh boolean, and how its
//! time grows with the mesh.

use std::path::Path;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use cupwright_benches::{bones, faceted, group, man, ours, settings, step};
use cupwright_geometry::batch::{self, Placement};
use cupwright_geometry::{Solid, column, rim, within};
use cupwright_tests::boolean::BoolBone;

/// What a reamer takes (its column open), the cup's coverage and its rim's contact; beside them the
/// subtraction alone by a mesh boolean.
fn one_step(criterion: &mut Criterion) {
    let Placement { cup, reamers } = step();
    let reamer = reamers[0];
    let mut group = group(criterion, "one_step");
    ours(&mut group, |solid| {
        let taken = column::volume_in_bullet(solid, &reamer);
        let coverage = within::coverage(solid, &cup);
        (taken, coverage, rim::arcs_inside(solid, &cup.rim()))
    });
    if let Some(bone) = bones().iter().find(|bone| bone.size == "40k") {
        let taken = column::volume_in_bullet(&bone.solid, &reamer);
        leave_for_others(&bone.solid, taken).expect("the target folder can be written to");
    }
    let tool = faceted(&cupwright_benches::reamer());
    for bone in bones() {
        let peer = BoolBone::new(&bone.solid);
        group.bench_function(BenchmarkId::new("boolmesh", bone.size), |bencher| {
            bencher.iter(|| peer.subtracted(&tool));
        });
    }
}

/// Leaves a bone as a binary STL and the volume that the step takes of it, for `manifold3d.py`.
fn leave_for_others(solid: &Solid, taken: f64) -> std::io::Result<()> {
    let mesh = solid.mesh();
    let count = u32::try_from(mesh.triangles().len()).unwrap_or(u32::MAX);
    let mut bytes = vec![0; 80];
    bytes.extend(count.to_le_bytes());
    for t in 0..mesh.triangles().len() {
        bytes.extend([0; 12]);
        let numbers = mesh.corners(t).into_iter().flat_map(|p| [p.x, p.y, p.z]);
        bytes.extend(numbers.flat_map(|x| single(x).to_le_bytes()));
        bytes.extend([0; 2]);
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    std::fs::write(folder.join("one_step.stl"), bytes)?;
    std::fs::write(folder.join("one_step.txt"), format!("{taken}\n"))
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a binary STL holds single precision"
)]
fn single(x: f64) -> f32 {
    x as f32
}

/// The same step in a batch of one, on the lumpy ball and on the average man's pelvis.
fn one_of_a_batch(criterion: &mut Criterion) {
    let placement = [step()];
    let mut lumpy = group(criterion, "one_of_a_batch");
    ours(&mut lumpy, |solid| batch::evaluate(solid, &placement));
    lumpy.finish();
    let mut pelvis = group(criterion, "one_of_a_batch_in_a_pelvis");
    for man in man() {
        let placement = [man.placed(0.0, 0.0)];
        pelvis.bench_function(BenchmarkId::new("ours", man.size), |bencher| {
            bencher.iter(|| batch::evaluate(&man.solid, &placement));
        });
    }
}

/// Coverage, rim and volume over 61 by 51 directions of the axis, and 2,000 placements of a scatter, a
/// fiftieth of what a study of 100,000 takes.
fn placements(criterion: &mut Criterion) {
    let mut group = group(criterion, "placements");
    for man in man() {
        let grid = (0..61).flat_map(|i| (0..51).map(move |j| (i, j)));
        let map: Vec<_> = grid
            .map(|(i, j)| man.placed(f64::from(i) * 0.01 - 0.3, f64::from(j) * 0.01 - 0.25))
            .collect();
        let scatter: Vec<_> = (0..2000).map(|k| man.scattered(k)).collect();
        for (who, placements) in [("map-61x51", &map), ("scatter-2000", &scatter)] {
            group.bench_function(BenchmarkId::new(who, man.size), |bencher| {
                bencher.iter(|| batch::evaluate(&man.solid, placements));
            });
        }
    }
}

criterion_group!(
    name = benches;
    config = settings();
    targets = one_step, one_of_a_batch, placements
);
criterion_main!(benches);
