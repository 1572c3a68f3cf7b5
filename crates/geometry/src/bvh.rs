//! A tree of boxes over a mesh's triangles; the one place that speaks parry's types.
//!
//! Neighbouring triangles share a leaf: beside a tree down to single triangles this takes half the
//! memory and a third of the time to build, and finds the same triangles.

use std::cell::Cell;
use std::ops::Range;

use nalgebra::{Point3, Vector3};
use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::Vector;
use parry3d_f64::partitioning::{Bvh, BvhBuildStrategy, BvhNode};

use crate::mesh::{Bounds, TriMesh};

/// How many triangles share a leaf. At half as many, rays are a tenth quicker and building takes a
/// third longer; at twice as many, rays are a tenth slower and finding self-crossings takes twice as
/// long (600,000 triangles).
pub(crate) const GROUP: usize = 8;

/// Boxes around the triangles of a mesh, grouped as a binary tree.
#[derive(Clone)]
pub(crate) struct BoxTree {
    /// Leaf `k` holds the triangles `order[GROUP * k..]`, `GROUP` of them but for the last leaf.
    groups: Bvh,
    /// All triangles, neighbours near each other.
    order: Vec<u32>,
    /// `boxes[i]` is the box around triangle `order[i]`.
    boxes: Vec<Bounds>,
}

impl BoxTree {
    /// A tree over the triangles of `mesh`.
    pub(crate) fn over(mesh: &TriMesh) -> Self {
        Self::over_some(mesh, 0..mesh.triangles().len())
    }

    /// A tree over some of the triangles.
    pub(crate) fn over_some(mesh: &TriMesh, triangles: Range<usize>) -> Self {
        let order = gathered(mesh, triangles);
        let boxes: Vec<_> = order.iter().map(|&t| box_of(mesh, t)).collect();
        let groups = boxes.chunks(GROUP).map(around).enumerate();
        Self {
            groups: Bvh::from_iter(BvhBuildStrategy::Binned, groups),
            order,
            boxes,
        }
    }

    /// The box around all of them.
    pub(crate) fn bounds(&self) -> Bounds {
        let whole = self.groups.root_aabb();
        between(whole.mins, whole.maxs)
    }

    /// All triangles, every `GROUP` that follow each other in a leaf and leaves near each other.
    pub(crate) fn order(&self) -> &[u32] {
        &self.order
    }

    /// The triangles whose box, and all boxes around it, satisfy `keep`; in ascending order.
    pub(crate) fn triangles_where(&self, keep: impl Fn(&Bounds) -> bool) -> Vec<u32> {
        let groups = self.groups.leaves(|node| keep(&bounds(node)));
        let kept = groups.flat_map(|group| self.members(group).filter(|(_, own)| keep(own)));
        let mut found: Vec<u32> = kept.map(|(triangle, _)| triangle).collect();
        found.sort_unstable();
        found
    }

    /// The numbers of the leaves.
    pub(crate) fn leaves(&self) -> Range<u32> {
        0..u32::try_from(self.order.len().div_ceil(GROUP)).unwrap_or(u32::MAX)
    }

    /// Calls `met` with the pairs of different triangles whose boxes meet, the smaller index first,
    /// where one is in leaf `leaf` and the other in no earlier one. Over all leaves that is each pair
    /// once.
    pub(crate) fn meeting_from(&self, leaf: u32, mut met: impl FnMut(u32, u32)) {
        let own = leaf as usize * GROUP;
        let own = &self.boxes[own..self.boxes.len().min(own + GROUP)];
        let query = BvhNode::leaf(around(own), 0);
        for other in self.groups.leaves(|node| node.intersects(&query)) {
            if other < leaf {
                continue;
            }
            for (k, (t, box_of_t)) in self.members(leaf).enumerate() {
                let skipped = if other == leaf { k + 1 } else { 0 };
                for (u, box_of_u) in self.members(other).skip(skipped) {
                    if meet(box_of_t, box_of_u) {
                        met(t.min(u), t.max(u));
                    }
                }
            }
        }
    }

