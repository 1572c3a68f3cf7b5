//! The cut mesh against two independent answers: the exact measures, and a general mesh boolean
//! (boolmesh 0.2, crates.io); on a synthetic pelvis as a user has it.

#![expect(clippy::print_stdout, reason = "a test tells how far off it was")]

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::{Pelvis, Preset, Resolution, pelvis};
use cupwright_geometry::cut::{Cut, Labelled, Origin, Tolerance, removed_by_step};
use cupwright_geometry::{Bullet, Hemisphere, Solid, TriMesh, intersections, topology, union};
use cupwright_tests::bones;
use cupwright_tests::boolean::{BoolBone, FacetedTool, extrapolated};
use nalgebra::{Point3, Vector3};

fn head(centre: Point3<f64>, axis: Vector3<f64>, diameter: f64) -> Hemisphere {
    Hemisphere::new(centre, axis, diameter / 2.0).expect("a fixture's tool can be")
}

fn cut(bone: &Solid, plan: &[Bullet], tolerance: f64) -> Cut {
    let tolerance = Tolerance::new(tolerance).expect("a fixture's tolerance can be");
    Cut::new(bone, plan, tolerance).expect("a fixture can be cut")
}

fn left(cut: &Cut) -> f64 {
    cut.mesh().map_or(0.0, TriMesh::volume)
}

#[track_caller]
fn check(bone: &Solid, plan: &[Bullet]) -> Cut {
    let cut = cut(bone, plan, 0.02);
    let mesh = cut.mesh().expect("no fixture is swallowed");
    assert_eq!(topology::faulty_edges(mesh.triangles()), []);
    assert!(intersections::crossing_pairs(mesh).is_empty());
    let exact = union::volume_in_union(bone, plan).expect("the reamers share a point");
    let off = bone.volume() - mesh.volume() - exact.value;
    println!(
        "{} triangles become {}; removed {:.1}, off {off:.3} of {:.3}",
        bone.mesh().triangles().len(),
        mesh.triangles().len(),
        exact.value,
        cut.error_bound()
    );
    assert!(exact.value > 100.0, "the case must cut bone");
    assert!(off.abs() <= cut.error_bound() + exact.error_bound);
    cut
}

#[track_caller]
fn check_against_boolean(bone: &Solid, plan: &[Bullet]) {
    let peer = BoolBone::new(bone);
    let [removed] = extrapolated(64, |n| {
        let tools: Vec<_> = plan.iter().map(|b| FacetedTool::bullet(b, n)).collect();
        [peer.inside_union(&tools)]
    });
    let bounds = [0.02, 0.005].map(|tolerance| {
        let cut = cut(bone, plan, tolerance);
        let off = (bone.volume() - left(&cut) - removed).abs();
        println!("{tolerance} mm: off {off:.4} of {:.4}", cut.error_bound());
        assert!(off <= cut.error_bound() + 0.02);
        cut.error_bound()
    });
    assert!(bounds[1] < 0.4 * bounds[0], "a finer tolerance must pay");
}

fn hemipelvis(preset: Preset) -> (Solid, Pelvis) {
    let shape = preset.shape().expect("a preset has a shape");
    let made = pelvis(&shape, Side::Right, Resolution::Coarse).expect("a preset can be made");
    (bones::solid(made.mesh.clone()), made)
}

/// A reamer in the direction of the socket, `deep` mm medial of its centre and `more` mm larger in
/// diameter.
fn reamer(made: &Pelvis, deep: f64, more: f64) -> Bullet {
    let socket = &made.socket;
    let at = socket.centre - deep * socket.axis;
    Bullet::open(head(at, socket.axis, 2.0 * socket.radius + more))
}

/// Growing reamers that sink medially, each a little beside the last and turned to it.
fn wandering(made: &Pelvis, more: &[f64]) -> Vec<Bullet> {
    let socket = &made.socket;
    let aside = socket.axis.cross(&Vector3::z()).normalize();
    let steps = more.iter().zip([0.0, 0.9, -0.7, 0.4]);
    let bullet = |(&more, wobble): (&f64, f64)| {
        let at = socket.centre - 2.0 * socket.axis + wobble * aside;
        let axis = socket.axis + 0.05 * wobble * aside;
        Bullet::open(head(at, axis, 2.0 * socket.radius + more))
    };
    steps.map(bullet).collect()
}

