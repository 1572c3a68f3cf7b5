//! Some series over one variable, in charts below each other.

use std::io;
use std::ops::Range;

use super::drawing::{Anchor, Axis, Chart, Dash, Ink, Mark, Picture, Point, Series};
use super::{Look, MARGIN, TEXT_SIZE, TITLE_SIZE, caution, key, text};

const TOP: f64 = 150.0;
const CHART_HEIGHT: f64 = 560.0;
/// Room for the keys of a chart above it.
const KEYS: f64 = 60.0;
const FOOT: u32 = 70;
/// Blank about the values, as a share of their range.
const BLANK: f64 = 0.06;

/// How the series of a chart look, in turn.
const LOOKS: [(Ink, Dash, Mark); 6] = [
    (Ink::Blue, Dash::Solid, Mark::Disc),
    (Ink::Vermillion, Dash::Dashed, Mark::Triangle),
    (Ink::Black, Dash::Solid, Mark::Square),
    (Ink::SkyBlue, Dash::Dashed, Mark::Disc),
    (Ink::Grey, Dash::Solid, Mark::Triangle),
    (Ink::Vermillion, Dash::Solid, Mark::Square),
];

/// A chart: what is on its axes, and its series by name.
pub(crate) struct Lines {
    /// What both axes show, with units.
    pub(crate) labels: [String; 2],
    /// The series.
    pub(crate) series: Vec<Line>,
}

/// A series: its name and its points in order.
pub(crate) struct Line {
    /// What it is.
    pub(crate) name: String,
    /// Its points.
    pub(crate) points: Vec<Point>,
}

impl Lines {
    /// Charts below each other as SVG.
    pub(crate) fn svg(title: [&str; 2], charts: Vec<Self>) -> io::Result<String> {
        let mut shapes = vec![
            text((MARGIN, 50.0), Anchor::Left, TITLE_SIZE, title[0]),
            text((MARGIN, 100.0), Anchor::Left, TEXT_SIZE, title[1]),
        ];
        let (mut height, mut drawn) = (150, Vec::new());
        let mut top = TOP;
        for chart in charts {
            let columns = [MARGIN + 90.0, 570.0, 1080.0];
            for (k, (line, (ink, dash, mark))) in chart.series.iter().zip(LOOKS).enumerate() {
                let row = f64::from(u8::try_from(k / 3).unwrap_or(0));
                let look = Look {
                    ink,
                    line: Some((4, dash)),
                    mark: Some(mark),
                };
                shapes.extend(key(
                    (columns[k % 3], top + 20.0 + 40.0 * row),
                    look,
                    &line.name,
                ));
            }
            let many = chart.series.len() > 3;
            let keys = if many { KEYS + 40.0 } else { KEYS };
            drawn.push(chart.drawn(top + keys));
            top += keys + CHART_HEIGHT;
            height += if many { 660 } else { 620 };
        }
        height += FOOT;
        shapes.push(caution(f64::from(height)));
        let picture = Picture {
            width: 1600,
            height,
            shapes,
            charts: drawn,
        };
        picture.svg()
    }

    fn drawn(self, top: f64) -> Chart {
        let points = || self.series.iter().flat_map(|line| line.points.iter());
        let x = range(points().map(|p| p.0));
        let y = range(points().map(|p| p.1));
        let [x_label, y_label] = self.labels;
        let series = self.series.into_iter().zip(LOOKS);
        Chart {
            top,
            height: CHART_HEIGHT,
            x: Axis {
                label: x_label.into(),
                range: x,
            },
            y: Axis {
                label: y_label.into(),
                range: y,
            },
            series: series
                .map(|(line, (ink, dash, mark))| Series {
                    points: line.points,
                    ink,
                    dash,
                    mark,
                })
                .collect(),
        }
    }
}

/// The range of values, with a little blank about it.
fn range(values: impl Iterator<Item = f64>) -> Range<f64> {
    let finite = values.filter(|v| v.abs() < 1e9);
    let (least, most) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, m), v| {
        (l.min(v), m.max(v))
    });
    if least > most {
        return 0.0..1.0;
    }
    let blank = (BLANK * (most - least)).max(1e-6 * (1.0 + most.abs()));
    least - blank..most + blank
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charts_stand_below_each_other_with_their_keys() {
        let chart = |name: &str| Lines {
            labels: ["x (mm)".into(), "y (mm)".into()],
            series: vec![Line {
                name: name.into(),
                points: vec![(0.0, 1.0), (1.0, f64::NAN), (2.0, 3.0)],
            }],
        };
        let svg = Lines::svg(["title", "below"], vec![chart("first"), chart("second")]).unwrap();
        assert!(svg.contains("first") && svg.contains("second") && svg.contains("height=\"1460\""));
        // Two finite points in each chart, and a mark in each key.
        assert_eq!(svg.matches("<circle").count(), 6, "{svg}");
    }
}
