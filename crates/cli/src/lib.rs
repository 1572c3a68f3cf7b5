//! The command line: what was asked, who does it, and the exit code.
//!
//! Results go to [`Console::out`], everything else to [`Console::err`]. The exit code is 0 when all
//! is done, 1 when a limit that was asked for is not met, and 2 on an error, told in one line.

mod bone;
mod cohort;
mod console;
mod inspect;
mod landmarks;
mod measure;
mod mend;
mod pelvis;
mod refusal;
mod run;
mod sheet;
mod study;
mod tool;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};
pub use console::{Console, Progress};
use cupwright_report::CAUTION;
pub use cupwright_report::Style;

/// Rehearse reaming the hip socket: how much bone goes, where the rim holds, how much of the cup is
/// covered.
///
/// Without a command, the built-in demonstration is run: the report on screen, files in
/// cupwright-out/.
#[derive(Debug, Parser)]
#[command(name = "cupwright", version, after_help = after_help())]
struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    Run(run::RunArguments),
    Measure(measure::MeasureArguments),
    Inspect(inspect::InspectArguments),
    Landmarks(landmarks::LandmarksArguments),
    Mend(mend::MendArguments),
    Pelvis(pelvis::PelvisArguments),
    Map(study::map::MapArguments),
    Place(study::place::PlaceArguments),
    Scatter(study::scatter::ScatterArguments),
    Increments(study::increments::IncrementsArguments),
    Sensitivity(study::sensitivity::SensitivityArguments),
    Cohort(cohort::CohortArguments),
}

fn after_help() -> String {
    format!("Example:\n  cupwright pelvis shallow-1 --out hip.stl\n\n{CAUTION}")
}

/// How a command ended.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Exit {
    /// Everything that was asked for is done and met.
    Done,
    /// A limit that was asked for is not met.
    LimitNotMet,
    /// It could not be done; why is on stderr.
    Error,
}

impl Exit {
    /// The exit code: 0, 1 or 2.
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::LimitNotMet => 1,
            Self::Error => 2,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        exit.code().into()
    }
}

/// Does what the arguments ask, the first of them being the program's own name.
///
/// A reader of the output that has gone away is no error.
///
/// ```
/// use cupwright::{Console, Exit, Progress, Style, main_with};
///
/// let (mut out, mut err) = (Vec::new(), Vec::new());
/// let (style, progress) = (Style::Plain, Progress::Hidden);
/// let mut console = Console { out: &mut out, err: &mut err, style, progress };
/// let asked = ["cupwright", "inspect", "missing.stl"];
/// assert_eq!(main_with(asked, &mut console), Exit::Error);
/// let told = "cupwright: error: missing.stl: there is no such file; check the name and the folder\n";
/// assert_eq!(err, told.as_bytes());
/// ```
pub fn main_with<T>(arguments: impl IntoIterator<Item = T>, console: &mut Console) -> Exit
where
    T: Into<OsString>,
{
    let arguments: Vec<OsString> = arguments.into_iter().map(Into::into).collect();
    let done = obeyed(&arguments, console);
    match done.and_then(|exit| Ok(console.out.flush().map(|()| exit)?)) {
        Ok(exit) => exit,
        Err(error) if refusal::is_broken_pipe(&error) => Exit::Done,
        Err(error) => {
            console.say(format_args!("error: {}", refusal::one_line(&error)));
            Exit::Error
        }
    }
}

fn obeyed(arguments: &[OsString], console: &mut Console) -> anyhow::Result<Exit> {
    let parsed = match Arguments::try_parse_from(arguments) {
        Ok(parsed) => parsed,
        Err(help) if !help.use_stderr() => {
            match console.style {
                Style::Coloured => write!(console.out, "{}", help.render().ansi())?,
                Style::Plain => write!(console.out, "{}", help.render())?,
            }
            return Ok(Exit::Done);
        }
        Err(slip) => {
            let given = arguments.get(1).and_then(|name| name.to_str());
            let program = Arguments::command();
            anyhow::bail!(refusal::of_arguments(
                &slip,
                &program,
                given.unwrap_or_default()
            ));
        }
    };
    match &parsed.command {
        None => run::demonstration(console),
        Some(Command::Run(arguments)) => run::run(arguments, console),
        Some(Command::Measure(arguments)) => measure::run(arguments, console),
        Some(Command::Inspect(arguments)) => inspect::run(arguments, console),
        Some(Command::Landmarks(arguments)) => landmarks::run(arguments, console),
        Some(Command::Mend(arguments)) => mend::run(arguments, console),
        Some(Command::Pelvis(arguments)) => pelvis::run(arguments, console),
        Some(Command::Map(arguments)) => study::map::run(arguments, console),
        Some(Command::Place(arguments)) => study::place::run(arguments, console),
        Some(Command::Scatter(arguments)) => study::scatter::run(arguments, console),
        Some(Command::Increments(arguments)) => study::increments::run(arguments, console),
        Some(Command::Sensitivity(arguments)) => study::sensitivity::run(arguments, console),
        Some(Command::Cohort(arguments)) => cohort::run(arguments, console),
    }
}
