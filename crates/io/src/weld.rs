//! Welding: corners in the same place become one vertex.
//!
//! Guaranteed: a closed mesh stays closed, because each edge still runs as often one way as the
//! other. Not guaranteed: that shells which touch along an edge stay apart.

use std::collections::HashMap;

use cupwright_geometry::TriMesh;
use nalgebra::{Point3, Vector3};
use thiserror::Error;

/// How far apart, in mm, two corners may lie and still become one vertex.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tolerance(f64);

/// A tolerance that is negative or not finite.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("a welding tolerance of {0} mm makes no sense; give a length of 0 or more")]
pub struct BadTolerance(pub f64);

/// Every triangle has two corners in the same place, so that nothing is left of the mesh.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[error(
    "all {triangles} triangles have two corners in the same place once welded; use a smaller tolerance, or check the unit of the file"
)]
pub struct NothingLeft {
    /// How many triangles there were.
    pub triangles: usize,
}

/// What welding did.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Welding {
    /// Corners that came in: three for each triangle.
    pub corners: usize,
    /// Vertices they became.
    pub vertices: usize,
    /// Triangles left out because two of their corners became the same vertex.
    pub dropped_degenerate: usize,
}

impl Tolerance {
    /// Only corners with identical coordinates are one; 0 and −0 count as identical.
    pub const EXACT: Self = Self(0.0);

    /// Corners up to `distance` mm apart are one; 0 is [`EXACT`](Self::EXACT).
    ///
    /// # Errors
    /// When `distance` is negative or not finite.
    pub fn new(distance: f64) -> Result<Self, BadTolerance> {
        if distance.is_finite() && distance >= 0.0 {
            Ok(Self(distance))
        } else {
            Err(BadTolerance(distance))
        }
    }
}

/// The same surface with corners that lie within `tolerance` of each other sharing a vertex.
///
/// Corners are taken in the order of the triangles; each joins the earliest vertex that is near
/// enough, or becomes a vertex itself. A vertex therefore stays where its first corner was, and a
/// row of corners that are only pairwise near does not collapse into one. Triangles that lose a
/// corner are left out and counted; vertices that no triangle uses are left out too.
///
/// # Errors
/// When no triangle is left.
pub fn weld(mesh: &TriMesh, tolerance: Tolerance) -> Result<(TriMesh, Welding), NothingLeft> {
    let largest = mesh.vertices().iter().map(|p| p.coords.amax());
    let grid = Grid::new(tolerance.0, largest.fold(0.0, f64::max));
    let mut welder = Welder::new((tolerance.0 > 0.0).then_some(grid));
    for triangle in 0..mesh.triangles().len() {
        welder.add(mesh.corners(triangle));
    }
    let (vertices, triangles, welding) = welder.finish();
    let welded = TriMesh::new(vertices, triangles);
    let mesh = welded.map_err(|_| NothingLeft {
        triangles: mesh.triangles().len(),
    })?;
    Ok((mesh, welding))
}

/// Welds triangles as they come, so that a file need not be held as loose corners.
pub(crate) struct Welder {
    /// The vertex of each place that came up, by the bits of its coordinates.
    known: HashMap<[u64; 3], u32>,
    /// Where to look for other vertices, unless only identical corners are one.
    grid: Option<Grid>,
    vertices: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
    welding: Welding,
}

impl Welder {
    /// A welder that joins only identical corners.
    pub(crate) fn exact() -> Self {
        Self::new(None)
    }

    fn new(grid: Option<Grid>) -> Self {
        Self {
            known: HashMap::new(),
            grid,
            vertices: Vec::new(),
            triangles: Vec::new(),
            welding: Welding::default(),
        }
    }

    /// Triangles that came in so far.
    pub(crate) fn triangles_seen(&self) -> usize {
        self.welding.corners / 3
    }

    /// Takes one triangle with finite corners.
    pub(crate) fn add(&mut self, corners: [Point3<f64>; 3]) {
        self.welding.corners += 3;
        let [a, b, c] = corners.map(|p| self.vertex(p));
        if a == b || b == c || c == a {
            self.welding.dropped_degenerate += 1;
        } else {
            self.triangles.push([a, b, c]);
        }
    }

    /// The index of the vertex at `place`, which becomes a new one if need be.
    fn vertex(&mut self, place: Point3<f64>) -> u32 {
        let place = place.map(|c| c + 0.0); // −0 becomes 0
        let vertices = &mut self.vertices;
        *self.known.entry(key(&place.coords)).or_insert_with(|| {
            let grid = self.grid.as_mut();
            if let Some(near) = grid.and_then(|grid| grid.find_or_note(&place, vertices)) {
                return near;
            }
            let index = index_after(vertices);
            vertices.push(place);
            index
        })
    }

