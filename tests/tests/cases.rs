//! Golden cases: `tests/cases/NAME.ron` on a ball with a socket, and what it gave when somebody last
//! looked at it and found it right, in `NAME.expected.json`.
//!
//! `CUPWRIGHT_BLESS=1 cargo test -p cupwright-tests --test cases` writes those files anew; look at
//! what changed before committing them. A field that is only in the findings is left for the next
//! blessing; one that is only in the file is an error.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use cupwright::Exit;
use cupwright_anatomy::Side;
use cupwright_geometry::{TriMesh, samples};
use cupwright_procedure::CaseFile;
use cupwright_procedure::case::{AxesEntry, BoneEntry, Limits, PieceEntry, SideEntry};
use cupwright_procedure::unit::Unit;
use cupwright_tests::bones;
use cupwright_tests::desk::Desk;
use nalgebra::{Isometry3, Point3, Vector3};
use serde_json::{Value, json};

/// Relative difference that another machine's sines and roots may make.
const RELATIVE: f64 = 1e-6;
/// Absolute difference that it may make: in mm, mm², mm³, degrees, shares.
const ABSOLUTE: f64 = 1e-6;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("cases")
}

fn case(name: &str) -> CaseFile {
    let text = fs::read_to_string(folder().join(name).with_extension("ron")).unwrap();
    CaseFile::parse(&text).unwrap()
}

/// Exit code and findings of a case on the socketed ball, which is moved.
fn found_on(case: &CaseFile, moved: &Isometry3<f64>, arguments: &str) -> (Exit, Value) {
    found_by(&case.to_text().unwrap(), case, moved, arguments)
}

/// The same of a case as it is typed.
fn found_by(text: &str, case: &CaseFile, moved: &Isometry3<f64>, arguments: &str) -> (Exit, Value) {
    let right = bones::socketed();
    let bone = match case.bone.side() {
        Side::Right => right,
        Side::Left => right.mirrored_x(),
    };
    found_in(&bone.moved(moved), text, arguments)
}

/// The same on a mesh.
fn found_in(bone: &TriMesh, text: &str, arguments: &str) -> (Exit, Value) {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", bone);
    desk.write("case.ron", text);
    let ran = desk.run(&format!("run @case.ron --json {arguments}"));
    assert_ne!(ran.exit, Exit::Error, "{}", ran.err);
    let mut document: Value = serde_json::from_str(&ran.out).unwrap();
    let mut findings = document["findings"].take();
    let source = findings["bone"]["source"].as_str().unwrap();
    assert!(source.ends_with("bone.ply"));
    findings["bone"]["source"] = "bone.ply".into();
    // A search to 0.01 mm, whose last digits depend on the order of triangles: it has tests of its own.
    assert!(findings["bone_on_bone"].take().is_object());
    (ran.exit, findings)
}

fn found(case: &CaseFile) -> (Exit, Value) {
    found_on(case, &Isometry3::identity(), "")
}

/// What a golden case gives, run once for all tests.
fn golden(name: &str) -> (Exit, Value) {
    static NESTED: OnceLock<(Exit, Value)> = OnceLock::new();
    static DEEPENING: OnceLock<(Exit, Value)> = OnceLock::new();
    let once = if name == "nested" {
        &NESTED
    } else {
        &DEEPENING
    };
    once.get_or_init(|| found(&case(name))).clone()
}

/// Holds if the numbers of `found` are those of `expected` but for rounding, and all else is the same.
#[track_caller]
fn agrees(place: &str, expected: &Value, found: &Value) {
    match (expected, found) {
        (Value::Number(expected), Value::Number(found)) => {
            let (e, f) = (expected.as_f64().unwrap(), found.as_f64().unwrap());
            // A bound depends on how an integral happened to be split.
            let bound = place.ends_with("error_bound") || place.ends_with("error_bound_mm3");
            let relative = if bound { 0.1 } else { RELATIVE };
            let allowed = ABSOLUTE + relative * e.abs();
            assert!((e - f).abs() <= allowed, "{place}: {f}, expected {e}");
        }
        (Value::Array(expected), Value::Array(found)) => {
            assert_eq!(expected.len(), found.len(), "{place}: {found:?}");
            for (k, (expected, found)) in expected.iter().zip(found).enumerate() {
                agrees(&format!("{place}[{k}]"), expected, found);
            }
        }
        (Value::Object(expected), Value::Object(found)) => {
            for (key, expected) in expected {
                let found = found.get(key);
                let found = found.unwrap_or_else(|| panic!("{place}.{key} is missing"));
                agrees(&format!("{place}.{key}"), expected, found);
            }
        }
        _ => assert_eq!(expected, found, "{place}"),
    }
}

