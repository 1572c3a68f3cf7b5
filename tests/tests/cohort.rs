//! Cohorts: shares, continuing, folders of bones good and bad, and what is refused.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::fs;

use cupwright_geometry::TriMesh;
use cupwright_tests::bones;
use cupwright_tests::desk::Desk;
use nalgebra::Isometry3;

const FILES: [&str; 3] = ["manifest.json", "cohort.csv", "cohort.parquet"];

/// A folder of four bones: two that can be used, one that is open, one that is no mesh at all.
fn desk_with_bones() -> Desk {
    let desk = Desk::new();
    fs::create_dir(desk.path("Hüften")).unwrap();
    let bone = bones::socketed();
    desk.write_mesh("Hüften/b links.ply", &bone.mirrored_x());
    desk.write_mesh("Hüften/a rechts.ply", &bone);
    let fewer = bone.triangles()[..bone.triangles().len() - 1].to_vec();
    let open = TriMesh::new(bone.vertices().to_vec(), fewer).unwrap();
    desk.write_mesh("Hüften/c offen.ply", &open);
    desk.write("Hüften/d leer.stl", "");
    desk.write("Hüften/notes.txt", "no bone");
    desk
}

/// The cells of a table, headings first.
fn cells(desk: &Desk, name: &str) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new();
    let mut reader = reader
        .has_headers(false)
        .from_path(desk.path(name))
        .unwrap();
    let lines = reader.records();
    lines
        .map(|line| line.unwrap().iter().map(String::from).collect())
        .collect()
}

fn column(table: &[Vec<String>], heading: &str) -> Vec<String> {
    let at = table[0].iter().position(|name| name == heading).unwrap();
    table[1..].iter().map(|row| row[at].clone()).collect()
}

#[track_caller]
fn are_equal(desk: &Desk, a: &str, b: &str) {
    for file in FILES {
        let [a, b] = [a, b].map(|folder| fs::read(desk.path(folder).join(file)).unwrap());
        assert!(a == b, "{file} differs");
    }
}

#[test]
fn every_bone_of_a_folder_is_a_row_and_one_that_cannot_be_used_says_why() {
    let desk = desk_with_bones();
    let ran = desk.run("cohort --bones @Hüften --out @out");
    let told = &ran.is_done().err;
    assert!(
        told.contains("warning: 2 of 4 members could not be used")
            && told.contains("first of member 3: "),
        "{told}"
    );
    assert!(told.ends_with(&format!(
        "wrote 4 rows of 4 members to cohort.csv and cohort.parquet in {}\n",
        desk.path("out").display()
    )));
    let table = cells(&desk, "out/cohort.csv");
    assert_eq!(column(&table, "member"), ["1", "2", "3", "4"]);
    let sources = ["a rechts.ply", "b links.ply", "c offen.ply", "d leer.stl"];
    assert_eq!(column(&table, "source"), sources);
    assert_eq!(column(&table, "side"), ["right", "left", "", ""]);
    let problems = column(&table, "problem");
    assert!(problems[0].is_empty() && problems[1].is_empty());
    assert!(problems[2].contains("open"), "{}", problems[2]);
    assert!(problems[3].contains("empty"), "{}", problems[3]);
    // A bone and its mirror image, operated on alike, give the same numbers.
    for heading in ["removed_mm3", "coverage_after_reaming", "rim_contact"] {
        let found: Vec<f64> = column(&table, heading)[..2]
            .iter()
            .map(|t| t.parse().unwrap())
            .collect();
        assert!(
            found[0] > 0.0 && (found[0] - found[1]).abs() < 1e-3 * found[0],
            "{heading}: {found:?}"
        );
    }
    assert!(ran.out.contains("coverage after reaming, %"), "{}", ran.out);
}

