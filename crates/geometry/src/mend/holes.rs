//! Holes in a surface: closed chains of edges that have a triangle on one side only.

use std::collections::HashMap;

use nalgebra::{Point3, Vector3};

use super::soup::{BORDER, Neighbours, Soup, TANGLED};
use crate::mesh::TriMesh;

/// A hole in a surface, or the border of an open one.
#[derive(Clone, Debug, PartialEq)]
pub struct Hole {
    /// Its border, in the order in which its triangles run.
    pub border: Vec<u32>,
    /// The middle of its border, in mm.
    pub middle: Point3<f64>,
    /// Twice the distance from the middle to the farthest corner of the border, in mm: the diameter of a
    /// round hole, the length of a slit.
    pub across: f64,
}

/// The holes of `mesh`, the widest first. Borders that cannot be followed, for triangles beside them
/// face opposite ways, are left out.
pub fn holes(mesh: &TriMesh) -> Vec<Hole> {
    let soup = Soup::of(mesh);
    let mut holes = borders(&soup, &Neighbours::of(&soup));
    holes.sort_by(|a, b| b.across.total_cmp(&a.across));
    holes
}

/// The borders in the order of their first triangles.
pub(super) fn borders(soup: &Soup, neighbours: &Neighbours) -> Vec<Hole> {
    let mut done = vec![[false; 3]; soup.triangles.len()];
    let mut found = Vec::new();
    for t in soup.numbers() {
        for side in 0..3 {
            if neighbours.across(t, side) != BORDER || done[t as usize][side] {
                continue;
            }
            let border = followed(soup, neighbours, (t, side), &mut done);
            let simple = border.map(parted).unwrap_or_default();
            found.extend(simple.into_iter().map(|border| described(soup, border)));
        }
    }
    found
}

/// The chain of border sides that begins with one; `None` where it does not come back.
fn followed(
    soup: &Soup,
    neighbours: &Neighbours,
    first: (u32, usize),
    done: &mut [[bool; 3]],
) -> Option<Vec<u32>> {
    let mut border = Vec::new();
    let (mut t, mut side) = first;
    loop {
        if std::mem::replace(&mut done[t as usize][side], true) {
            return None;
        }
        border.push(soup.triangles[t as usize][side]);
        (t, side) = next_side(soup, neighbours, t, side)?;
        if (t, side) == first {
            return Some(border);
        }
    }
}

/// A chain that comes by some corner more than once, as where holes meet at a corner, in parts that do
/// not.
fn parted(chain: Vec<u32>) -> Vec<Vec<u32>> {
    let mut parts = Vec::new();
    let mut open: Vec<u32> = Vec::new();
    let mut place: HashMap<u32, usize> = HashMap::new();
    for v in chain {
        if let Some(&first) = place.get(&v) {
            let part: Vec<u32> = open.drain(first..).collect();
            for u in &part {
                place.remove(u);
            }
            parts.push(part);
        }
        place.insert(v, open.len());
        open.push(v);
    }
    parts.push(open);
    parts
}

/// The border side that begins where this one ends, found by turning about that corner.
fn next_side(
    soup: &Soup,
    neighbours: &Neighbours,
    mut t: u32,
    mut side: usize,
) -> Option<(u32, usize)> {
    /// More triangles do not meet at a corner of any sane mesh; a tangle could turn for ever.
    const MOST: usize = 10_000;
    let corner = soup.triangles[t as usize][(side + 1) % 3];
    for _ in 0..MOST {
        side = (side + 1) % 3;
        match neighbours.across(t, side) {
            BORDER => return Some((t, side)),
            TANGLED => return None,
            other => {
                let corners = soup.triangles[other as usize];
                let at = corners.iter().position(|&v| v == corner)?;
                // In a neighbour that faces the same way, the side crossed ends at the corner.
                let crossed = (at + 2) % 3;
                if neighbours.across(other, crossed) != t {
                    return None;
                }
                (t, side) = (other, crossed);
            }
        }
    }
    None
}

fn described(soup: &Soup, border: Vec<u32>) -> Hole {
    let points = || border.iter().map(|&v| soup.at(v));
    // By length, so that a finely cut stretch does not draw the middle to itself.
    let mut sum = Vector3::zeros();
    let mut length = 0.0;
    for (p, q) in points().zip(points().cycle().skip(1)) {
        let own = (q - p).norm();
        sum += nalgebra::center(&p, &q).coords * own;
        length += own;
    }
    let first = points().next().unwrap_or_else(Point3::origin);
    let middle = if length > 0.0 {
        Point3::from(sum / length)
    } else {
        first
    };
    let farthest = points().map(|p| (p - middle).norm()).fold(0.0, f64::max);
    Hole {
        border,
        middle,
        across: 2.0 * farthest,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use std::f64::consts::TAU;

    fn without(mesh: &TriMesh, gone: impl Fn(&Point3<f64>) -> bool) -> TriMesh {
        let all = 0..mesh.triangles().len();
        let kept = all.filter(|&t| !mesh.corners(t).iter().any(&gone));
        let triangles = kept.map(|t| mesh.triangles()[t]).collect();
        TriMesh::new(mesh.vertices().to_vec(), triangles).unwrap()
    }

    #[test]
    fn a_closed_mesh_has_no_hole() {
        assert_eq!(holes(&samples::torus(30.0, 10.0, 24, 12)), []);
    }

    #[test]
    fn holes_come_with_place_and_width_the_widest_first() {
        let ball = samples::sphere(10.0, 5);
        let open = without(&ball, |p| p.z > 8.0 || p.z < -9.5);
        let found = holes(&open);
        assert_eq!(found.len(), 2);
        // The border lies up to an edge, half a millimetre, below the height of the cut.
        let ring = |z: f64| 2.0 * (100.0 - z * z).sqrt();
        let between = |across: f64, z: f64| (ring(z) - 0.1..ring(z - 0.5) + 0.3).contains(&across);
        assert!(between(found[0].across, 8.0), "{}", found[0].across);
        assert!((found[0].middle - Point3::new(0.0, 0.0, 8.0)).norm() < 0.5);
        assert!(between(found[1].across, 9.5), "{}", found[1].across);
        let length = f64::from(u32::try_from(found[0].border.len()).unwrap());
        assert!(length > 0.5 * TAU * 6.0 / 0.6);
    }

    #[test]
    fn holes_that_meet_at_a_corner_are_told_apart() {
        // The two triangles of one side of a box, one of the next: they meet at corners.
        let cube = samples::cuboid([2.0; 3]);
        let soup = Soup::of(&cube);
        let (fans, neighbours) = (soup.fans(), Neighbours::of(&soup));
        let apart = (0..8).find_map(|v| {
            let around = fans.around(v);
            let pairs = around
                .iter()
                .flat_map(|&s| around.iter().map(move |&t| (s, t)));
            let mut pairs = pairs.filter(|&(s, t)| s < t);
            pairs.find(|&(s, t)| neighbours.around(s).all(|u| u != t))
        });
        let Some((s, t)) = apart else {
            panic!("more than three triangles meet at a corner");
        };
        let mut open = soup.clone();
        open.retain(|u| u != s && u != t);
        let found = borders(&open, &Neighbours::of(&open));
        assert_eq!(found.len(), 2);
        assert!(found.iter().all(|hole| hole.border.len() == 3));
    }
}
