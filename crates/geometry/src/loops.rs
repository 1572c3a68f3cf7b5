//! A triangle below the equator of a sphere about the origin: the cone over what of it lies inside the
//! sphere, and the arcs in which it crosses the sphere.
//!
//! The arcs of all triangles join to loops, and with the arcs of the equator in bone they bound the part of
//! the lower half sphere that lies in bone. Its area is that loop integral, by Stokes's theorem, of the
//! form whose integral between two points is the solid angle of the triangle that they make with the
//! lower pole. So no triangle away from the loops is asked. Two neighbours cross the sphere at the very
//! same point of their edge, to the bit, so that loops close.

use std::f64::consts::{FRAC_PI_2, TAU};

use nalgebra::Vector3;

/// A triangle flatter than this, its doubled area by its longest edge squared, has no plane to speak of.
/// Rounding alone leaves 1e-16 for points in a row; one of 1e-12 still has four digits of its normal.
const NEEDLE: f64 = 1e-12;

/// How much farther than the sphere's radius a plane must stand off to be surely beyond it.
pub(crate) const BEYOND: f64 = 1.0 + 1e-9;

/// Up to four corners of what the equator leaves of a triangle.
const MOST: usize = 4;

/// The part of a triangle below the equator, that is where z < 0.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Below {
    corners: [Vector3<f64>; MOST],
    /// How each edge, from a corner to the next, is told by both triangles at it.
    told: [Told; MOST],
    count: usize,
    /// The edge on the equator's plane.
    cut: Option<usize>,
    area_vector: Vector3<f64>,
    longest: f64,
}

/// In which direction an edge is told, so that both triangles at it compute the same.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Told {
    Forward,
    Backward,
}

/// Where an edge passes into a sphere and out of it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Passage {
    enter: Option<Vector3<f64>>,
    leave: Option<Vector3<f64>>,
}

/// What a triangle contributes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Share {
    /// Three times the signed volume of the cone from the origin over the part inside.
    pub(crate) cone: f64,
    /// The integral along its arcs, of a sphere of radius 1; they have bone on their right.
    pub(crate) turned: f64,
    /// Where the equator passes into bone and out of it.
    pub(crate) rim: Passages,
}

/// Places on the equator where it passes into bone, and where out of it, with growing angle.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Passages {
    pub(crate) into_bone: Option<Vector3<f64>>,
    pub(crate) out_of_bone: Option<Vector3<f64>>,
}

impl Below {
    /// What lies below the equator of a triangle that has a corner there; `indices` tell its corners from
    /// those of others.
    pub(crate) fn of(indices: [u32; 3], corners: [Vector3<f64>; 3]) -> Self {
        let [a, b, c] = corners;
        let mut below = Self {
            corners: [Vector3::zeros(); MOST],
            told: [Told::Forward; MOST],
            count: 0,
            cut: None,
            area_vector: (b - a).cross(&(c - a)),
            longest: (b - a)
                .norm_squared()
                .max((c - b).norm_squared())
                .max((a - c).norm_squared()),
        };
        for (i, j) in [(0, 1), (1, 2), (2, 0)] {
            let (from, to) = (corners[i], corners[j]);
            let forward = indices[i] < indices[j];
            let crossing = || {
                if forward {
                    on_equator(&from, &to)
                } else {
                    on_equator(&to, &from)
                }
            };
            match (from.z < 0.0, to.z < 0.0) {
                (true, true) => below.push(
                    from,
                    if forward {
                        Told::Forward
                    } else {
                        Told::Backward
                    },
                ),
                (true, false) => {
                    below.push(from, Told::Forward);
                    below.cut = Some(below.count);
                    below.push(crossing(), Told::Forward);
                }
                (false, true) => below.push(crossing(), Told::Backward),
                (false, false) => {}
            }
        }
        below
    }

    fn push(&mut self, corner: Vector3<f64>, told: Told) {
        self.corners[self.count] = corner;
        self.told[self.count] = told;
        self.count += 1;
    }

