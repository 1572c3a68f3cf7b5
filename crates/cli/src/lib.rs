//! The command line: what was asked, who does it, and the exit code.
//!
//! Results go to `out`, everything else to `err`. 0: done; 1: a limit that was asked for is not met;
//! 2: an error, told in one line.

mod inspect;
mod measure;
mod pelvis;
mod run;
mod tool;

use std::io::{self, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};
pub use cupwright_report::Style;

/// What every help page says of the program's purpose.
const CAUTION: &str = "For teaching and engineering study. Not a medical device, not validated for treating anyone; \
     decisions belong to licensed clinicians under local rules.";

/// Rehearse reaming the hip socket: how much bone goes, where the rim holds, how much of the cup is
/// covered.
///
/// Without a command, the built-in demonstration is run: the report on screen, files in
/// cupwright-out/.
#[derive(Debug, Parser)]
#[command(name = "cupwright", version, after_help = CAUTION)]
pub struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    Run(run::RunArguments),
    Measure(measure::MeasureArguments),
    Inspect(inspect::InspectArguments),
    Pelvis(pelvis::PelvisArguments),
}

/// Whether everything that was asked for is met.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Outcome {
    /// Exit code 0.
    Done,
    /// Exit code 1.
    LimitNotMet,
}

/// Does what the arguments ask and tells the exit code; a reader of `out` that has gone away is no
/// error.
pub fn main_with(
    arguments: &Arguments,
    out: &mut impl Write,
    err: &mut impl Write,
    style: Style,
) -> ExitCode {
    let done = match &arguments.command {
        None => run::demonstration(out, err, style),
        Some(Command::Run(arguments)) => run::run(arguments, out, err, style),
        Some(Command::Measure(arguments)) => measure::run(arguments, out, err),
        Some(Command::Inspect(arguments)) => inspect::run(arguments, out, err),
        Some(Command::Pelvis(arguments)) => pelvis::run(arguments, out, err),
    };
    match done.and_then(|outcome| Ok(out.flush().map(|()| outcome)?)) {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::LimitNotMet) => ExitCode::from(1),
        Err(error) if is_broken_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            // Where even stderr is gone there is nobody left to tell.
            let _ = writeln!(err, "cupwright: error: {}", one_line(&error));
            ExitCode::from(2)
        }
    }
}

fn is_broken_pipe(error: &anyhow::Error) -> bool {
    let kind = error.downcast_ref::<io::Error>().map(io::Error::kind);
    kind == Some(io::ErrorKind::BrokenPipe)
}

/// The error and its causes, as one line even where a cause spans several.
fn one_line(error: &anyhow::Error) -> String {
    format!("{error:#}")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}
