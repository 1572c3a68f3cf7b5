//! Right or left, told from the handedness of the bone around a socket.
//!
//! A hemipelvis and its mirror image differ in any pose: looking into the socket with the wing of the
//! ilium up, bone fills the posterior side and leaves a gap on the anterior one, between spine and
//! pubis. A coarse right hemipelvis and its mirror image are turned about the socket to lie as near the
//! surface as they can; the one that lies clearly nearer names the side.

use std::f64::consts::TAU;

use nalgebra::{Matrix3, Point3, Rotation3, UnitVector3, Vector3};

use super::surface::{SurfacePoint, thinned};
use crate::side::Side;
use crate::sphere::SphereFit;

/// A coarse right hemipelvis about its hip centre, in mm: x lateral, y anterior, z superior.
///
/// Assumed proportions of an adult, no published source; only its handedness matters.
const RIGHT_HEMIPELVIS: [[f64; 3]; 34] = [
    // Crest, from the anterior to the posterior spines.
    [30.0, 44.0, 78.0],
    [44.0, 24.0, 98.0],
    [46.0, -4.0, 114.0],
    [36.0, -36.0, 122.0],
    [8.0, -68.0, 114.0],
    [-20.0, -90.0, 100.0],
    [-42.0, -104.0, 80.0],
    [-44.0, -98.0, 52.0],
    // Wing.
    [22.0, 22.0, 66.0],
    [24.0, -6.0, 84.0],
    [14.0, -38.0, 92.0],
    [2.0, -12.0, 60.0],
    [-8.0, -42.0, 66.0],
    [-26.0, -68.0, 72.0],
    // Body, with the anterior inferior spine and the greater notch.
    [8.0, 34.0, 40.0],
    [4.0, 6.0, 32.0],
    [-16.0, -24.0, 34.0],
    [-30.0, -60.0, 34.0],
    // Walls and floor of the socket.
    [-12.0, 26.0, 12.0],
    [-4.0, -28.0, 4.0],
    [-28.0, 0.0, 8.0],
    [-28.0, -20.0, -8.0],
    // Ischium.
    [-36.0, -48.0, -12.0],
    [-18.0, -38.0, -30.0],
    [-14.0, -42.0, -52.0],
    [-22.0, -26.0, -78.0],
    // Rami and symphysis.
    [-42.0, -8.0, -76.0],
    [-60.0, 10.0, -66.0],
    [-78.0, 26.0, -48.0],
    [-84.0, 40.0, -20.0],
    [-64.0, 46.0, -10.0],
    [-46.0, 40.0, -2.0],
    [-30.0, 34.0, 4.0],
    [-26.0, 10.0, -12.0],
];

/// Where the socket of [`RIGHT_HEMIPELVIS`] opens to.
const OPENING: [f64; 3] = [0.7, 0.3, -0.65];

/// Pieces of surface compared.
const SAMPLES: u32 = 600;

/// Turns about the socket's axis from which the model is laid over the bone.
const STARTS: u32 = 24;

/// The starts that are followed up, and for how many rounds.
const FOLLOWED: usize = 4;
const ROUNDS: usize = 12;

/// Least cosine between the model's opening and the socket's: 45°.
const LEAST_AGREEMENT: f64 = 0.7;

/// The better hand must lie this much nearer than the other.
const CLEARLY: f64 = 0.9;

/// The better hand must lie within this share of the size of the bone.
const NEAR: f64 = 0.2;

/// A coarse hemipelvis of one hand, of the size of the bone, and the samples it is compared with.
struct Comparison {
    samples: Vec<Vector3<f64>>,
    model: Vec<Vector3<f64>>,
    model_opening: Vector3<f64>,
    opening: UnitVector3<f64>,
}

/// One hand of the coarse model, laid over a bone as near as it can be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Laid {
    /// Which hand.
    pub(crate) side: Side,
    /// From pelvic axes to the mesh's own.
    pub(crate) turn: Rotation3<f64>,
    /// Mean distance between bone and model, as a share of the bone's root mean square reach from the
    /// socket; infinite where the openings cannot be kept together.
    pub(crate) distance: f64,
}

/// The side of the hip whose socket this is; `None` when the bone around does not tell.
pub(super) fn side_of(
    sphere: &SphereFit,
    opening: &UnitVector3<f64>,
    surface: &[SurfacePoint],
) -> Option<Side> {
    let [nearer, farther] = laid_over(&sphere.centre, opening, surface);
    let clear = nearer.distance < NEAR && nearer.distance < CLEARLY * farther.distance;
    clear.then_some(nearer.side)
}

