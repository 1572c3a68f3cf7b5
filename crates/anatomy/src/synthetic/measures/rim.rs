//! The rim on a bare mesh: its profile round the clock face, its plane, and the angles a film or scan shows.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use nalgebra::{Matrix3, Vector3};

use super::socket::Socket;
use crate::synthetic::table::whole;

/// The rim: its points about the socket's centre and how they face.
pub(super) struct Rim {
    /// Angle below hemisphere level and place, a degree apart from 12 o'clock by way of 3.
    profile: Vec<(f64, Vector3<f64>)>,
    /// Least-squares plane of the rim without the notch.
    pub(super) middle: Vector3<f64>,
    pub(super) normal: Vector3<f64>,
}

impl Rim {
    /// The axis about which angles are measured is the normal of the plane through the three prominences
    /// (Köhnlein 2009: anterosuperior, anteroinferior and posteroinferior), found by iteration.
    pub(super) fn of(socket: &Socket) -> Option<Self> {
        let mut axis = Vector3::new(0.74, 0.3, -0.6).normalize();
        for _ in 0..6 {
            let profile = Self::profile(socket, &axis);
            let tips = [(0.3, 2.3), (3.3, 5.2), (6.8, 8.7)]
                .map(|(from, to)| top_of(&profile[degree(from)..degree(to)]));
            let across = (tips[1] - tips[0]).cross(&(tips[2] - tips[0]));
            axis = across.try_normalize(1e-9)?;
            if axis.x < 0.0 {
                axis = -axis;
            }
        }
        let profile = Self::profile(socket, &axis);
        let on_rim: Vec<Vector3<f64>> = (0..360)
            .filter(|d| !(degree(4.6)..degree(7.4)).contains(d))
            .map(|d| profile[d].1)
            .collect();
        let count = f64::from(u32::try_from(on_rim.len()).ok()?);
        let middle = on_rim.iter().sum::<Vector3<f64>>() / count;
        let spread: Matrix3<f64> = on_rim
            .iter()
            .map(|q| (q - middle) * (q - middle).transpose())
            .sum();
        let eigen = spread.symmetric_eigen();
        let normal: Vector3<f64> = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into();
        let normal = if normal.dot(&axis) < 0.0 {
            -normal
        } else {
            normal
        };
        Some(Self {
            profile,
            middle,
            normal,
        })
    }

    fn profile(socket: &Socket, axis: &Vector3<f64>) -> Vec<(f64, Vector3<f64>)> {
        let up = (Vector3::z() - axis * axis.z).normalize();
        let forward = up.cross(axis);
        let at = |d: u32| {
            let clock = f64::from(d) * TAU / 360.0;
            let towards = up * clock.cos() + forward * clock.sin();
            // No lip at all reads as a rim at the deepest point.
            let (polar, q) = socket
                .lip(axis, &towards)
                .unwrap_or((0.0, -axis * socket.radius));
            (FRAC_PI_2 - polar, q)
        };
        (0..360).map(at).collect()
    }

    pub(super) fn deepest_between(&self, from: f64, to: f64) -> f64 {
        (degree(from)..degree(to))
            .map(|d| self.profile[d].0)
            .fold(f64::MIN, f64::max)
    }

    fn highest_between(&self, from: f64, to: f64) -> f64 {
        (degree(from)..degree(to))
            .map(|d| self.profile[d].0)
            .fold(f64::MAX, f64::min)
    }

    /// Straight distance between the last points of the rim on either side of the gap around 6 o'clock.
    pub(super) fn notch_width(&self) -> Option<f64> {
        let horns = self
            .highest_between(4.0, 5.2)
            .max(self.highest_between(6.8, 8.0));
        let gap = |d: &usize| self.profile[*d].0 > horns + 15.0 * PI / 180.0;
        let front = (degree(4.0)..=degree(6.0)).find(gap)?;
        let back = (degree(6.0)..=degree(8.0)).rev().find(gap)?;
        Some((self.profile[front - 1].1 - self.profile[back + 1].1).norm())
    }
}

/// The middle of the top of a prominence, steadier than its single highest point.
fn top_of(profile: &[(f64, Vector3<f64>)]) -> Vector3<f64> {
    const NEAR_TOP: f64 = 0.012;
    let top = profile.iter().map(|p| p.0).fold(f64::MAX, f64::min);
    let near = || profile.iter().filter(|p| p.0 < top + NEAR_TOP);
    let count = f64::from(u32::try_from(near().count()).unwrap_or(1));
    near().map(|p| p.1).sum::<Vector3<f64>>() / count
}

/// The whole degree on the clock face of an hour.
fn degree(o_clock: f64) -> usize {
    whole(o_clock * 30.0)
}

/// Angles that a film or an axial scan would show.
pub(super) struct Sections {
    pub(super) lateral_centre_edge: Option<f64>,
    pub(super) anterior_sector: Option<f64>,
    pub(super) posterior_sector: Option<f64>,
}

impl Sections {
    pub(super) fn of(socket: &Socket) -> Self {
        // The lip's outermost point in a half plane, as the angle from a reference direction.
        let edge = |from: Vector3<f64>, towards: Vector3<f64>| {
            socket.lip(&-from, &towards).map(|(angle, _)| angle)
        };
        Self {
            lateral_centre_edge: edge(-Vector3::x(), Vector3::z()).map(|angle| angle - FRAC_PI_2),
            anterior_sector: edge(-Vector3::x(), Vector3::y()),
            posterior_sector: edge(-Vector3::x(), -Vector3::y()),
        }
    }
}
