//! Cutting out places where a surface passes through itself, and closing the cuts.

use std::collections::{BTreeMap, BTreeSet};

use super::holes::borders;
use super::soup::{Neighbours, Soup, index};
use super::untangle::Tangle;
use super::{facing, lids};
use crate::mesh::Bounds;

/// A soup with tangles cut out, what they cut off left out, and the cuts closed.
pub(super) fn healed(mut soup: Soup, tangles: &[Tangle], most: f64) -> Soup {
    let cut: BTreeSet<u32> = tangles.iter().flat_map(|t| t.triangles.clone()).collect();
    let corners = cut.iter().flat_map(|&t| soup.triangles[t as usize]);
    let touched: BTreeSet<u32> = corners.collect();
    let whole = soup.edges().shells();
    let piece_of = {
        let mut kept = Vec::new();
        for t in soup.numbers().filter(|t| !cut.contains(t)) {
            kept.push(whole.of_triangle[t as usize]);
        }
        kept
    };
    soup.retain(|t| !cut.contains(&t));
    drop_fragments(&mut soup, &piece_of, &touched, most);
    let neighbours = Neighbours::of(&soup);
    let cuts: Vec<_> = borders(&soup, &neighbours)
        .into_iter()
        .filter(|hole| hole.border.iter().all(|v| touched.contains(v)))
        .collect();
    lids::put_on(&mut soup, &cuts);
    soup
}

/// Leaves out what the cut parted from a piece: all but its largest part, as far as it is at most `most`
/// mm across and has a corner on the cut.
fn drop_fragments(soup: &mut Soup, piece_of: &[u32], touched: &BTreeSet<u32>, most: f64) {
    let parts = soup.edges().shells();
    let members = facing::members(&parts);
    let mut largest = BTreeMap::new();
    for (number, part) in members.iter().enumerate() {
        let piece = piece_of[part[0]];
        let best = largest.entry(piece).or_insert(number);
        if members[*best].len() < part.len() {
            *best = number;
        }
    }
    let doomed: BTreeSet<usize> = members
        .iter()
        .enumerate()
        .filter(|(number, part)| {
            let numbers: Vec<u32> = part.iter().map(|&t| index(t)).collect();
            let wide = soup
                .bounds_of(&numbers)
                .is_none_or(|b: Bounds| b.extent().norm() > most);
            let on_cut = numbers.iter().any(|&t| {
                soup.triangles[t as usize]
                    .iter()
                    .any(|v| touched.contains(v))
            });
            largest[&piece_of[part[0]]] != *number && !wide && on_cut
        })
        .map(|(number, _)| number)
        .collect();
    soup.retain(|t| !doomed.contains(&(parts.of_triangle[t as usize] as usize)));
}
