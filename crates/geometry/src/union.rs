//! Several reamers that are not inside one another: the bone they remove together, and the bone
//! left behind a cup.
//!
//! Reamers of one socket share a point, and their union is seen whole from it: along each direction
//! ω it reaches ρ(ω), the farthest of theirs. With w the winding number of that point,
//!
//! `V = w · vol(U) − Σ ± ∫ (ρ³ − min(ρ_triangle, ρ)³)/3 dω`
//!
//! over the triangles of the bone that lie in the union. The integrals are taken adaptively over
//! ever smaller triangles; the value comes with the bound on its error. Where one reamer encloses
//! the others the answer is that of it alone, exactly.

use nalgebra::{Point3, Vector3};
use thiserror::Error;

use crate::adaptive::{self, Bounded, Cell};
use crate::column;
use crate::disc::Share;
use crate::polygon::Polygon;
use crate::shape::{Bullet, Hemisphere};
use crate::within::{self, View};
use crate::{Bounds, Solid};

/// The bound on the error of a volume, in mm³, that is aimed at.
const VOLUME_TOLERANCE: f64 = 5e-3;

/// The bound on the error of an area, in mm², that is aimed at.
const AREA_TOLERANCE: f64 = 1e-2;

/// The most triangles that an integral is split into: a few hundred megabytes, and far more than
/// any plan tried here needs (offsets of some millimetres take 20,000 to 200,000).
const MOST_CELLS: usize = 2_000_000;

/// Reamers without a common point: they cut separate holes, not one socket.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error(
    "the reamers share no point: no place is inside all of them (the best is {short:.2} mm outside one); \
     work them as separate plans"
)]
pub struct NoCommonPoint {
    /// How far the best place found lies outside the farthest reamer, in mm.
    pub short: f64,
}

/// Volume of the bone that lies in at least one of the bullets, in mm³.
///
/// # Errors
/// When bullets of which none encloses the others share no point.
pub fn volume_in_union(solid: &Solid, bullets: &[Bullet]) -> Result<Bounded, NoCommonPoint> {
    match &outermost(bullets)[..] {
        [] => Ok(Bounded::exact(0.0)),
        [one] => Ok(Bounded::exact(column::volume_in_bullet(solid, one))),
        several => Star::new(solid, several).map(|star| star.volume(solid)),
    }
}

/// Area of a cup's or reamer's round side that lies in bone and in none of the bullets, in mm².
///
/// Exact where each bullet, drawn out along the tool's axis, lies within the tool or holds all of it;
/// otherwise with a bound on its error.
pub fn area_outside(solid: &Solid, tool: &Hemisphere, bullets: &[Bullet]) -> Bounded {
    let (swept, round_side) = (Bullet::open(*tool), Bullet::half_ball(*tool));
    if bullets.iter().any(|b| b.encloses(&round_side)) {
        return Bounded::exact(0.0);
    }
    let whole = within::hemisphere(solid, tool).area;
    let mut across = outermost(bullets);
    across.retain(|b| !swept.encloses(b));
    if across.is_empty() {
        return Bounded::exact(whole);
    }
    let taken = Shadow::of(tool, across).area(solid);
    Bounded {
        value: (whole - taken.value).clamp(0.0, whole),
        error_bound: taken.error_bound,
    }
}

/// The bullets that no other encloses, equal ones once.
pub fn outermost(bullets: &[Bullet]) -> Vec<Bullet> {
    let mut kept: Vec<Bullet> = Vec::new();
    for bullet in bullets {
        if !kept.iter().any(|k| k.encloses(bullet)) {
            kept.retain(|k| !bullet.encloses(k));
            kept.push(*bullet);
        }
    }
    kept
}

/// A union of bullets about a point that lies inside all of them.
struct Star {
    middle: Point3<f64>,
    bullets: Vec<Bullet>,
}

impl Star {
    fn new(solid: &Solid, bullets: &[Bullet]) -> Result<Self, NoCommonPoint> {
        let bullets: Vec<_> = bullets.iter().map(|b| shortened(solid, b)).collect();
        let middle = common_point(solid, &bullets)?;
        Ok(Self { middle, bullets })
    }

    fn volume(&self, solid: &Solid) -> Bounded {
        let inside = solid.tree().triangles_where(|b| self.touches(b));
        let cells = inside.into_iter().map(|t| {
            let [a, b, c] = solid.mesh().corners(t as usize).map(|p| p - self.middle);
            [a, c, b]
        });
        let beyond = |reach: f64| (reach.powi(3) - 1.0).max(0.0);
        let cut = adaptive::integrate(cells, VOLUME_TOLERANCE, MOST_CELLS, |cell| {
            if self.clearance(cell) >= 0.0 {
                Bounded::exact(0.0)
            } else {
                self.cones(cell, beyond)
            }
        });
        let winding = f64::from(solid.winding(&self.middle));
        if winding.abs() < 0.5 {
            return cut;
        }
        let all = adaptive::integrate(octahedron(), VOLUME_TOLERANCE, MOST_CELLS, |cell| {
            self.cones(cell, |reach| reach.powi(3))
        });
        Bounded {
            value: cut.value + winding * all.value,
            error_bound: cut.error_bound + winding.abs() * all.error_bound,
        }
    }