    fn corners(&self) -> &[Vector3<f64>] {
        &self.corners[..self.count]
    }

    /// The corner after number `k`.
    fn next(&self, k: usize) -> usize {
        if k + 1 == self.count { 0 } else { k + 1 }
    }

    /// The share of this part in the sphere of `radius`.
    pub(crate) fn share(&self, radius: f64) -> Share {
        let squared = radius * radius;
        let inside = self.corners.map(|p| p.norm_squared() < squared);
        let all = &inside[..self.count];
        if all.iter().all(|&inside| inside) {
            return Share {
                cone: self.whole_cone(),
                ..Share::default()
            };
        }
        if !all.contains(&true) && is_beyond(self.corners(), squared) {
            return Share::default();
        }
        let mut passages = [Passage::default(); MOST];
        for (k, passage) in passages.iter_mut().enumerate().take(self.count) {
            *passage = self.passage(k, &inside, squared);
        }
        let mut share = Cut::of(self, radius).share(self, &inside, &passages);
        if let Some(Passage { enter, leave }) = self.cut.map(|k| passages[k]) {
            share.rim = Passages {
                into_bone: enter,
                out_of_bone: leave,
            };
        }
        share
    }

    /// The cone over all of it.
    fn whole_cone(&self) -> f64 {
        let [a, b, c, d] = &self.corners;
        let second = if self.count == MOST {
            a.dot(&c.cross(d))
        } else {
            0.0
        };
        (a.dot(&b.cross(c)) + second) / 2.0
    }

    fn passage(&self, k: usize, inside: &[bool; MOST], squared: f64) -> Passage {
        let next = self.next(k);
        let (from, to) = (&self.corners[k], &self.corners[next]);
        match self.told[k] {
            Told::Forward => passage(from, to, [inside[k], inside[next]], squared),
            Told::Backward => {
                let Passage { enter, leave } =
                    passage(to, from, [inside[next], inside[k]], squared);
                Passage {
                    enter: leave,
                    leave: enter,
                }
            }
        }
    }
}

/// Where an edge crosses the equator's plane.
#[inline]
pub(crate) fn on_equator(from: &Vector3<f64>, to: &Vector3<f64>) -> Vector3<f64> {
    let p = from + (to - from) * (from.z / (from.z - to.z));
    Vector3::new(p.x, p.y, 0.0)
}

/// Where a triangle passes through the plane of the equator: from the edge that falls below it to the edge that
/// rises, so that seen from above bone lies on the left; `None` where it does not pass through.
///
/// A corner on the plane counts as above it, and each edge is taken from its end of smaller index, so that
/// both triangles at it tell the same place, to the bit.
pub(crate) fn on_plane(
    indices: [u32; 3],
    corners: &[Vector3<f64>; 3],
) -> Option<[Vector3<f64>; 2]> {
    let above = corners.map(|p| p.z >= 0.0);
    let (mut falls, mut rises) = (None, None);
    for (i, j) in [(0, 1), (1, 2), (2, 0)] {
        if above[i] != above[j] {
            let (low, high) = if indices[i] < indices[j] {
                (i, j)
            } else {
                (j, i)
            };
            let place = if above[i] { &mut falls } else { &mut rises };
            *place = Some(on_equator(&corners[low], &corners[high]));
        }
    }
    falls.zip(rises).map(|(from, to)| [from, to])
}

/// Whether the plane at right angles to the direction of the corners' middle parts them from the ball.
#[inline]
pub(crate) fn is_beyond(corners: &[Vector3<f64>], squared: f64) -> bool {
    let middle: Vector3<f64> = corners.iter().sum();
    let least = corners
        .iter()
        .map(|p| p.dot(&middle))
        .fold(f64::INFINITY, f64::min);
    least > 0.0 && least * least > BEYOND * squared * middle.norm_squared()
}

