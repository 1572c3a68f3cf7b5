//! Motion until femur and pelvis meet: what a high hip centre does to it, and that it converges.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::sync::OnceLock;

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::Preset;
use cupwright_procedure::Bone;
use cupwright_procedure::joint::bony::{BonyFinding, First, bony_motion, bony_motion_of};
use cupwright_procedure::joint::femur::FemurPart;
use cupwright_procedure::joint::{Joint, JointEntry, Movement};
use cupwright_tests::joints::Cup;
use cupwright_tests::pelves::bone;

fn man() -> &'static Bone {
    static MADE: OnceLock<Bone> = OnceLock::new();
    MADE.get_or_init(|| bone(Preset::AverageMale, Side::Right))
}

fn joint(shift: [f64; 3], side: &'static str) -> Joint {
    let cup = Cup {
        shift,
        side,
        ..Cup::film(40.0, 15.0)
    };
    let mut entry = JointEntry::default();
    entry.target.leg_length_mm = -shift[1];
    Joint::new(&entry, &cup.case()).unwrap()
}

fn range(found: &BonyFinding, movement: Movement) -> f64 {
    let mut each = found.movements.iter();
    let found = each.find(|m| m.movement == movement).unwrap();
    found.range_deg.unwrap_or(180.0)
}

/// The joint at its native height, against the average man.
fn native() -> &'static BonyFinding {
    static MADE: OnceLock<BonyFinding> = OnceLock::new();
    MADE.get_or_init(|| bony_motion(&joint([0.0; 3], "Right"), man()).unwrap())
}

#[test]
fn a_high_hip_centre_takes_flexion_and_internal_rotation() {
    // Komiyama 2016, J Arthroplasty 31:2342 (32 hips): a higher centre lowers flexion and internal rotation.
    // That it raises extension and external rotation, as printed there too, this femur does not show: there
    // its lesser trochanter meets the ischium, wherever the centre is.
    let [high, higher] =
        [10.0, 20.0].map(|s| bony_motion(&joint([0.0, s, 0.0], "Right"), man()).unwrap());
    for movement in [
        Movement::Flexion,
        Movement::InternalRotation,
        Movement::InternalRotationAt90Flexion,
        Movement::InternalRotationAt90FlexionAdducted,
        Movement::FlexionAdductedTurnedIn,
    ] {
        let ranges = [native(), &high, &higher].map(|found| range(found, movement));
        let falls = ranges[0] > ranges[1] + 2.0 && ranges[1] > ranges[2] + 2.0;
        assert!(falls, "{movement}: {ranges:?}");
    }
}

#[test]
fn a_finer_femur_moves_as_far() {
    let fine = bony_motion_of(&joint([0.0; 3], "Right"), man(), 128).unwrap();
    for movement in Movement::ALL {
        let [usual, fine] = [native(), &fine].map(|found| range(found, movement));
        assert!((usual - fine).abs() < 0.1, "{movement}: {usual} {fine}");
    }
}

#[test]
fn a_left_hip_moves_as_its_mirror_image() {
    // The two meshes are not mirror images triangle by triangle.
    let left = bone(Preset::AverageMale, Side::Left);
    let theirs = bony_motion(&joint([0.0; 3], "Left"), &left).unwrap();
    for (a, b) in native().movements.iter().zip(&theirs.movements) {
        let (a_range, b_range) = (a.range_deg.unwrap_or(180.0), b.range_deg.unwrap_or(180.0));
        assert!(
            (a_range - b_range).abs() < 0.5,
            "{}: {a_range} {b_range}",
            a.movement
        );
        assert_eq!(a.first, b.first);
    }
}

#[test]
fn what_meets_what_is_told() {
    let found = native();
    let at = |movement| {
        let mut each = found.movements.iter();
        *each.find(|m| m.movement == movement).unwrap()
    };
    let abduction = at(Movement::Abduction);
    let contact = abduction.contact.unwrap();
    assert_eq!(contact.femur_part, FemurPart::GreaterTrochanter);
    assert!(contact.on_pelvis.superior_mm > 10.0, "{contact:?}");
    let turned_in = at(Movement::InternalRotationAt90Flexion).contact.unwrap();
    assert!(turned_in.on_pelvis.anterior_mm > 0.0, "{turned_in:?}");
    assert!(found.movements.iter().any(|m| m.first == First::Implant));
}
