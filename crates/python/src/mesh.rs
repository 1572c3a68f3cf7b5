//! What is asked of a mesh.

use std::path::PathBuf;

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::{self, Resolution, Shape};
use cupwright_geometry::{Bullet, Hemisphere, TriMesh};
use cupwright_procedure::bone::within_reach;
use cupwright_procedure::inspection::{Inspection, InspectionFinding};
use cupwright_procedure::measures::{BadTool, largest_tool, measures, reamer, round_side};
use cupwright_procedure::reading::Reading;
use cupwright_procedure::survey::{Ask, Survey};
use cupwright_procedure::unit::Unit;
use cupwright_report::json::document;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::arrays::{self, Rows};
use crate::documents::to_python;
use crate::refusal::{computing, of_mesh, value_error, warn};

/// A reamer: its diameter, or its diameter with a centre and an axis of its own.
#[derive(Clone, Copy, FromPyObject)]
pub(crate) enum Reamer {
    #[pyo3(annotation = "diameter in mm")]
    Common(f64),
    #[pyo3(annotation = "(diameter in mm, centre, axis)")]
    Own(f64, [f64; 3], [f64; 3]),
}

/// Measures reamers and a cup in a bone, in the mesh's own coordinates.
///
/// `axis` points out of the socket and may have any length. `reamers` are diameters in the order of use, or
/// `(diameter, centre, axis)`. The column above each reamer is open unless `column` gives its length. All
/// lengths are in mm; vertices are, too, unless `unit` says `"cm"`, `"in"` or `"m"`. Where no unit is said, a
/// bone too small for the tools is refused.
///
/// Returns the document of `cupwright measure --json`. Warns of a reamer that touches no bone and of a cup
/// smaller than the last reamer.
///
/// ```python
/// >>> vertices, faces, _ = cupwright.pelvis("average-male", resolution="coarse")
/// >>> found = cupwright.measure(vertices, faces, [86, -34, -75], [0.8, 0.3, -0.5], reamers=[50, 51], cup=52)
/// >>> found["cup"]["coverage"]
/// ```
#[pyfunction]
#[pyo3(signature = (
    vertices, faces, centre, axis, *, reamers=vec![], cup=None, cup_centre=None, cup_axis=None, column=None,
    unit=None
))]
pub(crate) fn measure<'py>(
    py: Python<'py>,
    vertices: &Bound<'py, PyAny>,
    faces: &Bound<'py, PyAny>,
    centre: [f64; 3],
    axis: [f64; 3],
    reamers: Vec<Reamer>,
    cup: Option<f64>,
    cup_centre: Option<[f64; 3]>,
    cup_axis: Option<[f64; 3]>,
    column: Option<f64>,
    unit: Option<&str>,
) -> PyResult<Bound<'py, PyAny>> {
    let (mesh, reading) = in_mm(arrays::mesh(vertices, faces)?, unit)?;
    let head = |reamer: Reamer| match reamer {
        Reamer::Common(diameter) => at(diameter, centre, axis),
        Reamer::Own(diameter, centre, axis) => at(diameter, centre, axis),
    };
    let reamers = reamers
        .into_iter()
        .map(|given| reamer(head(given)?, column));
    let reamers: Vec<Bullet> = reamers.collect::<Result<_, _>>().map_err(value_error)?;
    let cup = cup.map(|diameter| {
        at(
            diameter,
            cup_centre.unwrap_or(centre),
            cup_axis.unwrap_or(axis),
        )
    });
    let cup = cup.transpose().map_err(value_error)?;
    let (found, warnings) = computing(py, || {
        let largest = largest_tool(&reamers).max(cup.map_or(0.0, |cup| 2.0 * cup.radius()));
        let bone = reading.accept(mesh, largest).map_err(value_error)?;
        let found = measures(&bone, &reamers, cup.as_ref()).map_err(value_error)?;
        Ok((document(&found).map_err(value_error)?, found.warnings()))
    })?;
    warn(py, warnings)?;
    to_python(py, &found)
}

fn at(diameter: f64, centre: [f64; 3], axis: [f64; 3]) -> Result<Hemisphere, BadTool> {
    round_side(diameter, centre.into(), axis.into())
}

/// How the vertices are to be read, and the mesh in mm.
fn in_mm(mesh: TriMesh, unit: Option<&str>) -> PyResult<(TriMesh, Reading)> {
    let known = Unit::ALL.map(|unit| (unit.short(), unit));
    let unit = unit
        .map(|given| one_of(given, "unit", &known))
        .transpose()?;
    let reading = Reading {
        unit,
        ..Reading::default()
    };
    match reading.scaling_unit() {
        None => Ok((mesh, reading)),
        Some(unit) => Ok((mesh.scaled(unit.millimetres()), reading)),
    }
}

/// Says what a mesh holds: closed or not, its pieces and holes, the unit and axes it seems to have, the socket.
///
/// Nothing is changed. Returns the document of `cupwright inspect --json`.
///
/// ```python
/// >>> found = cupwright.inspect(*cupwright.read_mesh("hip.stl"))
/// >>> found["closed"], found["socket"]["side"], found["defects"]
/// ```
#[pyfunction]
#[pyo3(signature = (vertices, faces, *, unit=None))]
pub(crate) fn inspect<'py>(
    py: Python<'py>,
    vertices: &Bound<'py, PyAny>,
    faces: &Bound<'py, PyAny>,
    unit: Option<&str>,
) -> PyResult<Bound<'py, PyAny>> {
    let (mesh, reading) = in_mm(arrays::mesh(vertices, faces)?, unit)?;
    let found = computing(py, || {
        within_reach(&mesh).map_err(value_error)?;
        let found = Inspection::of(mesh, &reading, Vec::new());
        document(&InspectionFinding::from(&found)).map_err(value_error)
    })?;
    to_python(py, &found)
}

