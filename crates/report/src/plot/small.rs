//! The figures of a sheet: one thing each, letters large beside the figure, title and keys left to the
//! page where words do better.

use std::io;
use std::ops::Range;

use cupwright_procedure::Findings;

use super::drawing::{Anchor, Axis, Chart, Dash, Ink, Mark, Picture, Point, Series};
use super::reaming::{DIAMETER, FARTHEST, LEAST_REMOVED, UNDER, diameters, points};
use super::{Look, key, rim_clock, text};
use crate::words::cm3;

/// Width and height of a chart, in units of the picture.
const SIZE: [u32; 2] = [900, 450];
/// Where its keys begin, and from one to the next.
const KEYS: Point = (130.0, 30.0);
const KEY_LINE: f64 = 44.0;

/// The clock face of the cup's rim, and from one of its circles to the next, in mm of overhang.
///
/// # Errors
/// When the plotting library refuses.
pub(crate) fn rim_clock(findings: &Findings) -> io::Result<(String, f64)> {
    let (face, spacing) = rim_clock::face_alone(findings);
    Ok((face.svg()?, spacing))
}

/// Bone removed against the diameter of the reamer.
///
/// # Errors
/// When the plotting library refuses.
pub(crate) fn removed(findings: &Findings) -> io::Result<String> {
    let so_far = points(findings, |step| cm3(step.cumulative_removed_mm3));
    let each = points(findings, |step| cm3(step.removed_mm3));
    let most = greatest([&so_far, &each]);
    let y = Axis {
        label: "bone removed (cm³)".into(),
        range: from_under(most.max(LEAST_REMOVED)),
    };
    let drawn = [
        first(so_far, "removed so far"),
        second(each, "removed by this reamer"),
    ];
    chart(axis_of_diameters(findings), y, drawn.into()).svg()
}

/// Coverage of a cup of each reamer's size, and of the cup.
///
/// # Errors
/// When the plotting library refuses.
pub(crate) fn coverage(findings: &Findings) -> io::Result<String> {
    let cup = &findings.cup;
    let own_size = points(findings, |step| 100.0 * step.coverage);
    let at_cup = vec![(cup.diameter_mm, 100.0 * cup.coverage_after_reaming)];
    let y = Axis {
        label: "coverage (%)".into(),
        range: from_under(100.0 / HEADROOM),
    };
    let drawn = [
        first(own_size, "of a cup of the reamer's own size"),
        own(at_cup, "of the cup, after reaming"),
    ];
    chart(axis_of_diameters(findings), y, drawn.into()).svg()
}

/// Gap at the pole, and how far the cup stands proud, against the force it is driven with.
///
/// # Errors
/// When the plotting library refuses.
pub(crate) fn gap(findings: &Findings) -> io::Result<String> {
    let found = &findings.press_fit;
    let by_force = found.gap_by_force.iter();
    let gap = by_force
        .clone()
        .filter_map(|at| Some((at.force_n, at.polar_gap_mm?)));
    let gap: Vec<_> = gap.collect();
    let proud: Vec<_> = by_force
        .map(|at| (at.force_n, at.stands_proud_mm))
        .collect();
    let assumed = found.polar_gap_mm.as_ref();
    let assumed: Vec<_> = assumed
        .map(|gap| (found.inputs.seating_force_n, gap.mid))
        .into_iter()
        .collect();
    let farthest = gap.iter().chain(&proud).chain(&assumed).map(|(n, _)| *n);
    let farthest = farthest.filter(|n| *n < FARTHEST).fold(1.0, f64::max);
    let most = greatest([&gap, &proud]).max(0.1);
    let x = Axis {
        label: "steady seating force (N)".into(),
        range: 0.0..1.04 * farthest,
    };
    let y = Axis {
        label: "distance (mm)".into(),
        range: from_under(most),
    };
    let drawn = [
        first(gap, "gap at the pole"),
        second(proud, "stands proud of its planned place"),
        own(assumed, "gap with the force taken for granted"),
    ];
    chart(x, y, drawn.into()).svg()
}

/// Blank above the greatest value.
const HEADROOM: f64 = 1.1;

/// From a little under nought, for the marks that stand on it, to above `most`.
fn from_under(most: f64) -> Range<f64> {
    let top = HEADROOM * most;
    -UNDER * top..top
}

