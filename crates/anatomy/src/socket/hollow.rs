//! A sphere fitted to the hollow side of the surface, and whether what it rests on is like a socket.

use std::f64::consts::{PI, TAU};
use std::ops::RangeInclusive;

use nalgebra::{Matrix3, Point3, SymmetricEigen, Unit, UnitVector3, Vector3};

use super::surface::{SurfacePoint, thinned};
use crate::sphere::{SphereFit, biweight};

/// Radii that count as a socket's, in mm. Adults: 20 to 31 (diameters of 46.8 ± 3.6 mm in dry bones,
/// J Neonatal Surg 2025, doi 10.63682/jns.v14i8.6870, to 61.5 ± 4.6 mm at the rim on CT, Clin Orthop
/// Surg 2022, doi 10.4055/cios21257); the rest is room for children and worn sockets.
pub(super) const RADII: RangeInclusive<f64> = 15.0..=40.0;

/// The fit narrows from the first to the last of these distances from the sphere, in mm. The last keeps
/// an oval socket (half-axes 2 mm apart) and drops the fossa (3 to 6 mm deeper).
const REACH: [f64; 8] = [6.0, 5.0, 4.5, 4.0, 3.5, LAST_REACH, LAST_REACH, LAST_REACH];
const LAST_REACH: f64 = 3.0;

/// Rounds until the chosen fit repeats itself, at most.
const SETTLING: usize = 60;

/// The chosen fit narrows on, to as little as this in mm, where most of the surface lies closer to the
/// sphere: the border of the fossa and the rounding of the rim then drop out too. Voxels of a scan are
/// 0.5 to 1 mm.
const LEAST_REACH: f64 = 1.0;

/// Narrowed fits start from the wide one moved out of the socket by this much, in mm, since the floor of the
/// fossa draws it in by 2 to 3 mm; the radius grows by a share of that, as it does for a bowl.
const OUTWARD: [f64; 5] = [0.0, 1.0, 2.0, 3.0, 4.0];
const GROWTH: f64 = 0.4;

/// By which steps they are narrowed, and the distance at the end, in mm: the depth of a fossa must not be
/// taken for roughness of a joint surface.
const NARROWING: [f64; 8] = [2.0, 1.7, 1.4, 1.2, 1.0, 0.8, 0.6, NARROW];
const NARROW: f64 = 0.5;

/// Pieces of surface on which the starts are compared; the best is then fitted to all.
const STARTED_ON: u32 = 4000;

/// Least cosine between a normal and the direction to the centre: 45°, more than the steps of a smoothed
/// voxel surface, less than a rim that turns outward.
const FACING: f64 = 0.7;

/// How much deeper than the sphere the floor of the fossa may lie, in mm.
const FLOOR: f64 = 8.0;

/// Least solid angle as a share of half a sphere. A dysplastic socket 17 mm deep with a radius of 23.5 mm
/// (Crowe III) has 0.7 without its notch; the hollow of a sacrum, 0.25.
const LEAST_COVER: f64 = 0.45;

/// Least length of the mean direction: 0.5 for half a sphere, 0 for a ring or a closed cavity.
const LEAST_LEAN: f64 = 0.2;

/// Least mean square of the directions along their narrowest way: 1/3 for half a sphere, 0.02 for a
/// groove half as wide as deep.
const LEAST_BREADTH: f64 = 0.05;

/// Half-angle of the bottom, and least share of it that must be closed: a funnel or a ring has none, a
/// socket whose fossa is so thin that a scan shows a hole in it has most.
const BOTTOM: f64 = PI / 6.0;
const LEAST_BOTTOM: f64 = 0.4;

/// A sphere and the hollow surface on it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Hollow {
    /// The sphere; its `rms` is that of the surface within 3 mm of it.
    pub(crate) sphere: SphereFit,
    /// Away from the mean direction of the surface, the floor of the fossa included.
    pub(crate) opening: UnitVector3<f64>,
    /// Solid angle of that surface from the centre, as a share of half a sphere.
    pub(crate) coverage: f64,
    /// Solid angle of the surface on the sphere, that off it counting less: what hollows are ranked by.
    pub(super) merit: f64,
    lean: f64,
    breadth: f64,
    bottom: f64,
}

/// A piece of surface that faces a centre: direction and distance from there, solid angle.
struct Facing {
    direction: Vector3<f64>,
    distance: f64,
    solid_angle: f64,
}

