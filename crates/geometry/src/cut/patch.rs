//! The wall of the cavity: the part of a tool's surface that lies in bone, as triangles.
//!
//! The round side is seen from an eye on the axis, inside the open bullet and above all of the wall,
//! and triangulated in that view (constrained Delaunay, the rim's chords as constraints). From there
//! the surface is seen whole and each point of it once, and straight lines look straight: triangles
//! that do not overlap in the view do not pass through each other in space. The flat end is
//! triangulated in its plane. Edges between two triangles are then turned where that makes the wall
//! more convex, which brings it closest to the tool.

use std::collections::HashMap;

use nalgebra::{Point3, Vector3};
use spade::{ConstrainedDelaunayTriangulation, HasPosition, Point2, Triangulation};

use super::Problem;
use super::clip::RimEdge;
use super::edges::EdgeMap;
use super::hull;
use super::lattice::{self, Cells};
use super::tool::Tool;

/// How near the edge of the flat end a vertex of the rim counts as on it, in mm: above the lift of the
/// flat end, below what any chord is split to.
const ON_CREASE: f64 = 1e-5;

/// Directions toward the round side, no three of them in a plane or on a line of a bone that was
/// drawn by hand: a surface without a rim lies in bone or in air as most of its points do, whatever
/// faces of the bone it touches.
const PROBES: [[f64; 3]; 5] = [
    [0.61, 0.23, -0.37],
    [-0.47, 0.59, -0.71],
    [-0.29, -0.67, -0.19],
    [0.17, -0.43, -0.83],
    [0.53, 0.79, -0.11],
];

/// A vertex of a chart: where it is seen, and the vertex of the mesh that is seen there.
#[derive(Clone, Copy)]
struct Seen {
    at: Point2<f64>,
    id: u32,
}

impl HasPosition for Seen {
    type Scalar = f64;

    fn position(&self) -> Point2<f64> {
        self.at
    }
}

/// The wall of a cavity under construction.
pub(super) struct Patch<'a> {
    tool: &'a Tool,
    rim: &'a [RimEdge],
    points: &'a mut Vec<Point3<f64>>,
    spacing: f64,
    /// Height of the eye above the tool's centre.
    eye: f64,
}

impl<'a> Patch<'a> {
    /// The triangles of the wall, facing into the cavity; `in_bone` tells whether a point of the
    /// tool's surface lies in bone and is asked only where no rim tells.
    pub(super) fn triangles(
        tool: &'a Tool,
        rim: &'a [RimEdge],
        points: &'a mut Vec<Point3<f64>>,
        spacing: f64,
        in_bone: impl Fn(&Point3<f64>) -> bool,
    ) -> Result<Vec<[u32; 3]>, Problem> {
        let mostly_in_bone = |probes: [Vector3<f64>; 5]| {
            probes.iter().filter(|x| in_bone(&tool.world(x))).count() > 2
        };
        if rim.is_empty()
            && !mostly_in_bone(PROBES.map(|x| Vector3::from(x).normalize() * tool.radius))
        {
            return Ok(Vec::new());
        }
        let on_top = rim.iter().any(|edge| edge.on_top);
        let at_crease = PROBES.map(|[x, y, _]| Vector3::new(x, y, 0.0).normalize() * tool.radius);
        let at_crease = at_crease.map(|x| x + tool.top * Vector3::z());
        let creased = tool.top.is_finite() && (on_top || mostly_in_bone(at_crease));
        if rim.is_empty() && !creased {
            return Err(Problem::Unbounded);
        }
        let heights = rim.iter().filter(|edge| !edge.on_top).flat_map(|e| e.ends);
        let heights = heights.map(|id| tool.own(&points[id as usize]).z);
        let highest = heights.fold(-tool.radius, f64::max);
        let height = if creased { tool.top } else { highest + spacing };
        let mut patch = Self {
            tool,
            rim,
            points,
            spacing,
            eye: height.max(0.0) + tool.radius,
        };
        patch.mesh(height, creased)
    }

    fn mesh(&mut self, height: f64, creased: bool) -> Result<Vec<[u32; 3]>, Problem> {
        let crease = if creased { self.crease() } else { Vec::new() };
        let mut round = rim_vertices(self.rim, false);
        round.extend(self.inner(height));
        if creased {
            round.extend(&crease);
        } else {
            round.extend(self.outermost(height));
        }
        distinct(&mut round);
        let seen: Vec<Seen> = round.iter().map(|&id| self.seen_from_eye(id)).collect();
        let constraints = self.constraints(false, &crease);
        let mut triangles = triangulated(&seen, &constraints)?;
        let round_count = triangles.len();
        if creased {
            let mut flat = rim_vertices(self.rim, true);
            flat.extend(&crease);
            distinct(&mut flat);
            let seen: Vec<Seen> = flat.iter().map(|&id| self.seen_flat(id)).collect();
            triangles.extend(triangulated(&seen, &self.constraints(true, &crease))?);
        }
        let wall = in_bone(&triangles, self.rim)?;
        let (mut round_wall, mut flat_wall) = (Vec::new(), Vec::new());
        for (index, corners) in triangles.iter().enumerate().filter(|(i, _)| wall[*i]) {
            let part = if index < round_count {
                &mut round_wall
            } else {
                &mut flat_wall
            };
            part.push(*corners);
        }
        let mut views = vec![None; self.points.len()];
        for s in &seen {
            views[s.id as usize] = Some(Point3::new(s.at.x, s.at.y, 0.0));
        }
        hull::make_convex(&mut round_wall, self.points, &views, self.rim);
        round_wall.extend(flat_wall);
        Ok(round_wall)
    }

