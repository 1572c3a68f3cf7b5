//! Screws: the published quadrants, depths of a ball of bone, and the average pelvis.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use cupwright_anatomy::synthetic::Preset;
use cupwright_anatomy::{Both, Hour, Landmarks, Side};
use cupwright_procedure::placed::Placed;
use cupwright_procedure::screws::{NoScrews, Quadrant, ScrewInputs, ScrewsFinding, screws};
use cupwright_procedure::{Bone, Case, CaseFile};
use cupwright_tests::blocks;
use cupwright_tests::pelves::{self, Plan};
use nalgebra::Point3;

/// Landmarks of a right hip about the origin, the ASIS above, in front and lateral of it.
fn landmarks() -> Landmarks {
    let pair = |x: f64, y: f64, z: f64| Both {
        right: Point3::new(x, y, z),
        left: Point3::new(-170.0 - x, y, z),
    };
    Landmarks {
        asis: pair(30.0, 55.0, 76.0),
        pubic_tubercle: pair(-60.0, 55.0, -17.0),
        psis: None,
    }
}

fn block(deep: f64) -> Bone {
    Bone {
        landmarks: Some(landmarks()),
        ..blocks::block(600.0, deep, 1e-6)
    }
}

fn case() -> Case {
    blocks::case("(diameter_mm: 53)", 54.0)
}

#[test]
fn each_side_of_the_line_and_of_its_square_is_a_quadrant() {
    // Wasielewski 1990 as quoted in review: the line from the ASIS through the cup's centre parts front
    // from back, the one square to it above from below. Points on all four sides, by coordinates.
    let bone = block(200.0);
    let cup = Placed::cup(&case(), &bone).unwrap();
    let found = screws(&case(), &bone, &ScrewInputs::default()).unwrap();
    let axis = cup.head().axis().into_inner();
    let asis = landmarks().asis.right.coords;
    let up = (asis - axis * asis.dot(&axis)).normalize();
    // Behind: across the line, on the side away from the front of the body.
    let across = axis.cross(&up);
    let back = if across.y < 0.0 { across } else { -across };
    let line = Hour::from_hours(found.asis_clock_h);
    let at = |v| Quadrant::at(cup.hour_of(&v), line);
    assert_eq!(at(up + back * 0.1), Quadrant::PosteroSuperior);
    assert_eq!(at(up - back * 0.1), Quadrant::AnteroSuperior);
    assert_eq!(at(-up + back * 0.1), Quadrant::PosteroInferior);
    assert_eq!(at(-up - back * 0.1), Quadrant::AnteroInferior);
    assert_eq!(at(back + up * 0.1), Quadrant::PosteroSuperior);
    assert_eq!(at(back - up * 0.1), Quadrant::PosteroInferior);
}

#[test]
fn bone_behind_a_hole_ends_where_the_block_does() {
    // Square to the cup at an angle t from the pole, 90 mm from the centre to the back of the block.
    let found = screws(&case(), &block(90.0), &ScrewInputs::default()).unwrap();
    let down = found.bisector.from_pole_deg.to_radians();
    let expected = 90.0 / down.cos() - 27.0;
    assert!(
        (found.bisector.bone_mm - expected).abs() < 1e-6,
        "{}",
        found.bisector.bone_mm
    );
    assert_eq!(found.bisector.longest_safe_mm, Some(40.0));
    for hole in &found.holes {
        match hole.quadrant {
            Quadrant::PosteroSuperior => assert_eq!(hole.longest_safe_mm, Some(40.0)),
            Quadrant::PosteroInferior => assert_eq!(hole.longest_safe_mm, Some(20.0)),
            _ => assert_eq!(hole.longest_safe_mm, None),
        }
    }
}

