//! Frame and landmarks found from each other, on one hemipelvis or on a whole pelvis.

use nalgebra::{Point3, UnitVector3, Vector3};

use super::estimate::{FRAME_DOUBT, HALF_SYMPHYSIS};
use super::extremes::{self, Tip};
use super::pose::{self, Pose};
use super::{Basis, Estimate, Guess, Midline, MidlineBasis, NotAPelvis, Part, midline};
use crate::side::{Both, Side};
use crate::socket::surface::SurfacePoint;
use crate::socket::{Hollow, Socket};

/// Rounds in which frame and landmarks are found from each other.
const ROUNDS: usize = 3;

/// Distances that are believed, mm: the published ranges of adults (ASIS apart 188 to 274, height of the
/// anterior pelvic plane 71 to 115: Augustine 2018, Clin Anat, doi 10.1002/ca.23273), with room for children.
const ASIS_TO_MIDLINE: [f64; 2] = [60.0, 180.0];
const PLANE_HEIGHT: [f64; 2] = [45.0, 150.0];
const TUBERCLE_TO_MIDLINE: [f64; 2] = [0.0, 60.0];
const PSIS_BEHIND: [f64; 2] = [80.0, 230.0];

/// PSIS are looked for this far from the midline at least, mm, clear of the crest of a sacrum. Published
/// spines lie some 80 to 100 mm apart (from memory).
const BESIDE_SACRUM: f64 = 22.0;

/// The guess of a hemipelvis with this socket.
pub(super) fn hemipelvis(
    surface: &[SurfacePoint],
    hollow: &Hollow,
    asked: Option<Side>,
) -> Result<Guess, NotAPelvis> {
    let pose = pose::of_hemipelvis(hollow, surface, asked)?;
    let side = pose.side;
    let midline = midline_of(surface, hollow, &pose);
    let mut axes = square(&midline.right, &pose.axes[1]);
    let mut found = None;
    for _ in 0..ROUNDS {
        let tips = tips(surface, &hollow.sphere.centre, &midline, axes, side)?;
        axes = upright(&midline.right, tips[0].at - tips[1].at);
        found = Some(tips);
    }
    let [asis, tubercle, psis] = found.ok_or(NotAPelvis::NoFront)?;
    in_proportion(&midline, &axes, [asis.at, tubercle.at, psis.at])?;
    let both = |tip: Tip| {
        let own = estimate(tip, &midline);
        Both::with(side, own, mirror_of(&own, &midline))
    };
    Ok(Guess {
        part: Part::Hemipelvis,
        side,
        side_margin: pose.margin,
        socket: as_socket(hollow, side),
        midline,
        asis: both(asis),
        pubic_tubercle: both(tubercle),
        psis: both(psis),
    })
}

/// The guess of a whole pelvis with these sockets.
pub(super) fn whole(
    surface: &[SurfacePoint],
    hollows: [Hollow; 2],
    asked: Option<Side>,
) -> Result<Guess, NotAPelvis> {
    let pose = pose::of_whole(&hollows, surface)?;
    let mut midline = Midline {
        at: nalgebra::center(&hollows[0].sphere.centre, &hollows[1].sphere.centre),
        right: UnitVector3::new_normalize(pose.axes[0]),
        within: FRAME_DOUBT,
        basis: MidlineBasis::BothSides,
    };
    let centre = midline.at;
    let mut axes = pose.axes;
    let mut found = None;
    for _ in 0..ROUNDS {
        let of = |side: Side| {
            let beside =
                |p: &&SurfacePoint| side.sign() * (p.at - midline.at).dot(&midline.right) > 0.0;
            let half: Vec<SurfacePoint> = surface.iter().filter(beside).copied().collect();
            tips(&half, &centre, &midline, axes, side)
        };
        let (right, left) = (of(Side::Right)?, of(Side::Left)?);
        let across = right[0].at - left[0].at;
        midline.right = UnitVector3::try_new(across, 1.0).ok_or(NotAPelvis::NoFront)?;
        midline.at = nalgebra::center(&right[0].at, &left[0].at);
        let lower = nalgebra::center(&right[1].at, &left[1].at);
        axes = upright(&midline.right, midline.at - lower);
        found = Some([right, left]);
    }
    let [right, left] = found.ok_or(NotAPelvis::NoFront)?;
    for tips in [right, left] {
        in_proportion(&midline, &axes, tips.map(|t| t.at))?;
    }
    let both = |k: usize| Both {
        right: estimate(right[k], &midline),
        left: estimate(left[k], &midline),
    };
    let side = asked.unwrap_or(pose.side);
    let hollow = if side == pose.side {
        hollows[0]
    } else {
        hollows[1]
    };
    Ok(Guess {
        part: Part::WholePelvis,
        side,
        side_margin: pose.margin,
        socket: as_socket(&hollow, side),
        midline,
        asis: both(0),
        pubic_tubercle: both(1),
        psis: both(2),
    })
}

fn as_socket(hollow: &Hollow, side: Side) -> Socket {
    Socket {
        centre: hollow.sphere.centre,
        radius: hollow.sphere.radius,
        axis: hollow.opening,
        rms: hollow.sphere.rms,
        coverage: hollow.coverage,
        side: Some(side),
    }
}

