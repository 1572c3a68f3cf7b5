//! The walk over patches beside the plain sums over every triangle, in random and in awkward places.

use super::*;
use crate::disc::Share;
use crate::within::below_equator;
use crate::{TriMesh, batch, column, rim, samples, union, within};
use nalgebra::{Isometry3, UnitVector3};

/// The measures as sums over all triangles, by solid angles and without any tree.
fn plain(solid: &Solid, tool: &Bullet) -> (Within, f64) {
    let view = View::of(tool.head());
    let (mut cone, mut seen, mut column) = (Sum::default(), Sum::default(), Sum::default());
    let count = u32::try_from(solid.mesh().triangles().len()).unwrap();
    for triangle in (0..count).filter_map(|t| view.triangle(solid, t)) {
        let share = Share::of(&below_equator(&triangle), view.radius);
        cone.add(share.cone);
        seen.add(share.beyond);
        let above = triangle.clipped(&-Vector3::z(), 0.0);
        column.add(volume_over(&above, 0.0, view.radius));
        if tool.column().is_finite() {
            let beyond = above.clipped(&-Vector3::z(), -tool.column());
            column.add(-volume_over(&beyond, tool.column(), view.radius));
        }
    }
    let area = view.radius.powi(2) * seen.total();
    let volume = (cone.total() + view.radius * area) / 3.0;
    (Within { volume, area }, column.total())
}

#[track_caller]
fn check(solid: &Solid, tool: &Bullet) -> Swept {
    let found = bullet(solid, tool, &mut Scratch::default());
    let (within, column) = plain(solid, tool);
    let radius = tool.head().radius();
    let size = radius.powi(2) * (radius + solid.mesh().bounds().unwrap().extent().norm());
    let near = |what: &str, a: f64, b: f64, size: f64| {
        let off = (a - b).abs() / size;
        assert!(
            off < 1e-11,
            "{what}: {a} beside {b}, off by {off:e}, {tool:?}"
        );
    };
    near("volume", found.within.volume, within.volume.max(0.0), size);
    near(
        "area",
        found.within.area,
        within.area.max(0.0),
        radius.powi(2),
    );
    near("column", found.column, column, size);
    let alone = half_ball(solid, tool.head(), &mut Scratch::default());
    assert_eq!(alone.within, found.within);
    found
}

/// Numbers that look random and are the same each time.
struct Numbers(u64);

impl Numbers {
    /// From 0 to 1.
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(self.0 >> 33).unwrap()) / f64::from(1_u32 << 31)
    }

    fn vector(&mut self, size: f64) -> Vector3<f64> {
        Vector3::from_fn(|_, _| size * (2.0 * self.next() - 1.0))
    }

    fn pick(&mut self, count: usize) -> usize {
        (0..count)
            .rfind(|&k| self.next() * (k as f64 + 1.0) < 1.0)
            .unwrap_or(0)
    }

    fn column(&mut self, head: Hemisphere) -> Bullet {
        match self.pick(3) {
            0 => Bullet::half_ball(head),
            1 => Bullet::open(head),
            _ => Bullet::with_column(head, 30.0 * self.next()).unwrap(),
        }
    }
}

fn bones(numbers: &mut Numbers) -> Vec<Solid> {
    let lumpy = samples::lumpy_ball(25.0, 0.2, 60, 37);
    let hollow = lumpy.joined(&samples::sphere(11.0, 3).reversed());
    let twice = lumpy.joined(
        &samples::lumpy_ball(18.0, 0.3, 30, 20).moved(&Isometry3::translation(9.0, 5.0, 4.0)),
    );
    let turned = Isometry3::new(numbers.vector(400.0), numbers.vector(2.0));
    let meshes: [TriMesh; 7] = [
        samples::cuboid([30.0, 40.0, 25.0]),
        samples::cuboid([30.0, 40.0, 25.0])
            .subdivided()
            .subdivided(),
        samples::torus(22.0, 9.0, 50, 31),
        samples::sphere(20.0, 4),
        hollow,
        twice,
        samples::lumpy_ball(25.0, 0.2, 90, 60).moved(&turned),
    ];
    meshes.map(|mesh| Solid::try_from(mesh).unwrap()).into()
}

#[test]
fn the_walk_agrees_with_the_plain_sums_wherever_the_tool_is() {
    let mut numbers = Numbers(7);
    for solid in bones(&mut numbers) {
        let middle = solid.mesh().bounds().unwrap().middle();
        let mut found = 0;
        for _ in 0..60 {
            let centre = middle + numbers.vector(28.0);
            let radius = 1.0 + 30.0 * numbers.next();
            let head = Hemisphere::new(centre, numbers.vector(1.0), radius).unwrap();
            let tool = numbers.column(head);
            let swept = check(&solid, &tool);
            let arcs = rim::arcs_inside(&solid, &tool.head().rim());
            assert!((swept.rim - arcs.share()).abs() < 1e-12, "{tool:?}");
            found += usize::from(swept.rim > 0.01 && swept.rim < 0.99);
        }
        assert!(found > 10, "{found} rims pass through the surface");
    }
}