    /// The smallest value of `cost` over the triangles, where `least` bounds it from below on a box.
    pub(crate) fn minimum(&self, least: impl Fn(&Bounds) -> f64, cost: impl Fn(u32) -> f64) -> f64 {
        let best = self.groups.find_best(
            f64::MAX,
            |node, _| least(&bounds(node)),
            |group, best| {
                let near = self.members(group).filter(|(_, own)| least(own) < best);
                Some(near.fold(f64::INFINITY, |least, (t, _)| least.min(cost(t))))
            },
        );
        best.map_or(f64::INFINITY, |(_, cost)| cost)
    }

    /// The triangle of this tree and that of `other` with the least `cost`, where that is below `most`.
    ///
    /// `may_beat` must hold for two boxes wherever triangles in them, in whatever frame each tree is
    /// in, might cost less than a value.
    pub(crate) fn best_pair(
        &self,
        other: &Self,
        most: f64,
        may_beat: impl Fn(&Bounds, &Bounds, f64) -> bool,
        cost: impl Fn(u32, u32) -> f64,
    ) -> Option<(u32, u32)> {
        let best = Cell::new(most);
        let meet = |a: &BvhNode, b: &BvhNode| may_beat(&bounds(a), &bounds(b), best.get());
        let mut found = None;
        for (ours, theirs) in self.groups.leaf_pairs(&other.groups, meet) {
            for (u, their_box) in other.members(theirs) {
                for (t, our_box) in self.members(ours) {
                    if !may_beat(our_box, their_box, best.get()) {
                        continue;
                    }
                    let cost = cost(t, u);
                    if cost < best.get() {
                        best.set(cost);
                        found = Some((t, u));
                    }
                }
            }
        }
        found
    }

    /// The triangle of least `cost`, where `least` bounds it from below on a box; `None` in an empty
    /// tree. Of several alike any.
    pub(crate) fn cheapest(
        &self,
        least: impl Fn(&Bounds) -> f64,
        cost: impl Fn(u32) -> f64,
    ) -> Option<(u32, f64)> {
        let best = Cell::new((u32::MAX, f64::INFINITY));
        let noted = |t: u32| {
            let cost = cost(t);
            if cost < best.get().1 {
                best.set((t, cost));
            }
            cost
        };
        self.minimum(least, noted);
        Some(best.get()).filter(|(_, cost)| cost.is_finite())
    }

    /// A triangle whose box is among the nearest to a point; `None` in an empty tree.
    pub(crate) fn near(&self, point: &Point3<f64>) -> Option<u32> {
        let nearest = |group: u32| {
            let each = self.members(group);
            let far = each.map(|(triangle, own)| (own.distance_to(point), triangle));
            far.min_by(|a, b| a.0.total_cmp(&b.0))
        };
        let (group, _) = self.groups.find_best(
            f64::MAX,
            |node, _| bounds(node).distance_to(point),
            |group, _| nearest(group).map(|(distance, _)| distance),
        )?;
        nearest(group).map(|(_, triangle)| triangle)
    }

    /// The triangles of a leaf with their boxes.
    fn members(&self, group: u32) -> impl Iterator<Item = (u32, &Bounds)> {
        let first = group as usize * GROUP;
        let end = self.order.len().min(first + GROUP);
        let order = self.order[first..end].iter().copied();
        order.zip(&self.boxes[first..end])
    }
}

impl std::fmt::Debug for BoxTree {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "BoxTree({} triangles)", self.order.len())
    }
}

/// The triangles in an order in which every `GROUP` that follow each other lie together.
fn gathered(mesh: &TriMesh, triangles: Range<usize>) -> Vec<u32> {
    let middle = |t: u32| {
        let own = box_of(mesh, t);
        nalgebra::center(&own.min, &own.max)
    };
    let numbers = triangles.map(|t| u32::try_from(t).unwrap_or(u32::MAX));
    let mut places: Vec<_> = numbers.map(|t| (middle(t), t)).collect();
    gather(&mut places);
    places.into_iter().map(|(_, t)| t).collect()
}

