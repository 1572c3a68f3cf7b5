//! What to watch: numbers of a run that pass a threshold, each with where the threshold comes from.

use cupwright_anatomy::PublishedZone;

use crate::case::Case;
use crate::findings::{CupFinding, Findings, Level, OverhangFinding, StepFinding, Wall, Watch};
use crate::hold::{HOOP_STRAIN_LIMIT, PressFitFinding};
use crate::instruments::Instruments;
use crate::joint::JointFinding;
use crate::joint::length::signed;
use crate::stock::FallbackFinding;

/// Common practice without a source to name.
const TRADE: &str = "common practice, no published source";

/// Bone left behind the cavity below which it is called thin, in mm.
const THIN_WALL: f64 = 2.0;

/// The coverage that is most often asked of a cup without cement.
const COMMON_COVERAGE: f64 = 0.7;

/// A gap behind the pole that is told, in mm; 1 to 2 mm are common, from memory.
const POLAR_GAP: f64 = 2.0;

/// A difference of leg length that is told, in mm.
const LEG_LENGTH: f64 = 10.0;

/// Overhang at the front from which the pressure on the iliopsoas tendon rises, in mm.
const TENDON_OVERHANG: f64 = 6.0;

/// Everything to watch in a run, the gravest first.
pub(crate) fn list(case: &Case, instruments: &Instruments, findings: &Findings) -> Vec<Watch> {
    let (reaming, cup) = (&findings.reaming, &findings.cup);
    let mut watch = Vec::new();
    watch.extend(under_reaming(cup));
    watch.extend(hold(&findings.press_fit));
    watch.extend(walls(reaming));
    watch.extend(idle_reamers(reaming));
    watch.extend(coverage(cup));
    watch.extend(front_edge(cup));
    watch.extend(fallback(&findings.stock.fallback));
    watch.extend(hip_centre(cup));
    watch.extend(no_joint(findings));
    watch.extend(findings.joint.iter().flat_map(joint));
    watch.extend(zone(case));
    watch.extend(sizes(case, instruments));
    watch.sort_by_key(|entry| entry.level);
    watch
}

fn entry(level: Level, source: &str, message: String) -> Watch {
    Watch {
        level,
        message,
        source: source.into(),
    }
}

fn under_reaming(cup: &CupFinding) -> Option<Watch> {
    let nominal = cup.interference_mm;
    let curtis = "Curtis 1992, J Bone Joint Surg Br 74-B:372";
    if nominal < 0.0 {
        let message = format!(
            "the cup is {:.1} mm smaller than the last reamer: nothing presses it in",
            -nominal
        );
        Some(entry(Level::Stop, TRADE, message))
    } else if nominal >= 4.0 {
        let message = format!(
            "the cup is {nominal:.1} mm over the last reamer: sockets under-reamed by 4 mm broke"
        );
        Some(entry(Level::Stop, curtis, message))
    } else if nominal > 2.0 {
        let message = format!(
            "the cup is {nominal:.1} mm over the last reamer: it may not seat to the floor"
        );
        Some(entry(
            Level::Caution,
            "Kim 1995, J Arthroplasty 10:S17, as quoted in review",
            message,
        ))
    } else if nominal <= 0.0 {
        Some(entry(
            Level::Note,
            TRADE,
            "line to line: the cup is no larger than the last reamer".into(),
        ))
    } else {
        None
    }
}

