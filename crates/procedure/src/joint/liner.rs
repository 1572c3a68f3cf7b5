//! Bore and wall of the liner, how far the ball must climb to leave it, and what other balls would do.

use std::f64::consts::FRAC_PI_2;

use cupwright_anatomy::{Definition, Orientation};
use schemars::JsonSchema;
use serde::Serialize;

use super::entry::{HeadEntry, LinerEntry, Polyethylene};
use super::motion::Cone;
use super::{BadJoint, Joint};
use crate::findings::{Level, Watch};

/// The least wall of polyethylene that is accepted, in mm: assumed. The thinnest that was found in print
/// is 3 mm, cross-linked, about a bore of 38 to 46 mm (Plank 2007, J Biomed Mater Res B 80:1).
pub const LEAST_WALL: f64 = 3.0;

/// A wall of cross-linked polyethylene thinner than this, in mm, is told: assumed.
pub const THIN_WALL: f64 = 5.0;

/// A wall of conventional polyethylene thinner than this, in mm, is told: Bartel's classic minimum of
/// 6 to 8 mm, from memory.
pub const THIN_CONVENTIONAL: f64 = 6.0;

/// A head this much smaller than its bore, in mm of diameter, belongs to another liner: assumed.
pub const LOOSE: f64 = 1.0;

/// Diameters that balls come in, in mm: the trade's, from memory.
pub const HEADS: [f64; 6] = [22.2, 26.0, 28.0, 32.0, 36.0, 40.0];

/// A circle on the liner that the neck can meet, about the cup's axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// Its radius, in mm.
    pub radius: f64,
    /// How far it stands above the head's centre, out of the socket, in mm.
    pub height: f64,
}

/// A liner in its cup, with its head in it; mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Liner {
    /// Outer diameter of the cup.
    pub cup_diameter: f64,
    /// Thickness of the shell.
    pub shell: f64,
    /// Radius of the bore.
    pub bore_radius: f64,
    /// Radius of the head.
    pub head_radius: f64,
    /// Polyethylene at the equator.
    pub wall: f64,
    /// Polyethylene at the pole.
    pub wall_at_pole: f64,
    /// How far the head's centre lies out of the cup's.
    pub lateralised: f64,
    /// The inner edge of the bore, over which the ball must climb.
    pub inner: Edge,
    /// The outer edge of its bevel; the inner one where there is no bevel.
    pub outer: Edge,
}

impl Liner {
    /// The liner of a cup of this outer diameter, in mm, with its head.
    ///
    /// # Errors
    /// When head and bore do not belong together, the wall is thinner than [`LEAST_WALL`], or the bevel
    /// does not fit on it.
    pub fn new(liner: &LinerEntry, head: &HeadEntry, cup_diameter: f64) -> Result<Self, BadJoint> {
        let head = head.diameter_mm;
        let bore = liner.bore_mm.unwrap_or(head + liner.clearance_mm);
        if head > bore {
            return Err(BadJoint::HeadLargerThanBore { head, bore });
        }
        if bore - head > LOOSE {
            return Err(BadJoint::HeadLoose { head, bore });
        }
        let wall = wall(cup_diameter, liner.shell_mm, bore);
        let wall_at_pole = wall + liner.lateralised_mm;
        let thinnest = wall_at_pole.min(wall);
        if thinnest < LEAST_WALL {
            return Err(BadJoint::Wall {
                cup: cup_diameter,
                shell: liner.shell_mm,
                bore,
                wall: thinnest,
                least: LEAST_WALL,
            });
        }
        let bevel = liner.bevel_mm;
        if bevel >= wall {
            return Err(BadJoint::Bevel { bevel, wall });
        }
        let [inner, outer] = edges(bore / 2.0, -liner.head_proud_mm, bevel)?;
        Ok(Self {
            cup_diameter,
            shell: liner.shell_mm,
            bore_radius: bore / 2.0,
            head_radius: head / 2.0,
            wall,
            wall_at_pole,
            lateralised: liner.lateralised_mm,
            inner,
            outer,
        })
    }

    /// The same liner made for a head of another diameter; `None` where the face would miss its bore.
    fn with_head(&self, diameter: f64) -> Option<Self> {
        let grown = diameter / 2.0 - self.head_radius;
        let bore_radius = self.bore_radius + grown;
        let bevel = self.outer.height - self.inner.height;
        let [inner, outer] = edges(bore_radius, self.outer.height, bevel).ok()?;
        Some(Self {
            bore_radius,
            head_radius: diameter / 2.0,
            wall: self.wall - grown,
            wall_at_pole: self.wall_at_pole - grown,
            inner,
            outer,
            ..*self
        })
    }

    fn thinnest(&self) -> f64 {
        self.wall.min(self.wall_at_pole)
    }
}