/// Halves the places along the longer edge of their box until each part is a group.
fn gather(places: &mut [(Point3<f64>, u32)]) {
    /// Fewer are done before another thread has taken notice.
    const WORTH_A_THREAD: usize = 4096;
    let groups = places.len().div_ceil(GROUP);
    let Some(whole) = Bounds::around(places.iter().map(|(p, _)| p)).filter(|_| groups > 1) else {
        return;
    };
    let axis = whole.extent().imax();
    let half = groups / 2 * GROUP;
    places.select_nth_unstable_by(half, |a, b| a.0[axis].total_cmp(&b.0[axis]));
    let (low, high) = places.split_at_mut(half);
    if low.len() < WORTH_A_THREAD {
        gather(low);
        gather(high);
    } else {
        rayon::join(|| gather(low), || gather(high));
    }
}

fn box_of(mesh: &TriMesh, triangle: u32) -> Bounds {
    let [a, b, c] = mesh.corners(triangle as usize);
    Bounds {
        min: a.inf(&b).inf(&c),
        max: a.sup(&b).sup(&c),
    }
}

/// The box around some boxes.
fn around(boxes: &[Bounds]) -> Aabb {
    let union = |a: Aabb, b: &Bounds| {
        let b = to_parry_box(b);
        Aabb::new(a.mins.min(b.mins), a.maxs.max(b.maxs))
    };
    boxes.iter().fold(Aabb::new_invalid(), union)
}

fn meet(a: &Bounds, b: &Bounds) -> bool {
    (0..3).all(|k| a.min[k] <= b.max[k] && b.min[k] <= a.max[k])
}

fn to_parry_box(b: &Bounds) -> Aabb {
    let vector = |p: &Point3<f64>| Vector::new(p.x, p.y, p.z);
    Aabb::new(vector(&b.min), vector(&b.max))
}

fn bounds(node: &BvhNode) -> Bounds {
    between(node.mins(), node.maxs())
}

fn between(min: Vector, max: Vector) -> Bounds {
    let point = |v: Vector| Point3::from(Vector3::new(v.x, v.y, v.z));
    Bounds {
        min: point(min),
        max: point(max),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;

    #[test]
    fn neighbours_share_a_leaf_and_none_is_lost() {
        let sphere = samples::sphere(10.0, 5);
        let scattered = (0..8192).map(|t| sphere.triangles()[t * 3001 % 8192]);
        let mesh = TriMesh::new(sphere.vertices().to_vec(), scattered.collect()).unwrap();
        let tree = BoxTree::over(&mesh);
        let mut all = tree.order.clone();
        all.sort_unstable();
        assert!(all.into_iter().eq(0..8192));
        let sizes = tree
            .boxes
            .chunks(GROUP)
            .map(|b| around(b).extents().max_element());
        let mean = sizes.sum::<f64>() / 1024.0;
        assert!(mean < 2.0, "an edge is 0.5 mm long, a leaf {mean}");
    }

    #[test]
    fn a_query_finds_what_a_walk_over_all_triangles_finds() {
        for mesh in [
            samples::cuboid([3.0, 2.0, 0.0]),
            samples::torus(10.0, 4.0, 30, 17),
        ] {
            let tree = BoxTree::over(&mesh);
            let count = u32::try_from(mesh.triangles().len()).unwrap();
            let near = |b: &Bounds| b.distance_to(&Point3::new(8.0, 1.0, 2.0)) < 7.0;
            let walked: Vec<_> = (0..count).filter(|&t| near(&box_of(&mesh, t))).collect();
            assert!(!walked.is_empty() && walked.len() < count as usize);
            assert_eq!(tree.triangles_where(near), walked);

            let mut pairs = Vec::new();
            for leaf in tree.leaves() {
                tree.meeting_from(leaf, |a, b| pairs.push((a, b)));
            }
            pairs.sort_unstable();
            let boxes = |t: u32| box_of(&mesh, t);
            let all = (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b)));
            assert!(all.filter(|&(a, b)| meet(&boxes(a), &boxes(b))).eq(pairs));
        }
    }

    #[test]
    fn the_nearest_of_all_triangles_is_found() {
        let mesh = samples::torus(10.0, 4.0, 30, 17);
        let tree = BoxTree::over(&mesh);
        let from = Point3::new(8.0, 1.0, 2.0);
        let to_corner = |t: u32| (mesh.corners(t as usize)[0] - from).norm();
        let nearest = (0..1020).map(to_corner).fold(f64::INFINITY, f64::min);
        let found = tree.minimum(|b| b.distance_to(&from), to_corner);
        assert_eq!(found.to_bits(), nearest.to_bits());
    }
}
