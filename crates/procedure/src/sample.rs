//! Findings made by hand, for tests.

use crate::findings::{
    AnglesFinding, BoneFinding, CupFinding, FilmFinding, Findings, FrameFinding, Level,
    LimitFinding, OverhangFinding, Shift, StepFinding, Wall, WallFinding, Watch,
};

use crate::hold::PressFitFinding;
use crate::stock::StockFinding;

/// A right hip: three reamers, a cup that stands proud in front, one limit kept and one broken.
pub(crate) fn findings() -> Findings {
    Findings {
        bone: BoneFinding {
            source: "by hand".into(),
            side: "right".into(),
            triangles: 1,
            volume_mm3: 1.0,
            area_mm2: 1.0,
            native_diameter_mm: 48.0,
            assumed_density_g_per_cm3: 1.0,
        },
        frame: FrameFinding {
            orientation: "radiographic".into(),
            reference: "anterior pelvic plane".into(),
            posterior_tilt_deg: 0.0,
        },
        reaming: vec![
            step(47.0, 1400.0, 0.0, vec![]),
            step(49.0, 2300.0, 1400.0, vec![wall(Wall::Medial, 4.1, 10.5)]),
            step(
                51.0,
                1530.0,
                3700.0,
                vec![
                    wall(Wall::Medial, 3.2, 10.5),
                    wall(Wall::Posterior, 9.4, 8.0),
                ],
            ),
        ],
        cup: cup(),
        press_fit: PressFitFinding::default(),
        stock: StockFinding::default(),
        screws: None,
        joint: None,
        no_joint: None,
        bone_on_bone: None,
        watch: vec![watch(
            Level::Caution,
            "the edge stands 6.3 mm proud in front, at 1:30 o'clock",
        )],
        limits: vec![
            limit("min_coverage", 0.7, 0.7412, true),
            limit("min_wall_mm", 4.0, 3.2, false),
        ],
        notes: String::new(),
    }
}

fn cup() -> CupFinding {
    let proud = |k: u8| match k {
        2 => 3.9,
        3 => 6.3,
        4 => 5.2,
        _ => 0.0,
    };
    let overhang = (0..24).map(|k| OverhangFinding {
        clock_h: f64::from(k) / 2.0,
        proud_mm: proud(k),
    });
    CupFinding {
        diameter_mm: 52.0,
        angles: vec![AnglesFinding {
            definition: "radiographic".into(),
            inclination_deg: 40.0,
            anteversion_deg: 15.0,
        }],
        coverage: 0.7534,
        coverage_after_reaming: 0.7412,
        coverage_error_bound: 0.0,
        coverage_by_hour: [
            0.94, 0.71, 0.62, 0.77, 0.61, 0.43, 0.38, 0.66, 0.85, 0.93, 0.97, 0.98,
        ],
        film: FilmFinding {
            centre_edge_deg: Some(21.0),
            width_covered: 0.77,
        },
        rim_contact: 0.5417,
        rim_arcs_deg: vec![[97.5, 292.5]],
        uncovered_rim_deg: 165.0,
        uncovered_rim_mm: 74.9,
        overhang: overhang.collect(),
        interference_mm: 1.0,
        centre_shift: Shift {
            medial_mm: 2.0,
            superior_mm: 1.0,
            anterior_mm: -2.0,
        },
        centre_mm: [0.0; 3],
        axis: [0.62, 0.26, -0.74],
    }
}

fn step(
    diameter_mm: f64,
    removed_mm3: f64,
    before_mm3: f64,
    walls: Vec<WallFinding>,
) -> StepFinding {
    StepFinding {
        diameter_mm,
        removed_mm3,
        removed_g: removed_mm3 / 1000.0,
        cumulative_removed_mm3: before_mm3 + removed_mm3,
        cumulative_removed_g: (before_mm3 + removed_mm3) / 1000.0,
        error_bound_mm3: 0.0,
        layers: None,
        new_contact_mm2: 1000.0,
        new_contact: 0.3,
        rim_contact: 0.5,
        thinnest_wall: walls.first().cloned(),
        walls,
        coverage: 0.7,
    }
}

fn wall(wall: Wall, thickness_mm: f64, clock_h: f64) -> WallFinding {
    WallFinding {
        wall,
        thickness_mm,
        place: Shift::default(),
        clock_h,
        from_pole_deg: 18.0,
    }
}

/// Something to watch, by common practice.
pub(crate) fn watch(level: Level, message: &str) -> Watch {
    Watch {
        level,
        message: message.into(),
        source: "common practice, no published source".into(),
    }
}

fn limit(limit: &str, asked: f64, found: f64, met: bool) -> LimitFinding {
    LimitFinding {
        limit: limit.into(),
        asked,
        found: Some(found),
        met,
    }
}
