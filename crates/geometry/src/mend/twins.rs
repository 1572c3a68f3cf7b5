//! Too many triangles: the same one twice, and flaps that hang on an edge which has its two already.

use std::collections::BTreeSet;

use super::soup::{Soup, index};
use crate::topology::{DisjointSets, Edges};

/// A patch that is more than this share of the whole surface is never taken for a flap.
const LARGEST_FLAP: f64 = 0.05;

/// What was taken away.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Taken {
    /// Triangles.
    pub(super) triangles: usize,
    /// Their area, in mm².
    pub(super) area: f64,
}

/// Numbers of the triangles that have the same three corners as an earlier one.
pub(super) fn copies(triangles: &[[u32; 3]]) -> Vec<u32> {
    let mut found: Vec<u32> = groups(triangles)
        .into_iter()
        .flat_map(|group| group[1..].to_vec())
        .collect();
    found.sort_unstable();
    found
}

/// Triangles with the same three corners, in groups of two and more.
fn groups(triangles: &[[u32; 3]]) -> Vec<Vec<u32>> {
    let mut keyed: Vec<([u32; 3], u32)> = triangles
        .iter()
        .zip(0..)
        .map(|(corners, t)| {
            let mut key = *corners;
            key.sort_unstable();
            (key, t)
        })
        .collect();
    keyed.sort_unstable();
    keyed
        .chunk_by(|a, b| a.0 == b.0)
        .filter(|group| group.len() > 1)
        .map(|group| group.iter().map(|(_, t)| *t).collect())
        .collect()
}

/// Takes away what is there twice.
///
/// One triangle of several with the same corners stays where the surface around needs one, none where
/// it is closed without them, as along a flap folded flat on itself.
pub(super) fn drop_copies(soup: &mut Soup) -> Taken {
    let groups = groups(&soup.triangles);
    if groups.is_empty() {
        return Taken::default();
    }
    let again: BTreeSet<u32> = groups
        .iter()
        .flat_map(|group| &group[1..])
        .copied()
        .collect();
    let once = soup.numbers().filter(|t| !again.contains(t));
    let once: Vec<_> = once.map(|t| soup.triangles[t as usize]).collect();
    let edges = Edges::of(&once);
    let mut doomed = BTreeSet::new();
    for group in &groups {
        let [a, b, c] = soup.triangles[group[0] as usize];
        // Beside the triangle itself.
        let odd = |&(u, v): &(u32, u32)| edges.count_between(u, v).is_multiple_of(2);
        let needed = [(a, b), (b, c), (c, a)].iter().any(odd);
        doomed.extend(&group[usize::from(needed)..]);
    }
    taken(soup, &doomed)
}

/// Takes away patches that hang on an edge where two other triangles meet: an odd number of triangles
/// along an edge cannot enclose anything. The smallest patch at such an edge goes, one with a free
/// border first; none that is more than a twentieth of the surface.
pub(super) fn drop_flaps(soup: &mut Soup) -> Taken {
    let mut all = Taken::default();
    loop {
        let doomed = flaps(soup);
        if doomed.is_empty() {
            return all;
        }
        let gone = taken(soup, &doomed);
        all.triangles += gone.triangles;
        all.area += gone.area;
    }
}

/// Edges with three, five, … triangles.
pub(super) fn odd_edges(soup: &Soup) -> usize {
    let edges = soup.edges();
    let odd = edges.groups().filter(|g| g.len() > 2 && g.len() % 2 == 1);
    odd.count()
}

