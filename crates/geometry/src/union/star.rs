//! The volume of bone in a union of bullets, seen from a point inside all of them.

use nalgebra::{Point3, Vector3};

use super::{MOST_CELLS, NoCommonPoint, bend, signed_distance};
use crate::adaptive::{self, Bounded, Cell};
use crate::shape::{Bullet, Exit, Face, Hemisphere};
use crate::{Bounds, Solid, column, within};

/// The bound on the error of a volume, in mm³, that is aimed at.
const VOLUME_TOLERANCE: f64 = 5e-3;

/// A union of bullets about a point that lies inside all of them.
pub(super) struct Star {
    middle: Point3<f64>,
    bullets: Vec<Bullet>,
}

impl Star {
    pub(super) fn new(solid: &Solid, bullets: &[Bullet]) -> Result<Self, NoCommonPoint> {
        let bullets: Vec<_> = bullets.iter().map(|b| shortened(solid, b)).collect();
        let middle = common_point(solid, &bullets)?;
        Ok(Self { middle, bullets })
    }

    pub(super) fn volume(&self, solid: &Solid) -> Bounded {
        let inside = solid.tree().triangles_where(|b| self.touches(b));
        let cells = inside.into_iter().map(|t| {
            let [a, b, c] = solid.mesh().corners(t as usize).map(|p| p - self.middle);
            [a, c, b]
        });
        let beyond = |reach: f64| (reach.powi(3) - 1.0).max(0.0);
        let cut = adaptive::integrate(cells, VOLUME_TOLERANCE, MOST_CELLS, |cell| {
            let depth = -self.clearance(cell);
            if depth <= 0.0 {
                Bounded::exact(0.0)
            } else {
                self.cones(cell, depth, beyond)
            }
        });
        let winding = f64::from(solid.winding(&self.middle));
        if winding.abs() < 0.5 {
            return cut;
        }
        let all = adaptive::integrate(octahedron(), VOLUME_TOLERANCE, MOST_CELLS, |cell| {
            self.cones(cell, f64::INFINITY, |reach| reach.powi(3))
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
    ///
    /// `depth` is how deep in the union the cell may reach at most.
    fn cones(&self, cell: &Cell, depth: f64, measure: impl Fn(f64) -> f64) -> Bounded {
        let third = (cell[1] - cell[0])
            .cross(&(cell[2] - cell[0]))
            .dot(&cell[0])
            / 6.0;
        let mut looks = Looks::new(self);
        let mut rule = |cell: &Cell| -> f64 {
            let terms = adaptive::radon_points().map(|(at, weight)| {
                weight * measure(looks.reach_at(&adaptive::point_in(cell, at)))
            });
            terms.iter().sum()
        };
        let coarse = rule(cell);
        let quarters = adaptive::quarters(cell);
        let fine: f64 = quarters.iter().map(&mut rule).sum::<f64>() / 4.0;
        let corners = cell.map(|x| looks.reach_at(&x));
        let middles = quarters[3].map(|x| looks.reach_at(&x));
        let mut uncertain = (fine - coarse).abs().max(looks.across_creases(&measure));
        let (_, radius) = circumscribed(cell);
        if depth < 2.0 * radius {
            // The surface of the union may pass through the cell: all that is left out, or wrongly
            // counted, lies between nothing and the farthest that the union reaches over the cell.
            let (least, most) = looks.range();
            let bent = 2.0 * bend(&corners, &middles);
            if least - bent < 1.0 {
                uncertain = uncertain.max(measure(most + bent));
            }
        }
        Bounded {
            value: third * fine,
            error_bound: (third * uncertain).abs(),
        }
    }
}

/// Looks from the middle of the union along the rays through points of a cell.
struct Looks<'a> {
    star: &'a Star,
    /// Where each ray leaves each bullet, look by look.
    exits: Vec<Exit>,
    /// Distance of each point, and the bullet that its ray leaves last.
    looks: Vec<(f64, usize)>,
}

impl<'a> Looks<'a> {
    fn new(star: &'a Star) -> Self {
        // Five times seven points of the rule, three corners, three middles of edges.
        const LOOKS: usize = 5 * 7 + 6;
        let exits = Vec::with_capacity(LOOKS * star.bullets.len());
        Self {
            star,
            exits,
            looks: Vec::with_capacity(LOOKS),
        }
    }

    /// How many times the distance of a point the union extends along its ray.
    fn reach_at(&mut self, x: &Vector3<f64>) -> f64 {
        let distance = x.norm();
        let direction = x / distance;
        let mut farthest = (0, 0.0);
        for (k, bullet) in self.star.bullets.iter().enumerate() {
            let exit = bullet.exit(&self.star.middle, &direction);
            if exit.distance() > farthest.1 {
                farthest = (k, exit.distance());
            }
            self.exits.push(exit);
        }
        self.looks.push((distance, farthest.0));
        farthest.1 / distance
    }

    /// The looks with their exits.
    fn each(&self) -> impl Iterator<Item = (f64, usize, &[Exit])> {
        let exits = self.exits.chunks_exact(self.star.bullets.len());
        self.looks
            .iter()
            .zip(exits)
            .map(|(&(distance, farthest), exits)| (distance, farthest, exits))
    }

    /// The least and the most that the union reaches.
    fn range(&self) -> (f64, f64) {
        let reaches = self
            .each()
            .map(|(distance, farthest, exits)| exits[farthest].distance() / distance);
        reaches.fold((f64::MAX, f64::MIN), |(least, most), r| {
            (least.min(r), most.max(r))
        })
    }

    /// Where the union is left by different surfaces in different parts of a cell, the largest
    /// difference between them along any look: an integral across their crease is no further off.
    fn across_creases(&self, measure: impl Fn(f64) -> f64) -> f64 {
        let mut surfaces: Vec<(usize, Face)> = Vec::new();
        for (_, farthest, exits) in self.each() {
            let surface = (farthest, exits[farthest].face);
            if !surfaces.contains(&surface) {
                surfaces.push(surface);
            }
        }
        if surfaces.len() < 2 {
            return 0.0;
        }
        let spread = self.each().map(|(distance, _, exits)| {
            let reaches = surfaces
                .iter()
                .map(|&(k, face)| exits[k].distance_through(face) / distance);
            // A plane that the ray never meets says nothing here.
            let met = reaches.filter(|reach| reach.is_finite()).map(&measure);
            let (low, high) = met.fold((f64::MAX, f64::MIN), |(l, h), r| (l.min(r), h.max(r)));
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
    let start = (-3..8).map(|k| Point3::from(middle + up * (f64::from(k) / 5.0)));
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
        let outside = bullets.iter().map(|b| (b.signed_distance(&p), b));
        let Some((distance, worst)) = outside.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            break;
        };
        let head = worst.head();
        if distance < best.0 {
            best = (distance, p);
        }
        // Up the column where there is one, else down into the half ball.
        let along = if worst.column() > head.radius() {
            0.1
        } else {
            -0.3
        };
        let aim = head.centre() + head.axis().into_inner() * (along * head.radius());
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
