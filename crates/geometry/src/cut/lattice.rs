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

/// The same up the column, which is straight that way.
const COLUMN: f64 = 1.8;

/// Distance between neighbouring points for which the flat triangles between them stay within
/// `tolerance` of a sphere, in mm.
///
/// An equilateral triangle of edge h stands h²/(6r) off; a quarter is kept for triangles that are not.
pub(super) fn spacing(radius: f64, tolerance: f64) -> f64 {
    (0.75 * (6.0 * radius * tolerance).sqrt()).min(0.5 * radius)
}

/// Rings of points about the axis from the lowest point of the tool up to, but not at, `height` above
/// its centre.
pub(super) fn rings(tool: &Tool, height: f64, spacing: f64) -> Vec<Vector3<f64>> {
    let r = tool.radius;
    let polar_end = if height < 0.0 {
        (-height / r).acos()
    } else {
        FRAC_PI_2
    };
    let mut points = vec![Vector3::new(0.0, 0.0, -r)];
    let mut turn = 0.0;
    for share in steps(r * polar_end, RING * spacing) {
        let (sin, cos) = (polar_end * share).sin_cos();
        turn += GOLDEN;
        points.extend(ring(r * sin, -r * cos, spacing, turn));
    }
    if height > 0.5 * spacing {
        for share in std::iter::once(0.0).chain(steps(height, COLUMN * spacing)) {
            turn += GOLDEN;
            points.extend(ring(r, height * share, spacing, turn));
        }
    }
    points
}

/// Where between 0 and 1 to stop so that no step of a way is longer than `step`; without the ends.
fn steps(length: f64, step: f64) -> impl Iterator<Item = f64> {
    let count = (length / step).ceil().clamp(1.0, 1e5);
    let numbers = std::iter::successors(Some(1.0), |k| Some(k + 1.0));
    numbers
        .take_while(move |k| *k < count - 0.5)
        .map(move |k| k / count)
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
