//! The inside of closed curves in a plane, as triangles.
//!
//! The curves' points are triangulated with their segments as edges (constrained Delaunay), and each
//! triangle is kept if the curves go round its middle more often to the left than to the right. So a
//! segment that the triangulation cannot hold spoils no more than the triangles that it runs through.

use std::cmp::Ordering;

use nalgebra::Point3;
use spade::handles::DirectedEdgeHandle;
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};

use crate::predicates::side_of_line;
use crate::winding::half_turn;

/// From one place to another, the inside to the left; places have the height 0.
pub(super) type Segment = [Point3<f64>; 2];

type Mesh = ConstrainedDelaunayTriangulation<Point2<f64>>;

type Edge<'a> = DirectedEdgeHandle<'a, Point2<f64>, (), spade::CdtEdge<()>, ()>;

/// The inside of some curves.
#[derive(Default)]
pub(super) struct Filled {
    pub(super) places: Vec<Point3<f64>>,
    /// Counter-clockwise.
    pub(super) triangles: Vec<[u32; 3]>,
    /// Closed, the inside to the left.
    pub(super) loops: Vec<Vec<u32>>,
}

/// A place of the plane; what the triangulation calls too small to tell from 0 is 0.
pub(super) fn place(x: f64, y: f64) -> Point3<f64> {
    let kept = spade::mitigate_underflow(Point2::new(x, y));
    // −0 and 0 are one place.
    Point3::new(kept.x + 0.0, kept.y + 0.0, 0.0)
}

/// What the segments go round.
pub(super) fn filled(segments: &[Segment]) -> Filled {
    let whole = triangulated(segments);
    let mesh = match whole {
        Some((mesh, 0)) => Some(mesh),
        Some(_) => triangulated(&parted(segments)).map(|(mesh, _)| mesh),
        None => None,
    };
    // Only places so far off that their numbers mean nothing cannot be triangulated.
    mesh.map_or_else(Filled::default, |mesh| inside(&mesh, segments))
}

fn inside(mesh: &Mesh, segments: &[Segment]) -> Filled {
    let windings = Windings::of(segments);
    // The face with index 0 is all that lies outside the hull.
    let mut kept = vec![false; mesh.num_all_faces()];
    let mut triangles = Vec::new();
    for face in mesh.inner_faces() {
        let corners = face.vertices();
        let places = corners.map(|v| flat(&v.position()));
        let middle = place(
            places.iter().map(|p| p.x).sum::<f64>() / 3.0,
            places.iter().map(|p| p.y).sum::<f64>() / 3.0,
        );
        if windings.about(&middle) > 0 {
            kept[face.index()] = true;
            triangles.push(corners.map(|v| id(v.index())));
        }
    }
    Filled {
        places: mesh.vertices().map(|v| flat(&v.position())).collect(),
        loops: loops(mesh, &kept),
        triangles,
    }
}

/// The borders of the faces that are kept.
fn loops(mesh: &Mesh, kept: &[bool]) -> Vec<Vec<u32>> {
    let left_kept = |edge: &Edge<'_>| kept[edge.face().index()];
    let mut seen = vec![false; mesh.num_directed_edges()];
    let mut loops = Vec::new();
    for first in mesh.directed_edges() {
        let mut around = Vec::new();
        let mut edge = first;
        while left_kept(&edge) && !left_kept(&edge.rev()) && !seen[edge.index()] {
            seen[edge.index()] = true;
            around.push(id(edge.from().index()));
            // On along the border: past the faces kept about the edge's end.
            edge = edge.next();
            while left_kept(&edge.rev()) {
                edge = edge.rev().next();
            }
        }
        if !around.is_empty() {
            loops.push(around);
        }
    }
    loops
}

/// The segments' ends triangulated, and how many segments cross others and are no edges of it.
fn triangulated(segments: &[Segment]) -> Option<(Mesh, usize)> {
    let mut places: Vec<Point3<f64>> = segments.iter().flatten().copied().collect();
    places.sort_unstable_by(in_order);
    places.dedup();
    let index = |p: &Point3<f64>| places.binary_search_by(|q| in_order(q, p)).ok();
    let edge = |[from, to]: &Segment| {
        let (from, to) = (index(from)?, index(to)?);
        Some([from.min(to), from.max(to)])
    };
    let mut edges: Vec<_> = segments.iter().filter_map(edge).collect();
    edges.sort_unstable();
    edges.dedup();
    let places = places.iter().map(|p| Point2::new(p.x, p.y)).collect();
    let mut crossed = 0;
    let mesh = Mesh::try_bulk_load_cdt(places, edges, |_| crossed += 1).ok()?;
    Some((mesh, crossed))
}

