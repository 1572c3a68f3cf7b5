//! Triangles being worked on: vertices, indices, and who is whose neighbour.

use nalgebra::{Point3, Vector3};

use crate::mesh::{BadMesh, Bounds, TriMesh};
use crate::topology::Edges;

/// A mesh while it is changed.
#[derive(Clone, Debug, Default)]
pub(super) struct Soup {
    pub(super) vertices: Vec<Point3<f64>>,
    pub(super) triangles: Vec<[u32; 3]>,
}

/// For each side of each triangle the triangle beyond it.
///
/// Side `k` of a triangle runs from its corner `k` to the next one.
#[derive(Clone, Debug)]
pub(super) struct Neighbours {
    across: Vec<[u32; 3]>,
}

/// No triangle: the side is on a border.
pub(super) const BORDER: u32 = u32::MAX;

/// No single triangle: more than two meet along the side, and they cannot be paired.
pub(super) const TANGLED: u32 = u32::MAX - 1;

impl Soup {
    pub(super) fn of(mesh: &TriMesh) -> Self {
        Self {
            vertices: mesh.vertices().to_vec(),
            triangles: mesh.triangles().to_vec(),
        }
    }

    /// The mesh, without the vertices that no triangle uses.
    pub(super) fn into_mesh(mut self) -> Result<TriMesh, BadMesh> {
        self.drop_unused_vertices();
        TriMesh::new(self.vertices, self.triangles)
    }

    pub(super) fn at(&self, vertex: u32) -> Point3<f64> {
        self.vertices[vertex as usize]
    }

    pub(super) fn corners(&self, triangle: u32) -> [Point3<f64>; 3] {
        self.triangles[triangle as usize].map(|v| self.at(v))
    }

    /// Half the cross product of two sides of a triangle: its area along its normal.
    pub(super) fn area_vector(&self, triangle: u32) -> Vector3<f64> {
        area_vector(&self.corners(triangle))
    }

    /// The numbers of all triangles.
    pub(super) fn numbers(&self) -> std::ops::Range<u32> {
        0..index(self.triangles.len())
    }

    pub(super) fn edges(&self) -> Edges {
        Edges::of(&self.triangles)
    }

    #[cfg(test)]
    pub(super) fn push(&mut self, vertex: Point3<f64>) -> u32 {
        self.vertices.push(vertex);
        index(self.vertices.len() - 1)
    }

    /// Keeps the triangles that `keep` accepts by their number; how many went.
    pub(super) fn retain(&mut self, keep: impl Fn(u32) -> bool) -> usize {
        let before = self.triangles.len();
        let mut number = 0;
        self.triangles.retain(|_| {
            number += 1;
            keep(number - 1)
        });
        before - self.triangles.len()
    }

    /// Leaves out triangles that name a vertex twice; how many.
    pub(super) fn drop_collapsed(&mut self) -> usize {
        let before = self.triangles.len();
        self.triangles
            .retain(|[a, b, c]| a != b && b != c && c != a);
        before - self.triangles.len()
    }

    /// Those that stay keep their order.
    pub(super) fn drop_unused_vertices(&mut self) {
        let mut used = vec![false; self.vertices.len()];
        for &v in self.triangles.iter().flatten() {
            used[v as usize] = true;
        }
        let mut new = vec![u32::MAX; self.vertices.len()];
        let mut kept = 0;
        for (number, _) in new.iter_mut().zip(&used).filter(|(_, used)| **used) {
            *number = kept;
            kept += 1;
        }
        if kept as usize == self.vertices.len() {
            return;
        }
        let mut stays = used.into_iter();
        self.vertices.retain(|_| stays.next() == Some(true));
        for v in self.triangles.iter_mut().flatten() {
            *v = new[*v as usize];
        }
    }

    /// The box around some triangles.
    pub(super) fn bounds_of(&self, triangles: &[u32]) -> Option<Bounds> {
        let corners = triangles
            .iter()
            .flat_map(|&t| self.triangles[t as usize])
            .map(|v| &self.vertices[v as usize]);
        Bounds::around(corners)
    }

    /// The triangles around each vertex, those of vertex `v` in `of[starts[v]..starts[v + 1]]`.
    pub(super) fn fans(&self) -> Fans {
        let mut starts = vec![0_usize; self.vertices.len() + 1];
        for &v in self.triangles.iter().flatten() {
            starts[v as usize + 1] += 1;
        }
        for k in 1..starts.len() {
            starts[k] += starts[k - 1];
        }
        let mut next = starts.clone();
        let mut of = vec![0; 3 * self.triangles.len()];
        for (t, corners) in (0..).zip(&self.triangles) {
            for &v in corners {
                of[next[v as usize]] = t;
                next[v as usize] += 1;
            }
        }
        Fans { starts, of }
    }
}

/// The triangles around each vertex.
#[derive(Clone, Debug)]
pub(super) struct Fans {
    starts: Vec<usize>,
    of: Vec<u32>,
}

