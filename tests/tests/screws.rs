//! Screws: the published quadrants, depths of a ball of bone, and the average pelvis.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use cupwright_anatomy::synthetic::{Preset, Resolution, pelvis};
use cupwright_anatomy::{Both, Hour, Landmarks, PelvicFrame, Side};
use cupwright_geometry::Solid;
use cupwright_procedure::placed::Placed;
use cupwright_procedure::screws::{NoScrews, Quadrant, ScrewInputs, ScrewsFinding, screws};
use cupwright_procedure::{Bone, Case, CaseFile};
use cupwright_tests::blocks;
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
    assert_eq!(found.bisector.longest_safe_mm, Some(70.0));
    for hole in &found.holes {
        match hole.quadrant {
            Quadrant::PosteroSuperior => assert_eq!(hole.longest_safe_mm, Some(70.0)),
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
    let found = screws(&case(), &block(62.0), &inputs).unwrap();
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
    let leaning = screws(&case(), &block(62.0), &ScrewInputs::default()).unwrap();
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

fn planned(preset: Preset, side: Side) -> (Bone, Case) {
    let pelvis = pelvis(&preset.shape().unwrap(), side, Resolution::Coarse).unwrap();
    let frame = PelvicFrame::anterior_pelvic_plane(&pelvis.landmarks).unwrap();
    let bone = Bone {
        solid: Solid::try_from(pelvis.mesh).unwrap().into(),
        source: preset.name().into(),
        side,
        landmarks: Some(pelvis.landmarks),
        to_pelvic: frame.to_pelvic(),
        native_centre: pelvis.socket.centre,
        native_radius: pelvis.socket.radius,
        layers: None,
    };
    let native = 2.0 * bone.native_radius;
    let text = format!(
        "(version: 1, bone: Preset(name: \"{}\", side: {side:?}), orientation: Radiographic, \
         reamers: [(diameter_mm: {})], cup: (diameter_mm: {}, inclination_deg: 40, \
         anteversion_deg: 15, centre: (medial_mm: 3)))",
        preset.name(),
        native + 1.0,
        native + 2.0,
    );
    (bone, CaseFile::parse(&text).unwrap().check().unwrap())
}

#[test]
fn in_the_average_pelvis_bone_is_deepest_behind_and_above() {
    for preset in [Preset::AverageMale, Preset::AverageFemale] {
        let (bone, case) = planned(preset, Side::Right);
        let found = screws(&case, &bone, &ScrewInputs::default()).unwrap();
        eprintln!(
            "{} asis {} bisector {:?}",
            preset.name(),
            found.asis_clock_h,
            found.bisector
        );
        for q in &found.quadrants {
            eprintln!(
                "{} {:?} {:.1} {:?}",
                q.quadrant,
                q.clock_h,
                q.deepest_bone_mm,
                q.best.map(|b| (
                    b.clock_h,
                    b.from_pole_deg,
                    b.tilt_deg,
                    b.bone_mm,
                    b.longest_safe_mm
                ))
            );
        }
    }
}

#[test]
fn a_left_hip_s_screws_are_those_of_its_mirror_image() {
    let [right, left] = [Side::Right, Side::Left].map(|side| {
        let (bone, case) = planned(Preset::AverageMale, side);
        screws(&case, &bone, &ScrewInputs::default()).unwrap()
    });
    assert!((right.asis_clock_h - left.asis_clock_h).abs() < 1e-6);
    for (r, l) in right.holes.iter().zip(&left.holes) {
        assert_eq!(
            (r.quadrant, r.longest_safe_mm),
            (l.quadrant, l.longest_safe_mm)
        );
        assert!((r.bone_mm - l.bone_mm).abs() < 1e-3, "{r:?} {l:?}");
    }
}
