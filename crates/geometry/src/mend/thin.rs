//! Triangles so thin that their normal means nothing: short edges collapsed, flat corners turned away.

use nalgebra::Point3;

use super::collapse::collapse;
use super::soup::{Fans, Soup, area_vector};
use crate::mesh::TriMesh;

/// A triangle whose height is less than this share of its longest side is a sliver.
///
/// At 1:1000 its normal is lost in the digits of a single-precision file (7 digits, 0.01 mm high at a
/// side of 10 mm); triangles of scans and models are at worst 1:50.
pub const THIN: f64 = 1e-3;

/// A sliver whose shortest side is less than this share of its longest is a needle and loses that side;
/// any other is a cap and its longest side is turned.
const NEEDLE: f64 = 0.1;

/// Rounds in which each corner takes part once.
const ROUNDS: usize = 8;

/// What was done about slivers.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Thinned {
    /// How many are gone.
    pub(super) slivers: usize,
    /// How far the surface moved at most, in mm.
    pub(super) farthest: f64,
}

/// How many triangles of a mesh are thinner than [`THIN`].
pub fn slivers(mesh: &TriMesh) -> usize {
    let all = 0..mesh.triangles().len();
    all.filter(|&t| is_sliver(&mesh.corners(t))).count()
}

fn is_sliver(corners: &[Point3<f64>; 3]) -> bool {
    let longest = sides(corners).into_iter().fold(0.0, f64::max);
    2.0 * area_vector(corners).norm() <= THIN * longest * longest
}

/// Lengths of the sides, the one from corner 0 to 1 first.
fn sides(corners: &[Point3<f64>; 3]) -> [f64; 3] {
    [0, 1, 2].map(|k| (corners[(k + 1) % 3] - corners[k]).norm())
}

fn all_slivers(soup: &Soup) -> Vec<u32> {
    let thin = |&t: &u32| is_sliver(&soup.corners(t));
    soup.numbers().filter(thin).collect()
}

/// Takes slivers out of the surface where that neither folds nor opens it.
pub(super) fn drop_slivers(soup: &mut Soup) -> Thinned {
    let mut thinned = Thinned::default();
    let before = all_slivers(soup).len();
    let mut left = before;
    for _ in 0..ROUNDS {
        if left == 0 {
            break;
        }
        round(soup, &mut thinned);
        soup.drop_collapsed();
        let now = all_slivers(soup).len();
        if now == left {
            break;
        }
        left = now;
    }
    thinned.slivers = before.saturating_sub(left);
    if before > 0 {
        soup.drop_unused_vertices();
    }
    thinned
}

fn round(soup: &mut Soup, thinned: &mut Thinned) {
    let fans = soup.fans();
    let mut busy = vec![false; soup.vertices.len()];
    for t in all_slivers(soup) {
        let corners = soup.corners(t);
        let lengths = sides(&corners);
        let side_by = |better: fn(f64, f64) -> bool| {
            (1..3).fold(0, |best, k| {
                if better(lengths[k], lengths[best]) {
                    k
                } else {
                    best
                }
            })
        };
        let (short, long) = (side_by(|a, b| a < b), side_by(|a, b| a > b));
        let moved = if lengths[short] < NEEDLE * lengths[long] {
            let corners = soup.triangles[t as usize];
            let ends = [corners[short], corners[(short + 1) % 3]];
            let kept_shape = |old: &[Point3<f64>; 3], new: &[Point3<f64>; 3]| {
                is_sliver(old) || area_vector(new).dot(&area_vector(old)) > 0.0
            };
            collapse(soup, &fans, &mut busy, ends, kept_shape).then_some(lengths[short])
        } else {
            let height = 2.0 * area_vector(&corners).norm() / lengths[long];
            turn(soup, &fans, &mut busy, t, long).then_some(height)
        };
        thinned.farthest = thinned.farthest.max(moved.unwrap_or(0.0));
    }
}

