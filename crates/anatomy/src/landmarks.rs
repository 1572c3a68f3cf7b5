//! Named points on the pelvis, from which its frames are built.

use nalgebra::{Isometry3, Point3, Vector3, center};

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

/// Distances between landmarks, in mm, that hip centre regressions use.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PelvicSize {
    /// From one ASIS to the other (PW in the literature).
    pub width: f64,
    /// From the point midway between the ASIS to the point midway between the PSIS (PD).
    pub depth: f64,
}

impl Landmarks {
    /// The point midway between the ASIS: the origin of every pelvic frame.
    pub fn mid_asis(&self) -> Point3<f64> {
        middle(&self.asis)
    }

    /// The same landmarks moved by a rotation and a translation.
    #[must_use]
    pub fn moved(&self, by: &Isometry3<f64>) -> Self {
        let both = |pair: &Both<Point3<f64>>| Both {
            right: by * pair.right,
            left: by * pair.left,
        };
        Self {
            asis: both(&self.asis),
            pubic_tubercle: both(&self.pubic_tubercle),
            psis: self.psis.as_ref().map(both),
        }
    }

    /// Width and depth of the pelvis; `None` without PSIS.
    pub fn size(&self) -> Option<PelvicSize> {
        let psis = self.psis.as_ref()?;
        Some(PelvicSize {
            width: (self.asis.right - self.asis.left).norm(),
            depth: (self.mid_asis() - middle(psis)).norm(),
        })
    }

    /// Height of the anterior pelvic plane, in mm: from the line through the ASIS, square to it, to the
    /// point midway between the pubic tubercles. NaN where the ASIS coincide.
    pub fn plane_height(&self) -> f64 {
        let across = (self.asis.right - self.asis.left).normalize();
        let down: Vector3<f64> = middle(&self.pubic_tubercle) - self.mid_asis();
        (down - across * across.dot(&down)).norm()
    }
}

pub(crate) fn middle(pair: &Both<Point3<f64>>) -> Point3<f64> {
    center(&pair.right, &pair.left)
}
