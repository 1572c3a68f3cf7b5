//! Cups and reamers as closed thin shells, to look at and to export.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use nalgebra::{Point3, Vector3};

use super::Tolerance;
use crate::{BadShape, Ball, Hemisphere, TriMesh};

/// The most facets round a shell; its chords are then 1e-7 of its radius off.
const MOST_FACETS: f64 = 4096.0;

/// A half ball's round side as a closed shell, `thickness` mm thick inward, its edge flat.
///
/// Vertices lie on the true surfaces; facets stand off them by at most `tolerance`.
///
/// # Errors
/// When the thickness is not positive or leaves no hollow.
pub fn half_ball(
    head: &Hemisphere,
    thickness: f64,
    tolerance: Tolerance,
) -> Result<TriMesh, BadShape> {
    let hollow = Ball::new(head.centre(), head.radius() - thickness)?;
    if !(thickness > 0.0 && hollow.radius() < head.radius()) {
        return Err(BadShape::Size {
            what: "the thickness",
            value: thickness,
        });
    }
    let facets = facets(head.radius(), tolerance.mm());
    let rings = facets / 4;
    let mut vertices = dome(head, head.radius(), facets);
    let inner = u32::try_from(vertices.len()).unwrap_or(u32::MAX);
    vertices.extend(dome(head, hollow.radius(), facets));
    let mut triangles = Vec::new();
    for k in 0..facets {
        let next = (k + 1) % facets;
        let at = |ring: u32, turn: u32| 1 + ring * facets + turn;
        let mut outer_and_inner = |[a, b, c]: [u32; 3]| {
            triangles.push([a, b, c]);
            triangles.push([a + inner, c + inner, b + inner]);
        };
        outer_and_inner([0, at(0, next), at(0, k)]);
        for ring in 1..rings {
            let (a, b) = (at(ring - 1, k), at(ring - 1, next));
            let (c, d) = (at(ring, k), at(ring, next));
            outer_and_inner([a, b, d]);
            outer_and_inner([a, d, c]);
        }
        let (a, b) = (at(rings - 1, k), at(rings - 1, next));
        triangles.extend([[a, b, b + inner], [a, b + inner, a + inner]]);
    }
    TriMesh::new(vertices, triangles).map_err(|_| BadShape::Centre { at: head.centre() })
}

/// Facets round a circle, a multiple of four; the corners of a quadrilateral facet's triangles stand
/// off twice as far as an edge's middle does.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "between 8 and MOST_FACETS"
)]
fn facets(radius: f64, tolerance: f64) -> u32 {
    let half_turn = (1.0 - (0.5 * tolerance / radius).min(0.5)).acos();
    4 * (PI / half_turn / 4.0).ceil().clamp(2.0, MOST_FACETS / 4.0) as u32
}

/// The lowest point of a half ball of some radius, and its rings from there to the edge.
fn dome(head: &Hemisphere, radius: f64, facets: u32) -> Vec<Point3<f64>> {
    let [first, second] = head.rim().directions();
    let (first, second, axis) = (
        first.into_inner(),
        second.into_inner(),
        head.axis().into_inner(),
    );
    let rings = facets / 4;
    let mut points = vec![head.centre() - radius * axis];
    for ring in 1..=rings {
        let (sin, cos) = if ring == rings {
            (1.0, 0.0)
        } else {
            (FRAC_PI_2 * f64::from(ring) / f64::from(rings)).sin_cos()
        };
        points.extend((0..facets).map(|k| {
            let (s, c) = (TAU * f64::from(k) / f64::from(facets)).sin_cos();
            let out: Vector3<f64> = c * first + s * second;
            head.centre() + radius * (sin * out - cos * axis)
        }));
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Solid, intersections, topology};
    use approx::assert_relative_eq;

    fn head(radius: f64) -> Hemisphere {
        Hemisphere::new([1.0, 2.0, 3.0].into(), [1.0, 2.0, 2.0].into(), radius).unwrap()
    }

    #[test]
    fn a_shell_is_closed_and_has_the_volume_between_two_half_balls() {
        let tolerance = Tolerance::new(0.002).unwrap();
        let shell = half_ball(&head(25.0), 3.0, tolerance).unwrap();
        assert!(topology::faulty_edges(shell.triangles()).is_empty());
        assert!(intersections::crossing_pairs(&shell).is_empty());
        let exact = TAU / 3.0 * (25.0_f64.powi(3) - 22.0_f64.powi(3));
        assert_relative_eq!(shell.volume(), exact, max_relative = 1e-3);
        assert!(Solid::try_from(shell).is_ok());
    }

    #[test]
    fn a_shell_without_thickness_or_without_hollow_is_refused() {
        for thickness in [0.0, -1.0, f64::NAN, 25.0, 30.0] {
            assert!(half_ball(&head(25.0), thickness, Tolerance::default()).is_err());
        }
    }
}