#[track_caller]
fn is_as_expected(name: &str) {
    let (exit, findings) = golden(name);
    let found = json!({ "exit": exit.code(), "findings": findings });
    let path = folder().join(name).with_extension("expected.json");
    if std::env::var_os("CUPWRIGHT_BLESS").is_some() {
        let text = serde_json::to_string_pretty(&found).unwrap() + "\n";
        fs::write(&path, text).unwrap();
    }
    let expected = serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    agrees(name, &expected, &found);
}

#[test]
fn concentric_reamers() {
    is_as_expected("nested");
}

#[test]
fn reamers_that_move() {
    is_as_expected("deepening");
}

/// The case for the other hip.
fn other_hip(mut case: CaseFile) -> CaseFile {
    if let BoneEntry::File {
        side,
        hip_centre_mm: Some([x, ..]),
        ..
    } = &mut case.bone
    {
        *x = -*x;
        *side = match side {
            SideEntry::Right => SideEntry::Left,
            SideEntry::Left => SideEntry::Right,
        };
    }
    case
}

/// What is told in the coordinates of the bone's file, and so is not the same on both sides.
fn without_coordinates(mut findings: Value) -> Value {
    let cup = findings["cup"].as_object_mut().unwrap();
    assert!(cup.remove("centre_mm").is_some() && cup.remove("axis").is_some());
    findings
}

#[test]
fn a_left_hip_and_its_mirror_image_read_alike() {
    for name in ["nested", "deepening"] {
        let (exit, here) = golden(name);
        let (mirrored_exit, mut there) = found(&other_hip(case(name)));
        assert_eq!(exit, mirrored_exit);
        assert_ne!(here["bone"]["side"], there["bone"]["side"]);
        there["bone"]["side"] = here["bone"]["side"].clone();
        for key in ["centre_mm", "axis"] {
            let (here, there) = (&here["cup"][key], &there["cup"][key]);
            let x = |value: &Value| value[0].as_f64().unwrap();
            assert!((x(here) + x(there)).abs() < 1e-9, "{here} {there}");
        }
        let (here, there) = (without_coordinates(here), without_coordinates(there));
        agrees(name, &here, &there);
    }
}

#[test]
fn a_bone_that_lies_askew_reads_alike_once_its_landmarks_are_given() {
    let askew = Isometry3::new(
        Vector3::new(300.0, -40.0, 7.0),
        Vector3::new(0.4, -1.1, 2.0),
    );
    let at = |x: f64, y: f64, z: f64| (askew * Point3::new(x, y, z)).into();
    let mut turned = case("nested");
    if let BoneEntry::File {
        axes,
        hip_centre_mm,
        ..
    } = &mut turned.bone
    {
        let [x, y, z] = bones::SOCKET_CENTRE;
        *hip_centre_mm = Some(at(x, y, z));
        *axes = AxesEntry::Landmarks {
            asis_right_mm: at(120.0, 0.0, 0.0),
            asis_left_mm: at(-120.0, 0.0, 0.0),
            pubic_tubercle_right_mm: at(25.0, 0.0, -90.0),
            pubic_tubercle_left_mm: at(-25.0, 0.0, -90.0),
            psis_right_left_mm: None,
        };
    }
    let (_, straight) = golden("nested");
    let (_, turned) = found_on(&turned, &askew, "");
    let (straight, mut turned) = (without_coordinates(straight), without_coordinates(turned));
    // Screws are told where the ASIS is known, which the straight case does not give.
    assert!(straight["screws"].is_null() && turned["screws"].take().is_object());
    agrees("askew", &straight, &turned);
}

/// The socketed ball and a cube beside it, in inches, its axes left-posterior-superior.
fn odd_file() -> TriMesh {
    let half_turn = Isometry3::rotation(Vector3::z() * std::f64::consts::PI);
    let beside = Isometry3::translation(300.0, 0.0, 0.0);
    let both = bones::socketed().joined(&samples::cuboid([30.0; 3]).moved(&beside));
    both.moved(&half_turn).scaled(1.0 / 25.4)
}

/// The nested case on that file, with one of its words replaced.
fn case_of_odd_file(what: &str, instead: &str) -> String {
    let typed = fs::read_to_string(folder().join("nested.ron")).unwrap();
    let plain = "axes: Pelvic,\n        hip_centre_mm: (50, 14, -28)";
    let odd =
        "axes: LeftPosteriorSuperior, unit: Inches, piece: Largest, hip_centre_mm: (-50, -14, -28)";
    assert!(typed.contains(plain) && odd.contains(what));
    typed.replace(plain, &odd.replace(what, instead))
}