impl Hollow {
    /// The hollow around `start`; `None` when the surface that faces it fits no sphere of a socket's size.
    pub(super) fn around(start: &Point3<f64>, surface: &[SurfacePoint]) -> Option<Self> {
        let near = near(start, surface);
        let mut sphere = SphereFit {
            centre: *start,
            radius: likeliest_radius(start, &near)?,
            rms: 0.0,
        };
        for reach in REACH {
            sphere = refitted(&sphere, &near, reach)?;
        }
        Some(Self::measured(sphere, &near))
    }

    /// The same hollow, fitted until the fit repeats itself, so that it does not depend on its start.
    ///
    /// Where a wide fit leans on the floor of the fossa or the rounding of the rim it repeats itself
    /// there; so narrowed ones are tried too, and the one on which most of the surface around the bottom
    /// lies is taken.
    pub(super) fn settled(&self, surface: &[SurfacePoint]) -> Self {
        let near = near(&self.sphere.centre, surface);
        let wide = settled(self.sphere, &near, |sphere| reach_of(sphere, &near));
        let opening = Self::measured(wide, &near).opening;
        let narrow = settled(narrowed(&wide, &opening, &near), &near, |_| NARROW);
        let on = |sphere: &SphereFit| around_bottom(sphere, &opening, &near);
        let better = on(&narrow) > on(&wide);
        Self::measured(if better { narrow } else { wide }, &near)
    }

    /// Whether the surface faces the centre from one side, broadly, and is closed at the bottom.
    pub(super) fn is_bowl(&self) -> bool {
        self.lean > LEAST_LEAN && self.breadth > LEAST_BREADTH && self.bottom > LEAST_BOTTOM
    }

    /// Whether the surface is enough of the sphere for a socket.
    pub(super) fn covers_enough(&self) -> bool {
        self.coverage > LEAST_COVER
    }

    fn measured(sphere: SphereFit, near: &[SurfacePoint]) -> Self {
        let within = sphere.radius - LAST_REACH..sphere.radius + FLOOR;
        let hollow: Vec<Facing> = facing(&sphere.centre, near)
            .filter(|f| within.contains(&f.distance))
            .collect();
        let cover: f64 = hollow.iter().map(|f| f.solid_angle).sum();
        let sum: Vector3<f64> = hollow.iter().map(|f| f.direction * f.solid_angle).sum();
        let squares: Matrix3<f64> = hollow
            .iter()
            .map(|f| f.direction * f.direction.transpose() * f.solid_angle)
            .sum();
        let opening = Unit::try_new(-sum, f64::MIN_POSITIVE).unwrap_or(Vector3::z_axis());
        let bottom = hollow
            .iter()
            .filter(|f| -f.direction.dot(&opening) > BOTTOM.cos());
        let off = |f: &Facing| f.distance - sphere.radius;
        let joint = || hollow.iter().filter(|f| off(f) < LAST_REACH);
        let squares_off: f64 = joint().map(|f| f.solid_angle * off(f).powi(2)).sum();
        let rms = (squares_off / joint().map(|f| f.solid_angle).sum::<f64>()).sqrt();
        let on_sphere = |f: &Facing| biweight(off(f), LAST_REACH);
        Self {
            sphere: SphereFit { rms, ..sphere },
            opening,
            coverage: cover / TAU,
            merit: hollow.iter().map(|f| f.solid_angle * on_sphere(f)).sum(),
            lean: sum.norm() / cover,
            breadth: SymmetricEigen::new(squares / cover).eigenvalues.min(),
            bottom: bottom.map(|f| f.solid_angle).sum::<f64>() / (TAU * (1.0 - BOTTOM.cos())),
        }
    }
}

/// The narrow fit on which most of the surface around the bottom lies, of several starts, on few pieces
/// of it.
fn narrowed(wide: &SphereFit, opening: &UnitVector3<f64>, near: &[SurfacePoint]) -> SphereFit {
    let few = thinned(near, STARTED_ON);
    let fits = OUTWARD.map(|by| {
        let mut sphere = SphereFit {
            centre: wide.centre + **opening * by,
            radius: wide.radius + GROWTH * by,
            ..*wide
        };
        for reach in NARROWING {
            sphere = refitted(&sphere, &few, reach).unwrap_or(sphere);
        }
        settled(sphere, &few, |_| NARROW)
    });
    let on = |sphere: &SphereFit| around_bottom(sphere, opening, &few);
    let most = |a: &SphereFit, b: &SphereFit| on(a).total_cmp(&on(b));
    fits.into_iter().max_by(most).unwrap_or(*wide)
}

