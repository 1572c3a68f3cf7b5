//! The cross-section of a closed mesh: the part of a plane that lies inside it, filled.
//!
//! Guaranteed: every triangle of the mesh decides for itself, by the sides on which its corners lie, and
//! neighbours find the same points, bit for bit; so the curves close wherever the mesh does. A corner
//! exactly on the plane counts as above it: where a face lies in the plane, the section is what it is
//! just below. Shells that overlap stay filled, one inside out within another is a hole. The same input
//! gives the same bits. The time is one look at each triangle, and that of the section itself.
//!
//! Not guaranteed: anything sensible of an open mesh but that there is an answer.

use nalgebra::Point3;

use crate::sum::Sum;
use crate::{Plane, TriMesh};

mod fill;

/// The part of a plane inside a mesh, as triangles and as outlines.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossSection {
    plane: Plane,
    points: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
    loops: Vec<Vec<u32>>,
}

/// The part of `plane` that lies inside the closed `mesh`: where it is enclosed more often from outside
/// than from inside.
///
/// ```
/// # use cupwright_geometry::{Plane, samples, section};
/// # use nalgebra::{Point3, Vector3};
/// let block = samples::cuboid([2.0, 3.0, 4.0]);
/// let level = Plane::new(Point3::new(0.0, 0.0, 1.5), Vector3::z())?;
/// let section = section::cross_section(&block, &level);
/// assert_eq!(section.area(), 6.0);
/// assert_eq!(section.outline().count(), 1);
/// # Ok::<(), cupwright_geometry::BadShape>(())
/// ```
pub fn cross_section(mesh: &TriMesh, plane: &Plane) -> CrossSection {
    let filled = fill::filled(&segments(mesh, plane));
    let [right, up] = plane.directions().map(nalgebra::Unit::into_inner);
    let lifted = filled.places.iter();
    let lifted = lifted.map(|p| plane.point() + p.x * right + p.y * up);
    CrossSection {
        plane: *plane,
        points: lifted.collect(),
        triangles: filled.triangles,
        loops: filled.loops,
    }
}

/// Where the triangles cross the plane: in its own coordinates, the inside to the left.
fn segments(mesh: &TriMesh, plane: &Plane) -> Vec<fill::Segment> {
    let vertices = mesh.vertices();
    let above: Vec<bool> = vertices.iter().map(|p| plane.height(p) >= 0.0).collect();
    let [right, up] = plane.directions();
    // From the upper end, so that an edge that ends on the plane crosses it exactly there.
    let crossing = |upper: u32, lower: u32| {
        let (upper, lower) = (&vertices[upper as usize], &vertices[lower as usize]);
        let (over, under) = (plane.height(upper), plane.height(lower));
        let place = upper + (lower - upper) * (over / (over - under)) - plane.point();
        fill::place(right.dot(&place), up.dot(&place))
    };
    let segment = |corners: &[u32; 3]| {
        let sides = corners.map(|id| above[id as usize]);
        let goes =
            |from: bool, to: bool| (0..3).find(|&k| sides[k] == from && sides[(k + 1) % 3] == to);
        let (down, rise) = (goes(true, false)?, goes(false, true)?);
        let start = crossing(corners[down], corners[(down + 1) % 3]);
        let end = crossing(corners[(rise + 1) % 3], corners[rise]);
        (start != end).then_some([start, end])
    };
    mesh.triangles().iter().filter_map(segment).collect()
}

impl CrossSection {
    /// The plane it lies in.
    pub fn plane(&self) -> &Plane {
        &self.plane
    }

    /// The corners of its triangles, in mm.
    pub fn points(&self) -> &[Point3<f64>] {
        &self.points
    }

    /// Its triangles, as indices into [`points`](Self::points), counter-clockwise for one who looks
    /// against the plane's normal.
    pub fn triangles(&self) -> &[[u32; 3]] {
        &self.triangles
    }

    /// Its outlines, each a closed curve whose last point is joined to its first, with the inside on
    /// the left for one who looks against the normal: counter-clockwise around, clockwise at holes.
    pub fn outline(&self) -> impl Iterator<Item = Vec<Point3<f64>>> + '_ {
        let place = |id: &u32| self.points[*id as usize];
        self.loops
            .iter()
            .map(move |ids| ids.iter().map(place).collect())
    }

    /// Its area, in mm².
    pub fn area(&self) -> f64 {
        let area = |corners: &[u32; 3]| {
            let [a, b, c] = corners.map(|id| self.points[id as usize]);
            0.5 * (b - a).cross(&(c - a)).norm()
        };
        self.triangles.iter().map(area).collect::<Sum>().total()
    }

    /// Whether the plane misses the mesh.
    pub fn is_empty(&self) -> bool {
        self.triangles.is_empty()
    }
}

#[cfg(test)]
mod tests;