    /// The rim's edges on the round side or on the flat end, and the edge of the flat end.
    fn constraints(&self, on_top: bool, crease: &[u32]) -> Vec<[u32; 2]> {
        let rim = self.rim.iter().filter(|edge| edge.on_top == on_top);
        let ring = crease.iter().zip(crease.iter().cycle().skip(1));
        let mut edges: Vec<_> = rim
            .map(|edge| edge.ends)
            .chain(ring.map(|(&u, &v)| [u, v]))
            .map(|[u, v]| [u.min(v), u.max(v)])
            .collect();
        edges.sort_unstable();
        edges.dedup();
        edges
    }

    fn own(&self, id: u32) -> Vector3<f64> {
        self.tool.own(&self.points[id as usize])
    }

    fn seen_from_eye(&self, id: u32) -> Seen {
        let x = self.own(id);
        let depth = self.eye - x.z;
        let at = Point2::new(x.x / depth, x.y / depth);
        Seen { at, id }
    }

    /// As seen from below, where the cavity is.
    fn seen_flat(&self, id: u32) -> Seen {
        let x = self.own(id);
        let at = Point2::new(x.y, x.x);
        Seen { at, id }
    }

    fn add(&mut self, x: &Vector3<f64>) -> u32 {
        let id = u32::try_from(self.points.len()).unwrap_or(u32::MAX);
        self.points.push(self.tool.world(x));
        id
    }

    /// A ring around everything seen, where no flat end gives one.
    fn outermost(&mut self, height: f64) -> Vec<u32> {
        let r = self.tool.radius;
        let rho = if height < 0.0 {
            (r * r - height * height).max(0.0).sqrt()
        } else {
            r
        };
        let ring: Vec<_> =
            lattice::ring(rho.max(0.1 * r), height, self.spacing / 2.0, 0.0).collect();
        ring.iter().map(|x| self.add(x)).collect()
    }

    /// The lattice's points that stand clear of the rim.
    fn inner(&mut self, height: f64) -> Vec<u32> {
        let own = lattice::rings(self.tool, height, self.spacing);
        let places: Vec<_> = own.iter().map(|x| self.tool.world(x)).collect();
        let cells = Cells::over(&places, self.spacing);
        let mut clear = vec![true; places.len()];
        let mut keep_off = |centre: Point3<f64>, radius: f64| {
            cells.near(&centre, radius, |index| {
                if (places[index] - centre).norm() < radius {
                    clear[index] = false;
                }
            });
        };
        for edge in self.rim {
            let [u, v] = edge.ends.map(|id| self.points[id as usize]);
            // Where a chord and its arc part most, the lattice must stay on the outer side of both.
            let half = (u - v).norm() / 2.0;
            keep_off(
                nalgebra::center(&u, &v),
                (1.1 * half).max(0.4 * self.spacing),
            );
            keep_off(u, 0.4 * self.spacing);
        }
        let kept = own.iter().zip(clear).filter(|(_, clear)| *clear);
        kept.map(|(x, _)| self.add(x)).collect()
    }

    /// The edge of the flat end: where the rim passes it, wherever the rim comes close to it, and
    /// evenly in between; in order of angle.
    fn crease(&mut self) -> Vec<u32> {
        let (r, top) = (self.tool.radius, self.tool.top);
        let sides = [false, true].map(|on_top| rim_vertices(self.rim, on_top));
        let passed: Vec<u32> = sides[0]
            .iter()
            .filter(|id| sides[1].binary_search(id).is_ok())
            .copied()
            .collect();
        let close = self.spacing * self.spacing / (4.0 * r);
        let mut fixed: Vec<(f64, Option<u32>)> = Vec::new();
        let mut all = sides.concat();
        distinct(&mut all);
        for id in all {
            let x = self.own(id);
            let angle = x.y.atan2(x.x);
            let off = (top - x.z).abs().max((r - x.x.hypot(x.y)).abs());
            if passed.binary_search(&id).is_ok() || off < ON_CREASE {
                fixed.push((angle, Some(id)));
            } else if off < close {
                fixed.push((angle, None));
            }
        }
        fixed.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        // Where two are at one angle, that which belongs to the rim stays.
        fixed.dedup_by(|b, a| b.1.is_none() && (b.0 - a.0).abs() < 1e-9);
        let mut crease = Vec::new();
        let full = std::f64::consts::TAU;
        if fixed.is_empty() {
            fixed.push((0.0, None));
        }
        for (index, &(angle, id)) in fixed.iter().enumerate() {
            let next = fixed.get(index + 1).map_or(fixed[0].0 + full, |f| f.0);
            let at = |a: f64| Vector3::new(r * a.cos(), r * a.sin(), top);
            crease.push(id.unwrap_or_else(|| self.add(&at(angle))));
            let steps = ((next - angle) * r / self.spacing).ceil().max(1.0);
            let mut k = 1.0;
            while k < steps - 0.5 {
                crease.push(self.add(&at(angle + (next - angle) * k / steps)));
                k += 1.0;
            }
        }
        crease
    }
}

