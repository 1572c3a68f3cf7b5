//! The bone as a surface to draw: smooth where it is bone's own, exact where a reamer cut it.

use std::collections::HashMap;

use bevy::math::Vec3;
use cupwright_geometry::cut::{Labelled, Origin};
use cupwright_geometry::{Hemisphere, TriMesh};
use nalgebra::{Point3, Vector3};

use super::surface::Surface;
use crate::scene::ground::Ground;

/// The bone, and which of its vertices lie on the wall of the cavity.
#[derive(Clone, Debug, Default)]
pub(crate) struct BoneSurface {
    pub(crate) surface: Surface,
    pub(crate) cavity: Vec<CavityVertex>,
}

/// A vertex on the wall that a reamer left.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CavityVertex {
    /// Its index in the surface.
    pub(crate) vertex: u32,
    /// Which reamer.
    pub(crate) reamer: usize,
    /// Its place in the bone's own coordinates.
    pub(crate) place: Point3<f64>,
}

/// The untouched bone.
pub(crate) fn whole(mesh: &TriMesh, ground: &Ground, colour: [f32; 3]) -> BoneSurface {
    let mut builder = Builder::on(mesh, ground);
    for t in 0..mesh.triangles().len() {
        builder.add_bone(t, colour);
    }
    builder.finish()
}

/// A bone after reamers with these heads, in the order that its labels count.
pub(crate) fn reamed(
    labelled: &Labelled,
    heads: &[Hemisphere],
    ground: &Ground,
    [bone, cut]: [[f32; 3]; 2],
) -> BoneSurface {
    let mut builder = Builder::on(&labelled.mesh, ground);
    for (t, origin) in labelled.origins.iter().enumerate() {
        match origin {
            Origin::Bone(_) => builder.add_bone(t, bone),
            Origin::Reamer(k) => match heads.get(*k) {
                Some(head) => builder.add_wall(t, *k, head, cut),
                None => builder.add_bone(t, cut),
            },
        }
    }
    builder.finish()
}

struct Builder<'a> {
    mesh: &'a TriMesh,
    ground: &'a Ground,
    built: BoneSurface,
    /// New index of each vertex as one of the bone's own surface; `u32::MAX` where it is none.
    own: Vec<u32>,
    /// The same for walls of the cavity, by reamer.
    walls: HashMap<(u32, usize), u32>,
}

impl<'a> Builder<'a> {
    fn on(mesh: &'a TriMesh, ground: &'a Ground) -> Self {
        Self {
            mesh,
            ground,
            built: BoneSurface::default(),
            own: vec![u32::MAX; mesh.vertices().len()],
            walls: HashMap::new(),
        }
    }

    fn place(&self, vertex: u32) -> Point3<f64> {
        self.mesh.vertices()[vertex as usize]
    }

    fn add_bone(&mut self, t: usize, colour: [f32; 3]) {
        let corners = self.mesh.triangles()[t];
        let triangle = corners.map(|v| {
            if self.own[v as usize] == u32::MAX {
                let point = self.ground.point(&self.place(v));
                self.own[v as usize] = self.built.surface.add_vertex(point, Vec3::ZERO, colour);
            }
            self.own[v as usize]
        });
        let surface = &mut self.built.surface;
        let [a, b, c] = triangle.map(|v| surface.points[v as usize]);
        // Weighted by area: small triangles at a cut edge sway the normals little.
        let normal = (b - a).cross(c - a);
        for v in triangle {
            surface.normals[v as usize] += normal;
        }
        surface.triangles.push(triangle);
    }

    fn add_wall(&mut self, t: usize, reamer: usize, head: &Hemisphere, colour: [f32; 3]) {
        let corners = self.mesh.triangles()[t];
        let triangle = corners.map(|v| match self.walls.get(&(v, reamer)) {
            Some(&known) => known,
            None => {
                let place = self.place(v);
                let normal = self.ground.direction(&into_cavity(head, &place));
                let point = self.ground.point(&place);
                let vertex = self.built.surface.add_vertex(point, normal, colour);
                self.walls.insert((v, reamer), vertex);
                self.built.cavity.push(CavityVertex {
                    vertex,
                    reamer,
                    place,
                });
                vertex
            }
        });
        self.built.surface.triangles.push(triangle);
    }

    fn finish(mut self) -> BoneSurface {
        self.built.surface.normalise();
        self.built
    }
}

/// From a place on the wall that a reamer left, out of the bone: toward the reamer's centre on its
/// round side, toward its axis on the column that it came by.
fn into_cavity(head: &Hemisphere, place: &Point3<f64>) -> Vector3<f64> {
    let out = place - head.centre();
    let above = out.dot(&head.axis()).max(0.0);
    let across = out - above * head.axis().into_inner();
    -across.try_normalize(f64::MIN_POSITIVE).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::cut::{Cut, Tolerance};
    use cupwright_geometry::{Bullet, Solid, samples};
    use nalgebra::Isometry3;

    fn ground() -> Ground {
        Ground::new(Isometry3::identity(), Point3::origin())
    }

    #[test]
    fn a_cut_block_has_sharp_edges_and_a_round_wall() {
        let solid = Solid::try_from(samples::cuboid([100.0; 3])).unwrap();
        let head = Hemisphere::new(Point3::new(0.0, 0.0, 50.0), Vector3::z(), 20.0).unwrap();
        let cut = Cut::new(&solid, &[Bullet::open(head)], Tolerance::default()).unwrap();
        let labelled = cut.into_labelled().unwrap();
        let drawn = reamed(&labelled, &[head], &ground(), [[1.0; 3], [0.5; 3]]);
        assert!(drawn.cavity.len() > 200);
        let surface = &drawn.surface;
        assert_eq!(surface.triangles.len(), labelled.mesh.triangles().len());
        for wall in &drawn.cavity {
            let normal = surface.normals[wall.vertex as usize];
            let inward = ground().direction(&(head.centre() - wall.place).normalize());
            assert!(normal.dot(inward) > 0.999, "{normal} at {}", wall.place);
        }
        // The rim's places are there twice: once on the block's face, once on the wall.
        assert!(surface.points.len() > labelled.mesh.vertices().len());
        assert!(
            surface
                .normals
                .iter()
                .all(|n| (n.length() - 1.0).abs() < 1e-4)
        );
    }
}
