//! How commands answer when all is well: forms, exit codes, what goes where.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::io::{self, Write};

use cupwright::{Console, Exit, Progress, Style, main_with};
use cupwright_geometry::{samples, topology};
use cupwright_io::read_mesh;
use cupwright_tests::bones;
use cupwright_tests::desk::Desk;
use serde_json::{Value, json};

const SOCKET: &str = "--centre 50,14,-28 --axis 0.85,0.24,-0.47";

const CASE: &str = r#"(
    version: 1,
    bone: File(path: "bone.ply", side: Right, axes: Pelvic),
    orientation: Radiographic,
    reamers: [(diameter_mm: 53)],
    cup: (diameter_mm: 54, inclination_deg: 45, anteversion_deg: 15),
)"#;

fn desk_with_bone() -> Desk {
    let desk = Desk::new();
    desk.write_mesh("bone.ply", &bones::socketed());
    desk
}

/// The keys of an object, in their order.
fn keys(value: &Value) -> Vec<&str> {
    value
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect()
}

#[test]
fn measure_prints_one_document_of_the_promised_form() {
    let desk = desk_with_bone();
    let ran = desk.run(&format!(
        "measure --bone @bone.ply {SOCKET} --reamer 30,51.5 --reamer 53@49.9,14,-28/0.85,0.24,-0.47 --cup 54 --json"
    ));
    assert_eq!(
        ran.is_done().err,
        "cupwright: warning: reamer 1 (30 mm) touches no bone\n"
    );
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(keys(&document), ["schema", "bone", "reaming", "cup"]);
    assert_eq!(
        keys(&document["bone"]),
        ["triangles", "closed", "volume_mm3", "area_mm2"]
    );
    assert_eq!(document["bone"]["triangles"], 4200);
    assert_eq!(document["bone"]["closed"], true);
    let step = [
        "diameter_mm",
        "removed_mm3",
        "cumulative_removed_mm3",
        "error_bound_mm3",
    ];
    for reamer in document["reaming"].as_array().unwrap() {
        assert_eq!(keys(reamer), step);
    }
    let sizes = ["30", "51.5", "53"];
    for (k, size) in sizes.iter().enumerate() {
        // As they were typed: a whole number without a point.
        assert_eq!(document["reaming"][k]["diameter_mm"].to_string(), *size);
    }
    assert_eq!(document["reaming"][0]["removed_mm3"].to_string(), "0.0");
    assert_eq!(document["reaming"][1]["error_bound_mm3"].to_string(), "0.0");
    let taken = |k: usize, key: &str| document["reaming"][k][key].as_f64().unwrap();
    assert!(taken(1, "removed_mm3") > 100.0);
    let sum: f64 = (0..3).map(|k| taken(k, "removed_mm3")).sum();
    assert!((sum - taken(2, "cumulative_removed_mm3")).abs() < 1e-6);
    let cup = [
        "diameter_mm",
        "coverage",
        "coverage_after_reaming",
        "rim_contact",
        "rim_arcs_deg",
    ];
    assert_eq!(keys(&document["cup"]), cup);
    let share = |key: &str| document["cup"][key].as_f64().unwrap();
    assert!(share("coverage_after_reaming") <= share("coverage") && share("coverage") < 1.0);
    let arcs = document["cup"]["rim_arcs_deg"].as_array().unwrap();
    let degrees = arcs
        .iter()
        .map(|arc| arc[1].as_f64().unwrap() - arc[0].as_f64().unwrap());
    assert!((degrees.sum::<f64>() / 360.0 - share("rim_contact")).abs() < 1e-9);
}

#[test]
fn what_was_not_asked_is_empty_and_nothing_is_minus_zero() {
    let desk = desk_with_bone();
    let air = "--centre 500,0,0 --axis -1,0,0 --json";
    let document = |arguments: &str| {
        let ran = desk.run(&format!("measure --bone @bone.ply {air} {arguments}"));
        assert!(!ran.is_done().out.contains("-0.0"), "{}", ran.out);
        serde_json::from_str::<Value>(&ran.out).unwrap()
    };
    assert_eq!(document("--reamer 50")["cup"], Value::Null);
    assert_eq!(document("--cup 50")["reaming"], json!([]));
    assert_eq!(document("--cup 50")["cup"]["rim_arcs_deg"], json!([]));
    assert_eq!(document("--cup 50")["cup"]["coverage"].to_string(), "0.0");
}

#[test]
fn a_cup_deep_in_bone_is_covered_whole() {
    let desk = Desk::new();
    desk.write_mesh("block.stl", &samples::cuboid([200.0; 3]));
    let line = "measure --bone @block.stl --centre 0,0,0 --axis 0,0,1 --cup 50";
    let document: Value = serde_json::from_str(&desk.run(&format!("{line} --json")).out).unwrap();
    for share in ["coverage", "coverage_after_reaming", "rim_contact"] {
        assert_eq!(document["cup"][share].to_string(), "1.0", "{share}");
    }
    assert_eq!(document["cup"]["rim_arcs_deg"], json!([[0.0, 360.0]]));
    let told = desk.run(line).out;
    assert!(
        told.contains("rim      100.00 % in bone: all round"),
        "{told}"
    );
}