    fn touches(&self, b: &Bounds) -> bool {
        let half = b.extent() / 2.0;
        self.signed_distance(&(b.min + half)) <= half.norm()
    }

    fn signed_distance(&self, point: &Point3<f64>) -> f64 {
        signed_distance(&self.bullets, point)
    }

    /// How far a cell stays clear of the union, in mm; negative when it may reach into it.
    fn clearance(&self, cell: &Cell) -> f64 {
        let (centre, radius) = circumscribed(cell);
        self.signed_distance(&(self.middle + centre)) - radius
    }

    /// Signed volume of the cones over a cell, each as long as `measure` makes of its reach: how
    /// many times the distance of the cell the union extends along it.
    fn cones(&self, cell: &Cell, measure: impl Fn(f64) -> f64) -> Bounded {
        let third = (cell[1] - cell[0])
            .cross(&(cell[2] - cell[0]))
            .dot(&cell[0])
            / 6.0;
        let mut seen = Seen::default();
        let mut rule = |cell: &Cell| -> f64 {
            let terms = adaptive::radon_points().map(|(at, weight)| {
                weight * self.look(&adaptive::point_in(cell, at), &measure, &mut seen)
            });
            terms.iter().sum()
        };
        let coarse = rule(cell);
        let fine: f64 = adaptive::quarters(cell).iter().map(&mut rule).sum::<f64>() / 4.0;
        let (centre, radius) = circumscribed(cell);
        let depth = radius - self.signed_distance(&(self.middle + centre));
        let mut uncertain = (fine - coarse)
            .abs()
            .max(seen.between_bullets(self, &measure));
        if depth < 2.0 * radius {
            // The surface of the union may pass through the cell.
            uncertain = uncertain.max(measure(1.0 + depth / centre.norm()) - measure(1.0));
        }
        Bounded {
            value: third * fine,
            error_bound: (third * uncertain).abs(),
        }
    }

    /// The measure of the union's reach along `x`, noting by which bullet it is reached.
    fn look(&self, x: &Vector3<f64>, measure: impl Fn(f64) -> f64, seen: &mut Seen) -> f64 {
        let distance = x.norm();
        let direction = x / distance;
        let exits = self
            .bullets
            .iter()
            .map(|b| b.exit(&self.middle, &direction));
        let (farthest, exit) =
            exits.enumerate().fold(
                (0, 0.0),
                |best, (k, t)| if t > best.1 { (k, t) } else { best },
            );
        seen.note(farthest, direction, distance);
        measure(exit / distance)
    }
}

/// The directions looked along in a cell, with the bullet that reaches farthest there.
#[derive(Default)]
struct Seen {
    looks: Vec<(usize, Vector3<f64>, f64)>,
}

impl Seen {
    fn note(&mut self, farthest: usize, direction: Vector3<f64>, distance: f64) {
        self.looks.push((farthest, direction, distance));
    }

    /// Where different bullets reach farthest in different parts of a cell, the largest difference
    /// between them: an integral across the crease between them is no further off than that.
    fn between_bullets(&self, star: &Star, measure: impl Fn(f64) -> f64) -> f64 {
        let mut farthest: Vec<usize> = self.looks.iter().map(|look| look.0).collect();
        farthest.sort_unstable();
        farthest.dedup();
        if farthest.len() < 2 {
            return 0.0;
        }
        let spread = self.looks.iter().map(|(_, direction, distance)| {
            let reach =
                |k: &usize| measure(star.bullets[*k].exit(&star.middle, direction) / distance);
            let reaches = farthest.iter().map(reach);
            let (low, high) = reaches.fold((f64::MAX, f64::MIN), |(l, h), r| (l.min(r), h.max(r)));
            high - low
        });
        spread.fold(0.0, f64::max)
    }
}

/// An open bullet cut just above the last bone in its column, which takes away no bone.
fn shortened(solid: &Solid, bullet: &Bullet) -> Bullet {
    if bullet.column().is_finite() {
        return *bullet;
    }
    let head = bullet.head();
    let triangles = solid.tree().triangles_where(column::touches(head));
    let heights = triangles
        .iter()
        .flat_map(|&t| solid.mesh().corners(t as usize));
    let top = heights
        .map(|p| (p - head.centre()).dot(&head.axis()))
        .fold(0.0, f64::max);
    Bullet::with_column(*head, top + 2.0 * head.radius()).unwrap_or(*bullet)
}

