//! Work that takes longer than a frame.

mod latest;

pub(crate) use latest::{Broken, Latest};
