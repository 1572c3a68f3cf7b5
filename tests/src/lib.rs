//! Fixtures shared by the tests and benches: tools as meshes, a mesh boolean as an oracle.

pub mod bones;
pub mod boolean;