/// Both hands of the model laid over the bone around a socket, the nearer one first.
pub(crate) fn laid_over(
    centre: &Point3<f64>,
    opening: &UnitVector3<f64>,
    surface: &[SurfacePoint],
) -> [Laid; 2] {
    let samples: Vec<Vector3<f64>> = thinned(surface, SAMPLES)
        .iter()
        .map(|p| p.at - centre)
        .collect();
    let size = root_mean_square(&samples);
    let [right, left] = [Side::Right, Side::Left].map(|side| {
        let (distance, turn) = Comparison::new(side, *opening, &samples, size).nearest_turn();
        Laid {
            side,
            turn,
            distance: distance / size,
        }
    });
    if right.distance < left.distance {
        [right, left]
    } else {
        [left, right]
    }
}

/// The model of one side about its hip centre, in mm, in pelvic axes.
pub(crate) fn model(side: Side) -> impl Iterator<Item = Vector3<f64>> {
    RIGHT_HEMIPELVIS
        .into_iter()
        .map(move |[x, y, z]| Vector3::new(side.sign() * x, y, z))
}

impl Comparison {
    fn new(side: Side, opening: UnitVector3<f64>, samples: &[Vector3<f64>], size: f64) -> Self {
        let model: Vec<_> = model(side).collect();
        let scale = size / root_mean_square(&model);
        Self {
            samples: samples.to_vec(),
            model: model.into_iter().map(|p| p * scale).collect(),
            model_opening: Vector3::new(side.sign() * OPENING[0], OPENING[1], OPENING[2])
                .normalize(),
            opening,
        }
    }

    /// The least distance between bone and model over all starts, and the turn that gives it; infinite
    /// when none keeps the openings together.
    fn nearest_turn(&self) -> (f64, Rotation3<f64>) {
        let onto = Rotation3::rotation_between(&self.model_opening, &self.opening)
            .unwrap_or_else(|| Rotation3::from_axis_angle(&Vector3::x_axis(), TAU / 2.0));
        let mut starts: Vec<(f64, Rotation3<f64>)> = (0..STARTS)
            .map(|i| {
                let angle = TAU * f64::from(i) / f64::from(STARTS);
                let turn = Rotation3::from_axis_angle(&self.opening, angle) * onto;
                (self.distance(&turn), turn)
            })
            .collect();
        starts.sort_by(|a, b| a.0.total_cmp(&b.0));
        let followed = starts
            .iter()
            .take(FOLLOWED)
            .map(|(_, turn)| self.followed(*turn));
        followed
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap_or((f64::INFINITY, onto))
    }

    fn followed(&self, start: Rotation3<f64>) -> (f64, Rotation3<f64>) {
        let mut best = (f64::INFINITY, start);
        let mut turn = start;
        for _ in 0..ROUNDS {
            turn = self.nearer_turn(&turn);
            let agreement = (turn * self.model_opening).dot(&self.opening);
            let distance = self.distance(&turn);
            if agreement < LEAST_AGREEMENT || distance >= best.0 {
                break;
            }
            best = (distance, turn);
        }
        best
    }

    /// Mean distance from samples to model and from model to samples, halved.
    fn distance(&self, turn: &Rotation3<f64>) -> f64 {
        let model: Vec<_> = self.model.iter().map(|p| turn * p).collect();
        let mean = |from: &[Vector3<f64>], to: &[Vector3<f64>]| {
            let sum: f64 = from.iter().map(|p| (p - nearest(p, to)).norm()).sum();
            sum / count(from)
        };
        (mean(&self.samples, &model) + mean(&model, &self.samples)) / 2.0
    }

    /// The turn that best lays the model's points on the ones now nearest to them (Kabsch 1976).
    fn nearer_turn(&self, turn: &Rotation3<f64>) -> Rotation3<f64> {
        let model: Vec<_> = self.model.iter().map(|p| turn * p).collect();
        let mut products = Matrix3::zeros();
        for p in &self.samples {
            products += p * nearest(p, &model).transpose() / count(&self.samples);
        }
        for p in &model {
            products += nearest(p, &self.samples) * p.transpose() / count(&model);
        }
        let svd = products.svd(true, true);
        let (Some(u), Some(v_t)) = (svd.u, svd.v_t) else {
            return *turn;
        };
        let handed = Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, (u * v_t).determinant()));
        Rotation3::from_matrix_unchecked(u * handed * v_t) * turn
    }
}

fn nearest(to: &Vector3<f64>, among: &[Vector3<f64>]) -> Vector3<f64> {
    let mut best = (f64::INFINITY, Vector3::zeros());
    for p in among {
        let distance = (p - to).norm_squared();
        if distance < best.0 {
            best = (distance, *p);
        }
    }
    best.1
}

fn root_mean_square(points: &[Vector3<f64>]) -> f64 {
    let squares: f64 = points.iter().map(Vector3::norm_squared).sum();
    (squares / count(points)).sqrt()
}

fn count(points: &[Vector3<f64>]) -> f64 {
    u32::try_from(points.len()).map_or(f64::from(u32::MAX), f64::from)
}
