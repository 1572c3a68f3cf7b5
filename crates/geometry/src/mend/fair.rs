//! Where the corners of a lid go so that it bends on as the surface around it.

use std::collections::BTreeMap;

use nalgebra::{Point3, Vector3};

use super::fill::Draft;
use super::soup::{Fans, Soup, index};

/// Moves the corners within the lid to where the squares of all bends are least: at each corner of the
/// lid and of its border, the bend is the way from the corner to the mean of its neighbours.
///
/// Linear in the corners, and solved by conjugate gradients.
pub(super) fn bend(draft: &mut Draft, soup: &Soup, fans: &Fans) {
    let stars = Stars::of(draft, soup, fans);
    let border = draft.ring.len();
    let inner = draft.vertices.len() - border;
    if inner == 0 {
        return;
    }
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
    let solved = conjugate_gradients(apply, &fixed, start);
    for (vertex, place) in draft.vertices[border..].iter_mut().zip(solved) {
        *vertex = Point3::from(place);
    }
}

/// The neighbours of each corner of lid and border.
struct Stars {
    /// Corners of the border, of the lid, then those of the mesh around.
    places: Vec<Vector3<f64>>,
    /// Of the border's and the lid's corners.
    neighbours: Vec<Vec<u32>>,
}

impl Stars {
    fn of(draft: &Draft, soup: &Soup, fans: &Fans) -> Self {
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
        Self { places, neighbours }
    }

    fn bends(&self, places: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
        let bend = |(v, around): (usize, &Vec<u32>)| {
            let sum: Vector3<f64> = around.iter().map(|&u| places[u as usize]).sum();
            sum / f64::from(index(around.len().max(1))) - places[v]
        };
        self.neighbours.iter().enumerate().map(bend).collect()
    }

    /// What the bends pull at the inner corners.
    fn transposed(&self, bends: &[Vector3<f64>], border: usize, inner: usize) -> Vec<Vector3<f64>> {
        let mut pull = vec![Vector3::zeros(); self.places.len()];
        for (v, (around, bend)) in self.neighbours.iter().zip(bends).enumerate() {
            let share = bend / f64::from(index(around.len().max(1)));
            for &u in around {
                pull[u as usize] += share;
            }
            pull[v] -= bend;
        }
        pull[border..border + inner].to_vec()
    }
}

/// The x of `apply`(x) = −`fixed`, `apply` being symmetric and positive.
fn conjugate_gradients(
    apply: impl Fn(&[Vector3<f64>]) -> Vec<Vector3<f64>>,
    fixed: &[Vector3<f64>],
    mut x: Vec<Vector3<f64>>,
) -> Vec<Vector3<f64>> {
    /// A bend a millionth of the first one is no longer seen.
    const ENOUGH: f64 = 1e-12;
    const ROUNDS: usize = 3000;
    let squares = |v: &[Vector3<f64>]| v.iter().map(Vector3::norm_squared).sum::<f64>();
    let mut rest: Vec<_> = apply(&x).iter().zip(fixed).map(|(a, f)| -(a + f)).collect();
    let mut way = rest.clone();
    let mut size = squares(&rest);
    let enough = ENOUGH * squares(fixed).min(size);
    for _ in 0..ROUNDS {
        if size <= enough {
            break;
        }
        let image = apply(&way);
        let along: f64 = way.iter().zip(&image).map(|(w, i)| w.dot(i)).sum();
        if along <= 0.0 {
            break;
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
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_system_is_solved() {
        let apply = |x: &[Vector3<f64>]| vec![4.0 * x[0] + x[1], x[0] + 3.0 * x[1]];
        let fixed = [Vector3::new(-1.0, 0.0, 2.0), Vector3::new(-2.0, 1.0, 0.0)];
        let x = conjugate_gradients(apply, &fixed, vec![Vector3::zeros(); 2]);
        for (left, right) in apply(&x).iter().zip(fixed) {
            assert!((left + right).norm() < 1e-5);
        }
        assert!((x[0].x - 1.0 / 11.0).abs() < 1e-6);
    }
}
