//! Whether the joint comes back: liner and ball, leg length, motion.

use cupwright_procedure::Findings;
use cupwright_procedure::findings::Shift;
use cupwright_procedure::joint::bony::{BonyFinding, First};
use cupwright_procedure::joint::length::{BallFinding, LengthFinding, signed};
use cupwright_procedure::joint::liner::{LinerFinding, TradeFinding, Verdict};
use cupwright_procedure::joint::motion::{MotionFinding, MovementFinding};
use cupwright_procedure::joint::version::{RuleFinding, VersionFinding};
use cupwright_procedure::joint::{JointFinding, OffsetChoice};

use super::page::{Label, Page, Tone};
use crate::words::{clock, fixed, sum_asked, way};

/// What stands before the row of what the plan has.
pub(crate) const OWN: &str = "> ";

/// The joint, or why there is none.
pub(super) fn block(page: &mut Page, findings: &Findings) {
    let Some(joint) = &findings.joint else {
        page.heading("LINER, BALL AND STEM");
        let why = findings.no_joint.as_deref().unwrap_or("not looked at");
        page.labelled(Label::new("NO JOINT", 10, Tone::Alarm), why);
        return;
    };
    liner(page, &joint.liner);
    lengths(page, &joint.length, findings.cup.centre_shift);
    motion(page, joint, findings.bone_on_bone.as_ref());
    version(page, &joint.version);
}

fn liner(page: &mut Page, found: &LinerFinding) {
    page.heading("LINER AND BALL");
    page.paragraph(&liner_in_short(found));
    let heads = [
        "ball mm",
        "liner wall mm",
        "jump distance mm",
        "neck swings",
        "wall",
    ];
    let rows = found.trade.iter().map(|trade| trade_row(trade, found));
    page.table(&heads, &[4], rows.collect());
}

/// The liner that the plan has.
pub(crate) fn liner_in_short(found: &LinerFinding) -> String {
    format!(
        "Ball {} mm in a bore of {} mm: liner wall {} mm, {} mm at the pole; jump distance {} mm.",
        fixed(found.head_diameter_mm, 1),
        fixed(found.bore_mm, 1),
        fixed(found.wall_mm, 1),
        fixed(found.wall_at_pole_mm, 1),
        fixed(found.jump_distance_mm, 1)
    )
}

/// A size of ball, `> ` before the plan's own.
pub(crate) fn trade_row(trade: &TradeFinding, found: &LinerFinding) -> Vec<String> {
    let verdict = match trade.verdict {
        Verdict::Accepted => "",
        Verdict::Thin => "thin",
        Verdict::Refused => "TOO THIN",
    };
    let own = (trade.head_diameter_mm - found.head_diameter_mm).abs() < 1e-9;
    let swings = trade.oscillation_deg;
    vec![
        format!(
            "{}{}",
            if own { OWN } else { "" },
            fixed(trade.head_diameter_mm, 1)
        ),
        fixed(trade.wall_mm, 1),
        fixed(trade.jump_distance_mm, 1),
        swings.map_or("no room".into(), |deg| format!("{}°", fixed(deg, 0))),
        verdict.into(),
    ]
}

fn lengths(page: &mut Page, found: &LengthFinding, shift: Shift) {
    page.heading("LEG LENGTH AND OFFSET, to be read aloud");
    page.paragraph(&cup_by_itself(found, shift));
    let heads = ["ball", "version", "leg", "offset", "off target"];
    let rows = found
        .balls
        .iter()
        .enumerate()
        .map(|(k, ball)| ball_row(ball, k == found.chosen));
    page.table(&heads, &[1, 2, 3], rows.collect());
    page.paragraph(&asked_for(found));
}

/// What the cup does to leg and offset, whatever the ball.
pub(crate) fn cup_by_itself(found: &LengthFinding, shift: Shift) -> String {
    format!(
        "The cup by itself ({}): leg {}, total offset {}.",
        place(shift),
        way(found.cup.leg_length_mm, "longer", "shorter"),
        way(found.cup.total_offset_mm, "more", "less")
    )
}

