//! The solids and curves that reamers and cups are made of, with checked, private fields.

mod along;

use nalgebra::{Point3, UnitVector3, Vector3};
use thiserror::Error;

/// A size or direction that no tool can have.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum BadShape {
    /// A radius or length that is not positive and finite, or whose cube is not.
    #[error("{what} must be a positive number of mm, not {value}")]
    Size {
        /// Which measure.
        what: &'static str,
        /// Its value in mm.
        value: f64,
    },
    /// A centre with a coordinate that is not finite.
    #[error("the centre must be three finite numbers, not ({}, {}, {})", at.x, at.y, at.z)]
    Centre {
        /// The centre.
        at: Point3<f64>,
    },
    /// A point of a plane with a coordinate that is not finite.
    #[error("the point must be three finite numbers, not ({}, {}, {})", at.x, at.y, at.z)]
    Point {
        /// The point.
        at: Point3<f64>,
    },
    /// An axis without direction.
    #[error("the axis ({}, {}, {}) has no direction", axis.x, axis.y, axis.z)]
    Axis {
        /// The axis.
        axis: Vector3<f64>,
    },
}

/// A ball: every point within `radius` of `centre`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ball {
    centre: Point3<f64>,
    radius: f64,
}

impl Ball {
    /// A ball in mm.
    ///
    /// # Errors
    /// When the radius is not positive and finite, or the centre is not finite.
    pub fn new(centre: Point3<f64>, radius: f64) -> Result<Self, BadShape> {
        if !centre.iter().all(|c| c.is_finite()) {
            return Err(BadShape::Centre { at: centre });
        }
        Ok(Self {
            centre,
            radius: positive("the radius", radius)?,
        })
    }

    /// Its centre, in mm.
    pub fn centre(&self) -> Point3<f64> {
        self.centre
    }

    /// Its radius, in mm.
    pub fn radius(&self) -> f64 {
        self.radius
    }
}

/// The half of a ball that lies away from its axis: a reamer's head, a cup's outside.
///
/// The axis points out of the socket, the way the opening faces; the half ball holds the points
/// whose product with it is not positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hemisphere {
    ball: Ball,
    axis: UnitVector3<f64>,
}

impl Hemisphere {
    /// A half ball in mm; the axis need not have unit length.
    ///
    /// # Errors
    /// When the radius is not positive and finite, the centre is not finite, or the axis is zero
    /// or not finite.
    pub fn new(centre: Point3<f64>, axis: Vector3<f64>, radius: f64) -> Result<Self, BadShape> {
        let ball = Ball::new(centre, radius)?;
        Ok(Self {
            ball,
            axis: direction(axis)?,
        })
    }

    /// The centre of the ball, which is the middle of the flat side.
    pub fn centre(&self) -> Point3<f64> {
        self.ball.centre
    }

    /// Its radius, in mm.
    pub fn radius(&self) -> f64 {
        self.ball.radius
    }

    /// The direction out of the socket.
    pub fn axis(&self) -> UnitVector3<f64> {
        self.axis
    }

    /// The circle at its edge.
    pub fn rim(&self) -> Circle {
        Circle::about(self.ball.centre, self.axis, self.ball.radius)
    }

    /// Area of its round side, 2πr², in mm².
    pub fn area(&self) -> f64 {
        std::f64::consts::TAU * self.radius() * self.radius()
    }
}

/// What a reamer has swept once it reached its final depth: a half ball and the column of the same
/// radius above it, up to a stated length or open to the outside. Convex.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bullet {
    head: Hemisphere,
    column: f64,
}

impl Bullet {
    /// The bullet of a reamer that came in along its axis from outside.
    pub fn open(head: Hemisphere) -> Self {
        Self {
            head,
            column: f64::INFINITY,
        }
    }

    /// The half ball alone, without a column.
    pub fn half_ball(head: Hemisphere) -> Self {
        Self { head, column: 0.0 }
    }

    /// The bullet whose column ends `column` mm above the centre of the half ball.
    ///
    /// # Errors
    /// When the length is negative or not finite; zero leaves the half ball.
    pub fn with_column(head: Hemisphere, column: f64) -> Result<Self, BadShape> {
        if column.is_finite() && column >= 0.0 {
            Ok(Self { head, column })
        } else {
            Err(BadShape::Size {
                what: "the length of the column",
                value: column,
            })
        }
    }

