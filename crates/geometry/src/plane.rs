//! [`Plane`]: a plane with a side that counts as above.

use nalgebra::{Point3, UnitVector3, Vector3};

use crate::BadShape;
use crate::shape::{direction, perpendicular};

/// A plane through a point; its normal points to the side above it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    point: Point3<f64>,
    normal: UnitVector3<f64>,
}

impl Plane {
    /// The plane through `point`, in mm; the normal need not have unit length.
    ///
    /// # Errors
    /// When the point is not finite, or the normal is zero or not finite.
    pub fn new(point: Point3<f64>, normal: Vector3<f64>) -> Result<Self, BadShape> {
        if !point.iter().all(|c| c.is_finite()) {
            return Err(BadShape::Point { at: point });
        }
        Ok(Self {
            point,
            normal: direction(normal)?,
        })
    }

    /// The point that it was put through, in mm.
    pub fn point(&self) -> Point3<f64> {
        self.point
    }

    /// The unit vector to the side above it.
    pub fn normal(&self) -> UnitVector3<f64> {
        self.normal
    }

    /// Distance of `point` from the plane, in mm, negative below it.
    pub fn height(&self, point: &Point3<f64>) -> f64 {
        self.normal.dot(&(point - self.point))
    }

    /// The plane `distance` mm further along the normal.
    #[must_use]
    pub fn shifted(&self, distance: f64) -> Self {
        Self {
            point: self.point + distance * self.normal.into_inner(),
            ..*self
        }
    }

    /// The same plane with its sides exchanged.
    #[must_use]
    pub fn reversed(&self) -> Self {
        Self {
            normal: -self.normal,
            ..*self
        }
    }

    /// Two unit vectors in the plane, the second a quarter turn to the left of the first for one who
    /// looks against the normal.
    pub fn directions(&self) -> [UnitVector3<f64>; 2] {
        let (first, second) = perpendicular(&self.normal);
        [first, second]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn heights_are_counted_along_the_normal_and_turn_with_it() {
        let plane = Plane::new([0.0, 0.0, 2.0].into(), [0.0, 0.0, 7.0].into()).unwrap();
        let point = Point3::new(5.0, -3.0, 6.0);
        assert_relative_eq!(plane.height(&point), 4.0);
        assert_relative_eq!(plane.reversed().height(&point), -4.0);
        assert_relative_eq!(plane.shifted(1.5).height(&point), 2.5);
    }

    #[test]
    fn its_directions_and_normal_are_right_handed() {
        for normal in [[1.0, 0.0, 0.0], [0.3, -2.0, 0.1], [-1.0, 1.0, 1.0]] {
            let plane = Plane::new(Point3::origin(), normal.into()).unwrap();
            let [first, second] = plane.directions();
            assert_relative_eq!(
                first.cross(&second),
                plane.normal().into_inner(),
                epsilon = 1e-15
            );
        }
    }

    #[test]
    fn a_normal_without_direction_and_a_point_that_is_no_place_are_refused() {
        let o = Point3::origin();
        for normal in [[0.0; 3], [f64::NAN, 0.0, 1.0], [f64::INFINITY, 0.0, 0.0]] {
            let refused = Plane::new(o, normal.into());
            assert!(matches!(refused, Err(BadShape::Axis { .. })));
        }
        let nowhere = Point3::new(f64::NAN, 0.0, 0.0);
        assert!(matches!(
            Plane::new(nowhere, Vector3::z()),
            Err(BadShape::Point { .. })
        ));
    }
}
