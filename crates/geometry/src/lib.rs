//! Exact measures of a closed triangle mesh against the shapes that a reamer and a cup sweep out.

pub mod mesh;
pub mod samples;
pub mod topology;

mod sum;

pub use mesh::{BadMesh, Bounds, TriMesh};
