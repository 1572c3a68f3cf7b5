//! Errors as Python exceptions, and work that keeps out of the interpreter's way.

use std::fmt::Display;
use std::panic::{AssertUnwindSafe, catch_unwind};

use cupwright_io::ReadMeshError;
use cupwright_procedure::bone::NoBone;
use cupwright_procedure::case::NoCase;
use cupwright_procedure::instruments::NoInstruments;
use cupwright_procedure::text::Unreadable;
use pyo3::exceptions::{
    PyFileNotFoundError, PyIsADirectoryError, PyOSError, PyRuntimeError, PyUserWarning,
    PyValueError,
};
use pyo3::prelude::*;

/// What was given cannot be.
pub(crate) fn value_error(problem: impl Display) -> PyErr {
    PyValueError::new_err(problem.to_string())
}

/// Does `work` while other threads of Python run.
pub(crate) fn computing<T: Send>(
    py: Python,
    work: impl FnOnce() -> PyResult<T> + Send,
) -> PyResult<T> {
    // A fault of this program must not end Python's.
    let done = py.detach(|| catch_unwind(AssertUnwindSafe(work)));
    done.unwrap_or_else(|_| {
        Err(PyRuntimeError::new_err(
            "cupwright has a fault; what it met is on stderr",
        ))
    })
}

/// Tells each of `warnings` as Python does.
pub(crate) fn warn(py: Python, warnings: Vec<String>) -> PyResult<()> {
    let kind = py.get_type::<PyUserWarning>();
    for told in warnings {
        let told = std::ffi::CString::new(told).map_err(value_error)?;
        PyErr::warn(py, &kind, &told, 1)?;
    }
    Ok(())
}

/// A mesh file that cannot be read.
pub(crate) fn of_mesh(problem: &ReadMeshError) -> PyErr {
    let told = problem.to_string();
    match problem {
        ReadMeshError::Missing { .. } => PyFileNotFoundError::new_err(told),
        ReadMeshError::Folder { .. } => PyIsADirectoryError::new_err(told),
        ReadMeshError::NotAFile { .. } | ReadMeshError::Unopenable { .. } => {
            PyOSError::new_err(told)
        }
        ReadMeshError::Bad { .. } => PyValueError::new_err(told),
    }
}

/// A case that cannot be read.
pub(crate) fn of_case(problem: &NoCase) -> PyErr {
    match problem {
        NoCase::Unreadable(problem) => of_text(problem),
        NoCase::Bad { .. } => value_error(problem),
    }
}

/// A bone that cannot be had.
pub(crate) fn of_bone(problem: &NoBone) -> PyErr {
    match problem {
        NoBone::Read(problem) => of_mesh(problem),
        other => value_error(other),
    }
}

/// Instruments that cannot be read.
pub(crate) fn of_instruments(problem: &NoInstruments) -> PyErr {
    match problem {
        NoInstruments::Unreadable(problem) => of_text(problem),
        other => value_error(other),
    }
}

fn of_text(problem: &Unreadable) -> PyErr {
    let told = problem.to_string();
    match problem {
        Unreadable::Missing(_) => PyFileNotFoundError::new_err(told),
        Unreadable::Folder(_) => PyIsADirectoryError::new_err(told),
        Unreadable::Refused { .. } => PyOSError::new_err(told),
        Unreadable::NotText(_) | Unreadable::TooLong(_) => PyValueError::new_err(told),
    }
}