fn midline_of(surface: &[SurfacePoint], hollow: &Hollow, pose: &Pose) -> Midline {
    // The model's midline lies as far from its hip centre as its radius suits: 87 mm for 26 mm.
    const MODEL_DOUBT: f64 = 0.2;
    const PER_RADIUS: f64 = 87.0 / 26.0;
    // A face narrower or smaller than this is no face: mm, mm².
    const LEAST_HALF_WIDTH: f64 = 1.0;
    const LEAST_AREA: f64 = 50.0;
    let centre = hollow.sphere.centre;
    let medial = -pose.axes[0] * pose.side.sign();
    let face = midline::face(surface, &centre, pose).filter(|face| {
        face.area > LEAST_AREA
            && face.half_width > LEAST_HALF_WIDTH
            && face.medial.dot(&medial) > 0.8
    });
    let Some(face) = face else {
        return Midline {
            at: centre + medial * (PER_RADIUS * hollow.sphere.radius),
            right: UnitVector3::new_normalize(pose.axes[0]),
            within: MODEL_DOUBT,
            basis: MidlineBasis::Model,
        };
    };
    Midline {
        at: face.at + face.medial * HALF_SYMPHYSIS,
        right: UnitVector3::new_normalize(-face.medial * pose.side.sign()),
        within: FRAME_DOUBT.hypot((face.roughness / face.half_width).atan()),
        basis: MidlineBasis::Symphysis {
            area: face.area,
            roughness: face.roughness,
        },
    }
}

/// ASIS, pubic tubercle and PSIS of one side, its surface alone being given.
fn tips(
    surface: &[SurfacePoint],
    centre: &Point3<f64>,
    midline: &Midline,
    axes: [Vector3<f64>; 3],
    side: Side,
) -> Result<[Tip; 3], NotAPelvis> {
    let [upper, lower] = extremes::front_edge(surface, &axes).ok_or(NotAPelvis::NoFront)?;
    let [right, forward, up] = upright(&midline.right, upper - lower);
    let clear = |p: &&SurfacePoint| {
        (p.at - centre).dot(&up) > 0.0
            && side.sign() * (p.at - midline.at).dot(&right) > BESIDE_SACRUM
    };
    let rear = extremes::outermost(surface.iter().filter(clear), &-forward);
    let rear = rear.ok_or(NotAPelvis::NoFront)?;
    Ok([
        extremes::tip(surface, &upper, &forward, &right),
        extremes::tip(surface, &lower, &forward, &right),
        extremes::tip(surface, &rear, &-forward, &right),
    ])
}

/// Axes to the right, forward and up: `forward` made square to `right`.
fn square(right: &UnitVector3<f64>, forward: &Vector3<f64>) -> [Vector3<f64>; 3] {
    let up = right.cross(forward).normalize();
    [right.into_inner(), up.cross(right), up]
}

/// Axes to the right, forward and up: `up` made square to `right`.
fn upright(right: &UnitVector3<f64>, up: Vector3<f64>) -> [Vector3<f64>; 3] {
    let forward = up.cross(right).normalize();
    [right.into_inner(), forward, right.cross(&forward)]
}

fn in_proportion(
    midline: &Midline,
    axes: &[Vector3<f64>; 3],
    [asis, tubercle, psis]: [Point3<f64>; 3],
) -> Result<(), NotAPelvis> {
    let aside = |p: Point3<f64>| (p - midline.at).dot(&axes[0]).abs();
    let checks = [
        (
            "distance of the ASIS from the midline",
            aside(asis),
            ASIS_TO_MIDLINE,
        ),
        (
            "height of the ASIS above the pubic tubercle",
            (asis - tubercle).dot(&axes[2]),
            PLANE_HEIGHT,
        ),
        (
            "distance of the pubic tubercle from the midline",
            aside(tubercle),
            TUBERCLE_TO_MIDLINE,
        ),
        (
            "distance of the PSIS behind the ASIS",
            (asis - psis).dot(&axes[1]),
            PSIS_BEHIND,
        ),
    ];
    for (what, found, [least, most]) in checks {
        if !(least..=most).contains(&found) {
            return Err(NotAPelvis::Proportion {
                what,
                found,
                least,
                most,
            });
        }
    }
    Ok(())
}

fn estimate(tip: Tip, midline: &Midline) -> Estimate {
    // A fitted top is as sharp as the mesh and the roughness of bone allow.
    const SURFACE: f64 = 0.8;
    Estimate {
        at: tip.at,
        within: SURFACE.hypot(tip.bluntness * midline.within.hypot(FRAME_DOUBT)),
        basis: Basis::Outermost {
            bluntness: tip.bluntness,
        },
    }
}

/// The mirror image of an estimate across the midline, and how much less sure it is.
pub(super) fn mirror_of(own: &Estimate, midline: &Midline) -> Estimate {
    // People are not the same on both sides, and half the width of the symphysis is assumed, mm.
    const UNEVEN: f64 = 2.0;
    let off = own.at - midline.at;
    let aside = off.dot(&midline.right);
    let turned = 2.0 * off.norm() * midline.within;
    Estimate {
        at: own.at - midline.right.into_inner() * (2.0 * aside),
        within: own.within.hypot(turned).hypot(UNEVEN),
        basis: Basis::Mirrored,
    }
}
