//! The program itself, as a user starts it for the first time.

use std::process::Command;

#[test]
fn the_demonstration_runs_and_its_files_are_there() {
    let folder = tempfile::tempdir().unwrap();
    let ran = Command::new(env!("CARGO_BIN_EXE_cupwright"))
        .current_dir(folder.path())
        .output()
        .unwrap();
    let (out, err) = (
        String::from_utf8(ran.stdout).unwrap(),
        String::from_utf8(ran.stderr).unwrap(),
    );
    assert_eq!(ran.status.code(), Some(0), "{err}");
    assert!(
        out.contains("Right hip of synthetic preset average-male"),
        "{out}"
    );
    assert!(out.contains("Not a medical device"), "{out}");
    assert!(!out.contains('\u{1b}'), "no colours where nobody sees them");
    let written = "cupwright: wrote findings.json, steps.csv, rim.csv, balls.csv, motion.csv, reaming.svg, rim-clock.svg, sheet.html, report.txt to cupwright-out\n";
    assert!(err.ends_with(written), "{err}");
    assert!(
        !err.contains('\r') && !err.contains('\u{1b}'),
        "no progress: {err:?}"
    );
    let report = std::fs::read_to_string(folder.path().join("cupwright-out/report.txt")).unwrap();
    assert_eq!(report, out);
    assert_eq!(
        std::fs::read_dir(folder.path().join("cupwright-out"))
            .unwrap()
            .count(),
        9
    );
}
