//! Bone removed, and coverage, against reamer diameter.

use std::ops::Range;

use cupwright_procedure::Findings;
use cupwright_procedure::findings::StepFinding;

use super::drawing::{Anchor, Axis, Chart, Dash, Ink, Mark, Picture, Point, Series, Shape};
use super::{Look, MARGIN, TEXT_SIZE, WIDTH, caution, key, text, title};
use crate::words::cm3;

const HEIGHT: f64 = 1500.0;
/// Upper edges of the two charts, and the height of each.
const TOPS: [f64; 2] = [210.0, 860.0];
const CHART_HEIGHT: f64 = 550.0;
/// From the upper edge of a chart up to its key.
const KEY_ABOVE: f64 = 45.0;

/// Blank before the least diameter and after the greatest, in mm at the least and as a share.
const BLANK: f64 = 1.0;
const BLANK_SHARE: f64 = 0.06;
/// Blank below nought, as a share of an axis, for the marks that stand on it.
pub(super) const UNDER: f64 = 0.04;
/// The least volume that the axis has room for, in cm³: less is as good as none.
pub(super) const LEAST_REMOVED: f64 = 0.01;
/// No axis goes farther than this, in its own unit.
pub(super) const FARTHEST: f64 = 1e9;

pub(super) const DIAMETER: &str = "diameter of reamer or cup (mm)";

/// The figure.
pub(super) fn picture(findings: &Findings) -> Picture {
    let x = diameters(findings);
    let mut shapes = Vec::from(title(
        "Bone removed and coverage against reamer diameter",
        findings,
    ));
    let (removed, removed_key) = removed(findings, x.clone());
    let (coverage, coverage_key) = coverage(findings, x);
    shapes.extend(removed_key);
    shapes.extend(coverage_key);
    shapes.push(caution(HEIGHT));
    Picture {
        width: 1600,
        height: 1500,
        shapes,
        charts: vec![removed, coverage],
    }
}

fn removed(findings: &Findings, x: Range<f64>) -> (Chart, Vec<Shape>) {
    let so_far = points(findings, |step| cm3(step.cumulative_removed_mm3));
    let each = points(findings, |step| cm3(step.removed_mm3));
    let all = so_far.iter().chain(&each).map(|(_, cm3)| *cm3);
    let most = all.filter(|cm3| *cm3 < FARTHEST).fold(0.0, f64::max);
    let top = (1.1 * most).max(LEAST_REMOVED);
    let series = [
        (so_far, Ink::Blue, Dash::Solid, Mark::Disc),
        (each, Ink::Vermillion, Dash::Dashed, Mark::Triangle),
    ];
    let words = ["removed so far", "removed by this reamer"];
    chart(
        0,
        x,
        ("bone removed (cm³)", -UNDER * top..top),
        series,
        words,
    )
}

fn coverage(findings: &Findings, x: Range<f64>) -> (Chart, Vec<Shape>) {
    let cup = &findings.cup;
    let own_size = points(findings, |step| 100.0 * step.coverage);
    let at_cup = vec![(cup.diameter_mm, 100.0 * cup.coverage_after_reaming)];
    let series = [
        (own_size, Ink::Blue, Dash::Solid, Mark::Disc),
        (at_cup, Ink::Black, Dash::Solid, Mark::Square),
    ];
    let words = [
        "of a cup of the reamer's own size",
        "of the cup, after reaming",
    ];
    chart(
        1,
        x,
        ("coverage (%)", -100.0 * UNDER..100.0 * (1.0 + UNDER)),
        series,
        words,
    )
}

type Drawn = (Vec<Point>, Ink, Dash, Mark);

