//! The bone as a surface to draw: smooth where it is bone's own, exact where a reamer cut it.

use std::collections::HashMap;
use std::sync::Arc;

use bevy::math::Vec3;
use cupwright_geometry::cut::{Labelled, Origin};
use cupwright_geometry::{Hemisphere, TriMesh};
use cupwright_procedure::Bone;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::openness::openness;
use super::surface::Surface;
use crate::scene::ground::{Ground, single};

/// The bone, and which of its vertices lie on the wall of the cavity.
#[derive(Clone, Debug, Default)]
pub(crate) struct BoneSurface {
    pub(crate) surface: Surface,
    pub(crate) cavity: Vec<CavityVertex>,
    /// Whether the template's far part belongs to it.
    pub(crate) has_far: bool,
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

/// What of a bone's picture stays the same whatever is reamed: the normals of its own surface, and its
/// far part, which is drawn once.
#[derive(Clone, Debug)]
pub(crate) struct Template {
    bone: Arc<Bone>,
    normals: Vec<Vec3>,
    openness: Vec<f32>,
    is_far: Vec<bool>,
    far_triangles: usize,
    /// The part beyond [`NEAR_MM`].
    pub(crate) far: Surface,
}

/// The share of light from everywhere that reaches any place inside a half ball: seen from a place on a
/// ball, every other counts by its area alone, and the opening stands for half of them.
const IN_HALF_BALL: f32 = 0.5;

/// How far from the native hip centre the bone is drawn anew with every change, in mm.
const NEAR_MM: f64 = 62.0;

impl Template {
    pub(crate) fn of(bone: &Arc<Bone>, ground: &Ground, colour: [f32; 3]) -> Self {
        let mesh = bone.solid.mesh();
        let normals = normals(mesh);
        let mut template = Self {
            bone: Arc::clone(bone),
            normals: normals.iter().map(|n| ground.direction(n)).collect(),
            openness: openness(&bone.solid, &normals),
            is_far: Vec::new(),
            far_triangles: 0,
            far: Surface::default(),
        };
        let centre = bone.native_centre;
        let is_far = |t| {
            mesh.corners(t)
                .iter()
                .all(|p| (p - centre).norm() > NEAR_MM)
        };
        template.is_far = (0..mesh.triangles().len()).map(is_far).collect();
        let mut builder = Builder::on(mesh, &template, ground);
        for t in (0..mesh.triangles().len()).filter(|t| template.is_far[*t]) {
            builder.add_bone(t, t, colour);
        }
        let far = builder.finish().surface;
        template.far_triangles = far.triangles.len();
        template.far = far;
        template
    }

    /// Whether it is that of this bone.
    pub(crate) fn is_of(&self, bone: &Arc<Bone>) -> bool {
        Arc::ptr_eq(&self.bone, bone)
    }

    /// Normal and openness of the bone's own surface at a place on one of its triangles.
    fn at(&self, triangle: usize, place: &Point3<f64>) -> (Vec3, f32) {
        let mesh = self.bone.solid.mesh();
        let (corners, vertices) = (mesh.corners(triangle), mesh.triangles()[triangle]);
        let known = vertices.map(|v| (self.normals[v as usize], self.openness[v as usize]));
        if let Some(k) = corners.iter().position(|corner| corner == place) {
            return known[k];
        }
        let opposite = |k: usize| {
            let (a, b) = (corners[(k + 1) % 3] - place, corners[(k + 2) % 3] - place);
            single(a.cross(&b).norm())
        };
        let shares = [0, 1, 2].map(opposite);
        let all = shares.iter().sum::<f32>().max(f32::MIN_POSITIVE);
        let weighted = known.iter().zip(shares);
        let sum = weighted.fold((Vec3::ZERO, 0.0), |sum, ((normal, open), share)| {
            (sum.0 + *normal * share, sum.1 + open * share)
        });
        (sum.0.normalize_or_zero(), sum.1 / all)
    }