    /// Vertices, triangles, and what was done.
    pub(crate) fn finish(mut self) -> (Vec<Point3<f64>>, Vec<[u32; 3]>, Welding) {
        if self.welding.dropped_degenerate > 0 {
            self.drop_unused_vertices();
        }
        self.welding.vertices = self.vertices.len();
        (self.vertices, self.triangles, self.welding)
    }

    /// A dropped triangle leaves corners behind that no other triangle may use.
    fn drop_unused_vertices(&mut self) {
        let mut kept = Vec::new();
        let mut new_index = vec![u32::MAX; self.vertices.len()];
        for index in self.triangles.iter_mut().flatten() {
            let new = &mut new_index[*index as usize];
            if *new == u32::MAX {
                *new = index_after(&kept);
                kept.push(self.vertices[*index as usize]);
            }
            *index = *new;
        }
        self.vertices = kept;
    }
}

/// Vertices by the cell that they lie in.
struct Grid {
    /// How far apart two corners may lie and still be one.
    distance: f64,
    /// A cell's edge, a little more than `distance`.
    cell: f64,
    cells: HashMap<[u64; 3], Vec<u32>>,
}

impl Grid {
    /// No vertices yet; `largest` is the largest coordinate to come, by magnitude.
    fn new(distance: f64, largest: f64) -> Self {
        /// Cells are numbered in `f64`: few enough for neighbours to have different numbers.
        const MOST_CELLS: f64 = (1_u64 << 40) as f64;
        /// Rounding, 2⁻¹³ of a cell at worst, must not put near places two cells apart.
        const MARGIN: f64 = 1.0 + 1.0 / 1024.0;
        Self {
            distance,
            cell: MARGIN * distance.max(largest / MOST_CELLS),
            cells: HashMap::new(),
        }
    }

    /// The first of `vertices` that is near enough to `place`; if there is none, `place` is noted
    /// as the next vertex.
    fn find_or_note(&mut self, place: &Point3<f64>, vertices: &[Point3<f64>]) -> Option<u32> {
        let home = place.coords.map(|c| (c / self.cell).floor());
        let neighbours = (0..27).filter_map(|i| {
            let step = [1, 3, 9].map(|by: i32| f64::from(i / by % 3 - 1));
            self.cells.get(&key(&(home + Vector3::from(step))))
        });
        let near = |&v: &u32| (vertices[v as usize] - place).norm() <= self.distance;
        let first = neighbours.flatten().copied().filter(near).min();
        if first.is_none() {
            let cell = self.cells.entry(key(&home)).or_default();
            cell.push(index_after(vertices));
        }
        first
    }
}

/// The bits of three numbers.
fn key(numbers: &Vector3<f64>) -> [u64; 3] {
    numbers.map(f64::to_bits).into()
}

