//! [`TriMesh`]: triangles whose indices are in range and whose coordinates are finite.
//!
//! Conventions: millimetres, right-handed axes; a triangle's corners run counter-clockwise seen
//! from outside, so that its [normal](TriMesh::area_vector) points out of the bone. A `TriMesh` may be
//! open, inside out or cut by itself; [`Solid`](crate::Solid) is the type that is not.

use nalgebra::{Isometry3, Point3, Vector3};
use thiserror::Error;

use crate::sum::Sum;

/// A triangle mesh in mm with indices in range and finite coordinates.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TriMesh {
    vertices: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
}

/// Why [`TriMesh::new`] refused its input.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum BadMesh {
    /// A coordinate is NaN or infinite.
    #[error("vertex {vertex} has a coordinate that is not a finite number ({x}, {y}, {z})")]
    NotFinite {
        /// Index of the vertex.
        vertex: usize,
        /// Its coordinates.
        x: f64,
        /// Its coordinates.
        y: f64,
        /// Its coordinates.
        z: f64,
    },
    /// A triangle names a vertex that does not exist.
    #[error("triangle {triangle} names vertex {index}, but the mesh has only {vertices} vertices")]
    IndexOutOfRange {
        /// Index of the triangle.
        triangle: usize,
        /// The vertex index it names.
        index: u32,
        /// How many vertices there are.
        vertices: usize,
    },
    /// There are no triangles.
    #[error("the mesh holds no triangles")]
    Empty,
    /// More triangles or vertices than 32-bit indices can number.
    #[error("the mesh is too large: more than {} vertices or triangles", u32::MAX / 4)]
    TooLarge,
}

/// The smallest box around some points, edges along the axes, in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// The corner with the smallest coordinates.
    pub min: Point3<f64>,
    /// The corner with the largest coordinates.
    pub max: Point3<f64>,
}

impl Bounds {
    /// The box around `points`; `None` when there are none.
    pub fn around<'a>(points: impl IntoIterator<Item = &'a Point3<f64>>) -> Option<Self> {
        let mut points = points.into_iter();
        let first = *points.next()?;
        let start = Self {
            min: first,
            max: first,
        };
        Some(points.fold(start, |b, p| Self {
            min: b.min.inf(p),
            max: b.max.sup(p),
        }))
    }

    /// The point half way between its corners.
    pub fn middle(&self) -> Point3<f64> {
        nalgebra::center(&self.min, &self.max)
    }

    /// Edge lengths along x, y and z.
    pub fn extent(&self) -> Vector3<f64> {
        self.max - self.min
    }

    /// Whether the boxes have a point in common.
    pub fn meets(&self, other: &Self) -> bool {
        (0..3).all(|k| self.min[k] <= other.max[k] && other.min[k] <= self.max[k])
    }

    /// Whether the box holds `point`, its faces included.
    pub fn holds(&self, point: &Point3<f64>) -> bool {
        (0..3).all(|k| self.min[k] <= point[k] && point[k] <= self.max[k])
    }

    /// Distance from `point` to the nearest point of the box; zero inside.
    pub fn distance_to(&self, point: &Point3<f64>) -> f64 {
        let outside = (self.min - point).sup(&(point - self.max));
        outside.sup(&Vector3::zeros()).norm()
    }

    /// Distance from `point` to the farthest point of the box.
    pub fn reach_from(&self, point: &Point3<f64>) -> f64 {
        let to_min = (point - self.min).abs();
        let to_max = (self.max - point).abs();
        to_min.sup(&to_max).norm()
    }
}

impl TriMesh {
    /// A mesh from its vertices, in mm, and its triangles, as indices into them.
    ///
    /// # Errors
    /// When there is no triangle, a coordinate is not finite, an index is out of range, or there
    /// are more than a quarter of 2³² vertices or triangles.
    pub fn new(vertices: Vec<Point3<f64>>, triangles: Vec<[u32; 3]>) -> Result<Self, BadMesh> {
        const MOST: usize = (u32::MAX / 4) as usize;
        if triangles.is_empty() {
            return Err(BadMesh::Empty);
        }
        if vertices.len() > MOST || triangles.len() > MOST {
            return Err(BadMesh::TooLarge);
        }
        for (vertex, p) in vertices.iter().enumerate() {
            if !p.iter().all(|c| c.is_finite()) {
                return Err(BadMesh::NotFinite {
                    vertex,
                    x: p.x,
                    y: p.y,
                    z: p.z,
                });
            }
        }
        for (triangle, corners) in triangles.iter().enumerate() {
            for &index in corners {
                if index as usize >= vertices.len() {
                    return Err(BadMesh::IndexOutOfRange {
                        triangle,
                        index,
                        vertices: vertices.len(),
                    });
                }
            }
        }
        Ok(Self {
            vertices,
            triangles,
        })
    }

