//! Reamer steps, for their readers.

use std::io;

use cupwright_study::Measure;
use cupwright_study::increments::{Pass, Series};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use super::{Block, Subject, Told, cell, csv, told, whose};
use crate::plot::{Line, Lines};
use crate::words::{cm3, fixed, percent};

/// Series of reamers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Increments<'a>(pub &'a [Series]);

fn named(series: &Series) -> String {
    format!(
        "from {} mm by {} mm",
        fixed(series.start_mm, 1),
        fixed(series.step_mm, 1)
    )
}

fn layer(value: Option<f64>) -> String {
    value.map_or("-".into(), |mm| format!("{} mm", fixed(mm, 2)))
}

/// Series of reamers, as a document tells them.
#[derive(Clone, Copy, Debug, JsonSchema, Serialize)]
pub struct IncrementsResult<'a> {
    /// One entry for each series, in the order given.
    pub series: &'a [Series],
}

impl Told for Increments<'_> {
    fn name(&self) -> &'static str {
        "increments"
    }

    fn heading(&self) -> &'static str {
        "Reamer steps"
    }

    fn blocks(&self) -> Vec<Block> {
        let mut blocks = vec![
            Block::Heading("In a steady hand".into()),
            Block::Table(
                ["series", "reamers", "most at once", "thickest layer", "removed", "covered", "wall"]
                    .map(String::from)
                    .into(),
                1,
                self.0.iter().map(summary).collect(),
            ),
            Block::Paragraph(
                "Layer: bone removed by a reamer over the area of it that cuts. Covered: of the cup, after \
                 reaming."
                    .into(),
            ),
        ];
        let hands: Vec<_> = self.0.iter().flat_map(hand_rows).collect();
        if !hands.is_empty() {
            blocks.push(Block::Heading("By a hand that is off".into()));
            blocks.push(Block::Table(
                [
                    "series",
                    "off by",
                    "more removed",
                    "less covered",
                    "least covered",
                    "least wall",
                ]
                .map(String::from)
                .into(),
                2,
                hands,
            ));
            blocks.push(Block::Paragraph(
                "Every reamer stands beside its place by so much and is turned by so much, in directions of its \
                 own; means of the tries, and their worst."
                    .into(),
            ));
        }
        for series in self.0 {
            blocks.push(Block::Heading(named(series)));
            let heads = [
                "reamer",
                "removed",
                "area that cuts",
                "layer",
                "own size covered",
                "wall",
            ];
            let rows = series.reamers.iter().map(pass_row);
            blocks.push(Block::Table(
                heads.map(String::from).into(),
                0,
                rows.collect(),
            ));
        }
        blocks
    }

    fn document(&self) -> serde_json::Result<Value> {
        serde_json::to_value(IncrementsResult { series: self.0 })
    }

    fn files(&self, subject: &Subject) -> io::Result<Vec<(String, Vec<u8>)>> {
        Ok(vec![
            ("increments.csv".into(), passes(self.0)?),
            ("increments-hands.csv".into(), hands(self.0)?),
            (
                "increments.svg".into(),
                figure(self.0, subject)?.into_bytes(),
            ),
        ])
    }
}

fn summary(series: &Series) -> Vec<String> {
    let most = series
        .reamers
        .iter()
        .map(|r| r.removed_mm3)
        .fold(0.0, f64::max);
    // The first reamer takes what the start leaves it.
    let later = series.reamers.iter().skip(1).filter_map(|r| r.layer_mm);
    let thickest = later.max_by(f64::total_cmp);
    vec![
        named(series),
        series.reamers.len().to_string(),
        told(Measure::Removed, Some(most)),
        layer(thickest),
        told(Measure::Removed, Some(series.steady.removed_mm3)),
        percent(series.steady.coverage_after_reaming, 1),
        told(Measure::ThinnestWall, series.steady.thinnest_wall_mm),
    ]
}

fn hand_rows(series: &Series) -> Vec<Vec<String>> {
    let row = |off: &cupwright_study::increments::OffHand| {
        vec![
            named(series),
            format!(
                "{} mm, {}°",
                fixed(off.hand.offset_mm, 1),
                fixed(off.hand.turn_deg, 1)
            ),
            told(Measure::Removed, Some(off.more_removed_mm3)),
            percent(off.less_covered, 1),
            percent(off.worst.coverage_after_reaming, 1),
            told(Measure::ThinnestWall, off.worst.thinnest_wall_mm),
        ]
    };
    series.hands.iter().map(row).collect()
}

fn pass_row(pass: &Pass) -> Vec<String> {
    vec![
        format!("{} mm", fixed(pass.diameter_mm, 1)),
        told(Measure::Removed, Some(pass.removed_mm3)),
        format!("{} cm²", fixed(pass.contact_mm2 / 100.0, 2)),
        layer(pass.layer_mm),
        percent(pass.own_size_coverage, 1),
        told(Measure::ThinnestWall, pass.thinnest_wall_mm),
    ]
}

fn passes(all: &[Series]) -> io::Result<Vec<u8>> {
    let heads = [
        "start_mm",
        "step_mm",
        "diameter_mm",
        "removed_mm3",
        "contact_mm2",
        "layer_mm",
        "own_size_coverage_share",
        "thinnest_wall_mm",
    ];
    let rows = all.iter().flat_map(|series| {
        series.reamers.iter().map(move |pass| {
            let numbers = [
                Some(series.start_mm),
                Some(series.step_mm),
                Some(pass.diameter_mm),
                Some(pass.removed_mm3),
                Some(pass.contact_mm2),
                pass.layer_mm,
                Some(pass.own_size_coverage),
                pass.thinnest_wall_mm,
            ];
            numbers.map(cell).into()
        })
    });
    csv(&heads.map(String::from), rows)
}

fn hands(all: &[Series]) -> io::Result<Vec<u8>> {
    let heads = [
        "start_mm",
        "step_mm",
        "offset_mm",
        "turn_deg",
        "removed_mean_mm3",
        "removed_most_mm3",
        "coverage_after_reaming_mean_share",
        "coverage_after_reaming_least_share",
        "thinnest_wall_mean_mm",
        "thinnest_wall_least_mm",
    ];
    let rows = all.iter().flat_map(|series| {
        series.hands.iter().map(move |off| {
            let numbers = [
                Some(series.start_mm),
                Some(series.step_mm),
                Some(off.hand.offset_mm),
                Some(off.hand.turn_deg),
                Some(off.mean.removed_mm3),
                Some(off.worst.removed_mm3),
                Some(off.mean.coverage_after_reaming),
                Some(off.worst.coverage_after_reaming),
                off.mean.thinnest_wall_mm,
                off.worst.thinnest_wall_mm,
            ];
            numbers.map(cell).into()
        })
    });
    csv(&heads.map(String::from), rows)
}

fn figure(all: &[Series], subject: &Subject) -> io::Result<String> {
    let chart = |label: &str, value: fn(&Pass) -> f64| Lines {
        labels: ["diameter of reamer (mm)".into(), label.into()],
        series: all
            .iter()
            .take(6)
            .map(|series| Line {
                name: named(series),
                points: series
                    .reamers
                    .iter()
                    .map(|r| (r.diameter_mm, value(r)))
                    .collect(),
            })
            .collect(),
    };
    let charts = vec![
        chart("bone removed (cm³)", |pass| cm3(pass.removed_mm3)),
        chart("area that cuts (cm²)", |pass| pass.contact_mm2 / 100.0),
    ];
    Lines::svg(["What each reamer does", &whose(subject)], charts)
}