fn settled(
    mut sphere: SphereFit,
    near: &[SurfacePoint],
    reach: impl Fn(&SphereFit) -> f64,
) -> SphereFit {
    for _ in 0..SETTLING {
        let Some(next) = refitted(&sphere, near, reach(&sphere)) else {
            break;
        };
        let moved = (next.centre - sphere.centre).norm();
        sphere = next;
        if moved < 1e-9 * sphere.radius {
            break;
        }
    }
    sphere
}

/// Solid angle of the surface within [`NARROW`] of a sphere, what is off it counting less and the bottom, where
/// the fossa is, not at all.
fn around_bottom(sphere: &SphereFit, opening: &UnitVector3<f64>, near: &[SurfacePoint]) -> f64 {
    facing(&sphere.centre, near)
        .filter(|f| -f.direction.dot(opening) < BOTTOM.cos())
        .map(|f| f.solid_angle * biweight(f.distance - sphere.radius, NARROW))
        .sum()
}

/// The surface that a sphere about `centre` may rest on.
fn near(centre: &Point3<f64>, surface: &[SurfacePoint]) -> Vec<SurfacePoint> {
    let reach = 1.5 * RADII.end();
    surface
        .iter()
        .filter(|p| (p.at - centre).norm() < reach)
        .copied()
        .collect()
}

/// The distance from `centre` at which the surface facing it has the largest solid angle within 2.5 mm.
fn likeliest_radius(centre: &Point3<f64>, near: &[SurfacePoint]) -> Option<f64> {
    let mut rings: Vec<(f64, f64)> = facing(centre, near)
        .map(|f| (f.distance, f.solid_angle))
        .collect();
    rings.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut best = (0.0, None);
    let mut radius = *RADII.start();
    while radius <= *RADII.end() {
        let from = rings.partition_point(|r| r.0 < radius - 2.5);
        let to = rings.partition_point(|r| r.0 <= radius + 2.5);
        let sum: f64 = rings[from..to].iter().map(|r| r.1).sum();
        if sum > best.0 {
            best = (sum, Some(radius));
        }
        radius += 0.5;
    }
    best.1
}

/// As far from the sphere as a normal scatter of the surface about it goes: 4.685 × 1.4826 × the median
/// distance, within [`LEAST_REACH`] and [`LAST_REACH`].
fn reach_of(sphere: &SphereFit, near: &[SurfacePoint]) -> f64 {
    let mut distances: Vec<f64> = facing(&sphere.centre, near)
        .map(|f| (f.distance - sphere.radius).abs())
        .filter(|distance| *distance < LAST_REACH)
        .collect();
    distances.sort_by(f64::total_cmp);
    let median = distances.get(distances.len() / 2).copied();
    (4.685 * 1.4826 * median.unwrap_or(LAST_REACH)).clamp(LEAST_REACH, LAST_REACH)
}

/// The sphere nearest to the surface that faces the centre within `reach` of the last one.
fn refitted(sphere: &SphereFit, near: &[SurfacePoint], reach: f64) -> Option<SphereFit> {
    let mut points = Vec::new();
    let mut weights = Vec::new();
    for p in near {
        let weight = biweight(sphere.distance_to(&p.at), reach);
        if weight > 0.0 && faces(&sphere.centre, p) {
            points.push(p.at);
            weights.push(p.area * weight);
        }
    }
    SphereFit::weighted(&points, &weights)
        .ok()
        .filter(|fit| RADII.contains(&fit.radius))
}

fn facing<'a>(
    centre: &'a Point3<f64>,
    surface: &'a [SurfacePoint],
) -> impl Iterator<Item = Facing> + 'a {
    surface.iter().filter(|p| faces(centre, p)).map(move |p| {
        let away = p.at - centre;
        let distance = away.norm();
        let direction = away / distance;
        Facing {
            direction,
            distance,
            solid_angle: -direction.dot(&p.vector) / (distance * distance),
        }
    })
}

fn faces(centre: &Point3<f64>, point: &SurfacePoint) -> bool {
    let toward = centre - point.at;
    toward.dot(&point.normal) > FACING * toward.norm()
}
