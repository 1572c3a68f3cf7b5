//! Triangles ready to be drawn: places, normals and colours of the scene, in single precision.

use std::collections::HashMap;

use bevy::asset::RenderAssetUsages;
use bevy::math::Vec3;
use bevy::mesh::{Indices, Mesh, PrimitiveTopology};

/// A surface to draw; a vertex for each place, normal and colour that meet.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Surface {
    pub(crate) points: Vec<Vec3>,
    pub(crate) normals: Vec<Vec3>,
    /// Linear red, green, blue, and the share of the light from everywhere that reaches the place.
    pub(crate) colours: Vec<[f32; 4]>,
    pub(crate) triangles: Vec<[u32; 3]>,
}

impl Surface {
    /// Adds a triangle with its own normal.
    pub(crate) fn add_flat(&mut self, corners: [Vec3; 3], colour: [f32; 3]) {
        let [a, b, c] = corners;
        let normal = (b - a).cross(c - a).normalize_or_zero();
        let corner = |surface: &mut Self, p| surface.add_vertex(p, normal, colour);
        let triangle = corners.map(|p| corner(self, p));
        self.triangles.push(triangle);
    }

    /// Adds a vertex and gives its index.
    pub(crate) fn add_vertex(&mut self, point: Vec3, normal: Vec3, colour: [f32; 3]) -> u32 {
        let [r, g, b] = colour;
        self.add_tinted(point, normal, [r, g, b, 1.0])
    }

    /// The same, with the share of light that reaches it.
    pub(crate) fn add_tinted(&mut self, point: Vec3, normal: Vec3, tint: [f32; 4]) -> u32 {
        let index = u32::try_from(self.points.len()).unwrap_or(u32::MAX);
        self.points.push(point);
        self.normals.push(normal);
        self.colours.push(tint);
        index
    }

    /// Takes out the triangles that `is_out` picks, with vertices of their own.
    pub(crate) fn split_off(&mut self, is_out: impl Fn(&[u32; 3]) -> bool) -> Self {
        let (out, kept): (Vec<_>, Vec<_>) = self.triangles.iter().copied().partition(is_out);
        self.triangles = kept;
        let mut taken = Self::default();
        let mut known: HashMap<u32, u32> = HashMap::new();
        for triangle in out {
            let moved = triangle.map(|v| {
                *known.entry(v).or_insert_with(|| {
                    let v = v as usize;
                    let [r, g, b, _] = self.colours[v];
                    taken.add_vertex(self.points[v], self.normals[v], [r, g, b])
                })
            });
            taken.triangles.push(moved);
        }
        taken
    }

    pub(crate) fn append(&mut self, other: &Self) {
        let shift = u32::try_from(self.points.len()).unwrap_or(u32::MAX);
        self.points.extend(&other.points);
        self.normals.extend(&other.normals);
        self.colours.extend(&other.colours);
        let moved = other.triangles.iter().map(|t| t.map(|v| v + shift));
        self.triangles.extend(moved);
    }

    /// As the renderer's mesh, kept on the graphics card alone.
    pub(crate) fn into_mesh(self) -> Mesh {
        let points: Vec<[f32; 3]> = self.points.iter().map(Vec3::to_array).collect();
        let normals: Vec<[f32; 3]> = self.normals.iter().map(Vec3::to_array).collect();
        let indices = self.triangles.into_iter().flatten().collect();
        Mesh::new(
            PrimitiveTopology::TriangleList,
            RenderAssetUsages::RENDER_WORLD,
        )
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, points)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
        .with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, self.colours)
        .with_inserted_indices(Indices::U32(indices))
    }
}
