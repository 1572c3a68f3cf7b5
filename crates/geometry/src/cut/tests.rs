use super::*;
use crate::{Hemisphere, intersections, samples, topology, union};
use nalgebra::{Isometry3, Vector3};

/// Numbers that look random, the same in every run (Lehmer 1951; multiplier of Park and Miller 1988).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 0x7fff_ffff;
        f64::from(u32::try_from(self.0).unwrap()) / f64::from(0x7fff_ffff_u32)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    fn direction(&mut self) -> Vector3<f64> {
        let part = |n: &mut Self| n.between(-1.0, 1.0);
        let v = Vector3::new(part(self), part(self), part(self));
        if v.norm() > 0.1 {
            v.normalize()
        } else {
            self.direction()
        }
    }

    /// Reamers that grow by half a mm each and wander.
    fn plan(&mut self, count: usize) -> Vec<Bullet> {
        let axis = self.direction();
        let centre = axis * self.between(0.0, 25.0) + self.direction() * self.between(0.0, 8.0);
        let mut radius = self.between(5.0, 22.0);
        let open = self.next() < 0.5;
        let column = self.between(-10.0, 40.0).max(0.0);
        let bullet = |_| {
            radius += 0.5;
            let at = centre + self.direction() * self.between(0.0, 1.5);
            let turned = axis + self.direction() * 0.1;
            let head = Hemisphere::new(at.into(), turned, radius).unwrap();
            if open {
                Bullet::open(head)
            } else {
                Bullet::with_column(head, column).unwrap()
            }
        };
        (0..count).map(bullet).collect()
    }
}

fn solid(mesh: TriMesh) -> Solid {
    Solid::try_from(mesh).unwrap()
}