/// A point inside all bullets, well inside and outside bone where there is a choice.
fn common_point(solid: &Solid, bullets: &[Bullet]) -> Result<Point3<f64>, NoCommonPoint> {
    let count = bullets.iter().map(|_| 1.0).sum::<f64>();
    let heads = || bullets.iter().map(Bullet::head);
    let middle = heads().map(|h| h.centre().coords).sum::<Vector3<f64>>() / count;
    let axis = heads().map(|h| h.axis().into_inner()).sum::<Vector3<f64>>();
    let radius = heads().map(Hemisphere::radius).fold(f64::MAX, f64::min);
    let up = axis.try_normalize(1e-6).unwrap_or_else(Vector3::zeros) * radius;
    let short = |p: &Point3<f64>| {
        bullets
            .iter()
            .map(|b| b.signed_distance(p))
            .fold(f64::MIN, f64::max)
    };
    let start = (0..8).map(|k| Point3::from(middle + up * (f64::from(k) / 5.0)));
    let settled = start.map(|p| drawn_in(bullets, p)).map(|p| (short(&p), p));
    // Deep inside all and far from the surface is best; a point in bone costs an integral over the
    // whole sphere.
    let cost = |(short, p): &(f64, Point3<f64>)| {
        if *short >= 0.0 {
            return *short;
        }
        let free = within::distance_to_surface(solid, p).min(-short);
        if solid.winding(p) == 0 {
            -free
        } else {
            -0.01 * free
        }
    };
    let best = settled.min_by(|a, b| cost(a).total_cmp(&cost(b)));
    match best {
        Some((short, p)) if short < 0.0 => Ok(p),
        Some((short, _)) => Err(NoCommonPoint { short }),
        None => Err(NoCommonPoint {
            short: f64::INFINITY,
        }),
    }
}

/// Moves a point toward whichever bullet it is farthest outside of, until it is inside all; gives
/// the best point met on the way.
fn drawn_in(bullets: &[Bullet], start: Point3<f64>) -> Point3<f64> {
    const STEPS: usize = 200;
    let (mut p, mut best) = (start, (f64::INFINITY, start));
    for _ in 0..STEPS {
        let outside = bullets.iter().map(|b| (b.signed_distance(&p), b.head()));
        let Some((distance, head)) = outside.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            break;
        };
        if distance < best.0 {
            best = (distance, p);
        }
        let aim = head.centre() + head.axis().into_inner() * (0.1 * head.radius());
        let Some(toward) = (aim - p).try_normalize(1e-9) else {
            break;
        };
        if distance < 0.0 {
            break;
        }
        p += toward * (0.5 * distance + 1e-3);
    }
    best.1
}

/// The part of a tool's round side that lies in bullets.
struct Shadow {
    view: View,
    bullets: Vec<Bullet>,
    smallest: f64,
}

