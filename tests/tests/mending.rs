//! Every file of the corpus: what `inspect` says of it, what `mend` does, and that the mended bone measures
//! as the sound one does.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]
#![expect(clippy::print_stdout, reason = "a test prints what it measured")]

use std::sync::LazyLock;

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::Preset;
use cupwright_geometry::{Hemisphere, Solid, TriMesh, rim, within};
use cupwright_tests::corpus::{Broken, Sound};
use cupwright_tests::desk::Desk;
use cupwright_tests::{bones, pelves};
use nalgebra::{Point3, Vector3};
use serde_json::Value;

/// Measures after mending agree with those of the sound bone to this share.
const AGREEMENT: f64 = 5e-3;

static SOUND: LazyLock<Sound> = LazyLock::new(|| {
    let bone = pelves::bone(Preset::AverageMale, Side::Right);
    Sound {
        mesh: bone.solid.mesh().clone(),
        centre: bone.native_centre,
        radius: bone.native_radius,
    }
});

/// Volume, coverage of a cup and the share of its rim in bone.
fn measures(bone: &Solid) -> [f64; 3] {
    let sound = &*SOUND;
    // 4 mm over the socket, 3 mm medial: the rim meets bone along a good part of its length.
    let centre = sound.centre - Vector3::new(3.0, 0.0, 0.0);
    let axis = Vector3::new(0.75, 0.25, -0.6);
    let cup = Hemisphere::new(centre, axis, sound.radius + 2.0).unwrap();
    let arcs = rim::arcs_inside(bone, &cup.rim());
    [bone.volume(), within::coverage(bone, &cup), arcs.share()]
}

fn in_file(desk: &Desk, name: &str) -> TriMesh {
    cupwright_io::read_mesh(desk.path(name)).unwrap().mesh
}

/// Prints what `inspect` says in words.
fn print_words(name: &str, inspected: &str) {
    const WORDS: [&str; 5] = ["this", "piece", "hole", "defect", "note"];
    for line in inspected.lines() {
        let first = line.split_whitespace().next().unwrap_or_default();
        if WORDS.contains(&first) {
            println!("{name}: {line}");
        }
    }
}

