use super::*;
use crate::{Solid, topology};

/// The voxels of a box whose centres satisfy `inside`.
fn voxels(size: [usize; 3], inside: impl Fn(Vector3<f64>) -> bool) -> Voxels {
    let mut voxels = Voxels::none(size).unwrap();
    for (k, j) in (0..size[2]).flat_map(|k| (0..size[1]).map(move |j| (k, j))) {
        for i in (0..size[0]).filter(|&i| inside(Vector3::from([i, j, k].map(real)))) {
            voxels.add_run([i, j, k], 1);
        }
    }
    voxels
}

fn unit() -> Grid {
    Grid::new(Point3::origin(), Matrix3::identity()).unwrap()
}

/// Every edge must have one triangle on each side and no more.
#[track_caller]
fn assert_manifold(mesh: &TriMesh) {
    let mut edges: Vec<_> = mesh
        .triangles()
        .iter()
        .flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)])
        .collect();
    edges.sort_unstable();
    let before = edges.len();
    edges.dedup();
    assert_eq!(edges.len(), before, "an edge is gone along twice");
    assert_eq!(topology::faulty_edges(mesh.triangles()), []);
}

/// Bits that look like noise, the same each time.
fn noise(seed: u64) -> impl FnMut() -> u64 {
    let mut state = seed;
    move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        state >> 33
    }
}

#[test]
fn a_ball_of_voxels_is_a_ball_of_their_volume() {
    let (centre, radius) = (Vector3::new(15.2, 14.9, 15.4), 12.0);
    let ball = voxels([32; 3], |p| (p - centre).norm() <= radius);
    let counted = real_of(ball.count());
    let surface = surface(ball, &unit()).unwrap();
    assert_manifold(&surface.mesh);
    assert_eq!(surface.added, 0);
    assert!((surface.mesh.volume() / counted - 1.0).abs() < 1e-3);
    let off = surface
        .mesh
        .vertices()
        .iter()
        .map(|p| (p.coords - centre).norm() - radius);
    let off: Vec<_> = off.collect();
    let rms = (off.iter().map(|o| o * o).sum::<f64>() / real(off.len())).sqrt();
    let worst = off.iter().fold(0.0_f64, |w, o| w.max(o.abs()));
    assert!(rms < 0.12 && worst < 0.4, "{rms} {worst}");
}

#[test]
fn the_outside_is_out_on_a_left_handed_oblique_grid_too() {
    let axes = Matrix3::new(-0.8, 0.1, 0.0, 0.1, 0.8, 0.2, 0.0, -0.2, 1.0);
    let grid = Grid::new(Point3::new(100.0, -50.0, 7.0), axes).unwrap();
    assert!(axes.determinant() < 0.0);
    let centre = Vector3::new(9.0, 9.0, 9.0);
    let ball = voxels([20; 3], |p| (p - centre).norm() <= 7.0);
    let volume = real_of(ball.count()) * grid.voxel_volume();
    let mesh = surface(ball, &grid).unwrap().mesh;
    assert!((mesh.volume() / volume - 1.0).abs() < 2e-3);
    let solid = Solid::try_from(mesh).unwrap();
    assert_eq!(solid.winding(&grid.point(&Point3::from(centre))), 1);
}

#[test]
fn a_voxel_in_the_corner_of_the_box_lies_at_its_own_place() {
    let mut one = Voxels::none([1, 1, 1]).unwrap();
    one.add_run([0, 0, 0], 5);
    assert_eq!((one.count(), one.contains([0, 0, 0])), (1, true));
    let grid = Grid::new(Point3::new(3.0, 4.0, 5.0), 2.0 * Matrix3::identity()).unwrap();
    let mesh = surface(one, &grid).unwrap().mesh;
    let middle = mesh.bounds().unwrap().middle();
    assert!((middle - grid.point(&Point3::origin())).norm() < 1e-12);
}

