use std::f64::consts::PI;

use approx::assert_relative_eq;
use nalgebra::{Isometry3, Point3, Vector3};

use super::*;
use crate::cut::{Tolerance, shell};
use crate::{Hemisphere, Solid, crossing, samples};

fn plane(point: [f64; 3], normal: [f64; 3]) -> Plane {
    Plane::new(point.into(), normal.into()).unwrap()
}

fn moved(mesh: &TriMesh, by: [f64; 3]) -> TriMesh {
    mesh.moved(&Isometry3::translation(by[0], by[1], by[2]))
}

/// The section, after everything was checked that holds of every section of a closed mesh.
#[track_caller]
fn checked(mesh: &TriMesh, plane: &Plane) -> CrossSection {
    let section = cross_section(mesh, plane);
    let normal = plane.normal().into_inner();
    let size = mesh.bounds().unwrap().extent().norm();
    for p in section.points() {
        assert!(
            plane.height(p).abs() < 1e-13 * size,
            "{p} lies off the plane"
        );
    }
    let mut area = 0.0;
    for corners in section.triangles() {
        let [a, b, c] = corners.map(|id| section.points()[id as usize]);
        let signed = 0.5 * normal.dot(&(b - a).cross(&(c - a)));
        assert!(signed > -1e-13 * size * size, "a triangle faces backward");
        area += signed;
    }
    let within = 1e-12 * size * size;
    assert!((area - section.area()).abs() < within);
    let enclosed: f64 = section
        .outline()
        .map(|points| enclosed(&points, plane))
        .sum();
    assert!(
        (enclosed - area).abs() < within,
        "outlines enclose {enclosed}, triangles {area}"
    );
    section
}

/// The area that a closed curve goes round, counter-clockwise positive.
fn enclosed(points: &[Point3<f64>], plane: &Plane) -> f64 {
    let next = points.iter().cycle().skip(1);
    let twice = points.iter().zip(next).map(|(p, q)| {
        let (p, q) = (p - points[0], q - points[0]);
        plane.normal().dot(&p.cross(&q))
    });
    0.5 * twice.sum::<f64>()
}

#[test]
fn a_box_has_the_rectangle_that_it_is_cut_in() {
    let block = samples::cuboid([2.0, 3.0, 4.0]);
    for height in [-1.9, -0.3, 0.0, 1.2345] {
        let section = checked(&block, &plane([7.0, -9.0, height], [0.0, 0.0, 1.0]));
        assert_relative_eq!(section.area(), 6.0, max_relative = 1e-14);
        assert_eq!(section.outline().count(), 1);
    }
    let diagonal = checked(&block, &plane([0.0; 3], [3.0, -2.0, 0.0]));
    assert_relative_eq!(diagonal.area(), 4.0 * 13.0_f64.sqrt(), max_relative = 1e-14);
}

#[test]
fn a_cube_cut_at_right_angles_to_its_diagonal_is_a_hexagon() {
    let section = checked(
        &samples::cuboid([1.0; 3]),
        &plane([0.0; 3], [1.0, 1.0, 1.0]),
    );
    assert_relative_eq!(section.area(), 0.75 * 3.0_f64.sqrt(), max_relative = 1e-14);
}

#[test]
fn a_sphere_gives_discs_within_what_its_facets_take() {
    let (radius, ball) = (25.0, samples::sphere(25.0, 5));
    let flattest = (0..ball.triangles().len()).map(|t| {
        let normal = ball.area_vector(t).normalize();
        normal.dot(&ball.corners(t)[0].coords)
    });
    let inner = flattest.fold(radius, f64::min);
    for (k, height) in [-20.0, -7.3, 0.1, 13.0].into_iter().enumerate() {
        let normal: Vector3<f64> = [0.3, 0.1 * f64::from(u8::try_from(k).unwrap()), 0.9].into();
        let level = Plane::new(Point3::origin(), normal)
            .unwrap()
            .shifted(height);
        let area = checked(&ball, &level).area();
        let disc = |r: f64| PI * (r * r - height * height);
        assert!(
            disc(inner) < area && area < disc(radius),
            "{area} at {height}"
        );
    }
}

