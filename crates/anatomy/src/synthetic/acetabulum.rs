//! The socket as a field: a near-sphere cut by its rim, with the fossa sunk into it and the notch let
//! through the rim below.
//!
//! Rim, fossa and notch are curves on the sphere. They are drawn in its stereographic map about the
//! deepest point, which keeps shapes: a distance in the map is a distance on the sphere times a scale
//! that depends on the place alone.

use std::f64::consts::PI;

use nalgebra::{Point3, Vector3};

use super::Shape;
use super::solid::{common, joined, ramp};
use super::spline::periodic;
use super::table::{Table, distance_to_polygon};

/// The socket of a right hip, in the pelvic frame.
pub(super) struct Acetabulum {
    pub(super) centre: Point3<f64>,
    pub(super) radius: f64,
    /// Out of the socket.
    pub(super) axis: Vector3<f64>,
    /// Towards 12 o'clock, across the axis.
    pub(super) up: Vector3<f64>,
    /// Towards 3 o'clock, across the axis.
    pub(super) forward: Vector3<f64>,
    stretch: f64,
    lip: f64,
    fossa_depth: f64,
    floor_growth: f64,
    rim: Vec<(f64, f64)>,
    /// Signed distances in the map to rim, fossa and notch, negative inside.
    map: Table<3>,
}

/// A place relative to the socket: how far from the centre, and where on the map.
struct Place {
    distance: f64,
    map: [f64; 2],
    scale: f64,
}

impl Acetabulum {
    const NOTCH_BOTTOM_DEG: f64 = 54.0;
    /// Where the map ends: polar angle from the deepest point, degrees.
    const MAP_END_DEG: f64 = 132.0;

    pub(super) fn new(shape: &Shape) -> Self {
        let (inclination, anteversion) = (
            shape.inclination_deg.to_radians(),
            shape.anteversion_deg.to_radians(),
        );
        let axis = Vector3::new(
            inclination.sin() * anteversion.cos(),
            inclination.sin() * anteversion.sin(),
            -inclination.cos(),
        );
        let up = (Vector3::z() - axis * axis.z).normalize();
        let radius = 0.5 * shape.socket_diameter_mm;
        let rim = rim_knots(shape, radius);
        Self {
            centre: Point3::new(
                0.5 * shape.hip_spacing_mm,
                -shape.hip_behind_mm,
                -shape.hip_below_mm,
            ),
            radius,
            axis,
            up,
            forward: up.cross(&axis),
            stretch: 1.0 + shape.socket_lengthening_mm / shape.socket_diameter_mm,
            lip: shape.rim_thickness_mm,
            fossa_depth: shape.fossa_depth_mm,
            floor_growth: shape.floor_osteophyte_mm,
            map: Self::map(shape, &rim, radius),
            rim,
        }
    }

    fn map(shape: &Shape, rim: &[(f64, f64)], radius: f64) -> Table<3> {
        let polygon: Vec<[f64; 2]> = (0..360)
            .map(|degree| {
                let clock = f64::from(degree) * PI / 180.0;
                let r = on_map(0.5 * PI - periodic(rim, clock));
                [r * clock.sin(), r * clock.cos()]
            })
            .collect();
        // The horns of the lunate close in on the notch: the bay is wider inside than at the rim.
        let mouth = on_map(0.5 * PI);
        let bottom = on_map(Self::NOTCH_BOTTOM_DEG.to_radians());
        let half_mouth = shape.notch_width_mm / radius;
        let half_bottom = 0.5 * shape.notch_width_mm / radius / scale_at(bottom);
        let notch = move |u: f64, v: f64| {
            let t = ((-v - bottom - half_bottom) / (mouth - bottom)).clamp(0.0, 1.6);
            let middle = -(bottom + half_bottom + t * (mouth - bottom));
            u.hypot(v - middle) - half_bottom - t * (half_mouth - half_bottom)
        };
        let (half_width, half_length) = (
            0.5 * shape.fossa_width_mm / radius,
            0.5 * shape.fossa_length_mm / radius,
        );
        let low_end = on_map(70.0_f64.to_radians()).max(half_length);
        let centre = (half_length - low_end).max(-0.36);
        let fossa = move |u: f64, v: f64| {
            let (x, y) = (u / half_width, (v - centre) / half_length);
            let body = (x.hypot(y) - 1.0) * half_width;
            let strip = (u.abs() - 0.95 * half_bottom).max(v - centre);
            joined(body, strip, 0.3)
        };
        let end = on_map(Self::MAP_END_DEG.to_radians());
        Table::of([-end; 2], [end; 2], 0.05, |u, v| {
            let distance = distance_to_polygon(&polygon, [u, v]);
            [distance, fossa(u, v), notch(u, v)]
        })
    }

    /// How far the rim stands below hemisphere level at an angle on the clock face, rad.
    pub(super) fn rim_below(&self, clock: f64) -> f64 {
        periodic(&self.rim, clock)
    }

