//! [`Solid`]: a mesh that encloses bone, so that every measure of it is defined.
//!
//! Guaranteed: every edge has as many triangles one way as the other, the outside shells point
//! outward and cavities inward. Not guaranteed: freedom from self-intersection, which costs more to
//! find and which the measures survive (a place enclosed twice counts twice).

use std::sync::OnceLock;

use nalgebra::Point3;
use thiserror::Error;

use crate::bvh::BoxTree;
use crate::mesh::{Bounds, TriMesh};
use crate::patches::{Patches, Walk};
use crate::topology::{EdgeFault, Edges, Shells};
use crate::winding;

/// A closed, outward-oriented triangle mesh, prepared for measuring; one or more shells.
#[derive(Clone, Debug)]
pub struct Solid {
    mesh: TriMesh,
    tree: BoxTree,
    shells: Vec<Shell>,
    /// A corner of each shell.
    corners: Vec<Point3<f64>>,
    /// Volume and area, once they were asked for.
    volume: OnceLock<f64>,
    area: OnceLock<f64>,
    /// Its surface in patches, once a tool was measured in it.
    patches: OnceLock<Patches>,
}

/// One connected piece of a [`Solid`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shell {
    /// How many triangles it has.
    pub triangles: usize,
    /// Signed volume in mm³; negative for a cavity inside another shell.
    pub volume: f64,
    /// The box around it.
    pub bounds: Bounds,
}

/// What keeps a mesh from enclosing anything.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum Defect {
    /// Edges with a triangle on one side only.
    #[error(
        "the surface is open: {edges} edges have no neighbour, the first at ({}), triangle {triangle}; close the holes first",
        place(at)
    )]
    Open {
        /// How many such edges.
        edges: usize,
        /// The middle of the first.
        at: Point3<f64>,
        /// A triangle at the first.
        triangle: u32,
    },
    /// Edges where two triangles disagree about which side is out.
    #[error(
        "neighbouring triangles face opposite ways along {edges} edges, the first at ({}), triangle {triangle}; make the orientation consistent first",
        place(at)
    )]
    Flipped {
        /// How many such edges.
        edges: usize,
        /// The middle of the first.
        at: Point3<f64>,
        /// A triangle at the first.
        triangle: u32,
    },
    /// A shell whose normals point inward though nothing encloses it.
    #[error(
        "the surface is inside out: the piece of {triangles} triangles at ({}) encloses {volume:.1} mm³; turn its triangles round",
        place(at)
    )]
    InsideOut {
        /// How many triangles the shell has.
        triangles: usize,
        /// Its signed volume in mm³, negative.
        volume: f64,
        /// A point on it.
        at: Point3<f64>,
    },
    /// The mesh encloses no volume.
    #[error("the surface encloses no volume")]
    Flat,
}

impl Solid {
    /// The triangles.
    pub fn mesh(&self) -> &TriMesh {
        &self.mesh
    }

    /// The connected pieces, in the order of their first triangles.
    pub fn shells(&self) -> &[Shell] {
        &self.shells
    }

    /// The pieces that enclose bone rather than a cavity in it.
    pub fn outer_shells(&self) -> impl Iterator<Item = &Shell> {
        self.shells.iter().filter(|shell| shell.volume > 0.0)
    }

    /// Volume of the bone, in mm³; taken once and kept.
    pub fn volume(&self) -> f64 {
        *self.volume.get_or_init(|| self.mesh.volume())
    }

    /// Area of its surface, in mm²; taken once and kept.
    pub fn area(&self) -> f64 {
        *self.area.get_or_init(|| self.mesh.area())
    }

    /// How often the bone encloses `point`: 0 outside, 1 inside, more where it overlaps itself.
    ///
    /// Exact for any point off the surface; for one on it, the value of one of the two sides.
    pub fn winding(&self, point: &Point3<f64>) -> i32 {
        winding::number(&self.mesh, &self.tree, point)
    }

    /// Gives the mesh back.
    pub fn into_mesh(self) -> TriMesh {
        self.mesh
    }

    /// A point on each connected piece.
    pub(crate) fn pieces(&self) -> impl Iterator<Item = &Point3<f64>> {
        self.corners.iter()
    }

