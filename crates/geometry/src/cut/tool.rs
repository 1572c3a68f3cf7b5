//! One reamer's bullet as the cutting works with it: which points it takes, where its surface meets
//! an edge or a plane.

use nalgebra::{Point3, Vector3};

use crate::Bounds;
use crate::chord::Chord;
use crate::shape::{Bullet, Face, Hemisphere};

/// How near its surface a point counts as on it, in mm: far above the rounding of coordinates
/// (1e-13 on a pelvis), far below any tolerance. Cuts closer together than this are one cut.
pub(super) const ON: f64 = 1e-7;

/// How much higher than stated the flat end is taken, in mm, so that a face of the bone in its
/// plane is cut rather than left as a lid on the hole.
const LIFT: f64 = 1e-6;

/// Which side of a tool's surface a point lies on.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Side {
    In,
    On,
    Out,
}

/// A bullet with its own axes: the third along the axis out of the socket.
#[derive(Clone)]
pub(super) struct Tool {
    bullet: Bullet,
    /// How much larger it is than the bullet that it stands for, in mm.
    larger: f64,
    axes: [Vector3<f64>; 3],
    centre: Point3<f64>,
    /// Radius in mm.
    pub(super) radius: f64,
    /// Height of the flat end above the centre in mm; infinite when open.
    pub(super) top: f64,
}

impl Tool {
    /// The tool of a bullet, `larger` mm larger all round.
    pub(super) fn new(bullet: &Bullet, larger: f64) -> Self {
        let head = bullet.head();
        let [first, second] = head.rim().directions();
        let grown = Hemisphere::new(
            head.centre(),
            head.axis().into_inner(),
            head.radius() + larger,
        );
        let grown = grown.unwrap_or(*head);
        let column = bullet.column() + LIFT + larger;
        let lifted = Bullet::with_column(grown, column).unwrap_or_else(|_| Bullet::open(grown));
        Self {
            larger,
            bullet: lifted,
            axes: [
                first.into_inner(),
                second.into_inner(),
                head.axis().into_inner(),
            ],
            centre: head.centre(),
            radius: grown.radius(),
            top: lifted.column(),
        }
    }

    /// A point in the tool's own coordinates.
    pub(super) fn own(&self, p: &Point3<f64>) -> Vector3<f64> {
        let x = p - self.centre;
        let [a, b, c] = self.axes;
        Vector3::new(x.dot(&a), x.dot(&b), x.dot(&c))
    }

    /// A point from the tool's own coordinates.
    pub(super) fn world(&self, x: &Vector3<f64>) -> Point3<f64> {
        let [a, b, c] = self.axes;
        self.centre + x.x * a + x.y * b + x.z * c
    }

    /// A convex function that is negative inside, zero on the surface and positive outside; no
    /// larger than the distance to the surface.
    pub(super) fn level(&self, p: &Point3<f64>) -> f64 {
        self.level_own(&self.own(p))
    }

    fn level_own(&self, x: &Vector3<f64>) -> f64 {
        let out = if x.z <= 0.0 { x.norm() } else { x.x.hypot(x.y) };
        (out - self.radius).max(x.z - self.top)
    }

    pub(super) fn side(&self, p: &Point3<f64>) -> Side {
        let level = self.level(p);
        if level.abs() <= ON {
            Side::On
        } else if level < 0.0 {
            Side::In
        } else {
            Side::Out
        }
    }

    /// Whether the tool may reach into a box.
    pub(super) fn touches(&self, b: &Bounds) -> bool {
        let half = b.extent() / 2.0;
        self.level(&(b.min + half)) <= half.norm() + ON
    }

    /// Where the edge from `inside` to `outside` passes the surface.
    pub(super) fn crossing(&self, inside: &Point3<f64>, outside: &Point3<f64>) -> Point3<f64> {
        let along = outside - inside;
        let length = along.norm();
        let share = self.bullet.exit(inside, &(along / length)).distance() / length;
        inside + along * share.clamp(0.0, 1.0)
    }

    /// Where a ray from a point inside leaves, and whether through the flat end.
    pub(super) fn exit(&self, from: &Point3<f64>, direction: &Vector3<f64>) -> (Point3<f64>, bool) {
        let exit = self.bullet.exit(from, direction);
        let distance = exit.distance().max(0.0);
        (from + distance * direction, exit.face == Face::Top)
    }

    /// How far from the bullet's surface a triangle with its corners on the tool's can reach, in mm.
    ///
    /// On a ball that is the height of the cap over the triangle's circumscribed disc, on the column
    /// that of the same triangle seen along the axis; on any convex body no more than three times the
    /// depth of the centroid, for depth is concave.
    pub(super) fn depth(&self, corners: &[Point3<f64>; 3]) -> f64 {
        let centre = corners.iter().map(|p| p.coords).sum::<Vector3<f64>>() / 3.0;
        let at_centre = (-self.level(&Point3::from(centre))).max(0.0);
        let mut x = corners.each_ref().map(|p| self.own(p));
        if x.iter().all(|p| p.z >= 0.0) {
            x.iter_mut().for_each(|p| p.z = 0.0);
        }
        let reach = enclosing_radius(&x).min(self.radius);
        let rise = self.radius - (self.radius * self.radius - reach * reach).sqrt();
        rise.min(3.0 * at_centre) + ON + LIFT + self.larger
    }

