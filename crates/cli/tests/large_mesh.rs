//! A bone of 600,000 triangles: the program takes less than ten times the memory that the mesh
//! takes, in its file (50 bytes a triangle) or, less still, as coordinates and indices.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]
#![expect(clippy::print_stdout, reason = "a test prints what it measured")]

use std::f64::consts::PI;
use std::fs;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;

use cupwright_geometry::{TriMesh, samples};
use cupwright_io::Format;
use serde_json::Value;

/// How many times the size of the mesh the program may take.
const MOST: f64 = 10.0;

#[test]
fn six_hundred_thousand_triangles_take_less_than_ten_times_their_size() {
    let mesh = samples::lumpy_ball(40.0, 0.0, 600, 501);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.stl");
    cupwright_io::write_mesh(&path, &mesh, Format::StlBinary).unwrap();

    let mut program = measuring(&path);
    let peak = peak_memory(&mut program);
    let output = program.wait_with_output().unwrap();
    assert!(output.status.success());
    check_answers(&serde_json::from_slice(&output.stdout).unwrap());

    let Some(peak) = peak else {
        println!("memory is not checked: this system has no /proc that tells it");
        return;
    };
    let file = fs::metadata(&path).unwrap().len();
    let times = |size: u64| peak as f64 / size as f64;
    println!(
        "peak {:.0} MB: {:.1} times the file, {:.1} times the mesh in memory",
        peak as f64 / 1e6,
        times(file),
        times(in_memory(&mesh)),
    );
    assert!(times(file) < MOST);
    assert!(times(in_memory(&mesh)) < MOST);
}

/// The program at work on the bone: half ball, bullet and rim.
fn measuring(bone: &Path) -> Child {
    Command::new(env!("CARGO_BIN_EXE_cupwright"))
        .args(["measure", "--json", "--bone"])
        .arg(bone)
        .args(["--centre", "0,21,28", "--axis", "0,0.6,0.8"])
        .args(["--reamer", "52", "--cup", "52"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Cup and reamer of radius 26 mm, 35 mm out of the middle of a sphere of 40 mm: the surfaces meet
/// (40² − 26² + 35²) / (2 · 35) mm out. Below lies a cap of the tool, above one of the sphere, whose
/// facets are 0.001 mm lower than it at most.
fn check_answers(found: &Value) {
    let meeting = (40.0 * 40.0 - 26.0 * 26.0 + 35.0 * 35.0) / 70.0;
    let cap = |radius: f64, height: f64| PI / 3.0 * height * height * (3.0 * radius - height);
    let removed = cap(26.0, meeting - 9.0) + cap(40.0, 40.0 - meeting);
    let near = |value: &Value, expected: f64| {
        let value = value.as_f64().unwrap();
        assert!((value / expected - 1.0).abs() < 1e-4, "{value} {expected}");
    };
    assert_eq!(found["bone"]["triangles"], 600_000);
    near(&found["reaming"][0]["removed_mm3"], removed);
    near(&found["cup"]["coverage"], (meeting - 9.0) / 26.0);
    assert_eq!(found["cup"]["rim_contact"], 0.0);
}

/// The most memory that the program has had until it ends, in bytes; `None` where the system does
/// not tell.
///
/// The system keeps the mark itself, so that looking now and then misses no peak but one in the
/// last millisecond.
fn peak_memory(program: &mut Child) -> Option<u64> {
    high_water_mark("self")?;
    let mut peak = None;
    while program.try_wait().unwrap().is_none() {
        peak = high_water_mark(&program.id().to_string()).max(peak);
        thread::sleep(Duration::from_millis(1));
    }
    assert!(peak.is_some(), "the program ended unseen");
    peak
}

/// The line `VmHWM: 1234 kB` of a process's status.
fn high_water_mark(process: &str) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    let kilobytes: u64 = line.trim().strip_suffix(" kB")?.parse().ok()?;
    Some(1024 * kilobytes)
}

/// What the coordinates and indices of a mesh take, in bytes.
fn in_memory(mesh: &TriMesh) -> u64 {
    let vertices = size_of_val(mesh.vertices());
    (vertices + size_of_val(mesh.triangles())) as u64
}
