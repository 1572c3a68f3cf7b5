//! Where the corners of a lid go so that it bends on as the surface around it.

use std::collections::BTreeMap;

use nalgebra::{Point3, Vector3};

use super::fill::Draft;
use super::soup::{Fans, Soup, index};

/// Moves the corners within the lid to where the squares of all bends are least, the surface around meeting
/// it at `slope`; how far the farthest was moved. `None`, and nothing is moved, where that cannot be told.
///
/// The bend at a corner of the lid or of its border is the sum of the ways to its neighbours, each over the
/// length of its edge. Edges of the lid count as long as they will be once bent: an arc that comes down to
/// its chord at an angle is longer than that by the angle over its sine. Linear in the corners, and solved
/// by conjugate gradients.
pub(super) fn bend(draft: &mut Draft, soup: &Soup, fans: &Fans, slope: f64) -> Option<f64> {
    let stretch = if slope > 0.0 {
        slope / slope.sin()
    } else {
        1.0
    };
    let stars = Stars::of(draft, soup, fans, stretch);
    let border = draft.ring.len();
    let inner = draft.vertices.len() - border;
    // bends = A x + b with x the inner corners; least squares: AᵀA x = −Aᵀb.
    let mut places = stars.places.clone();
    let fixed = {
        places[border..border + inner].fill(Vector3::zeros());
        stars.transposed(&stars.bends(&places), border, inner)
    };
    let apply = |x: &[Vector3<f64>]| {
        let mut places = vec![Vector3::zeros(); stars.places.len()];
        places[border..border + inner].copy_from_slice(x);
        stars.transposed(&stars.bends(&places), border, inner)
    };
    let start = stars.places[border..border + inner].to_vec();
    let solved = conjugate_gradients(apply, &fixed, start)?;
    let mut farthest = 0.0_f64;
    for (vertex, place) in draft.vertices[border..].iter_mut().zip(solved) {
        farthest = farthest.max((place - vertex.coords).norm());
        *vertex = Point3::from(place);
    }
    Some(farthest)
}

/// The neighbours of each corner of lid and border.
struct Stars {
    /// Corners of the border, of the lid, then those of the mesh around.
    places: Vec<Vector3<f64>>,
    /// Of the border's and the lid's corners, and how much each counts.
    neighbours: Vec<Vec<(u32, f64)>>,
}

impl Stars {
    /// Edges of the lid, but for those of its border, count as `stretch` times as long as they are.
    fn of(draft: &Draft, soup: &Soup, fans: &Fans, stretch: f64) -> Self {
        let border = draft.ring.len();
        let mut places: Vec<_> = draft.vertices.iter().map(|p| p.coords).collect();
        let mut neighbours: Vec<Vec<u32>> = vec![Vec::new(); places.len()];
        for &[a, b, c] in &draft.triangles {
            for (u, v) in [(a, b), (b, c), (c, a)] {
                neighbours[u as usize].push(v);
                neighbours[v as usize].push(u);
            }
        }
        let on_ring: BTreeMap<u32, u32> = draft.ring.iter().copied().zip(0..).collect();
        let mut outer = BTreeMap::new();
        for (i, &v) in draft.ring.iter().enumerate() {
            let around = fans.around(v).iter();
            let others = around.flat_map(|&t| soup.triangles[t as usize]);
            for u in others.filter(|&u| u != v) {
                let number = on_ring.get(&u).copied().unwrap_or_else(|| {
                    *outer.entry(u).or_insert_with(|| {
                        places.push(soup.at(u).coords);
                        index(places.len() - 1)
                    })
                });
                neighbours[i].push(number);
            }
        }
        for list in &mut neighbours {
            list.sort_unstable();
            list.dedup();
        }
        let of_lid = border..draft.vertices.len();
        let length = |v: usize, u: usize| {
            let own = (places[v] - places[u]).norm();
            let bent = of_lid.contains(&v) || of_lid.contains(&u);
            if bent { stretch * own } else { own }
        };
        let neighbours = weighted(&neighbours, length);
        Self { places, neighbours }
    }

