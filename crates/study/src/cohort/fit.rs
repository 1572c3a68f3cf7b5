//! The plan of a member: the case's own, its sizes fitted to the socket by a rule of thumb.

use cupwright_procedure::Instruments;
use cupwright_procedure::case::{CaseFile, ReamerEntry};
use serde::Serialize;
use thiserror::Error;

/// Where the sizes of reamers and cup come from.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sizes {
    /// From each socket by [`fitted`].
    #[default]
    Socket,
    /// From the case, the same for all.
    Case,
}

/// How much larger than the native socket a cup is at least, in mm: common practice, no published source.
pub const OVER: f64 = 2.0;

/// How much smaller than the native socket the first reamer is at most, in mm: common practice, no
/// published source.
pub const UNDER: f64 = 5.0;

/// From one reamer to the next, in mm at least: common practice, no published source.
pub const STEP: f64 = 2.0;

/// How much smaller than the cup the last reamer is at least, in mm: common practice, no published source.
pub const INTERFERENCE: f64 = 1.0;

/// Sizes that cannot be fitted.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoFit {
    /// The socket is larger than the set is made for.
    #[error(
        "the socket of {native_mm:.1} mm asks for a cup of {wanted_mm:.1} mm or more; the largest of the set is {largest_mm} mm"
    )]
    NoCup {
        /// The native socket's diameter.
        native_mm: f64,
        /// The smallest cup that would do.
        wanted_mm: f64,
        /// The largest there is.
        largest_mm: f64,
    },
    /// The set has no reamer that small.
    #[error(
        "the cup of {cup_mm} mm asks for a reamer of {wanted_mm} mm or less; the smallest of the set is {smallest_mm} mm"
    )]
    NoReamer {
        /// The cup.
        cup_mm: f64,
        /// The largest reamer that would do.
        wanted_mm: f64,
        /// The smallest there is.
        smallest_mm: f64,
    },
}

/// `case` with the sizes for a socket of `native_mm` across, from the set `instruments`.
///
/// The cup is the smallest that is at least [`OVER`] larger than the socket; the last reamer the
/// largest that is at least [`INTERFERENCE`] smaller than the cup; before it come reamers down by
/// [`STEP`] or more each, as long as they are no more than [`UNDER`] smaller than the socket. All
/// have the place and the axis that the case gives its cup.
///
/// # Errors
/// When the set has no cup large enough or no reamer small enough.
pub fn fitted(
    case: &CaseFile,
    native_mm: f64,
    instruments: &Instruments,
) -> Result<CaseFile, NoFit> {
    let wanted_mm = native_mm + OVER;
    let (cups, sizes) = (instruments.cups(), instruments.reamers());
    let cup = cups.iter().copied().find(|size| *size >= wanted_mm);
    let cup_mm = cup.ok_or_else(|| NoFit::NoCup {
        native_mm,
        wanted_mm,
        largest_mm: cups.last().copied().unwrap_or_default(),
    })?;
    let last = largest_up_to(sizes, cup_mm - INTERFERENCE).ok_or_else(|| NoFit::NoReamer {
        cup_mm,
        wanted_mm: cup_mm - INTERFERENCE,
        smallest_mm: sizes.first().copied().unwrap_or_default(),
    })?;
    let before = |size: &f64| {
        largest_up_to(sizes, size - STEP).filter(|smaller| *smaller >= native_mm - UNDER)
    };
    let mut reamers: Vec<f64> = std::iter::successors(Some(last), before).collect();
    reamers.reverse();
    let mut file = case.clone();
    file.cup.diameter_mm = cup_mm;
    let entry = |diameter_mm| ReamerEntry {
        diameter_mm,
        ..ReamerEntry::default()
    };
    file.reamers = reamers.into_iter().map(entry).collect();
    Ok(file)
}

/// The largest of ascending `sizes` that is no more than `most`.
fn largest_up_to(sizes: &[f64], most: f64) -> Option<f64> {
    sizes.iter().copied().rev().find(|size| *size <= most)
}

#[cfg(test)]
mod tests {
    use super::*;

    const CASE: &str = "(version: 1, bone: Preset(name: \"average-male\", side: Right), \
        orientation: Radiographic, reamers: [(diameter_mm: 70)], \
        cup: (diameter_mm: 72, inclination_deg: 40, anteversion_deg: 15, centre: (medial_mm: 3)))";

    fn sizes_for(native_mm: f64) -> Result<(Vec<f64>, f64), NoFit> {
        let case = CaseFile::parse(CASE).unwrap();
        let fitted = fitted(&case, native_mm, &Instruments::generic().unwrap())?;
        let meant = fitted.check().unwrap();
        assert!(meant.reamers.iter().all(|r| r.centre == meant.cup.centre));
        let reamers = fitted.reamers.iter().map(|r| r.diameter_mm);
        Ok((reamers.collect(), fitted.cup.diameter_mm))
    }

    #[test]
    fn a_socket_of_52_mm_gets_the_sizes_of_the_demonstration() {
        let odd = vec![47.0, 49.0, 51.0, 53.0];
        assert_eq!(sizes_for(52.0), Ok((odd, 54.0)));
    }

    #[test]
    fn cups_are_even_and_at_least_2_mm_over_the_socket() {
        assert_eq!(sizes_for(52.1), Ok((vec![49.0, 51.0, 53.0, 55.0], 56.0)));
        assert_eq!(sizes_for(47.0), Ok((vec![43.0, 45.0, 47.0, 49.0], 50.0)));
    }

    #[test]
    fn a_socket_that_no_cup_of_the_set_fits_is_refused_with_its_size() {
        let told = sizes_for(150.0).unwrap_err().to_string();
        assert!(
            told.contains("socket of 150.0 mm") && told.contains("152.0"),
            "{told}"
        );
    }
}
