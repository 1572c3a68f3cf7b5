//! About how a bone lies: the coarse model of [`chirality`](crate::socket::chirality) laid over it.

use std::f64::consts::TAU;

use nalgebra::{Point3, Rotation3, UnitVector3, Vector3};

use super::NotAPelvis;
use crate::side::Side;
use crate::socket::Hollow;
use crate::socket::chirality::{Laid, laid_over, model};
use crate::socket::surface::{SurfacePoint, thinned};

/// About how a hemipelvis or a whole pelvis lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pose {
    /// Unit vectors of the mesh's own coordinates: to the patient's right, forward, up.
    pub(super) axes: [Vector3<f64>; 3],
    /// The side of the hip whose socket is told.
    pub(super) side: Side,
    /// By how much the other hand, or the other way round, lies farther off: 0 where it is as near, 1
    /// where it cannot be laid over at all.
    pub(super) margin: f64,
}

/// A bone that lies farther than this from the model laid over it, as a share of its own reach, is none: the
/// same bound as for naming a side.
pub(super) const UNLIKE: f64 = 0.2;

/// Pieces of surface that the model of a whole pelvis is compared with, and turns tried.
const SAMPLES: u32 = 1500;
const TURNS: u32 = 120;

/// The pose of a hemipelvis, with the hand that lies nearer or the one that is asked for.
pub(super) fn of_hemipelvis(
    socket: &Hollow,
    surface: &[SurfacePoint],
    asked: Option<Side>,
) -> Result<Pose, NotAPelvis> {
    let [first, second] = laid_over(&socket.sphere.centre, &socket.opening, surface);
    let (best, other) = if asked == Some(second.side) {
        (second, first)
    } else {
        (first, second)
    };
    if best.distance >= UNLIKE {
        let share = best.distance;
        return Err(NotAPelvis::Unlike { share });
    }
    Ok(Pose {
        axes: columns(&best),
        side: best.side,
        margin: 1.0 - best.distance / other.distance,
    })
}

fn columns(laid: &Laid) -> [Vector3<f64>; 3] {
    [Vector3::x(), Vector3::y(), Vector3::z()].map(|axis| laid.turn * axis)
}

/// The pose of a whole pelvis whose two sockets are told; `side` is that of the first.
///
/// The line through the centres is left to right; how the pelvis lies about it, and which end is the
/// right one, is where the two models together lie nearest to the bone.
pub(super) fn of_whole(
    sockets: &[Hollow; 2],
    surface: &[SurfacePoint],
) -> Result<Pose, NotAPelvis> {
    let [first, second] = sockets.map(|s| s.sphere.centre);
    let samples: Vec<Point3<f64>> = thinned(surface, SAMPLES).iter().map(|p| p.at).collect();
    let apart = (first - second).norm();
    let line = UnitVector3::new_normalize(first - second);
    // The model's own centres would be as far apart as its midline is from them, twice.
    let scale = apart / (2.0 * MODEL_TO_MIDLINE);
    let best_of = |side: Side| {
        let right = line.into_inner() * side.sign();
        let start = Rotation3::rotation_between(&Vector3::x(), &right)
            .unwrap_or_else(|| Rotation3::from_axis_angle(&Vector3::z_axis(), TAU / 2.0));
        let tried = (0..TURNS).map(|k| {
            let angle = TAU * f64::from(k) / f64::from(TURNS);
            let turn = start * Rotation3::from_axis_angle(&Vector3::x_axis(), angle);
            let both = [(first, side), (second, side.other())];
            let places = both
                .iter()
                .flat_map(|(centre, side)| model(*side).map(move |p| centre + turn * p * scale));
            (mean_distance(places, &samples), turn)
        });
        tried.min_by(|a, b| a.0.total_cmp(&b.0))
    };
    let mut ways = [Side::Right, Side::Left].map(|side| (best_of(side), side));
    ways.sort_by(|a, b| {
        let of = |way: &(Option<(f64, _)>, Side)| way.0.map_or(f64::INFINITY, |w| w.0);
        of(a).total_cmp(&of(b))
    });
    let (Some((distance, turn)), side) = ways[0] else {
        return Err(NotAPelvis::Unlike {
            share: f64::INFINITY,
        });
    };
    let share = distance / (apart / 2.0);
    if share >= UNLIKE {
        return Err(NotAPelvis::Unlike { share });
    }
    Ok(Pose {
        axes: [Vector3::x(), Vector3::y(), Vector3::z()].map(|axis| turn * axis),
        side,
        margin: 1.0 - distance / ways[1].0.map_or(f64::INFINITY, |w| w.0),
    })
}

/// From the model's hip centre to its midline, in mm, as assumed as the rest of it.
const MODEL_TO_MIDLINE: f64 = 87.0;

fn mean_distance(places: impl Iterator<Item = Point3<f64>>, samples: &[Point3<f64>]) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for place in places {
        let nearest = samples.iter().map(|s| (s - place).norm_squared());
        sum += nearest.fold(f64::INFINITY, f64::min).sqrt();
        count += 1.0;
    }
    sum / count
}
