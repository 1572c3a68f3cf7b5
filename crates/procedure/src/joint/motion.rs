//! How far the thigh moves before the neck meets the liner's edge, and where on the rim's clock it does.
//!
//! The neck is a body of revolution and the edge a circle about the cup's axis with its centre on it, so the
//! neck is free exactly while its axis stays within a [`Cone`] about the cup's axis; a turn is then a
//! trigonometric equation with a closed form. Nothing is sampled.

use std::f64::consts::{PI, TAU};

use nalgebra::{Unit, UnitVector3, Vector3};
use schemars::JsonSchema;
use serde::Serialize;

use super::entry::{HeadEntry, NeedEntry};
use super::liner::{Edge, Liner};
use super::stem::Stem;
use super::{BadJoint, Joint, Movement};

/// Motion asked for by Yoshimine 2006 (J Biomech 39:1315, as quoted in J Orthop Surg Res 2022, doi
/// 10.1186/s13018-022-03112-6).
pub const YOSHIMINE: [NeedEntry; 4] = [
    need(Movement::Flexion, 120.0),
    need(Movement::InternalRotationAt90Flexion, 45.0),
    need(Movement::Extension, 30.0),
    need(Movement::ExternalRotation, 40.0),
];

/// Motion asked for by Widmer & Zurfluh 2004 (J Orthop Res 22:815, as quoted in the same text). That
/// internal rotation is meant from standing is assumed: the paper's own definitions were not read.
pub const WIDMER: [NeedEntry; 6] = [
    need(Movement::Flexion, 130.0),
    need(Movement::InternalRotation, 80.0),
    need(Movement::Extension, 40.0),
    need(Movement::ExternalRotation, 40.0),
    need(Movement::Abduction, 50.0),
    need(Movement::Adduction, 50.0),
];

const fn need(movement: Movement, range_deg: f64) -> NeedEntry {
    NeedEntry {
        movement,
        range_deg,
    }
}

/// The cone about the cup's axis within which the axis of the neck is free.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cone {
    /// From the cup's axis to where the neck meets the edge, in radians.
    pub half_angle: f64,
    /// From the ball's centre along the neck to where the two meet, in mm.
    pub along_neck: f64,
}

impl Cone {
    /// The cone of a neck in a liner with the ball of this length.
    ///
    /// Closed form: an edge at distance s from the ball's centre and at the angle α = atan2(radius, height)
    /// from the cup's axis meets a cylinder of radius r at α − asin(r / s). Where the radius is
    /// r₀ + k t at t along the neck, it is at α − atan k − asin(r₀ / (s √(1 + k²))). Of the two edges of
    /// a bevel, and of neck and collar, what meets first counts.
    ///
    /// # Errors
    /// When the neck fills the mouth, or ends before it has passed the edge.
    pub fn new(liner: &Liner, stem: &Stem, head: &HeadEntry, ball: f64) -> Result<Self, BadJoint> {
        let plain = (
            stem.neck_radius - stem.neck_slope * liner.head_radius,
            stem.neck_slope,
        );
        let skirt = head.skirt.filter(|skirt| ball >= skirt.from_length_mm);
        let skirt = skirt.map(|skirt| (skirt.diameter_mm / 2.0, 0.0));
        let edges = [liner.inner, liner.outer];
        let each = edges.iter().flat_map(|edge| {
            let profiles = std::iter::once(plain).chain(skirt);
            profiles.map(move |(start, slope)| Self::of_profile(edge, start, slope))
        });
        let first = each.min_by(|a, b| a.half_angle.total_cmp(&b.half_angle));
        let cone = first.filter(|cone| cone.half_angle > 0.0);
        let cone = cone.ok_or(BadJoint::NeckTooWide {
            neck: 2.0 * skirt.map_or(stem.neck_radius, |(radius, _)| radius.max(stem.neck_radius)),
            mouth: 2.0 * liner.inner.radius,
        })?;
        let neck = stem.neck_length + ball;
        if neck <= cone.along_neck {
            return Err(BadJoint::NeckTooShort {
                ball,
                neck,
                least: cone.along_neck,
            });
        }
        Ok(cone)
    }