#[test]
fn measure_in_words_says_the_same() {
    let desk = desk_with_bone();
    let line = format!("measure --bone @bone.ply {SOCKET} --reamer 53 --cup 54");
    let told = desk.run(&line).out;
    let document: Value = serde_json::from_str(&desk.run(&format!("{line} --json")).out).unwrap();
    let number = |value: &Value| value.as_f64().unwrap();
    let removed = number(&document["reaming"][0]["removed_mm3"]);
    let expected = format!("reamer   53 mm: {removed:.3} mm³ removed, {removed:.3} mm³ so far\n");
    assert!(told.contains(&expected), "{told}");
    let (before, after) = (
        &document["cup"]["coverage"],
        &document["cup"]["coverage_after_reaming"],
    );
    let (before, after) = (100.0 * number(before), 100.0 * number(after));
    let expected = format!("cup      54 mm: coverage {before:.2} %, after reaming {after:.2} %\n");
    assert!(told.contains(&expected), "{told}");
}

#[test]
fn a_column_limits_what_a_reamer_takes_on_its_way_in() {
    let desk = Desk::new();
    desk.write_mesh("block.stl", &samples::cuboid([200.0; 3]));
    let removed = |arguments: &str| {
        let line = format!(
            "measure --bone @block.stl --centre 0,0,0 --axis 0,0,1 --reamer 50 --json {arguments}"
        );
        let document: Value = serde_json::from_str(&desk.run(&line).out).unwrap();
        document["reaming"][0]["removed_mm3"].as_f64().unwrap()
    };
    let per_mm = std::f64::consts::PI * 25.0 * 25.0;
    assert!((removed("") - removed("--column 10") - 90.0 * per_mm).abs() < 1e-6);
}

const REPORT: [&str; 9] = [
    "balls.csv",
    "findings.json",
    "motion.csv",
    "reaming.svg",
    "report.txt",
    "rim-clock.svg",
    "rim.csv",
    "sheet.html",
    "steps.csv",
];

#[test]
fn meshes_of_a_case_are_written_beside_its_report_closed_and_of_its_volumes() {
    let desk = desk_with_bone();
    let reamers = "(diameter_mm: 50, centre: (medial_mm: 2)), (diameter_mm: 53.5)";
    desk.write("case.ron", CASE.replace("(diameter_mm: 53)", reamers));
    let meshes = [
        "bone-reamed",
        "cup-54mm",
        "reamer-1-50mm",
        "reamer-2-53.5mm",
        "removed-1-50mm",
        "removed-2-53.5mm",
    ];
    for format in ["stl", "ply"] {
        let ran = desk.run(&format!("run @case.ron --out @{format} --meshes {format}"));
        assert!(ran.is_done().err.contains(&format!("cup-54mm.{format}")));
        let found = |name: &str| desk.path(&format!("{format}/{name}"));
        let files = std::fs::read_dir(found("")).unwrap();
        let names = files.map(|file| file.unwrap().file_name().into_string().unwrap());
        let mut expected: Vec<_> = meshes.map(|name| format!("{name}.{format}")).into();
        expected.extend(REPORT.map(String::from));
        expected.sort();
        let mut names: Vec<_> = names.collect();
        names.sort();
        assert_eq!(names, expected);
        let document: Value =
            serde_json::from_str(&desk.text(&format!("{format}/findings.json"))).unwrap();
        for name in meshes {
            let mesh = read_mesh(found(&format!("{name}.{format}"))).unwrap().mesh;
            assert_eq!(
                topology::faulty_edges(mesh.triangles()),
                [],
                "{name}.{format}"
            );
            let Some(step) = name.strip_prefix("removed-") else {
                continue;
            };
            let step = usize::from(step.starts_with('2'));
            let removed = document["findings"]["reaming"][step]["removed_mm3"]
                .as_f64()
                .unwrap();
            // Facets stand no more than 0.02 mm off the surfaces of reamers.
            let (volume, off) = (mesh.volume(), 0.02 * mesh.area());
            assert!(
                (volume - removed).abs() < off,
                "{name}.{format}: {volume}, not {removed} ± {off}"
            );
        }
    }
}

