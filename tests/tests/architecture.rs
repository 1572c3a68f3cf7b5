//! The arrows between crates point one way: each may depend on what is listed, and on no more.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::collections::{BTreeMap, BTreeSet};

use cargo_metadata::{DependencyKind, MetadataCommand};

/// Crate, and the crates of this project that it may name.
const ALLOWED: &[(&str, &[&str])] = &[
    ("cupwright-geometry", &[]),
    ("cupwright-io", &["cupwright-geometry"]),
    ("cupwright-anatomy", &["cupwright-geometry"]),
    (
        "cupwright-procedure",
        &["cupwright-anatomy", "cupwright-geometry", "cupwright-io"],
    ),
    (
        "cupwright-study",
        &[
            "cupwright-anatomy",
            "cupwright-geometry",
            "cupwright-io",
            "cupwright-procedure",
        ],
    ),
    (
        "cupwright-report",
        &["cupwright-io", "cupwright-procedure", "cupwright-study"],
    ),
    (
        "cupwright-python",
        &[
            "cupwright-anatomy",
            "cupwright-geometry",
            "cupwright-io",
            "cupwright-procedure",
            "cupwright-report",
            "cupwright-study",
        ],
    ),
    (
        "cupwright",
        &[
            "cupwright-anatomy",
            "cupwright-geometry",
            "cupwright-io",
            "cupwright-procedure",
            "cupwright-report",
            "cupwright-study",
        ],
    ),
    (
        "cupwright-viewer",
        &[
            "cupwright-anatomy",
            "cupwright-geometry",
            "cupwright-io",
            "cupwright-procedure",
            "cupwright-report",
        ],
    ),
];

/// Libraries that only one crate may name, so that their types stay behind it.
const BEHIND: &[(&str, &str)] = &[
    ("parry3d-f64", "cupwright-geometry"),
    ("robust", "cupwright-geometry"),
    ("spade", "cupwright-geometry"),
    ("stl_io", "cupwright-io"),
    ("flate2", "cupwright-io"),
    ("plotters", "cupwright-report"),
    ("anyhow", "cupwright"),
    ("cobyla", "cupwright-study"),
    ("parquet", "cupwright-study"),
    ("hmac-sha256", "cupwright-study"),
    ("pyo3", "cupwright-python"),
    ("numpy", "cupwright-python"),
    ("bevy", "cupwright-viewer"),
    ("bevy_egui", "cupwright-viewer"),
    ("colorgrad", "cupwright-viewer"),
    ("egui_plot", "cupwright-viewer"),
    ("image", "cupwright-viewer"),
    ("wgpu", "cupwright-viewer"),
];

fn direct_dependencies() -> BTreeMap<String, BTreeSet<String>> {
    let metadata = MetadataCommand::new().no_deps().exec().unwrap();
    let normal = |package: &cargo_metadata::Package| {
        let kept = package
            .dependencies
            .iter()
            .filter(|d| d.kind == DependencyKind::Normal);
        kept.map(|d| d.name.clone()).collect()
    };
    metadata
        .packages
        .iter()
        .map(|p| (p.name.to_string(), normal(p)))
        .collect()
}

#[test]
fn each_crate_depends_on_those_below_it_only() {
    let found = direct_dependencies();
    for (name, allowed) in ALLOWED {
        let ours = found[*name].iter().filter(|d| d.starts_with("cupwright"));
        let forbidden: Vec<_> = ours.filter(|d| !allowed.contains(&d.as_str())).collect();
        assert!(
            forbidden.is_empty(),
            "{name} must not depend on {forbidden:?}"
        );
    }
    let listed: BTreeSet<_> = ALLOWED
        .iter()
        .map(|(name, _)| *name)
        .chain(["cupwright-tests", "cupwright-benches"])
        .collect();
    let unlisted: Vec<_> = found
        .keys()
        .filter(|name| !listed.contains(name.as_str()))
        .collect();
    assert!(unlisted.is_empty(), "say what {unlisted:?} may depend on");
}

#[test]
fn each_outside_library_stays_behind_one_crate() {
    let found = direct_dependencies();
    for (library, home) in BEHIND {
        assert!(
            found[*home].contains(*library),
            "{home} no longer needs {library}: take it off the list"
        );
        let others = found
            .iter()
            .filter(|(name, _)| name.starts_with("cupwright") && name.as_str() != *home);
        let strays: Vec<_> = others
            .filter(|(_, deps)| deps.contains(*library))
            .map(|(name, _)| name)
            .collect();
        assert!(
            strays.is_empty(),
            "{library} belongs behind {home}, not in {strays:?}"
        );
    }
}
