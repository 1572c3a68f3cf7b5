//! A run as tables of comma-separated values, units in their headings.

use std::io::{self, Write};

mod joint;

use ::csv::Writer;
use cupwright_procedure::Findings;
use cupwright_procedure::findings::{LayersFinding, StepFinding, Wall, WallFinding};

pub use joint::{write_balls, write_motion};

/// A clock position this near an hour is that hour: rounding leaves it nearer, and the next half
/// hour is far away.
const FULL_HOUR: f64 = 1e-6;

/// A column: its heading, and its cell for one reamer.
type Column = (&'static str, fn(&StepFinding) -> String);

const STEP_COLUMNS: [Column; 25] = [
    ("diameter_mm", |step| cell(step.diameter_mm)),
    ("removed_mm3", |step| cell(step.removed_mm3)),
    ("removed_g", |step| cell(step.removed_g)),
    ("cumulative_removed_mm3", |step| {
        cell(step.cumulative_removed_mm3)
    }),
    ("cumulative_removed_g", |step| {
        cell(step.cumulative_removed_g)
    }),
    ("error_bound_mm3", |step| cell(step.error_bound_mm3)),
    ("subchondral_mm3", |step| layer(step, |l| l.subchondral_mm3)),
    ("cortical_mm3", |step| layer(step, |l| l.cortical_mm3)),
    ("cancellous_mm3", |step| layer(step, |l| l.cancellous_mm3)),
    ("new_contact_mm2", |step| cell(step.new_contact_mm2)),
    ("new_contact_share", |step| cell(step.new_contact)),
    ("rim_contact_share", |step| cell(step.rim_contact)),
    ("own_size_coverage_share", |step| cell(step.coverage)),
    ("thinnest_wall", |step| {
        step.thinnest_wall
            .as_ref()
            .map_or(String::new(), |thinnest| thinnest.wall.to_string())
    }),
    ("thinnest_mm", |step| thinnest(step, |w| w.thickness_mm)),
    ("thinnest_clock_h", |step| thinnest(step, |w| w.clock_h)),
    ("thinnest_from_pole_deg", |step| {
        thinnest(step, |w| w.from_pole_deg)
    }),
    ("thinnest_medial_mm", |step| {
        thinnest(step, |w| w.place.medial_mm)
    }),
    ("thinnest_superior_mm", |step| {
        thinnest(step, |w| w.place.superior_mm)
    }),
    ("thinnest_anterior_mm", |step| {
        thinnest(step, |w| w.place.anterior_mm)
    }),
    ("medial_wall_mm", |step| thickness(step, Wall::Medial)),
    ("anterior_wall_mm", |step| thickness(step, Wall::Anterior)),
    ("posterior_wall_mm", |step| thickness(step, Wall::Posterior)),
    ("superior_wall_mm", |step| thickness(step, Wall::Superior)),
    ("inferior_wall_mm", |step| thickness(step, Wall::Inferior)),
];

const RIM_HEADINGS: [&str; 4] = [
    "clock_h",
    "from_12_deg",
    "proud_mm",
    "sector_coverage_share",
];

/// Writes one row for each reamer, in the order of use, numbered from 1.
///
/// Shares run from 0 to 1. `own_size_coverage_share` is what a cup of the reamer's own size would
/// have covered; `thinnest_medial_mm` and the two after it are the thinnest place as seen from the
/// hip centre, `medial_wall_mm` and the four after it the bone left in each wall. A cell is empty
/// where there was nothing to measure.
///
/// # Errors
/// When `out` refuses.
pub fn write_steps(out: &mut impl Write, findings: &Findings) -> io::Result<()> {
    let mut table = Writer::from_writer(out);
    table.write_record(
        ["step"]
            .into_iter()
            .chain(STEP_COLUMNS.map(|(heading, _)| heading)),
    )?;
    for (index, step) in findings.reaming.iter().enumerate() {
        let number = (index + 1).to_string();
        let cells = STEP_COLUMNS.map(|(_, cell_of)| cell_of(step));
        table.write_record([number].into_iter().chain(cells))?;
    }
    table.flush()
}

/// Writes one row for each half hour of the cup's rim.
///
/// `clock_h` runs from 12 by way of 12.5 and 1 to 11.5, `from_12_deg` from 0 to 345 by way of 3
/// o'clock. The coverage of a sector stands at its hour; the cell of a half hour is empty.
///
/// # Errors
/// When `out` refuses.
pub fn write_rim(out: &mut impl Write, findings: &Findings) -> io::Result<()> {
    let mut table = Writer::from_writer(out);
    table.write_record(RIM_HEADINGS)?;
    for place in &findings.cup.overhang {
        let hours = place.clock_h.rem_euclid(12.0);
        let shown = if hours < 1.0 { hours + 12.0 } else { hours };
        let sectors = (0_u8..).zip(findings.cup.coverage_by_hour);
        let sector = sectors
            .filter(|&(hour, _)| hours_between(f64::from(hour), hours) < FULL_HOUR)
            .map(|(_, coverage)| cell(coverage));
        table.write_record([
            cell(shown),
            cell(30.0 * hours),
            cell(place.proud_mm),
            sector.collect(),
        ])?;
    }
    table.flush()
}

/// The way round the clock from one position to another, in hours, 0 to 6.
fn hours_between(a: f64, b: f64) -> f64 {
    ((a - b + 6.0).rem_euclid(12.0) - 6.0).abs()
}

/// A number with as many digits as it takes to read back the same bits; empty where not finite.
fn cell(value: f64) -> String {
    if value.is_finite() {
        value.to_string()
    } else {
        String::new()
    }
}

/// A layer of the bone removed; empty where the bone does not say what it is made of.
fn layer(step: &StepFinding, part: impl Fn(&LayersFinding) -> f64) -> String {
    step.layers
        .as_ref()
        .map_or_else(String::new, |layers| cell(part(layers)))
}

fn thinnest(step: &StepFinding, number: fn(&WallFinding) -> f64) -> String {
    let thinnest = step.thinnest_wall.as_ref();
    thinnest.map_or(String::new(), |wall| cell(number(wall)))
}

fn thickness(step: &StepFinding, wall: Wall) -> String {
    let found = step.walls.iter().find(|place| place.wall == wall);
    found.map_or(String::new(), |place| cell(place.thickness_mm))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    type Table = (Vec<String>, Vec<Vec<String>>);

    /// Headings and rows.
    fn read(write: fn(&mut Vec<u8>, &Findings) -> io::Result<()>, findings: &Findings) -> Table {
        let mut out = Vec::new();
        write(&mut out, findings).unwrap();
        let mut reader = ::csv::Reader::from_reader(out.as_slice());
        let owned = |record: &::csv::StringRecord| record.iter().map(String::from).collect();
        let headings = owned(reader.headers().unwrap());
        let rows = reader.records().map(|r| owned(&r.unwrap())).collect();
        (headings, rows)
    }

    fn column<'a>((headings, rows): &'a Table, heading: &str) -> Vec<&'a str> {
        let at = headings.iter().position(|h| h == heading).unwrap();
        rows.iter().map(|row| row[at].as_str()).collect()
    }

    #[test]
    fn a_reamer_is_a_row() {
        let findings = sample::right();
        let table = read(write_steps, &findings);
        assert_eq!(column(&table, "step"), ["1", "2", "3", "4"]);
        assert_eq!(column(&table, "diameter_mm"), ["46", "48", "50", "51"]);
        let read: Vec<f64> = column(&table, "removed_mm3")
            .iter()
            .map(|cell| cell.parse().unwrap())
            .collect();
        let found: Vec<f64> = findings.reaming.iter().map(|s| s.removed_mm3).collect();
        assert_eq!(read, found);
        assert_eq!(
            column(&table, "thinnest_wall"),
            ["", "medial", "medial", "medial"]
        );
    }

    #[test]
    fn no_reamer_is_no_row_but_the_headings() {
        let (headings, rows) = read(write_steps, &sample::with_reamers(&[]));
        assert_eq!(headings.len(), 1 + STEP_COLUMNS.len());
        assert!(rows.is_empty());
    }

    #[test]
    fn every_number_of_a_step_has_its_unit_in_the_heading() {
        let told = ["_mm", "_mm2", "_mm3", "_g", "_share", "_h", "_deg"];
        for heading in STEP_COLUMNS.map(|(heading, _)| heading) {
            let unit = told.iter().any(|unit| heading.ends_with(unit));
            assert!(unit || heading == "thinnest_wall", "{heading}");
        }
    }

    #[test]
    fn each_wall_has_its_column() {
        let table = read(write_steps, &sample::right());
        let last = |heading| column(&table, heading)[3].to_string();
        assert_eq!(last("medial_wall_mm"), "3.2");
        assert_eq!(last("posterior_wall_mm"), "9.4");
        assert_eq!(last("superior_wall_mm"), "");
    }

    #[test]
    fn a_half_hour_of_the_rim_is_a_row_from_twelve_on() {
        let table = read(write_rim, &sample::right());
        let clock = column(&table, "clock_h");
        assert_eq!(clock.len(), 24);
        assert_eq!(clock[..4], ["12", "12.5", "1", "1.5"]);
        assert_eq!(column(&table, "from_12_deg")[23], "345");
        assert_eq!(column(&table, "proud_mm")[3], "6.3");
    }

    #[test]
    fn a_sector_stands_at_its_hour_only() {
        let mut findings = sample::left();
        findings.cup.overhang[2].clock_h = 1.0 + 1e-9;
        findings.cup.overhang[0].clock_h = 12.0 - 1e-9;
        let table = read(write_rim, &findings);
        let coverage = column(&table, "sector_coverage_share");
        for (hour, found) in findings.cup.coverage_by_hour.iter().enumerate() {
            assert_eq!(coverage[2 * hour], found.to_string());
            assert_eq!(coverage[2 * hour + 1], "");
        }
    }

    #[test]
    fn what_is_not_finite_is_an_empty_cell() {
        let mut findings = sample::right();
        findings.reaming[0].new_contact_mm2 = f64::NAN;
        findings.cup.overhang[2].proud_mm = f64::INFINITY;
        assert_eq!(
            column(&read(write_steps, &findings), "new_contact_mm2")[0],
            ""
        );
        assert_eq!(column(&read(write_rim, &findings), "proud_mm")[2], "");
    }
}
