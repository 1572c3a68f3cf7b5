//! Building blocks of the implicit bone: fields in mm, negative inside, that grow about one per mm.

use nalgebra::{Matrix3, Point3, Vector3};

use super::spline::{ThinPlate, closed_curve, open_curve};
use super::table::{Table, distance_to_polygon, index, nearest_on_polygon, whole};

/// The lesser of two fields with the crease between them filled over a width of `blend` mm.
pub(super) fn joined(a: f64, b: f64, blend: f64) -> f64 {
    let near = (blend - (a - b).abs()).max(0.0);
    a.min(b) - near * near / (4.0 * blend)
}

/// The greater of two fields with the edge between them rounded over a width of `blend` mm.
pub(super) fn common(a: f64, b: f64, blend: f64) -> f64 {
    -joined(-a, -b, blend)
}

/// 0 below `low`, 1 above `high`, smooth between.
pub(super) fn ramp(low: f64, high: f64, x: f64) -> f64 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// A point of a plate's outline and how much the plate swells there beyond its own thickness.
#[derive(Clone, Copy)]
pub(super) struct Edge {
    /// Where the middle of the edge runs, mm.
    pub(super) at: Point3<f64>,
    /// Added half thickness at the edge, mm.
    pub(super) swell: f64,
}

/// A point of a plate and the half thickness there.
#[derive(Clone, Copy)]
pub(super) struct Knot {
    /// On or near the middle surface, mm.
    pub(super) at: Point3<f64>,
    /// Half the thickness, mm.
    pub(super) half: f64,
}

/// What a plate is made from.
pub(super) struct PlateShape {
    /// The direction to look along; the plate is a graph over the plane across it.
    pub(super) normal: Vector3<f64>,
    /// Its border, in order.
    pub(super) outline: Vec<Edge>,
    /// A hole's border, in order; empty for none.
    pub(super) hole: Vec<Point3<f64>>,
    /// Where it is how thick.
    pub(super) knots: Vec<Knot>,
    /// Points of the middle surface besides those of the outline.
    pub(super) middle: Vec<Point3<f64>>,
    /// How far the swelling reaches inwards from the edge, mm.
    pub(super) reach: f64,
    /// How much the middle surface may pass by its points in favour of bending less.
    pub(super) stiffness: f64,
}

/// A curved plate of varying thickness with rounded edges.
pub(super) struct Plate {
    origin: Point3<f64>,
    to_plate: Matrix3<f64>,
    /// Outline distance, height of the middle, half thickness, and cosine of the slope.
    table: Table<4>,
}

impl Plate {
    const STEP: f64 = 2.0;
    const MARGIN: f64 = 24.0;

    pub(super) fn new(shape: &PlateShape) -> Self {
        let origin = shape.outline[0].at;
        let to_plate = frame_across(shape.normal);
        let flat = |p: &Point3<f64>| to_plate * (p - origin);
        let outline: Vec<_> = shape.outline.iter().map(|e| flat(&e.at)).collect();
        let hole: Vec<[f64; 2]> = shape.hole.iter().map(flat).map(|q| [q.x, q.y]).collect();
        let mut middle: Vec<[f64; 3]> = outline.iter().map(|q| [q.x, q.y, q.z]).collect();
        middle.extend(shape.middle.iter().map(flat).map(|q| [q.x, q.y, q.z]));
        let mut halves = Vec::new();
        for knot in &shape.knots {
            let q = flat(&knot.at);
            halves.push([q.x, q.y, knot.half]);
        }
        let (middle, half) = (
            ThinPlate::through(&middle, shape.stiffness),
            ThinPlate::through(&halves, 2000.0),
        );
        const PER_SPAN: u32 = 12;
        let corners: Vec<[f64; 2]> = outline.iter().map(|q| [q.x, q.y]).collect();
        let border = closed_curve(&corners, PER_SPAN);
        let opening = (!hole.is_empty()).then(|| closed_curve(&hole, PER_SPAN));
        let bound = |pick: fn(f64, f64) -> f64, start: f64, margin: f64| {
            std::array::from_fn(|c| corners.iter().fold(start, |m, q| pick(m, q[c])) + margin)
        };
        let least = halves.iter().fold(f64::MAX, |m, h| m.min(h[2]));
        let swells: Vec<f64> = shape.outline.iter().map(|e| e.swell).collect();
        let at = |u: f64, v: f64| {
            let (mut edge, place) = nearest_on_polygon(&border, [u, v]);
            let along = place / f64::from(PER_SPAN);
            let swell =
                along_outline(&swells, along) * (-(edge.min(0.0) / shape.reach).powi(2)).exp();
            if let Some(opening) = &opening {
                edge = edge.max(-distance_to_polygon(opening, [u, v]));
            }
            let slope = [
                middle.at(u + 0.5, v) - middle.at(u - 0.5, v),
                middle.at(u, v + 0.5) - middle.at(u, v - 0.5),
            ];
            let cosine = 1.0 / (1.0 + slope[0] * slope[0] + slope[1] * slope[1]).sqrt();
            [
                edge,
                middle.at(u, v),
                half.at(u, v).max(least) + swell,
                cosine,
            ]
        };
        let table = Table::of(
            bound(f64::min, f64::MAX, -Self::MARGIN),
            bound(f64::max, f64::MIN, Self::MARGIN),
            Self::STEP,
            at,
        );
        Self {
            origin,
            to_plate,
            table,
        }
    }

