use super::*;
use crate::samples;
use crate::solid::Solid;
use nalgebra::{Isometry3, Vector3};

/// Everything that can be asked for without a size of the surface's own.
fn mended(mesh: &TriMesh) -> Mended {
    let mut mending = Mending::of(mesh);
    mending.join(0.02);
    mending.drop_surplus();
    mending.agree();
    mending.drop_crumbs(5.0);
    mending.untangle(30.0);
    mending.close_holes(20.0);
    mending.drop_slivers();
    mending.face_out();
    mending.finish().unwrap()
}

fn ball() -> TriMesh {
    samples::lumpy_ball(30.0, 0.2, 90, 60)
}

fn with(mesh: &TriMesh, change: impl Fn(&mut Vec<Point3<f64>>, &mut Vec<[u32; 3]>)) -> TriMesh {
    let (mut vertices, mut triangles) = (mesh.vertices().to_vec(), mesh.triangles().to_vec());
    change(&mut vertices, &mut triangles);
    TriMesh::new(vertices, triangles).unwrap()
}

#[test]
fn a_sound_surface_comes_back_as_it_was() {
    let ball = ball();
    let mended = mended(&ball);
    assert!(mended.changes.is_empty() && mended.left.is_empty());
    assert_eq!(mended.mesh, ball);
    assert!(mended.difference(&ball).whole().is_nothing());
}

#[test]
fn many_defects_at_once_are_mended_and_each_is_told() {
    let ball = ball();
    let crumb = samples::sphere(1.0, 2).moved(&Isometry3::translation(60.0, 0.0, 0.0));
    let broken = with(&ball.joined(&crumb), |_, triangles| {
        triangles.drain(2000..2012);
        triangles.push(triangles[77]);
        for t in (0..300).step_by(7) {
            triangles[t].swap(0, 1);
        }
    });
    let found = mended(&broken);
    let kinds: Vec<_> = found.changes.iter().map(Change::kind).collect();
    for kind in ["copies-dropped", "turned", "crumbs-dropped", "hole-closed"] {
        assert!(kinds.contains(&kind), "{kind} is not in {kinds:?}");
    }
    assert!(found.left.is_empty(), "{:?}", found.left);
    let solid = Solid::try_from(found.mesh.clone()).unwrap();
    assert!((solid.volume() / ball.volume() - 1.0).abs() < 1e-3);
    let changed = found.difference(&broken).whole();
    assert!(changed.moved.is_none_or(|far| far.distance < 1e-9));
    assert!(changed.reach.is_some_and(|far| far.distance > 0.1));
    assert!(changed.turned > 0.0);
}

#[test]
fn a_spike_through_the_far_side_is_cut_out() {
    let ball = ball();
    let tip = ball
        .vertices()
        .iter()
        .zip(0_usize..)
        .max_by(|a, b| a.0.z.total_cmp(&b.0.z));
    let tip = tip.map(|(_, v)| v).unwrap();
    let low = ball
        .vertices()
        .iter()
        .map(|p| p.z)
        .fold(f64::INFINITY, f64::min);
    let broken = with(&ball, |vertices, _| {
        vertices[tip] = Point3::new(0.37, 0.23, low - 5.0)
    });
    let found = {
        let mut mending = Mending::of(&broken);
        mending.untangle(200.0);
        mending.finish().unwrap()
    };
    assert!(
        found
            .changes
            .iter()
            .any(|c| matches!(c, Change::Untangled { .. }))
    );
    assert!(found.left.iter().all(Left::is_harmless), "{:?}", found.left);
    assert!(Solid::try_from(found.mesh).is_ok());
    // Not asked for at that width, it stays and is told.
    let mut narrow = Mending::of(&broken);
    narrow.untangle(1.0);
    let narrow = narrow.finish().unwrap();
    assert!(narrow.changes.is_empty());
    let crosses = |left: &Left| {
        matches!(
            left,
            Left::Crossing {
                between_pieces: false,
                ..
            }
        )
    };
    assert!(narrow.left.iter().any(crosses));
}

#[test]
fn a_hole_wider_than_asked_stays_and_is_told() {
    let ball = ball();
    let open = with(&ball, |_, triangles| {
        triangles.truncate(triangles.len() * 3 / 4);
    });
    let found = mended(&open);
    assert!(matches!(found.left[..], [Left::Hole { across, .. }] if across > 20.0));
    assert!(Solid::try_from(found.mesh).is_err());
}

#[test]
fn loose_triangles_too_far_apart_are_not_taken_for_crumbs() {
    let ball = samples::sphere(20.0, 3);
    let corners = (0..ball.triangles().len()).flat_map(|t| {
        let off = Vector3::from_element(0.1 * f64::from(u32::try_from(t % 7).unwrap()));
        ball.corners(t).map(|p| p + off)
    });
    let triangles = (0..512).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect();
    let loose = TriMesh::new(corners.collect(), triangles).unwrap();
    let mut mending = Mending::of(&loose);
    mending.drop_crumbs(10.0);
    let found = mending.finish().unwrap();
    assert_eq!(found.mesh.triangles().len(), 512);
    assert!(matches!(found.left[0], Left::Loose { pieces: 511 }));
}

#[test]
fn pieces_not_wanted_are_left_out_and_count_as_dropped() {
    let pair =
        ball().joined(&samples::sphere(8.0, 3).moved(&Isometry3::translation(60.0, 0.0, 0.0)));
    let found = pieces(&pair);
    let mut mending = Mending::of(&pair);
    mending.keep(&[&found[1]]);
    let kept = mending.finish().unwrap();
    assert_eq!(kept.mesh.triangles().len(), found[1].triangles.len());
    assert!(matches!(
        kept.changes[..],
        [Change::PiecesDropped { pieces: 1, .. }]
    ));
    let changed = kept.difference(&pair).whole();
    assert!(changed.moved.is_none_or(|far| far.distance < 1e-12));
}

#[test]
fn remeshing_tells_how_far_the_surface_moved() {
    let ball = samples::lumpy_ball(30.0, 0.2, 60, 40);
    let mut mending = Mending::of(&ball);
    mending.remesh(1.5);
    let found = mending.finish().unwrap();
    assert!(matches!(found.changes[..], [Change::Remeshed { .. }]));
    let moved = found.difference(&ball).whole().moved.unwrap().distance;
    assert!(moved > 1e-4 && moved < 0.4, "{moved}");
    assert!((found.mesh.volume() / ball.volume() - 1.0).abs() < 2e-3);
}
