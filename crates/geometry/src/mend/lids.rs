//! Lids over several holes at once: bent where they may be, flat where a bent one would cross the surface.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::fill::{self, Lid};
use super::holes::Hole;
use super::soup::{Soup, index};
use crate::mesh::TriMesh;

/// How a hole was closed.
pub(super) struct Closed {
    pub(super) lid: Lid,
    /// Area of the lid, in mm².
    pub(super) area: f64,
    /// How far it stands off a flat one, in mm.
    pub(super) bulge: f64,
}

/// Puts lids over holes of a soup; how each was closed, in their order.
///
/// A lid that would pass through the surface when bent is laid flat.
pub(super) fn put_on(soup: &mut Soup, holes: &[Hole]) -> Vec<Option<Closed>> {
    let fans = soup.fans();
    let lid = |hole: &Hole, wanted: Lid| fill::lid(soup, &fans, &hole.border, wanted);
    let mut patches: Vec<_> = holes.par_iter().map(|hole| lid(hole, Lid::Bent)).collect();
    let crossed = crossed(soup, &patches);
    for (number, hole) in holes.iter().enumerate() {
        if crossed.contains(&number) {
            patches[number] = lid(hole, Lid::Flat);
        }
    }
    let mut told = Vec::new();
    for patch in patches {
        let Some(patch) = patch else {
            told.push(None);
            continue;
        };
        let first = add(soup, &patch);
        let area = (first..index(soup.triangles.len()))
            .map(|t| soup.area_vector(t).norm())
            .sum();
        told.push(Some(Closed {
            lid: patch.lid,
            area,
            bulge: patch.bulge,
        }));
    }
    told
}

/// Adds a patch to a soup; the number of its first triangle.
fn add(soup: &mut Soup, patch: &fill::Patch) -> u32 {
    let first = index(soup.triangles.len());
    // Corners of its own are numbered from the corners there were when it was made.
    let made_at = patch.base;
    let now = index(soup.vertices.len());
    soup.vertices.extend(&patch.vertices);
    let number = |v: u32| if v < made_at { v } else { v - made_at + now };
    soup.triangles
        .extend(patch.triangles.iter().map(|t| t.map(number)));
    first
}

/// The bent patches that would pass through the surface or each other.
fn crossed(soup: &Soup, patches: &[Option<fill::Patch>]) -> BTreeSet<usize> {
    let bent = |patch: &Option<fill::Patch>| patch.as_ref().is_some_and(|p| p.lid == Lid::Bent);
    if !patches.iter().any(bent) {
        return BTreeSet::new();
    }
    let mut all = soup.clone();
    let mut owners = Vec::new();
    for (number, patch) in patches.iter().enumerate() {
        if let Some(patch) = patch {
            add(&mut all, patch);
            owners.extend(std::iter::repeat_n(number, patch.triangles.len()));
        }
    }
    let first = all.triangles.len() - owners.len();
    // Vertices without a triangle stay, so that indices and triangles keep their numbers.
    let Ok(mesh) = TriMesh::new(all.vertices, all.triangles) else {
        return BTreeSet::new();
    };
    let pairs = crate::intersections::crossing_pairs(&mesh).into_iter();
    let owner = |t: u32| (t as usize).checked_sub(first).map(|k| owners[k]);
    pairs
        .flatten()
        .filter_map(owner)
        .filter(|&number| bent(&patches[number]))
        .collect()
}