    /// A point of the edge inside the tool, for an edge with neither end inside that dips into it.
    pub(super) fn dip(&self, a: &Point3<f64>, b: &Point3<f64>) -> Option<Point3<f64>> {
        let (start, end) = (self.own(a), self.own(b));
        let way = end - start;
        let r2 = self.radius * self.radius;
        let disc = Chord::of(
            way.xy().norm_squared(),
            start.xy().dot(&way.xy()),
            start.xy().norm_squared() - r2,
        );
        let ball = Chord::of(
            way.norm_squared(),
            start.dot(&way),
            start.norm_squared() - r2,
        );
        let vertical = way.xy().norm_squared() <= 0.0 && start.xy().norm_squared() < r2;
        let disc = disc
            .map(|c| [c.enter, c.leave])
            .or(vertical.then_some([0.0, 1.0]));
        let upper = disc.and_then(|c| cut(c, start.z, way.z, 0.0, self.top));
        let lower = ball.and_then(|c| {
            cut(
                [c.enter, c.leave],
                start.z,
                way.z,
                f64::NEG_INFINITY,
                self.top.min(0.0),
            )
        });
        let (enter, leave) = match (upper, lower) {
            (None, None) => return None,
            (Some([e, l]), None) | (None, Some([e, l])) => (e, l),
            (Some(u), Some(v)) => (u[0].min(v[0]), u[1].max(v[1])),
        };
        let middle = start + way * ((enter + leave) / 2.0);
        (self.level_own(&middle) < -ON).then(|| self.world(&middle))
    }

    /// A point inside both the triangle and the tool, for a triangle whose edges stay outside.
    pub(super) fn pierced(&self, corners: &[Point3<f64>; 3]) -> Option<Point3<f64>> {
        let x = corners.each_ref().map(|p| self.own(p));
        let n = (x[1] - x[0]).cross(&(x[2] - x[0]));
        let along = n.dot(&x[0]);
        let foot = n * (along / n.norm_squared());
        let on_axis = Vector3::new(0.0, 0.0, along / n.z);
        // Just below the flat end, the point of the plane nearest the axis.
        let brim = self.top - 10.0 * ON;
        let flat = n.xy() * ((along - n.z * brim) / n.xy().norm_squared());
        let near_top = Vector3::new(flat.x, flat.y, brim);
        let within = |p: &Vector3<f64>| {
            let turn = |k: usize| (x[(k + 1) % 3] - x[k]).cross(&(p - x[k])).dot(&n);
            (0..3).all(|k| turn(k) > 0.0)
        };
        [foot, on_axis, near_top]
            .into_iter()
            .filter(|p| p.iter().all(|c| c.is_finite()) && self.level_own(p) < -ON)
            .find(within)
            .map(|p| self.world(&p))
    }

    /// Where the plane through `at` with normal `normal` meets the edge of the flat end: none or two
    /// points.
    pub(super) fn on_crease(
        &self,
        at: &Point3<f64>,
        normal: &Vector3<f64>,
    ) -> Option<[Point3<f64>; 2]> {
        let x = self.own(at);
        let n = self.axes.map(|axis| axis.dot(normal));
        let flat = n[0].hypot(n[1]);
        let distance = (n[0] * x.x + n[1] * x.y + n[2] * (x.z - self.top)) / flat;
        let half = (self.radius * self.radius - distance * distance).sqrt();
        let (u, v) = (n[0] / flat, n[1] / flat);
        let point = |s: f64| {
            let (px, py) = (distance * u - s * v, distance * v + s * u);
            self.world(&Vector3::new(px, py, self.top))
        };
        let found = [point(-half), point(half)];
        let fine = found.iter().all(|p| p.iter().all(|c| c.is_finite()));
        fine.then_some(found)
    }
}

/// The part of an interval of the line z = `start` + t·`way` that lies between two heights.
fn cut([enter, leave]: [f64; 2], start: f64, way: f64, low: f64, high: f64) -> Option<[f64; 2]> {
    let (mut enter, mut leave) = (enter, leave);
    if way.abs() < f64::MIN_POSITIVE {
        return (low <= start && start <= high && enter < leave).then_some([enter, leave]);
    }
    let (a, b) = ((low - start) / way, (high - start) / way);
    enter = enter.max(a.min(b));
    leave = leave.min(a.max(b));
    (enter < leave).then_some([enter, leave])
}

/// Radius of the smallest ball around a triangle.
fn enclosing_radius(x: &[Vector3<f64>; 3]) -> f64 {
    let mut sides = [0, 1, 2].map(|k| (x[(k + 1) % 3] - x[k]).norm_squared());
    sides.sort_by(f64::total_cmp);
    let [a, b, c] = sides;
    let twice_area = (x[1] - x[0]).cross(&(x[2] - x[0])).norm();
    if a + b <= c || twice_area <= 0.0 {
        c.sqrt() / 2.0
    } else {
        (a * b * c).sqrt() / (2.0 * twice_area)
    }
}
