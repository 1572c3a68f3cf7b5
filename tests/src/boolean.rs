//! An independent answer from a general mesh boolean (boolmesh): the tool as a faceted mesh, cut
//! with the bone, the faceting removed by extrapolation over the number of facets.

use std::f64::consts::{FRAC_PI_2, TAU};

use boolmesh::prelude::{Manifold, OpType, compute_boolean};
use cupwright_geometry::{Bullet, Hemisphere, Solid};
use nalgebra::{Point3, Vector3};

/// The origin of a triangle in the result of a boolean, carried through it as a value.
const BONE: f64 = 0.0;
const ROUND: f64 = 1.0;
const OTHER: f64 = 2.0;

/// A bone ready for boolean operations.
pub struct BoolBone(Manifold<f64>);

/// A faceted tool: half ball, and a column above it where it has one.
pub struct FacetedTool {
    manifold: Manifold<f64>,
    /// Area of the facets of the round side, in mm².
    round_area: f64,
    /// Length of the polygon at the edge, in mm.
    rim_length: f64,
}

/// What a boolean says of a half ball in bone.
#[derive(Clone, Copy, Debug)]
pub struct InBone {
    /// Volume of bone in the tool, in mm³.
    pub volume: f64,
    /// Share of the round side in bone.
    pub coverage: f64,
    /// Share of the edge in bone.
    pub rim_contact: f64,
}

impl BoolBone {
    /// The bone as the boolean library wants it.
    ///
    /// # Panics
    /// When the library refuses it.
    pub fn new(solid: &Solid) -> Self {
        let mesh = solid.mesh();
        let positions: Vec<f64> = mesh
            .vertices()
            .iter()
            .flat_map(|p| [p.x, p.y, p.z])
            .collect();
        let indices: Vec<usize> = mesh
            .triangles()
            .iter()
            .flatten()
            .map(|&i| i as usize)
            .collect();
        Self(manifold(&positions, &indices, &vec![BONE; indices.len()]))
    }

    /// Volume of the bone after the tool is taken away, in mm³: the peer of one reamer step.
    ///
    /// # Panics
    /// When the library fails.
    pub fn subtracted(&self, tool: &FacetedTool) -> f64 {
        volume(&operate(&self.0, &tool.manifold, OpType::Subtract))
    }

    /// Volume of the bone inside the union of the tools, in mm³.
    ///
    /// # Panics
    /// When the library fails.
    pub fn inside_union(&self, tools: &[FacetedTool]) -> f64 {
        let Some((first, rest)) = tools.split_first() else {
            return 0.0;
        };
        let mut left = operate(&self.0, &first.manifold, OpType::Subtract);
        for tool in rest {
            left = operate(&left, &tool.manifold, OpType::Subtract);
        }
        volume(&self.0) - volume(&left)
    }

    /// The measures of a half ball in the bone.
    ///
    /// # Panics
    /// When the library fails.
    pub fn intersected(&self, tool: &FacetedTool) -> InBone {
        let inside = operate(&self.0, &tool.manifold, OpType::Intersect);
        let mut round_area = 0.0;
        let mut rim = std::collections::BTreeMap::<(usize, usize), f64>::new();
        for t in 0..inside.hs.len() / 3 {
            let corners: [usize; 3] = std::array::from_fn(|k| inside.hs[3 * t + k].tail);
            let points = corners.map(|i| point(&inside, i));
            let origin = inside.vals[3 * t];
            if is(origin, ROUND) {
                round_area += (points[1] - points[0])
                    .cross(&(points[2] - points[0]))
                    .norm()
                    / 2.0;
            }
            if is(origin, ROUND) || is(origin, OTHER) {
                for k in 0..3 {
                    let (i, j) = (corners[k], corners[(k + 1) % 3]);
                    // +1 from the round side, +10 from the flat one: 11 on the edge between them.
                    *rim.entry((i.min(j), i.max(j))).or_default() +=
                        if is(origin, ROUND) { 1.0 } else { 10.0 };
                }
            }
        }
        let edges = rim.iter().filter(|(_, sum)| (*sum - 11.0).abs() < 0.5);
        let rim_length: f64 = edges
            .map(|((i, j), _)| (point(&inside, *i) - point(&inside, *j)).norm())
            .sum();
        InBone {
            volume: volume(&inside),
            coverage: round_area / tool.round_area,
            rim_contact: rim_length / tool.rim_length,
        }
    }
}

impl FacetedTool {
    /// A half ball of `segments` facets around.
    pub fn half_ball(head: &Hemisphere, segments: u32) -> Self {
        Self::new(head, 0.0, segments)
    }

    /// A bullet of `segments` facets around; its column must be finite.
    pub fn bullet(bullet: &Bullet, segments: u32) -> Self {
        Self::new(bullet.head(), bullet.column(), segments)
    }

