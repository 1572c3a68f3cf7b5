//! From the staircase to a smooth surface that encloses as much.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::net::Net;
use crate::mesh::{BadMesh, TriMesh};

/// Strokes, each a step that smooths and one that swells what the first has shrunk
/// (Taubin 1995, Proc SIGGRAPH, 351).
const STROKES: usize = 20;
/// How far a vertex goes towards the middle of its neighbours.
const INWARD: f64 = 0.5;
/// And back, so that waves longer than some ten voxels keep their height: 1/INWARD − 1/OUTWARD = 0.1.
const OUTWARD: f64 = 1.0 / (1.0 / INWARD - 0.1);

/// Smooths the net; no vertex leaves its cell, so that the surface stays between the centres inside and
/// outside.
///
/// Places are counted in voxels here, whatever the shape of a voxel is in space.
pub(super) fn smooth(net: &mut Net) {
    let around = Neighbours::of(net);
    let cells: Vec<_> = net.places.iter().map(|p| p.map(f64::floor)).collect();
    for _ in 0..STROKES {
        for step in [INWARD, -OUTWARD] {
            let old = &net.places;
            let moved = (0..old.len()).into_par_iter().map(|v| {
                let to = old[v] + step * (around.middle(v, old) - old[v]);
                let low = &cells[v];
                Point3::from(to.coords.sup(&low.coords).inf(&low.coords.add_scalar(1.0)))
            });
            net.places = moved.collect();
        }
    }
}

/// The vertices beside each, in one list.
struct Neighbours {
    first: Vec<u32>,
    all: Vec<u32>,
}

impl Neighbours {
    /// Each edge has two faces and is gone along once in either direction.
    fn of(net: &Net) -> Self {
        let directed = || {
            net.faces
                .iter()
                .flat_map(|&[a, b, c, d]| [(a, b), (b, c), (c, d), (d, a)])
        };
        let mut first = vec![0_u32; net.places.len() + 1];
        directed().for_each(|(a, _)| first[a as usize + 1] += 1);
        for v in 1..first.len() {
            first[v] += first[v - 1];
        }
        let mut next = first.clone();
        let mut all = vec![0; 4 * net.faces.len()];
        for (a, b) in directed() {
            all[next[a as usize] as usize] = b;
            next[a as usize] += 1;
        }
        Self { first, all }
    }

    fn middle(&self, vertex: usize, places: &[Point3<f64>]) -> Point3<f64> {
        let around = &self.all[self.first[vertex] as usize..self.first[vertex + 1] as usize];
        let sum: Vector3<f64> = around.iter().map(|&n| places[n as usize].coords).sum();
        let count = f64::from(u32::try_from(around.len().max(1)).unwrap_or(u32::MAX));
        Point3::from(sum / count)
    }
}

/// The mesh moved along its normals, by the same distance everywhere, until it encloses `volume`.
pub(super) fn swollen(mesh: TriMesh, volume: f64) -> Result<TriMesh, BadMesh> {
    let (missing, area) = (volume - mesh.volume(), mesh.area());
    let mut normals = vec![Vector3::zeros(); mesh.vertices().len()];
    for (t, corners) in mesh.triangles().iter().enumerate() {
        for &v in corners {
            normals[v as usize] += mesh.area_vector(t);
        }
    }
    if area <= 0.0 {
        return Ok(mesh);
    }
    let distance = missing / area;
    let moved = mesh.vertices().iter().zip(normals);
    let moved = moved.map(|(p, n)| p + distance * n.try_normalize(0.0).unwrap_or_default());
    TriMesh::new(moved.collect(), mesh.triangles().to_vec())
}