#[test]
fn the_shell_of_a_cup_is_a_ring_across_and_a_horseshoe_along() {
    let head = Hemisphere::new(Point3::origin(), Vector3::z(), 25.0).unwrap();
    let tolerance = Tolerance::new(1e-3).unwrap();
    let cup = shell::half_ball(&head, 4.0, tolerance).unwrap();
    let ring = checked(&cup, &plane([0.0, 0.0, -7.0], [0.0, 0.0, 1.0]));
    assert_relative_eq!(
        ring.area(),
        PI * (25.0 * 25.0 - 21.0 * 21.0),
        max_relative = 1e-3
    );
    let level = *ring.plane();
    let mut areas: Vec<_> = ring
        .outline()
        .map(|points| enclosed(&points, &level))
        .collect();
    areas.sort_by(f64::total_cmp);
    assert_eq!(areas.len(), 2);
    assert!(
        areas[0] < 0.0 && areas[1] > 0.0,
        "the hole runs clockwise: {areas:?}"
    );
    let along = checked(&cup, &plane([0.0; 3], [0.3, 1.0, 0.0]));
    assert_eq!(along.outline().count(), 1);
    assert_relative_eq!(
        along.area(),
        PI / 2.0 * (25.0 * 25.0 - 21.0 * 21.0),
        max_relative = 1e-3
    );
}

#[test]
fn sections_stacked_up_are_the_volume() {
    for (mesh, steps) in [
        (samples::lumpy_ball(24.0, 0.25, 60, 40), 400),
        (samples::torus(20.0, 7.0, 48, 24), 400),
    ] {
        let [low, high] = [-40.0, 40.0];
        let step = (high - low) / f64::from(steps);
        let upright = plane([0.0; 3], [0.2, -0.4, 1.0]);
        let areas = (0..steps).map(|k| {
            let level = upright.shifted(low + (f64::from(k) + 0.5) * step);
            checked(&mesh, &level).area()
        });
        let volume = areas.sum::<f64>() * step;
        assert_relative_eq!(volume, mesh.volume(), max_relative = 1e-4);
    }
}

#[test]
fn corners_on_the_plane_count_as_above_it() {
    let block = samples::cuboid([2.0; 3]);
    let up = [0.0, 0.0, 1.0];
    assert_relative_eq!(checked(&block, &plane([0.0, 0.0, 1.0], up)).area(), 4.0);
    assert!(checked(&block, &plane([0.0, 0.0, -1.0], up)).is_empty());
    // Every edge of this ball's equator lies in the plane, and through its poles every vertex too.
    let ball = samples::sphere(3.0, 4);
    for normal in [up, [1.0, 0.0, 0.0], [1.0, 1.0, 0.0]] {
        let section = checked(&ball, &plane([0.0; 3], normal));
        let near = checked(&ball, &plane([0.0; 3], normal).shifted(-1e-9));
        assert_eq!(section.outline().count(), 1);
        assert_relative_eq!(section.area(), near.area(), max_relative = 1e-8);
    }
}

#[test]
fn a_plane_through_single_corners_keeps_its_section() {
    let lumpy = samples::lumpy_ball(24.0, 0.25, 40, 30);
    let vertices = lumpy.vertices();
    for k in 0..40 {
        let [a, b, c] = [7 * k, 11 * k + 300, 1100 - 5 * k].map(|i| vertices[i]);
        let Ok(through) = Plane::new(a, (b - a).cross(&(c - a))) else {
            continue;
        };
        let area = checked(&lumpy, &through).area();
        let near = checked(&lumpy, &through.shifted(1e-7)).area();
        assert!((area - near).abs() < 1e-4, "{area} but {near} beside it");
    }
}

#[test]
fn a_plane_beside_the_mesh_has_an_empty_section() {
    let section = cross_section(
        &samples::sphere(3.0, 2),
        &plane([0.0, 3.1, 0.0], [0.0, 1.0, 0.0]),
    );
    assert!(section.is_empty());
    assert_eq!(
        (section.area().to_bits(), section.outline().count()),
        (0, 0)
    );
}

#[test]
fn from_below_the_section_is_the_same() {
    let lumpy = samples::lumpy_ball(24.0, 0.25, 60, 40);
    for height in [-11.0, 0.3, 8.0] {
        let level = plane([0.0, 0.0, height], [0.5, 0.2, 1.0]);
        let (above, below) = (checked(&lumpy, &level), checked(&lumpy, &level.reversed()));
        assert_relative_eq!(above.area(), below.area(), max_relative = 1e-13);
        assert_eq!(above.outline().count(), below.outline().count());
    }
}