    /// Each ring is a polygon of the area of its circle, so that the tool has the true cross-sections.
    fn new(head: &Hemisphere, column: f64, segments: u32) -> Self {
        let rings = segments / 4;
        let step = TAU / f64::from(segments);
        let grown = (step / step.sin()).sqrt() * head.radius();
        let axis = head.axis().into_inner();
        let [first, second] = head.rim().directions();
        let at = |rho: f64, turn: u32, height: f64| {
            // A turn by no round angle, so that no facet lies along an edge of the bone.
            let angle = step * (f64::from(turn) + 0.317);
            head.centre()
                + rho * (angle.cos() * first.into_inner() + angle.sin() * second.into_inner())
                + height * axis
        };
        let mut points = vec![head.centre() - head.radius() * axis];
        for ring in 1..=rings {
            let polar = FRAC_PI_2 * f64::from(ring) / f64::from(rings);
            points.extend(
                (0..segments).map(|k| at(grown * polar.sin(), k, -head.radius() * polar.cos())),
            );
        }
        let mut faces: Vec<([u32; 3], f64)> = Vec::new();
        for k in 0..segments {
            faces.push(([0, 1 + (k + 1) % segments, 1 + k], ROUND));
        }
        for ring in 1..rings {
            band(&mut faces, ring - 1, segments, ROUND);
        }
        let mut top = rings - 1;
        if column > 0.0 {
            points.extend((0..segments).map(|k| at(grown, k, column)));
            band(&mut faces, top, segments, OTHER);
            top += 1;
        }
        points.push(head.centre() + column * axis);
        let middle = u32::try_from(points.len() - 1).unwrap_or(u32::MAX);
        let rim = 1 + top * segments;
        for k in 0..segments {
            faces.push(([middle, rim + k, rim + (k + 1) % segments], OTHER));
        }
        Self::of_faces(
            &points,
            &faces,
            f64::from(segments) * 2.0 * grown * (step / 2.0).sin(),
        )
    }

    fn of_faces(points: &[Point3<f64>], faces: &[([u32; 3], f64)], rim_length: f64) -> Self {
        let positions: Vec<f64> = points.iter().flat_map(|p| [p.x, p.y, p.z]).collect();
        let indices: Vec<usize> = faces
            .iter()
            .flat_map(|(face, _)| face.map(|i| i as usize))
            .collect();
        let values: Vec<f64> = faces.iter().flat_map(|(_, origin)| [*origin; 3]).collect();
        let area = |face: &[u32; 3]| {
            let [a, b, c] = face.map(|i| points[i as usize]);
            (b - a).cross(&(c - a)).norm() / 2.0
        };
        let round_area = faces
            .iter()
            .filter(|(_, origin)| is(*origin, ROUND))
            .map(|(face, _)| area(face))
            .sum();
        Self {
            manifold: manifold(&positions, &indices, &values),
            round_area,
            rim_length,
        }
    }
}

/// The limit of `measure(n)` for many segments, from n, 2n and 4n, its error falling as 1/n², 1/n⁴.
pub fn extrapolated<const N: usize>(segments: u32, measure: impl Fn(u32) -> [f64; N]) -> [f64; N] {
    let [coarse, middle, fine] = [1, 2, 4].map(|k| measure(segments * k));
    std::array::from_fn(|k| {
        let first = (4.0 * middle[k] - coarse[k]) / 3.0;
        let second = (4.0 * fine[k] - middle[k]) / 3.0;
        (16.0 * second - first) / 15.0
    })
}

/// The band of facets between ring `lower` and the next.
fn band(faces: &mut Vec<([u32; 3], f64)>, lower: u32, segments: u32, origin: f64) {
    for k in 0..segments {
        let (a, b) = (
            1 + lower * segments + k,
            1 + lower * segments + (k + 1) % segments,
        );
        let (c, d) = (a + segments, b + segments);
        faces.extend([([a, b, d], origin), ([a, d, c], origin)]);
    }
}

fn is(value: f64, origin: f64) -> bool {
    (value - origin).abs() < 0.25
}

fn manifold(positions: &[f64], indices: &[usize], values: &[f64]) -> Manifold<f64> {
    match Manifold::new_with_values(positions, indices, values) {
        Ok(manifold) => manifold,
        Err(problem) => panic!("the boolean library refuses a mesh: {problem}"),
    }
}

fn operate(a: &Manifold<f64>, b: &Manifold<f64>, operation: OpType) -> Manifold<f64> {
    match compute_boolean(a, b, operation) {
        Ok(result) => result,
        Err(problem) => panic!("the boolean library failed: {problem}"),
    }
}

fn point(manifold: &Manifold<f64>, index: usize) -> Vector3<f64> {
    let p = manifold.ps[index];
    Vector3::new(p.x, p.y, p.z)
}

fn volume(manifold: &Manifold<f64>) -> f64 {
    let six = (0..manifold.hs.len() / 3).map(|t| {
        let [a, b, c]: [Vector3<f64>; 3] =
            std::array::from_fn(|k| point(manifold, manifold.hs[3 * t + k].tail));
        a.dot(&b.cross(&c))
    });
    six.sum::<f64>() / 6.0
}