/// One of the two charts, with its key above it.
fn chart(
    which: usize,
    x: Range<f64>,
    (label, y): (&'static str, Range<f64>),
    series: [Drawn; 2],
    words: [&str; 2],
) -> (Chart, Vec<Shape>) {
    let top = TOPS[which];
    let columns = [MARGIN + 90.0, WIDTH / 2.0];
    let keys = series.iter().zip(words).zip(columns);
    let keys = keys.flat_map(|(((points, ink, dash, mark), words), x)| {
        let look = Look {
            ink: *ink,
            line: (points.len() > 1).then_some((4, *dash)),
            mark: Some(*mark),
        };
        let at = (x, top - KEY_ABOVE);
        if points.is_empty() {
            let words = format!("{words}: no reamer was used");
            vec![text(at, Anchor::Left, TEXT_SIZE, words)]
        } else {
            key(at, look, words)
        }
    });
    let keys = keys.collect();
    let chart = Chart {
        top,
        height: CHART_HEIGHT,
        x: Axis {
            label: DIAMETER.into(),
            range: x,
        },
        y: Axis {
            label: label.into(),
            range: y,
        },
        series: series
            .map(|(points, ink, dash, mark)| Series {
                points,
                ink,
                dash,
                mark,
            })
            .into(),
    };
    (chart, keys)
}

pub(super) fn points(findings: &Findings, value: fn(&StepFinding) -> f64) -> Vec<Point> {
    let steps = findings.reaming.iter();
    steps.map(|step| (step.diameter_mm, value(step))).collect()
}

/// From below the smallest diameter to above the largest, cup included.
pub(super) fn diameters(findings: &Findings) -> Range<f64> {
    let reamers = findings.reaming.iter().map(|step| step.diameter_mm);
    let all = reamers.chain([findings.cup.diameter_mm]);
    let finite: Vec<_> = all.filter(|mm| mm.abs() < FARTHEST).collect();
    let least = finite.iter().copied().fold(f64::INFINITY, f64::min);
    let most = finite.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if finite.is_empty() {
        return 0.0..1.0;
    }
    let blank = (BLANK_SHARE * (most - least)).max(BLANK);
    least - blank..most + blank
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    fn values(findings: &Findings, chart: usize, series: usize) -> Vec<Point> {
        picture(findings).charts[chart].series[series]
            .points
            .clone()
    }

    #[test]
    fn the_points_are_the_steps_in_cm3_and_percent() {
        let findings = sample::with_reamers(&[45.0, 48.0]);
        let so_far = values(&findings, 0, 0);
        assert_eq!(so_far[0], (45.0, 2.25));
        approx::assert_relative_eq!(so_far[1].1, 2.25 + 2.56);
        approx::assert_relative_eq!(values(&findings, 0, 1)[1].1, 2.56);
        approx::assert_relative_eq!(values(&findings, 1, 0)[1].1, 100.0 * 48.0 / 70.0);
        approx::assert_relative_eq!(values(&findings, 1, 1)[0].1, 74.12);
    }

    #[test]
    fn the_axis_holds_reamers_and_cup() {
        let range = |reamers: &[f64]| diameters(&sample::with_reamers(reamers));
        assert_eq!(range(&[40.0, 50.0]), 39.0..53.0);
        assert_eq!(range(&[52.0, 52.0]), 51.0..53.0);
        assert_eq!(range(&[]), 51.0..53.0);
        assert_eq!(range(&[f64::NAN, 1e300]), 51.0..53.0);
        assert_eq!(range(&[2.0]), -1.0..55.0);
    }

    #[test]
    fn each_axis_names_its_unit() {
        for chart in picture(&sample::right()).charts {
            assert_eq!(chart.x.label, "diameter of reamer or cup (mm)");
            assert!(["bone removed (cm³)", "coverage (%)"].contains(&chart.y.label.as_ref()));
        }
    }

    #[test]
    fn nothing_removed_still_has_an_axis() {
        let mut findings = sample::with_reamers(&[50.0]);
        findings.reaming[0].removed_mm3 = 0.0;
        findings.reaming[0].cumulative_removed_mm3 = f64::INFINITY;
        assert_eq!(picture(&findings).charts[0].y.range, -0.0004..0.01);
    }
}