/// The vertices of the rim on the round side or on the flat end, in ascending order.
fn rim_vertices(rim: &[RimEdge], on_top: bool) -> Vec<u32> {
    let edges = rim.iter().filter(|edge| edge.on_top == on_top);
    let mut ids: Vec<u32> = edges.flat_map(|edge| edge.ends).collect();
    distinct(&mut ids);
    ids
}

fn distinct(ids: &mut Vec<u32>) {
    ids.sort_unstable();
    ids.dedup();
}

/// The triangles of the constrained Delaunay triangulation, counter-clockwise as seen.
fn triangulated(seen: &[Seen], edges: &[[u32; 2]]) -> Result<Vec<[u32; 3]>, Problem> {
    let index_of: HashMap<u32, usize> = seen.iter().enumerate().map(|(i, s)| (s.id, i)).collect();
    let index = |id: &u32| index_of.get(id).copied().ok_or(Problem::Pinched);
    let mut indexed = Vec::with_capacity(edges.len());
    for [u, v] in edges {
        indexed.push([index(u)?, index(v)?]);
    }
    let mut conflicts = 0;

    let mesh =
        ConstrainedDelaunayTriangulation::<Seen>::try_bulk_load_cdt(seen.to_vec(), indexed, |_| {
            conflicts += 1
        });
    let mesh = mesh.map_err(|_| Problem::Overlapping)?;
    if conflicts > 0 || mesh.num_vertices() != seen.len() {
        return Err(Problem::Overlapping);
    }
    let corners = mesh.inner_faces().map(|face| face.vertices());
    Ok(corners.map(|v| v.map(|v| v.data().id)).collect())
}

/// Which triangles lie in bone: those left of the rim, and all that are joined to them without
/// crossing it; all of them where there is no rim.
fn in_bone(triangles: &[[u32; 3]], rim: &[RimEdge]) -> Result<Vec<bool>, Problem> {
    let mut at_edge: EdgeMap<usize> = EdgeMap::default();
    at_edge.reserve(3 * triangles.len());
    for (index, corners) in triangles.iter().enumerate() {
        for k in 0..3 {
            let edge = [corners[k], corners[(k + 1) % 3]];
            if at_edge.insert(edge, index).is_some() {
                return Err(Problem::Overlapping);
            }
        }
    }
    if rim.is_empty() {
        return Ok(vec![true; triangles.len()]);
    }
    let mut label: Vec<Option<bool>> = vec![None; triangles.len()];
    let mut open = Vec::new();
    let mut border: EdgeMap<()> = EdgeMap::default();
    for &RimEdge { ends: [u, v], .. } in rim {
        border.extend([([u, v], ()), ([v, u], ())]);
        open.push((*at_edge.get(&[u, v]).ok_or(Problem::Pinched)?, true));
        open.extend(at_edge.get(&[v, u]).map(|&index| (index, false)));
    }
    while let Some((index, inside)) = open.pop() {
        match label[index] {
            Some(known) if known != inside => return Err(Problem::Inconsistent),
            Some(_) => continue,
            None => label[index] = Some(inside),
        }
        let corners = triangles[index];
        for k in 0..3 {
            let twin = [corners[(k + 1) % 3], corners[k]];
            if !border.contains_key(&twin) {
                open.extend(at_edge.get(&twin).map(|&other| (other, inside)));
            }
        }
    }
    // A wall that ends anywhere but at the rim would leave the bone open.
    let ends_open = |index: usize| {
        let corners = triangles[index];
        (0..3).any(|k| {
            let twin = [corners[(k + 1) % 3], corners[k]];
            !border.contains_key(&twin) && !at_edge.contains_key(&twin)
        })
    };
    let wall: Vec<bool> = label.iter().map(|l| *l == Some(true)).collect();
    if (0..triangles.len()).any(|index| wall[index] && ends_open(index)) {
        return Err(Problem::Unbounded);
    }
    Ok(wall)
}