fn head(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Hemisphere {
    Hemisphere::new(centre.into(), axis.into(), radius).unwrap()
}

fn open(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Bullet {
    Bullet::open(head(centre, axis, radius))
}

#[track_caller]
fn check_sound(mesh: &TriMesh) {
    assert_eq!(topology::faulty_edges(mesh.triangles()), []);
    assert_eq!(intersections::crossing_pairs(mesh), Vec::<[u32; 2]>::new());
}

/// Cuts, and checks all that is promised of the mesh but its volume.
#[track_caller]
fn check_mesh(bone: &Solid, bullets: &[Bullet]) -> Cut {
    let cut = Cut::new(bone, bullets, Tolerance::default()).unwrap();
    if let Some(mesh) = cut.mesh() {
        check_sound(mesh);
        assert_eq!(mesh.triangles().len(), cut.origins().len());
    }
    cut
}

/// The same, and the volume against the exact measure.
#[track_caller]
fn check(bone: &Solid, bullets: &[Bullet]) -> Cut {
    let cut = check_mesh(bone, bullets);
    let left = cut.mesh().map_or(0.0, TriMesh::volume);
    let removed = union::volume_in_union(bone, bullets).unwrap();
    let off = (bone.volume() - left - removed.value).abs();
    let bound = cut.error_bound() + removed.error_bound + 1e-9 * bone.volume();
    assert!(off <= bound, "{off} beyond {bound}");
    cut
}

fn genus(cut: &Cut) -> Option<usize> {
    topology::genus(cut.mesh().unwrap().triangles())
}

fn block() -> Solid {
    solid(samples::cuboid([80.0, 80.0, 60.0]))
}

#[test]
fn a_reamer_in_a_box_leaves_a_bowl() {
    let cut = check(&block(), &[open([0.0, 0.0, 30.0], [0.0, 0.0, 1.0], 25.0)]);
    assert_eq!(genus(&cut), Some(0));
    assert!(cut.walls().count() > 1000);
}

#[test]
fn a_half_ball_flush_with_a_face_leaves_no_lid() {
    let flush = Bullet::half_ball(head([0.0, 0.0, 30.0], [0.0, 0.0, 1.0], 25.0));
    let cut = check(&block(), &[flush]);
    assert_eq!(genus(&cut), Some(0));
    let shells = topology::shells(cut.mesh().unwrap().triangles());
    assert_eq!(shells.count, 1);
}

#[test]
fn a_tool_inside_the_bone_leaves_a_hollow_in_it() {
    for column in [0.0, 10.0] {
        let tool = Bullet::with_column(head([3.0, 1.0, 2.0], [1.0, 2.0, 3.0], 12.0), column);
        let cut = check(&block(), &[tool.unwrap()]);
        let shells = topology::shells(cut.mesh().unwrap().triangles());
        assert_eq!(shells.count, 2);
    }
}

#[test]
fn a_tool_that_touches_no_bone_changes_nothing() {
    let bone = block();
    let cut = check(&bone, &[open([0.0, 0.0, 60.0], [0.0, 0.0, 1.0], 25.0)]);
    assert_eq!(cut.mesh(), Some(bone.mesh()));
    assert_eq!(cut.origins()[7], Origin::Bone(7));
    let none = check(&bone, &[]);
    assert_eq!(none.mesh(), Some(bone.mesh()));
}

#[test]
fn a_tool_that_swallows_the_bone_leaves_none() {
    let cut = check(&block(), &[open([0.0, 0.0, 0.0], [0.0, 0.0, 1.0], 90.0)]);
    assert!(cut.mesh().is_none() && cut.origins().is_empty());
}

#[test]
fn a_tool_through_a_plate_leaves_a_hole() {
    let plate = solid(samples::cuboid([80.0, 80.0, 4.0]));
    let cut = check(&plate, &[open([0.0, 0.0, 10.0], [0.1, 0.0, 1.0], 20.0)]);
    assert_eq!(genus(&cut), Some(1));
}

#[test]
fn a_bowl_with_a_floor_a_thousandth_thick_stays_whole() {
    let plate = solid(samples::cuboid([80.0, 80.0, 20.0]));
    let at = |depth: f64| open([0.0, 0.0, 10.0 - depth], [0.0, 0.0, 1.0], 5.0);
    assert_eq!(genus(&check(&plate, &[at(14.999)])), Some(0));
    assert_eq!(genus(&check(&plate, &[at(15.001)])), Some(1));
}

#[test]
fn a_tool_inside_whose_flat_end_or_tip_touches_a_face_is_still_inside() {
    // The tip of one and the flat end of the other lie in faces of the block.
    let touching = head([2.0, -5.0, 18.0], [0.0, 0.0, -1.0], 12.0);
    for column in [5.0, 48.0] {
        let tool = Bullet::with_column(touching, column).unwrap();
        let cut = check(&block(), &[tool]);
        assert_ne!(cut.mesh(), Some(block().mesh()));
    }
}

#[test]
fn a_finer_tolerance_brings_the_volume_nearer() {
    let bone = block();
    let tool = open([5.0, 3.0, 25.0], [0.1, 0.2, 1.0], 22.0);
    let exact = bone.volume() - union::volume_in_union(&bone, &[tool]).unwrap().value;
    let mut last = f64::INFINITY;
    for mm in [2.0, 0.2, 0.02, 0.002] {
        let cut = Cut::new(&bone, &[tool], Tolerance::new(mm).unwrap()).unwrap();
        let off = (cut.mesh().unwrap().volume() - exact).abs();
        assert!(
            off <= cut.error_bound() && off < last / 4.0,
            "{mm} mm: {off}"
        );
        last = off;
    }
    for mm in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(Tolerance::new(mm).is_err());
    }
}

#[test]
fn a_grazing_cut_along_a_face_is_drawn() {
    let bone = solid(samples::cuboid([40.0, 36.0, 30.0]));
    let centre = [0.119_063, 3.380_560, -2.337_820];
    let grazing = open(
        centre,
        [-0.000_204_552, 0.768_445_878, -0.639_914_753],
        20.117_947,
    );
    check(&bone, &[grazing]);
}

#[test]
fn reamers_whose_flat_ends_lie_in_one_plane_leave_no_gap() {
    let bone = solid(samples::cuboid([40.0, 36.0, 30.0]));
    let half = |r| Bullet::half_ball(head([6.0, -2.0, -7.0], [0.0, 1.0, 0.0], r));
    let plan = [half(14.5), half(15.0)];
    let steps = removed_by_step(&bone, &plan, Tolerance::default()).unwrap();
    let volume = |step: &Option<Labelled>| step.as_ref().map_or(0.0, |s| s.mesh.volume());
    let removed: f64 = steps.iter().map(volume).sum();
    let cut = check(&bone, &plan);
    let left = cut.mesh().unwrap().volume();
    assert!((bone.volume() - removed - left).abs() < 2.0 * cut.error_bound());
}

#[test]
fn a_ring_can_be_cut_open() {
    let ring = solid(samples::torus(30.0, 8.0, 60, 24));
    let cut = check(&ring, &[open([30.0, 0.0, 0.0], [0.1, 0.05, 1.0], 13.0)]);
    assert_eq!(genus(&cut), Some(0));
}

#[test]
fn a_repeated_or_smaller_reamer_gives_the_same_mesh() {
    let bone = solid(samples::lumpy_ball(25.0, 0.2, 60, 40));
    let last = open([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 13.0);
    let smaller = open([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 12.0);
    let once = check(&bone, &[last]);
    for plan in [vec![last, last], vec![smaller, last, smaller]] {
        assert_eq!(check(&bone, &plan).mesh(), once.mesh());
    }
}

#[test]
fn vertices_and_edges_on_the_surface_of_the_tool_are_cut_all_the_same() {
    let bone = solid(samples::sphere(20.0, 4));
    // The poles, an equator of edges and whole triangles lie on these tools.
    for tool in [
        Bullet::half_ball(head([0.0; 3], [0.0, 0.0, 1.0], 20.0)),
        open([0.0; 3], [0.0, 0.0, 1.0], 20.0),
        open([0.0, 0.0, 20.0], [0.0, 0.0, 1.0], 20.0),
        Bullet::half_ball(head([0.0; 3], [0.0, 0.0, 1.0], 12.0)),
    ] {
        check(&bone, &[tool]);
    }
}

#[test]
fn each_triangle_of_the_cut_lies_where_its_label_says() {
    let bone = solid(samples::lumpy_ball(25.0, 0.2, 60, 40));
    let plan = Numbers(3).plan(3);
    let cut = check_mesh(&bone, &plan);
    let mesh = cut.mesh().unwrap();
    for (t, origin) in cut.origins().iter().enumerate() {
        let corners = mesh.corners(t);
        match *origin {
            Origin::Bone(own) => {
                let [a, b, c] = bone.mesh().corners(own as usize);
                let normal = (b - a).cross(&(c - a)).normalize();
                assert!(corners.iter().all(|p| (p - a).dot(&normal).abs() < 1e-9));
            }
            Origin::Reamer(reamer) => {
                let off = corners.map(|p| plan[reamer].signed_distance(&p).abs());
                assert!(off.iter().all(|d| *d < Tolerance::default().mm()));
            }
        }
    }
}

#[test]
fn moving_bone_and_tools_moves_the_cut() {
    let by = Isometry3::new(
        Vector3::new(300.0, -200.0, 900.0),
        Vector3::new(0.3, 1.1, -0.4),
    );
    let bone = solid(samples::lumpy_ball(25.0, 0.2, 40, 24));
    let tool = head([14.0, -6.0, 12.0], [0.6, -0.2, 0.9], 13.0);
    let moved = Hemisphere::new(by * tool.centre(), by * tool.axis().into_inner(), 13.0).unwrap();
    let here = check(&bone, &[Bullet::open(tool)]);
    let there = check(&solid(bone.mesh().moved(&by)), &[Bullet::open(moved)]);
    let volume = |cut: &Cut| cut.mesh().unwrap().volume();
    assert!((volume(&here) - volume(&there)).abs() < here.error_bound());
}

#[test]
fn random_plans_on_a_lumpy_ball() {
    let mut numbers = Numbers(7);
    let bone = solid(samples::lumpy_ball(25.0, 0.2, 60, 40));
    for count in (1..=4).cycle().take(24) {
        let plan = numbers.plan(count);
        if count == 1 {
            check(&bone, &plan);
        } else {
            check_mesh(&bone, &plan);
        }
    }
}

#[test]
fn the_steps_remove_what_the_whole_plan_does() {
    let mut numbers = Numbers(11);
    let bone = solid(samples::torus(16.0, 9.0, 60, 30));
    for _ in 0..6 {
        let plan = numbers.plan(3);
        let steps = removed_by_step(&bone, &plan, Tolerance::default()).unwrap();
        let cut = check_mesh(&bone, &plan);
        let left = cut.mesh().map_or(0.0, TriMesh::volume);
        let volumes = steps.iter().flatten().map(|step| {
            assert_eq!(topology::faulty_edges(step.mesh.triangles()), []);
            step.mesh.volume()
        });
        let removed: f64 = volumes.sum();
        // The walls between the steps lie elsewhere than those of the plan's outermost reamers alone.
        let bound = 4.0 * cut.error_bound() + 0.1;
        assert!((bone.volume() - left - removed).abs() < bound);
    }
}

#[test]
fn reaming_step_by_step_leaves_what_the_plan_does() {
    let bone = solid(samples::lumpy_ball(25.0, 0.2, 60, 40));
    let plan = Numbers(5).plan(3);
    let mut reaming = Reaming::of(&bone, Tolerance::default());
    for (k, bullet) in plan.iter().enumerate() {
        let before = reaming.clone();
        let removed = reaming.ream(bullet).unwrap();
        let cut = reaming.cut();
        check_sound(cut.mesh().unwrap());
        let removed = removed.map_or(0.0, |r| r.mesh.volume());
        let volumes = [&before.cut(), &cut].map(|c| c.mesh().unwrap().volume());
        assert!((volumes[0] - volumes[1] - removed).abs() < 1e-9 * volumes[0]);
        let whole = check_mesh(&bone, &plan[..=k]);
        let off = whole.mesh().unwrap().volume() - volumes[1];
        assert!(off.abs() < cut.error_bound() + whole.error_bound());
    }
    assert_eq!(reaming.ream(&plan[1]).unwrap(), None);
}
