//! Where the cup stands, and what covers it.

use std::io;

use cupwright_procedure::Findings;
use cupwright_procedure::findings::CupFinding;

use super::super::html::Html;
use super::super::parts::{Fact, Figure, Table, beside, numbers};
use super::super::skeleton::Section;
use super::{facts, section};
use crate::plot::small;
use crate::terminal::cup::lines;
use crate::words::{CLOCK, clock, fixed, percent, worst_overhang};

/// The cup.
pub(super) fn cup(findings: &Findings) -> io::Result<Section> {
    let cup = &findings.cup;
    let mut told = Html::new();
    numbers(&mut told, &two_coverages(cup));
    facts(&mut told, lines(findings));
    by_hour(&mut told, cup);
    let mut shown = Html::new();
    rim(&mut shown, findings)?;
    let mut body = Html::new();
    beside(&mut body, told, shown);
    let heading = format!(
        "Where does the {} mm cup stand, and what covers it?",
        fixed(cup.diameter_mm, 1)
    );
    Ok(section("cup", "cup", &heading, body))
}

/// Coverage in space beside coverage on a film: two numbers that go by one name.
fn two_coverages(cup: &CupFinding) -> [Fact; 2] {
    [
        Fact::new(
            "covered in space, of its round side",
            percent(cup.coverage, 1),
        ),
        Fact::new(
            "covered on a film, of its width",
            percent(cup.film.width_covered, 0),
        ),
    ]
}

fn by_hour(told: &mut Html, cup: &CupFinding) {
    let hours = || std::iter::once(12_usize).chain(1..12);
    let mut heads = vec!["o'clock".to_string()];
    heads.extend(hours().map(|hour| hour.to_string()));
    let mut cells = vec!["in bone %".to_string()];
    cells.extend(
        cup.coverage_by_hour
            .iter()
            .map(|share| fixed(100.0 * share, 0)),
    );
    let table = Table {
        caption: "Share of the round side in bone toward each hour, before reaming.",
        heads,
        words: &[0],
        brief: &[0],
        rows: vec![cells.into()],
    };
    // The clock says the same in print, where room is short.
    told.element("div", &[("class", "screen")], |div| table.put(div));
}

fn rim(shown: &mut Html, findings: &Findings) -> io::Result<()> {
    let cup = &findings.cup;
    let (svg, spacing) = small::rim_clock(findings)?;
    let worst = worst_overhang(cup).map_or("none".into(), |worst| {
        format!(
            "{} mm at {}",
            fixed(worst.proud_mm, 1),
            clock(worst.clock_h)
        )
    });
    let side = &findings.bone.side;
    let sense = if side == "left" {
        "anticlockwise"
    } else {
        "clockwise"
    };
    let figure = Figure {
        svg: &svg,
        alternative: &format!(
            "The rim as a clock face: {} of the edge in bone; worst overhang {worst}; the round side \
             covered least toward {} o'clock",
            percent(cup.rim_contact, 0),
            least_covered(cup)
        ),
        caption: &format!(
            "The rim as a clock. {CLOCK} In this {side} hip the hours run {sense}. Thick ring: edge in bone; \
             dashed: edge outside bone. Hump outside it: overhang, a circle every {} mm; triangle: the worst, \
             {worst}. Inside: round side in bone toward each hour, the darker the more.",
            fixed(spacing, 0)
        ),
        kind: "clock",
    };
    figure.put(shown);
    Ok(())
}

/// The hour toward which the cup is covered least.
fn least_covered(cup: &CupFinding) -> usize {
    let shares = cup.coverage_by_hour.iter().enumerate();
    let least = shares.min_by(|a, b| a.1.total_cmp(b.1));
    match least.map_or(0, |(hour, _)| hour) {
        0 => 12,
        hour => hour,
    }
}
