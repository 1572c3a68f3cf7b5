//! `cupwright map`: measures over two variables.

use clap::Args;
use cupwright_study::{Axis, Measure, map};

use super::{Common, Ends, LimitArguments, measure, of_variable};
use crate::Exit;
use crate::console::Console;

/// Show how the numbers of a plan lie over two of its variables, such as coverage over inclination and
/// anteversion.
///
/// Variables: inclination, anteversion, medial, superior, anterior, cup-diameter, depth (along the cup's axis),
/// oversize (of the reamers), tilt. Reamers go with the cup. With limits, of the case or given here, the map
/// also says where they are kept; exit code 1 if that is nowhere.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  cupwright map case.ron --out map
  cupwright map case.ron --x depth=-3..6:37 --y cup-diameter=48..60:13 --of coverage --of thinnest-wall \\
      --min-coverage 0.7 --min-wall 2 --out map")]
pub(crate) struct MapArguments {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    limits: LimitArguments,
    /// What changes to the right: between what, and in how many values
    #[arg(long, value_name = "VARIABLE=A..B:N", default_value = "inclination=30..60:61", value_parser = axis, allow_hyphen_values = true)]
    x: Axis,
    /// What changes upward
    #[arg(long, value_name = "VARIABLE=A..B:N", default_value = "anteversion=0..50:51", value_parser = axis, allow_hyphen_values = true)]
    y: Axis,
    /// What is shown; may be given several times [default: coverage]
    #[arg(long, value_name = "MEASURE", value_parser = measure)]
    of: Vec<Measure>,
}

/// Cells of a map where nothing is said.
const CELLS: usize = 41;

fn axis(text: &str) -> Result<Axis, String> {
    let (variable, rest) = of_variable(text)?;
    let (ends, count) = match rest.split_once(':') {
        None => (rest, CELLS),
        Some((ends, count)) => {
            let count = count.trim().parse();
            (
                ends,
                count.map_err(|_| format!("'{text}': how many values is not a whole number"))?,
            )
        }
    };
    let Ends([least, most]) = ends.parse()?;
    Axis::new(variable, least, most, count).map_err(|problem| problem.to_string())
}

pub(crate) fn run(arguments: &MapArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let loaded = arguments.common.load(console)?;
    let limits = arguments.limits.limits(&loaded)?;
    let measures = match &arguments.of[..] {
        [] => vec![Measure::Coverage],
        some => some.to_vec(),
    };
    let evaluator = loaded.evaluator()?;
    let axes = [arguments.x, arguments.y];
    let map = console.working("mapping", || map(&evaluator, axes, &measures, &limits))?;
    arguments.common.deliver(&map, &loaded, console)?;
    Ok(if map.kept.iter().any(|kept| *kept) {
        Exit::Done
    } else {
        Exit::LimitNotMet
    })
}
