//! Which side is out: neighbours made to agree, then shells made to face outward.

use nalgebra::Point3;

use super::soup::{BORDER, Neighbours, Soup, TANGLED, side_between};
use crate::bvh::BoxTree;
use crate::mesh::{Bounds, TriMesh};
use crate::topology::{Edges, Shells};
use crate::winding;

/// What making neighbours agree did.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(super) struct Agreed {
    /// Triangles turned round.
    pub(super) turned: usize,
    /// Edges along which no turning makes the neighbours agree: the surface has one side only.
    pub(super) one_sided: usize,
}

/// A shell that was turned round as a whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Turned {
    /// How many triangles it has.
    pub(super) triangles: usize,
    /// A point on it.
    pub(super) at: Point3<f64>,
    /// Whether it now bounds a cavity inside another shell.
    pub(super) cavity: bool,
}

/// Turns triangles round until neighbours agree; in each connected part those that are the smaller
/// share of its area.
pub(super) fn agree(soup: &mut Soup) -> Agreed {
    let neighbours = Neighbours::of(soup);
    let mut state = vec![Seen::No; soup.triangles.len()];
    let mut agreed = Agreed::default();
    for first in soup.numbers() {
        if state[first as usize] != Seen::No {
            continue;
        }
        let (part, one_sided) = spread(soup, &neighbours, &mut state, first);
        agreed.one_sided += one_sided;
        let area = |seen: Seen| -> f64 {
            let of_kind = part.iter().filter(|&&t| state[t as usize] == seen);
            of_kind.map(|&t| soup.area_vector(t).norm()).sum()
        };
        let wrong = if area(Seen::Against) > area(Seen::With) {
            Seen::With
        } else {
            Seen::Against
        };
        for &t in &part {
            if state[t as usize] == wrong {
                soup.triangles[t as usize].swap(1, 2);
                agreed.turned += 1;
            }
        }
    }
    // A pair that disagrees about one edge only is found from both sides.
    agreed.one_sided /= 2;
    agreed
}

#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Seen {
    No,
    /// Facing as the first of its part does.
    With,
    Against,
}

/// Walks from one triangle over all that hang together with it, noting how each faces.
fn spread(
    soup: &Soup,
    neighbours: &Neighbours,
    state: &mut [Seen],
    first: u32,
) -> (Vec<u32>, usize) {
    state[first as usize] = Seen::With;
    let mut part = vec![first];
    let mut next = 0;
    let mut one_sided = 0;
    while next < part.len() {
        let t = part[next];
        next += 1;
        for side in 0..3 {
            let other = neighbours.across(t, side);
            if other == BORDER || other == TANGLED {
                continue;
            }
            let wanted = if alike(soup, t, side, other) {
                state[t as usize]
            } else if state[t as usize] == Seen::With {
                Seen::Against
            } else {
                Seen::With
            };
            let seen = &mut state[other as usize];
            if *seen == Seen::No {
                *seen = wanted;
                part.push(other);
            } else if *seen != wanted {
                one_sided += 1;
            }
        }
    }
    (part, one_sided)
}

/// Whether two neighbours agree: they run along their common side in opposite directions.
fn alike(soup: &Soup, t: u32, side: usize, other: u32) -> bool {
    let corners = soup.triangles[t as usize];
    let ends = [corners[side], corners[(side + 1) % 3]];
    let theirs = soup.triangles[other as usize];
    side_between(theirs, ends).is_some_and(|k| theirs[k] == ends[1])
}

