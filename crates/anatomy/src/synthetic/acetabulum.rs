//! The socket as a field: a near-sphere cut by its rim, with the fossa sunk into it and the notch let
//! through the rim below.
//!
//! Rim, fossa and notch are curves on the sphere. They are drawn in its stereographic map about the
//! deepest point, which keeps shapes: a distance in the map is a distance on the sphere times a scale
//! that depends on the place alone.

use std::f64::consts::PI;

use nalgebra::{Point3, Vector3};

use super::Shape;
use super::bone::Peel;
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
    least_wall: f64,
    bay_deepening: f64,
    /// Where on the map the middle of the fossa lies, up from the deepest point.
    fossa_middle: f64,
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
            // Never through a thin wall.
            bay_deepening: (shape.medial_wall_mm + 0.9).min(7.0),
            least_wall: (0.96 * shape.medial_wall_mm).min(4.5),
            fossa_middle: fossa_middle(0.5 * shape.fossa_length_mm / radius),
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
        // The bay between the horns keeps about its width in millimetres, and so widens on the map.
        let mouth = on_map(0.5 * PI);
        let bottom = on_map(Self::NOTCH_BOTTOM_DEG.to_radians());
        let half_mouth = shape.notch_width_mm / radius;
        let half_bottom = 0.5 * shape.notch_width_mm / radius / scale_at(bottom);
        let half_gap = move |v: f64| {
            let t = ((-v - bottom) / (mouth - bottom)).clamp(0.0, 1.6);
            half_bottom + t * (half_mouth - half_bottom)
        };
        let notch = move |u: f64, v: f64| common(u.abs() - half_gap(v), v + bottom, 0.5);
        let (half_width, half_length) = (
            0.5 * shape.fossa_width_mm / radius,
            0.5 * shape.fossa_length_mm / radius,
        );
        let centre = fossa_middle(half_length);
        let fossa = move |u: f64, v: f64| {
            let (x, y) = (u / half_width, (v - centre) / half_length);
            let body = (x.hypot(y) - 1.0) * half_width;
            let strip = (u.abs() - half_gap(v)).max(v - centre);
            joined(body, strip, 0.3)
        };
        let end = on_map(Self::MAP_END_DEG.to_radians());
        Table::of([-end; 2], [end; 2], 0.05, |u, v| {
            let distance = distance_to_polygon(&polygon, [u, v]);
            [distance, fossa(u, v), notch(u, v)]
        })
    }

    /// The deepest place of the fossa's own bone, whether or not osteophytes cover it.
    pub(super) fn true_floor(&self) -> Point3<f64> {
        let polar = 0.5 * self.fossa_middle.abs();
        let clock = if self.fossa_middle < 0.0 { PI } else { 0.0 };
        self.point(clock, 2.0 * polar.atan(), self.fossa_depth)
    }

    /// The border of fossa and notch on the lunate surface's sphere, closed; it ends at the rim.
    pub(super) fn fossa_outline(&self) -> Vec<Point3<f64>> {
        const RAYS: u32 = 240;
        const STEP: f64 = 0.01;
        let inside = |r: f64, angle: f64| {
            let (u, v) = (r * angle.sin(), self.fossa_middle + r * angle.cos());
            let ([rim, fossa, notch], _) = self.map.at(u, v);
            (fossa.min(notch) < 0.0 && rim < 0.0).then_some((u, v))
        };
        (0..RAYS)
            .filter_map(|ray| {
                let angle = f64::from(ray) * 2.0 * PI / f64::from(RAYS);
                let border = (0..400)
                    .map_while(|step| inside(f64::from(step) * STEP, angle))
                    .last()?;
                let polar = 2.0 * (0.5 * border.0.hypot(border.1)).atan();
                Some(self.point(border.0.atan2(border.1), polar, 0.0))
            })
            .collect()
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

    /// How much `peel` takes off the socket's wall at `p`, where fossa and notch are `aside` mm away.
    fn taken_off(&self, p: &Point3<f64>, aside: f64, peel: &Peel) -> f64 {
        let q = p - self.centre;
        let roof = ramp(0.25, 0.7, q.z / q.norm().max(1e-9));
        let plate = peel.plate + roof * (peel.roof - peel.plate);
        peel.shell + ramp(-0.5, 1.0, aside) * (plate - peel.shell)
    }

    /// `bone`, less `peel`, with the socket cut out of it; a field negative in bone.
    pub(super) fn cut_from(&self, bone: f64, p: &Point3<f64>, peel: &Peel) -> f64 {
        let place = self.place(p);
        if place.distance > 2.6 * self.radius {
            return bone;
        }
        let [rim, fossa, notch] = self.outlines(p);
        let beyond = place.distance - self.radius;
        let gone = self.taken_off(p, fossa.min(notch), peel);
        let ball = beyond - self.floor(fossa) - gone;
        // Outside the lip the bone may rise above the level of the rim again, ever more steeply.
        let out = (beyond - self.lip).max(0.0);
        let in_front = 0.95 * out * out / (out + 5.0) + (out / 9.0).powi(4) - rim;
        // The bay lets the fossa out under the rim: as deep as the fossa inside, deeper outside.
        let outward = place.map[0].hypot(place.map[1]);
        let deepening = self.bay_deepening * ramp(1.0, 2.3, outward);
        let bay = common(notch, beyond - self.fossa_depth - deepening, 4.0);
        let rest = common(bone, -ball, 1.6);
        let rest = common(rest, peel.shell - in_front, 2.4 + 0.6 * out);
        common(rest, peel.shell - bay, 2.4 + 0.3 * out)
    }

    /// The least that closes the socket towards the inside of the pelvis: a shell behind the floor, which
    /// bulges inwards where the socket is deep.
    pub(super) fn back(&self, p: &Point3<f64>) -> f64 {
        let q = p - self.centre;
        let shell = self.distance(p) - self.radius - self.fossa_depth - self.least_wall;
        common(shell, q.x + 0.45 * self.radius, 8.0)
    }

    /// The bulk of bone that carries the socket, before the socket is cut: a ball about it.
    pub(super) fn bulk(&self, p: &Point3<f64>) -> f64 {
        let deeper = self.centre - self.axis * 3.0;
        (p - deeper).norm() - self.radius * self.stretch.sqrt() - self.lip - 1.2
    }
}