/// Turns a side of a triangle to run between the two corners opposite it; whether that could be.
fn turn(soup: &mut Soup, fans: &Fans, busy: &mut [bool], t: u32, side: usize) -> bool {
    let corners = soup.triangles[t as usize];
    let (a, b, c) = (
        corners[side],
        corners[(side + 1) % 3],
        corners[(side + 2) % 3],
    );
    let along = |s: &u32| soup.triangles[*s as usize].contains(&b);
    let beside: Vec<u32> = fans.around(a).iter().copied().filter(along).collect();
    let &[s] = beside
        .iter()
        .filter(|&&s| s != t)
        .copied()
        .collect::<Vec<_>>()
        .as_slice()
    else {
        return false;
    };
    let theirs = soup.triangles[s as usize];
    let Some(&d) = theirs.iter().find(|v| **v != a && **v != b) else {
        return false;
    };
    let known = fans.around(c).iter();
    let joined = known
        .copied()
        .any(|t| soup.triangles[t as usize].contains(&d));
    if d == c || joined || [a, b, c, d].iter().any(|&v| busy[v as usize]) {
        return false;
    }
    let pair = [[c, a, d], [c, d, b]];
    let facing = area_vector(&soup.corners(s)) + area_vector(&soup.corners(t));
    let corners_of = |n: [u32; 3]| n.map(|v| soup.at(v));
    let good = pair.iter().all(|&n| {
        let corners = corners_of(n);
        !is_sliver(&corners) && area_vector(&corners).dot(&facing) > 0.0
    });
    if good {
        soup.triangles[t as usize] = pair[0];
        soup.triangles[s as usize] = pair[1];
        [a, b, c, d]
            .into_iter()
            .for_each(|v| busy[v as usize] = true);
    }
    good
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use crate::solid::Solid;
    use crate::topology;

    /// Parts the edge between the first two corners of triangle 0 at `share` of its length.
    fn with_point_on_edge(mesh: &TriMesh, share: f64) -> Soup {
        let mut soup = Soup::of(mesh);
        let [a, b, c] = soup.triangles[0];
        let new = soup.push(soup.at(a) + share * (soup.at(b) - soup.at(a)));
        let beside = (1..soup.triangles.len())
            .find(|&t| soup.triangles[t].contains(&a) && soup.triangles[t].contains(&b))
            .unwrap();
        let d = soup.triangles[beside]
            .into_iter()
            .find(|&v| v != a && v != b)
            .unwrap();
        soup.triangles[0] = [a, new, c];
        soup.triangles[beside] = [b, new, d];
        soup.triangles.extend([[new, b, c], [new, a, d]]);
        soup
    }

    #[test]
    fn needles_go_and_the_surface_stays_closed() {
        let ball = samples::sphere(10.0, 3);
        let mut soup = with_point_on_edge(&ball, 1e-5);
        assert_eq!(all_slivers(&soup).len(), 2);
        let thinned = drop_slivers(&mut soup);
        assert_eq!(thinned.slivers, 2);
        assert!(thinned.farthest > 0.0 && thinned.farthest < 1e-4);
        let mesh = soup.into_mesh().unwrap();
        assert_eq!(slivers(&mesh), 0);
        let solid = Solid::try_from(mesh).unwrap();
        assert!((solid.volume() - ball.volume()).abs() < 1e-4);
        assert_eq!(solid.mesh().triangles().len(), ball.triangles().len());
    }

    #[test]
    fn a_corner_on_its_opposite_side_is_turned_away() {
        // Triangle 0 with a corner in the middle of a side of a flat one beside it.
        let ball = samples::sphere(10.0, 3);
        let mut soup = Soup::of(&ball);
        let [a, b, c] = soup.triangles[0];
        let middle = nalgebra::center(&soup.at(a), &soup.at(b));
        let new = soup.push(middle);
        // A triangle without height between the corner and the side.
        soup.triangles[0] = [a, new, c];
        soup.triangles.extend([[new, b, c], [a, b, new]]);
        assert_eq!(all_slivers(&soup).len(), 1);
        let thinned = drop_slivers(&mut soup);
        assert_eq!(thinned.slivers, 1);
        let mesh = soup.into_mesh().unwrap();
        assert_eq!(topology::genus(mesh.triangles()), Some(0));
        let solid = Solid::try_from(mesh).unwrap();
        assert!((solid.volume() - ball.volume()).abs() < 1e-9);
    }

    #[test]
    fn a_good_mesh_is_left_alone() {
        let ball = samples::sphere(10.0, 3);
        let mut soup = Soup::of(&ball);
        assert_eq!(drop_slivers(&mut soup), Thinned::default());
        assert_eq!(soup.triangles, ball.triangles());
    }
}
