//! `cupwright` and `cupwright run`: a case from its file to its findings.

use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueEnum};
use cupwright_geometry::cut::Tolerance;
use cupwright_io::Format;
use cupwright_procedure::findings::LimitFinding;
use cupwright_procedure::joint::map::motion_map_of;
use cupwright_procedure::measures::warnings;
use cupwright_procedure::{
    Bone, Case, CaseFile, Findings, Instruments, Shapes, shapes, simulate, with_bone_on_bone,
};

use cupwright_procedure::joint::map::MotionMap;
use cupwright_report::CaseSheet;
use cupwright_report::json::{Run, write_document};
use cupwright_report::sheet::Picture;

use crate::Exit;
use crate::bone::prepared;
use crate::console::Console;
use crate::sheet;
use crate::tool::Share;

/// Simulate a case: every reamer, the cup, all findings.
#[derive(Args, Debug)]
#[command(
    after_help = "Example:\n  cupwright run case.ron --out findings --min-coverage 0.7\n  \
    cupwright run case.ron --out findings --meshes stl\n  \
    cupwright run case.ron --out findings --picture bench.png"
)]
pub(crate) struct RunArguments {
    /// The case file (RON)
    case: PathBuf,
    /// Folder to write report, sheet, tables and plots to; made where it is missing
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Also write to that folder the reamed bone, the bone each reamer removes, the reamers and the cup
    /// as closed meshes in the bone's own coordinates, in mm; how thick reamers and cup are is assumed
    #[arg(long, value_name = "FORMAT", requires = "out")]
    meshes: Option<MeshFormat>,
    /// A picture for the sheet, PNG, such as cupwright-viewer --picture writes; may be given again
    #[arg(long, value_name = "FILE.png", requires = "out")]
    picture: Vec<PathBuf>,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
    /// Least coverage of the cup after reaming, 0 to 1; exit code 1 if it is not met
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true)]
    min_coverage: Option<Share>,
}

/// A mesh format that is written.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum MeshFormat {
    /// Binary STL: coordinates of six to seven digits
    Stl,
    /// Binary PLY: coordinates of full length
    Ply,
}

impl From<MeshFormat> for Format {
    fn from(format: MeshFormat) -> Self {
        match format {
            MeshFormat::Stl => Self::StlBinary,
            MeshFormat::Ply => Self::PlyLittleEndian,
        }
    }
}

/// What is printed.
#[derive(Clone, Copy, Debug)]
enum Form {
    Report,
    Document,
}

/// The folder that the demonstration writes to.
const DEMONSTRATION_FOLDER: &str = "cupwright-out";

/// What an error calls the demonstration's case.
const BUILT_IN: &str = "the built-in case";

/// The built-in demonstration case.
pub(crate) fn demonstration_case() -> anyhow::Result<CaseFile> {
    let text = include_str!("../../../assets/cases/demonstration.ron");
    CaseFile::parse(text).context(BUILT_IN)
}

/// Runs the built-in demonstration case.
pub(crate) fn demonstration(console: &mut Console) -> anyhow::Result<Exit> {
    let case = demonstration_case()?.check().context(BUILT_IN)?;
    let (findings, _) = find(&case, Path::new("."), console)?;
    let folder = Path::new(DEMONSTRATION_FOLDER);
    let write = |console: &mut Console| {
        let map = motion_map_of(&case);
        write(
            sheet_of(&findings, map.as_ref(), &[]),
            None,
            folder,
            console,
        )
    };
    deliver(&findings, write, Form::Report, console)
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
    let pictures = sheet::pictures(&arguments.picture)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    let (findings, bone) = find(&case, folder, console).with_context(named)?;
    let form = if arguments.json {
        Form::Document
    } else {
        Form::Report
    };
    let write = |console: &mut Console| {
        let Some(out) = &arguments.out else {
            return Ok(());
        };
        let map = motion_map_of(&case);
        let sheet = sheet_of(&findings, map.as_ref(), &pictures);
        let Some(format) = arguments.meshes else {
            return write(sheet, None, out, console);
        };
        let shapes = console.working("meshing", || shapes(&case, &bone, Tolerance::default()));
        let shapes = shapes.with_context(named).context(NO_MESHES)?;
        write(sheet, Some((&shapes, format.into())), out, console)
    };
    deliver(&findings, write, form, console)
}

/// What a cut that cannot be meshed means.
const NO_MESHES: &str = "nothing was written, for the meshes cannot be made; check the bone with \
    cupwright inspect, or leave out --meshes";

fn find(case: &Case, folder: &Path, console: &mut Console) -> anyhow::Result<(Findings, Bone)> {
    let instruments = Instruments::of_case(case, folder)?;
    let bone = prepared(case, folder, console)?;
    let findings = console.working("reaming", || simulate(case, &bone, &instruments))?;
    if let Some(reason) = findings.refused_joint(case) {
        anyhow::bail!("no joint can be made: {reason}");
    }
    let findings = console.working("moving the joint", || {
        with_bone_on_bone(findings, case, &bone)
    });
    let reamers = findings.reaming.iter();
    let reamers = reamers.map(|step| (step.diameter_mm, step.cumulative_removed_mm3));
    for warning in warnings(reamers, Some(findings.cup.diameter_mm)) {
        console.warn(warning);
    }
    Ok((findings, bone))
}

/// Writes the files first, so that they are there even where nobody reads the output to its end;
/// prints even where they cannot be written.
fn deliver(
    findings: &Findings,
    write: impl FnOnce(&mut Console) -> anyhow::Result<()>,
    form: Form,
    console: &mut Console,
) -> anyhow::Result<Exit> {
    let written = write(console);
    match form {
        Form::Report => {
            let style = console.style;
            cupwright_report::terminal::write_report(&mut console.out, findings, style)?;
        }
        Form::Document => write_document(&mut console.out, &Run::from(findings))?,
    }
    written?;
    Ok(exit(&findings.limits))
}

fn sheet_of<'a>(
    findings: &'a Findings,
    motion_map: Option<&'a MotionMap>,
    pictures: &'a [Picture],
) -> CaseSheet<'a> {
    CaseSheet {
        findings,
        motion_map,
        pictures,
    }
}

fn write(
    sheet: CaseSheet,
    meshes: Option<(&Shapes, Format)>,
    folder: &Path,
    console: &mut Console,
) -> anyhow::Result<()> {
    let files = match meshes {
        None => cupwright_report::write_all(sheet, folder),
        Some((shapes, format)) => {
            cupwright_report::write_all_with_meshes(sheet, shapes, format, folder)
        }
    }?;
    console.wrote(&files, folder);
    Ok(())
}

fn exit(limits: &[LimitFinding]) -> Exit {
    if limits.iter().all(|limit| limit.met) {
        Exit::Done
    } else {
        Exit::LimitNotMet
    }
}