/// Where the edge passes into the ball and out of it, given which of its ends lie inside.
#[inline]
fn passage(from: &Vector3<f64>, to: &Vector3<f64>, inside: [bool; 2], squared: f64) -> Passage {
    if inside == [true, true] {
        return Passage::default();
    }
    let along = to - from;
    let (a, b) = (along.norm_squared(), from.dot(&along));
    let c = from.norm_squared() - squared;
    let root = (b * b - a * c).max(0.0).sqrt();
    // The root of larger size first, so that neither loses digits.
    let q = -(b + root.copysign(b));
    let (first, second) = (q / a, c / q);
    let (enter, leave) = (first.min(second), first.max(second));
    let at = |t: f64| Some(from + along * t.clamp(0.0, 1.0));
    match inside {
        [true, _] => Passage {
            enter: None,
            leave: at(leave),
        },
        [false, true] => Passage {
            enter: at(enter),
            leave: None,
        },
        // Two ends outside, however near the sphere, and the nearest place between them inside.
        _ if root > 0.0 && b < 0.0 && -b < a => Passage {
            enter: at(enter),
            leave: at(leave),
        },
        _ => Passage::default(),
    }
}

/// The circle in which a triangle's plane cuts the sphere.
struct Cut {
    radius: f64,
    normal: Vector3<f64>,
    /// Distance of the plane from the origin along the normal.
    height: f64,
    /// The circle's middle and radius, squared; not positive where there is no circle.
    middle: Vector3<f64>,
    squared: f64,
}

impl Cut {
    fn of(part: &Below, radius: f64) -> Self {
        let length = part.area_vector.norm();
        if length <= NEEDLE * part.longest {
            return Self {
                radius,
                normal: Vector3::zeros(),
                height: 0.0,
                middle: Vector3::zeros(),
                squared: 0.0,
            };
        }
        let normal = part.area_vector / length;
        let height = normal.dot(&part.corners[0]);
        Self {
            radius,
            normal,
            height,
            middle: height * normal,
            squared: (radius - height) * (radius + height),
        }
    }

    fn share(&self, part: &Below, inside: &[bool; MOST], passages: &[Passage; MOST]) -> Share {
        let mut share = Share::default();
        let mut doubled = 0.0;
        for k in 0..part.count {
            let next = part.next(k);
            let start = if inside[k] {
                Some(part.corners[k])
            } else {
                passages[k].enter
            };
            let end = if inside[next] {
                Some(part.corners[next])
            } else {
                passages[k].leave
            };
            if let (Some(start), Some(end)) = (start, end) {
                doubled += self.cross(&(start - self.middle), &(end - self.middle));
            }
            if let Some(leave) = passages[k].leave {
                let (angle, turned) = self.arc_from(&leave, k, part, passages);
                doubled += self.squared.max(0.0) * angle;
                share.turned += turned;
            }
        }
        let crossed =
            inside[..part.count].contains(&true) || passages.iter().any(|p| p.leave.is_some());
        if !crossed && self.squared > 0.0 && self.is_within(part) {
            doubled = self.squared * TAU;
            share.turned = self.whole_circle();
        }
        share.cone = self.height * doubled / 2.0;
        share
    }

    fn cross(&self, u: &Vector3<f64>, v: &Vector3<f64>) -> f64 {
        self.normal.dot(&u.cross(v))
    }

    /// Whether the circle, which no edge crosses, lies in the triangle.
    fn is_within(&self, part: &Below) -> bool {
        (0..part.count).all(|k| {
            let (from, to) = (part.corners[k], part.corners[part.next(k)]);
            self.cross(&(to - from), &(self.middle - from)) > 0.0
        })
    }

    /// The integral along the whole circle, which goes round the upper pole or does not.
    fn whole_circle(&self) -> f64 {
        let cap = TAU * (1.0 - self.height / self.radius);
        if self.normal.z * self.radius > self.height {
            cap - 2.0 * TAU
        } else {
            cap
        }
    }

