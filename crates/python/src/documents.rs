//! JSON documents as Python objects.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};
use serde_json::Value;

/// The same value of Python's own types; whole numbers are `int`, null is `None`.
pub(crate) fn to_python<'py>(py: Python<'py>, value: &Value) -> PyResult<Bound<'py, PyAny>> {
    Ok(match value {
        Value::Null => py.None().into_bound(py),
        Value::Bool(is) => is.into_pyobject(py)?.to_owned().into_any(),
        Value::Number(number) => match number.as_i64() {
            Some(whole) => whole.into_pyobject(py)?.into_any(),
            None => number.as_f64().into_pyobject(py)?,
        },
        Value::String(text) => text.into_pyobject(py)?.into_any(),
        Value::Array(values) => {
            let list = PyList::empty(py);
            for value in values {
                list.append(to_python(py, value)?)?;
            }
            list.into_any()
        }
        Value::Object(fields) => {
            let dict = PyDict::new(py);
            for (name, value) in fields {
                dict.set_item(name, to_python(py, value)?)?;
            }
            dict.into_any()
        }
    })
}
