//! `cupwright scatter`: what becomes of the plan when hands and reamers err.

use clap::Args;
use cupwright_study::published::{Posture, Technique, by_hand, oversize, tilt};
use cupwright_study::scatter::Error;
use cupwright_study::{Draws, Limit, Measure, Spread, Variable, scatter};

use super::{
    Common, LimitArguments, PostureArgument, TechniqueArgument, measure, number, of_variable,
};
use crate::Exit;
use crate::console::Console;
use crate::tool::Share;

/// Draw plans that are off as published hands and reamers are, and tell how the numbers lie, how often limits
/// are missed, and which error counts.
///
/// Coverage is that of the bone as it was before reaming: a reamer that cuts larger than the cup would leave
/// nothing of it, and shows as interference below 0 instead. Sources of the errors are printed with them.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  cupwright scatter case.ron --min-coverage 0.7 --zone lewinnek
  cupwright scatter case.ron --draws 100000 --seed 7 --technique straight --error anteversion=0,6 \\
      --min-interference 0 --max-miss 0.2 --out scatter")]
pub(crate) struct ScatterArguments {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    limits: LimitArguments,
    /// How many plans are drawn
    #[arg(long, value_name = "N", default_value_t = 10_000)]
    draws: usize,
    /// What decides the draws: the same seed gives the same numbers on every machine
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// How the reamer is held, which decides how much larger than its size it cuts
    #[arg(long, value_enum, default_value = "rotating")]
    technique: TechniqueArgument,
    /// Also draw the pelvic tilt of a posture; zones are then of functional angles
    #[arg(long, value_enum)]
    posture: Option<PostureArgument>,
    /// An error in place of the published one: mean and standard deviation, normal, in mm or degrees; may be
    /// given several times
    #[arg(long, value_name = "VARIABLE=MEAN,SD", value_parser = error, allow_hyphen_values = true)]
    error: Vec<(Variable, Spread)>,
    /// What is told; may be given several times [default: coverage, rim-contact, interference,
    /// functional-inclination, functional-anteversion]
    #[arg(long, value_name = "MEASURE", value_parser = measure)]
    of: Vec<Measure>,
    /// Exit code 1 if more than this share of the draws misses a limit, 0 to 1
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true)]
    max_miss: Option<Share>,
}

/// Told where nothing is said.
const MEASURES: [Measure; 5] = [
    Measure::Coverage,
    Measure::RimContact,
    Measure::Interference,
    Measure::FunctionalInclination,
    Measure::FunctionalAnteversion,
];

fn error(text: &str) -> Result<(Variable, Spread), String> {
    let (variable, numbers) = of_variable(text)?;
    let (mean, deviation) = numbers
        .split_once(',')
        .ok_or_else(|| format!("'{text}' lacks a number; write it as in anteversion=0,6"))?;
    let spread = Spread::Normal {
        mean: number(mean)?,
        deviation: number(deviation)?,
    };
    let spread = spread.checked().map_err(|problem| problem.to_string())?;
    Ok((variable, spread))
}

pub(crate) fn run(arguments: &ScatterArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let loaded = arguments.common.load(console)?;
    let limits = arguments.limits.limits(&loaded)?;
    let limits: Vec<_> = limits.into_iter().map(before_reaming).collect();
    let measures = match &arguments.of[..] {
        [] => MEASURES.to_vec(),
        some => some.to_vec(),
    };
    let draws = Draws {
        errors: errors(arguments),
        count: arguments.draws,
        seed: arguments.seed,
    };
    let evaluator = loaded.evaluator()?;
    let scatter = console.working("drawing", || {
        scatter(&evaluator, &draws, &measures, &limits)
    })?;
    arguments.common.deliver(&scatter, &loaded, console)?;
    let missed = scatter.any_miss.as_ref().map_or(0.0, |miss| miss.share);
    Ok(match arguments.max_miss {
        Some(Share(most)) if missed > most => Exit::LimitNotMet,
        _ => Exit::Done,
    })
}

/// A limit on coverage is asked of the bone as it was.
fn before_reaming(limit: Limit) -> Limit {
    match limit {
        Limit::AtLeast(Measure::CoverageAfterReaming, least) => {
            Limit::AtLeast(Measure::Coverage, least)
        }
        other => other,
    }
}

/// The published errors, those given in their place.
fn errors(arguments: &ScatterArguments) -> Vec<Error> {
    let mut errors = by_hand();
    errors.push(oversize(match arguments.technique {
        TechniqueArgument::Straight => Technique::Straight,
        TechniqueArgument::Rotating => Technique::Rotating,
    }));
    errors.extend(arguments.posture.map(|posture| {
        tilt(match posture {
            PostureArgument::Supine => Posture::Supine,
            PostureArgument::Standing => Posture::Standing,
            PostureArgument::Seated => Posture::Seated,
        })
    }));
    for (variable, spread) in &arguments.error {
        errors.retain(|error| error.variable != *variable);
        errors.push(Error::new(*variable, *spread, "given"));
    }
    errors
}
