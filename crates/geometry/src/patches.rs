//! Patches of surface, each with what all of it contributes to the measures of a tool around it.
//!
//! The patches halve each other down to the leaves of the tree of boxes. A measure walks from the
//! whole surface down and goes into a patch only where the tool's surface may cross it: a patch
//! inside the tool is one term, whatever the number of its triangles.

use nalgebra::{Point3, Vector3};

use crate::bvh::GROUP;
use crate::mesh::TriMesh;

/// Fewer leaves are done before another thread has taken notice.
const WORTH_A_THREAD: usize = 512;

/// A ball around a patch.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Reach {
    pub(crate) centre: Point3<f64>,
    pub(crate) radius: f64,
}

/// Integrals over a patch with outward unit normal n and points x, told from [`Patches::origin`].
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Flux {
    /// ∫ n dA.
    vector: Vector3<f64>,
    /// ∫ x n, y n, z n dA, each by the normal's part along the same axis.
    along: Vector3<f64>,
    /// ∫ (y nz + z ny), (z nx + x nz), (x ny + y nx) dA.
    across: Vector3<f64>,
}

impl Flux {
    /// Of one triangle.
    fn of([a, b, c]: [Vector3<f64>; 3]) -> Self {
        let vector = (b - a).cross(&(c - a)) / 2.0;
        let middle = (a + b + c) / 3.0;
        let pair = |i: usize, j: usize| middle[i] * vector[j] + middle[j] * vector[i];
        Self {
            vector,
            along: middle.component_mul(&vector),
            across: Vector3::new(pair(1, 2), pair(2, 0), pair(0, 1)),
        }
    }

    fn plus(&self, other: &Self) -> Self {
        Self {
            vector: self.vector + other.vector,
            along: self.along + other.along,
            across: self.across + other.across,
        }
    }

    /// ∫ (x − c) · n dA: three times the signed volume of the cone from `c` over the patch.
    pub(crate) fn cone(&self, c: &Vector3<f64>) -> f64 {
        self.along.sum() - c.dot(&self.vector)
    }

    /// ∫ (x − c) · a  n · a dA: the signed volume between the patch and the plane through `c` at right
    /// angles to the unit vector `a`.
    pub(crate) fn under(&self, c: &Vector3<f64>, a: &Vector3<f64>) -> f64 {
        let both = Vector3::new(a.y * a.z, a.z * a.x, a.x * a.y);
        self.along.dot(&a.component_mul(a)) + self.across.dot(&both) - a.dot(c) * self.shadow(a)
    }

    /// ∫ n · a dA: the signed area of the patch seen along `a`.
    pub(crate) fn shadow(&self, a: &Vector3<f64>) -> f64 {
        a.dot(&self.vector)
    }
}

/// What a walk over the patches asks and does.
pub(crate) trait Walk {
    /// Whether to go into a patch. Where the answer is no the patch is done with.
    fn enters(&mut self, reach: &Reach, flux: &Flux) -> bool;

    /// A triangle of a leaf that was entered.
    fn triangle(&mut self, index: u32);
}

/// All patches of a mesh; about 26 bytes for each triangle.
#[derive(Clone, Debug)]
pub(crate) struct Patches {
    /// Balls and integrals of the patches, each before its two halves, of which the second begins where
    /// the first ends.
    reaches: Vec<Reach>,
    fluxes: Vec<Flux>,
    leaves: usize,
    origin: Point3<f64>,
}

impl Patches {
    /// The patches over triangles in an order in which every `GROUP` that follow each other lie
    /// together, and the halves of the whole, by the number of groups, too.
    pub(crate) fn over(mesh: &TriMesh, order: &[u32]) -> Self {
        let leaves = order.len().div_ceil(GROUP).max(1);
        let origin = mesh.bounds().map_or_else(Point3::origin, |b| b.middle());
        let mut reaches = vec![Reach::default(); 2 * leaves - 1];
        let mut fluxes = vec![Flux::default(); 2 * leaves - 1];
        let builder = Builder { mesh, origin };
        builder.fill(order, &mut reaches, &mut fluxes);
        Self {
            reaches,
            fluxes,
            leaves,
            origin,
        }
    }

