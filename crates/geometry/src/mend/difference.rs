//! How far a surface moved: what is gone, what is new, and how far one lies from the other.

use std::collections::HashMap;

use nalgebra::Point3;
use rayon::prelude::*;

use super::nearest::Surface;
use crate::mesh::TriMesh;
use crate::shape::Ball;
use crate::sum::Sum;

/// Distances are looked at no farther apart than this on a triangle, in mm, on large ones at 45 places.
const SPACING: f64 = 1.0;

/// What became of a surface, triangle by triangle.
///
/// Triangles with the same three corners in both are the same, whichever of them comes first; one
/// turned round is told apart from one that is gone.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Difference {
    gone: Vec<Patch>,
    new: Vec<Patch>,
    turned: Vec<[Point3<f64>; 3]>,
}

/// A place of the surface, and how far it is from the other surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Far {
    /// In mm.
    pub distance: f64,
    /// Where.
    pub at: Point3<f64>,
}

/// What changed, in all or in one region.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Changed {
    /// Area of the surface that is no longer there as it was, in mm².
    pub gone: f64,
    /// Area of the surface that was not there before, in mm².
    pub new: f64,
    /// Area of what now faces the other way, in mm².
    pub turned: f64,
    /// Where the old surface lies farthest from the new one: how far the surface moved.
    pub moved: Option<Far>,
    /// Where the new surface lies farthest from the old one: how far a lid reaches from what was there.
    pub reach: Option<Far>,
}

#[derive(Clone, Debug, PartialEq)]
struct Patch {
    corners: [Point3<f64>; 3],
    area: f64,
    far: Far,
}

type Key = [[u64; 3]; 3];

impl Difference {
    /// What became of `before` in `after`; `dropped` is what was left out on purpose, which has not
    /// moved.
    pub fn between(before: &TriMesh, after: &TriMesh, dropped: Option<&TriMesh>) -> Self {
        let mut known: HashMap<Key, Vec<(usize, bool)>> = HashMap::new();
        for t in 0..after.triangles().len() {
            let (key, even) = key(&after.corners(t));
            known.entry(key).or_default().push((t, even));
        }
        let mut found = Self::default();
        let mut gone = Vec::new();
        let mut old = vec![false; after.triangles().len()];
        for t in 0..before.triangles().len() {
            let corners = before.corners(t);
            let (key, even) = key(&corners);
            let Some(same) = known.get_mut(&key).filter(|same| !same.is_empty()) else {
                gone.push(corners);
                continue;
            };
            let alike = same.iter().position(|(_, theirs)| *theirs == even);
            let (number, theirs) = same.swap_remove(alike.unwrap_or(0));
            old[number] = true;
            if theirs != even {
                found.turned.push(corners);
            }
        }
        let new = (0..after.triangles().len()).filter(|&t| !old[t]);
        let new: Vec<_> = new.map(|t| after.corners(t)).collect();
        if !gone.is_empty() {
            let all = dropped.map(|dropped| after.joined(dropped));
            found.gone = patches(&gone, &Surface::of(all.as_ref().unwrap_or(after)));
        }
        if !new.is_empty() {
            found.new = patches(&new, &Surface::of(before));
        }
        found
    }

    /// What changed in all.
    pub fn whole(&self) -> Changed {
        self.where_it(|_| true)
    }

    /// What changed on triangles that have a corner in a ball.
    pub fn within(&self, ball: &Ball) -> Changed {
        let (centre, radius) = (ball.centre(), ball.radius());
        self.where_it(|corners| corners.iter().any(|p| (p - centre).norm() <= radius))
    }

    fn where_it(&self, counts: impl Fn(&[Point3<f64>; 3]) -> bool) -> Changed {
        let of = |patches: &[Patch]| -> (f64, Option<Far>) {
            let patches = patches.iter().filter(|p| counts(&p.corners));
            let area = patches.clone().map(|p| p.area).collect::<Sum>().total();
            let far = patches.map(|p| p.far);
            (area, far.max_by(|a, b| a.distance.total_cmp(&b.distance)))
        };
        let (gone, moved) = of(&self.gone);
        let (new, reach) = of(&self.new);
        let turned = self.turned.iter().filter(|corners| counts(corners));
        Changed {
            gone,
            new,
            turned: turned.map(area).collect::<Sum>().total(),
            moved,
            reach,
        }
    }
}

