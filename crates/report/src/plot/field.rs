//! A value over two variables, as a field of colours with its legend.

use std::io;

use super::drawing::{Anchor, Dash, Ink, Mark, Picture, Point, Shape};
use super::{MARGIN, SMALL_SIZE, TEXT_SIZE, TITLE_SIZE, caution, text};

/// Where the field lies in the picture.
const LEFT: f64 = 180.0;
const TOP: f64 = 170.0;
const ACROSS: f64 = 1100.0;
const DOWN: f64 = 900.0;
const HEIGHT: f64 = 1280.0;
/// Where the legend lies.
const LEGEND: f64 = 1360.0;
const LEGEND_WIDTH: f64 = 50.0;
/// The most cells drawn along a side; of more, some are left out.
const MOST_CELLS: usize = 160;
const TICKS: u32 = 6;

/// From the least value to the most, evenly light and safe for the colour-blind: the colours of viridis (S. van
/// der Walt and N. Smith 2015, public domain) at every quarter.
const SCALE: [[f64; 3]; 5] = [
    [68.0, 1.0, 84.0],
    [59.0, 82.0, 139.0],
    [33.0, 145.0, 140.0],
    [94.0, 201.0, 98.0],
    [253.0, 231.0, 37.0],
];

/// A value over two variables.
pub(crate) struct Field<'a> {
    /// What is drawn, and of what.
    pub(crate) title: [String; 2],
    /// Both axes with their units.
    pub(crate) labels: [String; 2],
    /// Values of x and of y, ascending.
    pub(crate) axes: [Vec<f64>; 2],
    /// Row by row, y ascending; not finite where there is none.
    pub(crate) values: Vec<f64>,
    /// What a value is called, and how it is told.
    pub(crate) value: (&'a str, &'a dyn Fn(f64) -> String),
    /// Whether each cell keeps the limits; a line is drawn about those that do.
    pub(crate) kept: &'a [bool],
    /// The plan.
    pub(crate) plan: Point,
}

