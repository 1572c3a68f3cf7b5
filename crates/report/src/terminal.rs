//! The report on a terminal: what a surgeon needs in ten seconds, then the rest.
//!
//! No line is wider than 80 columns, whatever the numbers and names. Colour, where asked for, says
//! nothing that the words do not.

use std::io::{self, Write};

use cupwright_procedure::Findings;
use cupwright_procedure::findings::{LayersFinding, Level, LimitFinding, StepFinding, WallFinding};

use crate::CAUTION;
use crate::words::{CLOCK, clock, cm3, fixed, one_line, percent, trace};
use page::{Label, Page, Tone};

pub(crate) mod bone_left;
pub(crate) mod cup;
pub(crate) mod hold;
pub(crate) mod joint;
pub(crate) mod page;

/// Columns of `CAUTION` or `NOT met`, and blanks.
const VERDICT_LABEL: usize = 9;
/// Whether to use colours.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Style {
    /// Text alone: for files, pipes and terminals without colours.
    #[default]
    Plain,
    /// Text and, as an addition, colours by ECMA-48 sequences.
    Coloured,
}

/// Writes the report on `findings`.
///
/// # Errors
/// When `out` refuses.
pub fn write_report(out: &mut impl Write, findings: &Findings, style: Style) -> io::Result<()> {
    let mut page = Page::new(style);
    header(&mut page, findings);
    steps(&mut page, findings);
    bone_left::block(&mut page, findings);
    cup::block(&mut page, findings);
    hold::block(&mut page, findings);
    hold::screws(&mut page, findings);
    joint::block(&mut page, findings);
    watch(&mut page, findings);
    limits(&mut page, &findings.limits);
    notes(&mut page, &findings.notes);
    foot(&mut page, findings);
    out.write_all(page.text().as_bytes())
}

fn header(page: &mut Page, findings: &Findings) {
    for line in whose(findings) {
        page.paragraph(&line);
    }
    page.labelled(
        Label::new("IN SHORT", 10, Tone::Strong),
        &in_short(findings),
    );
}

/// Whose hip it is, and how its angles are to be read.
pub(crate) fn whose(findings: &Findings) -> [String; 2] {
    let (bone, frame) = (&findings.bone, &findings.frame);
    let toward = if frame.posterior_tilt_deg < 0.0 {
        "anterior"
    } else {
        "posterior"
    };
    let bone = format!(
        "{} hip of {}: socket {} mm, bone {} cm³, {} triangles",
        capitalised(&bone.side),
        bone.source,
        fixed(bone.native_diameter_mm, 1),
        fixed(cm3(bone.volume_mm3), 1),
        bone.triangles
    );
    let frame = format!(
        "Angles {}, on the {}, {}° {toward} tilt",
        frame.orientation,
        frame.reference,
        fixed(frame.posterior_tilt_deg.abs(), 1)
    );
    [bone, frame]
}

/// The result in a sentence.
fn in_short(findings: &Findings) -> String {
    let cup = &findings.cup;
    let mut told = vec![
        format!("cup {} mm", fixed(cup.diameter_mm, 1)),
        format!("coverage {}", percent(cup.coverage_after_reaming, 1)),
        format!("rim contact {}", percent(cup.rim_contact, 1)),
    ];
    if let Some(last) = findings.reaming.last() {
        let removed = trace(cm3(last.cumulative_removed_mm3), 2);
        told.push(format!("{removed} cm³ of bone removed"));
        told.extend(last.thinnest_wall.as_ref().map(thinnest_in_short));
    }
    let hold = if findings.press_fit.self_retaining {
        "holds by itself"
    } else {
        "does NOT hold by itself"
    };
    told.push(format!("{hold} (estimate)"));
    if let Some(length) = findings.joint.as_ref().map(|joint| &joint.length) {
        told.push(length.balls[length.chosen].said.clone());
    }
    format!("{}; {}", told.join(", "), verdict(findings))
}

/// What stands out, counted by how grave it is.
pub(crate) fn verdict(findings: &Findings) -> String {
    let grave = |level| findings.watch.iter().filter(|w| w.level == level).count();
    let counted = [
        counted(grave(Level::Stop), "stop"),
        counted(grave(Level::Caution), "caution"),
        counted(not_met(&findings.limits), "limit"),
    ];
    let verdicts: Vec<_> = counted
        .into_iter()
        .zip(["", "", " NOT met"])
        .filter_map(|(count, after)| Some(count? + after))
        .collect();
    if verdicts.is_empty() {
        "no stop, no caution".into()
    } else {
        verdicts.join(", ")
    }
}

/// The thinnest wall in a few words.
pub(crate) fn thinnest_in_short(place: &WallFinding) -> String {
    if place.thickness_mm > 0.0 {
        let thickness = fixed(place.thickness_mm, 1);
        format!("thinnest wall {thickness} mm ({})", place.wall)
    } else {
        format!("{} wall BROKEN THROUGH", place.wall)
    }
}

/// `2 cautions`; `None` where there is nothing to count.
fn counted(count: usize, noun: &str) -> Option<String> {
    match count {
        0 => None,
        1 => Some(format!("1 {noun}")),
        _ => Some(format!("{count} {noun}s")),
    }
}

