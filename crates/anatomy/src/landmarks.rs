//! Named points on the pelvis, from which its frames are built.

use nalgebra::Point3;

use crate::side::Both;

/// Points on the bone, in the mesh's own coordinates, mm.
///
/// The anterior pelvic plane needs `asis` and `pubic_tubercle`; the ISB pelvic frame needs `asis`
/// and `psis`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Landmarks {
    /// Anterior superior iliac spines: the foremost points of the iliac crests.
    pub asis: Both<Point3<f64>>,
    /// Pubic tubercles: the foremost points of the pubic crests.
    pub pubic_tubercle: Both<Point3<f64>>,
    /// Posterior superior iliac spines, where known.
    pub psis: Option<Both<Point3<f64>>>,
}