#[test]
fn corners_edges_and_faces_on_the_tool_do_no_harm() {
    let mut numbers = Numbers(11);
    for solid in bones(&mut numbers) {
        let mesh = solid.mesh();
        for k in 0..120 {
            let t = numbers.pick(mesh.triangles().len().min(400));
            let [a, b, c] = mesh.corners(t);
            let normal = mesh.area_vector(t).normalize();
            let on_face = a + (b - a) * 0.3 + (c - a) * 0.3;
            let any = numbers.vector(1.0);
            let axis = match k % 5 {
                0 => normal,
                1 => -normal,
                2 => b - a,
                3 => (b - a).cross(&any),
                _ => any,
            };
            let centre = match k / 5 % 6 {
                0 => a,
                1 => nalgebra::center(&a, &b),
                2 => on_face,
                3 => b - normal * 7.0,
                4 => on_face + numbers.vector(15.0),
                _ => on_face - axis.normalize() * 5.0,
            };
            let reach = [
                (c - centre).norm(),
                (a - centre).norm(),
                9.0,
                normal.dot(&(a - centre)).abs(),
            ];
            let radius = reach[k / 30].max(0.5);
            let head = Hemisphere::new(centre, axis, radius).unwrap();
            check(&solid, &numbers.column(head));
        }
    }
}

#[test]
fn round_numbers_on_a_box_agree_too() {
    // Faces, edges and corners of the box lie on the sphere, the equator and the column's wall.
    let boxes = [
        samples::cuboid([20.0; 3]),
        samples::cuboid([20.0; 3]).subdivided(),
    ];
    for solid in boxes.map(|mesh| Solid::try_from(mesh).unwrap()) {
        for place in 0..27 {
            let part = |unit: i32| f64::from(place / unit % 3 - 1) * 10.0;
            for axis in [
                [0.0, 0.0, 1.0],
                [0.0, -1.0, 0.0],
                [1.0, 1.0, 0.0],
                [-1.0, 2.0, 2.0],
            ] {
                for radius in [5.0, 10.0, 200.0_f64.sqrt(), 20.0, 40.0] {
                    let centre = [part(1), part(3), part(9)];
                    let head = Hemisphere::new(centre.into(), axis.into(), radius).unwrap();
                    check(&solid, &Bullet::open(head));
                    check(&solid, &Bullet::with_column(head, 10.0).unwrap());
                }
            }
        }
    }
}

#[test]
fn where_bone_overlaps_itself_it_counts_twice_in_area_and_once_on_the_rim() {
    let cube = samples::cuboid([40.0; 3]);
    let pair = cube.joined(&cube.moved(&Isometry3::translation(0.0, 10.0, 0.0)));
    let solid = Solid::try_from(pair).unwrap();
    let head = Hemisphere::new([3.0, 5.0, 1.0].into(), Vector3::new(0.2, 0.3, 1.0), 6.0).unwrap();
    let found = half_ball(&solid, &head, &mut Scratch::default());
    assert!((found.within.area / head.area() - 2.0).abs() < 1e-13);
    assert!((found.rim - 1.0).abs() < 1e-15);
}

#[test]
fn a_batch_gives_the_bits_of_single_questions_on_any_number_of_threads() {
    let solid = Solid::try_from(samples::lumpy_ball(25.0, 0.2, 120, 80)).unwrap();
    let mut numbers = Numbers(3);
    let mut placement = || {
        let axis = UnitVector3::new_normalize(Vector3::new(0.6, -0.2, 0.9) + numbers.vector(0.2));
        let centre = Point3::new(14.0, -6.0, 12.0) + numbers.vector(2.0);
        let at = |r: f64| Hemisphere::new(centre, axis.into_inner(), r).unwrap();
        let reamers = [11.0, 12.0, 12.5].map(|r| Bullet::open(at(r)));
        batch::Placement {
            cup: at(13.0),
            reamers: reamers.to_vec(),
        }
    };
    let placements: Vec<_> = (0..100).map(|_| placement()).collect();
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| batch::evaluate(&solid, &placements))
    };
    let found = on(1);
    assert_eq!(found, on(4));
    for (placement, measures) in placements.iter().zip(&found) {
        let batch::Placement { cup, reamers } = placement;
        assert_eq!(
            measures.coverage.to_bits(),
            within::coverage(&solid, cup).to_bits()
        );
        let removed = union::volume_in_union(&solid, reamers).unwrap();
        assert_eq!(measures.removed, Ok(removed));
        assert_eq!(
            removed.value.to_bits(),
            column::volume_in_bullet(&solid, &reamers[2]).to_bits()
        );
        assert_eq!(
            measures.coverage_after_reaming.value.to_bits(),
            measures.coverage.to_bits()
        );
        let behind = union::area_outside(&solid, cup, reamers);
        assert_eq!(
            (behind.value / cup.area()).to_bits(),
            measures.coverage.to_bits()
        );
        assert!(
            (measures.rim_contact - rim::arcs_inside(&solid, &cup.rim()).share()).abs() < 1e-12
        );
    }
}
