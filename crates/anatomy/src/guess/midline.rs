//! The midline of one hemipelvis: the face by which it meets the other at the symphysis.

use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};

use super::pose::Pose;
use crate::rim::median;
use crate::socket::surface::SurfacePoint;
use crate::sphere::biweight;

/// The face of the symphysis, in the mesh's own coordinates.
#[derive(Clone, Copy, Debug)]
pub(super) struct Face {
    /// Its middle.
    pub(super) at: Point3<f64>,
    /// Unit vector out of the bone, across the midline.
    pub(super) medial: Vector3<f64>,
    /// Area of what lies on its plane, mm².
    pub(super) area: f64,
    /// Root mean square distance of that from its plane, mm.
    pub(super) roughness: f64,
    /// How far, as a standard deviation, the face reaches along its narrower direction, mm.
    pub(super) half_width: f64,
}

/// How far from the most medial place of the front the face may reach sideways at first, mm: what a face 40 mm high
/// spans when the pose is 15° off.
const DEPTH: f64 = 11.0;

/// Rounds of the fit; the angle allowed between a normal and the face's narrows over them.
const ROUNDS: [f64; 10] = [45.0, 40.0, 35.0, 30.0, 25.0, 20.0, 17.0, 14.0, 12.0, 12.0];

/// Bounds of the distance from the plane that still counts, mm: float noise of a cut face, and a real
/// face with its ridges.
const REACH: std::ops::RangeInclusive<f64> = 0.1..=3.0;

/// The largest flat region of the symphysis that faces the midline; `None` where nothing there does.
pub(super) fn face(surface: &[SurfacePoint], centre: &Point3<f64>, pose: &Pose) -> Option<Face> {
    let [right, forward, up] = pose.axes;
    let medial = -right * pose.side.sign();
    let in_front = |p: &&SurfacePoint| {
        let d = p.at - centre;
        d.dot(&forward) > 0.0 && d.dot(&up) < 25.0
    };
    let facing: Vec<&SurfacePoint> = surface
        .iter()
        .filter(in_front)
        .filter(|p| p.normal.dot(&medial) > ROUNDS[0].to_radians().cos())
        .collect();
    let most = facing
        .iter()
        .map(|p| (p.at - centre).dot(&medial))
        .fold(f64::MIN, f64::max);
    let candidates: Vec<&SurfacePoint> = facing
        .into_iter()
        .filter(|p| (p.at - centre).dot(&medial) > most - DEPTH)
        .collect();
    let weights = vec![1.0; candidates.len()];
    let mut face = fitted(&candidates, &weights, &medial)?;
    for degrees in ROUNDS {
        let off = |p: &SurfacePoint| (p.at - face.at).dot(&face.medial);
        let along = |p: &&&SurfacePoint| p.normal.dot(&face.medial) > degrees.to_radians().cos();
        let typical = median(candidates.iter().filter(along).map(|p| off(p).abs()));
        let reach = (4.685 * 1.4826 * typical).clamp(*REACH.start(), *REACH.end());
        let weights: Vec<f64> = candidates
            .iter()
            .map(|p| {
                if along(&p) {
                    biweight(off(p), reach)
                } else {
                    0.0
                }
            })
            .collect();
        face = fitted(&candidates, &weights, &face.medial)?;
    }
    Some(face)
}

fn fitted(points: &[&SurfacePoint], weights: &[f64], toward: &Vector3<f64>) -> Option<Face> {
    let weighted = || points.iter().zip(weights).map(|(p, w)| (p, w * p.area));
    let area: f64 = weighted().map(|(_, w)| w).sum();
    if points.len() < 6 || area <= 0.0 {
        return None;
    }
    let mean = weighted()
        .map(|(p, w)| p.at.coords * w)
        .sum::<Vector3<f64>>()
        / area;
    let spread: Matrix3<f64> = weighted()
        .map(|(p, w)| (p.at.coords - mean) * (p.at.coords - mean).transpose() * (w / area))
        .sum();
    let eigen = SymmetricEigen::new(spread);
    let thinnest = eigen.eigenvalues.imin();
    let normal: Vector3<f64> = eigen.eigenvectors.column(thinnest).into();
    let mut sizes: [f64; 3] = eigen.eigenvalues.into();
    sizes.sort_by(f64::total_cmp);
    Some(Face {
        at: mean.into(),
        medial: normal * normal.dot(toward).signum(),
        area,
        roughness: sizes[0].max(0.0).sqrt(),
        half_width: sizes[1].max(0.0).sqrt(),
    })
}
