//! Bone left behind a cavity, against closed forms of a slab and the stories of the presets.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::f64::consts::TAU;

use cupwright_anatomy::PelvicFrame;
use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::{Preset, Resolution, pelvis};
use cupwright_geometry::Solid;
use cupwright_procedure::fan::{Fan, Steps};
use cupwright_procedure::findings::Wall;
use cupwright_procedure::placed::Placed;
use cupwright_procedure::stock::{FallbackCup, StockFinding, stock, stock_along};
use cupwright_procedure::{Bone, Case, CaseFile, Instruments, simulate};
use cupwright_tests::blocks;

#[track_caller]
fn close(found: f64, expected: f64, share: f64) {
    let off = (found / expected - 1.0).abs();
    assert!(off <= share, "{found}, expected {expected}");
}

fn found(bone: &Bone, reamer_mm: f64) -> StockFinding {
    let case = blocks::case(&format!("(diameter_mm: {reamer_mm})"), reamer_mm + 1.0);
    stock(&case, bone, &FallbackCup::default()).unwrap()
}

#[test]
fn a_reamer_through_a_slab_leaves_a_hole_of_the_zone_beyond_its_back() {
    // Radius 26 in a slab whose back lies 20 mm from the centre: a cap of 2πR (R − 20) = 980 mm².
    let slab = found(&blocks::block(400.0, 20.0, 1e-6), 52.0);
    close(slab.cavity.hole_area_mm2, TAU * 26.0 * 6.0, 1e-3);
    close(slab.cavity.bone_area_mm2, TAU * 26.0 * 20.0, 1e-3);
    let whole: f64 = slab.cavity.holes.iter().map(|hole| hole.area_mm2).sum();
    close(whole, slab.cavity.hole_area_mm2, 1e-9);
    assert!(
        slab.cavity
            .holes
            .iter()
            .all(|hole| hole.from_pole_deg < 40.0)
    );
    assert!(!slab.fallback.possible);
}

#[test]
fn a_hole_as_small_as_a_fingertip_has_its_area_too() {
    // Off the pole: a slab whose back is cut slanting would do; here a thin cap of 0.2 mm, 33 mm².
    let slab = found(&blocks::block(400.0, 25.8, 1e-6), 52.0);
    close(slab.cavity.hole_area_mm2, TAU * 26.0 * 0.2, 5e-3);
}

#[test]
fn walls_of_a_slab_are_thinnest_at_the_pole_and_stock_is_its_shell() {
    let slab = found(&blocks::block(2000.0, 32.0, 1e-6), 52.0);
    assert!(slab.cavity.hole_area_mm2 <= 0.0 && slab.cavity.medial_breach_mm2 <= 0.0);
    let thinnest = slab
        .cavity
        .walls
        .iter()
        .map(|w| w.thickness_mm)
        .fold(f64::MAX, f64::min);
    close(thinnest, 6.0, 1e-4);
    // 10 mm behind the cavity but no farther than the back: ∫ (min(36, 32 / c)³ − 26³) / 3 dc, 2π.
    let c = 32.0_f64 / 36.0;
    let near = (36.0_f64.powi(3) - 26.0_f64.powi(3)) / 3.0 * c;
    let back =
        32.0_f64.powi(3) / 3.0 * 0.5 * (c.powi(-2) - 1.0) - 26.0_f64.powi(3) / 3.0 * (1.0 - c);
    close(slab.cavity.stock_mm3, TAU * (near + back), 1e-3);
    for hour in &slab.cavity.by_hour {
        assert!(hour.begins_mm.unwrap().abs() < 1e-3);
        // Straight at the back: 32 / cos of the angle from the pole, less the radius.
        let down = TAU / 4.0 - 10.0 / 26.0;
        close(hour.wall_10_mm.unwrap(), 32.0 / down.cos() - 26.0, 0.03);
    }
}

#[test]
fn a_fallback_cup_is_possible_where_the_slab_is_thick_enough() {
    // A reamer of 58 mm leaves 32.5 − 29 = 3.5 mm of the first slab and 0.5 mm of the second.
    let thick = found(&blocks::block(2000.0, 32.5, 1e-6), 52.0).fallback;
    assert!(thick.possible && (thick.reamer_mm - 58.0).abs() < 1e-9);
    let least = |walls: &[cupwright_procedure::stock::SpareFinding]| {
        walls
            .iter()
            .filter_map(|w| w.after_mm)
            .fold(f64::MAX, f64::min)
    };
    close(least(&thick.walls), 3.5, 1e-3);
    let thin = found(&blocks::block(2000.0, 29.5, 1e-6), 52.0).fallback;
    close(least(&thin.walls), 0.5, 1e-3);
    assert!(!thin.possible && thin.hole_area_mm2 <= 0.0);
}