    /// Angle of the arc from the place where edge `k` leaves the sphere on to where the next one enters it,
    /// and the integral along it.
    fn arc_from(
        &self,
        leave: &Vector3<f64>,
        k: usize,
        part: &Below,
        passages: &[Passage; MOST],
    ) -> (f64, f64) {
        let mut edge = part.next(k);
        let mut steps = 1;
        let enter = loop {
            if let Some(enter) = passages[edge].enter {
                break enter;
            }
            if steps == part.count {
                return (0.0, 0.0);
            }
            edge = part.next(edge);
            steps += 1;
        };
        if self.squared <= 0.0 {
            return (0.0, self.triangle_at_pole(leave, &enter));
        }
        let (u, v) = (leave - self.middle, enter - self.middle);
        let (cross, dot) = (self.cross(&u, &v), u.dot(&v));
        let angle = cross.atan2(dot);
        /// A chord so short, by the circle's radius, that rounding may turn it round.
        const SHORT: f64 = 1e-9;
        let angle = if cross.abs() <= SHORT * self.squared && dot > 0.0 {
            self.nearly_closed(angle, leave, k, steps, &enter, part)
        } else if angle < 0.0 {
            angle + TAU
        } else {
            angle
        };
        (angle, self.along_arc(&u, &v, cross, dot, angle))
    }

    /// The angle of an arc whose ends all but meet: about none or about a whole turn, as its edges go.
    fn nearly_closed(
        &self,
        angle: f64,
        leave: &Vector3<f64>,
        k: usize,
        steps: usize,
        enter: &Vector3<f64>,
        part: &Below,
    ) -> f64 {
        let (mut turned, mut at, mut corner) = (0.0, leave - self.middle, k);
        let mut go = |to: Vector3<f64>| {
            turned += self.cross(&at, &to).atan2(at.dot(&to));
            at = to;
        };
        for _ in 0..steps {
            corner = part.next(corner);
            go(part.corners[corner] - self.middle);
        }
        go(enter - self.middle);
        angle + TAU * ((turned - angle) / TAU).round()
    }

    /// The integral along the arc from `u` to `v`, both told from the circle's middle.
    fn along_arc(
        &self,
        u: &Vector3<f64>,
        v: &Vector3<f64>,
        cross: f64,
        dot: f64,
        angle: f64,
    ) -> f64 {
        let flat = self.height.abs() / self.radius;
        let slope = (1.0 - flat) / (1.0 + flat);
        // Between an arc and the straight way, seen from the pole that the circle is about.
        let segment = |cross: f64, dot: f64, angle: f64| {
            let straight = 2.0 * (slope * cross).atan2(self.squared + slope * dot);
            (angle * (1.0 - flat) - straight) * 1.0_f64.copysign(self.height)
        };
        if angle <= FRAC_PI_2 {
            let straight = self.triangle_at_pole(&(self.middle + u), &(self.middle + v));
            return straight + segment(cross, dot, angle);
        }
        let pieces = (angle / FRAC_PI_2).ceil().min(4.0);
        let step = angle / pieces;
        let (sin, cos) = step.sin_cos();
        let mut sum = pieces * segment(self.squared * sin, self.squared * cos, step);
        let mut at = *u;
        let mut left = pieces;
        while left > 0.5 {
            let next = if left > 1.5 {
                at * cos + self.normal.cross(&at) * sin
            } else {
                *v
            };
            sum += self.triangle_at_pole(&(self.middle + at), &(self.middle + next));
            (at, left) = (next, left - 1.0);
        }
        sum
    }

    /// Solid angle of the triangle that two points of the sphere make with its lower pole.
    ///
    /// Van Oosterom & Strackee 1983, IEEE Trans Biomed Eng 30:125.
    fn triangle_at_pole(&self, p: &Vector3<f64>, q: &Vector3<f64>) -> f64 {
        let twice = p.y * q.x - p.x * q.y;
        let beside = self.radius * (self.radius - p.z - q.z) + p.dot(q);
        2.0 * twice.atan2(beside)
    }
}
