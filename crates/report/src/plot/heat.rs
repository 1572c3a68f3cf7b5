//! A number over two others as shaded cells: what lacks something and what has some to spare, with a bold
//! line between the two and the numbers themselves, so that a grey print tells all.

use std::io;

use super::drawing::{Anchor, Dash, Ink, Mark, Picture, Point, Shape};
use super::{Look, TEXT_SIZE, key, text};
use crate::words::fixed;

/// A map; its cells stand at every pair of the values of its axes, which ascend in equal steps.
pub(crate) struct Heat<'a> {
    /// From left to right.
    pub(crate) across: Side<'a>,
    /// From below upward.
    pub(crate) up: Side<'a>,
    /// By the place on `across`, then on `up`; below nought something is lacking.
    pub(crate) values: &'a [Vec<f64>],
    /// What is drawn as the strongest, either way, in the unit of the values.
    pub(crate) strongest: f64,
    /// Places told apart, each with what its key says.
    pub(crate) places: Vec<Place>,
}

/// An axis.
#[derive(Clone, Copy)]
pub(crate) struct Side<'a> {
    /// What it shows, with its unit.
    pub(crate) label: &'static str,
    /// The middle of each cell.
    pub(crate) values: &'a [f64],
}

/// A place on the map, on both axes, and its words.
pub(crate) struct Place {
    pub(crate) at: [f64; 2],
    pub(crate) words: String,
}

/// Size of the picture and the edges of the map in it.
const SIZE: [u32; 2] = [900, 860];
const LEFT: f64 = 110.0;
const RIGHT: f64 = 880.0;
const BOTTOM: f64 = 770.0;
/// From one key to the next.
const KEY_LINE: f64 = 44.0;
/// Numbers along each axis, at the most.
const NUMBERS: [usize; 2] = [8, 10];
const NUMBER_SIZE: f64 = 25.0;
/// Steps of shade, either way.
const SHADES: f64 = 4.0;
/// The palest shade and the strongest, as opacities.
const PALEST: f64 = 0.10;
const DEEPEST: f64 = 0.62;

