//! What is asked of a case.

use std::path::{Path, PathBuf};

use cupwright_procedure::{Bone, Case, CaseFile, Instruments, simulate, with_bone_on_bone};
use cupwright_report::json::{Run, document};
use cupwright_study::{Evaluator, Measure, Outcome, Setting, Variable};
use numpy::{IntoPyArray, PyReadonlyArrayDyn};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::documents::to_python;
use crate::refusal::{computing, of_bone, of_case, of_instruments, value_error};

/// A case as it is given: text with a line break is the case itself, any other names its file.
#[derive(FromPyObject)]
pub(crate) enum Given {
    #[pyo3(annotation = "text of a case, or path")]
    Text(String),
    #[pyo3(annotation = "path")]
    Path(PathBuf),
}

impl Given {
    /// The case, and the folder that paths in it are relative to.
    fn read(self) -> PyResult<(CaseFile, PathBuf)> {
        let path = match self {
            Self::Text(text) if text.contains('\n') => {
                let file = CaseFile::parse(&text).map_err(value_error)?;
                return Ok((file, PathBuf::from(".")));
            }
            Self::Text(name) => name.into(),
            Self::Path(path) => path,
        };
        let file = CaseFile::read(&path).map_err(|problem| of_case(&problem))?;
        Ok((file, path.parent().unwrap_or(Path::new(".")).into()))
    }
}

fn bone(case: &Case, folder: &Path) -> PyResult<Bone> {
    Bone::of_case(case, folder).map_err(|problem| of_bone(&problem))
}

/// Runs a case: every reamer, the cup, all findings.
///
/// `case` is the path of its file, or its text, which has a line break. Files that a text names are looked
/// for in the working folder. Returns the document of `cupwright run --json`; whether limits are met is in
/// `["findings"]["limits"]`.
///
/// ```python
/// >>> found = cupwright.run("case.ron")
/// >>> found["findings"]["cup"]["coverage_after_reaming"]
/// ```
#[pyfunction]
pub(crate) fn run<'py>(py: Python<'py>, case: Given) -> PyResult<Bound<'py, PyAny>> {
    let found = computing(py, || {
        let (file, folder) = case.read()?;
        let case = file.check().map_err(value_error)?;
        let instruments = Instruments::of_case(&case, &folder);
        let instruments = instruments.map_err(|problem| of_instruments(&problem))?;
        let bone = bone(&case, &folder)?;
        let findings = simulate(&case, &bone, &instruments).map_err(value_error)?;
        if let Some(reason) = findings.refused_joint(&case) {
            return Err(value_error(format_args!("no joint can be made: {reason}")));
        }
        let findings = with_bone_on_bone(findings, &case, &bone);
        document(&Run::from(&findings)).map_err(value_error)
    })?;
    to_python(py, &found)
}

/// Measures a case at many settings of its plan.
///
/// `settings` are arrays by name, such as `inclination_deg`, `anteversion_deg`, `medial_mm`,
/// `cup_diameter_mm`; they are broadcast against each other, and what is not named stays as planned.
/// Reamers go with the cup. Returns an array of that shape for each of `measures`, by its name; it holds
/// NaN where there is nothing to measure.
///
/// ```python
/// >>> inclination, anteversion = numpy.meshgrid(numpy.linspace(30, 50, 21), numpy.linspace(0, 30, 31))
/// >>> settings = {"inclination_deg": inclination, "anteversion_deg": anteversion}
/// >>> cupwright.evaluate("case.ron", settings)["coverage_share"].shape
/// (31, 21)
/// ```
#[pyfunction]
#[pyo3(signature = (case, settings, measures=vec!["coverage_share".to_owned()]))]
pub(crate) fn evaluate<'py>(
    py: Python<'py>,
    case: Given,
    settings: &Bound<'py, PyDict>,
    measures: Vec<String>,
) -> PyResult<Bound<'py, PyDict>> {
    let measures = measures.iter().map(|name| measure(name));
    let measures = measures.collect::<PyResult<Vec<_>>>()?;
    let (varied, values, shape) = broadcast(settings)?;
    let outcomes: Vec<Outcome> = computing(py, || {
        let (file, folder) = case.read()?;
        let bone = bone(&file.check().map_err(value_error)?, &folder)?;
        let evaluator = Evaluator::new(&file, &bone).map_err(value_error)?;
        let count = values.first().map_or(1, Vec::len);
        let at = |k: usize| -> Setting {
            let values = varied.iter().zip(&values);
            values.fold(evaluator.plan(), |plan, (variable, values)| {
                plan.with(*variable, values[k])
            })
        };
        let settings: Vec<_> = (0..count).map(at).collect();
        let outcomes = evaluator.evaluate_all(&settings, &measures);
        let outcomes = outcomes
            .into_iter()
            .zip(&settings)
            .map(|(outcome, setting)| {
                outcome.map_err(|problem| {
                    let at = varied
                        .iter()
                        .map(|v| format!("{} {}", v.heading(), setting.get(*v)));
                    value_error(format_args!(
                        "at {}: {problem}",
                        at.collect::<Vec<_>>().join(", ")
                    ))
                })
            });
        outcomes.collect()
    })?;
    let told = PyDict::new(py);
    for measure in measures {
        let values = outcomes.iter().map(|o| o.get(measure).unwrap_or(f64::NAN));
        let values: Vec<f64> = values.collect();
        let values = values.into_pyarray(py).call_method1("reshape", (&shape,))?;
        told.set_item(measure.heading(), values)?;
    }
    Ok(told)
}

fn measure(heading: &str) -> PyResult<Measure> {
    let mut all = Measure::ALL.into_iter().chain(Measure::WALLS);
    all.find(|m| m.heading() == heading).ok_or_else(|| {
        let all = Measure::ALL.into_iter().chain(Measure::WALLS);
        unknown(heading, "measured", all.map(Measure::heading))
    })
}

fn variable(heading: &str) -> PyResult<Variable> {
    let found = Variable::ALL.into_iter().find(|v| v.heading() == heading);
    let all = || Variable::ALL.into_iter().map(Variable::heading);
    found.ok_or_else(|| unknown(heading, "set", all()))
}

fn unknown(name: &str, what: &str, known: impl Iterator<Item = String>) -> PyErr {
    let known = known.collect::<Vec<_>>().join(", ");
    value_error(format_args!(
        "{name} is nothing that is {what}; give some of {known}"
    ))
}

/// The variables, their values at every setting, and the shape that the settings have.
fn broadcast<'py>(
    settings: &Bound<'py, PyDict>,
) -> PyResult<(Vec<Variable>, Vec<Vec<f64>>, Bound<'py, PyTuple>)> {
    let py = settings.py();
    let names = settings
        .keys()
        .iter()
        .map(|name| variable(&name.extract::<String>()?));
    let varied = names.collect::<PyResult<Vec<_>>>()?;
    let numpy = py.import("numpy")?;
    let given = PyTuple::new(py, settings.values().iter())?;
    let arrays = numpy.call_method1("broadcast_arrays", given)?;
    let (mut values, mut shape) = (Vec::new(), PyTuple::empty(py));
    for array in arrays.try_iter()? {
        let array = numpy.call_method1("asarray", (array?, "float64"))?;
        shape = array.getattr("shape")?.cast_into()?;
        let array: PyReadonlyArrayDyn<f64> = array.extract()?;
        values.push(array.as_array().iter().copied().collect());
    }
    Ok((varied, values, shape))
}