/// What is asked for, and the ball that comes nearest.
pub(crate) fn asked_for(found: &LengthFinding) -> String {
    let best = &found.balls[found.best];
    let aside = if found.best == found.chosen {
        ""
    } else {
        "; another is chosen"
    };
    format!(
        "Asked for: leg {:+.0} mm, offset {:+.0} mm. Nearest: {}{aside}.",
        found.target_leg_length_mm, found.target_total_offset_mm, best.said
    )
}

/// Where the cup stands, without its noughts.
fn place(shift: Shift) -> String {
    let told = crate::words::from_native(&shift);
    told.trim_end_matches(" of the native one").into()
}

/// A ball, `> ` before the chosen one.
pub(crate) fn ball_row(ball: &BallFinding, chosen: bool) -> Vec<String> {
    let version = match ball.version {
        OffsetChoice::Standard => "standard offset",
        OffsetChoice::High => "high offset",
    };
    vec![
        format!("{}{}", if chosen { OWN } else { "" }, signed(ball.ball_mm)),
        version.into(),
        way(ball.leg_length_mm, "longer", "shorter"),
        way(ball.total_offset_mm, "more", "less"),
        format!("{} mm", fixed(ball.miss_mm, 1)),
    ]
}

fn motion(page: &mut Page, joint: &JointFinding, bony: Option<&BonyFinding>) {
    let found = &joint.motion;
    page.heading(&format!("MOTION with ball {}", signed(found.ball_mm)));
    let heads = [
        "movement",
        "neck meets\nliner",
        "\nat",
        "bone meets\nbone",
        "needed",
        "",
    ];
    let rows = found.movements.iter();
    let rows = rows.map(|movement| movement_row(movement, bony, found));
    page.table(&heads, &[0, 5], rows.collect());
    page.paragraph(&motion_in_short(found, bony));
}

/// How far the neck swings, and what the movements leave out.
pub(crate) fn motion_in_short(found: &MotionFinding, bony: Option<&BonyFinding>) -> String {
    let bone = if bony.is_some() {
        "bone against bone is a model femur against the pelvis before reaming"
    } else {
        "bone against bone was not searched"
    };
    format!(
        "The neck swings {}° between opposite places of the rim. Rigid geometry: no soft tissue; {bone}.",
        fixed(found.oscillation_deg, 0)
    )
}

/// A movement, the last cell saying what it lacks.
pub(crate) fn movement_row(
    found: &MovementFinding,
    bony: Option<&BonyFinding>,
    motion: &MotionFinding,
) -> Vec<String> {
    let bone = bony.and_then(|bony| {
        let mut same = bony.movements.iter();
        same.find(|bone| bone.movement == found.movement)
    });
    let degrees =
        |range: Option<f64>| range.map_or("free".into(), |deg| format!("{}°", fixed(deg, 0)));
    let need = motion
        .needs
        .iter()
        .find(|need| need.movement == found.movement);
    let short = match (need, bone) {
        (Some(need), _) if !need.met => "TOO LITTLE",
        (Some(need), Some(bone)) if bone.range_deg.is_some_and(|deg| deg < need.needed_deg) => {
            "bone first"
        }
        (_, Some(bone)) if bone.first == First::Bone => "bone first",
        _ => "",
    };
    vec![
        found.movement.to_string(),
        degrees(found.range_deg),
        found.rim_clock_h.map_or(String::new(), clock),
        bone.map_or("-".into(), |bone| degrees(bone.range_deg)),
        need.map_or(String::new(), |need| {
            format!("{}°", fixed(need.needed_deg, 0))
        }),
        short.into(),
    ]
}

/// The published rules, which do not agree with each other.
fn version(page: &mut Page, found: &VersionFinding) {
    page.heading("CUP AND STEM VERSION TOGETHER");
    let heads = ["rule in print", "sum", "asks for", "off by", "adds up"];
    page.table(
        &heads,
        &[0, 4],
        found
            .rules
            .iter()
            .filter(|rule| rule.applies)
            .map(rule_row)
            .collect(),
    );
}

/// What a rule says of cup and stem.
pub(crate) fn rule_row(rule: &RuleFinding) -> Vec<String> {
    vec![
        rule.rule.clone(),
        format!("{}°", fixed(rule.sum_deg, 1)),
        sum_asked(rule),
        format!("{:+.1}°", rule.departure_deg),
        rule.formula.clone(),
    ]
}