    /// The vertices, in mm.
    pub fn vertices(&self) -> &[Point3<f64>] {
        &self.vertices
    }

    /// The triangles, as indices into [`vertices`](Self::vertices).
    pub fn triangles(&self) -> &[[u32; 3]] {
        &self.triangles
    }

    /// The three corners of triangle `index`.
    ///
    /// # Panics
    /// When there is no such triangle.
    #[inline]
    pub fn corners(&self, index: usize) -> [Point3<f64>; 3] {
        // Written out: `map` of an array is a call, and a quarter of a tool's time went into it.
        let [a, b, c] = self.triangles[index];
        let at = |i: u32| self.vertices[i as usize];
        [at(a), at(b), at(c)]
    }

    /// The area of triangle `index` times its outward unit normal, in mm².
    ///
    /// # Panics
    /// When there is no such triangle.
    pub fn area_vector(&self, index: usize) -> Vector3<f64> {
        let [a, b, c] = self.corners(index);
        0.5 * (b - a).cross(&(c - a))
    }

    /// Total area of the triangles, in mm².
    pub fn area(&self) -> f64 {
        (0..self.triangles.len())
            .map(|t| self.area_vector(t).norm())
            .collect::<Sum>()
            .total()
    }

    /// Signed volume, in mm³: that of the inside for a closed mesh, negative where it is inside out.
    ///
    /// Sum of the signed tetrahedra over the triangles, their common tip in the middle of the
    /// mesh's box so that a mesh far from the origin loses no digits.
    pub fn volume(&self) -> f64 {
        let middle = self.bounds().map_or_else(Point3::origin, |b| b.middle());
        self.volume_about(&middle, 0..self.triangles.len())
    }

    /// Signed volume of the tetrahedra from `tip` over some of the triangles; see
    /// [`volume`](Self::volume).
    pub(crate) fn volume_about(
        &self,
        tip: &Point3<f64>,
        triangles: impl IntoIterator<Item = usize>,
    ) -> f64 {
        let six = triangles.into_iter().map(|t| {
            let [a, b, c] = self.corners(t).map(|p| p - tip);
            a.dot(&b.cross(&c))
        });
        six.collect::<Sum>().total() / 6.0
    }

    /// The box around the vertices; `None` when there are none.
    pub fn bounds(&self) -> Option<Bounds> {
        Bounds::around(&self.vertices)
    }

    /// The same mesh moved by a rotation and a translation.
    #[must_use]
    pub fn moved(&self, by: &Isometry3<f64>) -> Self {
        self.mapped(|p| by * p)
    }

