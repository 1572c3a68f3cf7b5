//! Joining what lies side by side: corners on a border that are nearly in the same place.

use std::collections::HashMap;

use nalgebra::{Point3, Vector3};

use super::soup::{Soup, index};

/// What joining did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Joined {
    /// Vertices that became one with another.
    pub(super) vertices: usize,
    /// How far the farthest of them moved, in mm.
    pub(super) farthest: f64,
    /// Triangles that lost a corner by it.
    pub(super) collapsed: usize,
}

/// Vertices on a border join the first other one on a border that lies within `tolerance` mm.
///
/// Vertices inside the surface are left alone, so that a closed mesh stays as it is to the bit.
pub(super) fn weld_borders(soup: &mut Soup, tolerance: f64) -> Joined {
    let mut on_border = vec![false; soup.vertices.len()];
    for group in soup.edges().groups() {
        if let [(low, high, _)] = group {
            on_border[*low as usize] = true;
            on_border[*high as usize] = true;
        }
    }
    weld(soup, tolerance, |v| on_border[v as usize])
}

/// The same of all vertices.
#[cfg(test)]
pub(super) fn weld_all(soup: &mut Soup, tolerance: f64) -> Joined {
    weld(soup, tolerance, |_| true)
}

fn weld(soup: &mut Soup, tolerance: f64, may: impl Fn(u32) -> bool) -> Joined {
    let mut cells: HashMap<[i64; 3], Vec<u32>> = HashMap::new();
    let mut joined = Joined::default();
    let mut new: Vec<u32> = (0..index(soup.vertices.len())).collect();
    for v in 0..index(soup.vertices.len()) {
        if !may(v) {
            continue;
        }
        let at = soup.at(v);
        let home = cell(&at, tolerance);
        let near = neighbourhood(home)
            .filter_map(|c| cells.get(&c))
            .flatten()
            .copied()
            .filter(|&u| (soup.at(u) - at).norm() <= tolerance)
            .min();
        if let Some(first) = near {
            new[v as usize] = first;
            joined.vertices += 1;
            joined.farthest = joined.farthest.max((soup.at(first) - at).norm());
        } else {
            cells.entry(home).or_default().push(v);
        }
    }
    if joined.vertices > 0 {
        for v in soup.triangles.iter_mut().flatten() {
            *v = new[*v as usize];
        }
        joined.collapsed = soup.drop_collapsed();
        soup.drop_unused_vertices();
    }
    joined
}

/// The cell of a grid a little wider than the tolerance.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a mesh is at most a kilometre from its origin; beyond that cells at worst run together"
)]
fn cell(at: &Point3<f64>, tolerance: f64) -> [i64; 3] {
    const LEAST: f64 = 1e-9;
    let width = tolerance.max(LEAST) * 1.001;
    let numbers: Vector3<f64> = at.coords / width;
    [numbers.x, numbers.y, numbers.z].map(|c| c.floor() as i64)
}

fn neighbourhood([x, y, z]: [i64; 3]) -> impl Iterator<Item = [i64; 3]> {
    (0..27).map(move |i| [x + i % 3 - 1, y + i / 3 % 3 - 1, z + i / 9 - 1])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::TriMesh;
    use crate::samples;

    /// Every triangle with three corners of its own, each shaken by up to `by` mm.
    fn loose(mesh: &TriMesh, by: f64) -> Soup {
        let corners = (0..mesh.triangles().len()).flat_map(|t| mesh.corners(t));
        let shaken = corners.enumerate().map(|(i, p)| {
            let wave = |k: f64| by * (k * f64::from(index(i))).sin() / 2.0;
            p + Vector3::new(wave(12.9898), wave(78.233), wave(37.719))
        });
        let count = index(mesh.triangles().len());
        Soup {
            vertices: shaken.collect(),
            triangles: (0..count).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect(),
        }
    }

    #[test]
    fn loose_triangles_become_the_surface_they_were_cut_from() {
        let ball = samples::sphere(20.0, 4);
        let mut soup = loose(&ball, 0.01);
        let joined = weld_borders(&mut soup, 0.02);
        assert_eq!(soup.vertices.len(), ball.vertices().len());
        assert_eq!(soup.triangles.len(), ball.triangles().len());
        assert!(joined.farthest > 1e-4 && joined.farthest < 0.02);
        assert!(soup.edges().faulty().is_empty());
    }

    #[test]
    fn farther_than_the_tolerance_nothing_is_joined() {
        let mut soup = loose(&samples::sphere(20.0, 2), 0.5);
        assert_eq!(weld_borders(&mut soup, 1e-4), Joined::default());
    }

    #[test]
    fn a_closed_mesh_is_left_alone_however_wide_the_tolerance() {
        let ball = samples::sphere(20.0, 2);
        let mut soup = Soup::of(&ball);
        assert_eq!(weld_borders(&mut soup, 50.0), Joined::default());
        assert_eq!(soup.vertices, ball.vertices());
    }
}
