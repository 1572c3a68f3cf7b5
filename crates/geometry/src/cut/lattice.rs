//! Points spread over a tool's round side, the inner vertices of a cavity's wall.

use std::collections::HashMap;
use std::f64::consts::{FRAC_PI_2, TAU};

use nalgebra::{Point3, Vector3};

use super::tool::Tool;

/// The turn from ring to ring, in radians: by the golden angle, so that no lines form.
const GOLDEN: f64 = 2.399_963_229_728_653;

/// Share of the spacing between points that lies between rings: the height of an equilateral
/// triangle.
const RING: f64 = 0.866;

/// Distance between neighbouring points for which the flat triangles between them stay within
/// `tolerance` of a sphere, in mm.
///
/// An equilateral triangle of edge h stands h²/(6r) off; a quarter is kept for triangles that are not.
pub(super) fn spacing(radius: f64, tolerance: f64) -> f64 {
    (0.75 * (6.0 * radius * tolerance).sqrt()).min(0.5 * radius)
}

/// Rings of points about the axis from the lowest point of the tool up to `height` above its centre,
/// and a last ring of the kind that [`ring`] makes.
///
/// Where the tool's own flat end bounds the rings, `height` is the end's.
pub(super) fn rings(tool: &Tool, height: f64, spacing: f64) -> Vec<Vector3<f64>> {
    let r = tool.radius;
    let end = if height > 0.0 {
        r * FRAC_PI_2 + height
    } else {
        r * (-height / r).clamp(-1.0, 1.0).acos()
    };
    let count = (end / (RING * spacing)).ceil().max(1.0);
    let mut points = vec![Vector3::new(0.0, 0.0, -r)];
    let mut ring_number = 1.0;
    while ring_number < count - 0.5 {
        let along = end * ring_number / count;
        let polar = (along / r).min(FRAC_PI_2);
        let (rho, z) = if along < r * FRAC_PI_2 {
            (r * polar.sin(), -r * polar.cos())
        } else {
            (r, along - r * FRAC_PI_2)
        };
        points.extend(ring(rho, z, spacing, GOLDEN * ring_number));
        ring_number += 1.0;
    }
    points
}

/// Points evenly round a circle about the axis, not much farther apart than `spacing`.
pub(super) fn ring(
    rho: f64,
    z: f64,
    spacing: f64,
    turn: f64,
) -> impl Iterator<Item = Vector3<f64>> {
    let count = (TAU * rho / spacing).ceil().clamp(8.0, 1e5);
    let numbers = std::iter::successors(Some(0.0), |k| Some(k + 1.0));
    numbers.take_while(move |k| *k < count - 0.5).map(move |k| {
        let (sin, cos) = (turn + TAU * k / count).sin_cos();
        Vector3::new(rho * cos, rho * sin, z)
    })
}

/// Points in cells, so that those near a place are found without asking all.
pub(super) struct Cells {
    size: f64,
    of_cell: HashMap<[i64; 3], Vec<usize>>,
}

impl Cells {
    pub(super) fn over(points: &[Point3<f64>], size: f64) -> Self {
        let mut of_cell: HashMap<_, Vec<usize>> = HashMap::new();
        for (index, p) in points.iter().enumerate() {
            of_cell.entry(cell(p, size)).or_default().push(index);
        }
        Self { size, of_cell }
    }

    /// Calls `visit` with the points in the cells that a ball reaches.
    pub(super) fn near(&self, centre: &Point3<f64>, radius: f64, mut visit: impl FnMut(usize)) {
        let reach = Vector3::repeat(radius);
        let (low, high) = (
            cell(&(centre - reach), self.size),
            cell(&(centre + reach), self.size),
        );
        for x in low[0]..=high[0] {
            for y in low[1]..=high[1] {
                for z in low[2]..=high[2] {
                    let here = self.of_cell.get(&[x, y, z]);
                    here.into_iter().flatten().for_each(|&index| visit(index));
                }
            }
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "coordinates in mm over a spacing of at least a micrometre fit an i64; larger ones saturate"
)]
fn cell(p: &Point3<f64>, size: f64) -> [i64; 3] {
    [p.x, p.y, p.z].map(|c| (c / size).floor() as i64)
}