#[test]
fn a_reamed_pelvis_is_closed_and_has_its_volume() {
    let (bone, made) = hemipelvis(Preset::AverageMale);
    let nested: Vec<_> = [-1.0, 0.0, 1.0, 2.0]
        .map(|more| reamer(&made, 1.0, more))
        .to_vec();
    let cut = check(&bone, &nested);
    assert!(cut.origins().contains(&Origin::Reamer(3)));
    assert!(!cut.origins().contains(&Origin::Reamer(0)));
    assert_eq!(cut.mesh(), check(&bone, &nested[3..]).mesh());
    check(&bone, &wandering(&made, &[0.0, 1.0, 2.0]));
}

#[test]
fn reaming_through_the_medial_wall_opens_it() {
    let (bone, made) = hemipelvis(Preset::AverageMale);
    let genus = |cut: &Cut| {
        cut.mesh()
            .and_then(|mesh| topology::genus(mesh.triangles()))
    };
    let deep = |by: f64| check(&bone, &[reamer(&made, by, 0.0)]);
    let (shallow, through) = (deep(1.0), deep(20.0));
    assert_eq!(genus(&shallow), topology::genus(bone.mesh().triangles()));
    assert!(genus(&through) > genus(&shallow));
}

#[test]
fn the_bone_of_each_step_adds_up() {
    let (bone, made) = hemipelvis(Preset::AverageMale);
    let plan = wandering(&made, &[0.0, 1.0, 2.0]);
    let steps = removed_by_step(&bone, &plan, Tolerance::default()).expect("can be cut");
    let volumes = steps
        .iter()
        .map(|step| step.as_ref().map_or(0.0, closed_volume));
    for (k, volume) in volumes.enumerate() {
        let before = union::volume_in_union(&bone, &plan[..k]).expect("share a point");
        let after = union::volume_in_union(&bone, &plan[..=k]).expect("share a point");
        let exact = after.value - before.value;
        let bound = cut(&bone, &plan[..=k], 0.02).error_bound();
        println!("step {k}: {volume:.2}, exactly {exact:.2}");
        assert!(
            (volume - exact).abs() < 3.0 * bound,
            "{volume} against {exact}"
        );
    }
}

fn closed_volume(step: &Labelled) -> f64 {
    assert_eq!(topology::faulty_edges(step.mesh.triangles()), []);
    step.mesh.volume()
}

#[test]
fn a_general_boolean_removes_the_same() {
    let bone = bones::lumpy(9_000);
    let bullet = |centre: [f64; 3], axis: [f64; 3], diameter| {
        let head = head(centre.into(), axis.into(), diameter);
        Bullet::with_column(head, 60.0).expect("a column can be")
    };
    let plan = [
        bullet([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 22.0),
        bullet([15.5, -5.0, 13.0], [0.7, -0.1, 0.8], 24.0),
        bullet([13.0, -7.5, 13.5], [0.5, -0.3, 0.9], 25.0),
    ];
    check_against_boolean(&bone, &plan[..1]);
    check_against_boolean(&bone, &plan);
}

#[test]
fn wherever_a_pelvis_is_reamed_it_stays_closed() {
    let (bone, made) = hemipelvis(Preset::AverageFemale);
    let vertices = bone.mesh().vertices();
    // Numbers spread evenly over 0 to 1 (additive recurrence of the golden ratio), several a plan.
    let mut place = 0.0;
    let mut next = || {
        place = (place + 0.618_033_988_749_895_f64).fract();
        place
    };
    let mut cut_bone = 0;
    for (plan, start) in vertices.iter().step_by(vertices.len() / 30).enumerate() {
        let mut part = || next() - 0.5;
        let axis = made.socket.axis + 2.0 * Vector3::new(part(), part(), part());
        let reamers: Vec<_> = [0.0, 1.0, 2.0]
            .map(|more| {
                let at = start + 3.0 * Vector3::new(part(), part(), part());
                let head = head(at, axis, 10.0 + 30.0 * (part() + 0.5) + more);
                if plan % 3 == 0 {
                    Bullet::half_ball(head)
                } else {
                    Bullet::open(head)
                }
            })
            .to_vec();
        let cut = cut(&bone, &reamers, 0.02);
        let mesh = cut.mesh().expect("a reamer does not swallow a pelvis");
        assert_eq!(topology::faulty_edges(mesh.triangles()), []);
        assert!(intersections::crossing_pairs(mesh).is_empty(), "{plan}");
        cut_bone += usize::from(mesh != bone.mesh());
    }
    assert!(cut_bone > 25, "only {cut_bone} plans cut bone");
}
