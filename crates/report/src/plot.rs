//! Two figures as SVG, to be read from the back of a lecture room.
//!
//! Colours are safe for the colour-blind, and dashes, marks and words carry what they carry, so
//! that a grey print loses nothing. Fonts are whatever the reader's machine calls sans-serif.

use std::io::{self, Write};

use cupwright_procedure::Findings;

use crate::CAUTION;
use crate::words::shortened;
use drawing::{Anchor, Dash, Ink, Mark, Point, Shape};

mod bars;
mod drawing;
mod field;
pub(crate) mod heat;
mod lines;
mod reaming;
mod rim_clock;
pub(crate) mod small;

pub(crate) use bars::{Bar, Bars};
pub(crate) use field::Field;
pub(crate) use lines::{Line, Lines};

/// Width of both figures, in their own unit.
const WIDTH: f64 = 1600.0;
/// Blank at the left of titles, keys and small print.
const MARGIN: f64 = 60.0;

const TITLE_SIZE: f64 = 40.0;
const TEXT_SIZE: f64 = 28.0;
const SMALL_SIZE: f64 = 20.0;
/// Length of the line in a key.
const KEY_LINE: f64 = 70.0;
/// From the bottom of a figure to its small print.
const FOOT: f64 = 30.0;

/// Writes the figure of bone removed and coverage against reamer diameter.
///
/// # Errors
/// When `out` refuses.
pub fn write_reaming(out: &mut impl Write, findings: &Findings) -> io::Result<()> {
    out.write_all(reaming::picture(findings).svg()?.as_bytes())
}

/// Writes the figure of the cup's rim as a clock face, seen looking into the socket.
///
/// Twelve is at the top, superior. Three is anterior on both sides: to the right of a right hip's
/// face, to the left of a left hip's.
///
/// # Errors
/// When `out` refuses.
pub fn write_rim_clock(out: &mut impl Write, findings: &Findings) -> io::Result<()> {
    out.write_all(rim_clock::picture(findings).svg()?.as_bytes())
}

fn text(at: Point, anchor: Anchor, size: f64, text: impl Into<String>) -> Shape {
    Shape::Text {
        at,
        anchor,
        size,
        text: text.into(),
    }
}

/// What is drawn, and of which bone.
fn title(what: &str, findings: &Findings) -> [Shape; 2] {
    let whose = format!(
        "{} hip of {}",
        shortened(&findings.bone.side, 10),
        shortened(&findings.bone.source, 60)
    );
    [
        text((MARGIN, 50.0), Anchor::Left, TITLE_SIZE, what),
        text((MARGIN, 100.0), Anchor::Left, TEXT_SIZE, whose),
    ]
}

fn caution(height: f64) -> Shape {
    text((MARGIN, height - FOOT), Anchor::Left, SMALL_SIZE, CAUTION)
}

/// How something looks in a figure: its line, by width and dash, and its mark.
#[derive(Clone, Copy)]
struct Look {
    ink: Ink,
    line: Option<(u32, Dash)>,
    mark: Option<Mark>,
}