    fn bends(&self, places: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
        let bend = |(v, around): (usize, &Vec<(u32, f64)>)| {
            let ways = around
                .iter()
                .map(|&(u, counts)| counts * (places[u as usize] - places[v]));
            ways.sum()
        };
        self.neighbours.iter().enumerate().map(bend).collect()
    }

    /// What the bends pull at the inner corners.
    fn transposed(&self, bends: &[Vector3<f64>], border: usize, inner: usize) -> Vec<Vector3<f64>> {
        let mut pull = vec![Vector3::zeros(); self.places.len()];
        for (v, (around, bend)) in self.neighbours.iter().zip(bends).enumerate() {
            for &(u, counts) in around {
                pull[u as usize] += counts * bend;
                pull[v] -= counts * bend;
            }
        }
        pull[border..border + inner].to_vec()
    }
}

/// Neighbours with how much each counts: the inverse of the edge's `length`, shared among all of them.
fn weighted(neighbours: &[Vec<u32>], length: impl Fn(usize, usize) -> f64) -> Vec<Vec<(u32, f64)>> {
    /// Edges shorter than this share of the mean one count as that long: a sliver's would outweigh all.
    const SHORTEST: f64 = 0.1;
    let ends = |(v, around): (usize, &Vec<u32>)| -> Vec<f64> {
        around.iter().map(|&u| length(v, u as usize)).collect()
    };
    let lengths: Vec<_> = neighbours.iter().enumerate().map(ends).collect();
    let count: usize = lengths.iter().map(Vec::len).sum();
    let mean = lengths.iter().flatten().sum::<f64>() / f64::from(index(count.max(1)));
    let counted = |(around, lengths): (&Vec<u32>, &Vec<f64>)| {
        let share = 1.0 / f64::from(index(around.len().max(1)));
        let weight = |own: &f64| share * mean / own.max(SHORTEST * mean);
        around
            .iter()
            .copied()
            .zip(lengths.iter().map(weight))
            .collect()
    };
    neighbours.iter().zip(&lengths).map(counted).collect()
}

/// The x of `apply`(x) = −`fixed`, `apply` being symmetric and positive; `None` where it is not found in
/// the rounds allowed.
fn conjugate_gradients(
    apply: impl Fn(&[Vector3<f64>]) -> Vec<Vector3<f64>>,
    fixed: &[Vector3<f64>],
    mut x: Vec<Vector3<f64>>,
) -> Option<Vec<Vector3<f64>>> {
    /// A bend a millionth of the first one is no longer seen.
    const ENOUGH: f64 = 1e-12;
    const ROUNDS: usize = 20_000;
    let squares = |v: &[Vector3<f64>]| v.iter().map(Vector3::norm_squared).sum::<f64>();
    let mut rest: Vec<_> = apply(&x).iter().zip(fixed).map(|(a, f)| -(a + f)).collect();
    let mut way = rest.clone();
    let mut size = squares(&rest);
    let enough = ENOUGH * squares(fixed).min(size);
    for _ in 0..ROUNDS {
        if size <= enough {
            return Some(x);
        }
        let image = apply(&way);
        let along: f64 = way.iter().zip(&image).map(|(w, i)| w.dot(i)).sum();
        if along <= 0.0 {
            return None;
        }
        let step = size / along;
        for k in 0..x.len() {
            x[k] += step * way[k];
            rest[k] -= step * image[k];
        }
        let next = squares(&rest);
        for (w, r) in way.iter_mut().zip(&rest) {
            *w = r + *w * (next / size);
        }
        size = next;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_system_is_solved() {
        let apply = |x: &[Vector3<f64>]| vec![4.0 * x[0] + x[1], x[0] + 3.0 * x[1]];
        let fixed = [Vector3::new(-1.0, 0.0, 2.0), Vector3::new(-2.0, 1.0, 0.0)];
        let x = conjugate_gradients(apply, &fixed, vec![Vector3::zeros(); 2]).unwrap();
        for (left, right) in apply(&x).iter().zip(fixed) {
            assert!((left + right).norm() < 1e-5);
        }
        assert!((x[0].x - 1.0 / 11.0).abs() < 1e-6);
    }
}