    /// Its surface in patches; laid out once and kept.
    pub(crate) fn patches(&self) -> &Patches {
        let lay_out = || Patches::over(&self.mesh, self.tree.order());
        self.patches.get_or_init(lay_out)
    }

    /// Walks over the patches of its surface.
    pub(crate) fn walk(&self, walk: &mut impl Walk) {
        self.patches().walk(self.tree.order(), walk);
    }

    pub(crate) fn tree(&self) -> &BoxTree {
        &self.tree
    }
}

impl TryFrom<TriMesh> for Solid {
    type Error = Defect;

    /// # Errors
    /// The first of [`defects`].
    fn try_from(mesh: TriMesh) -> Result<Self, Defect> {
        match examined(&mesh) {
            Ok((pieces, tree)) => Ok(Self {
                mesh,
                tree,
                shells: pieces.shells,
                corners: pieces.corners,
                volume: OnceLock::new(),
                area: OnceLock::new(),
                patches: OnceLock::new(),
            }),
            Err(defects) => Err(defects[0]),
        }
    }
}

/// Everything that keeps `mesh` from being a [`Solid`]; empty when nothing does.
///
/// Which way the shells face is judged only once every edge has its neighbour.
pub fn defects(mesh: &TriMesh) -> Vec<Defect> {
    examined(mesh).err().unwrap_or_default()
}

/// What a solid is made of beside its mesh, or its defects, one at least.
fn examined(mesh: &TriMesh) -> Result<(Pieces, BoxTree), Vec<Defect>> {
    let pieces = {
        let edges = Edges::of(mesh.triangles());
        let found = edge_defects(mesh, &edges);
        if !found.is_empty() {
            return Err(found);
        }
        pieces(mesh, edges.shells())
    };
    let tree = BoxTree::over(mesh);
    let found = shell_defects(mesh, &tree, &pieces);
    if found.is_empty() {
        Ok((pieces, tree))
    } else {
        Err(found)
    }
}

/// The same as [`defects`], of a mesh whose edges, shells and boxes are at hand.
pub(crate) fn defects_by(
    mesh: &TriMesh,
    edges: &Edges,
    shells: &Shells,
    tree: &BoxTree,
) -> Vec<Defect> {
    let found = edge_defects(mesh, edges);
    if found.is_empty() {
        shell_defects(mesh, tree, &pieces(mesh, shells.clone()))
    } else {
        found
    }
}

struct Pieces {
    of_triangle: Vec<u32>,
    shells: Vec<Shell>,
    corners: Vec<Point3<f64>>,
}

fn edge_defects(mesh: &TriMesh, edges: &Edges) -> Vec<Defect> {
    let faults = edges.faulty();
    let of_kind = |kind: EdgeFault| {
        let mut edges = faults.iter().filter(move |edge| edge.fault == kind);
        let first = edges.next()?;
        let [a, b] = first.vertices.map(|v| mesh.vertices()[v as usize]);
        Some((1 + edges.count(), nalgebra::center(&a, &b), first.triangle))
    };
    let open = of_kind(EdgeFault::Open).map(|(edges, at, triangle)| Defect::Open {
        edges,
        at,
        triangle,
    });
    let flipped = of_kind(EdgeFault::Flipped).map(|(edges, at, triangle)| Defect::Flipped {
        edges,
        at,
        triangle,
    });
    open.into_iter().chain(flipped).collect()
}

fn pieces(mesh: &TriMesh, shells: Shells) -> Pieces {
    let Shells { of_triangle, count } = shells;
    let mut members = vec![Vec::new(); count];
    for (triangle, &shell) in of_triangle.iter().enumerate() {
        members[shell as usize].push(triangle);
    }
    let shell = |triangles: &Vec<usize>| {
        let indices = triangles.iter().flat_map(|&t| mesh.triangles()[t]);
        let bounds = Bounds::around(indices.map(|i| &mesh.vertices()[i as usize]))?;
        Some(Shell {
            triangles: triangles.len(),
            volume: mesh.volume_about(&bounds.middle(), triangles.iter().copied()),
            bounds,
        })
    };
    let corners = members
        .iter()
        .map(|triangles| mesh.corners(triangles[0])[0])
        .collect();
    Pieces {
        shells: members.iter().filter_map(shell).collect(),
        of_triangle,
        corners,
    }
}

