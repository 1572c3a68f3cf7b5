//! Closed surfaces broken at random and mended: volume and area come back, and nothing that was there has
//! moved.
//!
//! Bounds: without holes volume and area to 10⁻⁹ of themselves, for mending then only turns and leaves out
//! triangles; with up to three holes, each up to a third of the surface's least radius across, to 0.5 %.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use cupwright_geometry::mend::{Left, Mended, Mending};
use cupwright_geometry::{Solid, TriMesh, samples};
use nalgebra::{Point3, Rotation3, Vector3};
use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};

/// A sound surface.
#[derive(Clone, Copy, Debug)]
enum Shape {
    Lumpy { radius: f64, depth: f64 },
    Ring { ring: f64, tube: f64 },
}

impl Shape {
    /// In a pose in which no edge runs along an axis.
    fn mesh(self) -> TriMesh {
        let mesh = match self {
            Self::Lumpy { radius, depth } => samples::lumpy_ball(radius, depth, 70, 45),
            Self::Ring { ring, tube } => samples::torus(ring, tube, 90, 36),
        };
        let turn = Rotation3::new(Vector3::new(0.3, -1.1, 0.7));
        mesh.moved(&nalgebra::convert(turn))
    }

    /// About the least radius that it is bent with.
    fn least_radius(self) -> f64 {
        match self {
            Self::Lumpy { radius, .. } => 0.5 * radius,
            Self::Ring { tube, .. } => tube,
        }
    }
}

/// What is done to it.
#[derive(Clone, Debug)]
struct Damage {
    /// Which corner is the middle of each hole, counting round and round.
    holes: Vec<u32>,
    /// Width of the holes as a share of the surface's least radius.
    width: f64,
    /// Share of the triangles that is turned round.
    flipped: f64,
    /// Share of the triangles that is there again, some of them turned round.
    copied: f64,
    /// Whether each triangle has corners of its own.
    torn: bool,
    seed: u64,
}

fn shapes() -> impl Strategy<Value = Shape> {
    prop_oneof![
        (20.0..60.0, 0.0..0.15).prop_map(|(radius, depth)| Shape::Lumpy { radius, depth }),
        (25.0..60.0, 8.0..18.0).prop_map(|(ring, tube)| Shape::Ring { ring, tube }),
    ]
}

fn damages(holes: std::ops::RangeInclusive<usize>) -> impl Strategy<Value = Damage> {
    let holes = prop::collection::vec(any::<u32>(), holes);
    let shares = (0.1..0.33, 0.0..1.0, 0.0..0.3);
    (holes, shares, any::<bool>(), any::<u64>()).prop_map(
        |(holes, (width, flipped, copied), torn, seed)| Damage {
            holes,
            width,
            flipped,
            copied,
            torn,
            seed,
        },
    )
}

/// A number that looks like chance, by Steele, Lea & Flood (2014, Proc. OOPSLA, 453).
fn mixed(seed: u64, n: u64) -> u64 {
    let mut z = seed.wrapping_add(n.wrapping_mul(0x9e37_79b9_7f4a_7c15));
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Damage {
    fn done_to(&self, shape: Shape) -> TriMesh {
        let mesh = shape.mesh();
        let vertices = mesh.vertices();
        let middle = |number: &u32| vertices[*number as usize % vertices.len()];
        let middles: Vec<Point3<f64>> = self.holes.iter().map(middle).collect();
        let reach = 0.5 * self.width * shape.least_radius();
        let in_hole = |t: &[u32; 3]| {
            let corners = t.map(|v| vertices[v as usize]);
            let near = |m: &Point3<f64>| corners.iter().any(|p| (p - m).norm() < reach);
            middles.iter().any(near)
        };
        let chance = |n: u64, of: u64| {
            f64::from(u32::try_from(mixed(self.seed ^ of, n) >> 32).unwrap()) / f64::from(u32::MAX)
        };
        let mut triangles = Vec::new();
        for (n, t) in (0..).zip(mesh.triangles().iter().filter(|t| !in_hole(t))) {
            let [a, b, c] = *t;
            let turned = if chance(n, 1) < self.flipped {
                [a, c, b]
            } else {
                [b, c, a]
            };
            triangles.push(turned);
            let copied = chance(n, 2);
            if copied < self.copied {
                triangles.push(if copied < 0.5 * self.copied {
                    [c, a, b]
                } else {
                    [c, b, a]
                });
            }
        }
        let mut order: Vec<_> = (0..).zip(triangles).collect();
        order.sort_by_key(|(n, _)| mixed(self.seed, *n));
        let triangles = order.into_iter().map(|(_, t)| t);
        if self.torn {
            let corners = triangles.flat_map(|t| t.map(|v| vertices[v as usize]));
            let corners: Vec<_> = corners.collect();
            let count = u32::try_from(corners.len() / 3).unwrap();
            let triangles = (0..count).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect();
            return TriMesh::new(corners, triangles).unwrap();
        }
        TriMesh::new(vertices.to_vec(), triangles.collect()).unwrap()
    }
}

fn mended(mesh: &TriMesh) -> Mended {
    let mut mending = Mending::of(mesh);
    mending.join(0.02);
    mending.drop_surplus();
    mending.agree();
    mending.drop_crumbs(5.0);
    mending.face_out();
    mending.close_holes(40.0);
    mending.face_out();
    mending.finish().unwrap()
}

/// Breaks and mends many surfaces; volume and area must come back within a share of themselves.
fn come_back_within(share: f64, holes: std::ops::RangeInclusive<usize>) {
    let config = ProptestConfig {
        cases: 48,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let mut runner = TestRunner::new_with_rng(config, rng);
    let tried = runner.run(&(shapes(), damages(holes)), |(shape, damage)| {
        let sound = shape.mesh();
        let broken = damage.done_to(shape);
        let found = mended(&broken);
        prop_assert!(found.left.iter().all(Left::is_harmless), "{:?}", found.left);
        let changed = found.difference(&broken).whole();
        let moved = changed.moved.map_or(0.0, |far| far.distance);
        prop_assert!(moved < 1e-9, "moved by {moved}");
        let solid = Solid::try_from(found.mesh).unwrap();
        let off = [
            solid.volume() / sound.volume() - 1.0,
            solid.area() / sound.area() - 1.0,
        ];
        prop_assert!(off.iter().all(|off| off.abs() < share), "{off:?}");
        Ok(())
    });
    if let Err(problem) = tried {
        panic!("{problem}");
    }
}

#[test]
fn turned_copied_torn_and_shuffled_triangles_give_the_same_solid() {
    come_back_within(1e-9, 0..=0);
}

#[test]
fn holes_among_them_are_closed_to_half_a_percent() {
    come_back_within(5e-3, 1..=3);
}