    /// Its half ball.
    pub fn head(&self) -> &Hemisphere {
        &self.head
    }

    /// Length of its column in mm; infinite when open.
    pub fn column(&self) -> f64 {
        self.column
    }

    /// Whether this bullet encloses all of `other`.
    pub fn encloses(&self, other: &Self) -> bool {
        let (head, inner) = (&self.head, &other.head);
        let apart = inner.centre() - head.centre();
        let height = apart.dot(&head.axis);
        let across = (apart - height * head.axis.into_inner()).norm();
        let room = head.radius() - inner.radius();
        let parallel = head.axis == inner.axis;
        let head_fits = if height >= 0.0 {
            across <= room
        } else {
            apart.norm() <= room
        };
        // With the axes parallel a column fits where its half ball does; a half ball alone may be
        // turned, and then reaches up to its radius.
        let top = if parallel {
            other.column
        } else {
            inner.radius()
        };
        head_fits && (parallel || other.column <= 0.0) && height + top <= self.column
    }

    /// A distance with a sign, in mm: negative inside, positive outside; nowhere larger in size
    /// than the distance to the surface.
    pub(crate) fn signed_distance(&self, point: &Point3<f64>) -> f64 {
        let x = point - self.head.centre();
        let height = x.dot(&self.head.axis);
        if height <= 0.0 {
            return (x.norm() - self.head.radius()).max(height - self.column);
        }
        let out = (x - height * self.head.axis.into_inner()).norm() - self.head.radius();
        let above = height - self.column;
        if out > 0.0 && above > 0.0 {
            out.hypot(above)
        } else {
            out.max(above)
        }
    }

    /// Where a ray from `point`, inside the bullet, along the unit vector `direction` leaves it.
    pub(crate) fn exit(&self, point: &Point3<f64>, direction: &Vector3<f64>) -> Exit {
        let (x, axis, r) = (
            point - self.head.centre(),
            self.head.axis,
            self.head.radius(),
        );
        let (height, climb) = (x.dot(&axis), direction.dot(&axis));
        let (across, drift) = (
            x - height * axis.into_inner(),
            direction - climb * axis.into_inner(),
        );
        let wall = far_root(
            drift.norm_squared(),
            across.dot(&drift),
            across.norm_squared() - r * r,
        );
        let top = if climb > 0.0 {
            (self.column - height) / climb
        } else {
            f64::INFINITY
        };
        let head = far_root(1.0, x.dot(direction), x.norm_squared() - r * r);
        let face = if top < wall {
            Face::Top
        } else if wall.is_finite() && height + wall * climb >= 0.0
            || wall.is_infinite() && climb > 0.0
        {
            Face::Wall
        } else {
            Face::Head
        };
        Exit {
            face,
            through: [head, wall, top],
        }
    }
}

/// A part of a bullet's surface.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub(crate) enum Face {
    /// The round side of the half ball.
    Head,
    /// The side of the column.
    Wall,
    /// The flat end of the column.
    Top,
}

/// Where a ray leaves a bullet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Exit {
    /// The part of the surface that it leaves through.
    pub(crate) face: Face,
    /// How far along the ray the ball, the cylinder and the plane of the top would be left.
    through: [f64; 3],
}

impl Exit {
    /// How far along the ray the bullet is left.
    pub(crate) fn distance(&self) -> f64 {
        self.distance_through(self.face)
    }

    /// How far along the ray the surface that `face` is part of would be left.
    pub(crate) fn distance_through(&self, face: Face) -> f64 {
        match face {
            Face::Head => self.through[0],
            Face::Wall => self.through[1],
            Face::Top => self.through[2],
        }
    }
}

/// The larger t with a t² + 2 b t + c = 0, for c ≤ 0; infinite when a is zero.
fn far_root(a: f64, b: f64, c: f64) -> f64 {
    let root = (b * b - a * c).max(0.0).sqrt();
    let t = if b > 0.0 {
        -c / (b + root)
    } else {
        (root - b) / a
    };
    if t.is_nan() { f64::INFINITY } else { t }
}

/// A circle in space, with the direction in which its angles start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    centre: Point3<f64>,
    radius: f64,
    start: UnitVector3<f64>,
    quarter: UnitVector3<f64>,
}

