//! The angles that a film or an axial scan shows.

use std::f64::consts::FRAC_PI_2;

use nalgebra::Vector3;

use crate::rim::Bowl;

/// Angles that a film or an axial scan would show.
pub(super) struct Sections {
    pub(super) lateral_centre_edge: Option<f64>,
    pub(super) anterior_sector: Option<f64>,
    pub(super) posterior_sector: Option<f64>,
}

impl Sections {
    pub(super) fn of(bowl: &Bowl) -> Self {
        // The lip's outermost point in a half plane, as the angle from a reference direction.
        let edge = |from: Vector3<f64>, towards: Vector3<f64>| {
            bowl.lip(&-from, &towards).map(|(angle, _)| angle)
        };
        Self {
            lateral_centre_edge: edge(-Vector3::x(), Vector3::z()).map(|angle| angle - FRAC_PI_2),
            anterior_sector: edge(-Vector3::x(), Vector3::y()),
            posterior_sector: edge(-Vector3::x(), -Vector3::y()),
        }
    }
}
