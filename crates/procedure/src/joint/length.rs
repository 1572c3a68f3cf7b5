//! What each ball does to leg length and offset, and which one comes nearest a target.

use nalgebra::Vector3;
use schemars::JsonSchema;
use serde::Serialize;

use super::entry::OffsetChoice;
use super::{BadJoint, Joint};

/// Leg length and offset with every ball and version of the stem.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct LengthFinding {
    /// What the cup and its liner do, whatever the stem: the joint's centre against the native one.
    pub cup: PartFinding,
    /// Every ball on every version, the standard one first, the shortest ball first.
    pub balls: Vec<BallFinding>,
    /// The place in `balls` of the one nearest the target.
    pub best: usize,
    /// The place in `balls` of the one that the case chooses; the nearest of what it leaves open.
    pub chosen: usize,
    /// The change of leg length asked for.
    pub target_leg_length_mm: f64,
    /// The change of total offset asked for.
    pub target_total_offset_mm: f64,
}

/// What one side of the joint does.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct PartFinding {
    /// To leg length: longer positive.
    pub leg_length_mm: f64,
    /// To total offset, from the midline to the shaft: more positive.
    pub total_offset_mm: f64,
    /// To the place of the thigh from back to front: forward positive.
    pub anterior_mm: f64,
}

/// What one ball on one version of the stem does, against the native joint.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct BallFinding {
    /// Its length along the neck.
    pub ball_mm: f64,
    /// The version of the stem.
    pub version: OffsetChoice,
    /// Change of leg length: longer positive.
    pub leg_length_mm: f64,
    /// Change of total offset, from the midline to the shaft seen from the front: more positive.
    pub total_offset_mm: f64,
    /// The stem's share of that: change of the femoral offset seen from the front.
    pub femoral_offset_mm: f64,
    /// How far the thigh moves forward.
    pub anterior_mm: f64,
    /// Distance from the target: leg length and offset as the legs of a right triangle (assumed: both
    /// count alike).
    pub miss_mm: f64,
    /// The same to be read aloud, in whole mm.
    pub said: String,
}

/// Leg length and offset of a joint.
///
/// # Errors
/// When no ball brings the leg near enough to its target.
pub fn lengths(joint: &Joint) -> Result<LengthFinding, BadJoint> {
    let target = &joint.entry.target;
    let balls = balls(joint);
    let leg = |ball: &BallFinding| ball.leg_length_mm;
    let least_miss = balls
        .iter()
        .map(|ball| (leg(ball) - target.leg_length_mm).abs())
        .fold(f64::INFINITY, f64::min);
    if least_miss > target.leg_length_limit_mm {
        return Err(BadJoint::CannotReach {
            shortest: balls.iter().map(leg).fold(f64::INFINITY, f64::min),
            longest: balls.iter().map(leg).fold(f64::NEG_INFINITY, f64::max),
            target: target.leg_length_mm,
            limit: target.leg_length_limit_mm,
        });
    }
    let entry = &joint.entry;
    let open = |ball: &BallFinding| {
        let length = entry.head.length_mm;
        let length = length.is_none_or(|l| l.total_cmp(&ball.ball_mm).is_eq());
        length && entry.stem.offset.is_none_or(|v| v == ball.version)
    };
    Ok(LengthFinding {
        cup: change(joint.centre(), Vector3::zeros()),
        best: nearest(&balls, |_| true),
        chosen: nearest(&balls, open),
        balls,
        target_leg_length_mm: target.leg_length_mm,
        target_total_offset_mm: target.total_offset_mm,
    })
}

/// Every ball on every version that there is.
fn balls(joint: &Joint) -> Vec<BallFinding> {
    let mut lengths = joint.entry.head.lengths_mm.clone();
    lengths.sort_by(f64::total_cmp);
    lengths.dedup_by(|a, b| a.total_cmp(b).is_eq());
    let versions = [OffsetChoice::Standard, OffsetChoice::High];
    let each = versions
        .into_iter()
        .flat_map(|version| lengths.iter().map(move |&length| (version, length)));
    each.map(|(version, length)| ball(joint, length, version))
        .collect()
}

fn ball(joint: &Joint, length: f64, version: OffsetChoice) -> BallFinding {
    let head = joint.femur.implanted_head(&joint.stem, length, version);
    let total = change(joint.centre(), head);
    let target = &joint.entry.target;
    BallFinding {
        ball_mm: length,
        version,
        leg_length_mm: total.leg_length_mm,
        total_offset_mm: total.total_offset_mm,
        femoral_offset_mm: -head.x,
        anterior_mm: total.anterior_mm,
        miss_mm: (total.leg_length_mm - target.leg_length_mm)
            .hypot(total.total_offset_mm - target.total_offset_mm),
        said: said(length, version, &total),
    }
}

/// What it does to put the place `head` of the femur at `centre` of the pelvis, both counted from the
/// native centre: the thigh follows by their difference.
fn change(centre: Vector3<f64>, head: Vector3<f64>) -> PartFinding {
    let moved = centre - head;
    PartFinding {
        leg_length_mm: -moved.z,
        total_offset_mm: moved.x,
        anterior_mm: moved.y,
    }
}

/// The place of the ball nearest the target among those that `open` holds for; of two alike the earlier.
fn nearest(balls: &[BallFinding], open: impl Fn(&BallFinding) -> bool) -> usize {
    let places = balls.iter().enumerate().filter(|(_, ball)| open(ball));
    let best = places.min_by(|(_, a), (_, b)| a.miss_mm.total_cmp(&b.miss_mm));
    best.map_or(0, |(place, _)| place)
}

fn said(length: f64, version: OffsetChoice, change: &PartFinding) -> String {
    let version = match version {
        OffsetChoice::Standard => "standard offset",
        OffsetChoice::High => "high offset",
    };
    let leg = told(change.leg_length_mm, "longer", "shorter");
    let offset = told(change.total_offset_mm, "more", "less");
    format!(
        "ball {}, {version}: leg {leg}, offset {offset}",
        signed(length)
    )
}

/// The length of a ball as it is printed on it: `+3.5`, `-3.5`, `0`.
pub fn signed(length: f64) -> String {
    if length.abs() < f64::MIN_POSITIVE {
        "0".into()
    } else {
        format!("{length:+}")
    }
}

fn told(mm: f64, more: &str, less: &str) -> String {
    let whole = mm.round();
    if whole > 0.0 {
        format!("{whole} mm {more}")
    } else if whole < 0.0 {
        format!("{} mm {less}", -whole)
    } else {
        "unchanged".into()
    }
}
