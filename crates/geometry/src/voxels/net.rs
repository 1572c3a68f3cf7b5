//! The staircase as a net of four-sided faces, one vertex for each sheet of surface in a cell.
//!
//! A cell is the box between eight neighbouring centres. The surface crosses an edge of a cell where one
//! end is inside and the other outside; each crossed edge gives a face through the four cells around it.
//! On a face of a cell with two inside corners across from each other, those hang together.

use std::sync::LazyLock;

use nalgebra::Point3;

use super::{BadVoxels, MOST_FACES, Voxels, real};

/// Vertices, counted in voxels from the corner of the empty border, and faces, seen from outside
/// counter-clockwise where the axes are right-handed.
#[derive(Clone, Debug, Default)]
pub(super) struct Net {
    pub(super) places: Vec<Point3<f64>>,
    pub(super) faces: Vec<[u32; 4]>,
}

/// Which sheet each of the twelve edges of a cell belongs to, for a cell with some corners inside.
#[derive(Clone, Copy)]
struct Sheets {
    of_edge: [u8; 12],
    count: u8,
}

/// No sheet crosses the edge.
const UNCROSSED: u8 = u8::MAX;

/// By the corners inside, one bit each: corner x + 2 y + 4 z.
static SHEETS: LazyLock<[Sheets; 256]> =
    LazyLock::new(|| std::array::from_fn(|inside| sheets(u8::try_from(inside).unwrap_or(0))));

/// The number of the edge along `axis` that lies `over` along the next axis and `beyond` along the one
/// after.
fn edge(axis: usize, over: usize, beyond: usize) -> usize {
    4 * axis + over + 2 * beyond
}

/// The two corners of an edge.
fn ends(edge: usize) -> [usize; 2] {
    let (axis, over, beyond) = (edge / 4, edge & 1, edge >> 1 & 1);
    let first = over << ((axis + 1) % 3) | beyond << ((axis + 2) % 3);
    [first, first | 1 << axis]
}

/// The four edges of the face across `axis`, on its low or high side (0 or 1).
fn edges_of_face(axis: usize, side: usize) -> [usize; 4] {
    let (next, after) = ((axis + 1) % 3, (axis + 2) % 3);
    // From the next axis on, the other two are `after` and `axis`; from the one after, `axis` and `next`.
    [
        edge(next, 0, side),
        edge(next, 1, side),
        edge(after, side, 0),
        edge(after, side, 1),
    ]
}

fn sheets(inside: u8) -> Sheets {
    let is_inside = |corner: usize| inside >> corner & 1 == 1;
    let is_crossed = |e: &usize| {
        let [a, b] = ends(*e);
        is_inside(a) != is_inside(b)
    };
    let mut root: [usize; 12] = std::array::from_fn(|e| e);
    let mut join = |a: usize, b: usize| {
        let (from, to) = (root[a].max(root[b]), root[a].min(root[b]));
        root.iter_mut()
            .filter(|r| **r == from)
            .for_each(|r| *r = to);
    };
    for (axis, side) in (0..3).flat_map(|axis| [(axis, 0), (axis, 1)]) {
        let crossed: Vec<_> = edges_of_face(axis, side)
            .into_iter()
            .filter(is_crossed)
            .collect();
        match crossed[..] {
            [a, b] => join(a, b),
            // Each outside corner is cut off by itself.
            [_, _, _, _] => (0..8).filter(|&c| !is_inside(c)).for_each(|corner| {
                let at: Vec<_> = crossed
                    .iter()
                    .filter(|e| ends(**e).contains(&corner))
                    .collect();
                if let [a, b] = at[..] {
                    join(*a, *b);
                }
            }),
            _ => {}
        }
    }
    let mut of_edge = [UNCROSSED; 12];
    let mut count = 0;
    for e in (0..12).filter(is_crossed) {
        of_edge[e] = if root[e] == e {
            count += 1;
            count - 1
        } else {
            of_edge[root[e]]
        };
    }
    Sheets { of_edge, count }
}

impl Voxels {
    /// How many cells there are along each axis.
    fn cells(&self) -> [usize; 3] {
        self.size.map(|n| n + 1)
    }

