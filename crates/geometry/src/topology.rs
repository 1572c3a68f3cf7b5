//! What can be said of a mesh from its indices alone: borders, shells, genus.
//!
//! Edges are compared by vertex index; two vertices at the same place are different vertices.

/// An edge that does not have one triangle on each side.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum EdgeFault {
    /// Fewer triangles run along the edge in one direction than in the other: a border.
    Open,
    /// As many triangles run along it both ways once one is turned round: two neighbours
    /// disagree about which side is out.
    Flipped,
}

/// An edge of a triangle, and what is wrong with it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct FaultyEdge {
    /// One triangle at the edge.
    pub triangle: u32,
    /// The edge's vertices, smaller index first.
    pub vertices: [u32; 2],
    /// What is wrong.
    pub fault: EdgeFault,
}

/// The connected pieces of a mesh.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Shells {
    /// For each triangle, the number of its shell; shells are numbered by their first triangle.
    pub of_triangle: Vec<u32>,
    /// How many shells there are.
    pub count: usize,
}

/// Every edge that lacks a partner running the other way.
///
/// An edge shared by four triangles, two each way, is no fault: the surface is closed there.
pub fn faulty_edges(triangles: &[[u32; 3]]) -> Vec<FaultyEdge> {
    Edges::of(triangles).faulty()
}

/// The pieces of the mesh connected across edges.
pub fn shells(triangles: &[[u32; 3]]) -> Shells {
    Edges::of(triangles).shells()
}

/// Total genus of the shells of a closed mesh: the number of handles, 0 for a ball, 1 for a ring.
///
/// From Euler's formula, vertices − edges + triangles = 2 (shells − genus). `None` where the count
/// is odd or negative, as it can be on an open or pinched mesh.
pub fn genus(triangles: &[[u32; 3]]) -> Option<usize> {
    let edges = Edges::of(triangles);
    edges.genus(triangles, edges.shells().count)
}

/// The edges of a mesh, those between the same two vertices beside each other.
pub(crate) struct Edges {
    sorted: Vec<Edge>,
    triangles: usize,
}

/// Its vertices, the smaller index first; triangle and direction.
pub(crate) type Edge = (u32, u32, u32);

impl Edges {
    pub(crate) fn of(triangles: &[[u32; 3]]) -> Self {
        Self {
            sorted: sorted(triangles),
            triangles: triangles.len(),
        }
    }

    /// See [`faulty_edges`].
    pub(crate) fn faulty(&self) -> Vec<FaultyEdge> {
        let mut faults = Vec::new();
        for group in self.groups() {
            let (low, high, first) = group[0];
            let forward = group.iter().filter(|e| e.2 & 1 == 0).count();
            if 2 * forward != group.len() {
                let fault = if group.len().is_multiple_of(2) {
                    EdgeFault::Flipped
                } else {
                    EdgeFault::Open
                };
                faults.push(FaultyEdge {
                    triangle: first >> 1,
                    vertices: [low, high],
                    fault,
                });
            }
        }
        faults
    }

    /// See [`shells`].
    pub(crate) fn shells(&self) -> Shells {
        let mut sets = DisjointSets::new(self.triangles);
        for group in self.groups() {
            for pair in group.windows(2) {
                sets.join(pair[0].2 >> 1, pair[1].2 >> 1);
            }
        }
        let mut number_of_root = vec![u32::MAX; self.triangles];
        let mut count = 0;
        let of_triangle = (0..self.triangles)
            .map(|t| {
                let root = sets.root(u32::try_from(t).unwrap_or(u32::MAX));
                let number = &mut number_of_root[root as usize];
                if *number == u32::MAX {
                    *number = count;
                    count += 1;
                }
                *number
            })
            .collect();
        Shells {
            of_triangle,
            count: count as usize,
        }
    }

    /// See [`genus`].
    pub(crate) fn genus(&self, triangles: &[[u32; 3]], shells: usize) -> Option<usize> {
        let edge_count = self.groups().count();
        let largest = triangles.iter().flatten().copied().max().unwrap_or(0);
        // Flags where indices are dense, a sorted list where they have gaps.
        let vertices = if largest as usize <= 4 * triangles.len() {
            let mut used = vec![false; largest as usize + 1];
            triangles
                .iter()
                .flatten()
                .for_each(|&v| used[v as usize] = true);
            used.into_iter().filter(|used| *used).count()
        } else {
            let mut used: Vec<u32> = triangles.iter().flatten().copied().collect();
            used.sort_unstable();
            used.dedup();
            used.len()
        };
        let twice_genus = (2 * shells + edge_count).checked_sub(vertices + triangles.len())?;
        twice_genus.is_multiple_of(2).then_some(twice_genus / 2)
    }

    /// How many triangles run along the edge between two vertices.
    pub(crate) fn count_between(&self, u: u32, v: u32) -> usize {
        let ends = (u.min(v), u.max(v));
        let first = self.sorted.partition_point(|e| (e.0, e.1) < ends);
        self.sorted[first..].partition_point(|e| (e.0, e.1) == ends)
    }