impl Fans {
    pub(super) fn around(&self, vertex: u32) -> &[u32] {
        let v = vertex as usize;
        &self.of[self.starts[v]..self.starts[v + 1]]
    }
}

impl Neighbours {
    /// Where more than two triangles meet along an edge, those are neighbours that have bone between
    /// them, so that parts which only touch stay apart.
    pub(super) fn of(soup: &Soup) -> Self {
        Self::by(soup, &soup.edges())
    }

    /// The same, of triangles whose edges are at hand.
    pub(super) fn by(soup: &Soup, edges: &Edges) -> Self {
        let mut across = vec![[BORDER; 3]; soup.triangles.len()];
        for group in edges.groups() {
            match group {
                [_] => {}
                [one, other] => {
                    let (s, t) = (one.2 >> 1, other.2 >> 1);
                    for (here, there) in [(s, t), (t, s)] {
                        let ends = [one.0, one.1];
                        set(&mut across, soup, here, ends, there);
                    }
                }
                more => pair_by_angle(&mut across, soup, more),
            }
        }
        Self { across }
    }

    /// The triangle beyond side `side`, or [`BORDER`] or [`TANGLED`].
    pub(super) fn across(&self, triangle: u32, side: usize) -> u32 {
        self.across[triangle as usize][side]
    }

    /// The triangles beyond the three sides, where there is one.
    pub(super) fn around(&self, triangle: u32) -> impl Iterator<Item = u32> {
        let beyond = self.across[triangle as usize];
        beyond.into_iter().filter(|&t| t < TANGLED)
    }
}

fn set(across: &mut [[u32; 3]], soup: &Soup, here: u32, ends: [u32; 2], there: u32) {
    if let Some(side) = side_between(soup.triangles[here as usize], ends) {
        across[here as usize][side] = there;
    }
}

/// The side of a triangle between two of its vertices, whichever way it runs.
pub(super) fn side_between(corners: [u32; 3], ends: [u32; 2]) -> Option<usize> {
    (0..3).find(|&k| {
        let (u, v) = (corners[k], corners[(k + 1) % 3]);
        [u, v] == ends || [v, u] == ends
    })
}

/// Pairs the triangles round one edge: each with the next one on the side of its bone.
fn pair_by_angle(across: &mut [[u32; 3]], soup: &Soup, group: &[(u32, u32, u32)]) {
    let ends = [group[0].0, group[0].1];
    let [from, to] = ends.map(|v| soup.at(v));
    let along = to - from;
    let mut order: Vec<(f64, u32, bool)> = Vec::with_capacity(group.len());
    let mut first = None;
    for &(_, _, code) in group {
        let (t, forward) = (code >> 1, code & 1 == 0);
        set(across, soup, t, ends, TANGLED);
        let apex = soup.triangles[t as usize]
            .into_iter()
            .find(|v| !ends.contains(v));
        let Some(apex) = apex else { return };
        let out = soup.at(apex) - from;
        let out = out - along * (out.dot(&along) / along.norm_squared());
        let zero = *first.get_or_insert(out);
        let angle = zero
            .cross(&out)
            .dot(&along.normalize())
            .atan2(zero.dot(&out));
        order.push((angle, t, forward));
    }
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    for k in 0..order.len() {
        let (_, t, forward) = order[k];
        let (_, before, backward) = order[(k + order.len() - 1) % order.len()];
        // Turning about the edge leads out of a triangle that runs along it, into the bone backward.
        if forward && !backward {
            set(across, soup, t, ends, before);
            set(across, soup, before, ends, t);
        }
    }
}

pub(super) fn area_vector([a, b, c]: &[Point3<f64>; 3]) -> Vector3<f64> {
    0.5 * (b - a).cross(&(c - a))
}

/// A length as an index. A mesh holds fewer triangles and vertices than 32 bits can number.
pub(super) fn index(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use nalgebra::Isometry3;

    #[test]
    fn every_side_of_a_closed_mesh_has_a_neighbour_that_has_it_too() {
        let soup = Soup::of(&samples::torus(30.0, 10.0, 24, 12));
        let neighbours = Neighbours::of(&soup);
        for t in soup.numbers() {
            assert_eq!(neighbours.around(t).count(), 3);
            assert!(
                neighbours
                    .around(t)
                    .all(|u| neighbours.around(u).any(|b| b == t))
            );
        }
    }

    #[test]
    fn blocks_that_touch_along_an_edge_are_not_neighbours() {
        let block = samples::cuboid([2.0; 3]);
        let both = block.joined(&block.moved(&Isometry3::translation(2.0, 2.0, 0.0)));
        let mut soup = Soup::of(&both);
        super::super::weld::weld_all(&mut soup, 1e-9);
        assert!(soup.vertices.len() < 16);
        let neighbours = Neighbours::of(&soup);
        for t in soup.numbers() {
            assert_eq!(neighbours.around(t).count(), 3);
            assert!(neighbours.around(t).all(|u| (u < 12) == (t < 12)));
        }
    }
}