/// Whether the cup holds by itself, and what the rim suffers; estimates.
fn hold(found: &PressFitFinding) -> Vec<Watch> {
    let mut watch = Vec::new();
    if !found.self_retaining {
        let why = if found.contact_share.mid > 0.0 {
            format!(
                "it would need a friction of {:.2}, {:.2} is assumed",
                found.least_friction.mid, found.inputs.friction
            )
        } else {
            "nothing presses it".into()
        };
        let message = format!("estimate: the cup does not stay by itself; {why}");
        watch.push(entry(Level::Stop, "this run, first order", message));
    }
    if found.rim_at_risk {
        let message = format!(
            "estimate: the rim is stretched by {:.1} % at {} o'clock, more than {:.0} %",
            100.0 * found.hoop_strain.mid,
            hour(found.hoop_strain_clock_h),
            100.0 * HOOP_STRAIN_LIMIT
        );
        let source = "assumed, between 3 and 4 mm of Curtis 1992, J Bone Joint Surg Br 74-B:372";
        watch.push(entry(Level::Caution, source, message));
    }
    if let Some(gap) = found.polar_gap_mm.filter(|gap| gap.mid > POLAR_GAP) {
        let message = format!(
            "estimate: at {:.0} N a gap of {:.1} mm stays at the pole",
            found.inputs.seating_force_n, gap.mid
        );
        watch.push(entry(Level::Caution, "2 mm: from memory", message));
    }
    watch
}

/// Whether the cup to fall back on would find bone; what holds now is told by `walls` and `coverage`.
fn fallback(found: &FallbackFinding) -> Option<Watch> {
    (!found.possible).then(|| {
        let thin = found.walls.iter().filter(|wall| !wall.enough);
        let mut left: Vec<_> = thin
            .map(|spare| match spare.after_mm {
                Some(mm) => format!("{} {mm:.1} mm", spare.wall),
                None => format!("no {}", spare.wall),
            })
            .collect();
        if found.bone_share < found.needs.least_contact {
            left.push(format!("{:.0} % in bone", 100.0 * found.bone_share));
        }
        if left.is_empty() {
            left.push(format!("holes of {:.0} mm²", found.hole_area_mm2));
        }
        let message = format!(
            "a fallback cup reamed to {:.0} mm would not find what it needs: {}",
            found.reamer_mm,
            left.join(", ")
        );
        entry(Level::Note, "fallback of the case", message)
    })
}

fn no_joint(findings: &Findings) -> Option<Watch> {
    let reason = findings.no_joint.as_ref()?;
    Some(entry(
        Level::Stop,
        "this run",
        format!("no joint: {reason}"),
    ))
}

/// Liner, leg length and motion.
fn joint(found: &JointFinding) -> Vec<Watch> {
    let mut watch = found.liner.watch.clone();
    let ball = &found.length.balls[found.length.chosen];
    let leg = ball.leg_length_mm - found.length.target_leg_length_mm;
    if leg.abs() > LEG_LENGTH {
        let way = if leg > 0.0 { "longer" } else { "shorter" };
        let message = format!(
            "leg {:.1} mm {way} than asked with ball {}",
            leg.abs(),
            signed(ball.ball_mm)
        );
        let source =
            "10 mm is common in normal people: Sci Rep 2021, doi 10.1038/s41598-021-02684-3";
        watch.push(entry(Level::Caution, source, message));
    }
    let short = found.motion.needs.iter().filter(|need| !need.met);
    watch.extend(short.map(|need| {
        let message = format!(
            "{} stops {:.0}° short of the {:.0}° needed: the neck meets the liner",
            need.movement, -need.margin_deg, need.needed_deg
        );
        entry(Level::Caution, "needs of the case", message)
    }));
    watch
}

fn walls(reaming: &[StepFinding]) -> Vec<Watch> {
    let Some(last) = reaming.last() else {
        return Vec::new();
    };
    let thin = last
        .walls
        .iter()
        .filter(|wall| wall.thickness_mm < THIN_WALL);
    thin.map(|found| {
        let at = format!("at {} o'clock", hour(found.clock_h));
        if found.thickness_mm > 0.0 {
            let message = format!("{} wall {:.1} mm thin {at}", found.wall, found.thickness_mm);
            return entry(Level::Caution, "2 mm: assumed", message);
        }
        let message = format!("the {} wall is broken through {at}", found.wall);
        let medial = "in 26 of 95 hips, none revised at 23 months: Mandelli 2018";
        match found.wall {
            Wall::Medial => entry(Level::Caution, medial, message),
            _ => entry(Level::Stop, TRADE, message),
        }
    })
    .collect()
}