/// Polyethylene between bore and shell at the equator, in mm; negative where they overlap.
pub fn wall(cup_diameter: f64, shell: f64, bore: f64) -> f64 {
    (cup_diameter - bore) / 2.0 - shell
}

/// The inner and the outer edge of a bore whose face stands `face` above its centre: below its centre a
/// bore is a ball's, above it a cylinder's.
fn edges(bore_radius: f64, face: f64, bevel: f64) -> Result<[Edge; 2], BadJoint> {
    let height = face - bevel;
    let below = height.min(0.0);
    if below <= -bore_radius {
        return Err(BadJoint::Number {
            field: "liner.head_proud_mm and bevel_mm together",
            value: -below,
            allowed: "less than the radius of the bore",
        });
    }
    let radius = (bore_radius * bore_radius - below * below).sqrt();
    let outer = Edge {
        radius: radius + bevel,
        height: face,
    };
    Ok([Edge { radius, height }, outer])
}

/// How far sideways a ball's centre must move to leave the liner upward and outward, in mm; 0 where nothing
/// holds it.
///
/// `planar_inclination` is that of [`planar_inclination`], in radians; `offset` is how far the centre
/// stands out of the plane of the edge, in mm.
///
/// Closed form: 2 R sin(½ (π/2 − ψ − asin(offset / R))) (Sariali 2009, Acta Orthop 80:277; the formula
/// from memory, checked against the five slopes printed there in `tests/tests/jump_distance.rs`).
pub fn jump_distance(radius: f64, planar_inclination: f64, offset: f64) -> f64 {
    let sunk = (offset / radius).clamp(-1.0, 1.0).asin();
    let climb = (FRAC_PI_2 - planar_inclination - sunk).max(0.0);
    2.0 * radius * (climb / 2.0).sin()
}

/// The inclination that counts for the jump distance, in radians: that of the cup's axis seen from the
/// front.
///
/// Sariali's tan ψ = tan(abduction) cos(anteversion) is the radiographic inclination of a cup whose
/// abduction and anteversion are anatomic ones.
pub fn planar_inclination(orientation: &Orientation) -> f64 {
    let film = orientation.converted_to(Definition::Radiographic);
    film.inclination()
}

/// Liner and ball of a joint.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct LinerFinding {
    /// Outer diameter of the cup.
    pub cup_diameter_mm: f64,
    /// Thickness of its shell.
    pub shell_mm: f64,
    /// Diameter of the bore.
    pub bore_mm: f64,
    /// Diameter of the head.
    pub head_diameter_mm: f64,
    /// Polyethylene at the equator.
    pub wall_mm: f64,
    /// Polyethylene at the pole.
    pub wall_at_pole_mm: f64,
    /// How far the ball's centre must move to leave the liner; see [`jump_distance`].
    pub jump_distance_mm: f64,
    /// Inclination of the cup seen from the front, which the jump distance goes by.
    pub planar_inclination_deg: f64,
    /// What to watch.
    pub watch: Vec<Watch>,
    /// What each size of ball would do in this cup, the smallest first.
    pub trade: Vec<TradeFinding>,
}

/// What a size of ball would do in the same cup.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct TradeFinding {
    /// Diameter of the ball.
    pub head_diameter_mm: f64,
    /// Polyethylene at its thinnest.
    pub wall_mm: f64,
    /// Its jump distance.
    pub jump_distance_mm: f64,
    /// The angle through which the neck swings between opposite places of the edge; `None` where it
    /// has no room.
    pub oscillation_deg: Option<f64>,
    /// What the wall allows.
    pub verdict: Verdict,
}

/// What a wall of polyethylene allows.
#[derive(Clone, Copy, Debug, Eq, JsonSchema, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Thick enough to say nothing.
    Accepted,
    /// Thin enough to be told.
    Thin,
    /// Less than is accepted.
    Refused,
}

/// What is found of the liner and ball of a joint.
pub fn liner(joint: &Joint) -> LinerFinding {
    let liner = &joint.liner;
    let inclination = planar_inclination(&joint.orientation);
    LinerFinding {
        cup_diameter_mm: liner.cup_diameter,
        shell_mm: liner.shell,
        bore_mm: 2.0 * liner.bore_radius,
        head_diameter_mm: 2.0 * liner.head_radius,
        wall_mm: liner.wall,
        wall_at_pole_mm: liner.wall_at_pole,
        jump_distance_mm: jump_distance(liner.head_radius, inclination, -liner.inner.height),
        planar_inclination_deg: inclination.to_degrees(),
        watch: watch(joint).into_iter().collect(),
        trade: trade(joint),
    }
}

/// The wall below which a material is told to be thin, in mm, and where that comes from.
fn thin(material: Polyethylene) -> (f64, &'static str) {
    match material {
        Polyethylene::CrossLinked => (
            THIN_WALL,
            "assumed; 3 mm of cross-linked polyethylene about a bore of 38 to 46 mm was stressed less than \
             5 mm of conventional about 22 mm (Plank 2007, J Biomed Mater Res B 80:1)",
        ),
        Polyethylene::Conventional => (
            THIN_CONVENTIONAL,
            "Bartel's classic minimum of 6 to 8 mm (from memory)",
        ),
    }
}