    /// Where an edge meets a neck whose radius is `start` at the ball's centre and grows by `slope` per mm;
    /// a cone without angle where the neck is too wide for it.
    fn of_profile(edge: &Edge, start: f64, slope: f64) -> Self {
        let distance = edge.radius.hypot(edge.height);
        let sine = start / (distance * slope.hypot(1.0));
        let taken = slope.atan() + sine.clamp(-1.0, 1.0).asin();
        let from_axis = edge.radius.atan2(edge.height);
        Self {
            half_angle: if sine < 1.0 { from_axis - taken } else { 0.0 },
            along_neck: distance * taken.cos(),
        }
    }

    /// The angle through which the neck swings from one place of the edge to the opposite one.
    pub fn oscillation(&self) -> f64 {
        2.0 * self.half_angle
    }
}

/// A turn of the neck against the cup: the cosine of the angle between their axes, as a function of how far
/// it has turned, is C + A cos φ + B sin φ.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Swing {
    constant: f64,
    amplitude: f64,
    /// The angle at which the neck comes nearest the cup's axis, between −π and π.
    nearest: f64,
}

impl Swing {
    /// The turn of a movement with a neck of this direction in the standing thigh.
    pub(crate) fn new(cup: &Vector3<f64>, neck: &Vector3<f64>, movement: Movement) -> Self {
        let (axis, start) = (movement.axis(), movement.start() * neck);
        let constant = cup.dot(&axis) * axis.dot(&start);
        let (even, odd) = (cup.dot(&start) - constant, cup.dot(&axis.cross(&start)));
        Self {
            constant,
            amplitude: even.hypot(odd),
            nearest: odd.atan2(even),
        }
    }

    /// How far it turns before the angle between the axes exceeds `half_angle`, in radians; 0 where it does
    /// from the start, `None` where it never does.
    pub(crate) fn limit(&self, half_angle: f64) -> Option<f64> {
        let level = half_angle.cos() - self.constant;
        if self.cosine(0.0) - self.constant <= level {
            return Some(0.0);
        }
        if level <= -self.amplitude {
            return None;
        }
        Some(self.nearest + (level / self.amplitude).acos())
    }

    /// The greatest angle between the axes on the way to `range`, in radians.
    pub(crate) fn widest(&self, range: f64) -> f64 {
        let farthest = (self.nearest + PI).rem_euclid(TAU);
        let least = if farthest < range {
            self.constant - self.amplitude
        } else {
            self.cosine(0.0).min(self.cosine(range))
        };
        least.clamp(-1.0, 1.0).acos()
    }

    fn cosine(&self, angle: f64) -> f64 {
        self.constant + self.amplitude * (angle - self.nearest).cos()
    }
}

/// The farthest that a movement without limit counts, in degrees.
pub(crate) const HALF_TURN: f64 = 180.0;

/// How far a movement goes, as a number: [`HALF_TURN`] where there is no limit before that.
pub(crate) fn counted(range: Option<f64>) -> f64 {
    range.map_or(HALF_TURN, |r| r.to_degrees().min(HALF_TURN))
}

/// The smallest half angle of a cone that allows every need, in radians; 0 without needs.
pub fn needed_half_angle(
    cup: &UnitVector3<f64>,
    neck: &UnitVector3<f64>,
    needs: &[NeedEntry],
) -> f64 {
    let widest = needs
        .iter()
        .map(|need| Swing::new(cup, neck, need.movement).widest(need.range_deg.to_radians()));
    widest.fold(0.0, f64::max)
}

/// Motion until the neck meets the liner; bone and soft tissue are not in it.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct MotionFinding {
    /// The ball it holds for.
    pub ball_mm: f64,
    /// The angle through which the neck swings between opposite places of the edge.
    pub oscillation_deg: f64,
    /// From the ball's centre along the neck to where it meets the edge.
    pub contact_along_neck_mm: f64,
    /// Every movement.
    pub movements: Vec<MovementFinding>,
    /// What the case needs.
    pub needs: Vec<NeedFinding>,
    /// The least oscillation angle with which this cup and stem would allow all that is needed.
    pub needed_oscillation_deg: f64,
}