impl Heat<'_> {
    /// The map as an SVG document.
    ///
    /// # Errors
    /// When the plotting library refuses.
    pub(crate) fn svg(&self) -> io::Result<String> {
        self.picture().svg()
    }

    fn picture(&self) -> Picture {
        let mut shapes = self.keys();
        let frame = self.frame();
        if let Some(frame) = &frame {
            shapes.extend(self.cells(frame));
            shapes.extend(self.border(frame));
            shapes.extend(self.numbers(frame));
            shapes.extend(self.axes(frame));
            shapes.extend(self.marks(frame));
        }
        let [width, height] = SIZE;
        Picture {
            width,
            height,
            shapes,
            charts: vec![],
        }
    }

    fn keys(&self) -> Vec<Shape> {
        let mut y = 30.0;
        let mut shapes = vec![];
        let marks = MARKS.into_iter().cycle();
        for (place, mark) in self.places.iter().zip(marks) {
            let look = Look {
                ink: Ink::Black,
                line: None,
                mark: Some(mark),
            };
            shapes.extend(key((LEFT, y), look, place.words.as_str()));
            y += KEY_LINE;
        }
        let border = Look {
            ink: Ink::Black,
            line: Some((BORDER, Dash::Solid)),
            mark: None,
        };
        shapes.extend(key(
            (LEFT, y),
            border,
            "border: below nought something is lacking",
        ));
        shapes.push(text(
            (LEFT, y + KEY_LINE),
            Anchor::Left,
            TEXT_SIZE,
            self.up.label,
        ));
        shapes
    }

    /// Where the map lies; `None` where it has no cells.
    fn frame(&self) -> Option<Frame> {
        let keys = self.places.iter().fold(0.0, |sum, _| sum + KEY_LINE);
        let top = 30.0 + keys + 1.6 * KEY_LINE;
        Some(Frame {
            across: Scale::new(self.across.values, LEFT, RIGHT)?,
            up: Scale::new(self.up.values, BOTTOM, top)?,
        })
    }

    fn value(&self, i: usize, j: usize) -> Option<f64> {
        let value = self.values.get(i)?.get(j)?;
        value.is_finite().then_some(*value)
    }

    /// How deep a cell is shaded: from 1 to [`SHADES`] what there is to spare, negative what is lacking.
    fn shade(&self, i: usize, j: usize) -> Option<f64> {
        let value = self.value(i, j)?;
        let depth = (value.abs() / self.strongest * SHADES).floor() + 1.0;
        Some(depth.min(SHADES).copysign(value))
    }

    /// Runs of cells of one shade, each an area.
    fn cells(&self, frame: &Frame) -> Vec<Shape> {
        let rows: Vec<_> = (0..self.up.values.len()).collect();
        let columns: Vec<_> = (0..self.across.values.len()).collect();
        let run = |j: usize, run: &[usize]| {
            let shade = self.shade(*run.first()?, j)?;
            let [left, right] = [*run.first()?, *run.last()?];
            let (left, right) = (frame.across.edges(left).0, frame.across.edges(right).1);
            let (low, high) = frame.up.edges(j);
            let depth = (shade.abs() - 1.0) / (SHADES - 1.0);
            Some(Shape::Area {
                points: vec![(left, low), (right, low), (right, high), (left, high)],
                ink: if shade < 0.0 {
                    Ink::Vermillion
                } else {
                    Ink::SkyBlue
                },
                opacity: PALEST + (DEEPEST - PALEST) * depth,
            })
        };
        let of_row = |j: usize| {
            let alike = |a: &usize, b: &usize| self.shade(*a, j) == self.shade(*b, j);
            let runs = columns.chunk_by(alike);
            runs.filter_map(|cells| run(j, cells)).collect::<Vec<_>>()
        };
        rows.into_iter().flat_map(of_row).collect()
    }

    /// The line between what lacks something and what does not.
    fn border(&self, frame: &Frame) -> Vec<Shape> {
        let lacks = |i, j| self.value(i, j).map(|value| value < 0.0);
        let differ = |a: Option<bool>, b: Option<bool>| a.is_some() && b.is_some() && a != b;
        let (columns, rows) = (self.across.values.len(), self.up.values.len());
        let mut lines = vec![];
        for i in 0..columns {
            for j in 0..rows {
                let (left, right) = frame.across.edges(i);
                let (low, high) = frame.up.edges(j);
                if differ(lacks(i, j), lacks(i + 1, j)) {
                    lines.push([(right, low), (right, high)]);
                }
                if differ(lacks(i, j), lacks(i, j + 1)) {
                    lines.push([(left, high), (right, high)]);
                }
            }
        }
        let line = |points: [Point; 2]| Shape::Line {
            points: points.into(),
            ink: Ink::Black,
            width: BORDER,
            dash: Dash::Solid,
        };
        lines.into_iter().map(line).collect()
    }

    /// Values in some of the cells.
    fn numbers(&self, frame: &Frame) -> Vec<Shape> {
        let columns = every(self.across.values.len(), NUMBERS[0]);
        let rows = || every(self.up.values.len(), NUMBERS[1]);
        let number = |i, j| {
            let value = self.value(i, j)?;
            let at = (frame.across.middle(i), frame.up.middle(j));
            if self.is_marked(frame, at) {
                return None;
            }
            let whole = fixed(value, 0);
            let words = match whole.strip_prefix('-') {
                Some(size) => format!("−{size}"),
                None => whole,
            };
            Some(text(at, Anchor::Centre, NUMBER_SIZE, words))
        };
        columns
            .flat_map(|i| rows().filter_map(move |j| number(i, j)))
            .collect()
    }

    /// Whether a mark would lie on a number here.
    fn is_marked(&self, frame: &Frame, at: Point) -> bool {
        self.places.iter().any(|place| {
            let (x, y) = frame.at(place.at);
            (x - at.0).abs() < 45.0 && (y - at.1).abs() < 28.0
        })
    }

    fn axes(&self, frame: &Frame) -> Vec<Shape> {
        let columns = every(self.across.values.len(), NUMBERS[0]).map(|i| {
            let at = (frame.across.middle(i), BOTTOM + 24.0);
            text(at, Anchor::Centre, NUMBER_SIZE, tick(self.across.values[i]))
        });
        let rows = every(self.up.values.len(), NUMBERS[1]).map(|j| {
            let at = (LEFT - 62.0, frame.up.middle(j));
            text(at, Anchor::Centre, NUMBER_SIZE, tick(self.up.values[j]))
        });
        let label = ((LEFT + RIGHT) / 2.0, BOTTOM + 66.0);
        let label = text(label, Anchor::Centre, TEXT_SIZE, self.across.label);
        columns.chain(rows).chain([label]).collect()
    }

    fn marks(&self, frame: &Frame) -> Vec<Shape> {
        let places = self.places.iter().zip(MARKS.into_iter().cycle());
        let mark = |(place, mark): (&Place, Mark)| Shape::Mark {
            at: frame.at(place.at),
            ink: Ink::Black,
            mark,
        };
        places.map(mark).collect()
    }
}

/// Thickness of the border.
const BORDER: u32 = 6;
const MARKS: [Mark; 3] = [Mark::Square, Mark::Triangle, Mark::Disc];

/// At most `most` of `count` places, at equal distances, the first among them.
fn every(count: usize, most: usize) -> impl Iterator<Item = usize> + Clone {
    (0..count).step_by(count.div_ceil(most).max(1))
}

fn tick(value: f64) -> String {
    ((value * 1e6).round() / 1e6).to_string()
}

/// Where the cells lie in the picture.
struct Frame {
    across: Scale,
    up: Scale,
}

impl Frame {
    fn at(&self, [across, up]: [f64; 2]) -> Point {
        (self.across.place(across), self.up.place(up))
    }
}