#[test]
fn shells_apart_nested_and_hollow_are_told_from_each_other() {
    let block = |edge: f64| samples::cuboid([edge; 3]);
    let level = plane([0.0; 3], [0.0, 0.0, 1.0]);
    let apart = block(2.0).joined(&moved(&block(2.0), [5.0, 0.0, 0.0]));
    assert_relative_eq!(checked(&apart, &level).area(), 8.0, max_relative = 1e-14);
    // A shell inside out encloses nothing where it is alone.
    let inverted = block(2.0).joined(&moved(&block(2.0).reversed(), [5.0, 0.0, 0.0]));
    assert_relative_eq!(checked(&inverted, &level).area(), 4.0, max_relative = 1e-14);
    let hollow = block(8.0).joined(&block(4.0).reversed());
    assert_relative_eq!(checked(&hollow, &level).area(), 48.0, max_relative = 1e-14);
    let with_core = hollow.joined(&block(2.0));
    let section = checked(&with_core, &level);
    assert_relative_eq!(section.area(), 52.0, max_relative = 1e-14);
    assert_eq!(section.outline().count(), 3);
    let twice = block(8.0).joined(&block(4.0));
    let section = checked(&twice, &level);
    assert_relative_eq!(section.area(), 64.0, max_relative = 1e-14);
    assert_eq!(section.outline().count(), 1);
}

#[test]
fn shells_that_pass_through_each_other_stay_filled() {
    let level = plane([0.0; 3], [0.0, 0.0, 1.0]);
    let crossing = samples::cuboid([2.0; 3]).joined(&samples::cuboid([1.0, 6.0, 3.0]));
    let crossed = checked(&crossing, &level);
    assert_relative_eq!(crossed.area(), 8.0, max_relative = 1e-14);
    assert_eq!(crossed.outline().count(), 1);
    // One through the other at a slant, so that no crossing is a round number.
    let turn = Isometry3::rotation(Vector3::new(0.0, 0.0, 0.5));
    let slanted = samples::cuboid([2.0; 3]).joined(&samples::cuboid([0.5, 6.0, 3.0]).moved(&turn));
    let bar = checked(&samples::cuboid([0.5, 6.0, 3.0]), &level).area();
    let common = 0.5 * 2.0 / 0.5_f64.cos();
    assert_relative_eq!(
        checked(&slanted, &level).area(),
        4.0 + bar - common,
        max_relative = 1e-13
    );
    let lumps = samples::lumpy_ball(24.0, 0.25, 60, 40);
    let pile = (1..6).fold(lumps.clone(), |pile, k| {
        pile.joined(&moved(
            &lumps,
            [3.7 * f64::from(k), 1.3 * f64::from(k), 0.0],
        ))
    });
    let solid = Solid::try_from(pile.clone()).unwrap();
    let section = checked(&pile, &level);
    assert_rows_agree(&solid, &section);
}

/// The section's area against the length in bone of lines across it.
#[track_caller]
fn assert_rows_agree(solid: &Solid, section: &CrossSection) {
    let rows = 2000;
    let step = 120.0 / f64::from(rows);
    let length = (0..rows).map(|k| {
        let from = Point3::new(-100.0, -60.0 + (f64::from(k) + 0.5) * step, 0.0);
        let stretches = crossing::intervals_inside(solid, &from, &Vector3::x_axis());
        stretches.iter().map(|[a, b]| b - a).sum::<f64>()
    });
    let area = length.sum::<f64>() * step;
    assert_relative_eq!(section.area(), area, max_relative = 1e-3);
}

#[test]
fn a_bone_far_from_the_origin_and_a_plane_far_from_the_bone_lose_little() {
    let far = moved(&samples::sphere(20.0, 4), [9e5, -4e5, 7e5]);
    let level = plane([9e5, -4e5, 7e5 + 3.0], [0.1, 0.2, 1.0]);
    let near = samples::sphere(20.0, 4);
    let expected = checked(&near, &plane([0.0, 0.0, 3.0], [0.1, 0.2, 1.0])).area();
    let area = cross_section(&far, &level).area();
    assert_relative_eq!(area, expected, max_relative = 1e-8);
    let sideways = Vector3::new(2.0, -1.0, 0.0) * 1e5;
    let shifted = Plane::new(level.point() + sideways, level.normal().into_inner()).unwrap();
    assert_relative_eq!(
        cross_section(&far, &shifted).area(),
        expected,
        max_relative = 1e-8
    );
}

#[test]
fn an_open_mesh_and_numbers_without_meaning_still_give_an_answer() {
    let ball = samples::sphere(3.0, 3);
    let open = TriMesh::new(ball.vertices().to_vec(), ball.triangles()[..300].to_vec()).unwrap();
    cross_section(&open, &plane([0.0, 0.0, 0.1], [0.2, 0.1, 1.0]));
    for size in [1e-300, 1e-150, 1e100, 1e200, 1e307] {
        cross_section(&ball.scaled(size), &plane([0.0; 3], [0.2, 0.1, 1.0]));
    }
}