#[test]
fn a_deeper_reamer_beside_the_last_counts_for_the_wall() {
    let bone = blocks::block(2000.0, 40.0, 1e-6);
    let along = -blocks::axis() * 4.0;
    let deeper = format!(
        "(diameter_mm: 48, centre: (medial_mm: {}, superior_mm: {}, anterior_mm: {})), (diameter_mm: 52)",
        -along.x, along.z, along.y
    );
    let case = blocks::case(&deeper, 53.0);
    let both = stock(&case, &bone, &FallbackCup::default()).unwrap();
    let thinnest = both
        .cavity
        .walls
        .iter()
        .map(|w| w.thickness_mm)
        .fold(f64::MAX, f64::min);
    // 40 − 4 − 24 at the pole, where the last alone would leave 14.
    close(thinnest, 12.0, 1e-4);
}

fn planned(preset: Preset, medial_mm: f64, side: Side) -> (Bone, Case) {
    let pelvis = pelvis(&preset.shape().unwrap(), side, Resolution::Coarse).unwrap();
    let frame = PelvicFrame::anterior_pelvic_plane(&pelvis.landmarks).unwrap();
    let bone = Bone {
        solid: Solid::try_from(pelvis.mesh).unwrap().into(),
        source: preset.name().into(),
        side,
        landmarks: Some(pelvis.landmarks),
        to_pelvic: frame.to_pelvic(),
        native_centre: pelvis.socket.centre,
        native_radius: pelvis.socket.radius,
        layers: None,
    };
    let native = 2.0 * bone.native_radius;
    let text = format!(
        "(version: 1, bone: Preset(name: \"{}\", side: Right), orientation: Radiographic, \
         reamers: [(diameter_mm: {})], cup: (diameter_mm: {}, inclination_deg: 40, anteversion_deg: 15, \
         centre: (medial_mm: {medial_mm})))",
        preset.name(),
        native + 1.0,
        native + 2.0
    );
    (bone, CaseFile::parse(&text).unwrap().check().unwrap())
}

fn stock_of(preset: Preset, medial_mm: f64) -> StockFinding {
    let (bone, case) = planned(preset, medial_mm, Side::Right);
    stock(&case, &bone, &FallbackCup::default()).unwrap()
}

fn wall(found: &StockFinding, wall: Wall) -> f64 {
    let mut walls = found.cavity.walls.iter();
    walls
        .find(|w| w.wall == wall)
        .map_or(f64::NAN, |w| w.thickness_mm)
}

#[test]
fn reaming_deep_into_a_deep_socket_breaches_the_medial_wall() {
    let shallow = stock_of(Preset::Deep, 0.0);
    let deep = stock_of(Preset::Deep, 6.0);
    eprintln!("{:?}\n{:?}", shallow.cavity.holes, deep.cavity.holes);
    assert!(
        deep.cavity.medial_breach_mm2 > 50.0,
        "{}",
        deep.cavity.medial_breach_mm2
    );
    assert!(deep.cavity.medial_breach_mm2 > shallow.cavity.medial_breach_mm2);
}

#[test]
fn a_lip_that_is_set_back_no_longer_reads_thin() {
    for preset in Preset::ALL {
        for medial in [0.0, 3.0] {
            let (bone, case) = planned(preset, medial, Side::Right);
            let new = stock(&case, &bone, &FallbackCup::default()).unwrap();
            let old = simulate(&case, &bone, &Instruments::generic().unwrap()).unwrap();
            let old = &old.reaming.last().unwrap().walls;
            let line: Vec<_> = old
                .iter()
                .map(|w| {
                    format!(
                        "{} {:.1} at {:.1}h {:.0}deg | {:.1}",
                        w.wall,
                        w.thickness_mm,
                        w.clock_h,
                        w.from_pole_deg,
                        wall(&new, w.wall)
                    )
                })
                .collect();
            eprintln!(
                "{} {medial}: {line:?} holes {:?} share {:.2} stock {:.2} fallback {} {:?}",
                preset.name(),
                new.cavity.holes,
                new.cavity.bone_share,
                new.cavity.stock_share,
                new.fallback.possible,
                new.fallback.walls
            );
        }
    }
}

#[test]
fn halving_every_step_moves_no_area_by_a_thousandth() {
    for (preset, medial) in [
        (Preset::AverageMale, 3.0),
        (Preset::Shallow2, 3.0),
        (Preset::Deep, 4.0),
    ] {
        let (bone, case) = planned(preset, medial, Side::Right);
        let reamers = Placed::reamers(&case, &bone).unwrap();
        let [once, twice] = [Steps::default(), Steps::default().halved()].map(|steps| {
            let fan = Fan::cast(&bone.solid, &reamers[0], steps);
            stock_along(&fan, &bone, &reamers, &FallbackCup::default())
                .unwrap()
                .cavity
        });
        for (a, b) in [
            (once.bone_area_mm2, twice.bone_area_mm2),
            (once.stock_mm3, twice.stock_mm3),
            (once.hole_area_mm2, twice.hole_area_mm2),
        ] {
            eprintln!("{} {a} {b} {:.5}", preset.name(), (a - b).abs() / b);
        }
    }
}