fn greatest(series: [&Vec<Point>; 2]) -> f64 {
    let values = series.into_iter().flatten().map(|(_, value)| *value);
    values.filter(|value| *value < FARTHEST).fold(0.0, f64::max)
}

fn axis_of_diameters(findings: &Findings) -> Axis {
    Axis {
        label: DIAMETER.into(),
        range: diameters(findings),
    }
}

/// Something drawn, and what its key says.
struct Drawn {
    series: Series,
    words: &'static str,
}

fn first(points: Vec<Point>, words: &'static str) -> Drawn {
    drawn(points, Ink::Blue, Dash::Solid, Mark::Disc, words)
}

fn second(points: Vec<Point>, words: &'static str) -> Drawn {
    drawn(points, Ink::Vermillion, Dash::Dashed, Mark::Triangle, words)
}

fn own(points: Vec<Point>, words: &'static str) -> Drawn {
    drawn(points, Ink::Black, Dash::Solid, Mark::Square, words)
}

fn drawn(points: Vec<Point>, ink: Ink, dash: Dash, mark: Mark, words: &'static str) -> Drawn {
    let series = Series {
        points,
        ink,
        dash,
        mark,
    };
    Drawn { series, words }
}

/// A chart under its keys; what has no points has none.
fn chart(x: Axis, y: Axis, mut drawn: Vec<Drawn>) -> Picture {
    drawn.retain(|drawn| !drawn.series.points.is_empty());
    let [width, height] = SIZE;
    let mut at = KEYS;
    let mut shapes = vec![];
    for Drawn { series, words } in &drawn {
        let look = Look {
            ink: series.ink,
            line: (series.points.len() > 1).then_some((4, series.dash)),
            mark: Some(series.mark),
        };
        shapes.extend(key(at, look, *words));
        at.1 += KEY_LINE;
    }
    if drawn.is_empty() {
        shapes.push(text(at, Anchor::Left, super::TEXT_SIZE, "nothing to draw"));
        at.1 += KEY_LINE;
    }
    let top = at.1 - KEY_LINE / 3.0;
    let chart = Chart {
        top,
        height: f64::from(height) - top,
        x,
        y,
        series: drawn.into_iter().map(|drawn| drawn.series).collect(),
    };
    Picture {
        width,
        height,
        shapes,
        charts: vec![chart],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn each_chart_has_its_axes_and_keys() {
        let findings = sample::right();
        let [removed, coverage, gap] =
            [removed, coverage, gap].map(|draw| draw(&findings).unwrap());
        assert!(removed.contains("bone removed (cm³)") && removed.contains("removed so far"));
        assert!(coverage.contains("coverage (%)") && coverage.contains("after reaming"));
        assert!(gap.contains("seating force (N)") && gap.contains("gap at the pole"));
    }

    #[test]
    fn the_face_alone_has_its_hours_within_its_edges() {
        let (face, spacing) = rim_clock(&sample::left()).unwrap();
        assert!(face.contains(">\nanterior\n<") && face.contains(">\n12\n<"));
        assert!(face.starts_with("<svg width=\"1420\"") && (spacing - 2.0_f64).abs() < 1e-12);
        assert!(!face.contains("clock face"));
    }

    #[test]
    fn nothing_to_draw_is_told() {
        let mut findings = sample::with_reamers(&[]);
        assert!(removed(&findings).unwrap().contains("nothing to draw"));
        findings.press_fit.gap_by_force.clear();
        findings.press_fit.polar_gap_mm = None;
        assert!(gap(&findings).unwrap().contains("nothing to draw"));
    }

    #[test]
    fn what_is_not_finite_is_drawn_without_harm() {
        for bad in [f64::NAN, f64::INFINITY, f64::MAX, -1e300] {
            let mut findings = sample::right();
            findings.reaming[1].removed_mm3 = bad;
            findings.press_fit.gap_by_force[0].force_n = bad;
            findings.press_fit.gap_by_force[0].polar_gap_mm = Some(bad);
            for draw in [removed, gap] {
                let svg = draw(&findings).unwrap();
                assert!(svg.len() < 100_000 && !svg.contains("NaN") && !svg.contains(">inf"));
            }
        }
    }
}