#[test]
fn inspect_prints_one_document_of_the_promised_form() {
    let desk = Desk::new();
    let mesh = bones::socketed();
    desk.write_mesh("bone.stl", &mesh);
    let ran = desk.run("inspect @bone.stl --json");
    assert_eq!(ran.is_done().err, "");
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    let promised = [
        "triangles",
        "closed",
        "oriented",
        "shells",
        "genus",
        "volume_mm3",
        "area_mm2",
        "defects",
        "socket",
    ];
    let found = keys(&document);
    assert!(promised.iter().all(|key| found.contains(key)), "{found:?}");
    assert_eq!(document["triangles"], 4200);
    assert_eq!(
        (&document["shells"], &document["genus"]),
        (&json!(1), &json!(0))
    );
    let volume = document["volume_mm3"].as_f64().unwrap();
    assert!((volume / mesh.volume() - 1.0).abs() < 1e-6);
    let open =
        cupwright_geometry::TriMesh::new(mesh.vertices().to_vec(), mesh.triangles()[1..].to_vec());
    desk.write_mesh("open.stl", &open.unwrap());
    let open: Value =
        serde_json::from_str(&desk.run("inspect @open.stl --json").is_done().out).unwrap();
    assert_eq!(open["closed"], false);
    assert_eq!(
        (&open["volume_mm3"], &open["genus"]),
        (&Value::Null, &Value::Null)
    );
    assert_eq!(open["defects"][0]["kind"], "open");
    let turned = mesh.reversed();
    desk.write_mesh("turned.stl", &turned);
    let turned = desk.run("inspect @turned.stl");
    assert!(
        turned.is_done().out.contains("oriented   NO"),
        "{}",
        turned.out
    );
}

#[test]
fn inspect_finds_the_socket_of_a_bone_or_says_why_not() {
    let desk = Desk::new();
    desk.write_mesh("block.stl", &samples::cuboid([150.0, 160.0, 170.0]));
    let ran = desk.run("inspect @block.stl --json");
    let document: Value = serde_json::from_str(&ran.is_done().out).unwrap();
    assert_eq!(document["socket"], Value::Null);
    assert_eq!(document["defects"][0]["kind"], "no-socket");
    let told = desk.run("inspect @block.stl").out;
    assert!(told.contains("socket     none found: "), "{told}");
    assert!(
        told.contains("ready      but a case has to say where the socket is"),
        "{told}"
    );
}

#[test]
fn every_command_has_help_with_an_example() {
    let desk = Desk::new();
    for command in ["", "run", "measure", "inspect", "mend", "pelvis"] {
        for flag in ["--help", "-h"] {
            let ran = desk.run(&format!("{command} {flag}"));
            assert_eq!(ran.is_done().err, "");
            assert!(ran.out.contains("Example"), "{command}: {}", ran.out);
            assert!(
                ran.out.contains(&format!("  cupwright {command}")),
                "{command}: {}",
                ran.out
            );
        }
    }
    let first = desk
        .run("--help")
        .out
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(first.contains("Not a medical device, not validated for treating anyone"));
    let version = format!("cupwright {}\n", env!("CARGO_PKG_VERSION"));
    assert_eq!(desk.run("--version").is_done().out, version);
    let presets = desk.run("pelvis --list").is_done().out.clone();
    for name in [
        "average-male",
        "shallow-3",
        "retroverted",
        "worn",
        "socket_diameter_mm",
    ] {
        assert!(presets.contains(name), "{name}");
    }
}

/// A reader that has gone away.
struct Gone;

impl Write for Gone {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(io::ErrorKind::BrokenPipe.into())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_reader_that_goes_away_is_no_error_and_the_files_are_there() {
    let desk = desk_with_bone();
    desk.write(
        "case.ron",
        CASE.replace(
            "Pelvic",
            "Pelvic, hip_centre_mm: (50, 14, -28), socket_diameter_mm: 52",
        ),
    );
    for line in [
        "run @case.ron --out @out",
        "run @case.ron --json",
        "inspect @bone.ply --json",
        "inspect @bone.ply",
        "measure --bone @bone.ply --centre 0,0,0 --axis 0,0,1 --cup 50 --json",
        "--help",
    ] {
        let (out, err) = (&mut Gone, &mut Vec::new());
        let (style, progress) = (Style::Plain, Progress::Hidden);
        let mut console = Console {
            out,
            err,
            style,
            progress,
        };
        assert_eq!(
            main_with(desk.arguments(line), &mut console),
            Exit::Done,
            "{line}"
        );
    }
    assert!(desk.text("out/report.txt").contains("CUP 54.0 mm"));
}

#[test]
fn a_run_goes_on_where_nobody_hears_its_remarks() {
    let desk = desk_with_bone();
    let mut out = Vec::new();
    let line = "measure --bone @bone.ply --centre 500,0,0 --axis 0,0,1 --reamer 50 --json";
    let exit = main_with(
        desk.arguments(line),
        &mut Console {
            out: &mut out,
            err: &mut Gone,
            style: Style::Plain,
            progress: Progress::Hidden,
        },
    );
    assert_eq!(exit, Exit::Done);
    assert!(serde_json::from_slice::<Value>(&out).is_ok());
}
