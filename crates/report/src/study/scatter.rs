//! A scatter, for its readers.

use std::io;

use cupwright_study::Scatter;
use cupwright_study::scatter::PERCENTILES;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use super::{Block, Subject, Told, cell, csv, head, told, whose};
use crate::plot::{Bar, Bars};
use crate::words::{fixed, percent};

/// A scatter, as a document tells it.
#[derive(Clone, Copy, Debug, JsonSchema, Serialize)]
pub struct ScatterResult<'a> {
    /// Which percentiles are told of each measure: 1 of a hundred, 5, and so on.
    pub percentiles: [u8; 7],
    /// What became of the plan.
    pub scatter: &'a Scatter,
}

impl Told for Scatter {
    fn name(&self) -> &'static str {
        "scatter"
    }

    fn heading(&self) -> &'static str {
        "What becomes of the plan when hands and reamers err"
    }

    fn blocks(&self) -> Vec<Block> {
        let errors = self.errors.iter().map(|error| {
            vec![
                error.variable.label().into(),
                error.spread.to_string(),
                error.source.clone(),
            ]
        });
        let mut blocks = vec![
            Block::Paragraph(format!(
                "{} draws, seed {}, errors independent of each other{}",
                self.draws,
                self.seed,
                match self.impossible {
                    0 => ".".into(),
                    count =>
                        format!("; {count} of them no cup can have, and they miss every limit."),
                }
            )),
            Block::Heading("Errors".into()),
            Block::Table(
                ["of", "spread", "source"].map(String::from).into(),
                3,
                errors.collect(),
            ),
            Block::Heading("How the numbers lie (share of the draws below)".into()),
            Block::Table(lie_heads(), 1, self.measures.iter().map(lie_row).collect()),
        ];
        if !self.misses.is_empty() {
            let misses = self.misses.iter().chain(&self.any_miss).map(|miss| {
                vec![
                    miss.limit.clone(),
                    percent(miss.share, 1),
                    format!(
                        "{} to {}",
                        percent(miss.between[0], 1),
                        percent(miss.between[1], 1)
                    ),
                ]
            });
            blocks.push(Block::Heading("How often limits are missed".into()));
            blocks.push(Block::Table(
                ["limit", "missed", "95 % interval of the draws"]
                    .map(String::from)
                    .into(),
                1,
                misses.collect(),
            ));
        }
        blocks.extend(influence_blocks(self));
        blocks
    }

    fn document(&self) -> serde_json::Result<Value> {
        serde_json::to_value(ScatterResult {
            percentiles: PERCENTILES,
            scatter: self,
        })
    }

    fn files(&self, subject: &Subject) -> io::Result<Vec<(String, Vec<u8>)>> {
        let percentiles = PERCENTILES.map(|p| format!("p{p}"));
        let heads = ["measure", "planned", "mean", "deviation"].map(String::from);
        let heads: Vec<_> = heads.into_iter().chain(percentiles).collect();
        let rows = self.measures.iter().map(|lie| {
            let first = [
                Some(lie.planned),
                Some(Some(lie.mean)),
                Some(Some(lie.deviation)),
            ];
            let first = first.into_iter().flatten().map(cell);
            let rest = lie.percentiles.iter().map(|value| cell(Some(*value)));
            [lie.measure.heading()]
                .into_iter()
                .chain(first)
                .chain(rest)
                .collect()
        });
        let mut files = vec![("scatter.csv".into(), csv(&heads, rows)?)];
        let heads = ["limit", "missed_share", "from_share", "to_share"].map(String::from);
        let misses = self.misses.iter().chain(&self.any_miss).map(|miss| {
            let numbers = [miss.share, miss.between[0], miss.between[1]];
            let numbers = numbers.into_iter().map(|share| cell(Some(share)));
            [miss.limit.clone()].into_iter().chain(numbers).collect()
        });
        files.push(("scatter-misses.csv".into(), csv(&heads, misses)?));
        let heads = [
            "measure",
            "variable",
            "regression",
            "rank",
            "explained_share",
        ];
        let parts = self.influences.iter().flat_map(|influence| {
            influence.parts.iter().map(|part| {
                vec![
                    influence.measure.heading(),
                    part.variable.heading(),
                    cell(Some(part.regression)),
                    cell(Some(part.rank)),
                    cell(Some(influence.explained)),
                ]
            })
        });
        files.push((
            "scatter-influence.csv".into(),
            csv(&heads.map(String::from), parts)?,
        ));
        let groups: Vec<_> = self.influences.iter().map(bars).collect();
        let title = "Which error counts: standardised regression";
        let svg = Bars::svg([title, &whose(subject)], &groups)?;
        files.push(("scatter-influence.svg".into(), svg.into_bytes()));
        Ok(files)
    }
}

fn lie_heads() -> Vec<String> {
    let percentiles = [1, 3, 5].map(|k: usize| format!("{} %", PERCENTILES[k]));
    let first = ["", "planned", "mean", "deviation"].map(String::from);
    first.into_iter().chain(percentiles).collect()
}

fn lie_row(lie: &cupwright_study::scatter::Lie) -> Vec<String> {
    let measure = lie.measure;
    let numbers = [Some(lie.mean), Some(lie.deviation)];
    let percentiles = [1, 3, 5].map(|k: usize| Some(lie.percentiles[k]));
    let values = [lie.planned].into_iter().chain(numbers).chain(percentiles);
    let values = values.map(|value| told(measure, value));
    [measure.label().to_owned()]
        .into_iter()
        .chain(values)
        .collect()
}

/// One table for all measures: a row for each error.
fn influence_blocks(scatter: &Scatter) -> Vec<Block> {
    let influences = &scatter.influences;
    if influences.is_empty() {
        return vec![];
    }
    let heads = influences.iter().map(|of| head(of.measure.label()));
    let rows = scatter.errors.iter().map(|error| {
        let parts = influences.iter().map(|of| {
            let part = of.parts.iter().find(|part| part.variable == error.variable);
            part.map_or("-".into(), |part| {
                format!("{} ({})", fixed(part.regression, 2), fixed(part.rank, 2))
            })
        });
        [error.variable.label().to_owned()]
            .into_iter()
            .chain(parts)
            .collect()
    });
    let explained = influences.iter().map(|of| percent(of.explained, 0));
    let explained = ["explained".to_owned()]
        .into_iter()
        .chain(explained)
        .collect();
    vec![
        Block::Heading("Which error counts: regression (rank correlation)".into()),
        Block::Table(
            [String::new()].into_iter().chain(heads).collect(),
            1,
            rows.chain([explained]).collect(),
        ),
        Block::Paragraph(
            "By how many of its own standard deviations a number changes for one of the error; explained is \
             the share of its variance that straight lines account for."
                .into(),
        ),
    ]
}

fn bars(influence: &cupwright_study::influence::Influence) -> Bars {
    let mut parts: Vec<_> = influence.parts.iter().collect();
    parts.sort_by(|a, b| b.regression.abs().total_cmp(&a.regression.abs()));
    let bar = |part: &&cupwright_study::influence::Part| Bar {
        name: part.variable.label().into(),
        ends: [
            (0.0, String::new()),
            (part.regression, fixed(part.regression, 2)),
        ],
    };
    Bars {
        heading: format!(
            "{} ({} explained by straight lines)",
            influence.measure,
            percent(influence.explained, 0)
        ),
        bars: parts.iter().map(bar).collect(),
    }
}
