//! Bone left behind a cavity, against closed forms of a slab and the stories of the presets.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::f64::consts::TAU;

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::Preset;
use cupwright_procedure::Bone;
use cupwright_procedure::fan::{Fan, Steps};
use cupwright_procedure::findings::Wall;
use cupwright_procedure::placed::Tools;
use cupwright_procedure::stock::{FallbackCup, StockFinding, stock, stock_along};
use cupwright_tests::blocks;
use cupwright_tests::pelves::{self, Plan};

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

fn stock_of(preset: Preset, medial_mm: f64) -> StockFinding {
    let bone = pelves::bone(preset, Side::Right);
    let plan = Plan {
        medial_mm,
        ..Plan::COMMON
    };
    stock(&plan.case(&bone), &bone, &FallbackCup::default()).unwrap()
}

#[test]
fn reaming_deep_into_a_deep_socket_breaches_the_medial_wall() {
    let [shallow, deep] = [0.0, 6.0].map(|medial| stock_of(Preset::Deep, medial).cavity);
    assert!(shallow.medial_breach_mm2 <= 0.0 && shallow.holes.is_empty());
    assert!(
        (300.0..700.0).contains(&deep.medial_breach_mm2),
        "{}",
        deep.medial_breach_mm2
    );
    assert_eq!(deep.holes[0].wall, Wall::Medial);
    let medial = deep.walls.iter().find(|w| w.wall == Wall::Medial).unwrap();
    assert!(medial.thickness_mm <= 0.0);
}

#[test]
fn a_lip_that_is_set_back_does_not_read_thin() {
    // The front of a shallow socket begins far below the edge and is whole there.
    for preset in [Preset::Shallow2, Preset::Shallow3] {
        let cavity = stock_of(preset, 3.0).cavity;
        let begins = cavity.by_hour.iter().filter_map(|h| h.begins_mm);
        assert!(begins.fold(0.0, f64::max) > 10.0, "{}", preset.name());
        let walls = cavity.walls.iter().map(|w| w.thickness_mm);
        let thinnest = walls.fold(f64::MAX, f64::min);
        assert!(
            (4.0..7.0).contains(&thinnest),
            "{} {thinnest}",
            preset.name()
        );
        assert!(cavity.hole_area_mm2 <= 0.0);
    }
}

#[test]
fn each_mm_of_depth_costs_about_as_much_of_the_medial_wall() {
    let medial = |mm: f64| {
        let cavity = stock_of(Preset::AverageMale, mm).cavity;
        let mut walls = cavity.walls.iter();
        walls.find(|w| w.wall == Wall::Medial).unwrap().thickness_mm
    };
    let lost = (medial(1.0) - medial(4.0)) / 3.0;
    assert!((0.8..1.25).contains(&lost), "{lost} mm");
}

#[test]
fn halving_every_step_moves_no_area_by_a_thousandth() {
    for (preset, medial_mm) in [
        (Preset::AverageMale, 3.0),
        (Preset::Shallow2, 3.0),
        (Preset::Deep, 4.0),
        (Preset::Deep, 6.0),
    ] {
        let bone = pelves::bone(preset, Side::Right);
        let plan = Plan {
            medial_mm,
            ..Plan::COMMON
        };
        let tools = Tools::of(&plan.case(&bone), &bone).unwrap();
        let [once, twice] = [Steps::default(), Steps::default().halved()].map(|steps| {
            let fan = Fan::cast(&bone.solid, tools.last(), steps);
            let found = stock_along(&fan, &bone, &tools, &FallbackCup::default());
            found.unwrap().cavity
        });
        for (name, one, two) in [
            ("bone", once.bone_area_mm2, twice.bone_area_mm2),
            ("stock", once.stock_mm3, twice.stock_mm3),
            ("holes", once.hole_area_mm2, twice.hole_area_mm2),
        ] {
            assert!(
                (one - two).abs() <= 1e-3 * two,
                "{} {name}: {one}, {two}",
                preset.name()
            );
        }
    }
}
