//! The studies' commands: forms, files, exit codes, slips of the key.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use cupwright::Exit;
use cupwright_procedure::CaseFile;
use cupwright_tests::bones;
use cupwright_tests::desk::{Desk, Ran};
use serde_json::Value;

const CASE: &str = r#"(
    version: 1,
    bone: File(path: "bone.ply", side: Right, axes: Pelvic, hip_centre_mm: (50, 14, -28), socket_diameter_mm: 52),
    orientation: Radiographic,
    reamers: [(diameter_mm: 51), (diameter_mm: 53)],
    cup: (diameter_mm: 54, inclination_deg: 45, anteversion_deg: 15),
)"#;

fn desk() -> Desk {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &bones::socketed());
    desk.write("case.ron", CASE);
    desk
}

fn document(ran: &Ran) -> Value {
    serde_json::from_str(&ran.out).unwrap()
}

#[test]
fn a_map_is_one_document_with_its_rows() {
    let desk = desk();
    let ran = desk.run(
        "map @case.ron --x depth=-4..4:5 --y inclination=40..50:3 --of coverage --of removed --json",
    );
    let document = document(ran.is_done());
    assert_eq!(document["study"], "map");
    assert_eq!(document["orientation"], "radiographic");
    let result = &document["result"];
    assert_eq!(result["x"]["variable"], "depth_mm");
    assert_eq!(result["layers"][1]["measure"], "removed_mm3");
    let rows = result["layers"][1]["rows"].as_array().unwrap();
    assert_eq!((rows.len(), rows[0].as_array().unwrap().len()), (3, 5));
    for row in rows {
        let removed: Vec<f64> = row
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_f64().unwrap())
            .collect();
        assert!(
            removed.windows(2).all(|pair| pair[0] < pair[1]),
            "deeper takes more: {removed:?}"
        );
    }
    assert_eq!(result["kept_share"], 1.0);
}

#[test]
fn every_study_writes_its_files_and_says_so() {
    let desk = desk();
    let studies = [
        (
            "map @case.ron --x depth=-2..2:3 --y inclination=40..50:3 --out @out",
            vec!["map-coverage.svg", "map.csv", "map.json", "map.txt"],
        ),
        (
            "sensitivity @case.ron --of coverage --of removed --out @out",
            vec![
                "sensitivity.csv",
                "sensitivity.json",
                "sensitivity.svg",
                "sensitivity.txt",
            ],
        ),
        (
            "scatter @case.ron --draws 200 --zone lewinnek --min-coverage 0.5 --out @out",
            vec![
                "scatter-influence.csv",
                "scatter-influence.svg",
                "scatter-misses.csv",
                "scatter.csv",
                "scatter.json",
                "scatter.txt",
            ],
        ),
        (
            "increments @case.ron --start 47 --step 2,3 --off 0.5 --tries 1 --out @out",
            vec![
                "increments-hands.csv",
                "increments.csv",
                "increments.json",
                "increments.svg",
                "increments.txt",
            ],
        ),
    ];
    for (line, files) in studies {
        let ran = desk.run(line);
        assert!(ran.is_done().err.contains("wrote "), "{}", ran.err);
        for file in files {
            let text = desk.text(&format!("out/{file}"));
            assert!(text.len() > 40, "{file}");
            if !file.ends_with(".csv") {
                assert!(text.contains("Not a medical device"), "{file}");
            }
        }
        // No line is wider than a terminal, and nothing is told as no number.
        assert!(
            ran.out.lines().all(|line| line.chars().count() <= 80),
            "{}",
            ran.out
        );
        assert!(!ran.out.contains("NaN"), "{}", ran.out);
    }
}

#[test]
fn placements_come_back_as_cases_that_keep_the_limits() {
    let desk = desk();
    let ran = desk.run(
        "place @case.ron --vary depth=-6..6 --vary inclination=40..50 --samples 60 --placements 4 \
         --min-coverage 0.6 --out @out",
    );
    assert_eq!(ran.exit, Exit::Done, "{}", ran.err);
    assert!(
        ran.out.contains("What stands in the way of more"),
        "{}",
        ran.out
    );
    let first = desk.text("out/place-1.case.ron");
    assert!(CaseFile::parse(&first).is_ok());
    let again = desk.run("run @out/place-1.case.ron --min-coverage 0.6 --json");
    assert_eq!(again.exit, Exit::Done, "{}", again.err);
}

#[test]
fn limits_that_nothing_keeps_end_with_exit_code_1() {
    let desk = desk();
    let place = desk.run(
        "place @case.ron --vary depth=-6..0 --samples 30 --min-coverage 0.999 --max-removed 10",
    );
    assert_eq!(place.exit, Exit::LimitNotMet, "{}", place.err);
    assert!(place.out.contains("NOT met"), "{}", place.out);
    let map = desk.run("map @case.ron --x depth=-6..0:3 --y tilt=0..5:2 --max-removed 1");
    assert_eq!(map.exit, Exit::LimitNotMet, "{}", map.err);
    let often = desk.run("scatter @case.ron --draws 100 --zone 44..46/14..16 --max-miss 0.1");
    assert_eq!(often.exit, Exit::LimitNotMet, "{}", often.err);
}

#[test]
fn a_seed_gives_the_same_document_again() {
    let desk = desk();
    let line =
        "scatter @case.ron --draws 300 --seed 4 --technique straight --posture standing --json";
    let (once, again) = (desk.run(line), desk.run(line));
    assert_eq!(once.is_done().out, again.out);
    let other = desk.run(&line.replace("--seed 4", "--seed 5"));
    assert_ne!(once.out, other.out);
}

#[test]
fn slips_are_told_in_one_line() {
    let desk = desk();
    for (line, told) in [
        ("map @case.ron --x width=1..2", "cup-diameter"),
        ("map @case.ron --x depth=2..1", "'2..1' is no range"),
        ("map @case.ron --x depth=0..1:1", "2 to 2001"),
        ("map @case.ron --x anteversion=0..50", "give two variables"),
        ("map @case.ron --of beauty", "rim-contact"),
        (
            "map @case.ron --x anteversion=0..120:3 --y depth=0..1:2",
            "between -90 and 90",
        ),
        ("place @case.ron --goal interference", "is no goal"),
        (
            "place @case.ron --vary depth=0..1 --vary depth=0..2",
            "given twice",
        ),
        ("scatter @case.ron --draws 1", "2 to 10000000"),
        ("scatter @case.ron --error depth=1", "lacks a number"),
        ("scatter @case.ron --error depth=1,-2", "no distribution"),
        ("scatter @case.ron --zone nowhere", "is no zone"),
        ("scatter @case.ron --min-wall -3", "min_wall_mm"),
        ("increments @case.ron --start 60", "no series"),
        ("increments @case.ron --off 30", "at most 20 mm"),
        ("increments @case.ron --tries 0", "at least 1"),
        ("sensitivity @case.ron --step depth=0", "positive number"),
        ("sensitivity @missing.ron", "there is no such file"),
    ] {
        let ran = desk.run(line);
        ran.is_refused(&[told]);
    }
}

#[test]
fn every_study_has_help_with_an_example() {
    let desk = desk();
    for study in ["map", "place", "scatter", "increments", "sensitivity"] {
        let ran = desk.run(&format!("{study} --help"));
        assert!(
            ran.is_done()
                .out
                .contains(&format!("cupwright {study} case.ron")),
            "{}",
            ran.out
        );
    }
}