#[test]
fn the_numbers_are_those_of_a_run_of_the_same_plan() {
    let desk = desk_with_bones();
    let case = r#"(version: 1, bone: File(path: "Hüften/a rechts.ply", side: Right, axes: Pelvic),
        orientation: Radiographic, reamers: [(diameter_mm: 51), (diameter_mm: 53)],
        cup: (diameter_mm: 54, inclination_deg: 45, anteversion_deg: 12, centre: (medial_mm: 1)),
        limits: (min_coverage: 0.999))"#;
    desk.write("case.ron", case);
    let ran = desk.run("cohort --bones @Hüften --case @case.ron --sizes case --out @out");
    let told = &ran.is_done().err;
    assert!(
        told.contains("2 of 4 rows do not meet the limits of the case"),
        "{told}"
    );
    let alone = desk.run("run @case.ron --json");
    assert_eq!(alone.exit.code(), 1);
    let alone: serde_json::Value = serde_json::from_str(&alone.out).unwrap();
    let table = cells(&desk, "out/cohort.csv");
    let number = |heading: &str| column(&table, heading)[0].parse::<f64>().unwrap();
    let found = |pointer: &str| {
        alone["findings"]
            .pointer(pointer)
            .unwrap()
            .as_f64()
            .unwrap()
    };
    let pairs = [
        ("removed_mm3", "/reaming/1/cumulative_removed_mm3"),
        ("coverage_after_reaming", "/cup/coverage_after_reaming"),
        ("coverage", "/cup/coverage"),
        ("rim_contact", "/cup/rim_contact"),
        ("bone_volume_mm3", "/bone/volume_mm3"),
        ("native_diameter_mm", "/bone/native_diameter_mm"),
        ("inclination_deg", "/cup/angles/0/inclination_deg"),
    ];
    for (heading, pointer) in pairs {
        let (here, there) = (number(heading), found(pointer));
        assert!(
            (here - there).abs() <= 1e-12 * there.abs(),
            "{heading}: {here} and {there}"
        );
    }
    assert_eq!(column(&table, "limits_met"), ["false", "false", "", ""]);
    assert_eq!(column(&table, "reamers_mm")[0], "51 53");
}

#[test]
fn shares_in_any_order_join_to_the_whole_byte_for_byte() {
    let desk = desk_with_bones();
    let asked = "cohort --bones @Hüften --part 3 --over inclination=35..45:3 --over depth=-1..1:2";
    desk.run(&format!("{asked} --out @whole")).is_done();
    for share in 1..=3 {
        desk.run(&format!("{asked} --shard {share}/3 --out @share{share}"))
            .is_done();
    }
    let ran = desk.run("cohort --join @share3 @share1 @share2 --out @joined");
    let told = &ran.is_done().err;
    assert!(told.contains("wrote 14 rows of 4 members"), "{told}");
    are_equal(&desk, "whole", "joined");
    let tables = (1..=3).map(|share| desk.text(&format!("share{share}/cohort.csv")));
    let rows = tables.flat_map(|text| text.lines().skip(1).map(String::from).collect::<Vec<_>>());
    let whole = desk.text("whole/cohort.csv");
    assert_eq!(
        rows.collect::<Vec<_>>(),
        whole.lines().skip(1).collect::<Vec<_>>()
    );
    let table = cells(&desk, "whole/cohort.csv");
    assert_eq!(
        column(&table, "evaluation")[..7],
        ["1", "2", "3", "4", "5", "6", "1"]
    );
    assert_eq!(
        column(&table, "inclination_deg")[..6],
        ["35", "35", "40", "40", "45", "45"]
    );
    desk.run("cohort --join @share1 @share3 --out @less")
        .is_refused(&["1/3, 3/3", "2/3 is missing"]);
    desk.run("cohort --join @share1 @Hüften --out @less")
        .is_refused(&["Hüften", "no manifest.json"]);
    fs::remove_file(desk.path("share2/cohort.csv")).unwrap();
    desk.run("cohort --join @share1 @share2 @share3 --out @less")
        .is_refused(&["share2", "share 2/3 is not finished"]);
    assert!(!desk.path("less").exists());
}

#[test]
fn plans_drawn_about_a_member_depend_on_seed_and_member_alone() {
    let desk = desk_with_bones();
    let asked = "cohort --bones @Hüften --draws 3";
    desk.run(&format!("{asked} --seed 4 --out @whole"))
        .is_done();
    desk.run(&format!("{asked} --seed 4 --shard 2/4 --out @share"))
        .is_done();
    desk.run(&format!("{asked} --seed 5 --out @other"))
        .is_done();
    let rows = |folder: &str| {
        let text = desk.text(&format!("{folder}/cohort.csv"));
        text.lines().map(String::from).collect::<Vec<_>>()
    };
    // Headings, three rows for each of two members, one for each that cannot be used.
    let whole = rows("whole");
    assert_eq!(whole.len(), 1 + 3 + 3 + 2);
    assert_eq!(rows("share")[1..], whole[4..7]);
    let drawn = |name: &str| column(&cells(&desk, name), "anteversion_deg");
    let (four, five) = (drawn("whole/cohort.csv"), drawn("other/cohort.csv"));
    assert_ne!(four[..3], four[3..6]);
    assert_ne!(four[..3], five[..3]);
}

