//! The pelvis as anatomy names it: landmarks, frames, cup orientation, socket, and a synthetic bone.

pub mod landmarks;
pub mod side;
pub mod synthetic;

pub use landmarks::Landmarks;
pub use side::{Both, Side};