/// An axis as places in the picture, cells of equal width.
struct Scale {
    first: f64,
    step: f64,
    start: f64,
    width: f64,
    end: f64,
}

impl Scale {
    fn new(values: &[f64], start: f64, end: f64) -> Option<Self> {
        let (first, last) = (*values.first()?, *values.last()?);
        let count = values.iter().fold(0.0, |count, _| count + 1.0);
        let step = if count > 1.0 {
            (last - first) / (count - 1.0)
        } else {
            1.0
        };
        (step.is_finite() && step > 0.0).then_some(Self {
            first,
            step,
            start,
            width: (end - start) / count,
            end,
        })
    }

    /// A value's place, held within the map.
    fn place(&self, value: f64) -> f64 {
        let place = self.start + self.width * ((value - self.first) / self.step + 0.5);
        place.clamp(self.start.min(self.end), self.start.max(self.end))
    }

    #[expect(clippy::cast_precision_loss, reason = "a map has few cells")]
    fn edges(&self, cell: usize) -> (f64, f64) {
        let edge = |cell: f64| (self.start + self.width * cell).round();
        (edge(cell as f64), edge(cell as f64 + 1.0))
    }

    fn middle(&self, cell: usize) -> f64 {
        let (from, to) = self.edges(cell);
        f64::midpoint(from, to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIVE: [f64; 5] = [30.0, 35.0, 40.0, 45.0, 50.0];

    fn of(values: &[Vec<f64>], places: Vec<Place>) -> Picture {
        let side = |label| Side {
            label,
            values: &FIVE,
        };
        Heat {
            across: side("inclination (°)"),
            up: side("anteversion (°)"),
            values,
            strongest: 20.0,
            places,
        }
        .picture()
    }

    /// Each cell the sum of its places, less 4.
    fn rising() -> Vec<Vec<f64>> {
        let row = |i: i32| (0..5).map(|j| f64::from(i + j - 4)).collect();
        (0..5).map(row).collect()
    }

    fn words(picture: &Picture) -> Vec<&str> {
        let shapes = picture.shapes.iter();
        let text = shapes.filter_map(|shape| match shape {
            Shape::Text { text, .. } => Some(text.as_str()),
            _ => None,
        });
        text.collect()
    }

    #[test]
    fn every_cell_of_a_small_map_has_its_number_with_its_sign() {
        let map = of(&rising(), vec![]);
        let told = words(&map);
        assert_eq!(told.iter().filter(|words| **words == "0").count(), 5);
        assert_eq!(told.iter().filter(|words| **words == "−4").count(), 1);
        assert_eq!(told.iter().filter(|words| **words == "4").count(), 1);
    }

    #[test]
    fn the_border_runs_between_lacking_and_not() {
        let borders = |values: &[Vec<f64>]| {
            let shapes = of(values, vec![]).shapes;
            let thick = |shape: &Shape| matches!(shape, Shape::Line { width: BORDER, .. });
            // One of them is in the key.
            shapes.iter().filter(|shape| thick(shape)).count() - 1
        };
        assert_eq!(borders(&vec![vec![1.0; 5]; 5]), 0);
        assert_eq!(borders(&rising()), 8);
        let mut hole = vec![vec![1.0; 5]; 5];
        hole[2][2] = -1.0;
        assert_eq!(borders(&hole), 4);
    }

    #[test]
    fn areas_cover_the_map_once() {
        let shapes = of(&rising(), vec![]).shapes;
        let areas = shapes.iter().filter_map(|shape| match shape {
            Shape::Area { points, .. } => {
                Some((points[1].0 - points[0].0) * (points[0].1 - points[2].1))
            }
            _ => None,
        });
        let whole = (RIGHT - LEFT) * (BOTTOM - 30.0 - 1.6 * KEY_LINE).round();
        assert!((areas.sum::<f64>() - whole).abs() < 1e-3 * whole);
    }

    #[test]
    fn a_place_stands_in_the_middle_of_its_cell_and_beyond_the_map_at_its_edge() {
        let marked = |at| {
            let words = "here".into();
            let shapes = of(&rising(), vec![Place { at, words }]).shapes;
            let mut marks = shapes.iter().filter_map(|shape| match shape {
                Shape::Mark { at, .. } => Some(*at),
                _ => None,
            });
            marks.next_back().unwrap()
        };
        let (x, _) = marked([40.0, 40.0]);
        assert!((x - f64::midpoint(LEFT, RIGHT)).abs() < 1.0);
        assert!(marked([40.0, 45.0]).1 < marked([40.0, 40.0]).1);
        let (x, y) = marked([90.0, -90.0]);
        assert!((x - RIGHT).abs() < 1e-9 && (y - BOTTOM).abs() < 1e-9);
    }

    #[test]
    fn a_map_without_cells_or_numbers_is_drawn_without_harm() {
        assert!(of(&[], vec![]).svg().is_ok());
        let svg = of(&vec![vec![f64::NAN; 5]; 5], vec![]).svg().unwrap();
        assert!(!svg.contains("NaN"));
    }
}