#[test]
fn what_is_there_is_kept_and_what_is_missing_is_done_again() {
    let desk = desk_with_bones();
    let asked = "cohort --bones @Hüften --part 1";
    desk.run(&format!("{asked} --out @whole")).is_done();
    desk.run(&format!("{asked} --out @out")).is_done();
    fs::remove_file(desk.path("out/parts/2-2.csv")).unwrap();
    fs::remove_file(desk.path("out/cohort.csv")).unwrap();
    let ran = desk.run(&format!("{asked} --out @out"));
    assert!(
        ran.is_done()
            .err
            .contains("note: 3 of 4 members were there"),
        "{}",
        ran.err
    );
    are_equal(&desk, "whole", "out");
    // A part that was damaged is told, not believed.
    let part = desk.text("out/parts/1-1.csv");
    desk.write("out/parts/1-1.csv", &part[..part.len() / 2]);
    desk.run(&format!("{asked} --out @out"))
        .is_refused(&["1-1.csv", "remove this file and run the same again"]);
    are_equal(&desk, "whole", "out");
}

#[test]
fn a_folder_of_another_cohort_is_refused_by_what_differs() {
    let desk = desk_with_bones();
    desk.run("cohort --bones @Hüften --out @out").is_done();
    let before = desk.text("out/cohort.csv");
    let refused = |arguments: &str, told: &str| {
        desk.run(&format!("cohort --bones @Hüften {arguments} --out @out"))
            .is_refused(&["manifest.json", told]);
    };
    refused("--seed 2", "seed = 1, now it is 2");
    refused("--shard 1/2", "shard = \"1/1\", now it is \"1/2\"");
    refused("--part 7", "members_per_part = 32, now it is 7");
    refused("--sizes case", "sizes = \"socket\", now it is \"case\"");
    desk.write_mesh("Hüften/e.ply", &bones::socketed());
    refused("", "members = 4, now it is 5");
    fs::remove_file(desk.path("Hüften/e.ply")).unwrap();
    // Of the same size, a little moved.
    desk.write_mesh(
        "Hüften/a rechts.ply",
        &bones::socketed().moved(&Isometry3::translation(0.0, 0.0, 0.5)),
    );
    refused("", "source.bones[0].sha256");
    assert_eq!(desk.text("out/cohort.csv"), before);
    desk.run("cohort --sample 1 --out @Hüften/notes.txt")
        .is_refused(&["notes.txt", "this folder cannot be made"]);
    fs::create_dir(desk.path("mine")).unwrap();
    desk.write("mine/cohort.csv", "mine");
    desk.run("cohort --bones @Hüften --out @mine")
        .is_refused(&["cohort.csv", "there is no manifest.json"]);
    assert_eq!(desk.text("mine/cohort.csv"), "mine");
}

#[test]
fn arguments_that_make_no_cohort_are_refused() {
    let desk = Desk::new();
    fs::create_dir(desk.path("empty")).unwrap();
    let refused = |line: &str, told: &[&str]| desk.run(line).is_refused(told);
    refused("cohort --out @out", &["--bones", "--sample"]);
    refused("cohort --sample 0 --out @out", &["--sample"]);
    refused(
        "cohort --sample 3 --bones @empty --out @out",
        &["cannot be used with"],
    );
    refused(
        "cohort --sample 3 --shard 4/3 --out @out",
        &["'4/3' is no share of a cohort"],
    );
    refused(
        "cohort --bones @empty --out @out",
        &["empty", "no .stl, .obj or .ply file"],
    );
    refused(
        "cohort --bones @none --out @out",
        &["none", "cannot be listed"],
    );
    refused(
        "cohort --sample 3 --over sideways=1..2:3 --out @out",
        &["there is no sideways"],
    );
    refused(
        "cohort --sample 3 --over depth=1..2 --out @out",
        &["VARIABLE=A..B:N"],
    );
    refused("cohort --sample 3 --draws 1 --out @out", &["--draws"]);
    refused(
        "cohort --sample 3 --case @none.ron --out @out",
        &["none.ron"],
    );
    assert!(!desk.path("out").exists());
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_to_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let desk = desk_with_bones();
    fs::create_dir(desk.path("locked")).unwrap();
    let closed = fs::Permissions::from_mode(0o555);
    fs::set_permissions(desk.path("locked"), closed).unwrap();
    // Permissions do not bind the superuser, whose file system can still be read-only.
    let bound = fs::write(desk.path("locked/try"), "").is_err();
    let target = if bound { "@locked" } else { "/proc/cupwright" };
    let ran = desk.run(&format!("cohort --bones @Hüften --out {target}"));
    let told = target.trim_start_matches('@');
    ran.is_refused(&[told, "cannot be"]);
}

