//! Bringing a draft mesh to rest: vertices slide along the surface until the triangles are well shaped.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::bone::Bone;
use super::surface::Draft;

/// For each vertex the vertices that share an edge with it, in order of index.
pub(super) struct Neighbours {
    first: Vec<u32>,
    all: Vec<u32>,
}

impl Neighbours {
    pub(super) fn of(draft: &Draft) -> Self {
        let mut edges: Vec<(u32, u32)> = draft
            .triangles
            .iter()
            .flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)])
            .collect();
        edges.sort_unstable();
        let mut first = vec![0; draft.vertices.len() + 1];
        for &(a, _) in &edges {
            first[a as usize + 1] += 1;
        }
        for i in 1..first.len() {
            first[i] += first[i - 1];
        }
        Self {
            first,
            all: edges.into_iter().map(|e| e.1).collect(),
        }
    }

    pub(super) fn around(&self, vertex: usize) -> &[u32] {
        &self.all[self.first[vertex] as usize..self.first[vertex + 1] as usize]
    }
}

/// Slides every vertex towards the middle of its neighbours and back onto the surface, `sweeps` times.
pub(super) fn relax(draft: &mut Draft, bone: &Bone, sweeps: u32) {
    let neighbours = Neighbours::of(draft);
    for _ in 0..sweeps {
        let old = &draft.vertices;
        let moved: Vec<Point3<f64>> = (0..old.len())
            .into_par_iter()
            .map(|v| {
                let around = neighbours.around(v);
                let sum: Vector3<f64> = around.iter().map(|&n| old[n as usize] - old[v]).sum();
                let count = f64::from(u32::try_from(around.len().max(1)).unwrap_or(1));
                let aim = old[v] + 0.6 * sum / count;
                let (value, gradient) = bone.with_gradient(&aim);
                let square = gradient.norm_squared().max(0.25);
                aim - gradient * (value / square).clamp(-1.0, 1.0)
            })
            .collect();
        draft.vertices = moved;
    }
    project(draft, bone);
}

/// Moves every vertex onto the surface.
pub(super) fn project(draft: &mut Draft, bone: &Bone) {
    draft
        .vertices
        .par_iter_mut()
        .for_each(|v| *v = bone.projected(v, 4));
}
