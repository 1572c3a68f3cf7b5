//! What of a surface lies on one side of a plane.

use std::collections::HashMap;

use bevy::math::{Vec3, Vec4};

use cupwright_geometry::Plane;

use super::surface::Surface;
use crate::scene::ground::Ground;

/// A plane of the scene; what lies below it is kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Blade {
    pub(crate) point: Vec3,
    /// Toward what is taken away.
    pub(crate) normal: Vec3,
}

impl Blade {
    pub(crate) fn of(plane: &Plane, ground: &Ground) -> Self {
        Self {
            point: ground.point(&plane.point()),
            normal: ground.direction(&plane.normal()),
        }
    }

    fn height(&self, place: Vec3) -> f32 {
        (place - self.point).dot(self.normal)
    }
}

/// The part of `surface` below the blade; triangles across it are cut along it.
pub(crate) fn below(surface: &Surface, blade: &Blade) -> Surface {
    let heights: Vec<f32> = surface.points.iter().map(|p| blade.height(*p)).collect();
    let mut clip = Clip {
        surface,
        heights,
        kept: Surface::default(),
        whole: vec![u32::MAX; surface.points.len()],
        cut: HashMap::new(),
    };
    for &triangle in &surface.triangles {
        clip.add(triangle);
    }
    clip.kept
}

struct Clip<'a> {
    surface: &'a Surface,
    heights: Vec<f32>,
    kept: Surface,
    /// New index of each old vertex; `u32::MAX` where it has none yet.
    whole: Vec<u32>,
    /// New vertices on cut edges.
    cut: HashMap<[u32; 2], u32>,
}

impl Clip<'_> {
    fn is_kept(&self, vertex: u32) -> bool {
        self.heights[vertex as usize] < 0.0
    }

    fn add(&mut self, triangle: [u32; 3]) {
        let mut ring = Vec::with_capacity(4);
        for k in 0..3 {
            let (from, to) = (triangle[k], triangle[(k + 1) % 3]);
            if self.is_kept(from) {
                ring.push(self.vertex(from));
            }
            if self.is_kept(from) != self.is_kept(to) {
                ring.push(self.crossing(from, to));
            }
        }
        for k in 2..ring.len() {
            self.kept.triangles.push([ring[0], ring[k - 1], ring[k]]);
        }
    }

    fn vertex(&mut self, old: u32) -> u32 {
        let index = old as usize;
        if self.whole[index] == u32::MAX {
            let surface = self.surface;
            self.whole[index] = self.kept.add_tinted(
                surface.points[index],
                surface.normals[index],
                surface.colours[index],
            );
        }
        self.whole[index]
    }

    fn crossing(&mut self, from: u32, to: u32) -> u32 {
        // In one order, so that both triangles of an edge share the vertex.
        let edge = [from.min(to), from.max(to)];
        if let Some(&known) = self.cut.get(&edge) {
            return known;
        }
        let [a, b] = edge.map(|v| v as usize);
        let share = self.heights[a] / (self.heights[a] - self.heights[b]);
        let surface = self.surface;
        let [ca, cb] = [a, b].map(|v| Vec4::from(surface.colours[v]));
        let new = self.kept.add_tinted(
            surface.points[a].lerp(surface.points[b], share),
            surface.normals[a].lerp(surface.normals[b], share),
            ca.lerp(cb, share).to_array(),
        );
        self.cut.insert(edge, new);
        new
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> Surface {
        let mut square = Surface::default();
        for (x, y) in [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)] {
            square.add_vertex(Vec3::new(x, y, 0.0), Vec3::Z, [x / 2.0, 0.0, 0.0]);
        }
        square.triangles = vec![[0, 1, 2], [0, 2, 3]];
        square
    }

    fn area(surface: &Surface) -> f32 {
        let twice = |t: &[u32; 3]| {
            let [a, b, c] = t.map(|v| surface.points[v as usize]);
            (b - a).cross(c - a).z
        };
        surface.triangles.iter().map(twice).sum::<f32>() / 2.0
    }

    #[test]
    fn what_lies_below_the_blade_is_kept_and_no_more() {
        let blade = |x: f32| Blade {
            point: Vec3::new(x, 0.0, 0.0),
            normal: Vec3::X,
        };
        for x in [0.5, 1.0, 1.7] {
            let kept = below(&square(), &blade(x));
            assert!((area(&kept) - 2.0 * x).abs() < 1e-6, "{x}");
            assert!(kept.points.iter().all(|p| p.x <= x + 1e-6));
        }
        assert!(below(&square(), &blade(-1.0)).triangles.is_empty());
        assert!((area(&below(&square(), &blade(3.0))) - 4.0).abs() < 1e-6);
    }

    #[test]
    fn colours_run_on_up_to_the_cut() {
        let blade = Blade {
            point: Vec3::new(1.0, 0.0, 0.0),
            normal: Vec3::X,
        };
        let kept = below(&square(), &blade);
        for (p, c) in kept.points.iter().zip(&kept.colours) {
            assert!((c[0] - p.x / 2.0).abs() < 1e-6);
        }
        // Two corners, and three new places on the three edges that are cut.
        assert_eq!(kept.points.len(), 5);
    }
}
