//! The part of a tool's round side that lies in bone and in other bullets.

use nalgebra::Vector3;

use super::{MOST_CELLS, bend, signed_distance};
use crate::adaptive::{self, Bounded, Cell};
use crate::disc::Share;
use crate::polygon::Polygon;
use crate::shape::{Bullet, Hemisphere};
use crate::within::{self, View};
use crate::{Bounds, Solid};

/// The bound on the error of an area, in mm², that is aimed at.
const AREA_TOLERANCE: f64 = 1e-2;

/// The part of a tool's round side that lies in bullets.
pub(super) struct Shadow {
    view: View,
    bullets: Vec<Bullet>,
    smallest: f64,
}

/// How wide a cell may be, in radii of the smallest ball, for the distance to bullets to be nearly
/// linear over it: a turn of 12°.
const SMALL: f64 = 0.2;

impl Shadow {
    pub(super) fn of(tool: &Hemisphere, bullets: Vec<Bullet>) -> Self {
        let smallest = bullets
            .iter()
            .map(|b| b.head().radius())
            .fold(tool.radius(), f64::min);
        Self {
            view: View::of(tool),
            bullets,
            smallest,
        }
    }

    /// Area of the round side that lies in bone and in one of the bullets.
    ///
    /// As in [`within`], it is what the triangles show beyond the sphere; all of them are asked, so
    /// that it does not matter where the centre lies.
    pub(super) fn area(&self, solid: &Solid) -> Bounded {
        let centre = self.view.centre;
        let triangles = solid.tree().triangles_where(|b| self.may_show(b));
        let cells = triangles.into_iter().map(|t| {
            solid
                .mesh()
                .corners(t as usize)
                .map(|p| self.view.frame * (p - centre))
        });
        let cells = cells.collect();
        adaptive::integrate(cells, AREA_TOLERANCE, MOST_CELLS, |cell| self.beyond(cell))
    }

    /// Whether some of the shadow may be seen through the triangles in a box: it reaches beyond the
    /// sphere and below the equator, and the shadow comes within its angle.
    fn may_show(&self, b: &Bounds) -> bool {
        let (view, half) = (&self.view, b.extent() / 2.0);
        let middle = view.frame * (b.min + half - view.centre);
        let (distance, reach) = (middle.norm(), half.norm());
        if b.reach_from(&view.centre) < view.radius || middle.z > reach {
            return false;
        }
        if reach >= distance {
            return true;
        }
        let width = 2.0 * ((reach / distance).asin() / 2.0).sin() * view.radius;
        self.depth_at(&(middle / distance)) <= width * (1.0 + 1e-9)
    }

    /// The shadowed area seen through the part of a cell outside the ball and below the equator.
    fn beyond(&self, cell: &Cell) -> Bounded {
        let Some(triangle) = Polygon::triangle(*cell) else {
            return Bounded::exact(0.0);
        };
        let lower = within::below_equator(&triangle);
        let Share { whole, beyond, .. } = Share::of(&lower, self.view.radius);
        let partly = beyond.to_bits() != whole.to_bits() || lower.corners().len() > 3;
        self.shadowed(cell, beyond, if partly { beyond.abs() } else { 0.0 })
    }

    /// The shadowed part of `angle`, all of it seen through the cell; off by `edge` more where the
    /// edge of the shadow runs through the cell.
    fn shadowed(&self, cell: &Cell, angle: f64, edge: f64) -> Bounded {
        let r = self.view.radius;
        let directions = cell.map(|x| x.normalize());
        let centre = (directions[0] + directions[1] + directions[2]).normalize();
        let width = directions
            .map(|d| (d - centre).norm())
            .into_iter()
            .fold(0.0, f64::max)
            * r;
        let at = |d: &Vector3<f64>| self.depth_at(d);
        if angle.abs() <= 0.0 || at(&centre) > width {
            return Bounded::exact(0.0);
        }
        if at(&centre) < -width {
            return Bounded::exact(r * r * angle);
        }
        let corners = directions.map(|d| at(&d));
        let [a, b, c] = directions;
        let middles = [a + b, b + c, c + a].map(|d| at(&d.normalize()));
        let values = || corners.iter().chain(&middles);
        let (low, high) = values().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
        // In a cell small beside the bullets the distance is nearly linear, and how far it is not
        // shows in the middles of its edges.
        let slack = 2.0 * bend(&corners, &middles);
        if width < SMALL * self.smallest {
            if low > slack {
                return Bounded::exact(0.0);
            }
            if high < -slack {
                return Bounded::exact(r * r * angle);
            }
        }
        // The edge of the shadow lies within the slack of where the linear function is 0: a strip.
        let strip = if width < SMALL * self.smallest {
            (2.0 * slack / (high - low)).min(1.0)
        } else {
            1.0
        };
        let uncertain = (angle.abs() * strip).max(edge);
        Bounded {
            value: r * r * angle * share_below_zero(corners),
            error_bound: r * r * uncertain,
        }
    }

    /// Signed distance to the bullets from where a direction meets the sphere.
    fn depth_at(&self, direction: &Vector3<f64>) -> f64 {
        let on_sphere =
            self.view.centre + self.view.frame.transpose() * direction * self.view.radius;
        signed_distance(&self.bullets, &on_sphere)
    }
}

/// Share of a triangle where the linear function with these values at its corners is negative.
fn share_below_zero(mut values: [f64; 3]) -> f64 {
    values.sort_by(f64::total_cmp);
    let [low, middle, high] = values;
    if low >= 0.0 {
        0.0
    } else if high <= 0.0 {
        1.0
    } else if middle >= 0.0 {
        low / (low - middle) * (low / (low - high))
    } else {
        1.0 - high / (high - middle) * (high / (high - low))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_share_of_a_triangle_below_zero() {
        let cases = [
            ([-1.0, -2.0, -3.0], 1.0),
            ([1.0, 2.0, 0.0], 0.0),
            ([-1.0, 1.0, 1.0], 0.25),
            ([1.0, -1.0, -1.0], 0.75),
        ];
        for (values, share) in cases {
            assert_relative_eq!(share_below_zero(values), share);
        }
    }
}
