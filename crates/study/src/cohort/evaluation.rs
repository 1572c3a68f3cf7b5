//! What is asked of every member of a cohort.

use cupwright_procedure::findings::{Findings, Level, Wall};
use cupwright_procedure::quantity::Quantity;
use cupwright_procedure::{Bone, Case, CaseFile, Instruments, simulate};
use serde_json::{Value, json};

use super::sample::Stream;
use super::table::{Cell, Column, Row};
use crate::{Axis, Evaluator, Measure, NoOutcome, Outcome, Setting, scatter};

/// A member ready to be evaluated.
#[derive(Debug)]
pub struct Ready<'a> {
    /// Its bone, in the frame of its case.
    pub bone: &'a Bone,
    /// Its plan as typed.
    pub file: &'a CaseFile,
    /// Its plan as meant.
    pub case: &'a Case,
    /// The sizes to hand.
    pub instruments: &'a Instruments,
    /// Random numbers that depend on the cohort's seed and the member alone.
    pub stream: Stream,
}

/// A question to a member, answered by rows.
pub trait Evaluation: std::fmt::Debug + Send + Sync {
    /// What it is and with which numbers, for the manifest: everything that its rows depend on beside
    /// the member.
    fn described(&self) -> Value;

    /// The columns of its rows.
    fn columns(&self) -> Vec<Column>;

    /// Its rows, each with a cell for each of the [`columns`](Self::columns).
    ///
    /// # Errors
    /// When the member has no answer; the row then tells this text.
    fn rows(&self, member: Ready) -> Result<Vec<Row>, String>;
}

/// The plan run once: every reamer, then the cup. One row.
#[derive(Clone, Copy, Debug, Default)]
pub struct Rehearsal;

/// The columns that are read off the findings by quantity.
const QUANTITIES: [(&str, Quantity); 20] = [
    ("cup_diameter_mm", Quantity::CupDiameterMm),
    ("inclination_deg", Quantity::InclinationDeg),
    ("anteversion_deg", Quantity::AnteversionDeg),
    ("medial_mm", Quantity::MedialMm),
    ("superior_mm", Quantity::SuperiorMm),
    ("anterior_mm", Quantity::AnteriorMm),
    ("centre_shift_mm", Quantity::CentreShiftMm),
    ("interference_mm", Quantity::InterferenceMm),
    ("removed_mm3", Quantity::RemovedMm3),
    ("coverage_after_reaming", Quantity::Coverage),
    ("worst_sector_coverage", Quantity::WorstSector),
    ("rim_contact", Quantity::RimContact),
    ("largest_overhang_mm", Quantity::LargestOverhangMm),
    ("thinnest_wall_mm", Quantity::ThinnestWallMm),
    ("medial_wall_mm", Quantity::WallMm(Wall::Medial)),
    ("anterior_wall_mm", Quantity::WallMm(Wall::Anterior)),
    ("posterior_wall_mm", Quantity::WallMm(Wall::Posterior)),
    ("superior_wall_mm", Quantity::WallMm(Wall::Superior)),
    ("inferior_wall_mm", Quantity::WallMm(Wall::Inferior)),
    ("reamer_count", Quantity::Reamers),
];

/// The plan changed along every combination of some variables' values. One row for each, the last
/// variable running fastest.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    /// What is changed.
    pub axes: Vec<Axis>,
    /// What is told.
    pub measures: Vec<Measure>,
}

impl Grid {
    /// All settings about `plan`, in the order of the rows, each with the values of the variables.
    fn settings(&self, plan: Setting) -> Vec<(Vec<f64>, Setting)> {
        let mut settings = vec![(Vec::new(), plan)];
        for axis in &self.axes {
            let along = |(values, setting): &(Vec<f64>, Setting)| {
                let (values, setting) = (values.clone(), *setting);
                axis.values()
                    .map(move |value| {
                        let values = values.iter().copied().chain([value]).collect();
                        (values, setting.with(axis.variable(), value))
                    })
                    .collect::<Vec<_>>()
            };
            settings = settings.iter().flat_map(along).collect();
        }
        settings
    }
}

impl Evaluation for Grid {
    fn described(&self) -> Value {
        let axis = |axis: &Axis| {
            json!({
                "variable": axis.variable(),
                "from": axis.ends()[0],
                "to": axis.ends()[1],
                "values": axis.count(),
            })
        };
        json!({ "name": "grid", "axes": self.axes.iter().map(axis).collect::<Vec<_>>() })
    }

    fn columns(&self) -> Vec<Column> {
        let variables = self.axes.iter().map(|axis| axis.variable().heading());
        let measures = self.measures.iter().map(|measure| measure.heading());
        variables.chain(measures).map(Column::number).collect()
    }