impl Field<'_> {
    /// The figure as SVG.
    pub(crate) fn svg(&self) -> io::Result<String> {
        let mut shapes = vec![
            text((MARGIN, 50.0), Anchor::Left, TITLE_SIZE, &self.title[0]),
            text((MARGIN, 100.0), Anchor::Left, TEXT_SIZE, &self.title[1]),
        ];
        shapes.extend(self.cells());
        shapes.extend(self.border());
        shapes.extend(self.ticks());
        shapes.extend(self.legend());
        shapes.extend(self.planned());
        shapes.push(caution(HEIGHT));
        let picture = Picture {
            width: 1600,
            height: 1280,
            shapes,
            charts: vec![],
        };
        picture.svg()
    }

    fn sides(&self) -> [usize; 2] {
        [self.axes[0].len(), self.axes[1].len()]
    }

    /// The range of the values; a little about one that does not vary.
    fn range(&self) -> [f64; 2] {
        let finite = self.values.iter().copied().filter(|v| v.is_finite());
        let (least, most) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, m), v| {
            (l.min(v), m.max(v))
        });
        if least < most {
            [least, most]
        } else {
            [least - 0.5, least + 0.5]
        }
    }

    fn cells(&self) -> Vec<Shape> {
        let [columns, rows] = self.sides();
        let [least, most] = self.range();
        let strides = [columns, rows].map(|side| side.div_ceil(MOST_CELLS).max(1));
        let mut cells = Vec::new();
        for row in (0..rows).step_by(strides[1]) {
            for column in (0..columns).step_by(strides[0]) {
                let value = self.values[row * columns + column];
                if !value.is_finite() {
                    continue;
                }
                let next = [
                    (column + strides[0]).min(columns),
                    (row + strides[1]).min(rows),
                ];
                cells.push(Shape::Area {
                    points: self.rectangle([column, row], next),
                    ink: ink((value - least) / (most - least)),
                    opacity: 1.0,
                });
            }
        }
        cells
    }

    /// The corner below and to the left of a cell; a side of `n` cells has `n + 1`.
    fn corner(&self, [column, row]: [usize; 2]) -> Point {
        let [columns, rows] = self.sides();
        (
            LEFT + ACROSS * column as f64 / columns as f64,
            TOP + DOWN * (1.0 - row as f64 / rows as f64),
        )
    }

    fn rectangle(&self, [c, r]: [usize; 2], [c2, r2]: [usize; 2]) -> Vec<Point> {
        [[c, r], [c2, r], [c2, r2], [c, r2]]
            .map(|at| self.corner(at))
            .into()
    }

    /// Lines between cells that keep the limits and cells that do not.
    fn border(&self) -> Vec<Shape> {
        let [columns, rows] = self.sides();
        let kept = |c: usize, r: usize| self.kept[r * columns + c];
        let mut border = Vec::new();
        let mut line = |from, to| {
            border.push(Shape::Line {
                points: vec![self.corner(from), self.corner(to)],
                ink: Ink::White,
                width: 5,
                dash: Dash::Solid,
            });
        };
        for r in 0..rows {
            for c in 0..columns {
                if c + 1 < columns && kept(c, r) != kept(c + 1, r) {
                    line([c + 1, r], [c + 1, r + 1]);
                }
                if r + 1 < rows && kept(c, r) != kept(c, r + 1) {
                    line([c, r + 1], [c + 1, r + 1]);
                }
            }
        }
        border
    }

    /// Where a pair of values lies: in the middle of its cell.
    fn at(&self, (x, y): Point) -> Point {
        let along = |values: &[f64], value: f64| {
            let (first, last) = (values[0], values[values.len() - 1]);
            let share = ((value - first) / (last - first)).clamp(-1.0, 2.0);
            (share * (values.len() - 1) as f64 + 0.5) / values.len() as f64
        };
        (
            LEFT + ACROSS * along(&self.axes[0], x),
            TOP + DOWN * (1.0 - along(&self.axes[1], y)),
        )
    }

    fn ticks(&self) -> Vec<Shape> {
        let [first, last] = [0, 1]
            .map(|axis: usize| &self.axes[axis])
            .map(|values| [values[0], values[values.len() - 1]]);
        let spread = |[least, most]: [f64; 2]| round_values(least, most).into_iter();
        let number = |value: f64| ((value * 1e3).round() / 1e3 + 0.0).to_string();
        let bottom = TOP + DOWN;
        let across = spread(first).map(|x| {
            let place = (self.at((x, last[0])).0, bottom + 30.0);
            text(place, Anchor::Centre, TEXT_SIZE, number(x))
        });
        let up = spread(last).map(|y| {
            let place = (LEFT - 50.0, self.at((first[0], y)).1);
            text(place, Anchor::Centre, TEXT_SIZE, number(y))
        });
        let names = [
            text(
                (LEFT + ACROSS / 2.0, bottom + 80.0),
                Anchor::Centre,
                TEXT_SIZE,
                &self.labels[0],
            ),
            text(
                (MARGIN, TOP - 28.0),
                Anchor::Left,
                TEXT_SIZE,
                &self.labels[1],
            ),
        ];
        across.chain(up).chain(names).collect()
    }

    fn legend(&self) -> Vec<Shape> {
        const PARTS: u32 = 40;
        let [least, most] = self.range();
        let height = |share: f64| TOP + DOWN * (1.0 - share);
        let part = |k: u32| {
            let [low, high] = [k, k + 1].map(|k| f64::from(k) / f64::from(PARTS));
            let (left, right) = (LEGEND, LEGEND + LEGEND_WIDTH);
            Shape::Area {
                points: vec![
                    (left, height(low)),
                    (right, height(low)),
                    (right, height(high)),
                    (left, height(high)),
                ],
                ink: ink(f64::midpoint(low, high)),
                opacity: 1.0,
            }
        };
        let (name, told) = &self.value;
        let value = |k: u32| {
            let share = f64::from(k) / 4.0;
            let place = (LEGEND + LEGEND_WIDTH + 15.0, height(share));
            text(
                place,
                Anchor::Left,
                TEXT_SIZE,
                told(least + share * (most - least)),
            )
        };
        let name = text((LEGEND, TOP - 28.0), Anchor::Left, TEXT_SIZE, *name);
        (0..PARTS)
            .map(part)
            .chain((0..=4).map(value))
            .chain([name])
            .collect()
    }

    /// The plan, where it lies on the map.
    fn planned(&self) -> Vec<Shape> {
        let at = self.at(self.plan);
        let inside = (LEFT..=LEFT + ACROSS).contains(&at.0) && (TOP..=TOP + DOWN).contains(&at.1);
        let foot = (LEFT, TOP + DOWN + 130.0);
        let limits = if self.kept.iter().all(|k| *k) || !self.kept.iter().any(|k| *k) {
            ""
        } else {
            "; the thick line parts what keeps the limits from what does not"
        };
        let words = if inside {
            format!("square: the plan{limits}")
        } else {
            format!("the plan lies beyond this map{limits}")
        };
        let key = text(foot, Anchor::Left, SMALL_SIZE + 4.0, words);
        let mark = Shape::Mark {
            at,
            ink: Ink::Vermillion,
            mark: Mark::Square,
        };
        inside.then_some(mark).into_iter().chain([key]).collect()
    }
}

