//! Bars either side of a middle, one below the other.

use std::io;

use super::drawing::{Anchor, Dash, Ink, Picture, Shape};
use super::{MARGIN, TEXT_SIZE, TITLE_SIZE, caution, text};

const FIRST: f64 = 210.0;
const EACH: f64 = 56.0;
const MIDDLE: f64 = 980.0;
/// From the middle to the end of the longest bar.
const REACH: f64 = 380.0;
const HALF: f64 = 18.0;

/// Bars under a heading.
pub(crate) struct Bars {
    /// What they show.
    pub(crate) heading: String,
    /// From top to bottom.
    pub(crate) bars: Vec<Bar>,
}

/// Two ends, told from the middle.
pub(crate) struct Bar {
    /// What it is.
    pub(crate) name: String,
    /// Where both bars end, and what is told there; a bar of no length is not drawn.
    pub(crate) ends: [(f64, String); 2],
}

impl Bars {
    /// Groups of bars below each other as SVG; in each group the longest reaches the edge.
    pub(crate) fn svg(title: [&str; 2], groups: &[Self]) -> io::Result<String> {
        let mut shapes = vec![
            text((MARGIN, 50.0), Anchor::Left, TITLE_SIZE, title[0]),
            text((MARGIN, 100.0), Anchor::Left, TEXT_SIZE, title[1]),
        ];
        let mut y = FIRST;
        for group in groups {
            shapes.push(text(
                (MARGIN, y),
                Anchor::Left,
                TEXT_SIZE + 2.0,
                &group.heading,
            ));
            y += EACH;
            let start = y;
            let lengths = group
                .bars
                .iter()
                .flat_map(|bar| bar.ends.iter().map(|e| e.0.abs()));
            let longest = lengths.filter(|l| l.is_finite()).fold(0.0, f64::max);
            for bar in &group.bars {
                shapes.extend(bar.drawn(y, longest));
                y += EACH;
            }
            shapes.push(Shape::Line {
                points: vec![
                    (MIDDLE, start - HALF - 6.0),
                    (MIDDLE, y - EACH + HALF + 6.0),
                ],
                ink: Ink::Black,
                width: 2,
                dash: Dash::Solid,
            });
            y += EACH / 2.0;
        }
        let height = y + 90.0;
        shapes.push(caution(height));
        let picture = Picture {
            width: 1600,
            height: whole(height),
            shapes,
            charts: vec![],
        };
        picture.svg()
    }
}

impl Bar {
    fn drawn(&self, y: f64, longest: f64) -> Vec<Shape> {
        let mut shapes = vec![text(
            (MARGIN + 30.0, y),
            Anchor::Left,
            TEXT_SIZE,
            &self.name,
        )];
        let inks = [Ink::SkyBlue, Ink::Vermillion];
        let share = |end: f64| {
            let share = if longest > 0.0 { end / longest } else { 0.0 };
            if share.is_finite() { share } else { 0.0 }
        };
        for ((end, _), ink) in self.ends.iter().zip(inks) {
            let x = MIDDLE + REACH * share(*end);
            shapes.push(Shape::Area {
                points: vec![
                    (MIDDLE, y - HALF),
                    (x, y - HALF),
                    (x, y + HALF),
                    (MIDDLE, y + HALF),
                ],
                ink,
                opacity: 0.8,
            });
        }
        // What is told stands beyond the outer end on its side.
        let [a, b] = [0, 1].map(|k: usize| (share(self.ends[k].0), &self.ends[k].1));
        let (left, right) = if a.0 <= b.0 { (a, b) } else { (b, a) };
        let at = |share: f64| MIDDLE + REACH * share;
        if !left.1.is_empty() {
            let place = (at(left.0.min(0.0)) - 90.0, y);
            shapes.push(text(place, Anchor::Centre, TEXT_SIZE, left.1));
        }
        if !right.1.is_empty() {
            let place = (at(right.0.max(0.0)) + 15.0, y);
            shapes.push(text(place, Anchor::Left, TEXT_SIZE, right.1));
        }
        shapes
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a few thousand units"
)]
fn whole(height: f64) -> u32 {
    height.clamp(1.0, 20_000.0) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_bar_reaches_the_edge_and_nothing_is_no_harm() {
        let bar = |low: f64, high: f64| Bar {
            name: "depth".into(),
            ends: [(low, "low".into()), (high, "high".into())],
        };
        let groups = [Bars {
            heading: "coverage".into(),
            bars: vec![bar(-1.0, 2.0), bar(0.0, f64::NAN)],
        }];
        let svg = Bars::svg(["title", "below"], &groups).unwrap();
        assert!(svg.contains("1360,") && svg.contains("790,"), "{svg}");
        assert!(!svg.contains("NaN") && svg.contains("coverage"));
    }
}