#[test]
fn a_sampled_member_is_the_same_in_a_cohort_of_another_size() {
    let desk = Desk::new();
    desk.run("cohort --sample 2 --seed 5 --out @two").is_done();
    desk.run("cohort --sample 3 --seed 5 --shard 1/3 --out @one")
        .is_done();
    let (two, one) = (desk.text("two/cohort.csv"), desk.text("one/cohort.csv"));
    assert_eq!(one.lines().nth(1), two.lines().nth(1));
    let table = cells(&desk, "two/cohort.csv");
    let covered: Vec<f64> = column(&table, "coverage")
        .iter()
        .map(|t| t.parse().unwrap())
        .collect();
    assert!(
        covered.iter().all(|share| (0.3..=1.0).contains(share)),
        "{covered:?}"
    );
    let manifest = desk.text("two/manifest.json");
    for told in [
        "ChaCha8",
        "Augustine 2018",
        "\"seed\": 5",
        "\"program\": \"cupwright ",
    ] {
        assert!(manifest.contains(told), "{told}");
    }
}

#[test]
fn a_search_of_every_bone_keeps_the_limits_and_is_the_search_of_each() {
    let desk = desk_with_bones();
    let case = r#"(version: 1, bone: File(path: "Hüften/a rechts.ply", side: Right, axes: Pelvic),
        orientation: Radiographic, reamers: [(diameter_mm: 51), (diameter_mm: 53)],
        cup: (diameter_mm: 54, inclination_deg: 45, anteversion_deg: 12), limits: (min_coverage: 0.6))"#;
    desk.write("case.ron", case);
    let asked = "cohort --bones @Hüften --case @case.ron --sizes case --search";
    desk.run(&format!("{asked} --out @out")).is_done();
    let table = cells(&desk, "out/cohort.csv");
    let of_first = |heading: &str| -> Vec<String> {
        let members = column(&table, "member");
        let values = column(&table, heading);
        let own = members.iter().zip(values);
        own.filter(|(member, _)| *member == "1")
            .map(|(_, value)| value)
            .collect()
    };
    let coverage: Vec<f64> = of_first("coverage_after_reaming_share")
        .iter()
        .map(|cell| cell.parse().unwrap())
        .collect();
    assert!(coverage.len() >= 3, "{coverage:?}");
    assert!(coverage.iter().all(|c| *c >= 0.6), "{coverage:?}");
    let alone = desk.run("place @case.ron --json");
    let alone: serde_json::Value = serde_json::from_str(&alone.is_done().out).unwrap();
    let placements = alone["result"]["members"].as_array().unwrap();
    assert_eq!(placements.len(), coverage.len());
    assert!(of_first("binds").iter().any(|binds| !binds.is_empty()));
}

#[test]
fn reamer_increments_of_every_bone_take_the_same_bone_in_more_or_fewer_steps() {
    let desk = desk_with_bones();
    desk.run("cohort --bones @Hüften --increments --out @out")
        .is_done();
    let table = cells(&desk, "out/cohort.csv");
    let [members, steps, removed] =
        ["member", "step_mm", "removed_mm3"].map(|heading| column(&table, heading));
    let series = |step: &str| -> Vec<f64> {
        let rows = members.iter().zip(&steps).zip(&removed);
        let own = rows.filter(|((member, at), _)| *member == "1" && *at == step);
        own.map(|(_, removed)| removed.parse().unwrap()).collect()
    };
    let (small, large) = (series("1"), series("2"));
    assert_eq!((small.len(), large.len()), (7, 4));
    let sum = |series: &[f64]| series.iter().sum::<f64>();
    assert!((sum(&small) - sum(&large)).abs() < 1e-6 * sum(&small));
    assert!(sum(&small) > 100.0);
}
