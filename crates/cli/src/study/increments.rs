//! `cupwright increments`: reaming up in small steps or large ones.

use clap::Args;
use cupwright_report::study::Increments;
use cupwright_study::increments::Plan;
use cupwright_study::{Hand, increments};

use super::{Common, Loaded, number};
use crate::Exit;
use crate::console::Console;

/// Compare reaming up in 1 mm and 2 mm steps, and from several start sizes: bone and area that each reamer cuts,
/// and what a hand that is off costs.
///
/// Every series ends at the last reamer of the case, at its place.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  cupwright increments case.ron
  cupwright increments case.ron --start 43,47 --step 1,2,4 --off 1,2 --turn 3 --tries 8 --out increments")]
pub(crate) struct IncrementsArguments {
    #[command(flatten)]
    common: Common,
    /// Diameters of the first reamer, in mm [default: that of the case, or 6 mm below its last]
    #[arg(long, value_name = "D[,D...]", value_delimiter = ',', value_parser = number, allow_hyphen_values = true)]
    start: Vec<f64>,
    /// By how much each reamer is larger than the one before it, in mm
    #[arg(long, value_name = "MM[,MM...]", value_delimiter = ',', default_value = "1,2", value_parser = number, allow_hyphen_values = true)]
    step: Vec<f64>,
    /// How far off its place a hand puts each reamer, in mm, square to its axis; 0 for none
    #[arg(long, value_name = "MM[,MM...]", value_delimiter = ',', default_value = "1,2", value_parser = number, allow_hyphen_values = true)]
    off: Vec<f64>,
    /// How far such a hand also turns each reamer, in degrees
    #[arg(long, value_name = "DEGREES", default_value_t = 0.0, value_parser = number, allow_hyphen_values = true)]
    turn: f64,
    /// How often each such hand tries, in other directions each time
    #[arg(long, value_name = "N", default_value_t = 3)]
    tries: usize,
    /// What decides the directions
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

pub(crate) fn run(arguments: &IncrementsArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let loaded = arguments.common.load(console)?;
    let hand = |offset_mm: &f64| Hand {
        offset_mm: *offset_mm,
        turn_deg: arguments.turn,
    };
    let plan = Plan {
        starts_mm: starts(arguments, &loaded),
        steps_mm: arguments.step.clone(),
        hands: arguments.off.iter().map(hand).collect(),
        tries: arguments.tries,
        seed: arguments.seed,
    };
    let Loaded {
        file,
        bone,
        instruments,
        ..
    } = &loaded;
    let found = console.working("reaming", || increments(file, bone, instruments, &plan))?;
    arguments
        .common
        .deliver(&Increments(&found), &loaded, console)?;
    Ok(Exit::Done)
}

fn starts(arguments: &IncrementsArguments, loaded: &Loaded) -> Vec<f64> {
    const BELOW_LAST: f64 = 6.0;
    if !arguments.start.is_empty() {
        return arguments.start.clone();
    }
    let reamers = &loaded.case.reamers;
    let (first, last) = (reamers.first(), reamers.last());
    let start = first.zip(last).map_or(0.0, |(first, last)| {
        if first.diameter < last.diameter {
            first.diameter
        } else {
            last.diameter - BELOW_LAST
        }
    });
    vec![start]
}
