//! Whether the cup holds, and where screws may go.

use cupwright_procedure::Findings;
use cupwright_procedure::hold::PressFitFinding;
use cupwright_procedure::screws::{QuadrantFinding, ScrewsFinding};

use super::page::{Label, Line, Page, Tone};
use crate::words::{banded, clock, fixed, in_percent, plate, trace};

const LABEL: usize = 16;

/// The press-fit, each number with its band.
pub(super) fn block(page: &mut Page, findings: &Findings) {
    let found = &findings.press_fit;
    page.heading("WILL IT HOLD: first-order estimates, with their range over published spreads");
    page.lines(LABEL, &lines(found));
    gaps(page, found);
    page.paragraph(&format!(
        "Takes for granted: {}.",
        found.assumptions.first().unwrap_or(&"")
    ));
}

/// Everything said of it.
pub(crate) fn lines(found: &PressFitFinding) -> Vec<Line> {
    let over = clock(found.tips_over_clock_h);
    let lever = banded(&found.lever_out_nm, 1, "Nm");
    let stretch = banded(&in_percent(&found.hoop_strain), 1, "%");
    let at = clock(found.hoop_strain_clock_h);
    let warn = if found.rim_at_risk {
        Tone::Warn
    } else {
        Tone::Plain
    };
    let alarm = if found.self_retaining {
        Tone::Plain
    } else {
        Tone::Alarm
    };
    vec![
        Line::plain("Bone", bone(found)),
        Line::plain("Interference", interference(found)),
        Line::plain("Seats", seats(found)),
        Line::plain("To the floor", banded(&found.force_to_floor_n, 0, "N")),
        Line::plain("Contact", contact(found)),
        Line::plain("Push-out", banded(&found.push_out_n, 0, "N")),
        Line::plain("Lever-out", format!("{lever}, tipping over {over}")),
        Line::toned(
            "Rim stretch",
            format!("{stretch} at {at}; told as a risk above 6 %"),
            warn,
        ),
        Line::toned("Stays by itself", retention(found), alarm),
    ]
}

fn bone(found: &PressFitFinding) -> String {
    format!(
        "{}: {} MPa, gives way at {} MPa; {}; friction {}; reamers cut {} mm wide",
        found.inputs.quality,
        fixed(found.bone.modulus_mpa, 0),
        fixed(found.bone.strength_mpa, 1),
        plate(found),
        fixed(found.inputs.friction, 2),
        fixed(found.inputs.reamer_oversize_mm, 1)
    )
}

fn interference(found: &PressFitFinding) -> String {
    format!(
        "{} mm nominal, {} mm as reamers cut",
        fixed(found.nominal_interference_mm, 1),
        fixed(found.real_interference_mm, 1)
    )
}

fn seats(found: &PressFitFinding) -> String {
    let gap = match &found.polar_gap_mm {
        Some(gap) => format!("gap at the pole {}", banded(gap, 1, "mm")),
        None => "no bone behind the pole".into(),
    };
    format!(
        "driven with {} N it stands {} proud; {gap}",
        fixed(found.inputs.seating_force_n, 0),
        banded(&found.stands_proud_mm, 1, "mm")
    )
}

fn contact(found: &PressFitFinding) -> String {
    format!(
        "{} of the round side; of that {} where bone gives way",
        banded(&in_percent(&found.contact_share), 0, "%"),
        banded(&in_percent(&found.crushed_share), 0, "%")
    )
}

fn retention(found: &PressFitFinding) -> String {
    let words = if found.self_retaining { "yes" } else { "NO" };
    format!(
        "{words}: needs a friction of {}, {} is assumed",
        banded(&found.least_friction, 2, ""),
        fixed(found.inputs.friction, 2)
    )
}

fn gaps(page: &mut Page, found: &PressFitFinding) {
    let force = |n: f64| fixed(n, 0);
    let heads: Vec<_> = std::iter::once("driven with N".to_string())
        .chain(found.gap_by_force.iter().map(|gap| force(gap.force_n)))
        .collect();
    let heads: Vec<_> = heads.iter().map(String::as_str).collect();
    let gap = |mm: Option<f64>| mm.map_or("-".into(), |mm| fixed(mm, 1));
    let row = std::iter::once("gap at pole mm".to_string())
        .chain(found.gap_by_force.iter().map(|at| gap(at.polar_gap_mm)));
    if found
        .gap_by_force
        .iter()
        .any(|at| at.polar_gap_mm.is_some())
    {
        page.table(&heads, &[0], vec![row.collect()]);
    }
}

/// Where screws may go.
pub(super) fn screws(page: &mut Page, findings: &Findings) {
    page.heading("SCREWS, IF IT DOES NOT");
    let Some(found) = &findings.screws else {
        page.paragraph(NO_ASIS);
        return;
    };
    let heads = [
        "quadrant",
        "clock",
        "deepest\nbone mm",
        "longest\nsafe mm",
        "\nat",
        "advice",
    ];
    let rows = found
        .quadrants
        .iter()
        .map(|quadrant| quadrant_row(quadrant, found));
    page.table(&heads, &[0, 1, 5], rows.collect());
    for doubt in &found.unreliable_because {
        page.labelled(Label::new("UNRELIABLE", 12, Tone::Warn), doubt);
    }
    page.paragraph(&quadrants_by(found));
}

/// Why there are no quadrants.
pub(crate) const NO_ASIS: &str =
    "Quadrants are told from the ASIS, which this case does not give (axes: Landmarks(...)).";

/// Where the quadrants come from, and what they leave out.
pub(crate) fn quadrants_by(found: &ScrewsFinding) -> String {
    format!(
        "Quadrants by {}; vessels and nerves are not in the model. A screw does not make up for missing rim.",
        found.source
    )
}

/// A quadrant, with what it allows.
pub(crate) fn quadrant_row(found: &QuadrantFinding, screws: &ScrewsFinding) -> Vec<String> {
    let safe = found
        .best
        .as_ref()
        .filter(|_| screws.unreliable_because.is_empty());
    let [from, to] = found.clock_h.map(clock);
    vec![
        found.quadrant.to_string(),
        format!("{from} to {to}"),
        trace(found.deepest_bone_mm, 0),
        safe.and_then(|screw| screw.longest_safe_mm)
            .map_or("none".into(), |mm| fixed(mm, 0)),
        safe.map_or(String::new(), |screw| clock(screw.clock_h)),
        found.quadrant.in_short().into(),
    ]
}