fn flaps(soup: &Soup) -> BTreeSet<u32> {
    let edges = soup.edges();
    let odd: Vec<_> = edges
        .groups()
        .filter(|group| group.len() > 2 && group.len() % 2 == 1)
        .collect();
    if odd.is_empty() {
        return BTreeSet::new();
    }
    let mut sets = DisjointSets::new(soup.triangles.len());
    for group in edges.groups() {
        if let [one, other] = group {
            sets.join(one.2 >> 1, other.2 >> 1);
        }
    }
    let patch: Vec<u32> = soup.numbers().map(|t| sets.root(t)).collect();
    let mut area = vec![0.0; patch.len()];
    for t in soup.numbers() {
        area[patch[t as usize] as usize] += soup.area_vector(t).norm();
    }
    let mut closed = vec![true; patch.len()];
    for group in edges.groups() {
        if let [only] = group {
            closed[patch[(only.2 >> 1) as usize] as usize] = false;
        }
    }
    let most = LARGEST_FLAP * area.iter().sum::<f64>();
    let smallest = |group: &[(u32, u32, u32)]| {
        let patches = group.iter().map(|e| patch[(e.2 >> 1) as usize]);
        patches
            .filter(|&p| area[p as usize] <= most)
            .min_by(|&p, &q| {
                let [p, q] = [p, q].map(|p| (closed[p as usize], area[p as usize]));
                p.0.cmp(&q.0).then(p.1.total_cmp(&q.1))
            })
    };
    let doomed: BTreeSet<u32> = odd.into_iter().filter_map(smallest).collect();
    soup.numbers()
        .filter(|&t| doomed.contains(&patch[t as usize]))
        .collect()
}

fn taken(soup: &mut Soup, doomed: &BTreeSet<u32>) -> Taken {
    let area = doomed.iter().map(|&t| soup.area_vector(t).norm()).sum();
    let triangles = soup.retain(|t| !doomed.contains(&t));
    debug_assert_eq!(index(triangles), index(doomed.len()));
    Taken { triangles, area }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use nalgebra::Point3;

    fn ball() -> Soup {
        Soup::of(&samples::sphere(10.0, 3))
    }

    #[test]
    fn of_a_triangle_and_its_copies_one_stays_even_if_a_copy_is_turned_round() {
        let mut soup = ball();
        let whole = soup.triangles.clone();
        let [a, b, c] = whole[7];
        soup.triangles.extend([[b, c, a], [a, c, b], whole[40]]);
        assert_eq!(copies(&soup.triangles).len(), 3);
        assert_eq!(drop_copies(&mut soup).triangles, 3);
        assert_eq!(soup.triangles, whole);
    }

    #[test]
    fn of_a_surface_that_is_there_twice_one_stays() {
        let mut soup = ball();
        let whole = soup.triangles.clone();
        soup.triangles.extend(whole.clone());
        assert_eq!(drop_copies(&mut soup).triangles, whole.len());
        assert_eq!(soup.triangles, whole);
    }

    #[test]
    fn a_flap_folded_flat_on_itself_goes_altogether() {
        let mut soup = ball();
        let whole = soup.triangles.clone();
        let [a, b, _] = whole[7];
        let tip = soup.push(Point3::new(0.0, 0.0, 30.0));
        soup.triangles.extend([[a, b, tip], [b, a, tip]]);
        assert_eq!(drop_copies(&mut soup).triangles, 2);
        assert_eq!(soup.triangles, whole);
    }

    #[test]
    fn a_flap_on_an_edge_goes_and_the_surface_stays() {
        let mut soup = ball();
        let whole = soup.triangles.clone();
        let [a, b, _] = whole[7];
        let tips = [14.0, 16.0].map(|z| soup.push(Point3::new(0.0, 0.0, z)));
        soup.triangles
            .extend([[a, b, tips[0]], [b, tips[0], tips[1]]]);
        assert_eq!(odd_edges(&soup), 1);
        assert_eq!(drop_flaps(&mut soup).triangles, 2);
        assert_eq!(soup.triangles, whole);
    }

    #[test]
    fn what_is_no_flap_stays_though_it_cannot_be_right() {
        // Three half planes along one edge: none is a small part of the whole.
        let mut soup = Soup::default();
        let ends = [0.0, 1.0].map(|z| soup.push(Point3::new(0.0, 0.0, z)));
        for (x, y) in [(1.0, 0.0), (-1.0, 1.0), (-1.0, -1.0)] {
            let tip = soup.push(Point3::new(x, y, 0.0));
            soup.triangles.push([ends[0], ends[1], tip]);
        }
        assert_eq!(drop_flaps(&mut soup), Taken::default());
        assert_eq!(odd_edges(&soup), 1);
    }
}
