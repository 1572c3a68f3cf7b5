//! The native socket measured from its rim: the curve of the rim on the mesh, its plane, diameter, depth,
//! and how it faces.

use cupwright_geometry::TriMesh;
use nalgebra::{Point3, Unit, UnitVector3, Vector3};
use thiserror::Error;

use crate::frame::PelvicFrame;
use crate::orientation::{Definition, Orientation};
use crate::rim::{Bowl, Rim, median};
use crate::side::Side;

/// A rim and what it tells of its socket; places in the mesh's own coordinates, lengths in mm.
#[derive(Clone, Debug, PartialEq)]
pub struct NativeRim {
    /// The outermost line of the lip with the degree on the clock face of each place: 0 at 12 o'clock,
    /// superior, 90 at 3, anterior, on both sides. The notch, from 4:36 to 7:24, is left out.
    pub curve: Vec<(f64, Point3<f64>)>,
    /// Middle of the curve, on the plane.
    pub middle: Point3<f64>,
    /// Normal of the least-squares plane of the curve, out of the socket.
    pub axis: UnitVector3<f64>,
    /// Root mean square distance of the curve from its plane.
    pub unevenness: f64,
    /// Twice the mean distance of the curve from its middle, in the plane: across the lip, which is
    /// wider than the sphere of the joint surface by the rounding of the lip.
    pub diameter: f64,
    /// From the plane to the deepest point of the floor.
    pub depth: f64,
    /// Gap between the horns of the rim at the notch; `None` where no notch is seen.
    pub notch_width: Option<f64>,
    side: Side,
    facing: UnitVector3<f64>,
}

/// Why a socket has no rim to measure.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum NoRim {
    /// The lip is seen over too little of the clock face.
    #[error(
        "the rim of the socket is seen over only {seen} of 276 degrees outside the notch: is part of the socket missing, or its centre wrong?"
    )]
    Gaps {
        /// Degrees at which there is a lip.
        seen: usize,
    },
    /// The prominences of the rim lie in a line.
    #[error("the rim of the socket fixes no plane: is its centre right?")]
    NoPlane,
}

/// Degrees outside the notch at which there must be a lip: three quarters of them.
const ENOUGH: usize = 207;

impl NativeRim {
    /// The rim of the socket about `centre`, whose joint surface has `radius`, on the hip of `side` in
    /// `frame`.
    ///
    /// The lip is, in each half plane a degree on, the outermost place, seen from the centre, of what
    /// lies within an eighth outside the joint surface just inside it.
    ///
    /// # Errors
    /// When the lip is seen over less than three quarters of the clock face outside the notch, or fixes no
    /// plane.
    pub fn of(
        mesh: &TriMesh,
        centre: &Point3<f64>,
        radius: f64,
        frame: &PelvicFrame,
        side: Side,
    ) -> Result<Self, NoRim> {
        let turn = frame.to_pelvic().rotation;
        let to_right_hip = |p: &Point3<f64>| mirrored(side, turn * (p - centre));
        let to_mesh = |q: Vector3<f64>| turn.inverse() * mirrored(side, q);
        let bowl = bowl(mesh, centre, radius, side, to_right_hip);
        let rim = Rim::of(&bowl).ok_or(NoRim::NoPlane)?;
        let places: Vec<(usize, Vector3<f64>)> = rim.curve().collect();
        if places.len() < ENOUGH {
            return Err(NoRim::Gaps { seen: places.len() });
        }
        let count = f64::from(u32::try_from(places.len()).unwrap_or(1));
        let mean = |of: &dyn Fn(&Vector3<f64>) -> f64| {
            places.iter().map(|p| of(&p.1)).sum::<f64>() / count
        };
        let above = |q: &Vector3<f64>| (q - rim.middle).dot(&rim.normal);
        let across = |q: &Vector3<f64>| (q - rim.middle - rim.normal * above(q)).norm();
        let curve = places.iter().map(|(degree, q)| {
            let degree = f64::from(u32::try_from(*degree).unwrap_or(0));
            (degree, centre + to_mesh(*q))
        });
        Ok(Self {
            curve: curve.collect(),
            middle: centre + to_mesh(rim.middle),
            axis: Unit::new_normalize(to_mesh(rim.normal)),
            unevenness: mean(&|q| above(q).powi(2)).sqrt(),
            diameter: 2.0 * mean(&across),
            depth: bowl.deepest_below(&rim.middle, &rim.normal),
            notch_width: rim.notch_width(),
            side,
            facing: Unit::new_normalize(mirrored(side, rim.normal)),
        })
    }

    /// Inclination and anteversion of the rim's plane in the frame it was measured in.
    pub fn orientation(&self, definition: Definition) -> Orientation {
        Orientation::of_axis(&self.facing, self.side, definition)
    }
}

/// A vector of one hip in the axes of a right one, or back.
fn mirrored(side: Side, v: Vector3<f64>) -> Vector3<f64> {
    Vector3::new(side.sign() * v.x, v.y, v.z)
}

fn bowl(
    mesh: &TriMesh,
    centre: &Point3<f64>,
    radius: f64,
    side: Side,
    to_right_hip: impl Fn(&Point3<f64>) -> Vector3<f64>,
) -> Bowl {
    let reach = 1.6 * radius;
    let close: Vec<bool> = mesh
        .vertices()
        .iter()
        .map(|p| (p - centre).norm_squared() < reach * reach)
        .collect();
    let mut near = Vec::new();
    let mut off = Vec::new();
    for triangle in mesh.triangles() {
        if !triangle.iter().all(|&i| close[i as usize]) {
            continue;
        }
        let mut corners = triangle.map(|i| to_right_hip(&mesh.vertices()[i as usize]));
        if side == Side::Left {
            corners.swap(1, 2);
        }
        let area = (corners[1] - corners[0]).cross(&(corners[2] - corners[0]));
        let distance = corners[0].norm();
        if -area.dot(&corners[0]) > 0.85 * area.norm() * distance {
            off.push((distance - radius).abs());
        }
        near.push(corners);
    }
    // As wide as the socket's own shape needs: a fifth of a millimetre for a sphere.
    let typical = median(off.into_iter().filter(|d| *d < 1.5));
    Bowl {
        radius,
        window: (3.5 * typical).clamp(0.2, 1.5),
        near,
    }
}
