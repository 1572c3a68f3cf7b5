//! The hemipelvis as one implicit field, assembled from the template's parts.

use nalgebra::{Point3, Vector3};

use super::Shape;
use super::acetabulum::Acetabulum;
use super::solid::{Edge, Knot, Plate, PlateShape, Tube, common, joined};
use super::spline::Warp;
use super::template::{self, Trim};

/// A right hemipelvis: a field in mm, negative in bone, in the pelvic frame.
pub(super) struct Bone {
    wing: Plate,
    quad: Plate,
    ring: Plate,
    tubes: Vec<Tube>,
    pub(super) socket: Acetabulum,
    /// Just in front of the AIIS.
    before_aiis: Point3<f64>,
    peel: Peel,
}

/// How much is taken off the bone all round; nothing for the bone itself.
#[derive(Clone, Copy, Debug)]
pub(super) struct Peel {
    /// From every surface but the lunate one, mm.
    pub(super) shell: f64,
    /// From the lunate surface, mm.
    pub(super) plate: f64,
    /// From the lunate surface at the roof of the socket, mm.
    pub(super) roof: f64,
}

impl Peel {
    const NONE: Self = Self {
        shell: 0.0,
        plate: 0.0,
        roof: 0.0,
    };
}

impl Bone {
    /// The bone of `shape`, its named places on target to a few hundredths of a millimetre.
    pub(super) fn new(shape: &Shape) -> Self {
        let native = Shape {
            rim_osteophyte_mm: 0.0,
            floor_osteophyte_mm: 0.0,
            ..shape.clone()
        };
        let targets = template::named_places(shape);
        let mut trim = Trim::NONE;
        for _ in 0..4 {
            let bone = Self::trimmed(&native, &trim);
            let [asis, tubercle, psis] = bone.named_places(&targets);
            trim.asis += targets[0] - asis;
            trim.tubercle += targets[1] - tubercle;
            trim.psis += targets[2] - psis;
            trim.wall += bone.medial_wall() - shape.medial_wall_mm;
        }
        Self::trimmed(shape, &trim)
    }

    /// ASIS, pubic tubercle and PSIS on the surface: its foremost and rearmost points near `targets`.
    pub(super) fn named_places(&self, targets: &[Point3<f64>; 3]) -> [Point3<f64>; 3] {
        let directions = [Vector3::y(), Vector3::y(), -Vector3::y()];
        std::array::from_fn(|i| self.farthest(&targets[i], &directions[i]))
    }

    /// AIIS on the surface.
    pub(super) fn aiis(&self) -> Point3<f64> {
        self.projected(&self.before_aiis, 20)
    }

