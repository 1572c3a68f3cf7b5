//! Corners where parts of a surface touch at a single point.

use super::soup::{Neighbours, Soup, TANGLED};

/// How many corners have triangles around them that do not hang together across edges there.
///
/// Harmless to every measure: volume and area do not notice a point.
pub(super) fn pinches(soup: &Soup, neighbours: &Neighbours) -> usize {
    let fans = soup.fans();
    let pinched = |&v: &u32| {
        let around = fans.around(v);
        !around.is_empty() && fan_of(soup, neighbours, v, around[0]) < around.len()
    };
    let vertices = 0..super::soup::index(soup.vertices.len());
    vertices.filter(pinched).count()
}

/// How many triangles hang together around a corner with one of them.
fn fan_of(soup: &Soup, neighbours: &Neighbours, vertex: u32, first: u32) -> usize {
    /// More triangles do not meet at a corner of any sane mesh; a tangle could turn for ever.
    const MOST: usize = 10_000;
    let mut count = 1;
    for way in [0, 2] {
        let Some(corner) = corner_at(soup, first, vertex) else {
            return count;
        };
        let (mut t, mut side) = (first, (corner + way) % 3);
        while count < MOST {
            let next = neighbours.across(t, side);
            if next >= TANGLED {
                break;
            }
            if next == first {
                return count;
            }
            let Some(corner) = corner_at(soup, next, vertex) else {
                return count;
            };
            // Of the two sides at the corner, the one not come in by.
            let sides = [corner, (corner + 2) % 3];
            let came_by = usize::from(neighbours.across(next, sides[1]) == t);
            (t, side) = (next, sides[1 - came_by]);
            count += 1;
        }
    }
    count
}

fn corner_at(soup: &Soup, t: u32, vertex: u32) -> Option<usize> {
    soup.triangles[t as usize].iter().position(|&v| v == vertex)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::TriMesh;
    use crate::samples;
    use nalgebra::Isometry3;

    fn counted(mesh: &TriMesh) -> usize {
        let soup = Soup::of(mesh);
        pinches(&soup, &Neighbours::of(&soup))
    }

    #[test]
    fn sound_surfaces_and_open_ones_have_no_pinch() {
        let ball = samples::sphere(10.0, 3);
        assert_eq!(counted(&ball), 0);
        let open = TriMesh::new(ball.vertices().to_vec(), ball.triangles()[1..].to_vec());
        assert_eq!(counted(&open.unwrap()), 0);
    }

    #[test]
    fn two_boxes_that_share_a_corner_have_one() {
        let block = samples::cuboid([2.0; 3]);
        let shift = Isometry3::translation(2.0, 2.0, 2.0);
        let mut soup = Soup::of(&block.joined(&block.moved(&shift)));
        super::super::weld::weld_all(&mut soup, 1e-9);
        assert_eq!(soup.vertices.len(), 15);
        assert_eq!(pinches(&soup, &Neighbours::of(&soup)), 1);
    }
}
