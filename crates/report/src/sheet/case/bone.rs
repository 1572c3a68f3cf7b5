//! What the reamers cost, and what they leave.

use std::io;

use cupwright_procedure::Findings;

use super::super::html::Html;
use super::super::parts::{Figure, Table, beside, paragraph, remark};
use super::super::skeleton::Section;
use super::{facts, heads, rows, section};
use crate::plot::small;
use crate::terminal::{bone_left, density, error_bound, made_of, step_row};
use crate::words::{cm3, fixed, percent, trace};

/// What each reamer costs.
pub(super) fn cost(findings: &Findings) -> io::Result<Section> {
    let mut told = Html::new();
    if findings.reaming.is_empty() {
        paragraph(&mut told, "No reamer was used.");
    } else {
        let table = Table {
            caption: "Each reamer: bone it removes beyond those before it, new contact as area and as share \
                 of its round side, share of its edge in bone, and the thinnest wall it leaves.",
            heads: heads([
                "reamer mm",
                "removed cm³",
                "g",
                "total cm³",
                "new contact cm²",
                "% of side",
                "rim %",
                "thinnest wall mm",
                "where",
            ]),
            words: &[8],
            brief: &[8],
            rows: findings
                .reaming
                .iter()
                .map(|step| step_row(step).into())
                .collect(),
        };
        table.put(&mut told);
    }
    for line in made_of(&findings.reaming)
        .into_iter()
        .chain(error_bound(&findings.reaming))
    {
        remark(&mut told, &line);
    }
    remark(&mut told, &density(findings));
    let mut shown = Html::new();
    if !findings.reaming.is_empty() {
        removed(&mut shown, findings)?;
        coverage(&mut shown, findings)?;
    }
    let mut body = Html::new();
    beside(&mut body, told, shown);
    Ok(section(
        "cost",
        "reamers",
        "What does each reamer cost?",
        body,
    ))
}

fn removed(shown: &mut Html, findings: &Findings) -> io::Result<()> {
    let steps = findings.reaming.iter();
    let told: Vec<_> = steps
        .map(|step| {
            let so_far = trace(cm3(step.cumulative_removed_mm3), 2);
            format!("{} mm {so_far} cm³", fixed(step.diameter_mm, 1))
        })
        .collect();
    let figure = Figure {
        svg: &small::removed(findings)?,
        alternative: &format!("Bone removed so far by reamer: {}", told.join(", ")),
        caption: "Bone removed against reamer diameter.",
        kind: "chart",
    };
    figure.put(shown);
    Ok(())
}

fn coverage(shown: &mut Html, findings: &Findings) -> io::Result<()> {
    let steps = findings.reaming.iter();
    let told: Vec<_> = steps
        .map(|step| {
            format!(
                "{} mm {}",
                fixed(step.diameter_mm, 1),
                percent(step.coverage, 0)
            )
        })
        .collect();
    let figure = Figure {
        svg: &small::coverage(findings)?,
        alternative: &format!(
            "Coverage of a cup of the reamer's own size: {}; of the cup after reaming {}",
            told.join(", "),
            percent(findings.cup.coverage_after_reaming, 0)
        ),
        caption: "Coverage against diameter.",
        kind: "chart",
    };
    figure.put(shown);
    Ok(())
}

/// The bone that is left, holes, and what a larger cup would find.
pub(super) fn left(findings: &Findings) -> Section {
    let stock = &findings.stock;
    let mut body = Html::new();
    if stock.cavity.walls.is_empty() {
        paragraph(&mut body, "The reamers met no wall.");
    } else {
        let fallback = fixed(stock.fallback.reamer_mm, 0);
        let mut words = heads(["wall", "thinnest mm", "at", "from the deepest point"]);
        words.push(format!("then, reamed to {fallback} mm"));
        let walls = stock.cavity.walls.iter();
        let table = Table {
            caption: "The thinnest place of each wall behind the cavity, in mm of bone, and what the fallback \
                 would leave of it.",
            heads: words,
            words: &[0],
            brief: &[0],
            rows: rows(walls.map(|wall| bone_left::row(wall, stock))),
        };
        table.put(&mut body);
    }
    facts(&mut body, bone_left::lines(stock));
    section(
        "left",
        "bone left",
        "What bone is left, and for what?",
        body,
    )
}