/// How far one movement goes.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct MovementFinding {
    /// Which.
    pub movement: Movement,
    /// How far; 0 where the posture it begins in is not free, `None` where nothing limits it.
    pub range_deg: Option<f64>,
    /// Where on the rim's clock the neck then meets the edge.
    pub rim_clock_h: Option<f64>,
    /// Where the ball would leave the liner if it were pushed on: opposite.
    pub leaves_clock_h: Option<f64>,
}

/// Whether a motion that is needed is allowed.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct NeedFinding {
    /// Which.
    pub movement: Movement,
    /// How far it should go.
    pub needed_deg: f64,
    /// How far it goes beyond that; negative where it falls short. A movement without limit counts as 180°.
    pub margin_deg: f64,
    /// Whether it goes far enough.
    pub met: bool,
}

/// Motion of a joint with the ball that it chooses.
///
/// # Errors
/// When no ball reaches, the neck fills the liner's mouth, or it is too short to pass its edge.
pub fn motion(joint: &Joint) -> Result<MotionFinding, BadJoint> {
    let ball = joint.chosen_ball()?;
    let cone = joint.cone(ball)?;
    let neck = joint.stem.neck.direction();
    let range = |movement| Swing::new(&joint.axis, &neck, movement).limit(cone.half_angle);
    let needs = joint.entry.needs.iter().map(|need| {
        let margin_deg = counted(range(need.movement)) - need.range_deg;
        NeedFinding {
            movement: need.movement,
            needed_deg: need.range_deg,
            margin_deg,
            met: margin_deg >= 0.0,
        }
    });
    let needed = needed_half_angle(&joint.axis, &neck, &joint.entry.needs);
    Ok(MotionFinding {
        ball_mm: ball,
        oscillation_deg: cone.oscillation().to_degrees(),
        contact_along_neck_mm: cone.along_neck,
        movements: Movement::ALL
            .map(|movement| found(joint, &neck, movement, range(movement)))
            .to_vec(),
        needs: needs.collect(),
        needed_oscillation_deg: (2.0 * needed).to_degrees(),
    })
}

