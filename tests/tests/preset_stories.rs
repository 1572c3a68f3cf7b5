//! Each preset reamed by the common rule of the trade: what is found is what its name promises.
//!
//! Directions with a margin, not digits. The bones are coarse ones; only a shipped case that names a
//! preset makes its bone as a run does.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use cupwright_anatomy::synthetic::{Pelvis, Preset, Resolution, pelvis};
use cupwright_anatomy::{PelvicFrame, Side};
use cupwright_geometry::{Solid, crossing};
use cupwright_procedure::case::{BoneEntry, ShiftEntry};
use cupwright_procedure::findings::{StepFinding, Wall};
use cupwright_procedure::{Bone, CaseFile, Findings, Instruments, simulate};
use nalgebra::{Point3, Unit};

const SHALLOW: [Preset; 3] = [Preset::Shallow1, Preset::Shallow2, Preset::Shallow3];

/// A preset's right hemipelvis, made once for all tests.
fn made(preset: Preset) -> &'static (Pelvis, Bone) {
    static ALL: [OnceLock<(Pelvis, Bone)>; Preset::ALL.len()] =
        [const { OnceLock::new() }; Preset::ALL.len()];
    let mut presets = Preset::ALL.iter();
    let place = presets.position(|p| p.name() == preset.name()).unwrap();
    ALL[place].get_or_init(|| {
        let pelvis = pelvis(&preset.shape().unwrap(), Side::Right, Resolution::Coarse).unwrap();
        let frame = PelvicFrame::anterior_pelvic_plane(&pelvis.landmarks).unwrap();
        let bone = Bone {
            solid: Solid::try_from(pelvis.mesh.clone()).unwrap().into(),
            source: preset.name().into(),
            remarks: Vec::new(),
            side: Side::Right,
            landmarks: Some(pelvis.landmarks),
            to_pelvic: frame.to_pelvic(),
            native_centre: pelvis.socket.centre,
            native_radius: pelvis.socket.radius,
            layers: None,
        };
        (pelvis, bone)
    })
}

fn native_diameter(preset: Preset) -> f64 {
    2.0 * made(preset).1.native_radius
}

/// A case with reamers and cup about one centre.
#[derive(Clone)]
struct Plan {
    preset: Preset,
    /// Definition, inclination, anteversion in degrees.
    facing: (&'static str, f64, f64),
    medial_mm: f64,
    reamers: Vec<f64>,
    cup: f64,
}

impl Plan {
    /// A cup 2 mm over the native socket, about the native centre, radiographic 40 and 15.
    fn native(preset: Preset) -> Self {
        let native = native_diameter(preset);
        Self {
            preset,
            facing: ("Radiographic", 40.0, 15.0),
            medial_mm: 0.0,
            reamers: vec![native + 1.0],
            cup: native + 2.0,
        }
    }

    fn medialised(self, medial_mm: f64) -> Self {
        Self { medial_mm, ..self }
    }

    fn anteverted(self, degrees: f64) -> Self {
        let facing = ("Radiographic", 40.0, degrees);
        Self { facing, ..self }
    }

    fn text(&self) -> String {
        let reamers = self.reamers.iter();
        let reamers: String = reamers.map(|d| format!("(diameter_mm: {d}), ")).collect();
        let (definition, inclination, anteversion) = self.facing;
        format!(
            "(version: 1, bone: Preset(name: \"{}\", side: Right), orientation: {definition}, reamers: [{reamers}], \
             cup: (diameter_mm: {}, inclination_deg: {inclination}, anteversion_deg: {anteversion}, \
             centre: (medial_mm: {})))",
            self.preset.name(),
            self.cup,
            self.medial_mm,
        )
    }

