//! The sheet of a case, in the order of a surgeon's questions: that of the report on the terminal.

mod bone;
mod cup;
mod foot;
mod hold;
mod joint;
#[cfg(test)]
mod tests;

use std::io;

use cupwright_procedure::Findings;

use super::CaseSheet;
use super::html::Html;
use super::parts::{self, Fact, Standing, Tone};
use super::skeleton::{Room, Section, Skeleton};
use crate::terminal::joint::OWN;
use crate::terminal::page::{self, Line};
use crate::terminal::{capitalised, not_met, thinnest_in_short, verdict, whose};
use crate::words::{cm3, fixed, percent, shortened, trace};
use cupwright_procedure::findings::Level;

/// The whole document.
///
/// # Errors
/// When the plotting library refuses.
pub(super) fn document(sheet: &CaseSheet) -> io::Result<String> {
    let findings = sheet.findings;
    let title = format!(
        "{} hip of {}",
        capitalised(&findings.bone.side),
        shortened(&findings.bone.source, 80)
    );
    let mut sections = vec![in_short(findings)];
    sections.extend(pictures(sheet));
    sections.push(bone::cost(findings)?);
    sections.push(bone::left(findings));
    sections.push(cup::cup(findings)?);
    sections.push(hold::hold(findings)?);
    sections.push(hold::screws(findings));
    sections.extend(joint::sections(sheet)?);
    sections.extend(foot::sections(findings));
    let skeleton = Skeleton {
        title: &title,
        lead: whose(findings).into(),
        sections,
    };
    Ok(skeleton.document())
}

/// A section of one column.
fn section(id: &'static str, short: &'static str, heading: &str, body: Html) -> Section {
    Section {
        id,
        heading: heading.into(),
        short: short.into(),
        room: Room::Column,
        body,
    }
}

/// The numbers that are asked for first.
fn in_short(findings: &Findings) -> Section {
    let mut body = Html::new();
    parts::numbers(&mut body, &first_numbers(findings));
    Section {
        room: Room::Page,
        ..section("in-short", "in short", "In short", body)
    }
}

fn first_numbers(findings: &Findings) -> Vec<Fact> {
    let cup = &findings.cup;
    let mut told = vec![
        Fact::new("cup", format!("{} mm", fixed(cup.diameter_mm, 1))),
        Fact::new(
            "coverage after reaming",
            percent(cup.coverage_after_reaming, 1),
        ),
        Fact::new("rim contact", percent(cup.rim_contact, 1)),
    ];
    if let Some(last) = findings.reaming.last() {
        let removed = trace(cm3(last.cumulative_removed_mm3), 2);
        told.push(Fact::new("bone removed", format!("{removed} cm³")));
        told.extend(last.thinnest_wall.as_ref().map(|wall| {
            let tone = if wall.thickness_mm > 0.0 {
                Tone::Plain
            } else {
                Tone::Alarm
            };
            let words = thinnest_in_short(wall);
            let words = words.strip_prefix("thinnest wall ").unwrap_or(&words);
            Fact::toned("thinnest wall", words, tone)
        }));
    }
    let (holds, tone) = if findings.press_fit.self_retaining {
        ("holds", Tone::Plain)
    } else {
        ("does NOT hold", Tone::Alarm)
    };
    told.push(Fact::toned("by itself (estimate)", holds, tone));
    if let Some(length) = findings.joint.as_ref().map(|joint| &joint.length) {
        told.push(Fact::new(
            "leg and offset",
            &*length.balls[length.chosen].said,
        ));
    }
    let stops = findings.watch.iter().any(|w| w.level == Level::Stop);
    let cautions = findings.watch.iter().any(|w| w.level == Level::Caution);
    let tone = match (stops || not_met(&findings.limits) > 0, cautions) {
        (true, _) => Tone::Alarm,
        (false, true) => Tone::Warn,
        (false, false) => Tone::Plain,
    };
    told.push(Fact::toned("what stands out", verdict(findings), tone));
    told
}

fn pictures(sheet: &CaseSheet) -> Option<Section> {
    if sheet.pictures.is_empty() {
        return None;
    }
    let mut body = Html::new();
    parts::pictures(&mut body, sheet.pictures);
    Some(Section {
        room: Room::Page,
        ..section("pictures", "pictures", "How does it look?", body)
    })
}

/// Lines of the report as facts.
fn facts(html: &mut Html, lines: Vec<Line>) {
    let fact = |line: Line| {
        let tone = match line.tone {
            page::Tone::Plain | page::Tone::Strong => Tone::Plain,
            page::Tone::Warn => Tone::Warn,
            page::Tone::Alarm => Tone::Alarm,
        };
        Fact::toned(line.label, line.text, tone)
    };
    let told: Vec<_> = lines.into_iter().map(fact).collect();
    parts::facts(html, &told);
}

/// A row of the report; the mark before the plan's own becomes a word after it.
fn row(mut cells: Vec<String>) -> parts::Row {
    let own = cells.first().and_then(|first| first.strip_prefix(OWN));
    let own = own.map(|own| format!("{own} (chosen)"));
    let last = cells.last().map_or("", String::as_str);
    let loud = last.contains(char::is_alphabetic) && last == last.to_uppercase();
    let standing = match (&own, loud) {
        (_, true) => Standing::Short,
        (Some(_), _) => Standing::Own,
        (None, _) => Standing::Plain,
    };
    if let (Some(own), Some(first)) = (own, cells.first_mut()) {
        *first = own;
    }
    parts::Row { cells, standing }
}

fn rows(cells: impl IntoIterator<Item = Vec<String>>) -> Vec<parts::Row> {
    cells.into_iter().map(row).collect()
}

fn heads<const N: usize>(words: [&str; N]) -> Vec<String> {
    words.map(String::from).into()
}
