//! Reamers and cups as surfaces to draw, coloured vertex by vertex.

use std::collections::HashMap;

use cupwright_geometry::{Hemisphere, TriMesh};
use nalgebra::Vector3;

use super::surface::Surface;
use crate::scene::ground::Ground;

/// Which face of a shell a triangle belongs to.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
enum Face {
    Outer,
    Inner,
    Edge,
}

/// A half ball's shell; `colour` is asked for each vertex of its mesh.
pub(crate) fn drawn(
    mesh: &TriMesh,
    head: &Hemisphere,
    ground: &Ground,
    colour: impl Fn(usize) -> [f32; 3],
) -> Surface {
    let mut surface = Surface::default();
    let mut known: HashMap<(u32, Face), u32> = HashMap::new();
    for (t, corners) in mesh.triangles().iter().enumerate() {
        let face = face(mesh, t, head);
        let triangle = corners.map(|v| {
            *known.entry((v, face)).or_insert_with(|| {
                let place = mesh.vertices()[v as usize];
                let out = (place - head.centre()).normalize();
                let normal = match face {
                    Face::Outer => out,
                    Face::Inner => -out,
                    Face::Edge => head.axis().into_inner(),
                };
                let normal = ground.direction(&normal);
                surface.add_vertex(ground.point(&place), normal, colour(v as usize))
            })
        });
        surface.triangles.push(triangle);
    }
    surface
}

fn face(mesh: &TriMesh, t: usize, head: &Hemisphere) -> Face {
    let corners = mesh.corners(t);
    let middle = corners
        .iter()
        .map(|p| p - head.centre())
        .sum::<Vector3<f64>>();
    let normal = mesh.area_vector(t);
    let lean = normal.dot(&middle) / (normal.norm() * middle.norm());
    if lean > 0.5 {
        Face::Outer
    } else if lean < -0.5 {
        Face::Inner
    } else {
        Face::Edge
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::cut::{Tolerance, shell};
    use nalgebra::{Isometry3, Point3};

    #[test]
    fn a_shell_is_round_outside_and_inside_and_flat_at_its_edge() {
        let head = Hemisphere::new(Point3::origin(), Vector3::z(), 27.0).unwrap();
        let mesh = shell::half_ball(&head, 3.0, Tolerance::new(0.1).unwrap()).unwrap();
        let ground = Ground::new(Isometry3::identity(), Point3::origin());
        let surface = drawn(&mesh, &head, &ground, |_| [1.0; 3]);
        let up = ground.direction(&Vector3::z());
        let mut flat = 0;
        for (p, n) in surface.points.iter().zip(&surface.normals) {
            let radial = p.normalize().dot(*n).abs();
            if n.dot(up) > 0.999 && p.dot(up).abs() < 1e-5 {
                flat += 1;
            } else {
                assert!(radial > 0.999, "{p} {n}");
            }
        }
        assert!(flat > 20, "the edge has {flat} vertices");
    }
}