    /// The triangles along each edge.
    pub(crate) fn groups(&self) -> impl Iterator<Item = &[Edge]> {
        self.sorted.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1))
    }
}

/// The edges in ascending order.
///
/// Each goes straight to the stretch of those whose smaller vertex is the same, or near where the
/// indices have gaps; a stretch holds a handful of edges, which are quickly sorted.
fn sorted(triangles: &[[u32; 3]]) -> Vec<Edge> {
    let most_stretches = 3 * triangles.len();
    let largest = triangles.iter().flatten().copied().max().unwrap_or(0);
    let mut shift = 0;
    while (largest >> shift) as usize >= most_stretches.max(1) {
        shift += 1;
    }
    let stretch = |edge: &Edge| (edge.0 >> shift) as usize;
    let mut starts = vec![0_usize; (largest >> shift) as usize + 2];
    edges(triangles).for_each(|edge| starts[stretch(&edge) + 1] += 1);
    for k in 1..starts.len() {
        starts[k] += starts[k - 1];
    }
    let mut sorted = vec![(0, 0, 0); most_stretches];
    for edge in edges(triangles) {
        let place = &mut starts[stretch(&edge)];
        sorted[*place] = edge;
        *place += 1;
    }
    // Each start has moved to the end of its stretch.
    let mut start = 0;
    for end in starts {
        sorted[start..end].sort_unstable();
        start = end;
    }
    sorted
}

fn edges(triangles: &[[u32; 3]]) -> impl Iterator<Item = Edge> {
    let of_triangle = |(t, &[a, b, c]): (usize, &[u32; 3])| {
        let t = u32::try_from(t).unwrap_or(u32::MAX);
        [(a, b), (b, c), (c, a)].map(|(u, v)| {
            if u < v {
                (u, v, t << 1)
            } else {
                (v, u, t << 1 | 1)
            }
        })
    };
    triangles.iter().enumerate().flat_map(of_triangle)
}

pub(crate) struct DisjointSets {
    parent: Vec<u32>,
}

impl DisjointSets {
    pub(crate) fn new(count: usize) -> Self {
        Self {
            parent: (0..u32::try_from(count).unwrap_or(u32::MAX)).collect(),
        }
    }

    pub(crate) fn root(&mut self, mut of: u32) -> u32 {
        while self.parent[of as usize] != of {
            let grandparent = self.parent[self.parent[of as usize] as usize];
            self.parent[of as usize] = grandparent;
            of = grandparent;
        }
        of
    }

    pub(crate) fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b) as usize] = a.min(b);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;

    #[test]
    fn a_box_is_one_closed_shell_without_handles() {
        let cuboid = samples::cuboid([1.0, 1.0, 1.0]);
        assert_eq!(faulty_edges(cuboid.triangles()), []);
        assert_eq!(shells(cuboid.triangles()).count, 1);
        assert_eq!(genus(cuboid.triangles()), Some(0));
    }

    #[test]
    fn a_ring_has_genus_one() {
        let ring = samples::torus(30.0, 10.0, 24, 12);
        assert_eq!(faulty_edges(ring.triangles()), []);
        assert_eq!(genus(ring.triangles()), Some(1));
    }

    #[test]
    fn a_missing_triangle_opens_its_three_edges() {
        let cuboid = samples::cuboid([1.0, 1.0, 1.0]);
        let faults = faulty_edges(&cuboid.triangles()[1..]);
        assert_eq!(faults.len(), 3);
        assert!(faults.iter().all(|f| f.fault == EdgeFault::Open));
    }

    #[test]
    fn a_triangle_turned_round_disagrees_with_its_three_neighbours() {
        let cuboid = samples::cuboid([1.0, 1.0, 1.0]);
        let mut triangles = cuboid.triangles().to_vec();
        triangles[0].swap(0, 1);
        let faults = faulty_edges(&triangles);
        assert_eq!(faults.len(), 3);
        assert!(faults.iter().all(|f| f.fault == EdgeFault::Flipped));
    }

    #[test]
    fn unconnected_boxes_are_two_shells_numbered_in_order() {
        let one = samples::cuboid([1.0, 1.0, 1.0]);
        let shells = shells(one.joined(&one).triangles());
        assert_eq!(shells.count, 2);
        assert_eq!((shells.of_triangle[0], shells.of_triangle[12]), (0, 1));
    }

    #[test]
    fn edges_come_in_ascending_order_even_where_indices_have_gaps() {
        let ring = samples::torus(30.0, 10.0, 24, 12);
        let gaps = ring.triangles().iter().map(|t| t.map(|i| i * i * 50_000));
        for triangles in [ring.triangles().to_vec(), gaps.collect()] {
            let sorted = sorted(&triangles);
            let mut expected: Vec<_> = edges(&triangles).collect();
            expected.sort_unstable();
            assert_eq!(sorted, expected);
            assert_eq!(genus(&triangles), Some(1));
        }
        assert_eq!(sorted(&[]), []);
        assert_eq!(genus(&[]), Some(0));
    }
}
