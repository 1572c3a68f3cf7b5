//! The Python module `cupwright`: meshes as NumPy arrays in, the command's documents as dicts out.
//!
//! Guaranteed: keys and numbers are those of the command's `--json`; what cannot be done is a `ValueError`
//! or an `OSError` with the message of the command; the interpreter is free while Rust computes.
//!
//! Not here: any measuring. Lengths are in mm and angles in degrees, with the unit in the name.

mod arrays;
mod case;
mod documents;
mod mesh;
mod refusal;

use pyo3::prelude::*;

/// Rehearse reaming the hip socket: bone removed, rim contact, cup coverage.
///
/// Meshes are arrays: vertices (n, 3) of numbers in mm, faces (m, 3) of whole numbers, counter-clockwise
/// seen from outside. Answers are dicts with the keys of the command's --json. For teaching and engineering
/// study; not a medical device.
#[pymodule]
mod cupwright {
    #[pymodule_export]
    use crate::case::{evaluate, run};
    #[pymodule_export]
    use crate::mesh::{inspect, landmarks, measure, pelvis, read_mesh};
}