    fn found(&self) -> Findings {
        let file = CaseFile::parse(&self.text()).unwrap();
        let case = file.check().unwrap();
        simulate(
            &case,
            &made(self.preset).1,
            &Instruments::generic().unwrap(),
        )
        .unwrap()
    }
}

fn medial_wall(findings: &Findings) -> f64 {
    let last = findings.reaming.last().unwrap();
    let mut walls = last.walls.iter();
    walls.find(|w| w.wall == Wall::Medial).unwrap().thickness_mm
}

fn removed(findings: &Findings) -> f64 {
    findings.reaming.last().unwrap().cumulative_removed_mm3
}

/// Coverage of the sectors about these hours.
fn covered<const N: usize>(findings: &Findings, hours: [usize; N]) -> [f64; N] {
    hours.map(|hour| findings.cup.coverage_by_hour[hour % 12])
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / f64::from(u32::try_from(values.len()).unwrap())
}

fn proud(findings: &Findings, hour: usize) -> f64 {
    findings.cup.overhang[2 * hour].proud_mm
}

fn warned(findings: &Findings, message: &str) -> bool {
    findings.watch.iter().any(|w| w.message.contains(message))
}

/// How far the true floor lies from the cup's centre, and how far bone goes on behind it: counted
/// along one ray, beside what the findings call the medial wall.
fn true_floor(preset: Preset, findings: &Findings) -> (f64, f64) {
    let (pelvis, bone) = made(preset);
    let centre = Point3::from(findings.cup.centre_mm);
    let toward = pelvis.socket.true_floor - centre;
    let distance = toward.norm();
    let inside = crossing::intervals_inside(&bone.solid, &centre, &Unit::new_normalize(toward));
    let around = |[start, end]: &&[f64; 2]| *start < distance + 0.5 && distance < *end;
    (distance, inside.iter().find(around).unwrap()[1])
}

/// Odd reamers along the socket's own axis until one fills, then a cup 1 mm over: common practice,
/// no published source.
fn cup_after(preset: Preset, fills: impl Fn(&StepFinding) -> bool) -> Option<f64> {
    let axis = made(preset).0.socket.axis;
    let (inclination, anteversion) = ((-axis.z).acos(), axis.y.atan2(axis.x));
    let plan = Plan {
        facing: (
            "Anatomic",
            inclination.to_degrees(),
            anteversion.to_degrees(),
        ),
        reamers: (0..14).map(|k| 37.0 + 2.0 * f64::from(k)).collect(),
        ..Plan::native(preset)
    };
    let steps = plan.found().reaming;
    steps.iter().find(|s| fills(s)).map(|s| s.diameter_mm + 1.0)
}

fn by_cover(step: &StepFinding) -> bool {
    step.coverage > 0.6
}

fn by_rim(step: &StepFinding) -> bool {
    step.rim_contact > 0.2
}

#[test]
fn reaming_until_the_edge_bites_ends_at_published_sizes_too() {
    // Naal 2009, CORR 467:923: mean outer diameter 49.9 mm in women, 55.1 mm in men.
    for (preset, published) in [(Preset::AverageFemale, 49.9), (Preset::AverageMale, 55.1)] {
        let cover = cup_after(preset, by_cover).unwrap();
        let rim = cup_after(preset, by_rim).unwrap();
        assert!((cover..=cover + 2.0).contains(&rim), "{cover} {rim}");
        for cup in [cover, rim] {
            assert!((cup - published).abs() < 1.6, "{}: {cup}", preset.name());
        }
    }
}

#[test]
fn cups_grow_with_the_socket() {
    let presets = [
        Preset::Small,
        Preset::AverageFemale,
        Preset::AverageMale,
        Preset::Deep,
        Preset::Retroverted,
        Preset::Worn,
        Preset::Large,
    ];
    for preset in presets {
        for fills in [by_cover, by_rim] {
            let over = cup_after(preset, fills).unwrap() - native_diameter(preset);
            assert!((1.0..=4.5).contains(&over), "{}: {over}", preset.name());
        }
    }
    let cup = |preset| cup_after(preset, by_rim).unwrap();
    let between = cup(Preset::Large) - cup(Preset::Small);
    assert!((between - 16.0).abs() <= 2.0, "{between}");
}

#[test]
fn a_shallow_socket_is_not_filled_by_wider_reamers_alone() {
    let excess = |preset| cup_after(preset, by_cover).unwrap() - native_diameter(preset);
    let normal = excess(Preset::AverageFemale);
    let [one, two, three] = SHALLOW.map(excess);
    assert!(one >= normal + 2.0 && two > one && three > two);
    for preset in SHALLOW {
        assert_eq!(cup_after(preset, by_rim), None);
    }
}

#[test]
fn a_shallower_socket_covers_less_above_and_in_front() {
    let normal = Plan::native(Preset::AverageMale).found().cup;
    let cups = SHALLOW.map(|preset| Plan::native(preset).found().cup);
    let mut before = (&normal, [0.0; 12]);
    for (cup, preset) in cups.iter().zip(SHALLOW) {
        assert!(cup.coverage < before.0.coverage - 0.03, "{}", preset.name());
        let lost: [f64; 12] =
            std::array::from_fn(|hour| normal.coverage_by_hour[hour] - cup.coverage_by_hour[hour]);
        for hour in [11, 0, 1] {
            assert!(lost[hour] > before.1[hour] + 0.03, "{hour}: {lost:?}");
            assert!(lost[hour] > 0.2, "{hour}: {lost:?}");
        }
        // The front goes with the roof (Loskutov 2019: anterior sector angle 45, 35, 25.5); what is
        // below and behind keeps nearly all.
        let gone = mean(&[lost[11], lost[0], lost[1], lost[2], lost[3]]);
        assert!(gone > 4.0 * mean(&lost[4..11]), "{lost:?}");
        before = (cup, lost);
    }
    let first: [f64; 12] =
        std::array::from_fn(|h| normal.coverage_by_hour[h] - cups[0].coverage_by_hour[h]);
    assert!(first[0].max(first[1]) > first[3].max(first[10]) + 0.05);
}

#[test]
fn a_shallow_socket_gains_cover_and_loses_floor_as_the_cup_goes_in() {
    for preset in SHALLOW {
        let radius = 0.5 * native_diameter(preset) + 1.0;
        let mut plan = Plan::native(preset).anteverted(20.0);
        plan.reamers = vec![2.0 * radius];
        let [out, within] = [0.0, 3.0].map(|medial| plan.clone().medialised(medial).found());
        let gain = within.cup.coverage - out.cup.coverage;
        assert!(gain > 0.15, "{}: {gain}", preset.name());
        let behind = |findings: &Findings| {
            let (floor, end) = true_floor(preset, findings);
            end - floor.max(radius)
        };
        let thinner = behind(&out) - behind(&within);
        assert!(
            (0.5..3.5).contains(&thinner),
            "{}: {thinner}",
            preset.name()
        );
        // The findings see it too. In the shallower two the lip in front stands so far back that a ray
        // may leave through it, and what such a ray tells is not the floor.
        if preset.name() == Preset::Shallow1.name() {
            let thinner = medial_wall(&out) - medial_wall(&within);
            assert!((2.0..4.0).contains(&thinner), "{thinner}");
            assert!(medial_wall(&within) > 2.0 && medial_wall(&within) <= behind(&within));
        }
    }
}

#[test]
fn a_set_back_lip_is_no_broken_wall_and_the_notch_no_front_edge() {
    // The reamer leaves a shallow socket through its lip; behind the true floor there is bone.
    let plan = Plan {
        reamers: vec![47.0],
        cup: 48.0,
        ..Plan::native(Preset::Shallow2).medialised(3.0)
    };
    let shallow = plan.found();
    assert!(true_floor(Preset::Shallow2, &shallow).1 - 47.0 / 2.0 > 5.0);
    assert!(!warned(&shallow, "broken through"));
    // The edge hangs free over the notch, which is no place for a tendon.
    let average = Plan::native(Preset::AverageMale).anteverted(20.0).found();
    assert!(proud(&average, 6) > 6.0 && !warned(&average, "in front"));
}

/// Reamed to 53 mm for a cup of 54.
fn to_53(preset: Preset, medial_mm: f64) -> Findings {
    let plan = Plan {
        reamers: vec![47.0, 49.0, 51.0, 53.0],
        ..Plan::native(preset)
    };
    plan.medialised(medial_mm).found()
}

#[test]
fn a_deep_socket_reamed_to_its_floor_has_little_left_behind_it() {
    let [deep, normal] = [Preset::Deep, Preset::AverageMale].map(|p| (p, to_53(p, 3.0)));
    for (preset, findings) in [&deep, &normal] {
        let before = true_floor(*preset, &to_53(*preset, 2.0)).0;
        let (floor, end) = true_floor(*preset, findings);
        assert!(floor < 26.5 && before > 26.5, "{floor} {before}");
        assert!(medial_wall(findings) <= end - 26.5);
    }
    let [deep, normal] = [deep.1, normal.1];
    assert!(medial_wall(&deep) < 3.0);
    assert!(medial_wall(&deep) < medial_wall(&normal) - 2.5);
    assert!(warned(&deep, "medial wall") && !warned(&normal, "medial wall"));
    let through = "the medial wall is broken through";
    assert!(warned(&to_53(Preset::Deep, 6.0), through));
    assert!(!warned(&to_53(Preset::AverageMale, 6.0), through));
}

#[test]
fn restoring_version_bares_the_back_of_a_retroverted_socket() {
    let at = |preset, version: f64| Plan::native(preset).anteverted(version).found();
    let back = |findings: &Findings| covered(findings, [8, 9, 10]);
    let own_version = made(Preset::Retroverted).0.socket.axis.y.asin();
    let own = at(Preset::Retroverted, own_version.to_degrees());
    let [half, restored] = [15.0, 20.0].map(|version| at(Preset::Retroverted, version));
    for (own, restored) in back(&own).into_iter().zip(back(&restored)) {
        assert!(restored < own - 0.1, "{own} {restored}");
    }
    let [own_back, half_back, restored_back] = [&own, &half, &restored].map(|f| mean(&back(f)));
    assert!(half_back < own_back - 0.05 && restored_back < half_back - 0.05);
    for hour in 8..=10 {
        assert!(proud(&restored, hour) > proud(&own, hour) + 3.0, "{hour}");
    }
    assert!(proud(&half, 9) > proud(&own, 9) + 4.0);
    // It is the bone: the same cup in an average socket is held better behind.
    let normal = at(Preset::AverageMale, 20.0);
    assert!(restored_back < mean(&back(&normal)) - 0.1);
    // And what the back loses the front gains.
    assert!(mean(&covered(&restored, [1, 2])) > mean(&covered(&own, [1, 2])) + 0.1);
}

#[test]
fn a_missing_wall_is_missed_at_its_hours_only() {
    let normal = Plan::native(Preset::AverageMale).found();
    let lost = |findings: &Findings, hour: usize| {
        normal.cup.coverage_by_hour[hour % 12] - findings.cup.coverage_by_hour[hour % 12]
    };
    let front = Plan::native(Preset::AnteriorDeficient).found();
    let back = Plan::native(Preset::PosteriorDeficient).found();
    for (findings, gone, kept) in [(&front, [1, 2, 3], 6..=11), (&back, [8, 9, 10], 12..=18)] {
        assert!(findings.cup.coverage < normal.cup.coverage - 0.05);
        for hour in gone {
            assert!(lost(findings, hour) > 0.15, "{hour}: {:?}", findings.cup);
            assert!(proud(findings, hour) > proud(&normal, hour) + 3.0);
        }
        for hour in kept {
            assert!(
                lost(findings, hour).abs() < 0.03,
                "{hour}: {:?}",
                findings.cup
            );
        }
    }
    let proud_in_front = "proud in front";
    assert!(warned(&front, proud_in_front) && !warned(&normal, proud_in_front));
}

#[test]
fn a_worn_socket_looks_filled_before_its_true_floor_is_reached() {
    let [worn, normal] = [Preset::Worn, Preset::AverageMale].map(|p| to_53(p, 0.0));
    // It holds the cup well, and yet the true floor lies deeper, with all its wall behind it.
    assert!(worn.cup.coverage > normal.cup.coverage + 0.15);
    let (floor, end) = true_floor(Preset::Worn, &worn);
    assert!(floor > 26.5 + 2.0, "{floor}");
    let behind_true_floor = end - floor;
    assert!(medial_wall(&worn) > behind_true_floor + 0.5);
    // The notch tells: open in the normal socket, closed by growth in the worn one.
    assert!(covered(&normal, [6])[0] < 0.05 && covered(&worn, [6])[0] > 0.4);
    // The first reamers cut the false floor, where a normal socket would let them pass.
    assert!(worn.reaming[0].removed_mm3 > 100.0);
    assert!(normal.reaming[0].removed_mm3 < 1e-6);
    let mut before = (0.0, 0.0, f64::INFINITY);
    for medial in [0.0, 1.0, 2.0, 3.0] {
        let [worn, normal] = [Preset::Worn, Preset::AverageMale].map(|p| to_53(p, medial));
        let more = removed(&worn) - removed(&normal);
        assert!(removed(&worn) > before.0 + 1000.0 && more > before.1 + 300.0);
        assert!(medial_wall(&worn) < before.2 - 0.5);
        before = (removed(&worn), more, medial_wall(&worn));
    }
    // Three millimetres in, the reamer stands on the true floor, and no wall differs any more.
    assert!(true_floor(Preset::Worn, &to_53(Preset::Worn, 3.0)).0 < 26.5);
    assert!((before.2 - medial_wall(&to_53(Preset::AverageMale, 3.0))).abs() < 0.5);
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-models")
}

/// A case of demo-models with its bone, run as it is and as `changed`.
fn shipped(name: &str, preset: Preset, change: fn(&mut CaseFile)) -> [Findings; 2] {
    let path = folder().join(name).with_extension("case.ron");
    let text = std::fs::read_to_string(path).unwrap();
    assert!(text.starts_with("// An invented case"), "{name}");
    let file = CaseFile::parse(&text).unwrap();
    let mut changed = file.clone();
    change(&mut changed);
    assert_ne!(file, changed);
    let case = file.check().unwrap();
    let bone = Bone::of_case(&case, &folder()).unwrap();
    let (native, centre) = (made(preset).1.native_centre, bone.native_centre);
    let apart = Point3::new(centre.x.abs(), centre.y, centre.z) - native;
    assert!(apart.norm() < 1e-9, "{name}: {centre}");
    assert!((bone.native_radius - made(preset).1.native_radius).abs() < 1e-9);
    let instruments = Instruments::generic().unwrap();
    [case, changed.check().unwrap()].map(|case| {
        let findings = simulate(&case, &bone, &instruments).unwrap();
        assert!(!warned(&findings, "in the set"), "{name}");
        findings
    })
}

#[test]
fn the_shallow_case_is_covered_because_it_goes_in() {
    let [within, out] = shipped("shallow-2-medialised", Preset::Shallow2, |case| {
        case.cup.centre = ShiftEntry::default();
    });
    assert!(within.limits[0].met && !out.limits[0].met);
    assert!(within.cup.coverage > out.cup.coverage + 0.2);
    assert!((3.0..5.5).contains(&medial_wall(&within)));
    assert!(medial_wall(&out) > medial_wall(&within) + 3.0);
    assert!(!warned(&within, "wall"), "{:?}", within.watch);
}

#[test]
fn the_retroverted_case_stands_proud_behind() {
    let [restored, own] = shipped(
        "retroverted-version-restored",
        Preset::Retroverted,
        |case| {
            case.cup.anteversion_deg = 6.0;
        },
    );
    assert!(proud(&restored, 9) > 10.0 && proud(&own, 9) < 5.0);
    assert!(mean(&covered(&restored, [9, 10])) < mean(&covered(&own, [9, 10])) - 0.15);
}

#[test]
fn the_deep_case_warns_of_its_floor() {
    let [floor, out] = shipped("deep-floor", Preset::Deep, |case| {
        case.cup.centre.medial_mm = 0.0;
    });
    assert!(warned(&floor, "medial wall") && !warned(&out, "medial wall"));
    assert!(!floor.limits[0].met && out.limits[0].met);
    assert!(medial_wall(&floor) < 2.0 && medial_wall(&out) > 4.0);
}

#[test]
fn the_worn_case_stops_on_a_false_floor() {
    let [hidden, found] = shipped("worn-hidden-floor", Preset::Worn, |case| {
        case.cup.centre.medial_mm = 3.0;
    });
    assert!(hidden.cup.coverage > 0.8 && hidden.reaming[0].removed_mm3 > 100.0);
    assert!(true_floor(Preset::Worn, &hidden).0 > 28.5);
    assert!(true_floor(Preset::Worn, &found).0 < 26.5);
    assert!(medial_wall(&hidden) > medial_wall(&found) + 2.0);
    assert!(removed(&found) > 2.0 * removed(&hidden));
}

#[test]
fn every_shipped_case_is_listed_and_reads() {
    let told = std::fs::read_to_string(folder().join("README.md")).unwrap();
    let mut count = 0;
    for entry in std::fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if !name.ends_with(".case.ron") {
            continue;
        }
        count += 1;
        let row = told
            .lines()
            .find(|line| line.starts_with(&format!("| {name} |")));
        assert!(row.is_some_and(|row| row.contains("`cupwright ")), "{name}");
        let case = CaseFile::parse(&std::fs::read_to_string(&path).unwrap()).unwrap();
        if let BoneEntry::File { path, .. } = &case.bone {
            assert!(folder().join(path).exists(), "{path}");
        }
    }
    assert_eq!(count, 7);
}