/// The colour of a share of the scale.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held within a byte"
)]
fn ink(share: f64) -> Ink {
    let at = share.clamp(0.0, 1.0) * 4.0;
    let below = at.floor().min(3.0);
    let [from, to] = [0, 1].map(|next| SCALE[below as usize + next]);
    let [red, green, blue] = [0, 1, 2]
        .map(|k: usize| from[k] + (at - below) * (to[k] - from[k]))
        .map(|byte| byte.round().clamp(0.0, 255.0) as u8);
    Ink::OfScale(red, green, blue)
}

/// Round values from one to another, at most [`TICKS`] steps apart: multiples of 1, 2 or 5 times a power of
/// ten.
fn round_values(least: f64, most: f64) -> Vec<f64> {
    // So that the last of 0, 0.1 … 0.3 is not missed.
    const ROUNDING: f64 = 1e-9;
    let rough = (most - least) / f64::from(TICKS);
    let ten = 10.0_f64.powf(rough.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|times| times * ten);
    let step = steps
        .into_iter()
        .find(|step| *step >= rough * (1.0 - ROUNDING));
    let Some(step) = step.filter(|step| step.is_finite() && *step > 0.0) else {
        return vec![least, most];
    };
    let first = (least / step - ROUNDING).ceil();
    let count = ((most / step + ROUNDING).floor() - first).max(0.0);
    let each = (0..=TICKS + 1).map(f64::from).take_while(|k| *k <= count);
    each.map(|k| (first + k) * step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_runs_from_dark_to_bright() {
        assert_eq!(ink(0.0), Ink::OfScale(68, 1, 84));
        assert_eq!(ink(0.5), Ink::OfScale(33, 145, 140));
        assert_eq!(ink(1.0), Ink::OfScale(253, 231, 37));
        assert_eq!(ink(f64::INFINITY), ink(1.0));
    }

    #[test]
    fn a_field_has_a_cell_for_each_value_and_a_line_about_what_is_kept() {
        let told = |value: f64| format!("{value:.0} mm");
        let field = Field {
            title: ["a field".into(), "of a bone".into()],
            labels: ["x (mm)".into(), "y (mm)".into()],
            axes: [vec![0.0, 1.0, 2.0], vec![0.0, 1.0]],
            values: vec![1.0, 2.0, 3.0, 4.0, f64::NAN, 6.0],
            value: ("depth", &told),
            kept: &[true, false, false, false, false, false],
            plan: (1.0, 1.0),
        };
        let svg = field.svg().unwrap();
        // Five cells and the legend; two lines about the one cell that is kept.
        assert_eq!(svg.matches("<polygon").count(), 5 + 40);
        assert_eq!(svg.matches("<polyline").count(), 2);
        assert!(svg.contains("x (mm)") && svg.contains("6 mm") && svg.contains("the plan"));
    }

    #[test]
    fn ticks_are_round_numbers_within_the_axis() {
        assert_eq!(round_values(0.0, 50.0), [0.0, 10.0, 20.0, 30.0, 40.0, 50.0]);
        assert_eq!(
            round_values(30.0, 60.0),
            [30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0]
        );
        assert_eq!(round_values(-3.0, 8.0), [-2.0, 0.0, 2.0, 4.0, 6.0, 8.0]);
        assert_eq!(round_values(5.0, 5.0), [5.0, 5.0]);
    }
}