/// Finds ASIS, pubic tubercle, PSIS, side and midline of a bare pelvis or hip bone in any pose, says how sure each
/// is, and measures the native socket.
///
/// `error_mm` is the landmark error whose effect on the angles is told. Look at every landmark before use.
/// Returns the document of `cupwright landmarks --json`.
///
/// ```python
/// >>> found = cupwright.landmarks(*cupwright.read_mesh("hip.stl"))
/// >>> found["side"], found["socket"]["rim_diameter_mm"]
/// ```
#[pyfunction]
#[pyo3(signature = (vertices, faces, *, unit=None, side=None, error_mm=3.0))]
pub(crate) fn landmarks<'py>(
    py: Python<'py>,
    vertices: &Bound<'py, PyAny>,
    faces: &Bound<'py, PyAny>,
    unit: Option<&str>,
    side: Option<&str>,
    error_mm: f64,
) -> PyResult<Bound<'py, PyAny>> {
    let (mesh, _) = in_mm(arrays::mesh(vertices, faces)?, unit)?;
    let ask = Ask {
        side: side.map(side_of).transpose()?,
        corrections: Vec::new(),
        error_mm,
    };
    let found = computing(py, || {
        within_reach(&mesh).map_err(value_error)?;
        let survey = Survey::of(&mesh, &ask).map_err(value_error)?;
        document(&survey).map_err(value_error)
    })?;
    to_python(py, &found)
}

/// Reads the mesh in a file (STL, OBJ or PLY): `(vertices, faces)`, as the file has them.
///
/// ```python
/// >>> vertices, faces = cupwright.read_mesh("hip.stl")
/// ```
#[pyfunction]
pub(crate) fn read_mesh<'py>(
    py: Python<'py>,
    path: PathBuf,
) -> PyResult<(Rows<'py, f64>, Rows<'py, u32>)> {
    let read = || cupwright_io::read_mesh(&path).map_err(|problem| of_mesh(&problem));
    let loaded = computing(py, read)?;
    arrays::of_mesh(py, &loaded.mesh)
}

/// Makes a synthetic hemipelvis: `(vertices, faces, landmarks)`.
///
/// In mm in the pelvic frame: origin midway between the ASIS, x toward the patient's right, y anterior,
/// z superior. `overrides` are numbers of the preset by name, as `cupwright pelvis --list` prints them.
/// `landmarks` has the keys of the file that `cupwright pelvis` writes: `points` by name,
/// `socket_diameter_mm`, `socket_axis`, and the curves `rim` and `fossa`.
///
/// ```python
/// >>> vertices, faces, landmarks = cupwright.pelvis("shallow-2", "left", {"socket_diameter_mm": 48})
/// >>> landmarks["points"]["hip_centre"]
/// ```
#[pyfunction]
#[pyo3(signature = (preset, side="right", overrides=None, *, resolution="middle"))]
pub(crate) fn pelvis<'py>(
    py: Python<'py>,
    preset: &str,
    side: &str,
    overrides: Option<&Bound<'py, PyDict>>,
    resolution: &str,
) -> PyResult<(Rows<'py, f64>, Rows<'py, u32>, Bound<'py, PyDict>)> {
    let mut shape = Shape::preset(preset).map_err(value_error)?;
    for (name, value) in overrides.into_iter().flat_map(|given| given.iter()) {
        let name: String = name.extract()?;
        shape.set(&name, value.extract()?).map_err(value_error)?;
    }
    let side = side_of(side)?;
    let resolution = one_of(
        resolution,
        "resolution",
        &[
            ("coarse", Resolution::Coarse),
            ("middle", Resolution::Middle),
            ("fine", Resolution::Fine),
        ],
    )?;
    let pelvis = computing(py, || {
        synthetic::pelvis(&shape, side, resolution).map_err(value_error)
    })?;
    let (vertices, faces) = arrays::of_mesh(py, &pelvis.mesh)?;
    let points = PyDict::new(py);
    for (name, at) in pelvis.points() {
        points.set_item(name, <[f64; 3]>::from(at))?;
    }
    let landmarks = PyDict::new(py);
    landmarks.set_item("points", points)?;
    let socket = &pelvis.socket;
    landmarks.set_item("socket_diameter_mm", 2.0 * socket.radius)?;
    landmarks.set_item("socket_axis", <[f64; 3]>::from(socket.axis))?;
    landmarks.set_item("rim", arrays::of_points(py, socket.rim.iter())?)?;
    landmarks.set_item("fossa", arrays::of_points(py, socket.fossa.iter())?)?;
    Ok((vertices, faces, landmarks))
}

fn side_of(given: &str) -> PyResult<Side> {
    one_of(
        given,
        "side",
        &[("right", Side::Right), ("left", Side::Left)],
    )
}

fn one_of<T: Copy>(given: &str, what: &str, known: &[(&str, T)]) -> PyResult<T> {
    let found = known.iter().find(|(name, _)| *name == given);
    found.map(|(_, meant)| *meant).ok_or_else(|| {
        let names: Vec<_> = known.iter().map(|(name, _)| *name).collect();
        value_error(format_args!(
            "{what} must be one of {}, not {given}",
            names.join(", ")
        ))
    })
}
