//! How much of the sky each place of a bone sees: what makes a hollow read as one.
//!
//! Rays are cast from one place in each cell of a grid, and what they find is blended between cells:
//! the light in a hollow changes slowly, whatever the size of the triangles.

use std::collections::HashMap;
use std::f64::consts::TAU;

use cupwright_geometry::{Solid, crossing};
use nalgebra::{Point3, Unit, UnitVector3, Vector3};
use rayon::prelude::*;

/// The grid's cells, in mm.
const CELL_MM: f64 = 4.0;

/// What is farther off than this shuts out no light, in mm: about the depth of a socket.
const REACH_MM: f64 = 35.0;

/// Rays from each place.
const RAYS: u32 = 24;

/// How far above the surface rays begin, in mm.
const ABOVE_MM: f64 = 0.2;

/// A cell of the grid, and the eighth of all directions that the surface in it faces.
type Cell = ([i64; 3], u8);

/// For each vertex, with its normal, the share of the light from everywhere above it that reaches it.
pub(crate) fn openness(solid: &Solid, normals: &[Vector3<f64>]) -> Vec<f32> {
    let places = solid.mesh().vertices();
    let mut first: HashMap<Cell, usize> = HashMap::new();
    for (v, (place, normal)) in places.iter().zip(normals).enumerate() {
        first.entry((cell(place), eighth(normal))).or_insert(v);
    }
    let mut cells: Vec<_> = first.into_iter().collect();
    cells.sort_unstable();
    let cast =
        |(cell, v): &(Cell, usize)| (*cell, (places[*v], seen(solid, &places[*v], &normals[*v])));
    let seen: HashMap<_, _> = cells.par_iter().map(cast).collect();
    let vertices = places.par_iter().zip(normals);
    vertices
        .map(|(place, normal)| blended(&seen, place, eighth(normal)))
        .collect()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a bone lies within a kilometre"
)]
fn cell(place: &Point3<f64>) -> [i64; 3] {
    [place.x, place.y, place.z].map(|c| (c / CELL_MM).floor() as i64)
}

fn eighth(normal: &Vector3<f64>) -> u8 {
    normal
        .iter()
        .enumerate()
        .map(|(k, c)| u8::from(*c > 0.0) << k)
        .sum()
}

/// The share of rays, more of them straight up than level, that leave the hollow.
fn seen(solid: &Solid, place: &Point3<f64>, normal: &Vector3<f64>) -> f32 {
    let Some(up) = Unit::try_new(*normal, 0.0) else {
        return 1.0;
    };
    let from = place + up.into_inner() * ABOVE_MM;
    let free = directions(&up).filter(|along| {
        let first = crossing::along_ray(solid, &from, along)
            .first()
            .map(|hit| hit.distance);
        first.is_none_or(|distance| distance > REACH_MM)
    });
    let count = u16::try_from(free.count()).unwrap_or(u16::MAX);
    f32::from(count) / 24.0
}

/// Directions about `up`, as dense as light that falls on a surface counts.
fn directions(up: &UnitVector3<f64>) -> impl Iterator<Item = UnitVector3<f64>> {
    let golden = TAU * (2.0 / (1.0 + 5.0_f64.sqrt()));
    let across = if up.x.abs() < 0.6 {
        Vector3::x()
    } else {
        Vector3::y()
    };
    let (side, up) = (up.cross(&across).normalize(), up.into_inner());
    let other = up.cross(&side);
    (0..RAYS).map(move |k| {
        let out = ((f64::from(k) + 0.5) / f64::from(RAYS)).sqrt();
        let (sin, cos) = (golden * f64::from(k)).sin_cos();
        let level = (side * cos + other * sin) * out;
        Unit::new_normalize(level + up * (1.0 - out * out).sqrt())
    })
}

/// The mean of the cells around a place, the nearer the weightier.
fn blended(seen: &HashMap<Cell, (Point3<f64>, f32)>, place: &Point3<f64>, facing: u8) -> f32 {
    let [x, y, z] = cell(place);
    let (mut sum, mut weights) = (0.0, 0.0);
    for k in 0..27 {
        let near = [x + k % 3 - 1, y + k / 3 % 3 - 1, z + k / 9 - 1];
        if let Some((at, share)) = seen.get(&(near, facing)) {
            let close = (1.0 - (at - place).norm() / (1.9 * CELL_MM)).max(0.0);
            let weight = crate::scene::ground::single(close * close + 1e-6);
            sum += weight * share;
            weights += weight;
        }
    }
    if weights > 0.0 { sum / weights } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::samples;

    #[test]
    fn a_ball_is_open_and_the_inside_of_one_is_shut() {
        let ball = samples::sphere(15.0, 4);
        let out = |p: &Point3<f64>| p.coords.normalize();
        let outward: Vec<_> = ball.vertices().iter().map(out).collect();
        let solid = Solid::try_from(ball.clone()).unwrap();
        assert!(openness(&solid, &outward).iter().all(|share| *share > 0.95));
        let hollow = samples::sphere(40.0, 4).joined(&ball.clone().reversed());
        let outer = samples::sphere(40.0, 4).vertices().len();
        let solid = Solid::try_from(hollow.clone()).unwrap();
        let normals = hollow
            .vertices()
            .iter()
            .enumerate()
            .map(|(v, p)| if v < outer { out(p) } else { -out(p) });
        let shares = openness(&solid, &normals.collect::<Vec<_>>());
        assert!(shares[..outer].iter().all(|share| *share > 0.95));
        assert!(shares[outer..].iter().all(|share| *share < 0.05));
    }
}
