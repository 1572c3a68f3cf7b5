//! The cup's block of the report.

use cupwright_procedure::Findings;
use cupwright_procedure::findings::CupFinding;

use super::counted;
use super::page::{Line, Page};
use crate::words::{clock, clock_at, fixed, from_native, percent, trace, worst_overhang};

/// Columns of the labels of the cup's block.
const CUP_LABEL: usize = 16;
/// Arcs of the rim that are told one by one; the shorter ones are only counted.
const ARCS_TOLD: usize = 4;

/// The cup: where it stands, and how well it is held.
pub(super) fn block(page: &mut Page, findings: &Findings) {
    let cup = &findings.cup;
    page.heading(&format!("CUP {} mm", fixed(cup.diameter_mm, 1)));
    page.lines(CUP_LABEL, &lines(findings));
    let hours: Vec<_> = ["o'clock"]
        .into_iter()
        .map(String::from)
        .chain([12].into_iter().chain(1..12).map(|hour| hour.to_string()))
        .collect();
    let heads: Vec<_> = hours.iter().map(String::as_str).collect();
    let by_hour = cup.coverage_by_hour.map(|share| fixed(100.0 * share, 0));
    let row = ["coverage %".into()].into_iter().chain(by_hour);
    page.table(&heads, &[0], vec![row.collect()]);
}

/// Everything said of it.
pub(crate) fn lines(findings: &Findings) -> Vec<Line> {
    let cup = &findings.cup;
    vec![
        Line::plain("Angles", angles(cup)),
        Line::plain("Coverage", coverage(cup)),
        Line::plain("On a film", on_a_film(cup)),
        Line::plain("Rim contact", rim_contact(cup)),
        Line::plain("Uncovered rim", uncovered_rim(cup)),
        Line::plain("Worst overhang", overhang(cup)),
        Line::plain("Interference", interference(findings)),
        Line::plain("Hip centre", from_native(&cup.centre_shift)),
    ]
}

/// Inclination and anteversion in all definitions.
fn angles(cup: &CupFinding) -> String {
    let told: Vec<_> = cup
        .angles
        .iter()
        .map(|a| {
            format!(
                "{} {}° / {}°",
                a.definition,
                fixed(a.inclination_deg, 1),
                fixed(a.anteversion_deg, 1)
            )
        })
        .collect();
    format!("inclination / anteversion: {}", told.join(", "))
}

fn coverage(cup: &CupFinding) -> String {
    let bound = if cup.coverage_error_bound > 0.0 {
        format!(
            ", within {} points",
            trace(100.0 * cup.coverage_error_bound, 2)
        )
    } else {
        String::new()
    };
    format!(
        "{} of the round side in bone; {} after reaming{bound}",
        percent(cup.coverage, 1),
        percent(cup.coverage_after_reaming, 1)
    )
}

fn on_a_film(cup: &CupFinding) -> String {
    let roof = match cup.film.centre_edge_deg {
        Some(angle) => format!("centre-edge angle of the cup {}°", fixed(angle, 0)),
        None => "no roof touches the cup".into(),
    };
    format!(
        "{} of its width under the roof ({roof}): another number than the coverage above",
        percent(cup.film.width_covered, 0)
    )
}

fn rim_contact(cup: &CupFinding) -> String {
    let whole = format!("{} of the edge in bone", percent(cup.rim_contact, 1));
    if cup.rim_arcs_deg.is_empty() || cup.rim_contact >= 1.0 {
        return whole;
    }
    let length = |arc: &[f64; 2]| arc[1] - arc[0];
    let mut longest: Vec<_> = cup.rim_arcs_deg.iter().collect();
    longest.sort_by(|a, b| length(b).total_cmp(&length(a)));
    longest.truncate(ARCS_TOLD);
    longest.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let told: Vec<_> = longest
        .iter()
        .map(|[start, end]| format!("{} to {}", clock_at(*start), clock_at(*end)))
        .collect();
    let more = counted(
        cup.rim_arcs_deg.len().saturating_sub(ARCS_TOLD),
        "shorter arc",
    );
    let more = more.map_or(String::new(), |more| format!(" and {more}"));
    format!("{whole}: {}{more}", told.join(", "))
}

fn uncovered_rim(cup: &CupFinding) -> String {
    format!(
        "{}° or {} mm of the edge outside bone",
        fixed(cup.uncovered_rim_deg, 1),
        fixed(cup.uncovered_rim_mm, 1)
    )
}

fn overhang(cup: &CupFinding) -> String {
    match worst_overhang(cup) {
        Some(worst) => format!(
            "{} mm proud of bone at {}",
            trace(worst.proud_mm, 1),
            clock(worst.clock_h)
        ),
        None => "none at any half hour".into(),
    }
}

fn interference(findings: &Findings) -> String {
    let interference = findings.cup.interference_mm;
    match findings.reaming.last() {
        None => "not known without a reamer".into(),
        Some(last) => format!(
            "{} mm nominal: cup {} mm, last reamer {} mm",
            fixed(interference, 1),
            fixed(findings.cup.diameter_mm, 1),
            fixed(last.diameter_mm, 1)
        ),
    }
}