fn shell_defects(mesh: &TriMesh, tree: &BoxTree, pieces: &Pieces) -> Vec<Defect> {
    let flat = |shell: &Shell| {
        let extent = shell.bounds.extent().norm();
        shell.volume.abs() <= f64::EPSILON * extent.powi(3)
    };
    if pieces.shells.iter().all(flat) {
        return vec![Defect::Flat];
    }
    let enclosed = |number: usize, corner: &Point3<f64>| {
        let another = |t: u32| pieces.of_triangle[t as usize] as usize != number;
        winding::number_among(mesh, tree, corner, another) > 0
    };
    let negative = pieces.shells.iter().zip(&pieces.corners).enumerate();
    negative
        .filter(|(number, (shell, corner))| shell.volume < 0.0 && !enclosed(*number, corner))
        .map(
            |(
                _,
                (
                    &Shell {
                        triangles, volume, ..
                    },
                    &at,
                ),
            )| Defect::InsideOut {
                triangles,
                volume,
                at,
            },
        )
        .collect()
}

fn place(p: &Point3<f64>) -> String {
    format!("{:.2}, {:.2}, {:.2}", p.x, p.y, p.z)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use nalgebra::Isometry3;

    fn refused(mesh: TriMesh) -> Defect {
        Solid::try_from(mesh).unwrap_err()
    }

    #[test]
    fn a_box_is_a_solid_and_its_middle_is_inside() {
        let solid = Solid::try_from(samples::cuboid([2.0, 2.0, 2.0])).unwrap();
        assert_eq!(solid.winding(&Point3::origin()), 1);
        assert_eq!(solid.winding(&Point3::new(1.5, 0.0, 0.0)), 0);
    }

    #[test]
    fn a_ray_through_vertices_and_edges_still_counts_once() {
        // Straight above the origin lie an edge of each octant and the pole itself.
        let solid = Solid::try_from(samples::sphere(10.0, 3)).unwrap();
        assert_eq!(solid.winding(&Point3::origin()), 1);
        assert_eq!(solid.winding(&Point3::new(0.0, 0.0, -11.0)), 0);
        assert_eq!(solid.winding(&Point3::new(0.0, 0.0, 11.0)), 0);
    }

    #[test]
    fn a_cavity_is_outside_and_belongs_to_the_bone() {
        let hollow = samples::sphere(10.0, 2).joined(&samples::sphere(5.0, 2).reversed());
        let solid = Solid::try_from(hollow).unwrap();
        assert_eq!(solid.winding(&Point3::origin()), 0);
        assert_eq!(solid.winding(&Point3::new(0.0, 7.0, 0.0)), 1);
        assert_eq!((solid.shells().len(), solid.outer_shells().count()), (2, 1));
    }

    #[test]
    fn a_hole_is_told_with_its_place() {
        let cuboid = samples::cuboid([2.0, 2.0, 2.0]);
        let open = TriMesh::new(cuboid.vertices().to_vec(), cuboid.triangles()[1..].to_vec());
        assert!(matches!(
            refused(open.unwrap()),
            Defect::Open { edges: 3, .. }
        ));
    }

    #[test]
    fn an_inside_out_piece_is_told_even_beside_a_good_one() {
        let far = Isometry3::translation(50.0, 0.0, 0.0);
        let pair = samples::sphere(10.0, 2).joined(&samples::sphere(5.0, 2).reversed().moved(&far));
        assert!(matches!(
            refused(pair),
            Defect::InsideOut { triangles: 128, .. }
        ));
        assert!(matches!(
            refused(samples::cuboid([1.0; 3]).reversed()),
            Defect::InsideOut { .. }
        ));
    }

    #[test]
    fn a_folded_sheet_encloses_nothing() {
        let corners = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]].map(Point3::from);
        let sheet = TriMesh::new(corners.to_vec(), vec![[0, 1, 2], [0, 2, 1]]).unwrap();
        assert_eq!(refused(sheet), Defect::Flat);
    }
}
