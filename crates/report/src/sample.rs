//! Findings made by hand, for the tests of every report.

use cupwright_procedure::findings::{
    AnglesFinding, BoneFinding, CupFinding, FilmFinding, FrameFinding, Level, LimitFinding,
    OverhangFinding, Shift, StepFinding, Wall, WallFinding, Watch,
};
use cupwright_procedure::hold::{Banded, GapFinding, PressFitFinding};
use cupwright_procedure::joint::{JointFinding, joint};
use cupwright_procedure::stock::{SpareFinding, StockFinding};
use cupwright_procedure::{CaseFile, Findings};

/// A right hip: four reamers, a cup that stands proud in front and at the notch.
pub(crate) fn right() -> Findings {
    let steps = [
        (46.0, 0.0068, 0.3, 0.03, 0.09, 0.61, vec![]),
        (
            48.0,
            1.4123,
            11.2,
            0.31,
            0.27,
            0.66,
            vec![wall(Wall::Medial, 5.7)],
        ),
        (
            50.0,
            2.2841,
            20.9,
            0.53,
            0.48,
            0.71,
            vec![wall(Wall::Medial, 4.1)],
        ),
        (
            51.0,
            1.5302,
            27.4,
            0.67,
            0.59,
            0.74,
            vec![wall(Wall::Medial, 3.2), wall(Wall::Posterior, 9.4)],
        ),
    ];
    Findings {
        bone: BoneFinding {
            source: "average-male".into(),
            side: "right".into(),
            triangles: 40_962,
            volume_mm3: 193_677.9,
            area_mm2: 37_185.3,
            native_diameter_mm: 47.8,
            assumed_density_g_per_cm3: 0.9,
        },
        frame: FrameFinding {
            orientation: "radiographic".into(),
            reference: "anterior pelvic plane".into(),
            posterior_tilt_deg: 4.0,
        },
        reaming: in_order(&steps),
        cup: cup(),
        press_fit: press_fit(),
        stock: stock(),
        screws: None,
        joint: Some(usual_joint()),
        no_joint: None,
        bone_on_bone: None,
        watch: what_to_watch(),
        limits: limits(),
        notes: "Teaching case.\n\nCompare with a cup one size down.".into(),
    }
}

/// A cup that stays by itself over a gap of 1.2 mm.
fn press_fit() -> PressFitFinding {
    let band = |low, mid, high| Banded { low, mid, high };
    PressFitFinding {
        nominal_interference_mm: 1.0,
        real_interference_mm: 0.5,
        stands_proud_mm: band(0.4, 0.9, 1.6),
        polar_gap_mm: Some(band(0.7, 1.2, 1.9)),
        gap_by_force: vec![GapFinding {
            force_n: 2000.0,
            stands_proud_mm: 1.1,
            polar_gap_mm: Some(1.4),
        }],
        push_out_n: band(210.0, 840.0, 2900.0),
        lever_out_nm: band(3.0, 11.2, 40.0),
        tips_over_clock_h: 10.5,
        least_friction: band(0.2, 0.21, 0.3),
        self_retaining: true,
        hoop_strain: band(0.012, 0.021, 0.033),
        hoop_strain_clock_h: 8.0,
        assumptions: vec![cupwright_procedure::hold::ASSUMES],
        ..PressFitFinding::default()
    }
}

/// Two walls, a hole toward the midline, and a fallback that lacks floor.
fn stock() -> StockFinding {
    let mut stock = StockFinding::default();
    stock.cavity.walls = vec![wall(Wall::Medial, 3.2), wall(Wall::Posterior, 9.4)];
    stock.cavity.bone_share = 0.68;
    stock.cavity.stock_mm3 = 21_000.0;
    stock.cavity.stock_share = 0.44;
    stock.fallback.reamer_mm = 57.0;
    stock.fallback.bone_share = 0.81;
    stock.fallback.walls = vec![SpareFinding {
        wall: Wall::Medial,
        left_mm: 3.2,
        after_mm: Some(0.9),
        enough: false,
    }];
    stock
}

/// The generic joint in a cup of 52 mm.
pub(crate) fn usual_joint() -> JointFinding {
    let text = "(version: 1, bone: Preset(name: \"average-male\", side: Right), orientation: Radiographic, \
         reamers: [(diameter_mm: 51)], cup: (diameter_mm: 52, inclination_deg: 40, anteversion_deg: 15, \
         centre: (medial_mm: 2, superior_mm: 1)))";
    let case = CaseFile::parse(text).unwrap().check().unwrap();
    joint(&case.joint, &case).unwrap()
}

fn what_to_watch() -> Vec<Watch> {
    vec![
        watch(
            Level::Stop,
            "the medial wall is 3.2 mm thin",
            "common practice, no published source",
        ),
        watch(
            Level::Caution,
            "the edge stands 6.3 mm proud of bone at 1:30, where the tendon in front of the hip runs over it",
            "tendon pressure rises from 6 mm on",
        ),
        watch(
            Level::Note,
            "the cup moves the hip centre 2.0 mm medially",
            "a matter of balance, no threshold",
        ),
    ]
}

fn limits() -> Vec<LimitFinding> {
    vec![
        limit("min_coverage", 0.7, Some(0.7412), true),
        limit("min_wall_mm", 4.0, Some(3.2), false),
        limit("max_lateral_shift_mm", 3.0, None, true),
    ]
}

/// The same findings in a left hip.
pub(crate) fn left() -> Findings {
    let mut findings = right();
    findings.bone.side = "left".into();
    findings
}