fn idle_reamers(reaming: &[StepFinding]) -> Vec<Watch> {
    let idle = reaming
        .iter()
        .enumerate()
        .filter(|(_, step)| step.removed_mm3 <= step.error_bound_mm3);
    let touched = |k: usize| {
        reaming[..=k]
            .iter()
            .any(|step| step.cumulative_removed_mm3 > 0.0)
    };
    idle.map(|(k, step)| {
        let what = if touched(k) {
            "removes nothing that is not gone already"
        } else {
            "touches no bone"
        };
        let message = format!("reamer {} ({:.0} mm) {what}", k + 1, step.diameter_mm);
        entry(Level::Caution, "this run", message)
    })
    .collect()
}

fn coverage(cup: &CupFinding) -> Option<Watch> {
    let covered = cup.coverage_after_reaming;
    (covered < COMMON_COVERAGE).then(|| {
        let message = format!(
            "{:.1} % of the cup is covered, less than 70 %",
            100.0 * covered
        );
        entry(Level::Caution, "common minimum, from memory", message)
    })
}

/// The front of the rim, from 1 to 4 o'clock, where the iliopsoas tendon runs; below lies the notch.
fn front_edge(cup: &CupFinding) -> Option<Watch> {
    let front = cup
        .overhang
        .iter()
        .filter(|place| (1.0..=4.0).contains(&place.clock_h));
    let worst: &OverhangFinding = front.max_by(|a, b| a.proud_mm.total_cmp(&b.proud_mm))?;
    (worst.proud_mm >= TENDON_OVERHANG).then(|| {
        let message = format!(
            "the edge stands {:.1} mm proud in front, at {} o'clock",
            worst.proud_mm,
            hour(worst.clock_h)
        );
        entry(
            Level::Caution,
            "tendon pressure rises from 6 mm: PMC9977861",
            message,
        )
    })
}

fn hip_centre(cup: &CupFinding) -> Option<Watch> {
    let shift = cup.centre_shift;
    (shift.superior_mm > 3.0 || shift.medial_mm > 5.0).then(|| {
        let message = format!(
            "hip centre {:.1} mm up and {:.1} mm in: offset within 5 mm is hard to restore beyond 3 up or 5 in",
            shift.superior_mm, shift.medial_mm
        );
        entry(Level::Note, "cup position review, Indian J Orthop 2017", message)
    })
}

fn zone(case: &Case) -> Option<Watch> {
    let zone = PublishedZone::Lewinnek1978;
    (!zone.zone().contains(&case.cup.orientation)).then(|| {
        let message = "outside 30 to 50 inclination, 5 to 25 anteversion (radiographic)".to_owned();
        entry(Level::Note, zone.source().citation, message)
    })
}

fn sizes(case: &Case, instruments: &Instruments) -> Vec<Watch> {
    let absent = |list: &[f64], size: f64| !list.iter().any(|s| (s - size).abs() < 1e-6);
    let reamers = case
        .reamers
        .iter()
        .map(|tool| tool.diameter)
        .filter(|d| absent(instruments.reamers(), *d));
    let cups = Some(case.cup.diameter).filter(|d| absent(instruments.cups(), *d));
    let named = reamers
        .map(|d| ("reamer", d))
        .chain(cups.map(|d| ("cup", d)));
    named
        .map(|(what, d)| {
            entry(
                Level::Note,
                "instruments of the case",
                format!("no {what} of {d} mm in the set"),
            )
        })
        .collect()
}

/// A clock position as hours and minutes.
fn hour(hours: f64) -> String {
    cupwright_anatomy::Hour::from_hours(hours).to_string()
}