impl Shadow {
    fn of(tool: &Hemisphere, bullets: Vec<Bullet>) -> Self {
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
    fn area(&self, solid: &Solid) -> Bounded {
        let (centre, radius) = (self.view.centre, self.view.radius);
        let triangles = solid
            .tree()
            .triangles_where(|b| b.reach_from(&centre) >= radius);
        let cells = triangles.into_iter().map(|t| {
            solid
                .mesh()
                .corners(t as usize)
                .map(|p| self.view.frame * (p - centre))
        });
        adaptive::integrate(cells, AREA_TOLERANCE, MOST_CELLS, |cell| self.beyond(cell))
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
        // The edge is a curve no more bent than the smallest ball: nearly straight across a cell.
        let share = share_below_zero(directions.map(|d| at(&d)));
        let bent = (angle.abs() * (width / self.smallest).min(1.0)).max(edge);
        Bounded {
            value: r * r * angle * share,
            error_bound: r * r * bent,
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

fn signed_distance(bullets: &[Bullet], point: &Point3<f64>) -> f64 {
    bullets
        .iter()
        .map(|b| b.signed_distance(point))
        .fold(f64::INFINITY, f64::min)
}

/// The middle of a cell and the distance of its farthest corner.
fn circumscribed(cell: &Cell) -> (Vector3<f64>, f64) {
    let centre = (cell[0] + cell[1] + cell[2]) / 3.0;
    (
        centre,
        cell.iter()
            .map(|corner| (corner - centre).norm())
            .fold(0.0, f64::max),
    )
}

/// Eight cells that surround a point, facing outward.
fn octahedron() -> impl Iterator<Item = Cell> {
    let signs = [-1.0, 1.0];
    let all = signs
        .into_iter()
        .flat_map(move |x| signs.into_iter().map(move |y| (x, y)));
    all.flat_map(move |(x, y)| {
        signs.into_iter().map(move |z: f64| {
            let (a, b, c) = (Vector3::x() * x, Vector3::y() * y, Vector3::z() * z);
            if x * y * z > 0.0 {
                [a, b, c]
            } else {
                [a, c, b]
            }
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use approx::assert_relative_eq;
    use std::f64::consts::PI;

    fn cube(edge: f64) -> Solid {
        Solid::try_from(samples::cuboid([edge; 3])).unwrap()
    }

    fn head(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Hemisphere {
        Hemisphere::new(centre.into(), axis.into(), radius).unwrap()
    }

    #[track_caller]
    fn check(found: Bounded, expected: f64, at_most: f64) {
        assert!(
            found.error_bound <= at_most,
            "bound {} for {}",
            found.error_bound,
            found.value
        );
        assert!(
            (found.value - expected).abs() <= found.error_bound.max(1e-9),
            "{found:?}, expected {expected}"
        );
    }

    #[test]
    fn nested_reamers_are_the_last_one_exactly() {
        let sizes =
            [8.0, 9.0, 10.0].map(|r| Bullet::open(head([0.0, 0.0, 10.0], [0.0, 0.0, 1.0], r)));
        let found = volume_in_union(&cube(40.0), &sizes).unwrap();
        check(found, column::volume_in_bullet(&cube(40.0), &sizes[2]), 0.0);
        assert_eq!(outermost(&sizes), [sizes[2]]);
        assert_eq!(outermost(&[sizes[1], sizes[1]]).len(), 1);
    }

    #[test]
    fn two_columns_side_by_side_share_a_lens() {
        // Parallel open bullets of radius r, a apart, sunk from the top of a cube: heads and columns
        // each overlap in a lens.
        let (r, a, depth) = (6.0_f64, 4.0, 5.0);
        let at = |x: f64| Bullet::open(head([x, 0.0, 20.0 - depth], [0.0, 0.0, 1.0], r));
        let found = volume_in_union(&cube(40.0), &[at(-a / 2.0), at(a / 2.0)]).unwrap();
        let one = 2.0 / 3.0 * PI * r.powi(3) + PI * r * r * depth;
        let half_lens = PI * (4.0 * r + a) * (2.0 * r - a).powi(2) / 24.0;
        let flat_lens = 2.0 * r * r * (a / 2.0 / r).acos() - a / 2.0 * (4.0 * r * r - a * a).sqrt();
        check(found, 2.0 * one - half_lens - flat_lens * depth, 0.1);
    }

    #[test]
    fn two_tools_wholly_in_bone_are_counted_from_a_point_in_bone() {
        let (r, a) = (6.0_f64, 3.0);
        let at = |x: f64| Bullet::half_ball(head([x, 0.0, 0.0], [0.0, 0.0, 1.0], r));
        let found = volume_in_union(&cube(40.0), &[at(-a / 2.0), at(a / 2.0)]).unwrap();
        let half_lens = PI * (4.0 * r + a) * (2.0 * r - a).powi(2) / 24.0;
        check(found, 2.0 * 2.0 / 3.0 * PI * r.powi(3) - half_lens, 0.1);
    }

    #[test]
    fn reamers_of_separate_holes_are_refused() {
        let at = |x: f64| Bullet::open(head([x, 0.0, 15.0], [0.0, 0.0, 1.0], 4.0));
        let refused = volume_in_union(&cube(40.0), &[at(-9.0), at(9.0)]).unwrap_err();
        assert!(refused.short > 4.0 && refused.short < 6.0, "{refused}");
    }

    #[test]
    fn the_bone_behind_a_cup_is_what_the_reamers_left() {
        let cup = head([0.0, 0.0, 20.0], [0.0, 0.0, 1.0], 10.0);
        let reamed = |radius| {
            [Bullet::open(head(
                [0.0, 0.0, 20.0],
                [0.0, 0.0, 1.0],
                radius,
            ))]
        };
        check(
            area_outside(&cube(60.0), &cup, &reamed(9.5)),
            cup.area(),
            0.0,
        );
        check(area_outside(&cube(60.0), &cup, &reamed(10.5)), 0.0, 0.0);
    }

    #[test]
    fn a_reamer_set_deeper_takes_the_cap_of_the_cup() {
        // A ball of radius 9.5 sunk by d meets the sphere of radius 10 in a circle at depth
        // (R² − r² + d²) / 2d; below it the cup hangs free.
        let (big, small, d) = (10.0_f64, 9.5_f64, 2.0);
        for height in [20.0, 0.0] {
            let cup = head([0.0, 0.0, height], [0.0, 0.0, 1.0], big);
            let deeper = Bullet::half_ball(head([0.0, 0.0, height - d], [0.0, 0.0, 1.0], small));
            let depth = (big * big - small * small + d * d) / (2.0 * d);
            check(
                area_outside(&cube(40.0), &cup, &[deeper]),
                2.0 * PI * big * depth,
                0.1,
            );
        }
    }

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
