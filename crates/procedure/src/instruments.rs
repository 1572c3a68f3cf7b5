//! Which sizes of reamers and cups are to hand.

use std::path::Path;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::text::{self, Unreadable};
use crate::{Case, syntax};

/// The sizes of a set of reamers and cups, in mm, ascending.
#[derive(Clone, Debug, PartialEq)]
pub struct Instruments {
    reamers: Vec<f64>,
    cups: Vec<f64>,
}

/// Why a set of instruments is refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BadInstruments {
    /// The text is not such a file.
    #[error("{}", syntax::told(.0))]
    Syntax(Box<ron::error::SpannedError>),
    /// Written for a later version of this program.
    #[error(
        "version is {found}; this program reads version {VERSION} of the instrument format, a later one may read more"
    )]
    Version {
        /// The version it names.
        found: u32,
    },
    /// A size or range that cannot be.
    #[error("{list}: {problem}")]
    Sizes {
        /// `reamers` or `cups`.
        list: &'static str,
        /// What is wrong.
        problem: String,
    },
}

/// Why a case's set of instruments cannot be had.
#[derive(Debug, Error)]
pub enum NoInstruments {
    /// Its file cannot be read.
    #[error(transparent)]
    Unreadable(#[from] Unreadable),
    /// It is no such set.
    #[error("{file}: {problem}")]
    Bad {
        /// The file.
        file: String,
        /// What is wrong.
        problem: BadInstruments,
    },
}

/// The version of the file format.
const VERSION: u32 = 1;

/// The most sizes that a list may hold.
const MOST_SIZES: usize = 1000;

#[derive(Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct InstrumentsFile {
    version: u32,
    reamers: Vec<Sizes>,
    cups: Vec<Sizes>,
}

#[derive(Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
enum Sizes {
    Range {
        from_mm: f64,
        to_mm: f64,
        step_mm: f64,
    },
    Sizes {
        diameters_mm: Vec<f64>,
    },
}

impl Instruments {
    /// The set that a case names, in a file relative to `folder`; the generic one where it names none.
    ///
    /// # Errors
    /// When the file cannot be read or is no such set.
    pub fn of_case(case: &Case, folder: &Path) -> Result<Self, NoInstruments> {
        let bad = |file: String| move |problem| NoInstruments::Bad { file, problem };
        match &case.instruments {
            None => Self::generic().map_err(bad("the generic set".into())),
            Some(name) => {
                let path = folder.join(name);
                Self::parse(&text::read(&path)?).map_err(bad(path.display().to_string()))
            }
        }
    }

    /// The generic set that comes with the program, of no maker.
    ///
    /// # Errors
    /// Never, unless the program was built with a broken set.
    pub fn generic() -> Result<Self, BadInstruments> {
        Self::parse(include_str!("../../../assets/instruments/generic.ron"))
    }

    /// A set from the text of an instrument file (RON).
    ///
    /// # Errors
    /// When the text is not such a file, with line and column, or a size in it cannot be.
    pub fn parse(text: &str) -> Result<Self, BadInstruments> {
        let file: InstrumentsFile =
            ron::from_str(text).map_err(|error| BadInstruments::Syntax(Box::new(error)))?;
        if file.version != VERSION {
            return Err(BadInstruments::Version {
                found: file.version,
            });
        }
        Ok(Self {
            reamers: listed("reamers", &file.reamers)?,
            cups: listed("cups", &file.cups)?,
        })
    }

    /// Diameters of the reamers, in mm, ascending.
    pub fn reamers(&self) -> &[f64] {
        &self.reamers
    }

    /// Outer diameters of the cups, in mm, ascending.
    pub fn cups(&self) -> &[f64] {
        &self.cups
    }
}

fn listed(list: &'static str, sizes: &[Sizes]) -> Result<Vec<f64>, BadInstruments> {
    let bad = |problem: String| BadInstruments::Sizes { list, problem };
    let mut all = Vec::new();
    for sizes in sizes {
        match sizes {
            Sizes::Sizes { diameters_mm } => all.extend(diameters_mm),
            &Sizes::Range {
                from_mm,
                to_mm,
                step_mm,
            } => {
                let count = ((to_mm - from_mm) / step_mm + 1e-9).floor();
                if !(step_mm > 0.0 && (0.0..1e3).contains(&count)) {
                    return Err(bad(format!(
                        "no range runs from {from_mm} to {to_mm} mm in steps of {step_mm}"
                    )));
                }
                let steps = std::iter::successors(Some(0.0), |k| Some(k + 1.0));
                all.extend(
                    steps
                        .take_while(|&k| k <= count)
                        .map(|k| from_mm + k * step_mm),
                );
            }
        }
    }
    if let Some(size) = all.iter().find(|size| !(size.is_finite() && **size > 0.0)) {
        return Err(bad(format!(
            "a diameter must be a positive number of mm, not {size}"
        )));
    }
    all.sort_by(f64::total_cmp);
    all.dedup_by(|a, b| a.total_cmp(b).is_eq());
    if all.is_empty() || all.len() > MOST_SIZES {
        return Err(bad(format!(
            "{} sizes; there must be between 1 and {MOST_SIZES}",
            all.len()
        )));
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_generic_set_has_odd_reamers_for_even_cups() {
        let set = Instruments::generic().unwrap();
        assert_eq!((set.reamers().len(), set.cups().len()), (45, 21));
        assert!(set.reamers().contains(&53.0) && set.cups().contains(&54.0));
        assert!(set.cups().iter().all(|cup| cup % 2.0 == 0.0));
    }

    #[test]
    fn a_mistake_is_told_with_its_line() {
        let error = Instruments::parse("(\n version: 1,\n reamer: [],\n)").unwrap_err();
        assert!(
            error.to_string().contains("line 3") && error.to_string().contains("reamer"),
            "{error}"
        );
    }

    #[test]
    fn sizes_that_cannot_be_are_refused() {
        let with = |reamers: &str| {
            Instruments::parse(&format!(
                "(version: 1, reamers: {reamers}, cups: [Sizes(diameters_mm: [50])])"
            ))
        };
        assert!(with("[Sizes(diameters_mm: [47, 49])]").is_ok());
        for bad in [
            "[]",
            "[Sizes(diameters_mm: [-1])]",
            "[Range(from_mm: 50, to_mm: 40, step_mm: 1)]",
            "[Range(from_mm: 1, to_mm: 2, step_mm: 0)]",
        ] {
            assert!(with(bad).is_err(), "{bad}");
        }
        let later = "(version: 9, reamers: [], cups: [])";
        assert_eq!(
            Instruments::parse(later),
            Err(BadInstruments::Version { found: 9 })
        );
    }
}