fn steps(page: &mut Page, findings: &Findings) {
    page.heading("STEPS");
    if findings.reaming.is_empty() {
        page.paragraph("No reamer was used.");
        return;
    }
    let heads = [
        "reamer\nmm",
        "removed\ncm³",
        "\ng",
        "total\ncm³",
        "new con-\ntact cm²",
        "% of\nside",
        "rim\n%",
        "thinnest\nwall mm",
        "\nwhere",
    ];
    page.table(
        &heads,
        &[8],
        findings.reaming.iter().map(step_row).collect(),
    );
    if let Some(made_of) = made_of(&findings.reaming) {
        page.paragraph(&made_of);
    }
    if let Some(bound) = error_bound(&findings.reaming) {
        page.paragraph(&bound);
    }
}

/// How far the volumes may be off, where they are not exact.
pub(crate) fn error_bound(reaming: &[StepFinding]) -> Option<String> {
    let bounds = reaming.iter().map(|step| step.error_bound_mm3);
    let bound = bounds.fold(0.0, f64::max);
    (bound > 0.0).then(|| {
        format!(
            "Each removed volume is within {} mm³ of the true one.",
            trace(bound, 2)
        )
    })
}

/// What all the bone removed is made of, where the bone is a model that says so.
pub(crate) fn made_of(reaming: &[StepFinding]) -> Option<String> {
    let layers: Option<Vec<_>> = reaming.iter().map(|step| step.layers).collect();
    let layers = layers.filter(|layers| !layers.is_empty())?;
    let sum = |part: fn(&LayersFinding) -> f64| trace(cm3(layers.iter().map(part).sum()), 2);
    Some(format!(
        "Of the bone removed {} cm³ are subchondral plate, {} cortical shell and {} cancellous core, by \
         the model's assumed thicknesses.",
        sum(|l| l.subchondral_mm3),
        sum(|l| l.cortical_mm3),
        sum(|l| l.cancellous_mm3),
    ))
}

/// A reamer.
pub(crate) fn step_row(step: &StepFinding) -> Vec<String> {
    let (thickness, place) = match &step.thinnest_wall {
        None => ("none".into(), String::new()),
        Some(place) => (
            thickness(place),
            format!("{} {}", place.wall, clock(place.clock_h)),
        ),
    };
    vec![
        fixed(step.diameter_mm, 1),
        trace(cm3(step.removed_mm3), 2),
        trace(step.removed_g, 1),
        trace(cm3(step.cumulative_removed_mm3), 2),
        trace(step.new_contact_mm2 / 100.0, 1),
        fixed(100.0 * step.new_contact, 0),
        fixed(100.0 * step.rim_contact, 0),
        thickness,
        place,
    ]
}

fn thickness(place: &WallFinding) -> String {
    if place.thickness_mm > 0.0 {
        trace(place.thickness_mm, 1)
    } else {
        "through".into()
    }
}

fn watch(page: &mut Page, findings: &Findings) {
    page.heading("WHAT TO WATCH");
    if findings.watch.is_empty() {
        page.paragraph("Nothing stands out.");
    }
    for entry in &findings.watch {
        let (words, tone) = match entry.level {
            Level::Stop => ("STOP", Tone::Alarm),
            Level::Caution => ("CAUTION", Tone::Warn),
            Level::Note => ("note", Tone::Plain),
        };
        let text = format!("{} [{}]", entry.message, entry.source);
        page.labelled(Label::new(words, VERDICT_LABEL, tone), &text);
    }
}

fn limits(page: &mut Page, limits: &[LimitFinding]) {
    if limits.is_empty() {
        return;
    }
    let heading = match not_met(limits) {
        0 => "LIMITS: all met".into(),
        broken => format!("LIMITS: {broken} of {} NOT met", limits.len()),
    };
    page.heading(&heading);
    for limit in limits {
        let (words, tone) = if limit.met {
            ("met", Tone::Plain)
        } else {
            ("NOT met", Tone::Alarm)
        };
        let text = format!("{}: {}", limit.limit, asked_and_found(limit));
        page.labelled(Label::new(words, VERDICT_LABEL, tone), &text);
    }
}

/// How many are not met.
pub(crate) fn not_met(limits: &[LimitFinding]) -> usize {
    limits.iter().filter(|limit| !limit.met).count()
}

/// Both numbers, with as many decimals as it takes to see that a limit is not met.
pub(crate) fn asked_and_found(limit: &LimitFinding) -> String {
    let Some(found) = limit.found else {
        return format!("asked {}, nothing to measure", fixed(limit.asked, 3));
    };
    let decimals = (3..12).find(|&d| limit.met || fixed(limit.asked, d) != fixed(found, d));
    let decimals = decimals.unwrap_or(12);
    format!(
        "asked {}, found {}",
        fixed(limit.asked, decimals),
        fixed(found, decimals)
    )
}

fn notes(page: &mut Page, notes: &str) {
    if one_line(notes).is_empty() {
        return;
    }
    page.heading("NOTES");
    for line in notes.lines() {
        page.paragraph(line);
    }
}

fn foot(page: &mut Page, findings: &Findings) {
    page.heading("HOW TO READ THIS");
    page.paragraph(&format!("Clock positions: {CLOCK}"));
    page.paragraph(&density(findings));
    page.paragraph(CAUTION);
}

/// Where the weights come from.
pub(crate) fn density(findings: &Findings) -> String {
    format!(
        "Bone densities are assumed, not measured: weights are volumes at {} g/cm³.",
        fixed(findings.bone.assumed_density_g_per_cm3, 2)
    )
}

/// The same with a capital.
pub(crate) fn capitalised(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests;
