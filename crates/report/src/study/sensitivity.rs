//! One variable at a time, for its readers.

use std::io;

use cupwright_study::Sensitivity;
use cupwright_study::sensitivity::Answer;
use serde_json::Value;

use super::{Block, Subject, Told, cell, csv, of_variable, told, whose};
use crate::plot::{Bar, Bars};

/// How measures answer to each variable alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answers<'a>(pub &'a [Sensitivity]);

/// The answers of a measure, the largest first.
fn largest_first(of: &Sensitivity) -> Vec<&Answer> {
    let mut answers: Vec<_> = of.answers.iter().collect();
    answers.sort_by(|a, b| b.swing(of.planned).total_cmp(&a.swing(of.planned)));
    answers
}

impl Told for Answers<'_> {
    fn name(&self) -> &'static str {
        "sensitivity"
    }

    fn heading(&self) -> &'static str {
        "One variable at a time"
    }

    fn blocks(&self) -> Vec<Block> {
        let mut blocks = vec![Block::Paragraph(
            "Each variable alone, a step below and a step above the plan; reamers go with the cup. The \
             largest change stands first."
                .into(),
        )];
        for of in self.0 {
            let planned = told(of.measure, of.planned);
            blocks.push(Block::Heading(format!("{}, planned {planned}", of.measure)));
            let rows = largest_first(of).into_iter().map(|answer| {
                vec![
                    answer.variable.label().into(),
                    format!("± {}", of_variable(answer.variable, answer.step)),
                    told(of.measure, answer.below),
                    told(of.measure, answer.above),
                ]
            });
            let heads = ["", "step", "below", "above"].map(String::from);
            blocks.push(Block::Table(heads.into(), 1, rows.collect()));
        }
        blocks
    }

    fn document(&self) -> serde_json::Result<Value> {
        serde_json::to_value(self.0)
    }

    fn files(&self, subject: &Subject) -> io::Result<Vec<(String, Vec<u8>)>> {
        let heads = [
            "measure", "variable", "step", "below", "planned", "above", "slope",
        ];
        let rows = self.0.iter().flat_map(|of| {
            of.answers.iter().map(move |answer| {
                vec![
                    of.measure.heading(),
                    answer.variable.heading(),
                    cell(Some(answer.step)),
                    cell(answer.below),
                    cell(of.planned),
                    cell(answer.above),
                    cell(answer.slope()),
                ]
            })
        });
        let groups: Vec<_> = self.0.iter().map(bars).collect();
        let title = "What a step of each variable changes";
        let svg = Bars::svg([title, &whose(subject)], &groups)?;
        Ok(vec![
            (
                "sensitivity.csv".into(),
                csv(&heads.map(String::from), rows)?,
            ),
            ("sensitivity.svg".into(), svg.into_bytes()),
        ])
    }
}

fn bars(of: &Sensitivity) -> Bars {
    let planned = of.planned.unwrap_or(f64::NAN);
    let bar = |answer: &Answer| {
        let end = |there: Option<f64>| {
            let there = there.unwrap_or(f64::NAN);
            (there - planned, told(of.measure, Some(there)))
        };
        Bar {
            name: format!(
                "{} ± {}",
                answer.variable,
                of_variable(answer.variable, answer.step)
            ),
            ends: [end(answer.below), end(answer.above)],
        }
    };
    Bars {
        heading: format!(
            "{}, planned {} (blue: a step below, red: above)",
            of.measure,
            told(of.measure, of.planned)
        ),
        bars: largest_first(of).into_iter().map(bar).collect(),
    }
}
