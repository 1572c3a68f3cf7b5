//! The surface of a mesh as points with a normal and an area, smoothed against the steps of a voxel grid.

use std::borrow::Cow;

use cupwright_geometry::TriMesh;
use nalgebra::{Point3, Vector3};

/// A vertex, and the piece of surface around it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SurfacePoint {
    /// Where it is, in mm.
    pub(crate) at: Point3<f64>,
    /// Unit normal, out of the bone; zero where the surface cancels.
    pub(crate) normal: Vector3<f64>,
    /// A third of the area of the triangles around it, in mm².
    pub(crate) area: f64,
    /// A third of the area vectors of the triangles around it, in mm²: shorter than `area` where the
    /// surface is rough, so that its views from a point add up to the true solid angle.
    pub(crate) vector: Vector3<f64>,
}

/// Normals are averaged over about this distance, in mm: several voxels of a scan (0.5 to 1 mm), little
/// against the radius of a socket (15 mm and more).
const SMOOTHING: f64 = 3.0;

/// Rounds of averaging at most, which bounds the time on a very fine mesh.
const MOST_ROUNDS: u32 = 12;

/// Triangles with longer edges than this, in mm, are split first: a socket of 15 mm radius would
/// otherwise have too few points to be seen.
const COARSE: f64 = 5.0;

/// Splits at most; each makes four triangles of one.
const MOST_SPLITS: usize = 4;

/// One point per vertex that has area around it, in the order of the vertices; on a coarse mesh also
/// points between them.
///
/// Vertices lie on the surface where a fine mesh is a sampled one, and the middles of triangles do not:
/// spheres fitted to vertices are not too small.
pub(crate) fn points_of(mesh: &TriMesh) -> Vec<SurfacePoint> {
    let mesh = &*split_where_coarse(mesh);
    let vectors: Vec<Vector3<f64>> = (0..mesh.triangles().len())
        .map(|t| mesh.area_vector(t))
        .collect();
    let mut area = vec![0.0; mesh.vertices().len()];
    let mut normals = vec![Vector3::zeros(); mesh.vertices().len()];
    for (corners, vector) in mesh.triangles().iter().zip(&vectors) {
        for &i in corners {
            area[i as usize] += vector.norm() / 3.0;
            normals[i as usize] += vector;
        }
    }
    let summed = normals.clone();
    normalise(&mut normals);
    for _ in 0..rounds(edge_squared(mesh)) {
        normals = averaged(mesh, &vectors, &normals);
    }
    let all = mesh.vertices().iter().zip(normals).zip(area).zip(summed);
    all.filter(|((_, area), _)| *area > 0.0)
        .map(|(((at, normal), area), summed)| SurfacePoint {
            at: *at,
            normal,
            area,
            vector: summed / 3.0,
        })
        .collect()
}

/// About `count` of the points, each standing for the same area; all of them where there are fewer.
pub(crate) fn thinned(surface: &[SurfacePoint], count: u32) -> Vec<SurfacePoint> {
    let piece = surface.iter().map(|p| p.area).sum::<f64>() / f64::from(count);
    let mut due = 0.0;
    let mut kept = Vec::new();
    for point in surface {
        due += point.area;
        if due >= piece {
            kept.push(SurfacePoint {
                area: due,
                vector: point.vector * (due / point.area),
                ..*point
            });
            due = 0.0;
        }
    }
    kept
}

fn split_where_coarse(mesh: &TriMesh) -> Cow<'_, TriMesh> {
    let mut mesh = Cow::Borrowed(mesh);
    for _ in 0..MOST_SPLITS {
        if edge_squared(&mesh) < COARSE * COARSE {
            break;
        }
        mesh = Cow::Owned(mesh.subdivided());
    }
    mesh
}

/// Square of the edge of an equilateral triangle of the mean area, in mm².
pub(crate) fn edge_squared(mesh: &TriMesh) -> f64 {
    let triangles = u32::try_from(mesh.triangles().len()).unwrap_or(u32::MAX);
    4.0 / 3_f64.sqrt() * mesh.area() / f64::from(triangles)
}

/// How often averaging over neighbours must be repeated to reach [`SMOOTHING`]: reach grows with the
/// square root of the rounds.
fn rounds(edge_squared: f64) -> u32 {
    (0..MOST_ROUNDS)
        .find(|n| f64::from(*n + 1) * edge_squared > SMOOTHING * SMOOTHING)
        .unwrap_or(MOST_ROUNDS)
}

fn averaged(
    mesh: &TriMesh,
    vectors: &[Vector3<f64>],
    normals: &[Vector3<f64>],
) -> Vec<Vector3<f64>> {
    let mut sums = vec![Vector3::zeros(); normals.len()];
    for (corners, vector) in mesh.triangles().iter().zip(vectors) {
        let around: Vector3<f64> = corners.iter().map(|&i| normals[i as usize]).sum();
        for &i in corners {
            sums[i as usize] += around * vector.norm();
        }
    }
    normalise(&mut sums);
    sums
}

fn normalise(vectors: &mut [Vector3<f64>]) {
    for v in vectors {
        *v = v.try_normalize(f64::MIN_POSITIVE).unwrap_or_default();
    }
}
