//! A disk that fills up while a command writes: what was there stays, and nothing half written is left.

#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// Runs `cupwright` where no file may grow beyond some kilobytes; to a program that looks the same as a full disk.
fn on_a_full_disk(folder: &Path, arguments: &[&str]) -> Output {
    let limited = "trap '' XFSZ; ulimit -f 16; exec \"$0\" \"$@\"";
    Command::new("sh")
        .args(["-c", limited, env!("CARGO_BIN_EXE_cupwright")])
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap()
}

fn is_told(ran: &Output, file: &str) {
    let told = String::from_utf8_lossy(&ran.stderr);
    assert_eq!(ran.status.code(), Some(2), "{told}");
    assert!(told.contains(file), "{told}");
    assert!(!told.contains("panicked"), "{told}");
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    let mut names: Vec<_> = names.collect();
    names.sort();
    names
}

#[test]
fn a_mesh_that_does_not_fit_leaves_the_old_one() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path();
    fs::write(folder.join("hip.stl"), "old").unwrap();
    let ran = on_a_full_disk(folder, &["pelvis", "small", "--out", "hip.stl"]);
    is_told(&ran, "hip.stl");
    assert_eq!(fs::read_to_string(folder.join("hip.stl")).unwrap(), "old");
    assert_eq!(names(folder), ["hip.stl"]);
}

#[test]
fn a_report_that_does_not_fit_leaves_the_old_one() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path();
    fs::create_dir(folder.join("cupwright-out")).unwrap();
    let old = folder.join("cupwright-out/report.txt");
    fs::write(&old, "old").unwrap();
    let ran = on_a_full_disk(folder, &[]);
    is_told(&ran, "cupwright-out");
    assert_eq!(fs::read_to_string(old).unwrap(), "old");
    assert_eq!(names(&folder.join("cupwright-out")), ["report.txt"]);
}
