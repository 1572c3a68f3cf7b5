//! Runs a case on its bone: every reamer in order, then the cup.

use cupwright_anatomy::{Definition, Hour};
use cupwright_geometry::{Circle, rim, union, within};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::fan::Fans;
use crate::film::film;
use crate::findings::{
    AnglesFinding, BoneFinding, CupFinding, Findings, FrameFinding, LimitFinding, OverhangFinding,
    StepFinding,
};
use crate::instruments::Instruments;
use crate::joint::bony::bony_motion;
use crate::joint::{Joint, joint};
use crate::mechanics::{NoMechanics, mechanics_along};
use crate::placed::{NotPlaced, Placed, Tools};
use crate::removal::{Apart, behind};
use crate::steps::steps;
use crate::watch;

/// Why a case could not be run to its end.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoFindings {
    /// A tool cannot be placed.
    #[error(transparent)]
    Placed(#[from] NotPlaced),
    /// Reamers that do not belong to one socket.
    #[error(transparent)]
    Apart(#[from] Apart),
    /// Press-fit, stock or screws.
    #[error(transparent)]
    Mechanics(#[from] NoMechanics),
}

/// Everything that running `case` on `bone` finds, but for [`bone_on_bone`](with_bone_on_bone).
///
/// # Errors
/// When a tool cannot be, faces the midline or straight up or down, a reamer shares no point with those
/// before it, or a number that press-fit or screws need cannot be.
pub fn simulate(
    case: &Case,
    bone: &Bone,
    instruments: &Instruments,
) -> Result<Findings, NoFindings> {
    let tools = Tools::of(case, bone)?;
    let fans = Fans::cast(&bone.solid, &tools);
    let (steps, (cup, mechanics)) = rayon::join(
        || steps(case, bone, &tools, &fans),
        || {
            rayon::join(
                || cup(case, bone, &tools),
                || mechanics_along(&fans, bone, &tools, &case.mechanics),
            )
        },
    );
    let (mut reaming, cup, mechanics) = (steps?, cup?, mechanics?);
    if let Some(last) = reaming.last_mut() {
        // The cavity of the last reamer was looked at more closely.
        last.set_walls(mechanics.stock.cavity.walls.clone());
    }
    let (joint, no_joint) = match joint(&case.joint, case) {
        Ok(joint) => (Some(joint), None),
        Err(refused) => (None, Some(refused.to_string())),
    };
    let mut findings = Findings {
        bone: bone_finding(case, bone),
        frame: frame_finding(case),
        limits: limits(case, &reaming, &cup),
        reaming,
        cup,
        press_fit: mechanics.press_fit,
        stock: mechanics.stock,
        screws: mechanics.screws,
        joint,
        no_joint,
        bone_on_bone: None,
        watch: Vec::new(),
        notes: case.notes.clone(),
    };
    findings.watch = watch::list(case, instruments, &findings);
    Ok(findings)
}

/// The same with the motion until the case's femur meets its pelvis, a search of some tenths of a second;
/// without it where the parts make no joint.
pub fn with_bone_on_bone(findings: Findings, case: &Case, bone: &Bone) -> Findings {
    let searched = Joint::new(&case.joint, case).and_then(|joint| bony_motion(&joint, bone));
    Findings {
        bone_on_bone: searched.ok(),
        ..findings
    }
}

fn bone_finding(case: &Case, bone: &Bone) -> BoneFinding {
    BoneFinding {
        source: bone.source.clone(),
        side: bone.side.to_string(),
        triangles: bone.solid.mesh().triangles().len(),
        volume_mm3: bone.solid.volume(),
        area_mm2: bone.solid.area(),
        native_diameter_mm: 2.0 * bone.native_radius,
        assumed_density_g_per_cm3: case.density,
    }
}

fn frame_finding(case: &Case) -> FrameFinding {
    FrameFinding {
        orientation: case.definition.to_string(),
        reference: case.reference.to_string(),
        posterior_tilt_deg: case.tilt.posterior_angle().to_degrees(),
    }
}

fn cup(case: &Case, bone: &Bone, tools: &Tools) -> Result<CupFinding, NoFindings> {
    let placed = tools.cup;
    let head = *placed.head();
    let after = union::area_outside(&bone.solid, &head, &behind(&head, &tools.swept));
    let arcs = rim::arcs_inside(&bone.solid, &placed.rim()?);
    let last = case.reamers.last().map_or(0.0, |reamer| reamer.diameter);
    let uncovered = 1.0 - arcs.share();
    Ok(CupFinding {
        diameter_mm: case.cup.diameter,
        angles: angles(case),
        coverage: within::coverage(&bone.solid, &head),
        coverage_after_reaming: after.value / head.area(),
        coverage_error_bound: after.error_bound / head.area(),
        coverage_by_hour: coverage_by_hour(bone, &placed),
        film: film(case, bone, &placed)?,
        rim_contact: arcs.share(),
        rim_arcs_deg: arcs
            .intervals()
            .iter()
            .map(|arc| arc.map(f64::to_degrees))
            .collect(),
        uncovered_rim_deg: 360.0 * uncovered,
        uncovered_rim_mm: std::f64::consts::TAU * head.radius() * uncovered,
        overhang: overhang(bone, &placed)?,
        interference_mm: case.cup.diameter - last,
        centre_shift: case.cup.centre,
        centre_mm: head.centre().into(),
        axis: head.axis().into_inner().into(),
    })
}

/// The cup's angles, in the case's own definition first.
fn angles(case: &Case) -> Vec<AnglesFinding> {
    let others = Definition::ALL
        .into_iter()
        .filter(|d| *d != case.definition);
    let all = std::iter::once(case.definition).chain(others);
    let finding = |definition: Definition| {
        let converted = case.cup.orientation.converted_to(definition);
        AnglesFinding {
            definition: definition.to_string(),
            inclination_deg: converted.inclination().to_degrees(),
            anteversion_deg: converted.anteversion().to_degrees(),
        }
    };
    all.map(finding).collect()
}

/// Coverage of twelve sectors, each about one hour of the clock, 12 first.
fn coverage_by_hour(bone: &Bone, placed: &Placed) -> [f64; 12] {
    let starts = (0..12).map(|hour| placed.toward(Hour::from_hours(f64::from(hour) - 0.5)));
    let sectors = within::sectors(&bone.solid, placed.head(), &starts.collect::<Vec<_>>());
    let whole = placed.head().area() / 12.0;
    std::array::from_fn(|k| sectors.get(k).map_or(0.0, |sector| sector.area / whole))
}

/// How far the edge stands proud of bone, every half hour from 12 o'clock.
fn overhang(bone: &Bone, placed: &Placed) -> Result<Vec<OverhangFinding>, NoFindings> {
    let half_hours = (0..24).map(|k| Hour::from_hours(f64::from(k) / 2.0));
    half_hours
        .map(|hour| {
            proud(bone, placed, hour).map(|proud_mm| OverhangFinding {
                clock_h: hour.hours(),
                proud_mm,
            })
        })
        .collect()
}

/// From a tool's edge along its surface toward the pole until bone begins, in mm; the whole quarter
/// circle where it never does.
///
/// # Errors
/// When numbers have overflowed.
pub fn proud(bone: &Bone, placed: &Placed, hour: Hour) -> Result<f64, NoFindings> {
    const QUARTER: f64 = std::f64::consts::FRAC_PI_2;
    let (head, edge) = (placed.head(), placed.toward(hour));
    let down = -head.axis().into_inner();
    let meridian = Circle::new(head.centre(), head.radius(), edge, down)
        .map_err(|problem| placed.refused(problem))?;
    let arcs = rim::arcs_inside(&bone.solid, &meridian);
    if arcs.contains(0.0) {
        return Ok(0.0);
    }
    let first = arcs
        .intervals()
        .iter()
        .map(|[start, _]| *start)
        .fold(QUARTER, f64::min);
    Ok(first * head.radius())
}

fn limits(case: &Case, reaming: &[StepFinding], cup: &CupFinding) -> Vec<LimitFinding> {
    let asked = &case.limits;
    let at_least = |limit: &str, asked: Option<f64>, found: Option<f64>| {
        asked.map(|asked| LimitFinding {
            limit: limit.into(),
            asked,
            found,
            met: found.is_none_or(|f| f >= asked),
        })
    };
    let at_most = |limit: &str, asked: Option<f64>, found: f64| {
        asked.map(|asked| LimitFinding {
            limit: limit.into(),
            asked,
            found: Some(found),
            met: found <= asked,
        })
    };
    let last = reaming.last();
    let wall = last
        .and_then(|step| step.thinnest_wall.as_ref())
        .map(|wall| wall.thickness_mm);
    let overhang = cup
        .overhang
        .iter()
        .map(|place| place.proud_mm)
        .fold(0.0, f64::max);
    let moved = cup.centre_shift.distance();
    let checks = [
        at_least(
            "min_coverage",
            asked.min_coverage,
            Some(cup.coverage_after_reaming),
        ),
        at_least(
            "min_rim_contact",
            asked.min_rim_contact,
            Some(cup.rim_contact),
        ),
        at_least("min_wall_mm", asked.min_wall_mm, wall),
        at_most("max_overhang_mm", asked.max_overhang_mm, overhang),
        at_most("max_centre_shift_mm", asked.max_centre_shift_mm, moved),
        at_most(
            "max_removed_mm3",
            asked.max_removed_mm3,
            last.map_or(0.0, |step| step.cumulative_removed_mm3),
        ),
    ];
    checks.into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::CaseFile;
    use cupwright_anatomy::Side;
    use cupwright_geometry::{Solid, samples};
    use nalgebra::{Isometry3, Point3};

    /// Coverage after reaming of a cup of 54 mm deep in a block, by one reamer.
    fn covered_after(reamer: &str) -> f64 {
        let text = format!(
            "(version: 1, bone: Preset(name: \"block\", side: Right), orientation: Radiographic, \
             reamers: [({reamer})], cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15))"
        );
        let case = CaseFile::parse(&text).unwrap().check().unwrap();
        let block = samples::cuboid([200.0; 3]);
        let bounds = block.bounds().unwrap();
        let bone = Bone {
            solid: Solid::try_from(block).unwrap().into(),
            landmarks: None,
            source: "a block".into(),
            side: Side::Right,
            to_pelvic: Isometry3::identity(),
            native_centre: Point3::from((bounds.min.coords + bounds.max.coords) / 2.0),
            native_radius: 25.0,
            layers: None,
        };
        let instruments = Instruments::generic().unwrap();
        let findings = simulate(&case, &bone, &instruments).unwrap();
        findings.cup.coverage_after_reaming
    }

    #[test]
    fn a_cup_line_to_line_touches_what_the_reamer_left() {
        assert!((covered_after("diameter_mm: 53") - 1.0).abs() < 1e-9);
        assert!((covered_after("diameter_mm: 54") - 1.0).abs() < 1e-9);
        assert!(covered_after("diameter_mm: 54.001") < 1e-9);
    }

    #[test]
    fn a_reamer_of_the_cups_size_that_was_turned_leaves_a_lune_bare() {
        // What the reamer swept above its own edge: 10 of the 180 degrees round.
        let turned = covered_after("diameter_mm: 54, inclination_deg: 50, anteversion_deg: 15");
        let apart = (15.0_f64.to_radians().cos().powi(2) * 10.0_f64.to_radians().cos()
            + 15.0_f64.to_radians().sin().powi(2))
        .acos();
        let expected = 1.0 - apart / std::f64::consts::PI;
        assert!((turned - expected).abs() < 1e-3, "{turned}, {expected}");
    }
}