fn watch(joint: &Joint) -> Option<Watch> {
    let (least, source) = thin(joint.entry.liner.material);
    let wall = joint.liner.thinnest();
    (wall < least).then(|| Watch {
        level: Level::Caution,
        message: format!("the liner is only {wall:.1} mm thick, less than {least} mm"),
        source: source.into(),
    })
}

/// Every size of ball in the cup of a joint, its own among them.
fn trade(joint: &Joint) -> Vec<TradeFinding> {
    let own = 2.0 * joint.liner.head_radius;
    let mut sizes = HEADS.to_vec();
    if !sizes.iter().any(|size| size.total_cmp(&own).is_eq()) {
        sizes.push(own);
        sizes.sort_by(f64::total_cmp);
    }
    let each = sizes.into_iter();
    each.filter_map(|size| Some(traded(joint, &joint.liner.with_head(size)?)))
        .collect()
}

fn traded(joint: &Joint, liner: &Liner) -> TradeFinding {
    let entry = joint.entry();
    let wall = liner.thinnest();
    let inclination = planar_inclination(&joint.orientation);
    let cone = Cone::new(liner, &joint.stem, &entry.head, 0.0);
    TradeFinding {
        head_diameter_mm: 2.0 * liner.head_radius,
        wall_mm: wall,
        jump_distance_mm: jump_distance(liner.head_radius, inclination, -liner.inner.height),
        oscillation_deg: cone.ok().map(|cone| cone.oscillation().to_degrees()),
        verdict: if wall < LEAST_WALL {
            Verdict::Refused
        } else if wall < thin(entry.liner.material).0 {
            Verdict::Thin
        } else {
            Verdict::Accepted
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn head(diameter_mm: f64) -> HeadEntry {
        HeadEntry {
            diameter_mm,
            ..HeadEntry::default()
        }
    }

    fn plain() -> LinerEntry {
        LinerEntry {
            clearance_mm: 0.0,
            ..LinerEntry::default()
        }
    }

    #[track_caller]
    fn refused(liner: LinerEntry, diameter: f64, cup: f64, told: &str) {
        let message = Liner::new(&liner, &head(diameter), cup)
            .unwrap_err()
            .to_string();
        assert!(message.contains(told), "{message}");
    }

    #[test]
    fn a_36_head_in_a_52_cup_leaves_3_to_5_mm() {
        for (shell_mm, wall) in [(3.0, 5.0), (4.0, 4.0), (5.0, 3.0)] {
            let liner = LinerEntry {
                shell_mm,
                ..plain()
            };
            let made = Liner::new(&liner, &head(36.0), 52.0).unwrap();
            assert!((made.wall - wall).abs() < 1e-12);
        }
    }

    #[test]
    fn what_cannot_be_put_together_is_refused_with_the_reason() {
        let bore = |bore| LinerEntry {
            bore_mm: Some(bore),
            ..plain()
        };
        refused(bore(32.0), 36.0, 60.0, "does not go into a bore of 32 mm");
        refused(bore(36.0), 32.0, 60.0, "loose");
        refused(plain(), 40.0, 52.0, "leaves a liner wall of 2.00 mm");
        refused(plain(), 40.0, 44.0, "leaves a liner wall of -2.00 mm");
        let medial = LinerEntry {
            lateralised_mm: -3.0,
            ..plain()
        };
        refused(medial, 36.0, 52.0, "leaves a liner wall of 1.00 mm");
        let bevelled = LinerEntry {
            bevel_mm: 5.0,
            ..plain()
        };
        refused(bevelled, 36.0, 52.0, "a bevel of 5 mm");
    }

    #[test]
    fn a_face_below_the_centre_narrows_the_mouth_and_one_above_does_not() {
        let at = |head_proud_mm| {
            let liner = LinerEntry {
                head_proud_mm,
                ..plain()
            };
            Liner::new(&liner, &head(20.0), 52.0).unwrap().inner
        };
        assert!((at(6.0).radius - 8.0).abs() < 1e-12 && (at(6.0).height + 6.0).abs() < 1e-12);
        assert!((at(-6.0).radius - 10.0).abs() < 1e-12 && (at(-6.0).height - 6.0).abs() < 1e-12);
    }

    #[test]
    fn a_ball_sunk_or_steep_beyond_its_edge_is_held_by_nothing() {
        assert!(jump_distance(16.0, 1.2, 16.0).abs() < 1e-12);
        let level = jump_distance(16.0, 0.0, 0.0);
        assert!((level - 16.0 * 2.0_f64.sqrt()).abs() < 1e-12, "{level}");
    }
}
