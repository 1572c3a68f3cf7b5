//! Whether the cup holds, and where screws may go.

use std::io;

use cupwright_procedure::Findings;

use super::super::html::Html;
use super::super::parts::{
    Figure, Row, Standing, Table, Tone, Verdict, beside, paragraph, remark, verdicts,
};
use super::super::skeleton::Section;
use super::{facts, heads, section};
use crate::plot::small;
use crate::terminal::hold::{NO_ASIS, lines, quadrant_row, quadrants_by};
use crate::words::fixed;

/// The press-fit.
pub(super) fn hold(findings: &Findings) -> io::Result<Section> {
    let found = &findings.press_fit;
    let mut told = Html::new();
    remark(
        &mut told,
        "First-order estimates, each with its range over published spreads of what goes in.",
    );
    facts(&mut told, lines(found));
    let mut shown = Html::new();
    if !found.gap_by_force.is_empty() {
        let gaps: Vec<_> = found
            .gap_by_force
            .iter()
            .map(|at| {
                let gap = at
                    .polar_gap_mm
                    .map_or("no bone behind the pole".into(), |mm| {
                        format!("{} mm", fixed(mm, 1))
                    });
                format!("{} N {gap}", fixed(at.force_n, 0))
            })
            .collect();
        let figure = Figure {
            svg: &small::gap(findings)?,
            alternative: &format!("Gap at the pole by force: {}", gaps.join(", ")),
            caption: "Gap left at the pole against the force that drives the cup.",
            kind: "chart",
        };
        figure.put(&mut shown);
    }
    let mut body = Html::new();
    beside(&mut body, told, shown);
    Ok(section("hold", "hold", "Will it hold by itself?", body))
}

/// Where screws may go.
pub(super) fn screws(findings: &Findings) -> Section {
    let mut body = Html::new();
    if let Some(found) = &findings.screws {
        let row = |quadrant| {
            let cells = quadrant_row(quadrant, found);
            let danger = cells
                .last()
                .is_some_and(|advice| advice.starts_with("DANGER"));
            Row {
                cells,
                standing: if danger {
                    Standing::Short
                } else {
                    Standing::Plain
                },
            }
        };
        let table = Table {
            caption: "By quadrant: bone along the deepest and along the best direction, in mm.",
            heads: heads([
                "quadrant",
                "clock",
                "deepest bone mm",
                "longest safe mm",
                "at",
                "advice",
            ]),
            words: &[0, 1, 5],
            brief: &[0, 1, 5],
            rows: found.quadrants.iter().map(row).collect(),
        };
        table.put(&mut body);
        let doubts = found.unreliable_because.iter().map(|doubt| Verdict {
            word: "UNRELIABLE",
            tone: Tone::Warn,
            text: doubt.clone(),
            source: String::new(),
        });
        let doubts: Vec<_> = doubts.collect();
        if !doubts.is_empty() {
            verdicts(&mut body, &doubts);
        }
        remark(&mut body, &quadrants_by(found));
    } else {
        paragraph(&mut body, NO_ASIS);
    }
    section(
        "screws",
        "screws",
        "If it does not: where may screws go?",
        body,
    )
}
