//! Likely centres of spherical hollows: where lines along the surface's normals crowd together.

use nalgebra::{Point3, Vector3};

use super::hollow::RADII;
use super::surface::{SurfacePoint, thinned};

/// Edge of a voting cell, in mm. With its 26 neighbours it catches lines that miss the centre by up to
/// 6 mm, which is a normal wrong by 14° at a radius of 25 mm.
const CELL: f64 = 4.0;

/// Pieces of surface that vote.
const VOTERS: u32 = 6000;

/// Steps along a line, in mm.
const STEP: f64 = 2.0;

/// Cells looked at together with their neighbours, most votes first.
const CELLS_LOOKED_AT: usize = 600;

/// Centres returned at most: a hemipelvis has about half a dozen hollows that are not the socket.
const CENTRES: usize = 16;

/// Centres nearer than this to a better one are the same hollow, in mm.
const APART: f64 = 8.0;

type Cell = [i64; 3];

/// A cell's votes, and their moment about the corner of the grid.
#[derive(Clone, Copy, Default)]
struct Votes {
    weight: f64,
    moment: Vector3<f64>,
}

/// Up to 16 places, most votes first, at least 8 mm apart.
pub(super) fn likely_centres(surface: &[SurfacePoint]) -> Vec<Point3<f64>> {
    let Some(first) = surface.first() else {
        return Vec::new();
    };
    let corner = surface.iter().fold(first.at, |c, p| c.inf(&p.at));
    let cells = counted(votes(surface, &corner));
    let mut order: Vec<usize> = (0..cells.len()).collect();
    order.sort_by(|&a, &b| cells[b].1.weight.total_cmp(&cells[a].1.weight));
    order.truncate(CELLS_LOOKED_AT);
    let mut peaks: Vec<Votes> = order.iter().map(|&i| with_neighbours(&cells, i)).collect();
    peaks.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    let mut centres: Vec<Point3<f64>> = Vec::new();
    for peak in peaks {
        let at = corner + peak.moment / peak.weight;
        if centres.iter().all(|c| (c - at).norm() > APART) {
            centres.push(at);
            if centres.len() == CENTRES {
                break;
            }
        }
    }
    centres
}

/// One vote per step along each line, worth the solid angle that the piece of surface has from there.
fn votes(surface: &[SurfacePoint], corner: &Point3<f64>) -> Vec<(Cell, f64, Vector3<f64>)> {
    let mut votes = Vec::new();
    for point in thinned(surface, VOTERS) {
        let mut radius = *RADII.start();
        while radius <= *RADII.end() {
            let at = point.at + point.normal * radius - corner;
            votes.push((cell_of(&at), point.area / (radius * radius), at));
            radius += STEP;
        }
    }
    votes
}

fn counted(mut votes: Vec<(Cell, f64, Vector3<f64>)>) -> Vec<(Cell, Votes)> {
    // Stable, so that votes in a cell are added in the order of the vertices.
    votes.sort_by_key(|v| v.0);
    let total = |group: &[(Cell, f64, Vector3<f64>)]| {
        group
            .iter()
            .fold(Votes::default(), |sum, (_, w, at)| Votes {
                weight: sum.weight + w,
                moment: sum.moment + at * *w,
            })
    };
    votes
        .chunk_by(|a, b| a.0 == b.0)
        .map(|group| (group[0].0, total(group)))
        .collect()
}

fn with_neighbours(cells: &[(Cell, Votes)], index: usize) -> Votes {
    let [x, y, z] = cells[index].0;
    let mut sum = Votes::default();
    for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
        // Three cells in z are neighbours in the list too.
        let from = cells.partition_point(|c| c.0 < [x + dx, y + dy, z - 1]);
        for (cell, votes) in &cells[from..] {
            if *cell > [x + dx, y + dy, z + 1] {
                break;
            }
            sum.weight += votes.weight;
            sum.moment += votes.moment;
        }
    }
    sum
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "the mesh is at most metres across, so the quotient is small"
)]
fn cell_of(at: &Vector3<f64>) -> Cell {
    [at.x, at.y, at.z].map(|c| (c / CELL).floor() as i64)
}
