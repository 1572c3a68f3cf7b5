//! `cupwright` and `cupwright run`: a case from its file to its findings.

use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use cupwright_procedure::findings::LimitFinding;
use cupwright_procedure::{Bone, Case, CaseFile, Findings, Instruments, simulate};

use crate::Exit;
use crate::console::{Console, warn_of_tools};
use crate::tool::Share;

/// Simulate a case: every reamer, the cup, all findings.
#[derive(Args, Debug)]
#[command(after_help = "Example:\n  cupwright run case.ron --out findings --min-coverage 0.7")]
pub(crate) struct RunArguments {
    /// The case file (RON)
    case: PathBuf,
    /// Folder to write report, tables and plots to; made where it is missing
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
    /// Least coverage of the cup after reaming, 0 to 1; exit code 1 if it is not met
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true)]
    min_coverage: Option<Share>,
}

/// What is printed.
#[derive(Clone, Copy, Debug)]
enum Form {
    Report,
    Document,
}

/// The folder that the demonstration writes to.
const DEMONSTRATION_FOLDER: &str = "cupwright-out";

/// Runs the built-in demonstration case.
pub(crate) fn demonstration(console: &mut Console) -> anyhow::Result<Exit> {
    let text = include_str!("../../../assets/cases/demonstration.ron");
    let case = CaseFile::parse(text)
        .and_then(|file| file.check())
        .context("the built-in case")?;
    let findings = find(&case, Path::new("."), console)?;
    deliver(
        &findings,
        Some(Path::new(DEMONSTRATION_FOLDER)),
        Form::Report,
        console,
    )
}

/// Runs the case of a file.
pub(crate) fn run(arguments: &RunArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let path = &arguments.case;
    let named = || path.display().to_string();
    let mut file = CaseFile::read(path)?;
    if let Some(share) = arguments.min_coverage {
        file.limits.min_coverage = Some(share.0);
    }
    let case = file.check().with_context(named)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    let findings = find(&case, folder, console).with_context(named)?;
    let form = if arguments.json {
        Form::Document
    } else {
        Form::Report
    };
    deliver(&findings, arguments.out.as_deref(), form, console)
}

fn find(case: &Case, folder: &Path, console: &mut Console) -> anyhow::Result<Findings> {
    let instruments = Instruments::of_case(case, folder)?;
    let bone = console.working("preparing the bone", || Bone::of_case(case, folder))?;
    let findings = console.working("reaming", || simulate(case, &bone, &instruments))?;
    let reamers = findings.reaming.iter();
    let reamers: Vec<_> = reamers
        .map(|step| (step.diameter_mm, step.cumulative_removed_mm3))
        .collect();
    warn_of_tools(console, &reamers, Some(findings.cup.diameter_mm));
    Ok(findings)
}

/// Writes the files first, so that they are there even where nobody reads the output to its end;
/// prints even where they cannot be written.
fn deliver(
    findings: &Findings,
    folder: Option<&Path>,
    form: Form,
    console: &mut Console,
) -> anyhow::Result<Exit> {
    let written = folder.map_or(Ok(()), |folder| write(findings, folder, console));
    match form {
        Form::Report => {
            let style = console.style;
            cupwright_report::terminal::write_report(&mut console.out, findings, style)?;
        }
        Form::Document => cupwright_report::json::write_document(&mut console.out, findings)?,
    }
    written?;
    Ok(exit(&findings.limits))
}

fn write(findings: &Findings, folder: &Path, console: &mut Console) -> anyhow::Result<()> {
    let files = cupwright_report::files::write_all(findings, folder)?;
    let names = files
        .iter()
        .filter_map(|file| file.file_name())
        .map(|name| name.display().to_string());
    let names = names.collect::<Vec<_>>().join(", ");
    console.say(format_args!("wrote {names} to {}", folder.display()));
    Ok(())
}

fn exit(limits: &[LimitFinding]) -> Exit {
    if limits.iter().all(|limit| limit.met) {
        Exit::Done
    } else {
        Exit::LimitNotMet
    }
}