    /// The same mesh, `factor` times as large about the origin.
    ///
    /// A negative factor would turn the mesh inside out; the triangles are then turned round.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let scaled = self.mapped(|p| p * factor);
        if factor < 0.0 {
            scaled.reversed()
        } else {
            scaled
        }
    }

    /// The mirror image in the plane x = 0, still with its normals pointing out.
    #[must_use]
    pub fn mirrored_x(&self) -> Self {
        self.mapped(|p| Point3::new(-p.x, p.y, p.z)).reversed()
    }

    /// The same triangles with their corners in the opposite order.
    #[must_use]
    pub fn reversed(mut self) -> Self {
        for [_, b, c] in &mut self.triangles {
            std::mem::swap(b, c);
        }
        self
    }

    /// The same surface with triangles parted in three at a point inside, evenly over it, until it has
    /// this many at least, to try what a finer mesh costs.
    #[must_use]
    pub fn parted(&self, triangles: usize) -> Self {
        let mut mesh = self.clone();
        while !mesh.triangles.is_empty() && mesh.triangles.len() < triangles {
            mesh = mesh.parted_once(triangles);
        }
        mesh
    }

    fn parted_once(&self, triangles: usize) -> Self {
        let (mut vertices, old) = (self.vertices.clone(), &self.triangles);
        let parted = triangles
            .saturating_sub(old.len())
            .div_ceil(2)
            .min(old.len());
        let mut new = Vec::with_capacity(old.len() + 2 * parted);
        for (k, &[a, b, c]) in old.iter().enumerate() {
            let middle = u32::try_from(vertices.len());
            let (Ok(middle), true) = (
                middle,
                (k + 1) * parted / old.len() > k * parted / old.len(),
            ) else {
                new.push([a, b, c]);
                continue;
            };
            let [p, q, r] = self.corners(k);
            vertices.push(Point3::from((p.coords + q.coords + r.coords) / 3.0));
            new.extend([[a, b, middle], [b, c, middle], [c, a, middle]]);
        }
        Self {
            vertices,
            triangles: new,
        }
    }

    /// The same surface with every triangle split into four at its edges' middles.
    #[must_use]
    pub fn subdivided(&self) -> Self {
        let mut vertices = self.vertices.clone();
        let mut middles = std::collections::HashMap::new();
        let mut triangles = Vec::with_capacity(4 * self.triangles.len());
        for &[a, b, c] in &self.triangles {
            let [ab, bc, ca] = [(a, b), (b, c), (c, a)].map(|(u, v)| {
                *middles.entry((u.min(v), u.max(v))).or_insert_with(|| {
                    let middle =
                        nalgebra::center(&self.vertices[u as usize], &self.vertices[v as usize]);
                    vertices.push(middle);
                    u32::try_from(vertices.len() - 1).unwrap_or(u32::MAX)
                })
            });
            triangles.extend([[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]);
        }
        Self {
            vertices,
            triangles,
        }
    }

    /// Two meshes as one, their triangles unconnected; those of `self` come first.
    #[must_use]
    pub fn joined(&self, other: &Self) -> Self {
        let offset = u32::try_from(self.vertices.len()).unwrap_or(u32::MAX);
        let vertices = self
            .vertices
            .iter()
            .chain(&other.vertices)
            .copied()
            .collect();
        let moved = other.triangles.iter().map(|t| t.map(|i| i + offset));
        Self {
            vertices,
            triangles: self.triangles.iter().copied().chain(moved).collect(),
        }
    }

    fn mapped(&self, map: impl Fn(&Point3<f64>) -> Point3<f64>) -> Self {
        Self {
            vertices: self.vertices.iter().map(map).collect(),
            triangles: self.triangles.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use approx::assert_relative_eq;

    #[test]
    fn a_parted_mesh_is_the_same_surface_in_more_triangles() {
        let ball = crate::samples::sphere(10.0, 3);
        for triangles in [1, 200, 700, 5000] {
            let finer = ball.parted(triangles);
            let count = finer.triangles().len();
            assert!(
                count >= triangles.max(ball.triangles().len())
                    && count <= triangles.max(ball.triangles().len()) + 1
            );
            assert!((finer.volume() - ball.volume()).abs() < 1e-9 * ball.volume());
            assert!(crate::topology::faulty_edges(finer.triangles()).is_empty());
        }
    }

    #[test]
    fn a_box_has_its_volume_and_area() {
        let cuboid = samples::cuboid([2.0, 3.0, 4.0]);
        assert_relative_eq!(cuboid.volume(), 24.0, max_relative = 1e-15);
        assert_relative_eq!(cuboid.area(), 52.0, max_relative = 1e-15);
    }

    #[test]
    fn the_mirror_image_keeps_its_volume_and_the_reverse_loses_its_sign() {
        let cuboid = samples::cuboid([2.0, 3.0, 4.0]);
        assert_relative_eq!(cuboid.mirrored_x().volume(), 24.0, max_relative = 1e-15);
        assert_relative_eq!(cuboid.scaled(-1.0).volume(), 24.0, max_relative = 1e-15);
        assert_relative_eq!(cuboid.reversed().volume(), -24.0, max_relative = 1e-15);
    }

    #[test]
    fn subdividing_keeps_volume_and_quadruples_the_triangles() {
        let cuboid = samples::cuboid([2.0, 3.0, 4.0]);
        let fine = cuboid.subdivided();
        assert_eq!(fine.triangles().len(), 48);
        assert_eq!(fine.vertices().len(), 26);
        assert_relative_eq!(fine.volume(), 24.0, max_relative = 1e-14);
    }

    #[test]
    fn bad_input_is_refused_with_its_place() {
        let corner = Point3::origin();
        let nan = Point3::new(0.0, f64::NAN, 0.0);
        assert_eq!(TriMesh::new(vec![corner], vec![]), Err(BadMesh::Empty));
        assert!(matches!(
            TriMesh::new(vec![corner, nan], vec![[0, 1, 0]]),
            Err(BadMesh::NotFinite { vertex: 1, .. })
        ));
        assert_eq!(
            TriMesh::new(vec![corner], vec![[0, 0, 0], [0, 7, 0]]),
            Err(BadMesh::IndexOutOfRange {
                triangle: 1,
                index: 7,
                vertices: 1
            })
        );
    }
}