/// Turns every closed shell outward, or inward where it lies inside an odd number of others: a shell
/// within a shell bounds a cavity.
pub(super) fn face_out(mesh: &TriMesh) -> (TriMesh, Vec<Turned>) {
    let edges = Edges::of(mesh.triangles());
    let shells = edges.shells();
    let mut closed = vec![true; shells.count];
    for fault in edges.faulty() {
        closed[shells.of_triangle[fault.triangle as usize] as usize] = false;
    }
    drop(edges);
    let members = members(&shells);
    let found: Vec<_> = members.iter().map(|m| Found::of(mesh, m)).collect();
    let tree = (found.len() > 1).then(|| BoxTree::over(mesh));
    let mut wrong = vec![None; shells.count];
    for (number, shell) in found.iter().enumerate() {
        let around = |(other, outer): (usize, &Found)| {
            other != number && closed[other] && outer.bounds.is_some_and(|b| b.holds(&shell.at))
        };
        let outer = found.iter().enumerate().filter(|&pair| around(pair));
        let depth = outer
            .filter(|(other, _)| {
                let of_shell = |t: u32| shells.of_triangle[t as usize] as usize == *other;
                tree.as_ref()
                    .is_some_and(|tree| winding::number_among(mesh, tree, &shell.at, of_shell) != 0)
            })
            .count();
        let cavity = depth % 2 == 1;
        if (shell.volume < 0.0) != cavity {
            wrong[number] = Some(Turned {
                triangles: members[number].len(),
                at: shell.at,
                cavity,
            });
        }
    }
    let turned: Vec<_> = wrong.iter().flatten().copied().collect();
    if turned.is_empty() {
        return (mesh.clone(), turned);
    }
    let mut soup = Soup::of(mesh);
    for (corners, &shell) in soup.triangles.iter_mut().zip(&shells.of_triangle) {
        if wrong[shell as usize].is_some() {
            corners.swap(1, 2);
        }
    }
    let mesh = soup.into_mesh().unwrap_or_else(|_| mesh.clone());
    (mesh, turned)
}

/// A shell as far as facing goes.
struct Found {
    at: Point3<f64>,
    bounds: Option<Bounds>,
    /// Signed; of an open shell that of the cones from the middle of its box.
    volume: f64,
}

impl Found {
    fn of(mesh: &TriMesh, members: &[usize]) -> Self {
        let corners = members.iter().flat_map(|&t| mesh.corners(t));
        let corners: Vec<_> = corners.collect();
        let bounds = Bounds::around(&corners);
        let middle = bounds.map_or_else(Point3::origin, |b| b.middle());
        Self {
            at: corners.first().copied().unwrap_or(middle),
            bounds,
            volume: mesh.volume_about(&middle, members.iter().copied()),
        }
    }
}

/// The triangles of each shell.
pub(super) fn members(shells: &Shells) -> Vec<Vec<usize>> {
    let mut members = vec![Vec::new(); shells.count];
    for (t, &shell) in shells.of_triangle.iter().enumerate() {
        members[shell as usize].push(t);
    }
    members
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use crate::solid::Solid;

    #[test]
    fn triangles_turned_at_random_are_turned_back() {
        let whole = samples::torus(30.0, 10.0, 24, 12);
        let mut soup = Soup::of(&whole);
        for t in (0..soup.triangles.len()).step_by(3) {
            soup.triangles[t].swap(1, 2);
        }
        let agreed = agree(&mut soup);
        assert_eq!((agreed.turned, agreed.one_sided), (192, 0));
        assert!(Solid::try_from(soup.into_mesh().unwrap()).is_ok());
    }

    #[test]
    fn a_strip_with_one_side_is_told() {
        // Ten pairs of corners; the last pair meets the first one crosswise.
        let mut soup = Soup::default();
        for i in 0..10_u32 {
            let turn = std::f64::consts::PI * f64::from(i) / 10.0;
            let middle = nalgebra::Vector3::new((2.0 * turn).cos(), (2.0 * turn).sin(), 0.0);
            let tilt = 0.3 * (middle * turn.cos() + nalgebra::Vector3::z() * turn.sin());
            soup.push(Point3::from(middle + tilt));
            soup.push(Point3::from(middle - tilt));
        }
        for i in 0..10 {
            let [a, b] = [2 * i, 2 * i + 1];
            let [c, d] = if i == 9 { [1, 0] } else { [a + 2, b + 2] };
            soup.triangles.extend([[a, b, c], [c, b, d]]);
        }
        assert!(agree(&mut soup).one_sided > 0);
    }

    #[test]
    fn shells_face_out_and_cavities_in_whatever_they_did_before() {
        let [large, small] = [10.0, 5.0].map(|radius| samples::sphere(radius, 2));
        for outer in [large.clone(), large.clone().reversed()] {
            for inner in [small.clone(), small.clone().reversed()] {
                let (mesh, _) = face_out(&outer.joined(&inner));
                let volume = large.volume() - small.volume();
                assert!((mesh.volume() - volume).abs() < 1e-9);
                assert!(Solid::try_from(mesh).is_ok());
            }
        }
        let (_, turned) = face_out(&large.clone().joined(&small.reversed()));
        assert!(turned.is_empty());
    }
}
