//! The anterior pelvic plane on a bare mesh, and where regressions would put the hip centre.

use cupwright_geometry::TriMesh;
use nalgebra::{Point3, Rotation3, Vector3};

use crate::{PelvicSize, Side, hip_centre};

/// The anterior pelvic plane found on the bone: the plane that touches it at ASIS and pubic tubercle and
/// is parallel to x.
pub(super) struct Frame {
    pub(super) middle: Point3<f64>,
    pub(super) to_plane: Rotation3<f64>,
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) tilt: f64,
}

impl Frame {
    pub(super) fn of(mesh: &TriMesh) -> Option<Self> {
        let bounds = mesh.bounds()?;
        let half_way = 0.5 * (bounds.min.z + bounds.max.z);
        let mut tilt = 0.0;
        for _ in 0..20 {
            let turn = Rotation3::from_axis_angle(&Vector3::x_axis(), tilt);
            let foremost = |upper: f64| {
                extreme(mesh, |p| {
                    if upper * (p.z - half_way) > 0.0 {
                        (turn * p).y
                    } else {
                        f64::MIN
                    }
                })
            };
            let (asis, tubercle) = (foremost(1.0)?, foremost(-1.0)?);
            let (a, t) = (turn * asis, turn * tubercle);
            let left_over = (a.y - t.y).atan2(a.z - t.z);
            tilt += left_over;
            if left_over.abs() < 1e-9 {
                return Some(Self {
                    middle: Point3::new(0.0, asis.y, asis.z),
                    to_plane: turn,
                    width: 2.0 * asis.x,
                    height: a.z - t.z,
                    tilt,
                });
            }
        }
        None
    }
}

/// The vertex for which `measure` is greatest.
pub(super) fn extreme(
    mesh: &TriMesh,
    measure: impl Fn(&Point3<f64>) -> f64,
) -> Option<Point3<f64>> {
    mesh.vertices()
        .iter()
        .map(|p| (measure(p), p))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(value, _)| *value > f64::MIN)
        .map(|(_, p)| *p)
}

/// Hip centres that published regressions expect; axes forward, up and right of the plane through ASIS
/// and PSIS (Wu 2002), origin midway between the ASIS.
pub(super) struct Regressions {
    width: f64,
    depth: f64,
    forward: Vector3<f64>,
    up: Vector3<f64>,
}

impl Regressions {
    pub(super) fn new(width: f64, psis: Point3<f64>) -> Self {
        let forward = Vector3::new(0.0, -psis.y, -psis.z).normalize();
        Self {
            width,
            depth: psis.y.hypot(psis.z),
            forward,
            up: Vector3::x().cross(&forward),
        }
    }

    /// What Harrington's regression expects, in its axes.
    pub(super) fn harrington(&self) -> Vector3<f64> {
        let size = PelvicSize {
            width: self.width,
            depth: self.depth,
        };
        in_isb_order(hip_centre::harrington(size, Side::Right))
    }

    /// What Bell's regression expects, in its axes.
    pub(super) fn bell(&self) -> Vector3<f64> {
        in_isb_order(hip_centre::bell(self.width, Side::Right))
    }

    /// A point of the anterior pelvic plane's axes in those of the regressions.
    pub(super) fn in_isb(&self, p: Point3<f64>) -> Vector3<f64> {
        Vector3::new(p.coords.dot(&self.forward), p.coords.dot(&self.up), p.x)
    }

    /// What Harrington's regression expects, in the axes of the anterior pelvic plane.
    pub(super) fn harrington_in_app(&self) -> Point3<f64> {
        let h = self.harrington();
        Point3::from(self.forward * h.x + self.up * h.y + Vector3::x() * h.z)
    }
}

/// Forward, up, right: the order in which the regressions' papers name the axes.
fn in_isb_order(p: Point3<f64>) -> Vector3<f64> {
    Vector3::new(p.y, p.z, p.x)
}