/// Inspects, mends and measures one file of the corpus.
fn check(broken: &Broken, sound: [f64; 3]) {
    let Broken { name, reading, .. } = *broken;
    let desk = Desk::new();
    desk.write(name, &broken.content);
    let ran = desk.run(&format!("inspect @{name} {reading}"));
    for told in broken.inspected {
        assert!(
            ran.is_done().out.contains(told),
            "{name}: {told:?} is not in\n{}",
            ran.out
        );
    }
    if broken.reading.is_empty() {
        print_words(name, &ran.out);
    } else {
        let unsaid = desk.run(&format!("inspect @{name}"));
        print_words(name, &unsaid.is_done().out);
        for told in broken.unsaid {
            let said = &unsaid.out;
            assert!(said.contains(told), "{name}: {told:?} is not in\n{said}");
        }
    }
    let mending = broken.mending;
    let line = format!("mend @{name} {reading} {mending} --out @mended.ply");
    let ran = desk.run(&format!("{line} --json"));
    let document: Value = serde_json::from_str(&ran.is_done().out).unwrap();
    let mut kinds: Vec<&str> = Vec::new();
    for change in document["changes"].as_array().unwrap() {
        println!("{name}: {}", change["message"].as_str().unwrap());
        let kind = change["kind"].as_str().unwrap();
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    assert_eq!(kinds, broken.changes, "{name}: {document:#}");
    assert_eq!(document["ready"], true, "{name}: {document:#}");
    let moved = document["surface"]["moved"]["distance_mm"]
        .as_f64()
        .unwrap_or(0.0);
    assert!(moved <= broken.moves, "{name} moved by {moved}");
    let region = &document["socket_region"];
    assert_eq!(region["unchanged"], !broken.in_socket, "{name}: {region:#}");

    let found = measures(&bones::solid(in_file(&desk, "mended.ply")));
    let off = [0, 1, 2].map(|k| found[k] / sound[k] - 1.0);
    println!(
        "{name}: {}, moved {moved:.4} mm; volume {:+.4} %, coverage {:+.4} %, rim {:+.4} %",
        kinds.join(" "),
        100.0 * off[0],
        100.0 * off[1],
        100.0 * off[2],
    );
    assert!(
        off.iter().all(|off| off.abs() < AGREEMENT),
        "{name}: {off:?}"
    );
    let after = desk.run("inspect @mended.ply").out;
    assert!(
        after.contains("ready      nothing stands in the way"),
        "{name}: {after}"
    );
}

#[test]
fn every_broken_file_is_told_and_mended_to_the_measures_of_the_sound_bone() {
    let sound = measures(&bones::solid(SOUND.mesh.clone()));
    assert!(
        sound[1] > 0.4 && sound[1] < 0.95 && sound[2] > 0.1,
        "{sound:?}"
    );
    for broken in SOUND.broken() {
        check(&broken, sound);
    }
}

#[test]
fn a_sound_file_is_written_as_it_was() {
    let desk = Desk::new();
    desk.write_mesh("hip.ply", &SOUND.mesh);
    let ran = desk.run("mend @hip.ply --out @same.ply");
    assert!(
        ran.is_done()
            .out
            .contains("changed    nothing: there was nothing to mend"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("its region is unchanged"), "{}", ran.out);
    assert_eq!(
        in_file(&desk, "same.ply").triangles().len(),
        SOUND.mesh.triangles().len()
    );
    let again = in_file(&desk, "same.ply");
    assert!((again.volume() - SOUND.mesh.volume()).abs() < 1e-9);
}

#[test]
fn what_cannot_be_read_is_refused_in_one_line_and_nothing_is_written() {
    for (name, content, told) in SOUND.unreadable() {
        let desk = Desk::new();
        desk.write(name, content);
        desk.run(&format!("inspect @{name}"))
            .is_refused(&[name, told]);
        desk.run(&format!("mend @{name} --out @new.stl"))
            .is_refused(&[name, told]);
        assert_eq!(desk.names(), [name]);
    }
}

#[test]
fn the_socket_region_is_never_changed_without_saying_so() {
    let desk = Desk::new();
    for broken in SOUND.broken() {
        if ["hole-in-socket.ply", "small-hole.stl"].contains(&broken.name) {
            desk.write(broken.name, &broken.content);
        }
    }
    let ran = desk.run("mend @hole-in-socket.ply --out @a.ply");
    assert!(
        ran.is_done().out.contains("ITS REGION WAS CHANGED"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("(IN THE SOCKET REGION)"), "{}", ran.out);
    let ran = desk.run("mend @small-hole.stl --out @b.ply");
    assert!(
        ran.is_done().out.contains("its region is unchanged"),
        "{}",
        ran.out
    );
    // A place told as the socket's counts as it.
    let wing = SOUND.centre + Vector3::new(15.0, -20.0, 85.0);
    let ran = desk.run(&format!(
        "mend @small-hole.stl --centre {},{},{} --out @c.ply",
        wing.x, wing.y, wing.z
    ));
    assert!(
        ran.is_done().out.contains("ITS REGION WAS CHANGED"),
        "{}",
        ran.out
    );
}

#[test]
fn a_hole_too_wide_to_be_closed_unasked_is_left_and_warned_of() {
    let desk = Desk::new();
    let all = SOUND.broken();
    let cut = all.iter().find(|b| b.name == "crest-cut-off.ply").unwrap();
    desk.write(cut.name, &cut.content);
    let ran = desk.run("mend @crest-cut-off.ply --out @a.ply");
    assert!(
        ran.is_done().out.contains("mm across is open"),
        "{}",
        ran.out
    );
    assert!(ran.err.contains("warning: "), "{}", ran.err);
    assert!(
        ran.out.contains("now        still not closed"),
        "{}",
        ran.out
    );
}

#[test]
fn the_file_that_is_mended_is_replaced_only_when_that_is_allowed() {
    let desk = Desk::new();
    desk.write_mesh("hip.ply", &SOUND.mesh.clone().reversed());
    let old = std::fs::read(desk.path("hip.ply")).unwrap();
    desk.run("mend @hip.ply --out @hip.ply")
        .is_refused(&["hip.ply", "--replace"]);
    desk.run("mend @hip.ply --out @none/hip.ply")
        .is_refused(&["there is no folder"]);
    desk.run("mend @hip.ply --out @hip.txt")
        .is_refused(&["hip.txt"]);
    assert_eq!(std::fs::read(desk.path("hip.ply")).unwrap(), old);
    assert_eq!(desk.names(), ["hip.ply"]);
    desk.run("mend @hip.ply --out @hip.ply --replace").is_done();
    assert!(in_file(&desk, "hip.ply").volume() > 0.0);
    assert_eq!(desk.names(), ["hip.ply"]);
}

#[test]
fn a_file_that_seems_to_be_in_metres_is_not_mended_in_millimetres() {
    let desk = Desk::new();
    desk.write_mesh("hip.ply", &SOUND.mesh.scaled(1e-3));
    desk.run("mend @hip.ply --out @new.ply")
        .is_refused(&["--unit m", "would be in metres"]);
    let ran = desk.run("mend @hip.ply --unit m --out @new.ply");
    assert!(
        ran.is_done().err.contains("scaled by 1000 to mm"),
        "{}",
        ran.err
    );
    let volume = in_file(&desk, "new.ply").volume();
    assert!((volume / SOUND.mesh.volume() - 1.0).abs() < 1e-9);
}

#[test]
fn a_piece_is_chosen_by_number_size_and_side() {
    let desk = Desk::new();
    let other = SOUND.mesh.mirrored_x();
    desk.write_mesh("both.ply", &SOUND.mesh.joined(&other.scaled(0.99)));
    let volume = |choice: &str| {
        let ran = desk.run(&format!("mend @both.ply --piece {choice} --out @one.ply"));
        ran.is_done();
        in_file(&desk, "one.ply").volume()
    };
    let whole = SOUND.mesh.volume();
    for (choice, expected) in [
        ("1", whole),
        ("largest", whole),
        ("right", whole),
        ("2", whole * 0.99_f64.powi(3)),
        ("left", whole * 0.99_f64.powi(3)),
    ] {
        assert!((volume(choice) / expected - 1.0).abs() < 1e-9, "{choice}");
    }
    desk.run("mend @both.ply --piece 3 --out @one.ply")
        .is_refused(&["--piece: there is no piece 3", "2 piece(s)"]);
    let told = desk.run("inspect @both.ply").out;
    assert!(told.contains("a whole pelvis, its hip centres"), "{told}");
    let c = SOUND.centre - Vector3::new(3.0, 0.0, 0.0);
    let line = format!(
        "measure --bone @both.ply --centre {},{},{} --axis 0.75,0.25,-0.6 --cup 54",
        c.x, c.y, c.z
    );
    desk.run(&line)
        .is_refused(&["2 separate bones", "choose it with --piece"]);
    desk.run(&format!("{line} --piece right")).is_done();
    // In a case it is the piece with the socket of the case's own side.
    let text = |side: &str| {
        format!(
            "(version: 1, bone: File(path: \"both.ply\", side: {side}, axes: Pelvic, piece: WithSocket), \
             orientation: Radiographic, reamers: [(diameter_mm: 49)], \
             cup: (diameter_mm: 50, inclination_deg: 40, anteversion_deg: 15))"
        )
    };
    for (side, expected) in [("Right", whole), ("Left", whole * 0.99_f64.powi(3))] {
        desk.write("case.ron", text(side));
        let ran = desk.run("run @case.ron --json");
        let document: Value = serde_json::from_str(&ran.is_done().out).unwrap();
        let found = document["findings"]["bone"]["volume_mm3"].as_f64().unwrap();
        assert!((found / expected - 1.0).abs() < 1e-9, "{side}: {found}");
    }
}

#[test]
fn remeshing_is_done_when_asked_and_told() {
    let desk = Desk::new();
    desk.write_mesh("hip.ply", &SOUND.mesh);
    let ran = desk.run("mend @hip.ply --remesh 3 --out @new.ply --json");
    let document: Value = serde_json::from_str(&ran.is_done().out).unwrap();
    assert_eq!(document["changes"][0]["kind"], "remeshed");
    assert_eq!(document["socket_region"]["unchanged"], false);
    let moved = document["surface"]["moved"]["distance_mm"]
        .as_f64()
        .unwrap();
    assert!(moved > 1e-3 && moved < 1.0, "{moved}");
    let mesh = in_file(&desk, "new.ply");
    assert!((mesh.volume() / SOUND.mesh.volume() - 1.0).abs() < AGREEMENT);
    assert!(document["ready"] == true, "{document:#}");
    desk.run("mend @hip.ply --remesh 0.01 --out @new.ply")
        .is_refused(&["--remesh 0.01"]);
}

#[test]
fn what_the_corpus_breaks_is_on_the_bone() {
    // The corpus breaks the socket's floor and the wing: both must be on the bone.
    let sound = &*SOUND;
    let near = |at: Point3<f64>, reach: f64| {
        sound
            .mesh
            .vertices()
            .iter()
            .any(|p| (p - at).norm() < reach)
    };
    assert!(near(
        sound.centre - sound.radius * Vector3::new(0.8, 0.2, -0.55),
        4.0
    ));
    assert!(near(sound.centre + Vector3::new(15.0, -20.0, 85.0), 12.0));
}
