//! Closed meshes with known measures, for tests, benches and examples.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point3, Vector3};

use crate::TriMesh;

/// A box of the given edge lengths centred on the origin: 12 triangles.
pub fn cuboid(edges: [f64; 3]) -> TriMesh {
    let half = Vector3::from(edges) / 2.0;
    let vertices = (0..8)
        .map(|i| {
            let sign = |bit: u32| if i >> bit & 1 == 1 { 1.0 } else { -1.0 };
            Point3::new(sign(0) * half.x, sign(1) * half.y, sign(2) * half.z)
        })
        .collect();
    let quads: [[u32; 4]; 6] = [
        [0, 4, 6, 2],
        [1, 3, 7, 5],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 2, 3, 1],
        [4, 5, 7, 6],
    ];
    let triangles = quads
        .iter()
        .flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]])
        .collect();
    closed(vertices, triangles)
}

/// A sphere of the given radius about the origin: an octahedron split `levels` times, its vertices
/// pushed out to the sphere; 8·4^levels triangles.
pub fn sphere(radius: f64, levels: u32) -> TriMesh {
    let vertices = [
        [1, 0, 0],
        [-1, 0, 0],
        [0, 1, 0],
        [0, -1, 0],
        [0, 0, 1],
        [0, 0, -1],
    ];
    let vertices = vertices.map(|v: [i32; 3]| Point3::from(v.map(f64::from)));
    let triangles = vec![
        [0, 2, 4],
        [2, 1, 4],
        [1, 3, 4],
        [3, 0, 4],
        [2, 0, 5],
        [1, 2, 5],
        [3, 1, 5],
        [0, 3, 5],
    ];
    let mut mesh = closed(vertices.to_vec(), triangles);
    for _ in 0..levels {
        mesh = mesh.subdivided();
    }
    let on_sphere = mesh
        .vertices()
        .iter()
        .map(|p| Point3::from(p.coords.normalize() * radius));
    closed(on_sphere.collect(), mesh.triangles().to_vec())
}

/// A ring about the z axis: the tube has radius `tube`, its middle runs at radius `ring`;
/// 2·`around`·`across` triangles.
pub fn torus(ring: f64, tube: f64, around: u32, across: u32) -> TriMesh {
    let vertices = (0..around).flat_map(|i| {
        (0..across).map(move |j| {
            let (u, v) = (
                TAU * f64::from(i) / f64::from(around),
                TAU * f64::from(j) / f64::from(across),
            );
            let rho = ring + tube * v.cos();
            Point3::new(rho * u.cos(), rho * u.sin(), tube * v.sin())
        })
    });
    closed(vertices.collect(), ring_grid(around, across))
}

/// A ball with lumps: radius `radius` times `1 + depth · sin(5 azimuth) · sin(3 polar)²`, about the
/// origin; 2·`around`·(`down` − 1) triangles. Star-shaped and free of symmetry that could hide an error.
pub fn lumpy_ball(radius: f64, depth: f64, around: u32, down: u32) -> TriMesh {
    let point = |i: u32, j: u32| {
        let (azimuth, polar) = (
            TAU * f64::from(i) / f64::from(around),
            PI * f64::from(j) / f64::from(down),
        );
        let lump = 1.0
            + depth * (5.0 * azimuth).sin() * (3.0 * polar).sin().powi(2)
            + 0.3 * depth * polar.cos();
        let (sin, cos) = polar.sin_cos();
        Point3::from(radius * lump * Vector3::new(sin * azimuth.cos(), sin * azimuth.sin(), cos))
    };
    let rows = down - 1;
    let mut vertices: Vec<_> = (1..down)
        .flat_map(|j| (0..around).map(move |i| point(i, j)))
        .collect();
    let (top, bottom) = (rows * around, rows * around + 1);
    vertices.extend([point(0, 0), point(0, down)]);
    let at = |row: u32, i: u32| row * around + i % around;
    let mut triangles = Vec::new();
    for i in 0..around {
        triangles.push([top, at(0, i), at(0, i + 1)]);
        triangles.push([bottom, at(rows - 1, i + 1), at(rows - 1, i)]);
        for row in 0..rows - 1 {
            triangles.push([at(row, i), at(row + 1, i), at(row + 1, i + 1)]);
            triangles.push([at(row, i), at(row + 1, i + 1), at(row, i + 1)]);
        }
    }
    closed(vertices, triangles)
}

/// Triangles of a grid that closes on itself both ways.
fn ring_grid(around: u32, across: u32) -> Vec<[u32; 3]> {
    let at = |i: u32, j: u32| (i % around) * across + j % across;
    (0..around)
        .flat_map(|i| (0..across).map(move |j| (i, j)))
        .flat_map(|(i, j)| {
            [
                [at(i, j), at(i + 1, j), at(i + 1, j + 1)],
                [at(i, j), at(i + 1, j + 1), at(i, j + 1)],
            ]
        })
        .collect()
}

#[expect(
    clippy::expect_used,
    reason = "the sample meshes are valid by construction"
)]
fn closed(vertices: Vec<Point3<f64>>, triangles: Vec<[u32; 3]>) -> TriMesh {
    TriMesh::new(vertices, triangles).expect("a sample mesh is finite and in range")
}