#[test]
fn a_set_that_fills_its_box_is_counted_from_where_the_box_begins() {
    let whole = voxels([6, 5, 4], |_| true);
    let grid = unit().counted_from([10, 20, 30]);
    let mesh = surface(whole, &grid).unwrap().mesh;
    let middle = mesh.bounds().unwrap().middle();
    // Which way faces are parted makes opposite sides differ a little.
    assert!((middle - Point3::new(12.5, 22.0, 31.5)).norm() < 0.05);
    assert!((mesh.volume() - 120.0).abs() < 1.0);
}

#[test]
fn rows_longer_than_a_word_have_no_seam() {
    let bar = voxels([200, 3, 3], |p| p.x >= 1.0 && p.x <= 190.0);
    let mesh = surface(bar, &unit()).unwrap().mesh;
    assert_manifold(&mesh);
    assert_eq!(topology::shells(mesh.triangles()).count, 1);
    assert_eq!(topology::genus(mesh.triangles()), Some(0));
}

#[test]
fn a_plate_one_voxel_thin_keeps_both_its_sides() {
    let plate = voxels([20, 20, 3], |p| p.z > 0.5 && p.z < 1.5);
    let mesh = surface(plate, &unit()).unwrap().mesh;
    let solid = Solid::try_from(mesh).unwrap();
    assert!((solid.volume() / 400.0 - 1.0).abs() < 1e-2);
    assert_eq!(solid.winding(&Point3::new(10.0, 10.0, 1.0)), 1);
    assert_eq!(solid.winding(&Point3::new(10.0, 10.0, 2.2)), 0);
}

#[test]
fn voxels_hang_together_along_an_edge_and_not_in_a_corner() {
    let pieces = |second: [usize; 3]| {
        let mut two = Voxels::none([3; 3]).unwrap();
        two.add_run([0, 0, 0], 1);
        two.add_run(second, 1);
        let mesh = surface(two, &unit()).unwrap().mesh;
        assert_manifold(&mesh);
        topology::shells(mesh.triangles()).count
    };
    assert_eq!(pieces([1, 1, 0]), 1);
    assert_eq!(pieces([1, 1, 1]), 2);
    assert_eq!(pieces([2, 0, 0]), 2);
}

#[test]
fn noise_gives_a_manifold_and_the_voxels_added_are_told() {
    let mut added = 0;
    for seed in 0..30 {
        let mut next = noise(seed);
        let mut set = Voxels::none([9, 8, 7]).unwrap();
        for at in 0..9 * 8 * 7 {
            if next() % 100 < 20 + 2 * seed {
                set.add_run([at % 9, at / 9 % 8, at / 72], 1);
            }
        }
        let surface = surface(set, &unit()).unwrap();
        assert_manifold(&surface.mesh);
        added += surface.added;
    }
    assert!(added > 0, "noise must need some");
}

#[test]
fn nothing_and_too_much_are_refused() {
    let none = Voxels::none([4; 3]).unwrap();
    assert_eq!(surface(none, &unit()), Err(BadVoxels::Empty));
    for size in [
        [usize::MAX; 3],
        [1 << 12; 3],
        [1 << 40, 1, 1],
        [1, 1 << 30, 1 << 30],
    ] {
        assert_eq!(Voxels::none(size), Err(BadVoxels::TooMany(size)));
    }
}

#[test]
fn axes_in_a_plane_are_no_grid() {
    let grid = |axes: Matrix3<f64>| Grid::new(Point3::origin(), axes);
    let flat = Matrix3::new(1.0, 0.0, 1.0, 0.0, 1.0, 1.0, 0.0, 0.0, 0.0);
    assert!(matches!(grid(flat), Err(BadGrid::Flat(..))));
    assert!(matches!(grid(Matrix3::zeros()), Err(BadGrid::Flat(..))));
    assert_eq!(grid(Matrix3::repeat(f64::NAN)), Err(BadGrid::NotFinite));
    assert!(grid(Matrix3::from_diagonal(&Vector3::new(0.01, -0.01, 30.0))).is_ok());
}