    /// The cells of a row that the surface crosses, with the corners of each that are inside.
    fn crossed(&self, j: usize, k: usize) -> impl Iterator<Item = (usize, u8)> + '_ {
        let rows = [(j, k), (j + 1, k), (j, k + 1), (j + 1, k + 1)].map(|(j, k)| self.row(j, k));
        let mixed = move |w: usize| {
            let [or, or_next] = [w, w + 1].map(|w| rows.iter().fold(0, |or, r| or | word(r, w)));
            let [and, and_next] =
                [w, w + 1].map(|w| rows.iter().fold(u64::MAX, |and, r| and & word(r, w)));
            let any = or | or >> 1 | or_next << 63;
            let all = and & (and >> 1 | and_next << 63);
            any & !all
        };
        let cells = (0..self.words).flat_map(move |w| {
            let mut left = mixed(w);
            std::iter::from_fn(move || {
                let bit = left.trailing_zeros();
                left &= left.wrapping_sub(1);
                (bit < 64).then_some(64 * w + bit as usize)
            })
        });
        let last = self.size[0];
        cells
            .filter(move |&i| i <= last)
            .map(move |i| (i, inside(&rows, i)))
    }
}

fn word(row: &[u64], w: usize) -> u64 {
    row.get(w).copied().unwrap_or(0)
}

/// The corners inside of the cell at `i` between four rows.
fn inside(rows: &[&[u64]; 4], i: usize) -> u8 {
    let bit = |row: &[u64], i: usize| (word(row, i / 64) >> (i % 64) & 1) as u8;
    let rows = rows.iter().zip([0, 2, 4, 6]);
    rows.fold(0, |signs, (row, at)| {
        signs | (bit(row, i) | bit(row, i + 1) << 1) << at
    })
}

/// Adds voxels until no two cells that share a face share two pieces of one sheet there; how many.
///
/// Such a pair would have an edge with four faces. Adding only, there is an end to it.
pub(super) fn unpinch(voxels: &mut Voxels) -> Result<usize, BadVoxels> {
    let mut added = 0;
    loop {
        let pinched = pinched(voxels)?;
        if pinched.is_empty() {
            return Ok(added);
        }
        for [i, j, k] in pinched {
            let row = voxels.words * (k * (voxels.size[1] + 2) + j);
            let word = &mut voxels.bits[row + i / 64];
            added += usize::from(*word >> (i % 64) & 1 == 0);
            *word |= 1 << (i % 64);
        }
    }
}

/// For each such pair, the outside voxel of its face that comes first.
fn pinched(voxels: &Voxels) -> Result<Vec<[usize; 3]>, BadVoxels> {
    let [_, ny, nz] = voxels.cells();
    let mut found = Vec::new();
    for (k, j) in (0..nz).flat_map(|k| (0..ny).map(move |j| (k, j))) {
        for (i, signs) in voxels.crossed(j, k) {
            if found.len() > MOST_FACES {
                return Err(BadVoxels::TooRough);
            }
            for axis in (0..3).filter(|&axis| in_one_sheet(signs, axis, 0)) {
                let mut before = [i, j, k];
                if before[axis] == 0 {
                    continue;
                }
                before[axis] -= 1;
                let [a, b, c] = before;
                let rows = [(b, c), (b + 1, c), (b, c + 1), (b + 1, c + 1)];
                let rows = rows.map(|(j, k)| voxels.row(j, k));
                if in_one_sheet(inside(&rows, a), axis, 1) {
                    let outside = (0..8).find(|c| c >> axis & 1 == 0 && signs >> c & 1 == 0);
                    let corner = outside.unwrap_or(0);
                    found.push([i + (corner & 1), j + (corner >> 1 & 1), k + (corner >> 2)]);
                }
            }
        }
    }
    Ok(found)
}

/// Whether all four edges of a cell's face are crossed by the same sheet.
fn in_one_sheet(signs: u8, axis: usize, side: usize) -> bool {
    let sheets = &SHEETS[usize::from(signs)];
    let [a, b, c, d] = edges_of_face(axis, side).map(|e| sheets.of_edge[e]);
    a != UNCROSSED && a == b && a == c && a == d
}

/// The vertices of one layer of cells.
struct Layer {
    first: Vec<u32>,
    signs: Vec<u8>,
}

