//! `cupwright sensitivity`: one variable at a time.

use clap::Args;
use cupwright_report::study::Answers;
use cupwright_study::sensitivity::STEPS;
use cupwright_study::{Measure, Variable, sensitivity};

use super::{Common, measure, number, of_variable};
use crate::Exit;
use crate::console::Console;

/// Tell what a step of each variable alone does to the numbers of a plan.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  cupwright sensitivity case.ron
  cupwright sensitivity case.ron --step inclination=10 --step depth=1 --of coverage --out sensitivity")]
pub(crate) struct SensitivityArguments {
    #[command(flatten)]
    common: Common,
    /// What changes, and by how much down and up, in mm or degrees; may be given several times [default: angles
    /// by 5 degrees, lengths by 2 mm, reamer oversize by 1 mm]
    #[arg(long, value_name = "VARIABLE=STEP", value_parser = step)]
    step: Vec<(Variable, f64)>,
    /// What is told; may be given several times [default: coverage, rim-contact, removed, thinnest-wall,
    /// overhang]
    #[arg(long, value_name = "MEASURE", value_parser = measure)]
    of: Vec<Measure>,
}

/// Told where nothing is said.
const MEASURES: [Measure; 5] = [
    Measure::Coverage,
    Measure::RimContact,
    Measure::Removed,
    Measure::ThinnestWall,
    Measure::Overhang,
];

fn step(text: &str) -> Result<(Variable, f64), String> {
    let (variable, step) = of_variable(text)?;
    Ok((variable, number(step)?))
}

pub(crate) fn run(arguments: &SensitivityArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let loaded = arguments.common.load(console)?;
    let steps = match &arguments.step[..] {
        [] => &STEPS[..],
        some => some,
    };
    let measures = match &arguments.of[..] {
        [] => &MEASURES[..],
        some => some,
    };
    let evaluator = loaded.evaluator()?;
    let found = console.working("measuring", || sensitivity(&evaluator, steps, measures))?;
    arguments
        .common
        .deliver(&Answers(&found), &loaded, console)?;
    Ok(Exit::Done)
}
