//! `cupwright cohort`: one question to many bones, whole or in shares.

use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{ArgGroup, Args, ValueEnum};
use cupwright_anatomy::synthetic::Resolution;
use cupwright_procedure::{CaseFile, Instruments};
use cupwright_study::cohort::{
    CSV, Cohort, Draws, Evaluation, Grid, Members, Numbers, PARQUET, Reaming, Rehearsal, Searches,
    Shard, Sizes, Summary, Tally, join, run as run_cohort,
};
use cupwright_study::published::{Technique, by_hand, oversize};
use cupwright_study::{Axis, Measure, Variable};

use crate::Exit;
use crate::console::Console;
use crate::run::demonstration_case;

/// Run a case on every bone of a folder, or on sampled synthetic pelves.
///
/// DIR gets manifest.json, a part for every few members as they are done, and in the end cohort.csv
/// and cohort.parquet: one row for each evaluation, one evaluation for each member unless --over,
/// --draws, --search or --increments is given. A bone that cannot be used is a row that says why in the column problem.
///
/// It may be stopped at any moment; the same call goes on where it stopped. Shares of a cohort, made
/// anywhere in any order, are put together by --join: byte for byte what one run would have written.
/// `RAYON_NUM_THREADS` says how many members are worked on at once, and memory grows with that alone.
///
/// A bone file's axes are x toward the patient's right, y anterior, z superior, unless its landmarks
/// lie beside it in NAME.landmarks.ron, as cupwright pelvis writes them. Sampled numbers have the means
/// and standard deviations of publications that manifest.json names, drawn independently: the sample
/// is no population.
#[derive(Args, Debug)]
#[command(
    group(ArgGroup::new("whose").required(true).args(["bones", "sample", "join"])),
    after_help = "\
Examples:
  cupwright cohort --sample 1000 --seed 7 --out sampled
  cupwright cohort --bones hips --case case.ron --out found
  cupwright cohort --sample 1000 --seed 7 --shard 3/16 --out share-3
  cupwright cohort --join share-* --out sampled
  cupwright cohort --bones hips --search --out where
  cupwright cohort --sample 20 --over inclination=30..50:5 --over anteversion=0..30:7 --out map"
)]
pub(crate) struct CohortArguments {
    /// Folder of bones: every .stl, .obj and .ply in it, in the order of their names
    #[arg(long, value_name = "FOLDER")]
    bones: Option<PathBuf>,
    /// How many synthetic pelves to draw
    #[arg(long, value_name = "N")]
    sample: Option<NonZeroUsize>,
    /// Folders of all shares of a cohort, to be put together
    #[arg(long, value_name = "DIR", num_args = 1.., conflicts_with_all = ["seed", "case", "sizes", "shard", "over", "draws", "search", "increments", "part", "resolution"])]
    join: Vec<PathBuf>,
    /// Seed of everything that is drawn
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// How finely each sampled pelvis is cut: about 30,000, 120,000 or 500,000 triangles
    #[arg(long, value_enum, default_value = "coarse")]
    resolution: ResolutionArgument,
    /// Where cup and reamers go, by a case file (RON) whose bone is not used; the demonstration's
    /// where absent
    #[arg(long, value_name = "CASE.ron")]
    case: Option<PathBuf>,
    /// Sizes by rule from each socket (a cup at least 2 mm larger, reamers by 2 mm up to 1 mm under
    /// it), or those of the case for all
    #[arg(long, value_enum, default_value = "socket")]
    sizes: SizesArgument,
    /// Ask at values of inclination, anteversion, medial, superior, anterior, cup-diameter, depth or
    /// oversize, N of them evenly from A to B; several make a grid
    #[arg(long, value_name = "VARIABLE=A..B:N", value_parser = axis, allow_hyphen_values = true)]
    over: Vec<Axis>,
    /// Draw N plans about each member's own, off as published hands and reamers are
    #[arg(long, value_name = "N", conflicts_with = "over", value_parser = clap::value_parser!(u32).range(2..))]
    draws: Option<u32>,
    /// Search each bone for placements under the limits of the case; a row for each of the trade-off
    #[arg(long, conflicts_with_all = ["over", "draws"])]
    search: bool,
    /// Ream each bone up in steps of 1 and of 2 mm; a row for each reamer
    #[arg(long, conflicts_with_all = ["over", "draws", "search"])]
    increments: bool,
    /// Do one share only, K from 1 to N
    #[arg(long, value_name = "K/N", default_value_t = Shard::WHOLE)]
    shard: Shard,
    /// Members that are written in one step, and lost when the run is killed
    #[arg(long, value_name = "COUNT", default_value = "32")]
    part: NonZeroUsize,
    /// Folder to write to; made where it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum ResolutionArgument {
    Coarse,
    Middle,
    Fine,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum SizesArgument {
    Socket,
    Case,
}

/// The columns that are told in short, with what they are.
const TOLD: [(&str, &str, f64); 6] = [
    ("native_diameter_mm", "native socket, mm", 1.0),
    ("cup_diameter_mm", "cup, mm", 1.0),
    ("coverage_after_reaming", "coverage after reaming, %", 100.0),
    ("rim_contact", "rim contact, %", 100.0),
    ("removed_mm3", "bone removed, cm³", 0.001),
    ("thinnest_wall_mm", "thinnest wall, mm", 1.0),
];

pub(crate) fn run(arguments: &CohortArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let out = &arguments.out;
    let summary = if arguments.join.is_empty() {
        run_share(&cohort(arguments)?, arguments, console)?
    } else {
        console.working("joining", || join(&arguments.join, out))?
    };
    tell(&summary, console)?;
    say(&summary, out, console);
    Ok(Exit::Done)
}

fn run_share(
    cohort: &Cohort,
    arguments: &CohortArguments,
    console: &mut Console,
) -> anyhow::Result<Summary> {
    let members = arguments.shard.members(cohort.members.count());
    let bar = console.counting(members.len() as u64, "members");
    let mut found = 0;
    let mut watch = |tally: Tally| {
        found = tally.found;
        // What earlier runs did says nothing of how long the rest takes.
        if tally.done == tally.found {
            bar.set_position(tally.done as u64);
            bar.reset_eta();
        } else {
            bar.inc(1);
        }
    };
    let done = run_cohort(cohort, arguments.shard, &arguments.out, &mut watch);
    bar.finish_and_clear();
    let summary = done?;
    if found > 0 {
        console.note(format_args!(
            "{found} of {} members were there from an earlier run",
            members.len()
        ));
    }
    Ok(summary)
}

fn cohort(arguments: &CohortArguments) -> anyhow::Result<Cohort> {
    let (case, instruments) = plan(arguments.case.as_deref())?;
    let members = match (&arguments.bones, arguments.sample) {
        (Some(folder), _) => Members::in_folder(folder)?,
        (None, Some(count)) => Members::Sampled {
            count: count.get(),
            seed: arguments.seed,
            resolution: arguments.resolution.into(),
        },
        (None, None) => anyhow::bail!("give --bones FOLDER or --sample N"),
    };
    Ok(Cohort {
        members,
        case,
        instruments,
        sizes: arguments.sizes.into(),
        evaluation: evaluation(arguments),
        seed: arguments.seed,
        part: arguments.part,
    })
}

fn evaluation(arguments: &CohortArguments) -> Box<dyn Evaluation> {
    let measures = Measure::ALL.into_iter().chain(Measure::WALLS).collect();
    match arguments.draws {
        Some(count) => Box::new(Draws {
            errors: by_hand()
                .into_iter()
                .chain([oversize(Technique::Rotating)])
                .collect(),
            count: count as usize,
            measures,
        }),
        None if arguments.search => Box::new(Searches::default()),
        None if arguments.increments => Box::new(Reaming::default()),
        None if arguments.over.is_empty() => Box::new(Rehearsal),
        None => Box::new(Grid {
            axes: arguments.over.clone(),
            measures,
        }),
    }
}

/// The case, and the sizes that it names or the generic ones.
fn plan(path: Option<&Path>) -> anyhow::Result<(CaseFile, Instruments)> {
    let Some(path) = path else {
        return Ok((demonstration_case()?, Instruments::generic()?));
    };
    let file = CaseFile::read(path)?;
    let case = file.check().with_context(|| path.display().to_string())?;
    let folder = path.parent().unwrap_or(Path::new("."));
    Ok((file, Instruments::of_case(&case, folder)?))
}

/// Prints what the table says in short.
fn tell(summary: &Summary, console: &mut Console) -> anyhow::Result<()> {
    let found: Vec<(&Numbers, &str, f64)> = TOLD
        .iter()
        .filter_map(|(name, told, scale)| Some((summary.spread(name)?, *told, *scale)))
        .collect();
    let out = &mut console.out;
    writeln!(
        out,
        "{:<28}{:>8}{:>9}{:>9}{:>9}{:>9}",
        "", "rows", "mean", "SD", "least", "most"
    )?;
    for (spread, told, scale) in found {
        let numbers = [spread.mean, spread.deviation(), spread.least, spread.most];
        write!(out, "{told:<28}{:>8}", spread.count)?;
        for number in numbers {
            write!(out, "{:>9.2}", number * scale)?;
        }
        writeln!(out)?;
    }
    Ok(())
}

/// Says what was written and what is wrong with whom.
fn say(summary: &Summary, out: &Path, console: &mut Console) {
    if let Some((member, problem)) = &summary.first_problem {
        console.warn(format_args!(
            "{} of {} members could not be used; the column problem says why, first of member {member}: {problem}",
            summary.unusable, summary.members
        ));
    }
    if summary.limits_not_met > 0 {
        console.note(format_args!(
            "{} of {} rows do not meet the limits of the case; see the column limits_met",
            summary.limits_not_met, summary.rows
        ));
    }
    console.say(format_args!(
        "wrote {} rows of {} members to {CSV} and {PARQUET} in {}",
        summary.rows,
        summary.members,
        out.display()
    ));
}

fn axis(text: &str) -> Result<Axis, String> {
    let form = || format!("'{text}' is not VARIABLE=A..B:N, as in inclination=30..50:5");
    let (name, range) = text.split_once('=').ok_or_else(form)?;
    let name = name.trim();
    let variable = Variable::named(name).ok_or_else(|| {
        let known = Variable::ALL.map(Variable::name).join(", ");
        format!("there is no {name}; there are: {known}")
    })?;
    let (ends, count) = range.rsplit_once(':').ok_or_else(form)?;
    let (from, to) = ends.split_once("..").ok_or_else(form)?;
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| form());
    let count = count.trim().parse().map_err(|_| form())?;
    Axis::new(variable, number(from)?, number(to)?, count).map_err(|problem| problem.to_string())
}

impl From<ResolutionArgument> for Resolution {
    fn from(resolution: ResolutionArgument) -> Self {
        match resolution {
            ResolutionArgument::Coarse => Self::Coarse,
            ResolutionArgument::Middle => Self::Middle,
            ResolutionArgument::Fine => Self::Fine,
        }
    }
}

impl From<SizesArgument> for Sizes {
    fn from(sizes: SizesArgument) -> Self {
        match sizes {
            SizesArgument::Socket => Self::Socket,
            SizesArgument::Case => Self::Case,
        }
    }
}