/// The net around all voxels, its vertices in the middles of their cells' crossed edges.
pub(super) fn around(voxels: &Voxels) -> Result<Net, BadVoxels> {
    let [nx, ny, nz] = voxels.cells();
    let layer = || Layer {
        first: vec![0; nx * ny],
        signs: vec![0; nx * ny],
    };
    let (mut before, mut here) = (layer(), layer());
    let mut net = Net::default();
    for k in 0..nz {
        here.signs.fill(0);
        for j in 0..ny {
            for (i, signs) in voxels.crossed(j, k) {
                here.signs[j * nx + i] = signs;
                here.first[j * nx + i] = u32::try_from(net.places.len()).unwrap_or(u32::MAX);
                if net.faces.len() > MOST_FACES {
                    return Err(BadVoxels::TooRough);
                }
                net.add_vertices([i, j, k], signs);
                net.add_faces(&before, &here, nx, [i, j], signs);
            }
        }
        std::mem::swap(&mut before, &mut here);
    }
    if net.faces.is_empty() {
        return Err(BadVoxels::Empty);
    }
    Ok(net)
}

impl Net {
    /// One vertex a sheet, in the middle of the middles of the edges that it crosses.
    fn add_vertices(&mut self, cell: [usize; 3], signs: u8) {
        let sheets = &SHEETS[usize::from(signs)];
        let corner = Point3::from(cell.map(real));
        for sheet in 0..sheets.count {
            let crossed = (0..12).filter(|&e| sheets.of_edge[e] == sheet);
            let middles = crossed.map(|e| {
                let [a, b] = ends(e).map(|c| [c & 1, c >> 1 & 1, c >> 2].map(real));
                nalgebra::center(&Point3::from(a), &Point3::from(b)).coords
            });
            let middles: Vec<_> = middles.collect();
            let sum: nalgebra::Vector3<f64> = middles.iter().sum();
            self.places.push(corner + sum / real(middles.len().max(1)));
        }
    }

    /// The faces through the three edges from the cell's first corner.
    fn add_faces(
        &mut self,
        before: &Layer,
        here: &Layer,
        nx: usize,
        [i, j]: [usize; 2],
        signs: u8,
    ) {
        let is_inside = |corner: usize| signs >> corner & 1 == 1;
        for axis in (0..3).filter(|axis| is_inside(0) != is_inside(1 << axis)) {
            let (next, after) = ((axis + 1) % 3, (axis + 2) % 3);
            // Counter-clockwise about the axis.
            let mut face = [(0, 0), (1, 0), (1, 1), (0, 1)].map(|(over, beyond)| {
                let mut back = [0; 3];
                (back[next], back[after]) = (over, beyond);
                let layer = if back[2] == 1 { before } else { here };
                let cell = (j - back[1]) * nx + i - back[0];
                let sheets = &SHEETS[usize::from(layer.signs[cell])];
                layer.first[cell] + u32::from(sheets.of_edge[edge(axis, over, beyond)])
            });
            if !is_inside(0) {
                face.reverse();
            }
            self.faces.push(face);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sheet_of_every_cell_is_a_ring_of_at_least_three_edges() {
        for (inside, sheets) in SHEETS.iter().enumerate() {
            for sheet in 0..sheets.count {
                let edges = sheets.of_edge.iter().filter(|s| **s == sheet).count();
                assert!(edges >= 3, "{inside:08b}");
            }
            assert_eq!(sheets.count == 0, inside == 0 || inside == 255);
        }
    }

    #[test]
    fn corners_across_a_face_hang_together_and_across_the_cell_do_not() {
        assert_eq!(SHEETS[0b0000_1001].count, 1);
        assert_eq!(SHEETS[0b1000_0001].count, 2);
        // Outside corners across a face are cut off one by one.
        assert_eq!(SHEETS[0b1111_0110].count, 2);
    }

    #[test]
    fn the_edges_of_a_face_join_its_four_corners() {
        for (axis, side) in (0..3).flat_map(|axis| [(axis, 0), (axis, 1)]) {
            let ends = edges_of_face(axis, side).map(ends);
            assert!(ends.iter().flatten().all(|c| c >> axis & 1 == side));
            let mut corners: Vec<_> = ends.into_iter().flatten().collect();
            corners.sort_unstable();
            corners.dedup();
            assert_eq!(corners.len(), 4);
        }
    }
}