#[test]
fn the_tip_stays_short_of_the_far_surface() {
    let inputs = ScrewInputs {
        tilt_deg: 0.0,
        ..ScrewInputs::default()
    };
    let found = screws(&case(), &block(48.0), &inputs).unwrap();
    let safe = found
        .holes
        .iter()
        .filter(|h| h.quadrant == Quadrant::PosteroSuperior);
    for hole in safe {
        let length = hole.longest_safe_mm.unwrap();
        assert!(
            length + 2.0 <= hole.bone_mm && hole.bone_mm < length + 7.0,
            "{hole:?}"
        );
    }
    // Leaning lengthens the way through a slab.
    let leaning = screws(&case(), &block(48.0), &ScrewInputs::default()).unwrap();
    let best = |f: &ScrewsFinding| f.quadrants[0].best.unwrap().longest_safe_mm.unwrap();
    assert!(best(&leaning) >= best(&found));
}

#[test]
fn a_high_centre_and_a_missing_asis_are_told() {
    let bone = block(200.0);
    let high = CaseFile::parse(
        "(version: 1, bone: Preset(name: \"block\", side: Right), orientation: Radiographic, \
         reamers: [(diameter_mm: 53)], cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15, \
         centre: (superior_mm: 15)))",
    );
    let high = high.unwrap().check().unwrap();
    let doubts = |case: &Case| {
        screws(case, &bone, &ScrewInputs::default())
            .unwrap()
            .unreliable_because
    };
    assert!(doubts(&case()).is_empty());
    assert!(
        doubts(&high)[0].contains("15 mm above the native one"),
        "{:?}",
        doubts(&high)
    );
    let bare = blocks::block(600.0, 200.0, 1e-6);
    assert_eq!(
        screws(&case(), &bare, &ScrewInputs::default()),
        Err(NoScrews::NoAsis)
    );
}

fn screws_of(preset: Preset, side: Side) -> ScrewsFinding {
    let bone = pelves::bone(preset, side);
    screws(&Plan::COMMON.case(&bone), &bone, &ScrewInputs::default()).unwrap()
}

#[test]
fn in_the_average_pelvis_bone_is_deepest_behind() {
    for preset in [Preset::AverageMale, Preset::AverageFemale] {
        let found = screws_of(preset, Side::Right);
        assert!(found.unreliable_because.is_empty());
        // Park 2021, J Arthroplasty 36:744: on the bisector of the postero-superior quadrant screws of 43 mm
        // were safe; within 10 mm of that somewhere in the cone, whose angle there we did not see.
        let on_bisector = [30.0, 45.0, 60.0, 75.0, 90.0].map(|cone_deg| {
            let inputs = ScrewInputs {
                cone_deg,
                ..ScrewInputs::default()
            };
            let bone = pelves::bone(preset, Side::Right);
            let found = screws(&Plan::COMMON.case(&bone), &bone, &inputs).unwrap();
            found.bisector.bone_mm
        });
        let near = on_bisector.iter().filter(|mm| (33.0..53.0).contains(*mm));
        assert!(near.count() > 0, "{on_bisector:?}");
        let depth = |quadrant| {
            let mut quadrants = found.quadrants.iter();
            quadrants
                .find(|q| q.quadrant == quadrant)
                .unwrap()
                .deepest_bone_mm
        };
        let in_front = depth(Quadrant::AnteroSuperior).max(depth(Quadrant::AnteroInferior));
        assert!(depth(Quadrant::PosteroSuperior) > 1.5 * in_front);
        assert!(depth(Quadrant::PosteroInferior) > 1.5 * in_front);
        let best = found.quadrants[0].best.unwrap();
        assert!(best.quadrant == Quadrant::PosteroSuperior);
        assert!(best.longest_safe_mm.unwrap() >= 30.0, "{best:?}");
    }
}

#[test]
fn a_left_hip_s_screws_are_those_of_its_mirror_image() {
    let [right, left] = [Side::Right, Side::Left].map(|side| screws_of(Preset::AverageMale, side));
    assert!((right.asis_clock_h - left.asis_clock_h).abs() < 1e-6);
    for (r, l) in right.holes.iter().zip(&left.holes) {
        assert_eq!(
            (r.quadrant, r.longest_safe_mm),
            (l.quadrant, l.longest_safe_mm)
        );
        assert!((r.bone_mm - l.bone_mm).abs() < 1e-3, "{r:?} {l:?}");
    }
}