    /// Floor of the fossa and inside of the pelvis on the line along x, level with the hip centre.
    pub(super) fn teardrop(&self) -> [Point3<f64>; 2] {
        const STEP: f64 = 0.5;
        let from = self.socket.centre - Vector3::z() * 2.0;
        let at = |x: f64| from - Vector3::x() * x;
        let crossing = |start: f64, sign: f64| {
            let mut x = start;
            while sign * self.at(&at(x)) > 0.0 && x < 4.0 * self.socket.radius {
                x += STEP;
            }
            let (mut low, mut high) = (x - STEP, x);
            for _ in 0..40 {
                let middle = 0.5 * (low + high);
                if sign * self.at(&at(middle)) > 0.0 {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            high
        };
        let floor = crossing(0.5 * self.socket.radius, 1.0);
        [at(floor), at(crossing(floor + 1e-6, -1.0))]
    }

    fn medial_wall(&self) -> f64 {
        let [floor, inside] = self.teardrop();
        nalgebra::distance(&floor, &inside)
    }

    fn trimmed(shape: &Shape, trim: &Trim) -> Self {
        let warp = template::warp(shape, trim);
        let scale = shape.socket_diameter_mm / 52.0;
        let thin = 0.5 * shape.wing_thickness_mm;
        let crest = (shape.crest_thickness_mm / 12.0).max(0.1);
        let wing = PlateShape {
            normal: Vector3::new(0.74, -0.475, -0.476),
            outline: edges(template::WING_OUTLINE, &warp, crest),
            hole: Vec::new(),
            knots: knots(template::WING_KNOTS, &warp, thin),
            middle: points(template::WING_FOSSA, &warp),
            reach: 11.0 * scale,
            stiffness: 800.0,
        };
        let ring_knots = knots(template::RING_KNOTS, &warp, scale);
        let ring = PlateShape {
            normal: Vector3::new(0.62, 0.68, -0.38),
            outline: edges(template::RING_OUTLINE, &warp, scale),
            hole: points(template::FORAMEN, &warp),
            middle: ring_knots.iter().map(|k| k.at).collect(),
            knots: ring_knots,
            reach: 8.0 * scale,
            stiffness: 1000.0,
        };
        let tubes = template::TUBES
            .iter()
            .map(|(points, blend)| {
                let points: Vec<_> = points.iter().map(|p| place(&warp, p, scale)).collect();
                Tube::through(&points, *blend * scale)
            })
            .collect();
        Self {
            wing: Plate::new(&wing),
            quad: Plate::new(&quad_shape(&warp, scale)),
            ring: Plate::new(&ring),
            tubes,
            socket: Acetabulum::new(shape),
            before_aiis: warp.map(Point3::from(template::BEFORE_AIIS)),
            peel: Peel::NONE,
        }
    }

    /// The same bone with `peel` taken off instead of what was.
    pub(super) fn peeled(self, peel: Peel) -> Self {
        Self { peel, ..self }
    }

    /// The field at `p`, negative in bone, growing by about one per mm.
    pub(super) fn at(&self, p: &Point3<f64>) -> f64 {
        let bulk = common(self.socket.bulk(p), -self.quad.above_underside(p), 6.0);
        let wing = self.wing.at(p);
        let quad = self.quad.at(p);
        let ring = self.ring.at(p);
        let mut bone = joined(wing, quad, 10.0);
        bone = joined(bone, ring, 7.0);
        bone = joined(bone, bulk, 9.0);
        bone = joined(bone, self.socket.back(p), 4.0);
        for tube in &self.tubes {
            bone = tube.join(p, bone);
        }
        let bone = common(bone, template::SYMPHYSIS_X - p.x, 3.0);
        self.socket.cut_from(bone + self.peel.shell, p, &self.peel)
    }

    /// The field at `p` and its gradient.
    pub(super) fn with_gradient(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        const STEP: f64 = 1e-3;
        let value = self.at(p);
        let along = |d: Vector3<f64>| (self.at(&(p + d * STEP)) - value) / STEP;
        let gradient = Vector3::new(
            along(Vector3::x()),
            along(Vector3::y()),
            along(Vector3::z()),
        );
        (value, gradient)
    }

    /// The surface point near `p`, by Newton steps along the gradient.
    pub(super) fn projected(&self, p: &Point3<f64>, steps: u32) -> Point3<f64> {
        let mut p = *p;
        for _ in 0..steps {
            let (value, gradient) = self.with_gradient(&p);
            let square = gradient.norm_squared().max(0.25);
            p -= gradient * (value / square).clamp(-1.0, 1.0);
            if value.abs() < 1e-6 {
                break;
            }
        }
        p
    }

    /// The surface point that lies farthest in a direction, uphill from `start`.
    pub(super) fn farthest(&self, start: &Point3<f64>, direction: &Vector3<f64>) -> Point3<f64> {
        let mut p = self.projected(start, 20);
        let mut stride = 4.0;
        while stride > 1e-5 {
            let (_, gradient) = self.with_gradient(&p);
            let normal = gradient.normalize();
            let uphill = direction - normal * normal.dot(direction);
            let next = self.projected(&(p + uphill * stride), 8);
            if next.coords.dot(direction) > p.coords.dot(direction) {
                p = next;
            } else {
                stride *= 0.5;
            }
        }
        p
    }
}

fn quad_shape(warp: &Warp, scale: f64) -> PlateShape {
    // The knots lie on the inner surface, half a thickness from the middle.
    let inner = template::QUAD_KNOTS.iter().map(|p| place(warp, p, scale));
    let knots: Vec<Knot> = inner
        .map(|(at, half)| Knot {
            at: at + Vector3::x() * half,
            half,
        })
        .collect();
    PlateShape {
        normal: Vector3::new(1.0, 0.0, 0.0),
        outline: edges(template::QUAD_OUTLINE, warp, scale),
        hole: Vec::new(),
        middle: knots.iter().map(|k| k.at).collect(),
        knots,
        reach: 9.0 * scale,
        stiffness: 1000.0,
    }
}

fn place(warp: &Warp, [x, y, z, size]: &[f64; 4], scale: f64) -> (Point3<f64>, f64) {
    (warp.map(Point3::new(*x, *y, *z)), size * scale)
}

fn points(points: &[[f64; 3]], warp: &Warp) -> Vec<Point3<f64>> {
    points.iter().map(|p| warp.map(Point3::from(*p))).collect()
}

fn edges(points: &[[f64; 4]], warp: &Warp, scale: f64) -> Vec<Edge> {
    points
        .iter()
        .map(|p| place(warp, p, scale))
        .map(|(at, swell)| Edge { at, swell })
        .collect()
}

fn knots(points: &[[f64; 4]], warp: &Warp, scale: f64) -> Vec<Knot> {
    points
        .iter()
        .map(|p| place(warp, p, scale))
        .map(|(at, half)| Knot { at, half })
        .collect()
}