/// The segments, each in parts between the places where others cross it.
fn parted(segments: &[Segment]) -> Vec<Segment> {
    let span = |[a, b]: &Segment, k: usize| [a[k].min(b[k]), a[k].max(b[k])];
    let mut order: Vec<usize> = (0..segments.len()).collect();
    order.sort_by(|&i, &j| span(&segments[i], 0)[0].total_cmp(&span(&segments[j], 0)[0]));
    let mut stops: Vec<Vec<Point3<f64>>> = segments.iter().map(|[a, _]| vec![*a]).collect();
    for (rank, &i) in order.iter().enumerate() {
        let [_, end] = span(&segments[i], 0);
        let [low, high] = span(&segments[i], 1);
        let later = order[rank + 1..].iter();
        for &j in later.take_while(|&&j| span(&segments[j], 0)[0] <= end) {
            let [other_low, other_high] = span(&segments[j], 1);
            if other_low <= high && low <= other_high {
                let met = crossing(&segments[i], &segments[j]);
                stops[i].extend(met);
                stops[j].extend(met);
            }
        }
    }
    let mut parts = Vec::new();
    for ([start, end], mut stops) in segments.iter().zip(stops) {
        let along = |p: &Point3<f64>| (p - start).norm_squared();
        stops.sort_by(|p, q| along(p).total_cmp(&along(q)));
        stops.push(*end);
        parts.extend(stops.windows(2).map(|pair| [pair[0], pair[1]]));
    }
    parts.retain(|[a, b]| a != b);
    parts
}

/// Where two segments cross, ends not counted.
fn crossing([a, b]: &Segment, [c, d]: &Segment) -> Option<Point3<f64>> {
    let parted = |p: &Point3<f64>, q: &Point3<f64>, r: &Point3<f64>, s: &Point3<f64>| {
        let sides = [side_of_line(p, q, r), side_of_line(p, q, s)];
        sides[0] == sides[1].reverse() && sides[0] != Ordering::Equal
    };
    if !(parted(a, b, c, d) && parted(c, d, a, b)) {
        return None;
    }
    let (along, across) = (b - a, d - c);
    let share = (c - a).cross(&across).z / along.cross(&across).z;
    let met = a + along * share;
    (0.0..=1.0).contains(&share).then(|| place(met.x, met.y))
}

/// How often segments go round a place, those in reach of its height at hand.
struct Windings<'a> {
    segments: &'a [Segment],
    low: f64,
    band_height: f64,
    bands: Vec<Vec<usize>>,
}

impl<'a> Windings<'a> {
    /// Many bands take memory where all segments are long, few take time where all are short.
    const BANDS: usize = 256;

    fn of(segments: &'a [Segment]) -> Self {
        let heights = segments.iter().flatten().map(|p| p.y);
        let low = heights.clone().fold(f64::INFINITY, f64::min);
        let high = heights.fold(f64::NEG_INFINITY, f64::max);
        let mut windings = Self {
            segments,
            low,
            band_height: (high - low) / Self::BANDS as f64,
            bands: vec![Vec::new(); Self::BANDS],
        };
        for (index, [a, b]) in segments.iter().enumerate() {
            let first = windings.band(a.y.min(b.y));
            let last = windings.band(a.y.max(b.y));
            for band in &mut windings.bands[first..=last] {
                band.push(index);
            }
        }
        windings
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a cast to an index ends at 0 and at the largest, and the last band bounds it"
    )]
    fn band(&self, y: f64) -> usize {
        (((y - self.low) / self.band_height) as usize).min(Self::BANDS - 1)
    }

    /// Counter-clockwise turns less clockwise ones, exactly.
    fn about(&self, place: &Point3<f64>) -> i32 {
        let near = self.bands[self.band(place.y)].iter();
        let turn = |&index: &usize| {
            let [from, to] = &self.segments[index];
            half_turn(from, to, place)
        };
        near.map(turn).sum()
    }
}

/// By x, then by y.
fn in_order(p: &Point3<f64>, q: &Point3<f64>) -> Ordering {
    p.x.total_cmp(&q.x).then(p.y.total_cmp(&q.y))
}

fn flat(p: &Point2<f64>) -> Point3<f64> {
    Point3::new(p.x, p.y, 0.0)
}

fn id(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}