/// The index that the next vertex gets. Where it does not fit, the mesh is refused for its size.
fn index_after(vertices: &[Point3<f64>]) -> u32 {
    u32::try_from(vertices.len()).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::{samples, topology};

    /// Every triangle with three vertices of its own.
    fn loose(mesh: &TriMesh) -> TriMesh {
        let corners = (0..mesh.triangles().len()).flat_map(|t| mesh.corners(t));
        let count = u32::try_from(mesh.triangles().len()).unwrap();
        let triangles = (0..count).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]);
        TriMesh::new(corners.collect(), triangles.collect()).unwrap()
    }

    fn shaken(mesh: &TriMesh, by: f64) -> TriMesh {
        let shift = |i: usize| by * [-1.0, 0.0, 1.0][i % 3];
        let moved = mesh.vertices().iter().enumerate();
        let moved = moved.map(|(i, p)| p.map(|c| c + shift(i)));
        TriMesh::new(moved.collect(), mesh.triangles().to_vec()).unwrap()
    }

    #[test]
    fn loose_triangles_of_a_closed_mesh_become_closed() {
        let sphere = samples::sphere(25.0, 3);
        assert!(!topology::faulty_edges(loose(&sphere).triangles()).is_empty());
        let (welded, welding) = weld(&loose(&sphere), Tolerance::EXACT).unwrap();
        assert!(topology::faulty_edges(welded.triangles()).is_empty());
        assert_eq!(welding.corners, 3 * sphere.triangles().len());
        assert_eq!(welding.vertices, sphere.vertices().len());
        assert_eq!(welding.dropped_degenerate, 0);
        for t in 0..sphere.triangles().len() {
            assert_eq!(welded.corners(t), sphere.corners(t));
        }
    }

    #[test]
    fn corners_one_bit_apart_stay_apart_and_minus_zero_is_zero() {
        let next = f64::from_bits(1.0_f64.to_bits() + 1);
        let points = [
            [-0.0, -0.0],
            [0.0, 0.0],
            [1.0, 0.0],
            [next, 0.0],
            [0.0, 1.0],
        ];
        let vertices = points.map(|[x, y]| Point3::new(x, y, 0.0)).to_vec();
        let mesh = TriMesh::new(vertices, vec![[0, 2, 4], [1, 4, 3]]).unwrap();
        let (welded, welding) = weld(&mesh, Tolerance::EXACT).unwrap();
        assert_eq!(welding.vertices, 4);
        assert_eq!(welded.triangles(), [[0, 1, 2], [0, 2, 3]]);
        assert_eq!(welded.vertices()[0].x.to_bits(), 0);
    }

    #[test]
    fn a_triangle_that_loses_a_corner_is_dropped_counted_and_leaves_no_vertex() {
        let corners = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [9.0, 9.0], [9.0, 9.0]];
        let vertices = corners.map(|[x, y]| Point3::new(x, y, 0.0)).to_vec();
        let losing = [[3, 4, 0], [0, 3, 4], [4, 0, 3], [3, 4, 3]];
        let triangles = [&losing[..], &[[0, 1, 2]]].concat();
        let mesh = TriMesh::new(vertices, triangles).unwrap();
        let (welded, welding) = weld(&mesh, Tolerance::EXACT).unwrap();
        let expected = Welding {
            corners: 15,
            vertices: 3,
            dropped_degenerate: 4,
        };
        assert_eq!(welding, expected);
        assert_eq!(welded.triangles(), [[0, 1, 2]]);
        assert!(welded.bounds().unwrap().max.x <= 1.0);
    }

    #[test]
    fn a_tolerance_joins_what_lies_within_it_and_nothing_farther() {
        let sphere = samples::sphere(25.0, 2);
        let rough = shaken(&loose(&sphere), 0.001);
        let spread = 0.002 * 3.0_f64.sqrt();
        let wide = Tolerance::new(1.001 * spread).unwrap();
        let (welded, welding) = weld(&rough, wide).unwrap();
        assert_eq!(welding.vertices, sphere.vertices().len());
        assert!(topology::faulty_edges(welded.triangles()).is_empty());
        let narrow = Tolerance::new(0.999 * spread).unwrap();
        let (welded, _) = weld(&rough, narrow).unwrap();
        assert!(!topology::faulty_edges(welded.triangles()).is_empty());
    }

    #[test]
    fn neighbours_are_found_across_cell_borders_on_every_side() {
        let far = Point3::new(50.0, 50.0, 50.0);
        let wide = Tolerance::new(0.16).unwrap();
        for i in 0..27_i32 {
            // Cells are 0.16 mm wide: from 0.01 down and from 0.15 up lies another one.
            let step = Vector3::from([1, 3, 9].map(|by| f64::from(i / by % 3 - 1)));
            let first = Point3::from(step.map(|s| if s > 0.0 { 0.15 } else { 0.01 }));
            let vertices = vec![first, far, -far, first + 0.09 * step];
            let mesh = TriMesh::new(vertices, vec![[0, 1, 2], [3, 2, 1]]).unwrap();
            let (_, welding) = weld(&mesh, wide).unwrap();
            assert_eq!(welding.vertices, 3, "direction {i}");
        }
    }

    #[test]
    fn a_tolerance_finer_than_the_rounding_of_the_coordinates_is_exact_welding() {
        let sphere = samples::sphere(25.0, 2);
        let fine = Tolerance::new(f64::from_bits(1)).unwrap();
        let (_, welding) = weld(&loose(&sphere), fine).unwrap();
        assert_eq!(welding.vertices, sphere.vertices().len());
    }

    #[test]
    fn however_fine_the_tolerance_neighbouring_cells_have_different_numbers() {
        let grid = Grid::new(f64::from_bits(1), 100.0);
        let last = 100.0 / grid.cell;
        assert!(last + 1.0 > last);
    }

    #[test]
    fn a_tolerance_wider_than_the_mesh_leaves_nothing_and_says_so() {
        let cube = samples::cuboid([1.0, 1.0, 1.0]);
        let refused = weld(&cube, Tolerance::new(5.0).unwrap()).unwrap_err();
        assert_eq!(refused, NothingLeft { triangles: 12 });
        assert!(
            refused
                .to_string()
                .starts_with("all 12 triangles have two corners")
        );
    }

    #[test]
    fn senseless_tolerances_are_refused() {
        for distance in [-1.0, f64::NAN, f64::INFINITY] {
            assert!(Tolerance::new(distance).is_err());
        }
        assert_eq!(Tolerance::new(0.0), Ok(Tolerance::EXACT));
    }
}
