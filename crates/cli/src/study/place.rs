//! `cupwright place`: a search for placements under limits.

use std::path::Path;

use clap::Args;
use cupwright_procedure::CaseFile;
use cupwright_procedure::case::BoneEntry;
use cupwright_report::study::{Placements, Subject, Told};
use cupwright_study::place::usual_ranges;
use cupwright_study::{Effort, Front, Measure, Search, Setting, Variable, place};
use serde_json::Value;

use super::{Common, Ends, LimitArguments, Loaded, absolute, measure, of_variable};
use crate::Exit;
use crate::console::Console;

/// Look for placements that keep all limits and of which none is better in every goal.
///
/// What comes back is the trade-off between the goals and, for each placement, what stands in the way of more: a
/// limit, the end of a range, or the other goals. Each has been run in full; with --out each is also written as
/// a case of its own. Exit code 1 if nothing is found that keeps the limits.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  cupwright place case.ron --min-coverage 0.75 --min-wall 2 --zone lewinnek --out place
  cupwright place case.ron --vary depth=-4..8 --vary inclination=35..50 --goal coverage-after-reaming \\
      --goal removed --goal centre-shift --min-wall 3")]
pub(crate) struct PlaceArguments {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    limits: LimitArguments,
    /// What may change and between what; may be given several times [default: inclination 35..50, anteversion
    /// 5..30, the centre from 3 mm below its place to 6 mm above, medially and superiorly, and 3 mm either way
    /// anteriorly]
    #[arg(long, value_name = "VARIABLE=A..B", value_parser = range, allow_hyphen_values = true)]
    vary: Vec<(Variable, Ends)>,
    /// What is to be more, or less, as the trade agrees; may be given several times [default: removed,
    /// coverage-after-reaming]
    #[arg(long, value_name = "MEASURE", value_parser = measure)]
    goal: Vec<Measure>,
    /// How many placements are looked at before the best are refined
    #[arg(long, value_name = "N", default_value_t = Effort::default().samples, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    samples: u32,
    /// About how many placements come back
    #[arg(long, value_name = "N", default_value_t = Effort::default().directions, value_parser = clap::value_parser!(u32).range(1..=200))]
    placements: u32,
}

fn range(text: &str) -> Result<(Variable, Ends), String> {
    let (variable, ends) = of_variable(text)?;
    Ok((variable, ends.parse()?))
}

pub(crate) fn run(arguments: &PlaceArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let loaded = arguments.common.load(console)?;
    let evaluator = loaded.evaluator()?;
    let plan = evaluator.plan();
    let search = Search {
        ranges: ranges(arguments, &plan),
        goals: match &arguments.goal[..] {
            [] => vec![Measure::Removed, Measure::CoverageAfterReaming],
            some => some.to_vec(),
        },
        limits: arguments.limits.limits(&loaded)?,
        effort: Effort {
            samples: arguments.samples,
            directions: arguments.placements,
            ..Effort::default()
        },
    };
    let front = console.working("looking for placements", || {
        place(&evaluator, &loaded.instruments, &search)
    })?;
    let cases = cases(&front, &loaded, arguments.common.folder())?;
    let study = WithCases {
        placements: Placements {
            front: &front,
            plan: &plan,
        },
        cases,
    };
    arguments.common.deliver(&study, &loaded, console)?;
    Ok(if front.members.is_empty() {
        Exit::LimitNotMet
    } else {
        Exit::Done
    })
}

fn ranges(arguments: &PlaceArguments, plan: &Setting) -> Vec<(Variable, [f64; 2])> {
    if !arguments.vary.is_empty() {
        let given = arguments.vary.iter();
        return given
            .map(|(variable, Ends(ends))| (*variable, *ends))
            .collect();
    }
    usual_ranges(plan)
}

/// Each placement as a case of its own, which finds its bone from any folder.
fn cases(front: &Front, loaded: &Loaded, folder: &Path) -> anyhow::Result<Vec<(String, String)>> {
    let named = (1..).zip(&front.members);
    named
        .map(|(number, member)| {
            let mut case: CaseFile = member.setting.applied(&loaded.file)?;
            if let BoneEntry::File { path, .. } = &mut case.bone {
                *path = absolute(&folder.join(path.as_str()));
            }
            if let Some(instruments) = &mut case.instruments {
                *instruments = absolute(&folder.join(instruments.as_str()));
            }
            Ok((format!("place-{number}.case.ron"), case.to_text()?))
        })
        .collect()
}

/// The placements, and in a folder also a case for each.
struct WithCases<'a> {
    placements: Placements<'a>,
    cases: Vec<(String, String)>,
}

impl Told for WithCases<'_> {
    fn name(&self) -> &'static str {
        self.placements.name()
    }

    fn heading(&self) -> &'static str {
        self.placements.heading()
    }

    fn blocks(&self) -> Vec<cupwright_report::study::Block> {
        self.placements.blocks()
    }

    fn document(&self) -> serde_json::Result<Value> {
        self.placements.document()
    }

    fn files(&self, subject: &Subject) -> std::io::Result<Vec<(String, Vec<u8>)>> {
        let mut files = self.placements.files(subject)?;
        let cases = self.cases.iter();
        files.extend(cases.map(|(name, text)| (name.clone(), text.clone().into_bytes())));
        Ok(files)
    }
}
