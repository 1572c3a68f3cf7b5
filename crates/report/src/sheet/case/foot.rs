//! What to watch, limits, notes, and how to read it all.

use cupwright_procedure::Findings;
use cupwright_procedure::findings::{Level, Watch};

use super::super::html::Html;
use super::super::parts::{Tone, Verdict, list, paragraph, verdicts};
use super::super::skeleton::Section;
use super::section;
use crate::terminal::{asked_and_found, density, not_met};
use crate::words::{CLOCK, one_line};

/// All that comes after the answers.
pub(super) fn sections(findings: &Findings) -> Vec<Section> {
    let mut sections = vec![watch(findings)];
    sections.extend(limits(findings));
    sections.extend(notes(findings));
    sections.push(reading(findings));
    sections
}

fn watch(findings: &Findings) -> Section {
    let mut body = Html::new();
    if findings.watch.is_empty() {
        paragraph(&mut body, "Nothing stands out.");
    } else {
        let told: Vec<_> = findings.watch.iter().map(watched).collect();
        verdicts(&mut body, &told);
    }
    section("watch", "what to watch", "What to watch", body)
}

fn watched(watch: &Watch) -> Verdict {
    let (word, tone) = match watch.level {
        Level::Stop => ("STOP", Tone::Alarm),
        Level::Caution => ("CAUTION", Tone::Warn),
        Level::Note => ("note", Tone::Plain),
    };
    Verdict {
        word,
        tone,
        text: watch.message.clone(),
        source: watch.source.clone(),
    }
}

fn limits(findings: &Findings) -> Option<Section> {
    let limits = &findings.limits;
    if limits.is_empty() {
        return None;
    }
    let heading = match not_met(limits) {
        0 => "Limits: all met".into(),
        broken => format!("Limits: {broken} of {} NOT met", limits.len()),
    };
    let told = limits.iter().map(|limit| {
        let (word, tone) = if limit.met {
            ("met", Tone::Plain)
        } else {
            ("NOT met", Tone::Alarm)
        };
        Verdict {
            word,
            tone,
            text: format!("{}: {}", limit.limit, asked_and_found(limit)),
            source: String::new(),
        }
    });
    let mut body = Html::new();
    verdicts(&mut body, &told.collect::<Vec<_>>());
    Some(section("limits", "limits", &heading, body))
}

fn notes(findings: &Findings) -> Option<Section> {
    if one_line(&findings.notes).is_empty() {
        return None;
    }
    let mut body = Html::new();
    for line in findings
        .notes
        .lines()
        .filter(|line| !one_line(line).is_empty())
    {
        paragraph(&mut body, line);
    }
    Some(section("notes", "notes", "Notes of the case", body))
}

fn reading(findings: &Findings) -> Section {
    let mut body = Html::new();
    paragraph(&mut body, &format!("Clock positions: {CLOCK}"));
    body.leaf("h3", &[], "What is taken for granted");
    list(&mut body, &taken_for_granted(findings));
    section("reading", "how to read this", "How to read this", body)
}

/// Every assumption once, in the order of the sections.
fn taken_for_granted(findings: &Findings) -> Vec<String> {
    let stock = findings.stock.assumptions.iter();
    let hold = findings.press_fit.assumptions.iter();
    let screws = findings.screws.iter().flat_map(|found| &found.assumptions);
    let mut told: Vec<String> = vec![density(findings)];
    for words in stock.chain(hold).chain(screws) {
        let sentence = one_line(words);
        if !told.contains(&sentence) {
            told.push(sentence);
        }
    }
    told.push("The joint is rigid geometry: no soft tissue, no load, no wear.".into());
    told
}
