//! The volume of bone in a union of bullets, seen from a point inside all of them.

use nalgebra::{Point3, Vector3};

use super::{MOST_CELLS, NoCommonPoint, bend, signed_distance};
use crate::adaptive::{self, Bounded, Cell};
use crate::shape::{Bullet, Exit, Face, Hemisphere};
use crate::{Bounds, Solid, column, within};

/// The bound on the error of a volume, in mm³, that is aimed at.
const VOLUME_TOLERANCE: f64 = 5e-3;

/// How wide a cell may be beside its distance for what few looks tell of the reach to hold between
/// them: seen under about 12° to either side.
const NARROW: f64 = 0.2;

/// A union of bullets about a point that lies inside all of them.
///
/// The bullet that takes most bone does so by closed form, and only what the others add to it is
/// integrated: nothing wherever the main one reaches farthest.
pub(super) struct Star {
    middle: Point3<f64>,
    bullets: Vec<Bullet>,
    /// The bullet that takes most, and what it takes.
    main: usize,
    volume_in_main: f64,
}

impl Star {
    pub(super) fn new(solid: &Solid, bullets: &[Bullet]) -> Result<Self, NoCommonPoint> {
        let bullets: Vec<_> = bullets.iter().map(|b| shortened(solid, b)).collect();
        let middle = common_point(solid, &bullets)?;
        let alone = bullets.iter().map(|b| column::volume_in_bullet(solid, b));
        let most = alone.enumerate().max_by(|a, b| a.1.total_cmp(&b.1));
        let (main, volume_in_main) = most.unwrap_or_default();
        Ok(Self {
            middle,
            bullets,
            main,
            volume_in_main,
        })
    }

