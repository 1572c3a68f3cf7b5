//! `cupwright cohort` as a program: killed and continued, and spread by an engine.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use std::{env, fs, thread};

const FILES: [&str; 3] = ["manifest.json", "cohort.csv", "cohort.parquet"];

fn cupwright() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cupwright"));
    command.arg("cohort").stdout(Stdio::null());
    command
}

#[track_caller]
fn is_done(command: &mut Command) {
    let ran = command.output().unwrap();
    let err = String::from_utf8_lossy(&ran.stderr);
    assert!(ran.status.success(), "{err}");
}

#[track_caller]
fn are_equal(a: &Path, b: &Path) {
    for file in FILES {
        let [a, b] = [a, b].map(|folder| fs::read(folder.join(file)).unwrap());
        assert!(a == b, "{file} differs");
    }
}

fn parts(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder.join("parts")) else {
        return Vec::new();
    };
    let paths = entries.map(|entry| entry.unwrap().path());
    let mut paths: Vec<_> = paths
        .filter(|p| p.extension().is_some_and(|e| e == "csv"))
        .collect();
    paths.sort();
    paths
}

#[test]
fn a_run_that_is_killed_goes_on_to_the_same_bytes() {
    let place = tempfile::tempdir().unwrap();
    let (killed, whole) = (place.path().join("killed"), place.path().join("whole"));
    let asked = ["--sample", "6", "--seed", "3", "--part", "1"];
    let mut child = cupwright()
        .args(asked)
        .arg("--out")
        .arg(&killed)
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    while parts(&killed).len() < 2 && begun.elapsed() < Duration::from_secs(300) {
        thread::sleep(Duration::from_millis(5));
    }
    // The signal that no program can catch.
    child.kill().unwrap();
    child.wait().unwrap();
    let there = parts(&killed);
    assert!((2..6).contains(&there.len()), "{} parts", there.len());
    assert!(!killed.join("cohort.csv").exists());
    let written = |path: &PathBuf| fs::metadata(path).unwrap().modified().unwrap();
    let times: Vec<_> = there.iter().map(written).collect();
    // As if it had been killed while writing.
    fs::write(killed.join("parts/.cupwright-x.part"), "member,eval").unwrap();
    is_done(cupwright().args(asked).arg("--out").arg(&killed));
    is_done(cupwright().args(asked).arg("--out").arg(&whole));
    are_equal(&killed, &whole);
    let still: Vec<_> = there.iter().map(written).collect();
    assert_eq!(times, still, "what was done is not done again");
    assert!(!killed.join("parts/.cupwright-x.part").exists());
}

/// The Python that has the packages of the example: that of `CUPWRIGHT_PYTHON`, which must have them, or
/// else that of the system, if it happens to.
fn python() -> Option<PathBuf> {
    let given = env::var_os("CUPWRIGHT_PYTHON").map(PathBuf::from);
    let python = given.clone().unwrap_or_else(|| "python3".into());
    let script = "import dask.distributed, pyarrow.parquet";
    let has = Command::new(&python)
        .args(["-c", script])
        .stderr(Stdio::null())
        .status();
    if has.is_ok_and(|status| status.success()) {
        return Some(python);
    }
    assert!(
        given.is_none(),
        "{} lacks dask, distributed or pyarrow",
        python.display()
    );
    None
}

#[test]
fn two_workers_of_an_engine_give_what_one_run_gives() {
    let Some(python) = python() else {
        eprintln!(
            "skipped: python3 with dask, distributed and pyarrow is not here; name one in CUPWRIGHT_PYTHON"
        );
        return;
    };
    let place = tempfile::tempdir().unwrap();
    let (spread, whole) = (
        place.path().join("verteilt über 2"),
        place.path().join("whole"),
    );
    let asked = ["--sample", "5", "--seed", "11", "--part", "2"];
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-models/cohort-dask");
    let ran = Command::new(&python)
        .arg(example.join("run.py"))
        .args([
            "--program",
            env!("CARGO_BIN_EXE_cupwright"),
            "--shares",
            "3",
            "--out",
        ])
        .arg(&spread)
        .arg("--")
        .args(asked)
        .output()
        .unwrap();
    let [out, err] =
        [ran.stdout, ran.stderr].map(|text| String::from_utf8_lossy(&text).into_owned());
    assert!(ran.status.success(), "{err}");
    assert!(out.contains("mean coverage after reaming"), "{out}");
    is_done(cupwright().args(asked).arg("--out").arg(&whole));
    are_equal(&spread, &whole);
    // What the engine's readers see is what the text says.
    let script = "import sys, csv, pyarrow.parquet as p\n\
        rows = p.read_table(sys.argv[1] + '/cohort.parquet').to_pylist()\n\
        lines = list(csv.DictReader(open(sys.argv[1] + '/cohort.csv', encoding='utf-8')))\n\
        assert len(rows) == len(lines) == 5\n\
        for row, line in zip(rows, lines):\n\
        \x20   assert list(row) == list(line)\n\
        \x20   for name, value in row.items():\n\
        \x20       text = line[name]\n\
        \x20       same = text == '' if value is None else type(value)(text) == value\n\
        \x20       assert same, (name, value, text)\n";
    let read = Command::new(&python)
        .args(["-c", script])
        .arg(&spread)
        .output()
        .unwrap();
    assert!(
        read.status.success(),
        "{}",
        String::from_utf8_lossy(&read.stderr)
    );
}