impl Circle {
    /// The circle of `radius` in the plane of two directions; its angles run from `start` toward
    /// `toward`, of which only the part at right angles to `start` counts.
    ///
    /// # Errors
    /// When the radius is not positive and finite, the centre is not finite, or the directions are
    /// zero or parallel.
    pub fn new(
        centre: Point3<f64>,
        radius: f64,
        start: Vector3<f64>,
        toward: Vector3<f64>,
    ) -> Result<Self, BadShape> {
        let ball = Ball::new(centre, radius)?;
        let start = direction(start)?;
        let across = direction(toward)?.into_inner();
        let quarter = direction(across - across.dot(&start) * start.into_inner())?;
        Ok(Self {
            centre: ball.centre,
            radius: ball.radius,
            start,
            quarter,
        })
    }

    /// The circle about an axis; its angles start wherever is convenient and run right-handed.
    pub(crate) fn about(centre: Point3<f64>, axis: UnitVector3<f64>, radius: f64) -> Self {
        let (start, quarter) = perpendicular(&axis);
        Self {
            centre,
            radius,
            start,
            quarter,
        }
    }

    /// The same circle with its angles counted from `start` toward `toward`, both at right angles
    /// to its axis up to rounding.
    ///
    /// # Errors
    /// As for [`Circle::new`].
    pub fn counted_from(
        &self,
        start: Vector3<f64>,
        toward: Vector3<f64>,
    ) -> Result<Self, BadShape> {
        Self::new(self.centre, self.radius, start, toward)
    }

    /// Its centre, in mm.
    pub fn centre(&self) -> Point3<f64> {
        self.centre
    }

    /// Its radius, in mm.
    pub fn radius(&self) -> f64 {
        self.radius
    }

    /// The unit vector at right angles to its plane, right-handed with its angles.
    pub fn normal(&self) -> Vector3<f64> {
        self.start.cross(&self.quarter)
    }

    /// The unit vectors at angle 0 and at a quarter turn.
    pub fn directions(&self) -> [UnitVector3<f64>; 2] {
        [self.start, self.quarter]
    }

    /// The point at `angle` radians.
    pub fn point(&self, angle: f64) -> Point3<f64> {
        let (sin, cos) = angle.sin_cos();
        self.centre
            + self.radius * (cos * self.start.into_inner() + sin * self.quarter.into_inner())
    }
}

/// Two unit vectors that make a right-handed set with `axis`, the axis last.
pub(crate) fn perpendicular(axis: &UnitVector3<f64>) -> (UnitVector3<f64>, UnitVector3<f64>) {
    let least = match axis.iamin() {
        0 => Vector3::x(),
        1 => Vector3::y(),
        _ => Vector3::z(),
    };
    let second = UnitVector3::new_normalize(axis.cross(&least));
    (UnitVector3::new_normalize(second.cross(axis)), second)
}

/// A size whose area and volume are numbers too: neither so small that they vanish nor so large that they overflow.
fn positive(what: &'static str, value: f64) -> Result<f64, BadShape> {
    if value > 0.0 && value.powi(3).is_normal() {
        Ok(value)
    } else {
        Err(BadShape::Size { what, value })
    }
}

