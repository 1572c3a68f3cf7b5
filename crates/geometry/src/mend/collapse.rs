//! One edge made into a corner, where that neither pinches nor opens nor folds the surface.

use nalgebra::Point3;

use super::soup::{Fans, Soup};

/// Moves one end of an edge onto the other; whether that could be.
///
/// `fits` is asked of every triangle around the end that goes, as it was and as it would be. Corners
/// marked `busy` stay, and all corners around are marked, so that `fans` stays true for the others. The
/// triangles that name a corner twice are left for the caller to drop.
pub(super) fn collapse(
    soup: &mut Soup,
    fans: &Fans,
    busy: &mut [bool],
    ends: [u32; 2],
    fits: impl Fn(&[Point3<f64>; 3], &[Point3<f64>; 3]) -> bool,
) -> bool {
    let Some(gone) = ends.into_iter().find(|&v| is_inner(soup, fans, v)) else {
        return false;
    };
    let kept = if gone == ends[0] { ends[1] } else { ends[0] };
    let touched = around_edge(fans, gone, kept);
    let mut corners = touched.iter().flat_map(|&t| soup.triangles[t as usize]);
    if corners.any(|v| busy[v as usize]) {
        return false;
    }
    let theirs = neighbours(soup, fans, kept);
    let ours = neighbours(soup, fans, gone);
    let common = ours.iter().filter(|v| theirs.binary_search(v).is_ok());
    // Two corners are common to both ends where the surface is simple; more would pinch it.
    if common.count() != 2 || ours.len() < 4 {
        return false;
    }
    let all_fit = fans.around(gone).iter().all(|&t| {
        let corners = soup.triangles[t as usize];
        let moved = corners.map(|v| soup.at(if v == gone { kept } else { v }));
        corners.contains(&kept) || fits(&soup.corners(t), &moved)
    });
    if all_fit {
        for &t in &touched {
            for v in &mut soup.triangles[t as usize] {
                busy[*v as usize] = true;
                if *v == gone {
                    *v = kept;
                }
            }
        }
    }
    all_fit
}

/// The triangles around both ends of an edge.
fn around_edge(fans: &Fans, u: u32, v: u32) -> Vec<u32> {
    let both = fans.around(u).iter().chain(fans.around(v));
    let mut both: Vec<u32> = both.copied().collect();
    both.sort_unstable();
    both.dedup();
    both
}

/// The corners around a corner, in ascending order.
pub(super) fn neighbours(soup: &Soup, fans: &Fans, v: u32) -> Vec<u32> {
    let around = fans.around(v).iter();
    let others = around.flat_map(|&t| soup.triangles[t as usize]);
    let mut found: Vec<u32> = others.filter(|&u| u != v).collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// Whether the triangles around a corner close round it once, so that it is on no border.
pub(super) fn is_inner(soup: &Soup, fans: &Fans, v: u32) -> bool {
    fans.around(v).len() == neighbours(soup, fans, v).len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use crate::solid::Solid;

    #[test]
    fn a_collapsed_edge_takes_two_triangles_and_leaves_the_rest_closed() {
        let mut soup = Soup::of(&samples::sphere(10.0, 3));
        let (before, fans) = (soup.triangles.len(), soup.fans());
        let [a, b, _] = soup.triangles[100];
        let mut busy = vec![false; soup.vertices.len()];
        assert!(!collapse(&mut soup, &fans, &mut busy, [a, b], |_, _| false));
        assert!(collapse(&mut soup, &fans, &mut busy, [a, b], |_, _| true));
        assert!(!collapse(&mut soup, &fans, &mut busy, [a, b], |_, _| true));
        assert_eq!(soup.drop_collapsed(), 2);
        assert_eq!(soup.triangles.len(), before - 2);
        assert!(Solid::try_from(soup.into_mesh().unwrap()).is_ok());
    }

    #[test]
    fn a_collapse_that_would_pinch_is_refused() {
        // Two pyramids over one triangle: the two tips' edges to it share three corners.
        let mut soup = Soup::default();
        for p in [
            [0.0, 0.0, 0.0],
            [2.0, 0.0, 0.0],
            [0.0, 2.0, 0.0],
            [0.5, 0.5, 1.0],
            [0.5, 0.5, -1.0],
        ] {
            soup.push(Point3::from(p));
        }
        soup.triangles = vec![
            [0, 1, 3],
            [1, 2, 3],
            [2, 0, 3],
            [1, 0, 4],
            [2, 1, 4],
            [0, 2, 4],
        ];
        let fans = soup.fans();
        let mut busy = vec![false; 5];
        assert!(!collapse(&mut soup, &fans, &mut busy, [0, 1], |_, _| true));
    }
}
