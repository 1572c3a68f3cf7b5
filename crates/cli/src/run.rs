//! `cupwright` and `cupwright run`: a case from its file to its findings.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use cupwright_procedure::findings::LimitFinding;
use cupwright_procedure::{Bone, Case, CaseFile, Findings, Instruments, simulate};
use cupwright_report::Style;

use crate::Outcome;

/// Simulate a case: every reamer, the cup, all findings.
#[derive(Args, Debug)]
#[command(after_help = "Example:\n  cupwright run case.ron --out findings --min-coverage 0.7")]
pub(crate) struct RunArguments {
    /// The case file (RON)
    case: PathBuf,
    /// Folder to write report, tables and plots to
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
    /// Least coverage of the cup after reaming, 0 to 1; exit code 1 if it is not met
    #[arg(long, value_name = "SHARE")]
    min_coverage: Option<f64>,
}

/// The folder that the demonstration writes to.
const DEMONSTRATION_FOLDER: &str = "cupwright-out";

/// Runs the built-in demonstration case.
pub(crate) fn demonstration(
    out: &mut impl Write,
    err: &mut impl Write,
    style: Style,
) -> anyhow::Result<Outcome> {
    let text = include_str!("../../../assets/cases/demonstration.ron");
    let case = CaseFile::parse(text)
        .and_then(|file| file.check())
        .context("the built-in case")?;
    let findings = find(&case, Path::new("."))?;
    print(&findings, out, style)?;
    write(&findings, Path::new(DEMONSTRATION_FOLDER), err)?;
    Ok(outcome(&findings.limits))
}

/// Runs the case of a file.
pub(crate) fn run(
    arguments: &RunArguments,
    out: &mut impl Write,
    err: &mut impl Write,
    style: Style,
) -> anyhow::Result<Outcome> {
    let path = &arguments.case;
    let named = || path.display().to_string();
    let text = std::fs::read_to_string(path).with_context(named)?;
    let mut file = CaseFile::parse(&text).with_context(named)?;
    if arguments.min_coverage.is_some() {
        file.limits.min_coverage = arguments.min_coverage;
    }
    let case = file.check().with_context(named)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    let findings = find(&case, folder).with_context(named)?;
    warn(&findings, err)?;
    if let Some(folder) = &arguments.out {
        write(&findings, folder, err)?;
    }
    if arguments.json {
        cupwright_report::json::write_document(out, &findings)?;
    } else {
        print(&findings, out, style)?;
    }
    Ok(outcome(&findings.limits))
}

fn find(case: &Case, folder: &Path) -> anyhow::Result<Findings> {
    let instruments = match &case.instruments {
        None => Instruments::generic()?,
        Some(name) => {
            let path = folder.join(name);
            let named = || path.display().to_string();
            let text = std::fs::read_to_string(&path).with_context(named)?;
            Instruments::parse(&text).with_context(named)?
        }
    };
    let bone = Bone::of_case(case, folder)?;
    Ok(simulate(case, &bone, &instruments)?)
}

/// What was computed all the same although it can hardly be meant.
fn warn(findings: &Findings, err: &mut impl Write) -> anyhow::Result<()> {
    for (k, step) in findings.reaming.iter().enumerate() {
        if step.cumulative_removed_mm3 <= 0.0 {
            writeln!(
                err,
                "cupwright: warning: reamer {} ({} mm) touches no bone",
                k + 1,
                step.diameter_mm
            )?;
        }
    }
    if findings.cup.interference_mm < 0.0 {
        let cup = findings.cup.diameter_mm;
        let last = cup - findings.cup.interference_mm;
        writeln!(
            err,
            "cupwright: warning: the cup ({cup} mm) is smaller than the last reamer ({last} mm)"
        )?;
    }
    Ok(())
}

fn print(findings: &Findings, out: &mut impl Write, style: Style) -> anyhow::Result<()> {
    Ok(cupwright_report::terminal::write_report(
        out, findings, style,
    )?)
}

fn write(findings: &Findings, folder: &Path, err: &mut impl Write) -> anyhow::Result<()> {
    let files = cupwright_report::files::write_all(findings, folder)?;
    let names = files
        .iter()
        .filter_map(|file| file.file_name())
        .map(|name| name.display().to_string());
    writeln!(
        err,
        "cupwright: wrote {} to {}",
        names.collect::<Vec<_>>().join(", "),
        folder.display()
    )?;
    Ok(())
}

fn outcome(limits: &[LimitFinding]) -> Outcome {
    if limits.iter().all(|limit| limit.met) {
        Outcome::Done
    } else {
        Outcome::LimitNotMet
    }
}