impl Changed {
    /// Whether nothing changed.
    pub fn is_nothing(&self) -> bool {
        self.moved.is_none() && self.reach.is_none() && self.turned <= 0.0
    }
}

fn patches(triangles: &[[Point3<f64>; 3]], other: &Surface) -> Vec<Patch> {
    let patch = |corners: &[Point3<f64>; 3]| {
        let far = |at: Point3<f64>| Far {
            distance: other.distance(&at),
            at,
        };
        let farther = |a: Far, b: Far| if b.distance > a.distance { b } else { a };
        Patch {
            corners: *corners,
            area: area(corners),
            far: places(corners).map(far).fold(far(corners[0]), farther),
        }
    };
    triangles.par_iter().map(patch).collect()
}

/// Places all over a triangle, its corners among them.
fn places([a, b, c]: &[Point3<f64>; 3]) -> impl Iterator<Item = Point3<f64>> {
    const MOST: u32 = 8;
    let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
    let parts = (2..MOST)
        .find(|&n| longest <= SPACING * f64::from(n))
        .unwrap_or(MOST);
    let (a, along, up) = (*a, b - a, c - a);
    (0..=parts).flat_map(move |i| {
        (0..=parts - i).map(move |j| {
            let share = |k: u32| f64::from(k) / f64::from(parts);
            a + along * share(i) + up * share(j)
        })
    })
}

fn area(corners: &[Point3<f64>; 3]) -> f64 {
    super::soup::area_vector(corners).norm()
}

/// The corners in ascending order of their bits, and whether an even number of swaps led there.
fn key(corners: &[Point3<f64>; 3]) -> (Key, bool) {
    let mut key = corners.map(|p| <[u64; 3]>::from(p.coords.map(|c| (c + 0.0).to_bits())));
    let mut even = true;
    for (i, j) in [(0, 1), (1, 2), (0, 1)] {
        if key[j] < key[i] {
            key.swap(i, j);
            even = !even;
        }
    }
    (key, even)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use nalgebra::Isometry3;

    #[test]
    fn the_same_triangles_in_another_order_are_no_difference() {
        let ball = samples::sphere(10.0, 3);
        let mut triangles = ball.triangles().to_vec();
        triangles.reverse();
        triangles.iter_mut().for_each(|t| t.rotate_left(1));
        let other = TriMesh::new(ball.vertices().to_vec(), triangles).unwrap();
        assert!(
            Difference::between(&ball, &other, None)
                .whole()
                .is_nothing()
        );
    }

    #[test]
    fn a_ball_that_grew_moved_by_as_much_everywhere() {
        let ball = samples::sphere(10.0, 4);
        let changed = Difference::between(&ball, &ball.scaled(1.05), None).whole();
        let [moved, reach] = [changed.moved, changed.reach].map(|far| far.unwrap().distance);
        assert!((moved - 0.5).abs() < 0.01, "{moved}");
        assert!((reach - 0.5).abs() < 0.01, "{reach}");
        assert!((changed.gone - ball.area()).abs() < 1e-9);
    }

    #[test]
    fn what_is_turned_round_or_dropped_on_purpose_has_not_moved() {
        let ball = samples::sphere(10.0, 3);
        let changed = Difference::between(&ball, &ball.clone().reversed(), None).whole();
        assert!((changed.turned - ball.area()).abs() < 1e-9);
        assert!(changed.moved.is_none() && !changed.is_nothing());
        let crumb = samples::sphere(1.0, 2).moved(&Isometry3::translation(30.0, 0.0, 0.0));
        let both = ball.joined(&crumb);
        let changed = Difference::between(&both, &ball, Some(&crumb)).whole();
        assert!(changed.moved.unwrap().distance < 1e-12);
        let changed = Difference::between(&both, &ball, None).whole();
        assert!((changed.moved.unwrap().distance - 21.0).abs() < 0.1);
    }

    #[test]
    fn a_region_tells_of_what_is_in_it_only() {
        let ball = samples::sphere(10.0, 3);
        let open = TriMesh::new(ball.vertices().to_vec(), ball.triangles()[1..].to_vec()).unwrap();
        let difference = Difference::between(&open, &ball, None);
        let here = ball.corners(0)[0];
        let near = Ball::new(here, 1.0).unwrap();
        let far = Ball::new(Point3::from(-here.coords), 1.0).unwrap();
        let area = ball.area_vector(0).norm();
        assert!((difference.within(&near).new - area).abs() < 1e-12);
        assert!(difference.within(&far).is_nothing());
    }
}
