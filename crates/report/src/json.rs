//! JSON documents, each of a published form.
//!
//! A document says its form in its first field, `"schema": "cupwright/run/1"`; [`schema`](crate::schema)
//! has a JSON Schema for each. The number at the end grows when a field changes its name or meaning, not
//! when one is added. Floats are written with as many digits as it takes to read back the same bits; one
//! that is not finite is `null`.

use std::io::{self, Write};

use cupwright_procedure::inspection::{InspectionFinding, LabelsFinding};
use cupwright_procedure::survey::Survey;
use cupwright_procedure::{Findings, Measures};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};

use crate::CAUTION;

/// The version of runs and studies, which they say in a field of their own too.
pub const VERSION: u32 = 1;

/// What is written as a document of its own.
pub trait Document: Serialize + JsonSchema {
    /// Its form: `cupwright/NAME/VERSION`.
    const FORM: &'static str;
}

/// The document of a run: `{"schema": "cupwright/run/1", "version": 1, "caution": "…", "findings": {…}}`.
#[derive(Clone, Copy, Debug, JsonSchema, Serialize)]
pub struct Run<'a> {
    /// The version of the form.
    pub version: u32,
    /// What every report says of itself.
    pub caution: &'a str,
    /// What was found.
    pub findings: &'a Findings,
}

impl Document for Run<'_> {
    const FORM: &'static str = "cupwright/run/1";
}

impl Document for Measures {
    const FORM: &'static str = "cupwright/measure/1";
}

impl Document for InspectionFinding {
    const FORM: &'static str = "cupwright/inspect/1";
}

impl Document for Survey {
    const FORM: &'static str = "cupwright/landmarks/1";
}

impl Document for LabelsFinding {
    const FORM: &'static str = "cupwright/labels/1";
}

impl<'a> From<&'a Findings> for Run<'a> {
    fn from(findings: &'a Findings) -> Self {
        Self {
            version: VERSION,
            caution: CAUTION,
            findings,
        }
    }
}

/// The document as a value: its form, then its fields in their order.
///
/// # Errors
/// When it has no fields, or a key that is no text.
pub fn document<D: Document>(of: &D) -> serde_json::Result<Value> {
    with_form(D::FORM, of)
}

/// Writes a document, indented, with a line end.
///
/// # Errors
/// When `out` refuses.
pub fn write_document<D: Document>(out: &mut impl Write, of: &D) -> io::Result<()> {
    write_value(out, &document(of)?)
}

/// A document and its form.
pub(crate) fn with_form(form: &str, of: &impl Serialize) -> serde_json::Result<Value> {
    let mut whole = Map::new();
    whole.insert("schema".into(), form.into());
    let fields: Map<String, Value> = serde_json::from_value(serde_json::to_value(of)?)?;
    whole.extend(fields);
    Ok(whole.into())
}

/// Writes a value, indented, with a line end.
pub(crate) fn write_value(out: &mut (impl Write + ?Sized), value: &Value) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value)?;
    writeln!(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;
    use serde_json::Value;

    fn parsed(findings: &Findings) -> Value {
        let mut out = Vec::new();
        write_document(&mut out, &Run::from(findings)).unwrap();
        assert!(out.ends_with(b"}\n"));
        serde_json::from_slice(&out).unwrap()
    }

    #[test]
    fn it_reads_back_with_the_same_bits() {
        let findings = sample::right();
        let document = parsed(&findings);
        assert_eq!(document["schema"], "cupwright/run/1");
        assert_eq!(document["version"], 1);
        assert_eq!(document["caution"], CAUTION);
        let step = &document["findings"]["reaming"][1];
        let read = step["removed_mm3"].as_f64().unwrap();
        assert_eq!(
            read.to_bits(),
            findings.reaming[1].removed_mm3.to_bits(),
            "{read}"
        );
        assert_eq!(step["thinnest_wall"]["wall"], "medial");
        let cup = &document["findings"]["cup"];
        assert_eq!(cup["coverage_by_hour"].as_array().unwrap().len(), 12);
        assert_eq!(cup["overhang"].as_array().unwrap().len(), 24);
        assert_eq!(document["findings"]["watch"][0]["level"], "stop");
    }

    #[test]
    fn its_own_fields_come_first_and_in_order() {
        let document = parsed(&sample::left());
        let names: Vec<_> = document.as_object().unwrap().keys().collect();
        assert_eq!(names, ["schema", "version", "caution", "findings"]);
    }

    #[test]
    fn a_number_that_is_not_finite_is_null() {
        let mut findings = sample::right();
        findings.cup.interference_mm = f64::NAN;
        findings.reaming[0].new_contact = f64::INFINITY;
        let document = parsed(&findings)["findings"].take();
        assert!(document["cup"]["interference_mm"].is_null());
        assert!(document["reaming"][0]["new_contact"].is_null());
    }
}
