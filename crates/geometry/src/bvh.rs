//! A tree of boxes over a mesh's triangles; the one place that speaks parry's types.

use std::ops::Range;

use nalgebra::{Point3, Vector3};
use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::Vector;
use parry3d_f64::partitioning::{Bvh, BvhBuildStrategy, BvhNode};

use crate::mesh::{Bounds, TriMesh};

/// Boxes around the triangles of a mesh, grouped as a binary tree.
#[derive(Clone)]
pub(crate) struct BoxTree(Bvh);

impl BoxTree {
    /// A tree over the triangles of `mesh`.
    pub(crate) fn over(mesh: &TriMesh) -> Self {
        Self::over_some(mesh, 0..mesh.triangles().len())
    }

    /// A tree over some of the triangles.
    pub(crate) fn over_some(mesh: &TriMesh, triangles: Range<usize>) -> Self {
        let boxes = triangles.map(|t| {
            let [a, b, c] = mesh.corners(t);
            (
                t,
                Aabb::new(to_parry(&a.inf(&b).inf(&c)), to_parry(&a.sup(&b).sup(&c))),
            )
        });
        Self(Bvh::from_iter(BvhBuildStrategy::Binned, boxes))
    }

    /// The triangles whose box, and all boxes around it, satisfy `keep`; in ascending order.
    pub(crate) fn triangles_where(&self, keep: impl Fn(&Bounds) -> bool) -> Vec<u32> {
        let mut found: Vec<u32> = self.0.leaves(|node| keep(&bounds(node))).collect();
        found.sort_unstable();
        found
    }

    /// The pairs of different triangles whose boxes meet, the smaller index first, each once.
    pub(crate) fn meeting_pairs(&self) -> impl Iterator<Item = (u32, u32)> + '_ {
        let leaves = self.0.leaves(|_| true);
        leaves.flat_map(move |t| {
            let own = self.0.leaf_node(t).map(BvhNode::aabb);
            let others = own.map(|own| {
                let query = BvhNode::leaf(own, 0);
                self.0.leaves(move |node: &BvhNode| node.intersects(&query))
            });
            others
                .into_iter()
                .flatten()
                .filter(move |&other| t < other)
                .map(move |other| (t, other))
        })
    }

    /// The smallest value of `cost` over the triangles, where `least` bounds it from below on a box.
    pub(crate) fn minimum(&self, least: impl Fn(&Bounds) -> f64, cost: impl Fn(u32) -> f64) -> f64 {
        let best = self.0.find_best(
            f64::MAX,
            |node, _| least(&bounds(node)),
            |triangle, _| Some(cost(triangle)),
        );
        best.map_or(f64::INFINITY, |(_, cost)| cost)
    }
}

impl std::fmt::Debug for BoxTree {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "BoxTree({} triangles)", self.0.leaf_count())
    }
}

fn to_parry(p: &Point3<f64>) -> Vector {
    Vector::new(p.x, p.y, p.z)
}

fn bounds(node: &BvhNode) -> Bounds {
    let point = |v: Vector| Point3::from(Vector3::new(v.x, v.y, v.z));
    Bounds {
        min: point(node.mins()),
        max: point(node.maxs()),
    }
}