/// Middle of the fossa on the map, up from the deepest point: nearer the notch, the fossa within the
/// socket.
fn fossa_middle(half_length: f64) -> f64 {
    let low_end = on_map(70.0_f64.to_radians()).max(half_length);
    (half_length - low_end).max(-0.36)
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
        (2.5, shape.rim_anterior_deg, 0.9),
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

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const WHOLE: Peel = Peel {
        shell: 0.0,
        plate: 0.0,
        roof: 0.0,
    };

    fn average() -> Acetabulum {
        Acetabulum::new(&Shape::preset("average-male").unwrap())
    }

    #[test]
    fn the_lunate_surface_is_the_sphere_and_the_fossa_lies_behind_it() {
        let socket = average();
        let field = |p: &Point3<f64>| socket.cut_from(-40.0, p, &WHOLE);
        for clock in [0.0, 1.5, 4.8] {
            let on = socket.point(clock, 1.0, 0.0);
            assert_relative_eq!(field(&on), 0.0, epsilon = 1e-9);
        }
        let floor = socket.true_floor();
        assert_relative_eq!(field(&floor), 0.0, epsilon = 0.05);
        assert_relative_eq!(socket.distance(&floor), 29.0, epsilon = 1e-9);
    }

    #[test]
    fn the_rim_stands_where_its_numbers_say_and_is_open_at_the_notch() {
        let socket = average();
        let below = |o_clock: f64| socket.rim_below(o_clock * PI / 6.0).to_degrees();
        assert_relative_eq!(below(2.5), 9.0, epsilon = 1e-9);
        assert_relative_eq!(below(10.25), 21.0, epsilon = 1e-9);
        let inside = |clock: f64, polar: f64| {
            let p = socket.point(clock, polar, 1.5);
            socket.cut_from(-40.0, &p, &WHOLE) < 0.0
        };
        // A lip at 3 o'clock just within the rim, none beyond it; none at 6 o'clock.
        assert!(inside(0.5 * PI, 1.3) && !inside(0.5 * PI, 1.6));
        assert!(!inside(PI, 1.3));
    }

    #[test]
    fn peeling_takes_the_plate_off_the_lunate_surface() {
        let socket = average();
        let plate = Peel {
            shell: 0.0,
            plate: 0.9,
            roof: 1.5,
        };
        let at_roof = socket.point(0.0, 1.1, 1.5);
        assert_relative_eq!(
            socket.cut_from(-40.0, &at_roof, &plate),
            0.0,
            epsilon = 1e-9
        );
    }
}