    /// The field at `p`.
    pub(super) fn at(&self, p: &Point3<f64>) -> f64 {
        let q = self.to_plate * (p - self.origin);
        let ([edge, middle, half, cosine], outside) = self.table.at(q.x, q.y);
        let radius = half * cosine;
        let past_edge = (edge + outside + radius).max(0.0);
        let above = (q.z - middle) * cosine;
        past_edge.hypot(above) - radius
    }

    /// Signed distance, about, from `p` to the surface half a thickness below the middle, as seen
    /// from above: positive above it.
    pub(super) fn above_underside(&self, p: &Point3<f64>) -> f64 {
        let q = self.to_plate * (p - self.origin);
        let ([_, middle, half, cosine], _) = self.table.at(q.x, q.y);
        (q.z - middle) * cosine + half * cosine
    }
}

/// The swelling at a place along the outline, given at its corners; `along` counts corners.
fn along_outline(swells: &[f64], along: f64) -> f64 {
    let along = along.rem_euclid(index(swells.len()));
    let i = whole(along) % swells.len();
    let t = ramp(0.0, 1.0, along - index(i));
    swells[i] + t * (swells[(i + 1) % swells.len()] - swells[i])
}

/// Rows: two directions across `normal`, then `normal` itself, right-handed.
fn frame_across(normal: Vector3<f64>) -> Matrix3<f64> {
    let w = normal.normalize();
    let aside = if w.z.abs() < 0.9 {
        Vector3::z()
    } else {
        Vector3::y()
    };
    let u = aside.cross(&w).normalize();
    let v = w.cross(&u);
    Matrix3::from_rows(&[u.transpose(), v.transpose(), w.transpose()])
}

/// A tube of varying radius along a smooth curve; a single point makes a ball.
pub(super) struct Tube {
    pieces: Vec<(Point3<f64>, f64, Vector3<f64>, f64, f64)>,
    middle: Point3<f64>,
    reach: f64,
    /// Width over which it merges into the rest, mm.
    pub(super) blend: f64,
}

impl Tube {
    /// Through `(point, radius)`, merging over `blend` mm.
    pub(super) fn through(points: &[(Point3<f64>, f64)], blend: f64) -> Self {
        let points: Vec<[f64; 4]> = points.iter().map(|(p, r)| [p.x, p.y, p.z, *r]).collect();
        let curve = if points.len() == 1 {
            vec![points[0], points[0]]
        } else {
            open_curve(&points, 12)
        };
        let place = |c: &[f64; 4]| Point3::new(c[0], c[1], c[2]);
        let pieces = curve
            .windows(2)
            .map(|w| {
                let along = place(&w[1]) - place(&w[0]);
                let square = along.norm_squared();
                let per_length = if square > 0.0 { 1.0 / square } else { 0.0 };
                (place(&w[0]), w[0][3], along, w[1][3] - w[0][3], per_length)
            })
            .collect();
        let middle = nalgebra::center(&place(&curve[0]), &place(&curve[curve.len() - 1]));
        let reach = curve
            .iter()
            .map(|c| (place(c) - middle).norm() + c[3])
            .fold(0.0, f64::max);
        Self {
            pieces,
            middle,
            reach,
            blend,
        }
    }

    /// The field at `p`, joined to `field`.
    pub(super) fn join(&self, p: &Point3<f64>, field: f64) -> f64 {
        if (p - self.middle).norm() - self.reach > field + self.blend {
            return field;
        }
        let nearest = self
            .pieces
            .iter()
            .map(|(start, radius, along, widening, per_length)| {
                let to = p - start;
                let t = (to.dot(along) * per_length).clamp(0.0, 1.0);
                (to - t * along).norm() - radius - t * widening
            })
            .fold(f64::MAX, f64::min);
        joined(field, nearest, self.blend)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn joining_fills_and_cutting_rounds_only_near_the_crease() {
        assert_relative_eq!(joined(5.0, 1.0, 2.0), 1.0);
        assert_relative_eq!(joined(1.0, 1.0, 4.0), 0.0);
        assert_relative_eq!(common(1.0, 1.0, 4.0), 2.0);
        assert_relative_eq!(common(-7.0, 1.0, 4.0), 1.0);
    }

    #[test]
    fn a_flat_plate_has_its_thickness_and_a_rounded_edge() {
        let at = |x: f64, y: f64| Point3::new(x, y, 0.0);
        let corners = [
            at(-30.0, -30.0),
            at(30.0, -30.0),
            at(30.0, 30.0),
            at(-30.0, 30.0),
        ];
        let plate = Plate::new(&PlateShape {
            normal: Vector3::z(),
            outline: corners.map(|at| Edge { at, swell: 0.0 }).to_vec(),
            hole: vec![],
            knots: corners.map(|at| Knot { at, half: 3.0 }).to_vec(),
            middle: vec![],
            reach: 8.0,
            stiffness: 0.0,
        });
        for z in [3.0, -3.0] {
            assert_relative_eq!(plate.at(&Point3::new(2.0, 5.0, z)), 0.0, epsilon = 1e-6);
        }
        assert!(plate.at(&Point3::new(60.0, 0.0, 0.0)) > 15.0);
    }

    #[test]
    fn a_tube_is_as_thick_as_its_points_say() {
        let ends = [(Point3::origin(), 4.0), (Point3::new(20.0, 0.0, 0.0), 4.0)];
        let tube = Tube::through(&ends, 1.0);
        let far = 100.0;
        assert_relative_eq!(
            tube.join(&Point3::new(10.0, 4.0, 0.0), far),
            0.0,
            epsilon = 1e-9
        );
        assert_relative_eq!(
            tube.join(&Point3::new(27.0, 0.0, 0.0), far),
            3.0,
            epsilon = 1e-9
        );
    }
}