/// The unit vector along `axis`.
pub(crate) fn direction(axis: Vector3<f64>) -> Result<UnitVector3<f64>, BadShape> {
    // Divided by its largest part first, so that neither tiny nor huge vectors lose their direction.
    let largest = axis.amax();
    if largest > 0.0 && axis.iter().all(|c| c.is_finite()) {
        Ok(UnitVector3::new_normalize(axis / largest))
    } else {
        Err(BadShape::Axis { axis })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn bullet(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Bullet {
        Bullet::open(Hemisphere::new(centre.into(), axis.into(), radius).unwrap())
    }

    #[test]
    fn sizes_and_axes_no_tool_can_have_are_refused() {
        let (o, z) = (Point3::origin(), Vector3::z());
        for radius in [0.0, -3.0, f64::NAN, f64::INFINITY, 1e-150, 1e150] {
            assert!(matches!(
                Hemisphere::new(o, z, radius),
                Err(BadShape::Size { .. })
            ));
        }
        for axis in [Vector3::zeros(), Vector3::new(f64::NAN, 1.0, 0.0)] {
            assert!(matches!(
                Hemisphere::new(o, axis, 1.0),
                Err(BadShape::Axis { .. })
            ));
        }
        let nowhere = Point3::new(0.0, f64::INFINITY, 0.0);
        assert!(matches!(
            Ball::new(nowhere, 1.0),
            Err(BadShape::Centre { .. })
        ));
        assert!(Circle::new(o, 1.0, z, z).is_err());
    }

    #[test]
    fn an_axis_of_any_length_gives_the_same_tool() {
        let o = Point3::origin();
        let axes = [1e-200, 1.0, 1e200].map(|length| Vector3::new(0.0, length, length));
        let tools = axes.map(|axis| Hemisphere::new(o, axis, 1.0).unwrap());
        assert_eq!(tools[0], tools[1]);
        assert_eq!(tools[1], tools[2]);
    }

    #[test]
    fn a_larger_reamer_at_the_same_place_encloses_a_smaller_one() {
        let small = bullet([0.0; 3], [0.0, 0.0, 1.0], 20.0);
        let large = bullet([0.0; 3], [0.0, 0.0, 1.0], 21.0);
        assert!(large.encloses(&small) && !small.encloses(&large) && small.encloses(&small));
        assert!(large.encloses(&bullet([0.0, 1.0, 5.0], [0.0, 0.0, 1.0], 20.0)));
        assert!(!large.encloses(&bullet([0.0, 1.0, -0.1], [0.0, 0.0, 1.0], 20.0)));
        assert!(!large.encloses(&bullet([0.0; 3], [0.0, 0.1, 1.0], 20.0)));
    }

    #[test]
    fn a_short_column_does_not_enclose_a_long_one() {
        let head = *bullet([0.0; 3], [0.0, 0.0, 1.0], 20.0).head();
        let short = Bullet::with_column(head, 10.0).unwrap();
        assert!(Bullet::open(head).encloses(&short) && !short.encloses(&Bullet::open(head)));
        assert!(Bullet::with_column(head, -1.0).is_err());
    }

    #[test]
    fn rays_leave_through_head_wall_and_top() {
        let head = *bullet([0.0; 3], [0.0, 0.0, 1.0], 2.0).head();
        let bullet = Bullet::with_column(head, 5.0).unwrap();
        let from = Point3::new(0.0, 0.0, 1.0);
        let exit = |direction: Vector3<f64>| bullet.exit(&from, &direction.normalize()).distance();
        assert_relative_eq!(exit(-Vector3::z()), 3.0);
        assert_relative_eq!(exit(Vector3::z()), 4.0);
        assert_relative_eq!(exit(Vector3::x()), 2.0);
        assert_relative_eq!(
            exit(Vector3::new(0.0, 1.0, -1.0)),
            (1.0 + 7.0_f64.sqrt()) / 2.0_f64.sqrt()
        );
        assert!(
            Bullet::open(head)
                .exit(&from, &Vector3::z())
                .distance()
                .is_infinite()
        );
    }

    #[test]
    fn every_exit_lies_at_signed_distance_zero() {
        let bullet =
            Bullet::with_column(*bullet([1.0, 2.0, 3.0], [1.0, 2.0, 2.0], 4.0).head(), 6.0)
                .unwrap();
        let from = Point3::new(1.5, 2.5, 2.5);
        for i in 0..500 {
            let (u, v) = (f64::from(i) * 0.618, f64::from(i) / 250.0 - 1.0);
            let rho = (1.0 - v * v).max(0.0).sqrt();
            let direction = Vector3::new(rho * u.cos(), rho * u.sin(), v).normalize();
            let exit = from + bullet.exit(&from, &direction).distance() * direction;
            assert!(bullet.signed_distance(&exit).abs() < 1e-12, "{direction}");
        }
    }

    #[test]
    fn a_circle_counts_its_angles_from_the_start_it_was_given() {
        let rim = Hemisphere::new(Point3::origin(), Vector3::z(), 2.0)
            .unwrap()
            .rim();
        let clock = rim.counted_from(Vector3::y(), -Vector3::x()).unwrap();
        assert_relative_eq!(clock.point(0.0), Point3::new(0.0, 2.0, 0.0));
        assert_relative_eq!(
            clock.point(std::f64::consts::FRAC_PI_2),
            Point3::new(-2.0, 0.0, 0.0),
            epsilon = 1e-15
        );
        assert_relative_eq!(clock.normal(), Vector3::z());
    }
}