fn found(
    joint: &Joint,
    neck: &UnitVector3<f64>,
    movement: Movement,
    range: Option<f64>,
) -> MovementFinding {
    let clock = range.map(|range| {
        let turn = nalgebra::UnitQuaternion::from_axis_angle(&movement.axis(), range);
        let there: Unit<Vector3<f64>> = turn * movement.start() * neck;
        joint.clock().hour_of(&there).hours()
    });
    MovementFinding {
        movement,
        range_deg: range.map(f64::to_degrees),
        rim_clock_h: clock,
        leaves_clock_h: clock.map(|hour| (hour + 6.0) % 12.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::joint::entry::{LinerEntry, SkirtEntry, StemEntry};
    use nalgebra::UnitQuaternion;

    fn liner(head: &HeadEntry, change: impl FnOnce(&mut LinerEntry)) -> Liner {
        let mut entry = LinerEntry {
            clearance_mm: 0.0,
            ..LinerEntry::default()
        };
        change(&mut entry);
        Liner::new(&entry, head, 56.0).unwrap()
    }

    fn stem(neck_diameter_mm: f64, neck_taper_deg: f64) -> Stem {
        Stem::new(&StemEntry {
            neck_diameter_mm,
            neck_taper_deg,
            ..StemEntry::default()
        })
    }

    fn plain() -> HeadEntry {
        HeadEntry::default()
    }

    #[track_caller]
    fn half_angle(liner: &Liner, stem: &Stem, expected_deg: f64) {
        let cone = Cone::new(liner, stem, &plain(), 0.0).unwrap();
        let found = cone.half_angle.to_degrees();
        assert!((found - expected_deg).abs() < 1e-9, "{found}");
    }

    #[test]
    fn a_higher_edge_takes_its_angle_from_the_swing() {
        let raised = liner(&plain(), |l| l.head_proud_mm = -4.0);
        let distance = 16.0_f64.hypot(4.0);
        let expected = 16.0_f64.atan2(4.0) - (6.0 / distance).asin();
        half_angle(&raised, &stem(12.0, 0.0), expected.to_degrees());
    }

    #[test]
    fn a_bevel_gives_way_until_its_own_edges_are_met() {
        let bevelled = liner(&plain(), |l| l.bevel_mm = 2.0);
        let radius = (256.0_f64 - 4.0).sqrt();
        let inner = radius.atan2(-2.0) - (6.0_f64 / 16.0).asin();
        let outer = std::f64::consts::FRAC_PI_2 - (6.0 / (radius + 2.0)).asin();
        half_angle(&bevelled, &stem(12.0, 0.0), inner.min(outer).to_degrees());
        assert!(outer < inner);
    }

    #[test]
    fn a_tapered_neck_touches_the_edge_with_its_side() {
        let (liner, stem) = (liner(&plain(), |_| ()), stem(12.0, 8.0));
        let cone = Cone::new(&liner, &stem, &plain(), 0.0).unwrap();
        // The edge as seen from the neck: its distance from the axis is the neck's radius there.
        let seen = std::f64::consts::FRAC_PI_2 - cone.half_angle;
        let (along, off) = (16.0 * seen.cos(), 16.0 * seen.sin());
        let radius = 6.0 + 4.0_f64.to_radians().tan() * (along - 16.0);
        assert!((off - radius).abs() < 1e-12, "{off} {radius}");
        assert!((cone.along_neck - along).abs() < 1e-12);
    }

    #[test]
    fn a_collar_counts_from_the_ball_that_carries_it() {
        let mut head = plain();
        head.skirt = Some(SkirtEntry {
            from_length_mm: 7.0,
            diameter_mm: 16.0,
        });
        let liner = liner(&head, |_| ());
        let swing = |ball| Cone::new(&liner, &stem(12.0, 0.0), &head, ball).unwrap();
        assert!((swing(7.0).oscillation().to_degrees() - 120.0).abs() < 1e-9);
        assert!((swing(3.5).oscillation() - swing(0.0).oscillation()).abs() < 1e-15);
        assert!(swing(0.0).oscillation() > swing(7.0).oscillation() + 0.2);
    }

    #[test]
    fn a_neck_too_wide_or_too_short_is_refused() {
        let liner = liner(&plain(), |_| ());
        let wide = Cone::new(&liner, &stem(32.0, 0.0), &plain(), 0.0);
        assert!(
            matches!(wide, Err(BadJoint::NeckTooWide { .. })),
            "{wide:?}"
        );
        let short = Stem::new(&StemEntry {
            neck_length_mm: 17.0,
            ..StemEntry::default()
        });
        let refused = Cone::new(&liner, &short, &plain(), -3.5).unwrap_err();
        let least = (256.0_f64 - 36.0).sqrt();
        assert_eq!(
            refused.to_string(),
            format!(
                "with ball -3.5 mm the neck is 13.5 mm long, but must be longer than {least:.1} mm to pass \
                 the liner's edge; choose a longer neck or ball"
            )
        );
        assert!(Cone::new(&liner, &short, &plain(), 0.0).is_ok());
    }

    #[test]
    fn the_limit_is_the_first_angle_at_which_a_walk_leaves_the_cone() {
        let cup = Unit::new_normalize(Vector3::new(0.62, 0.26, -0.74));
        let neck = stem(12.0, 0.0).neck.direction();
        for half_angle in [0.3, 0.9, 1.1, 2.9] {
            for movement in Movement::ALL {
                let swing = Swing::new(&cup, &neck, movement);
                let angle = |turned: f64| {
                    let turn = UnitQuaternion::from_axis_angle(&movement.axis(), turned);
                    (turn * movement.start() * neck).angle(&cup)
                };
                let steps = (0..6300).map(|k| 0.001 * f64::from(k));
                let walked = steps.clone().find(|&turned| angle(turned) > half_angle);
                match (swing.limit(half_angle), walked) {
                    (Some(found), Some(walked)) => {
                        assert!(found <= walked && walked < found + 0.002, "{movement}");
                    }
                    (found, walked) => assert_eq!(found, walked, "{movement} {half_angle}"),
                }
                let widest = steps
                    .take_while(|&t| t <= 2.5)
                    .map(angle)
                    .fold(0.0, f64::max);
                assert!((swing.widest(2.5) - widest).abs() < 2e-3, "{movement}");
            }
        }
    }
}
