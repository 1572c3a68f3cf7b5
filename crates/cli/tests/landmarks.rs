//! `cupwright landmarks` on a synthetic hip bone: guess, correct, write, read again, use in a case.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::path::Path;

use cupwright::{Console, Exit, Progress, Style, main_with};

struct Ran {
    exit: Exit,
    out: String,
    err: String,
}

/// Runs `cupwright LINE` in `folder`, whose name stands for `@`.
fn run(folder: &Path, line: &str) -> Ran {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut console = Console {
        out: &mut out,
        err: &mut err,
        style: Style::Plain,
        progress: Progress::Hidden,
    };
    let folder = format!("{}/", folder.display());
    let words = line.split_whitespace().map(|w| w.replace('@', &folder));
    let exit = main_with(
        std::iter::once("cupwright".into()).chain(words),
        &mut console,
    );
    let text = |bytes| String::from_utf8(bytes).unwrap();
    Ran {
        exit,
        out: text(out),
        err: text(err),
    }
}

fn document(ran: &Ran) -> serde_json::Value {
    assert_eq!(ran.exit, Exit::Done, "{}", ran.err);
    serde_json::from_str(&ran.out).unwrap()
}

fn place(document: &serde_json::Value, name: &str) -> [f64; 3] {
    let marks = document["landmarks"].as_array().unwrap();
    let mark = marks.iter().find(|m| m["name"] == name).unwrap();
    [0, 1, 2].map(|k| mark["at_mm"][k].as_f64().unwrap())
}

/// A folder with the bone that `line` makes, `hip.stl`.
fn with_bone(line: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let line = format!("pelvis {line} --resolution coarse --out @hip.stl");
    let made = run(folder.path(), &line);
    assert_eq!(made.exit, Exit::Done, "{}", made.err);
    folder
}

#[test]
fn landmarks_are_guessed_corrected_and_written() {
    let folder = with_bone("average-female --side left");
    let at = folder.path();
    let told = std::fs::read_to_string(at.join("hip.landmarks.ron")).unwrap();
    assert!(
        told.contains("version: 2,\n    unit: Millimetres,\n    axes: Pelvic,\n    side: Left,")
    );
    let found = document(&run(
        at,
        "landmarks @hip.stl --out @found.landmarks.ron --json",
    ));
    assert_eq!(
        (&found["side"], &found["part"]),
        (&"left".into(), &"hemipelvis".into())
    );
    let asis = place(&found, "asis_left");
    let off = [asis[0] + 119.0, asis[1], asis[2]];
    assert!(off.iter().all(|d| d.abs() < 2.0), "{asis:?}");
    let rows = found["if_off"].as_array().unwrap();
    assert_eq!(rows.len(), 5, "four landmarks and the midline");
    let tilt = rows[2]["tilt_deg"].as_f64().unwrap();
    assert!(
        (0.85..1.0).contains(&tilt),
        "1.5 mm over a plane 93 mm high: {tilt}"
    );

    // The corrected one counts, its mirror image follows, the rest stays as the file has it.
    let set = "landmarks @hip.stl --from @found.landmarks.ron --set asis=-119,0,10 --json";
    let corrected = document(&run(at, set));
    let apart = |name, from: [f64; 3]| {
        let to = place(&corrected, name);
        (0..3).map(|k| (to[k] - from[k]).abs()).fold(0.0, f64::max)
    };
    assert!(apart("asis_left", [-119.0, 0.0, 10.0]) < 1e-9);
    assert!((place(&corrected, "asis_right")[2] - 10.0).abs() < 1.5);
    let tubercle = place(&found, "pubic_tubercle_left");
    assert!(apart("pubic_tubercle_left", tubercle) < 1e-3);
}

#[test]
fn what_is_found_is_told_in_lines_of_80_columns_and_used_in_a_case() {
    let folder = with_bone("average-female --side left");
    let at = folder.path();
    let text = run(at, "landmarks @hip.stl --out @found.landmarks.ron").out;
    for line in [
        "a hemipelvis, left hip; side good: its mirror image fits",
        "face of the symphysis",
        "mirrored",
        "at most, if 3 mm off",
        "Not a medical device",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );

    let case = |axes: &str| {
        format!(
            "(version: 1, bone: File(path: \"hip.stl\", side: Left, axes: {axes}), orientation: Radiographic, \
             reamers: [(diameter_mm: 47)], cup: (diameter_mm: 48, inclination_deg: 40, anteversion_deg: 15))"
        )
    };
    let file = "LandmarksFile(\"found.landmarks.ron\")";
    std::fs::write(at.join("case.ron"), case(file)).unwrap();
    let ran = run(at, "run @case.ron --json");
    assert_eq!(ran.exit, Exit::Done, "{}", ran.err);
    std::fs::write(at.join("lost.ron"), case("LandmarksFile(\"none.ron\")")).unwrap();
    let lost = run(at, "run @lost.ron --json");
    assert_eq!(lost.exit, Exit::Error);
    assert!(
        lost.err.contains("none.ron: there is no such file"),
        "{}",
        lost.err
    );
}

#[test]
fn a_bone_in_another_unit_and_slips_of_the_pen_are_told() {
    let folder = with_bone("small");
    let at = folder.path();
    let mesh = cupwright_io::read_mesh(at.join("hip.stl")).unwrap().mesh;
    for (unit, flag, factor) in [
        ("metres", "m", 1000.0),
        ("centimetres", "cm", 10.0),
        ("inches", "in", 25.4),
    ] {
        let path = at.join(format!("{flag}.ply"));
        let format = cupwright_io::Format::for_path(&path).unwrap();
        cupwright_io::write_mesh(&path, &mesh.scaled(1.0 / factor), format).unwrap();
        let refused = run(at, &format!("landmarks @{flag}.ply"));
        let told = format!(
            "looks like a hemipelvis in {unit}; scale it by {factor}, or give --unit {flag}"
        );
        assert_eq!(refused.exit, Exit::Error);
        assert!(refused.err.contains(&told), "{}", refused.err);
        let found = document(&run(
            at,
            &format!("landmarks @{flag}.ply --unit {flag} --json"),
        ));
        assert!((place(&found, "asis_right")[1]).abs() < 2.0);
    }
    for (line, told) in [
        (
            "--set nose=1,2,3",
            "there is no landmark nose; there are: asis, pubic_tubercle, psis",
        ),
        ("--set asis", "'asis' is not NAME=X,Y,Z"),
        ("--set asis=1,2", "1,2"),
        ("--from @hip.stl", "hip.stl"),
        ("--error 0", "a length must be more than 0"),
        ("--error 31", "a landmark error of at most 30 mm"),
    ] {
        let refused = run(at, &format!("landmarks @hip.stl {line}"));
        assert_eq!(refused.exit, Exit::Error, "{line}");
        assert_eq!(refused.err.matches('\n').count(), 1, "{}", refused.err);
        assert!(refused.err.contains(told), "{line}: {}", refused.err);
    }
}