#[test]
fn a_file_in_another_unit_with_other_axes_and_another_bone_reads_alike_once_the_case_says_so() {
    let (exit, expected) = golden("nested");
    let expected = without_coordinates(expected);
    for piece in ["Largest", "Number(1)"] {
        let text = case_of_odd_file("Largest", piece);
        let (found, findings) = found_in(&odd_file(), &text, "");
        assert_eq!(found, exit);
        agrees(piece, &expected, &without_coordinates(findings));
    }
}

#[test]
fn what_a_case_leaves_unsaid_of_its_file_or_says_wrong_is_told_with_the_way_out() {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &odd_file());
    let units = "Millimetres, Centimetres, Inches, Metres";
    let refusals: [(&str, &str, &[&str]); 6] = [
        (
            "unit: Inches,",
            "",
            &[
                "bone.ply: ",
                "it looks like inches, not mm",
                "give unit: Inches in the case",
            ],
        ),
        (
            "piece: Largest,",
            "",
            &[
                "2 separate bones",
                "give piece: WithSocket, Largest or Number(2)",
            ],
        ),
        (
            "Largest",
            "Number(3)",
            &["bone.piece: there is no piece 3", "2 piece(s)"],
        ),
        (
            "Largest",
            "WithSocket",
            &["none of the 2 piece(s)", "socket of a right hip"],
        ),
        ("Inches", "Feet", &["line ", "there is no Feet here", units]),
        (
            "Largest",
            "Smallest",
            &["there is no Smallest here", "WithSocket, Largest, Number"],
        ),
    ];
    for (what, instead, told) in refusals {
        desk.write("case.ron", case_of_odd_file(what, instead));
        desk.run("run @case.ron").is_refused(told);
    }
}

#[test]
fn what_a_case_says_of_its_file_is_written_and_read_again() {
    let mut case = case("nested");
    if let BoneEntry::File {
        unit, piece, axes, ..
    } = &mut case.bone
    {
        *unit = Some(Unit::Centimetres);
        *piece = Some(PieceEntry::Number(2));
        *axes = AxesEntry::LeftPosteriorSuperior;
    }
    let written = case.to_text().unwrap();
    assert_eq!(CaseFile::parse(&written).unwrap(), case);
}

#[test]
fn a_case_written_anew_gives_the_same_findings_to_the_bit() {
    for name in ["nested", "deepening"] {
        let typed = fs::read_to_string(folder().join(name).with_extension("ron")).unwrap();
        let written = case(name).to_text().unwrap();
        assert_ne!(typed, written);
        let again = CaseFile::parse(&written).unwrap();
        assert_eq!(again, case(name));
        // The golden findings are those of the case as written.
        let (exit, findings) = golden(name);
        assert_eq!(
            found_by(&typed, &again, &Isometry3::identity(), ""),
            (exit, findings)
        );
    }
}

#[test]
fn limits_set_the_exit_code() {
    let mut case = case("nested");
    let (exit, findings) = golden("nested");
    assert_eq!(exit, Exit::Done);
    let covered = findings["cup"]["coverage_after_reaming"].as_f64().unwrap();
    let removed = findings["reaming"][2]["cumulative_removed_mm3"]
        .as_f64()
        .unwrap();
    assert!(covered > 0.1 && covered < 0.9 && removed > 100.0);

    let with = |case: &CaseFile, arguments: &str| found_on(case, &Isometry3::identity(), arguments);
    case.limits = Limits::default();
    assert_eq!(with(&case, "").0, Exit::Done);
    let (exit, findings) = with(&case, &format!("--min-coverage {}", covered + 0.01));
    assert_eq!(exit, Exit::LimitNotMet);
    assert_eq!(findings["limits"][0]["limit"], "min_coverage");
    assert_eq!(findings["limits"][0]["met"], false);
    let (exit, findings) = with(&case, &format!("--min-coverage {}", covered - 0.01));
    assert_eq!(exit, Exit::Done);
    assert_eq!(findings["limits"][0]["met"], true);

    case.limits.max_removed_mm3 = Some(removed - 1.0);
    assert_eq!(with(&case, "").0, Exit::LimitNotMet);
    case.limits.max_removed_mm3 = Some(removed + 1.0);
    assert_eq!(with(&case, "").0, Exit::Done);
    case.limits.min_coverage = Some(covered + 0.01);
    assert_eq!(with(&case, "").0, Exit::LimitNotMet);
    // What is asked on the command line replaces what the case asks.
    let weaker = format!("--min-coverage {}", covered - 0.01);
    assert_eq!(with(&case, &weaker).0, Exit::Done);
}