    /// Whether no reamer has touched the far part.
    fn is_far_whole(&self, cut: &Labelled) -> bool {
        let mesh = self.bone.solid.mesh();
        // Far triangles of the cut, and whether each of them is all of the bone's.
        let far = cut
            .origins
            .par_iter()
            .enumerate()
            .filter_map(|(t, origin)| match *origin {
                Origin::Bone(k) if self.is_far[k as usize] => Some((t, k as usize)),
                _ => None,
            });
        let whole = far.map(|(t, k)| u32::from(cut.mesh.corners(t) == mesh.corners(k)));
        let (count, whole) = whole
            .map(|whole| (1, whole))
            .reduce(|| (0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
        count == whole && usize::try_from(whole) == Ok(self.far_triangles)
    }
}

/// Unit normals of a mesh's vertices, each triangle weighted by its area.
fn normals(mesh: &TriMesh) -> Vec<Vector3<f64>> {
    let mut sums = vec![Vector3::zeros(); mesh.vertices().len()];
    for (t, corners) in mesh.triangles().iter().enumerate() {
        let normal = mesh.area_vector(t);
        for v in corners {
            sums[*v as usize] += normal;
        }
    }
    let unit = |sum: &Vector3<f64>| sum.try_normalize(0.0).unwrap_or_default();
    sums.iter().map(unit).collect()
}

/// The near part of the untouched bone.
pub(crate) fn untouched(template: &Template, ground: &Ground, colour: [f32; 3]) -> BoneSurface {
    let mesh = template.bone.solid.mesh();
    let mut builder = Builder::on(mesh, template, ground);
    for t in (0..mesh.triangles().len()).filter(|t| !template.is_far[*t]) {
        builder.add_bone(t, t, colour);
    }
    builder.built.has_far = true;
    builder.finish()
}

/// A bone after reamers with these heads, in the order that its labels count: the near part of it
/// where the far part is whole, all of it where that is not so.
pub(crate) fn reamed(
    labelled: &Labelled,
    template: &Template,
    heads: &[Hemisphere],
    ground: &Ground,
    [bone, cut]: [[f32; 3]; 2],
) -> BoneSurface {
    let has_far = template.is_far_whole(labelled);
    let mut builder = Builder::on(&labelled.mesh, template, ground);
    for (t, origin) in labelled.origins.iter().enumerate() {
        match *origin {
            Origin::Bone(k) if has_far && template.is_far[k as usize] => {}
            Origin::Bone(k) => builder.add_bone(t, k as usize, bone),
            Origin::Reamer(k) => {
                if let Some(head) = heads.get(k) {
                    builder.add_wall(t, k, head, cut);
                }
            }
        }
    }
    builder.built.has_far = has_far;
    builder.finish()
}

struct Builder<'a> {
    mesh: &'a TriMesh,
    template: &'a Template,
    ground: &'a Ground,
    built: BoneSurface,
    /// New index of each vertex as one of the bone's own surface; `u32::MAX` where it is none.
    own: Vec<u32>,
    /// The same for walls of the cavity, by reamer.
    walls: HashMap<(u32, usize), u32>,
    /// Vertices of the bone's own surface, their places, and a triangle of the bone that each lies on.
    to_place: Vec<(u32, Point3<f64>, usize)>,
}

impl<'a> Builder<'a> {
    fn on(mesh: &'a TriMesh, template: &'a Template, ground: &'a Ground) -> Self {
        Self {
            mesh,
            template,
            ground,
            built: BoneSurface::default(),
            own: vec![u32::MAX; mesh.vertices().len()],
            walls: HashMap::new(),
            to_place: Vec::new(),
        }
    }

    /// The surface, with the vertices of the bone's own surface worked out side by side.
    fn finish(mut self) -> BoneSurface {
        let placed = self.to_place.par_iter().map(|(v, place, of)| {
            let (normal, open) = self.template.at(*of, place);
            (*v as usize, self.ground.point(place), normal, open)
        });
        let placed: Vec<_> = placed.collect();
        let surface = &mut self.built.surface;
        for (v, point, normal, open) in placed {
            surface.points[v] = point;
            surface.normals[v] = normal;
            surface.colours[v][3] = open;
        }
        self.built
    }

    fn place(&self, vertex: u32) -> Point3<f64> {
        self.mesh.vertices()[vertex as usize]
    }

    /// Adds a triangle that is all or part of the bone's triangle `of`.
    fn add_bone(&mut self, t: usize, of: usize, colour: [f32; 3]) {
        let corners = self.mesh.triangles()[t];
        let triangle = corners.map(|v| {
            if self.own[v as usize] == u32::MAX {
                // Only its place in the list yet; see `finish`.
                let [r, g, b] = colour;
                let surface = &mut self.built.surface;
                self.own[v as usize] = surface.add_tinted(Vec3::ZERO, Vec3::ZERO, [r, g, b, 1.0]);
                self.to_place
                    .push((self.own[v as usize], self.place(v), of));
            }
            self.own[v as usize]
        });
        self.built.surface.triangles.push(triangle);
    }

