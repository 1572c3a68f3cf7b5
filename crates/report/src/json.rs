//! A run as one JSON document.

use std::io::{self, Write};

use cupwright_procedure::Findings;
use serde::Serialize;

use crate::CAUTION;

/// The version of the document's form: it grows when a field changes its name or meaning, not when
/// one is added.
pub const VERSION: u32 = 1;

/// The document: `{"version": 1, "caution": "…", "findings": {…}}`.
///
/// Floats are written with as many digits as it takes to read back the same bits; one that is not
/// finite is `null`.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Document<'a> {
    /// [`VERSION`].
    pub version: u32,
    /// [`CAUTION`].
    pub caution: &'a str,
    /// What was found.
    pub findings: &'a Findings,
}

impl<'a> From<&'a Findings> for Document<'a> {
    fn from(findings: &'a Findings) -> Self {
        Self {
            version: VERSION,
            caution: CAUTION,
            findings,
        }
    }
}

/// Writes the [`Document`] of `findings`, indented, with a line end.
///
/// # Errors
/// When `out` refuses.
pub fn write_document(out: &mut impl Write, findings: &Findings) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, &Document::from(findings))?;
    writeln!(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;
    use serde_json::Value;

    fn parsed(findings: &Findings) -> Value {
        let mut out = Vec::new();
        write_document(&mut out, findings).unwrap();
        assert!(out.ends_with(b"}\n"));
        serde_json::from_slice(&out).unwrap()
    }

    #[test]
    fn it_reads_back_with_the_same_bits() {
        let findings = sample::right();
        let document = parsed(&findings);
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
        assert_eq!(names, ["version", "caution", "findings"]);
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
