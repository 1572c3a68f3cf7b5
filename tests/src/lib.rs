//! Fixtures shared by the tests and benches: bones, blocks, pelves, joints, tools as meshes, a mesh
//! boolean as an oracle, the command line in process, bones as label volumes.

pub mod blocks;
pub mod bones;
pub mod boolean;
pub mod corpus;
pub mod desk;
pub mod joints;
pub mod pelves;
pub mod volumes;