    /// The point from which the integrals are told.
    pub(crate) fn origin(&self) -> Point3<f64> {
        self.origin
    }

    /// How far off, in mm, a place may be told by rounding in the coordinates of a tool at `centre` that
    /// is `radius` large. What lies this far on one side of a tool's surface surely lies there.
    pub(crate) fn rounding(&self, centre: &Point3<f64>, radius: f64) -> f64 {
        let whole = &self.reaches[0];
        let farthest = whole.centre.coords.amax() + whole.radius;
        1e-12 * (centre.coords.amax() + farthest + radius)
    }

    /// Walks from the whole surface to the triangles, always in the same order.
    pub(crate) fn walk(&self, order: &[u32], walk: &mut impl Walk) {
        // Halving 2³² leaves goes 32 deep, and one half waits at each depth.
        let mut waiting = [(0, 0, 0); 33];
        waiting[0] = (0, 0, self.leaves);
        let mut count = 1;
        while count > 0 {
            count -= 1;
            let (mut node, first, mut leaves) = waiting[count];
            while walk.enters(&self.reaches[node], &self.fluxes[node]) {
                if leaves == 1 {
                    let end = order.len().min((first + 1) * GROUP);
                    for &triangle in &order[first * GROUP..end] {
                        walk.triangle(triangle);
                    }
                    break;
                }
                let half = leaves / 2;
                waiting[count] = (node + 2 * half, first + half, leaves - half);
                count += 1;
                (node, leaves) = (node + 1, half);
            }
        }
    }
}

struct Builder<'a> {
    mesh: &'a TriMesh,
    origin: Point3<f64>,
}

impl Builder<'_> {
    /// Fills in a patch and all its halves.
    fn fill(&self, order: &[u32], reaches: &mut [Reach], fluxes: &mut [Flux]) {
        let leaves = order.len().div_ceil(GROUP);
        if leaves <= 1 {
            (reaches[0], fluxes[0]) = self.leaf(order);
            return;
        }
        let half = leaves / 2;
        let (first, second) = order.split_at(half * GROUP);
        let (own_reach, halves) = reaches.split_at_mut(1);
        let (reach_a, reach_b) = halves.split_at_mut(2 * half - 1);
        let (own_flux, halves) = fluxes.split_at_mut(1);
        let (flux_a, flux_b) = halves.split_at_mut(2 * half - 1);
        let mut fill_first = || self.fill(first, reach_a, flux_a);
        let mut fill_second = || self.fill(second, reach_b, flux_b);
        if leaves < WORTH_A_THREAD {
            fill_first();
            fill_second();
        } else {
            rayon::join(fill_first, fill_second);
        }
        own_reach[0] = around(&reach_a[0], &reach_b[0]);
        own_flux[0] = flux_a[0].plus(&flux_b[0]);
    }

    fn leaf(&self, triangles: &[u32]) -> (Reach, Flux) {
        let corners = |t: &u32| self.mesh.corners(*t as usize);
        let points = || triangles.iter().flat_map(corners);
        let (mut min, mut max) = (Vector3::repeat(f64::MAX), Vector3::repeat(f64::MIN));
        for p in points() {
            (min, max) = (min.inf(&p.coords), max.sup(&p.coords));
        }
        let centre = Point3::from((min + max) / 2.0);
        let farthest = points().map(|p| (p - centre).norm_squared());
        let reach = Reach {
            centre,
            radius: farthest.fold(0.0, f64::max).sqrt(),
        };
        let flux = |t: &u32| Flux::of(corners(t).map(|p| p - self.origin));
        let none = Flux::default();
        (
            reach,
            triangles.iter().map(flux).fold(none, |sum, f| sum.plus(&f)),
        )
    }
}

/// The smallest ball around two.
fn around(a: &Reach, b: &Reach) -> Reach {
    let apart = b.centre - a.centre;
    let distance = apart.norm();
    if distance + b.radius <= a.radius {
        return *a;
    }
    if distance + a.radius <= b.radius {
        return *b;
    }
    let radius = (distance + a.radius + b.radius) / 2.0;
    Reach {
        centre: a.centre + apart * ((radius - a.radius) / distance),
        radius,
    }
}