/// How something looks, and what it stands for.
fn key((x, y): Point, look: Look, words: impl Into<String>) -> Vec<Shape> {
    let ink = look.ink;
    let line = look.line.map(|(width, dash)| Shape::Line {
        points: vec![(x, y), (x + KEY_LINE, y)],
        ink,
        width,
        dash,
    });
    let at = (x + KEY_LINE / 2.0, y);
    let mark = look.mark.map(|mark| Shape::Mark { at, ink, mark });
    let words = text((x + KEY_LINE + 15.0, y), Anchor::Left, TEXT_SIZE, words);
    line.into_iter().chain(mark).chain([words]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    fn both(findings: &Findings) -> [String; 2] {
        let (mut reaming, mut rim) = (Vec::new(), Vec::new());
        write_reaming(&mut reaming, findings).unwrap();
        write_rim_clock(&mut rim, findings).unwrap();
        [reaming, rim].map(|svg| String::from_utf8(svg).unwrap())
    }

    /// Where a text of exactly these words begins or is centred.
    fn x_of(svg: &str, words: &str) -> f64 {
        let before = svg.split_once(&format!(">\n{words}\n</text>")).unwrap().0;
        let tag = before.rsplit_once("<text x=\"").unwrap().1;
        tag.split_once('"').unwrap().0.parse().unwrap()
    }

    #[test]
    fn every_figure_has_title_bone_and_caution() {
        for svg in both(&sample::left()) {
            assert!(svg.starts_with("<svg") && svg.ends_with("</svg>\n"));
            assert!(svg.contains("left hip of average-male"));
            assert!(svg.contains(CAUTION));
        }
    }

    #[test]
    fn three_is_right_of_a_right_hip_and_left_of_a_left_one() {
        let [right, left] = [sample::right(), sample::left()].map(|f| both(&f)[1].clone());
        assert!(x_of(&right, "3") > 1300.0 && x_of(&right, "9") < 300.0);
        assert!(x_of(&left, "3") < 300.0 && x_of(&left, "9") > 1300.0);
        assert!(x_of(&right, "1") > 800.0 && x_of(&left, "1") < 800.0);
    }

    #[test]
    fn any_number_of_reamers_is_drawn() {
        let rising: Vec<f64> = (40..52).map(f64::from).collect();
        let series: [&[f64]; 4] = [&[], &[50.0], &[50.0; 3], &rising];
        for diameters in series {
            let [reaming, _] = both(&sample::with_reamers(diameters));
            // One disc a reamer in each chart and one in each key, where there is a reamer.
            let discs = if diameters.is_empty() {
                0
            } else {
                2 * diameters.len() + 2
            };
            assert_eq!(reaming.matches("<circle").count(), discs);
        }
    }

    #[test]
    fn what_is_not_finite_or_beyond_all_bounds_is_drawn_without_harm() {
        let (infinite, tiny) = (f64::INFINITY, f64::MIN_POSITIVE);
        for bad in [f64::NAN, infinite, -infinite, f64::MAX, f64::MIN, 9e8, tiny] {
            let mut findings = sample::right();
            let step = &mut findings.reaming[1];
            (step.diameter_mm, step.coverage, step.removed_mm3) = (bad, bad, bad);
            findings.reaming[2].cumulative_removed_mm3 = bad;
            let cup = &mut findings.cup;
            (cup.diameter_mm, cup.coverage_by_hour[2], cup.coverage) = (bad, bad, bad);
            (cup.overhang[3].proud_mm, cup.overhang[7].clock_h) = (bad, bad);
            cup.rim_arcs_deg.push([bad, bad]);
            for svg in both(&findings) {
                assert!(svg.len() < 200_000);
                assert!(!svg.contains("NaN") && !svg.contains("inf ") && !svg.contains(">inf"));
            }
        }
    }

    #[test]
    fn names_cannot_break_the_document() {
        let mut findings = sample::right();
        findings.bone.source = format!("<b>&\u{0}\u{1b}{}", "x".repeat(100));
        for svg in both(&findings) {
            assert!(svg.contains("right hip of &lt;b&gt;&amp; x"));
            assert!(!svg.chars().any(|c| c.is_control() && c != '\n'));
        }
    }

    #[test]
    fn the_same_findings_give_the_same_bytes() {
        assert_eq!(both(&sample::right()), both(&sample::right()));
    }

    #[test]
    fn every_colour_gives_way_to_that_of_a_sheet() {
        let style = include_str!("sheet/style.css");
        for ink in Ink::ALL {
            let colour = ink.written();
            for what in ["fill", "stroke"] {
                let rule = format!("svg [{what}=\"{colour}\"] {{ {what}: var(--plot-");
                assert!(style.contains(&rule), "{rule}");
            }
        }
    }
}