    fn rows(&self, member: Ready) -> Result<Vec<Row>, String> {
        let evaluator = Evaluator::new(member.file, member.bone).map_err(|e| e.to_string())?;
        let (values, settings): (Vec<_>, Vec<_>) =
            self.settings(evaluator.plan()).into_iter().unzip();
        let outcomes = evaluator.evaluate_all(&settings, &self.measures);
        let row = |(values, outcome): (Vec<f64>, Result<Outcome, NoOutcome>)| {
            let outcome = outcome.map_err(|problem| problem.to_string())?;
            Ok(cells(values, Some(&outcome), &self.measures))
        };
        values.into_iter().zip(outcomes).map(row).collect()
    }
}

/// The cells of some variables' values and of what was measured there.
fn cells(values: Vec<f64>, outcome: Option<&Outcome>, measures: &[Measure]) -> Row {
    let found = measures
        .iter()
        .map(|&measure| outcome.and_then(|outcome| outcome.get(measure)));
    let cells = values.into_iter().map(Some).chain(found);
    cells.map(Cell::number_or_empty).collect()
}

/// Plans drawn about the member's own, off as hands and reamers are. One row for each; what is drawn
/// and cannot be carried out is measured nowhere.
#[derive(Clone, Debug, PartialEq)]
pub struct Draws {
    /// What is off, and how far.
    pub errors: Vec<scatter::Error>,
    /// How many plans are drawn for each member.
    pub count: usize,
    /// What is told.
    pub measures: Vec<Measure>,
}

impl Evaluation for Draws {
    fn described(&self) -> Value {
        json!({ "name": "draws", "count": self.count, "errors": self.errors })
    }

    fn columns(&self) -> Vec<Column> {
        let variables = self.errors.iter().map(|error| error.variable.heading());
        let measures = self.measures.iter().map(|measure| measure.heading());
        variables.chain(measures).map(Column::number).collect()
    }

    fn rows(&self, mut member: Ready) -> Result<Vec<Row>, String> {
        let evaluator = Evaluator::new(member.file, member.bone).map_err(|e| e.to_string())?;
        let draws = scatter::Draws {
            errors: self.errors.clone(),
            count: self.count,
            seed: member.stream.seed(),
        };
        let settings = draws.about(&evaluator.plan()).map_err(|e| e.to_string())?;
        let outcomes = evaluator.evaluate_all(&settings, &self.measures);
        let row = |(setting, outcome): (&Setting, Result<Outcome, NoOutcome>)| {
            let variables = self.errors.iter().map(|error| error.variable);
            let values = variables.map(|variable| setting.get(variable)).collect();
            cells(values, outcome.ok().as_ref(), &self.measures)
        };
        Ok(settings.iter().zip(outcomes).map(row).collect())
    }
}

impl Evaluation for Rehearsal {
    fn described(&self) -> Value {
        json!({ "name": "run" })
    }

    fn columns(&self) -> Vec<Column> {
        let mut columns = vec![Column::text("angles"), Column::text("reamers_mm")];
        columns.extend(QUANTITIES.map(|(name, _)| Column::number(name)));
        columns.extend([
            Column::number("coverage"),
            Column::number("coverage_error_bound"),
            Column::number("removed_error_bound_mm3"),
            Column::text("thinnest_wall"),
            Column::text("largest_overhang_clock"),
            Column::text("worst_sector_clock"),
            Column::count("stops"),
            Column::count("cautions"),
            Column::flag("limits_met"),
        ]);
        columns
    }

    fn rows(&self, member: Ready) -> Result<Vec<Row>, String> {
        let found = simulate(member.case, member.bone, member.instruments);
        found
            .map(|findings| vec![row(&findings)])
            .map_err(|problem| problem.to_string())
    }
}

fn row(findings: &Findings) -> Row {
    let sizes = findings
        .reaming
        .iter()
        .map(|step| step.diameter_mm.to_string());
    let sizes = sizes.collect::<Vec<_>>().join(" ");
    let mut row = vec![Cell::text(&findings.frame.orientation), Cell::text(&sizes)];
    row.extend(QUANTITIES.map(|(_, quantity)| Cell::number_or_empty(quantity.of(findings))));
    let cup = &findings.cup;
    let bound = findings
        .reaming
        .iter()
        .map(|step| step.error_bound_mm3)
        .sum();
    let thinnest = findings
        .reaming
        .last()
        .and_then(|step| step.thinnest_wall.as_ref());
    let place = |quantity: Quantity| {
        let place = quantity.place(findings);
        place.map_or(Cell::Empty, |place| Cell::text(&place))
    };
    let grave = |level: Level| {
        Cell::count(
            findings
                .watch
                .iter()
                .filter(|entry| entry.level == level)
                .count(),
        )
    };
    row.extend([
        Cell::number(cup.coverage),
        Cell::number(cup.coverage_error_bound),
        Cell::number(bound),
        thinnest.map_or(Cell::Empty, |wall| Cell::text(&wall.wall.to_string())),
        place(Quantity::LargestOverhangMm),
        place(Quantity::WorstSector),
        grave(Level::Stop),
        grave(Level::Caution),
        match findings.limits.as_slice() {
            [] => Cell::Empty,
            limits => Cell::Flag(limits.iter().all(|limit| limit.met)),
        },
    ]);
    row
}