    fn add_wall(&mut self, t: usize, reamer: usize, head: &Hemisphere, colour: [f32; 3]) {
        let corners = self.mesh.triangles()[t];
        let triangle = corners.map(|v| match self.walls.get(&(v, reamer)) {
            Some(&known) => known,
            None => {
                let place = self.place(v);
                let normal = self.ground.direction(&into_cavity(head, &place));
                let point = self.ground.point(&place);
                let [r, g, b] = colour;
                let tint = [r, g, b, IN_HALF_BALL];
                let vertex = self.built.surface.add_tinted(point, normal, tint);
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
    use cupwright_anatomy::Side;
    use cupwright_geometry::cut::{Cut, Tolerance};
    use cupwright_geometry::{Bullet, Solid, samples};
    use nalgebra::Isometry3;

    /// A block with its socket in the middle of its upper face.
    fn block(size: f64) -> Arc<Bone> {
        let mesh = samples::cuboid([size; 3])
            .subdivided()
            .subdivided()
            .subdivided();
        Arc::new(Bone {
            solid: Arc::new(Solid::try_from(mesh).unwrap()),
            source: "a block".into(),
            remarks: Vec::new(),
            side: Side::Right,
            landmarks: None,
            to_pelvic: Isometry3::identity(),
            native_centre: Point3::new(0.0, 0.0, size / 2.0),
            native_radius: 20.0,
            layers: None,
        })
    }

    fn head(bone: &Bone, radius: f64) -> Hemisphere {
        Hemisphere::new(bone.native_centre, Vector3::z(), radius).unwrap()
    }

    fn cut(bone: &Bone, head: Hemisphere) -> Labelled {
        let cut = Cut::new(&bone.solid, &[Bullet::open(head)], Tolerance::default());
        cut.unwrap().into_labelled().unwrap()
    }

    #[test]
    fn a_cut_block_has_sharp_edges_and_a_round_wall() {
        let bone = block(100.0);
        let (ground, head) = (Ground::of(&bone), head(&bone, 20.0));
        let template = Template::of(&bone, &ground, [1.0; 3]);
        let drawn = reamed(
            &cut(&bone, head),
            &template,
            &[head],
            &ground,
            [[1.0; 3], [0.5; 3]],
        );
        assert!(drawn.cavity.len() > 200);
        let surface = &drawn.surface;
        for wall in &drawn.cavity {
            let normal = surface.normals[wall.vertex as usize];
            let inward = ground.direction(&(head.centre() - wall.place).normalize());
            assert!(normal.dot(inward) > 0.999, "{normal} at {}", wall.place);
        }
        assert!(
            surface
                .normals
                .iter()
                .all(|n| (n.length() - 1.0).abs() < 1e-4)
        );
    }

    #[test]
    fn near_and_far_part_are_the_whole_bone() {
        let bone = block(200.0);
        let (ground, head) = (Ground::of(&bone), head(&bone, 20.0));
        let template = Template::of(&bone, &ground, [1.0; 3]);
        let untouched = untouched(&template, &ground, [1.0; 3]);
        assert!(untouched.has_far && !template.far.triangles.is_empty());
        let all = bone.solid.mesh().triangles().len();
        assert_eq!(
            untouched.surface.triangles.len() + template.far.triangles.len(),
            all
        );
        let cut = cut(&bone, head);
        let drawn = reamed(&cut, &template, &[head], &ground, [[1.0; 3]; 2]);
        assert!(drawn.has_far);
        let all = cut.mesh.triangles().len();
        assert_eq!(
            drawn.surface.triangles.len() + template.far.triangles.len(),
            all
        );
    }

    #[test]
    fn a_cut_that_reaches_the_far_part_is_drawn_with_all_of_it() {
        let bone = block(200.0);
        let ground = Ground::of(&bone);
        let far = Hemisphere::new(Point3::new(85.0, 0.0, 100.0), Vector3::z(), 10.0).unwrap();
        let template = Template::of(&bone, &ground, [1.0; 3]);
        let cut = cut(&bone, far);
        let drawn = reamed(&cut, &template, &[far], &ground, [[1.0; 3]; 2]);
        assert!(!drawn.has_far);
        assert_eq!(drawn.surface.triangles.len(), cut.mesh.triangles().len());
    }
}