/// A right hip reamed by reamers of these diameters.
pub(crate) fn with_reamers(diameters_mm: &[f64]) -> Findings {
    let steps: Vec<_> = diameters_mm
        .iter()
        .map(|&mm| {
            (
                mm,
                (mm / 30.0).powi(2),
                mm / 3.0,
                0.4,
                0.5,
                mm / 70.0,
                vec![wall(Wall::Superior, 60.0 - mm)],
            )
        })
        .collect();
    let mut findings = right();
    findings.reaming = in_order(&steps);
    findings
}

/// Numbers and texts as wide as they come, and wider.
pub(crate) fn widest() -> Findings {
    let mut findings = with_reamers(&[99.95; 12]);
    findings.bone.source = "x".repeat(120);
    findings.bone.triangles = 123_456_789;
    findings.bone.volume_mm3 = 9_876_543.0;
    findings.frame.reference = "a plane whose name is longer than anyone would think, ".repeat(3);
    findings.frame.posterior_tilt_deg = -123.45;
    for step in &mut findings.reaming {
        step.removed_mm3 = 888_888.0;
        step.removed_g = 888.88;
        step.cumulative_removed_mm3 = 8_888_888.0;
        step.cumulative_removed_g = 8_888.88;
        step.error_bound_mm3 = 1234.5;
        step.new_contact_mm2 = 88_888.0;
        step.new_contact = 1.0;
        step.rim_contact = 1.0;
        step.thinnest_wall = Some(wall(Wall::Posterior, 123.45));
        step.walls = [
            Wall::Medial,
            Wall::Anterior,
            Wall::Posterior,
            Wall::Superior,
            Wall::Inferior,
        ]
        .map(|which| wall(which, 123.45))
        .into();
    }
    findings.cup.rim_arcs_deg = (0..36)
        .map(|i| f64::from(i) * 10.0)
        .map(|a| [a, a + 5.0])
        .collect();
    findings.cup.coverage_by_hour = [1.0; 12];
    findings.cup.centre_shift = Shift {
        medial_mm: -1e5,
        superior_mm: -1e5,
        anterior_mm: -1e5,
    };
    findings.cup.interference_mm = -1e9;
    findings.cup.overhang[5].proud_mm = 1e5;
    findings.watch[0].message = "骨".repeat(100);
    findings.limits[0] = limit(&"long_name_".repeat(12), 1.0 / 3.0, Some(-1e300), false);
    findings.notes = format!("\u{1b}[31m{}\t{}", "word ".repeat(60), "w".repeat(200));
    findings
}

/// Diameter in mm, removed in cm³, new contact in cm² and as a share, rim contact, coverage, walls.
type Step = (f64, f64, f64, f64, f64, f64, Vec<WallFinding>);

fn in_order(steps: &[Step]) -> Vec<StepFinding> {
    let mut total = 0.0;
    let step = |(diameter_mm, cm3, cm2, new_contact, rim_contact, coverage, walls): &Step| {
        total += cm3;
        StepFinding {
            diameter_mm: *diameter_mm,
            removed_mm3: 1000.0 * cm3,
            removed_g: 0.9 * cm3,
            cumulative_removed_mm3: 1000.0 * total,
            cumulative_removed_g: 0.9 * total,
            error_bound_mm3: 0.0,
            layers: None,
            new_contact_mm2: 100.0 * cm2,
            new_contact: *new_contact,
            rim_contact: *rim_contact,
            thinnest_wall: walls.first().cloned(),
            walls: walls.clone(),
            coverage: *coverage,
        }
    };
    steps.iter().map(step).collect()
}

fn wall(wall: Wall, thickness_mm: f64) -> WallFinding {
    WallFinding {
        wall,
        thickness_mm,
        place: Shift {
            medial_mm: 25.0,
            superior_mm: 4.0,
            anterior_mm: -3.0,
        },
        clock_h: 10.5,
        from_pole_deg: 18.0,
    }
}

fn cup() -> CupFinding {
    let angles = |definition: &str, inclination_deg, anteversion_deg| AnglesFinding {
        definition: definition.into(),
        inclination_deg,
        anteversion_deg,
    };
    let proud_mm = [
        0.0, 0.8, 3.9, 6.3, 5.2, 2.7, 0.4, 0.0, 0.0, 0.9, 2.8, 4.4, 5.1, 4.0, 1.9, 0.0, 0.0, 0.0,
        0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
    ];
    let half_hours = (0..24_u8).map(|i| f64::from(i) / 2.0);
    let overhang = half_hours
        .zip(proud_mm)
        .map(|(clock_h, proud_mm)| OverhangFinding { clock_h, proud_mm });
    CupFinding {
        diameter_mm: 52.0,
        angles: vec![
            angles("radiographic", 40.0, 15.0),
            angles("operative", 38.7, 19.3),
            angles("anatomic", 42.2, 22.7),
        ],
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
        rim_arcs_deg: vec![[97.5, 127.5], [222.5, 367.5]],
        uncovered_rim_deg: 185.0,
        uncovered_rim_mm: 83.95,
        overhang: overhang.collect(),
        interference_mm: 1.0,
        centre_shift: Shift {
            medial_mm: 2.0,
            superior_mm: 1.0,
            anterior_mm: -0.02,
        },
        centre_mm: [-31.7, -70.5, -71.1],
        axis: [0.62, 0.26, -0.74],
    }
}

fn watch(level: Level, message: &str, source: &str) -> Watch {
    Watch {
        level,
        message: message.into(),
        source: source.into(),
    }
}

fn limit(limit: &str, asked: f64, found: Option<f64>, met: bool) -> LimitFinding {
    LimitFinding {
        limit: limit.into(),
        asked,
        found,
        met,
    }
}