    pub(super) fn volume(&self, solid: &Solid) -> Bounded {
        let inside = solid.tree().triangles_where(|b| self.touches(b));
        let cells = inside.into_iter().map(|t| {
            let [a, b, c] = solid.mesh().corners(t as usize).map(|p| p - self.middle);
            [a, c, b]
        });
        let beyond = |reach: f64| (reach.powi(3) - 1.0).max(0.0);
        let cells = cells.collect();
        let cut = adaptive::integrate(cells, VOLUME_TOLERANCE, MOST_CELLS, |cell| {
            let depth = -self.clearance(cell);
            if depth <= 0.0 {
                Bounded::exact(0.0)
            } else {
                self.cones(cell, depth, beyond)
            }
        });
        let winding = f64::from(solid.winding(&self.middle));
        let all = if winding.abs() < 0.5 {
            Bounded::exact(0.0)
        } else {
            let around = octahedron().collect();
            adaptive::integrate(around, VOLUME_TOLERANCE, MOST_CELLS, |cell| {
                self.cones(cell, f64::INFINITY, |reach| reach.powi(3))
            })
        };
        Bounded {
            value: self.volume_in_main + cut.value + winding * all.value,
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

    /// What the union adds to the main bullet over a cell: the signed volume of its cones, each as
    /// long as `measure` makes of its reach, how many times the distance of the cell the union or
    /// the main bullet extends along it.
    ///
    /// `depth` is how deep in the union the cell may reach at most.
    fn cones(&self, cell: &Cell, depth: f64, measure: impl Fn(f64) -> f64) -> Bounded {
        let mut looks = Looks::new(self);
        let quarters = adaptive::quarters(cell);
        let ends = [cell, &quarters[3]].map(|points| points.map(|x| looks.at(&x)));
        let (centre, radius) = circumscribed(cell);
        let narrow = radius < NARROW * centre.norm();
        let [ahead, behind] = between(&ends, |look| look.main - look.others);
        if narrow && ahead > 0.0 {
            return Bounded::exact(0.0);
        }
        let mut rule = |cell: &Cell| -> f64 {
            let terms = adaptive::radon_points().map(|(at, weight)| {
                let look = looks.at(&adaptive::point_in(cell, at));
                weight * (measure(look.union()) - measure(look.main))
            });
            terms.iter().sum()
        };
        let coarse = rule(cell);
        let fine: f64 = quarters.iter().map(&mut rule).sum::<f64>() / 4.0;
        let union = looks.range(&ends, Look::union);
        let main = looks.range(&ends, |look| look.main);
        let mut uncertain = (fine - coarse).abs().max(looks.across_creases(&measure));
        // Where a surface may pass through the cell: all that is left out, or wrongly counted, lies
        // between nothing and the farthest that it reaches over the cell.
        let passes = |[least, most]: [f64; 2]| if least < 1.0 { measure(most) } else { 0.0 };
        if depth < 2.0 * radius {
            uncertain = uncertain.max(passes(union));
        }
        if depth.is_finite() {
            uncertain = uncertain.max(passes(main));
        }
        if !narrow {
            uncertain = uncertain.max(measure(union[1]));
        } else if ahead <= 0.0 && behind >= 0.0 {
            // Between the looks the others may reach this much farther than the main one.
            uncertain = uncertain.max(measure(main[1] - ahead) - measure(main[1]));
        }
        let third = (cell[1] - cell[0])
            .cross(&(cell[2] - cell[0]))
            .dot(&cell[0])
            / 6.0;
        Bounded {
            value: third * fine,
            error_bound: (third * uncertain).abs(),
        }
    }
}

/// What a look along the ray through a point of a cell tells: how many times the distance of the
/// point bullets extend.
#[derive(Clone, Copy)]
struct Look {
    main: f64,
    /// The farthest of the others.
    others: f64,
}

impl Look {
    fn union(&self) -> f64 {
        self.main.max(self.others)
    }
}

/// The least and the most that a function is between looks at the corners and the middles of the
/// edges of a cell, as far as those tell.
fn between(ends: &[[Look; 3]; 2], value: impl Fn(&Look) -> f64) -> [f64; 2] {
    let [corners, middles] = [0, 1].map(|k| [0, 1, 2].map(|i| value(&ends[k][i])));
    let slack = 2.0 * bend(&corners, &middles);
    let values = || corners.iter().chain(&middles);
    let (low, high) = values().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
    [low - slack, high + slack]
}

/// Looks from the middle of the union along the rays through points of a cell.
struct Looks<'a> {
    star: &'a Star,
    /// Where each ray leaves each bullet, look by look.
    exits: Vec<Exit>,
    /// What each look tells, the distance of its point, and the bullet that its ray leaves last.
    looks: Vec<(Look, f64, usize)>,
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

    fn at(&mut self, x: &Vector3<f64>) -> Look {
        let distance = x.norm();
        let direction = x / distance;
        let (mut main, mut others) = (0.0, (0, 0.0));
        for (k, bullet) in self.star.bullets.iter().enumerate() {
            let exit = bullet.exit(&self.star.middle, &direction);
            if k == self.star.main {
                main = exit.distance();
            } else if exit.distance() > others.1 {
                others = (k, exit.distance());
            }
            self.exits.push(exit);
        }
        let farthest = if main >= others.1 {
            self.star.main
        } else {
            others.0
        };
        let look = Look {
            main: main / distance,
            others: others.1 / distance,
        };
        self.looks.push((look, distance, farthest));
        look
    }

    /// The looks with their exits.
    fn each(&self) -> impl Iterator<Item = (f64, usize, &[Exit])> {
        let exits = self.exits.chunks_exact(self.star.bullets.len());
        self.looks
            .iter()
            .zip(exits)
            .map(|(&(_, distance, farthest), exits)| (distance, farthest, exits))
    }

    /// The least and the most that a reach is over the cell, as far as all looks tell.
    fn range(&self, ends: &[[Look; 3]; 2], reach: impl Fn(&Look) -> f64) -> [f64; 2] {
        let [low, high] = between(ends, &reach);
        let all = self.looks.iter().map(|(look, ..)| reach(look));
        let (least, most) = all.fold((low, high), |(l, h), r| (l.min(r), h.max(r)));
        [least, most]
    }

    /// Where the union, or the main bullet, is left by different surfaces in different parts of a
    /// cell, the largest difference between them along any look: an integral across their crease is
    /// no further off.
    fn across_creases(&self, measure: impl Fn(f64) -> f64) -> f64 {
        let main = self.star.main;
        let of_union = self.spread(|farthest, exits| (farthest, exits[farthest].face), &measure);
        let of_main = self.spread(|_, exits| (main, exits[main].face), &measure);
        of_union + of_main
    }

    /// The largest difference along any look between the surfaces that the looks choose.
    fn spread(
        &self,
        surface: impl Fn(usize, &[Exit]) -> (usize, Face),
        measure: impl Fn(f64) -> f64,
    ) -> f64 {
        let mut surfaces: Vec<(usize, Face)> = Vec::new();
        for (_, farthest, exits) in self.each() {
            let surface = surface(farthest, exits);
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
