//! Meshes as NumPy arrays, and back.

use cupwright_geometry::TriMesh;
use nalgebra::Point3;
use numpy::{IntoPyArray, PyArray2, PyArrayMethods, PyReadonlyArray2};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::IntoPyDict;

use crate::refusal::value_error;

/// An (m, 3) array.
pub(crate) type Rows<'py, T> = Bound<'py, PyArray2<T>>;

/// The mesh of `vertices` and `faces`, whatever their number type and layout.
pub(crate) fn mesh(vertices: &Bound<PyAny>, faces: &Bound<PyAny>) -> PyResult<TriMesh> {
    let vertices = rows::<f64>(vertices, "vertices", "fiu")?;
    let points = vertices.as_array();
    let faces = rows::<i64>(faces, "faces", "iu")?;
    let triangles = faces.as_array();
    let triangles = triangles.rows().into_iter().enumerate();
    let triangles = triangles.map(|(face, t)| {
        let corner = |k: usize| {
            u32::try_from(t[k]).map_err(|_| {
                let (index, count) = (t[k], points.nrows());
                PyValueError::new_err(format!(
                    "triangle {face} names vertex {index}, but the mesh has only {count} vertices"
                ))
            })
        };
        Ok([corner(0)?, corner(1)?, corner(2)?])
    });
    let triangles = triangles.collect::<PyResult<_>>()?;
    let points = points.rows().into_iter();
    let points = points.map(|p| Point3::new(p[0], p[1], p[2])).collect();
    TriMesh::new(points, triangles).map_err(value_error)
}

/// `vertices` and `faces` of a mesh.
pub(crate) fn of_mesh<'py>(
    py: Python<'py>,
    mesh: &TriMesh,
) -> PyResult<(Rows<'py, f64>, Rows<'py, u32>)> {
    let points = mesh.vertices().iter();
    Ok((
        of_points(py, points)?,
        of_rows(py, mesh.triangles().iter().copied())?,
    ))
}

/// Points, one a row.
pub(crate) fn of_points<'py, 'a>(
    py: Python<'py>,
    points: impl Iterator<Item = &'a Point3<f64>>,
) -> PyResult<Rows<'py, f64>> {
    // What is nearly 0 is not written as -0.
    of_rows(py, points.map(|p| [p.x + 0.0, p.y + 0.0, p.z + 0.0]))
}

fn of_rows<'py, T: numpy::Element>(
    py: Python<'py>,
    rows: impl Iterator<Item = [T; 3]>,
) -> PyResult<Rows<'py, T>> {
    let flat: Vec<T> = rows.flatten().collect();
    let count = flat.len() / 3;
    flat.into_pyarray(py).reshape([count, 3])
}

/// An (n, 3) array of `T`, cast by NumPy from the kinds of number that are meant.
fn rows<'py, T: numpy::Element>(
    given: &Bound<'py, PyAny>,
    name: &str,
    kinds: &str,
) -> PyResult<PyReadonlyArray2<'py, T>> {
    let py = given.py();
    let array = py.import("numpy")?.call_method1("asarray", (given,))?;
    let shape: Vec<usize> = array.getattr("shape")?.extract()?;
    if shape.len() != 2 || shape[1] != 3 {
        let shape = array.getattr("shape")?;
        return Err(PyValueError::new_err(format!(
            "{name} must have the shape (n, 3), not {shape}"
        )));
    }
    let dtype = array.getattr("dtype")?;
    let kind: String = dtype.getattr("kind")?.extract()?;
    if !kinds.contains(&kind) {
        let wanted = if kinds.contains('f') {
            "real numbers"
        } else {
            "whole numbers"
        };
        return Err(PyValueError::new_err(format!(
            "{name} must be {wanted}, not {dtype}"
        )));
    }
    let as_meant = [("copy", false)].into_py_dict(py)?;
    let cast = array.call_method("astype", (T::get_dtype(py),), Some(&as_meant))?;
    cast.extract()
}