    /// Unit direction at `clock` on the face and `polar` from the deepest point, both rad.
    pub(super) fn direction(&self, clock: f64, polar: f64) -> Vector3<f64> {
        let across = self.up * clock.cos() + self.forward * clock.sin();
        (across * polar.sin() - self.axis * polar.cos()).normalize()
    }

    /// The point at `clock`, `polar` and `beyond` mm outside the lunate surface.
    pub(super) fn point(&self, clock: f64, polar: f64, beyond: f64) -> Point3<f64> {
        let p = self.centre + self.direction(clock, polar) * self.radius;
        let place = self.place(&p);
        let out = self.direction(clock, polar);
        p + out * (self.radius - place.distance + beyond)
    }

    fn place(&self, p: &Point3<f64>) -> Place {
        let q = p - self.centre;
        let u = q.dot(&self.forward);
        let v = q.dot(&self.up) / self.stretch;
        let depth = -q.dot(&self.axis);
        let distance = (u * u + v * v + depth * depth).sqrt().max(1e-9);
        let per = 2.0 / (distance + depth).max(0.02 * distance);
        let map = [u * per, v * per];
        let square = 0.25 * (map[0] * map[0] + map[1] * map[1]);
        Place {
            distance,
            map,
            scale: distance / (1.0 + square),
        }
    }

    /// Signed distances along the surface from `p` to rim, fossa and notch outline, negative inside, mm.
    pub(super) fn outlines(&self, p: &Point3<f64>) -> [f64; 3] {
        let place = self.place(p);
        let ([rim, fossa, notch], outside) = self.map.at(place.map[0], place.map[1]);
        [rim + outside, fossa, notch].map(|d| d * place.scale)
    }

    /// Distance from the centre, in units in which the lunate surface lies at the radius, mm.
    pub(super) fn distance(&self, p: &Point3<f64>) -> f64 {
        self.place(p).distance
    }

    /// How far the bony floor lies behind the lunate surface where the fossa outline is `fossa` mm away.
    fn floor(&self, fossa: f64) -> f64 {
        let inside = ramp(0.0, 1.6 * self.fossa_depth + 2.0, 0.8 - fossa);
        let grown = ramp(0.0, 7.0, 2.0 - fossa) * self.floor_growth;
        inside * self.fossa_depth - grown
    }

    /// `bone` with the socket cut out of it; both are fields negative in bone.
    pub(super) fn cut_from(&self, bone: f64, p: &Point3<f64>) -> f64 {
        let place = self.place(p);
        if place.distance > 2.6 * self.radius {
            return bone;
        }
        let [rim, fossa, notch] = self.outlines(p);
        let beyond = place.distance - self.radius;
        let ball = beyond - self.floor(fossa);
        // Outside the lip the bone may rise above the level of the rim again, ever more steeply.
        let out = (beyond - self.lip).max(0.0);
        let in_front = 0.95 * out * out / (out + 5.0) - rim;
        // The bay lets the fossa out under the rim: as deep as the fossa inside, deeper outside.
        let outward = place.map[0].hypot(place.map[1]);
        let bay = common(
            notch,
            beyond - self.fossa_depth - 7.0 * ramp(1.0, 2.3, outward),
            4.0,
        );
        let rest = common(bone, -ball, 1.6);
        let rest = common(rest, -in_front, 2.4 + 0.25 * out);
        common(rest, -bay, 2.4)
    }

    /// The bulk of bone that carries the socket, before the socket is cut: a ball about it.
    pub(super) fn bulk(&self, p: &Point3<f64>) -> f64 {
        let deeper = self.centre - self.axis * 3.0;
        (p - deeper).norm() - self.radius * self.stretch.sqrt() - self.lip - 1.2
    }
}

/// Radius on the map, in socket radii, of a polar angle from the deepest point.
fn on_map(polar: f64) -> f64 {
    2.0 * (0.5 * polar).tan()
}

/// Length on a unit sphere per length on the map, at a radius on the map.
fn scale_at(r: f64) -> f64 {
    1.0 / (1.0 + 0.25 * r * r)
}

fn rim_knots(shape: &Shape, radius: f64) -> Vec<(f64, f64)> {
    let hour = PI / 6.0;
    let growth = (shape.rim_osteophyte_mm / radius).to_degrees();
    [
        (1.25, shape.rim_anterosuperior_deg, 0.6),
        (2.75, shape.rim_anterior_deg, 0.9),
        (4.25, shape.rim_anteroinferior_deg, 1.0),
        (
            6.0,
            0.5 * (shape.rim_anteroinferior_deg + shape.rim_posteroinferior_deg),
            0.4,
        ),
        (7.75, shape.rim_posteroinferior_deg, 1.0),
        (9.0, shape.rim_posterior_deg, 0.8),
        (10.25, shape.rim_posterosuperior_deg, 1.0),
        (11.5, shape.rim_superior_deg, 0.7),
    ]
    .map(|(o_clock, below, share)| (o_clock * hour, (below - share * growth).to_radians()))
    .to_vec()
}
