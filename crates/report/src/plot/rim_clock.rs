//! The cup's rim as a clock face: where its edge lies in bone, where it stands proud, and how well
//! the cup is covered toward each hour.

use cupwright_procedure::Findings;
use cupwright_procedure::findings::CupFinding;

use super::drawing::{Anchor, Dash, Ink, Mark, Picture, Point, Shape};
use super::{Look, MARGIN, SMALL_SIZE, TEXT_SIZE, WIDTH, caution, key, text, title};
use crate::words::{clock, fixed, percent, worst_overhang};

const HEIGHT: f64 = 1860.0;
/// The middle of the face.
const CENTRE: Point = (WIDTH / 2.0, 770.0);
/// The face's radii from inside out: numbers of the sectors, sectors, the cup's edge, the foot of
/// the profile and its greatest height, the hours.
const NUMBERS: f64 = 290.0;
const SECTORS: f64 = 360.0;
const EDGE: f64 = 385.0;
const PROFILE: f64 = 410.0;
const PROFILE_TOP: f64 = 540.0;
const HOURS: f64 = 585.0;

/// Thickness of the cup's edge in bone.
const RING: u32 = 26;
/// From the hours at the sides outward to what they mean.
const MEANING_ASIDE: f64 = 30.0;
const HOUR_SIZE: f64 = 38.0;
/// The upper left corner of the face alone, and how much larger its letters are there.
const FACE_CORNER: [f64; 2] = [90.0, 105.0];
const FACE_LETTERS: f64 = 1.6;
/// From one line of text to the next.
const LINE: f64 = 46.0;
/// Where the keys begin.
const KEYS: f64 = 1470.0;

/// Degrees between the points of a round line: short enough to look round, long enough not to
/// show the grid they lie on.
const STEP: f64 = 5.0;
/// Points of a line at the most: once round, and one.
const MOST_POINTS: usize = 73;

/// Distances between lines of equal overhang to choose from, in mm.
const SPACINGS: [f64; 5] = [1.0, 2.0, 5.0, 10.0, 20.0];
/// Where none of them will do: four such lines are more than half way round any cup.
const WIDEST: f64 = 50.0;
/// How many such lines there are, at the least and at the most.
const LEAST_LINES: f64 = 2.0;
const LINES: f64 = 4.0;

/// How a place on the rim becomes a place in the figure.
#[derive(Clone, Copy)]
struct Face {
    /// 1 where the hours run clockwise, for a right hip; -1 for a left one.
    turn: f64,
    /// Overhang that the profile has room for, in mm; more is drawn as this.
    room: f64,
}

/// The figure.
pub(super) fn picture(findings: &Findings) -> Picture {
    let cup = &findings.cup;
    let (face, spacing) = Face::of(findings);
    let diameter = fixed(cup.diameter_mm, 1);
    let heading = format!("Rim of the {diameter} mm cup as a clock face");
    let mut shapes = Vec::from(title(&heading, findings));
    shapes.extend(face.shapes(cup, spacing));
    shapes.extend(keys(cup, spacing));
    shapes.extend(how_to_look(face));
    shapes.push(caution(HEIGHT));
    Picture {
        width: 1600,
        height: 1860,
        shapes,
        charts: vec![],
    }
}

/// The face alone with larger letters, for a page that says in words what it shows; and from one line of
/// equal overhang to the next, in mm.
pub(super) fn face_alone(findings: &Findings) -> (Picture, f64) {
    let (face, spacing) = Face::of(findings);
    let shapes = face.shapes(&findings.cup, spacing).into_iter();
    let [left, top] = FACE_CORNER;
    let picture = Picture {
        width: 1420,
        height: 1330,
        shapes: shapes
            .map(|shape| shape.moved(-left, -top).with_letters(FACE_LETTERS))
            .collect(),
        charts: vec![],
    };
    (picture, spacing)
}

impl Face {
    /// The face of a cup's rim; and from one line of equal overhang to the next, in mm.
    fn of(findings: &Findings) -> (Self, f64) {
        let (spacing, room) = gridlines(&findings.cup);
        let turn = if findings.bone.side == "left" {
            -1.0
        } else {
            1.0
        };
        (Self { turn, room }, spacing)
    }

    fn shapes(self, cup: &CupFinding, spacing: f64) -> Vec<Shape> {
        let mut shapes = self.sectors(cup);
        shapes.extend(self.grid(cup, spacing));
        shapes.extend(self.profile(cup));
        shapes.extend(self.edge(cup));
        shapes.extend(self.hours());
        shapes
    }

    /// The place at `degrees` from 12 o'clock by way of 3.
    fn place(self, degrees: f64, radius: f64) -> Point {
        let (sin, cos) = degrees.to_radians().sin_cos();
        (CENTRE.0 + self.turn * radius * sin, CENTRE.1 - radius * cos)
    }

    /// Points along the round from one direction to another, in degrees.
    fn arc(self, from: f64, to: f64, radius: impl Fn(f64) -> f64) -> Vec<Point> {
        evenly(from, to)
            .map(|degrees| self.place(degrees, radius(degrees)))
            .collect()
    }

    fn circle(self, radius: f64) -> Vec<Point> {
        self.arc(0.0, 360.0, |_| radius)
    }

    /// Coverage toward each hour: the better, the darker, and its number.
    fn sectors(self, cup: &CupFinding) -> Vec<Shape> {
        let middles = (0..12_u8).map(|hour| 30.0 * f64::from(hour));
        let sector = |(middle, share): (f64, f64)| {
            let mut points = self.arc(middle - 15.0, middle + 15.0, |_| SECTORS);
            let border = vec![CENTRE, points[0]];
            points.push(CENTRE);
            let depth = if share.is_finite() {
                share.clamp(0.0, 1.0)
            } else {
                0.0
            };
            [
                Shape::Area {
                    points,
                    ink: Ink::SkyBlue,
                    opacity: 0.6 * depth.powi(2),
                },
                Shape::Line {
                    points: border,
                    ink: Ink::PaleGrey,
                    width: 2,
                    dash: Dash::Solid,
                },
                text(
                    self.place(middle, NUMBERS),
                    Anchor::Centre,
                    TEXT_SIZE,
                    percent(share, 0),
                ),
            ]
        };
        middles.zip(cup.coverage_by_hour).flat_map(sector).collect()
    }

    /// The foot of the profile and its lines of equal overhang, with their mm.
    fn grid(self, cup: &CupFinding, spacing: f64) -> Vec<Shape> {
        let free = freest(cup);
        let lines = (0..=4_u8).map(|i| spacing * f64::from(i));
        lines
            .filter(|mm| *mm <= self.room)
            .flat_map(|mm| {
                let radius = self.height(mm);
                let line = Shape::Circle {
                    centre: CENTRE,
                    radius,
                    ink: Ink::PaleGrey,
                    width: 2,
                };
                let label = (mm > 0.0).then(|| label(self.place(free, radius), mm));
                [line].into_iter().chain(label.into_iter().flatten())
            })
            .collect()
    }

    /// The radius at which an overhang in mm is drawn.
    fn height(self, mm: f64) -> f64 {
        PROFILE + (PROFILE_TOP - PROFILE) * mm.min(self.room) / self.room
    }

    /// How far the edge stands proud of bone, outward, and its worst place.
    fn profile(self, cup: &CupFinding) -> Vec<Shape> {
        let radius = |degrees| self.height(proud_at(cup, degrees));
        let outline = self.arc(0.0, 360.0, radius);
        let foot = self.circle(PROFILE);
        let pairs: Vec<_> = outline.into_iter().zip(foot).collect();
        let proud = |(outer, foot): &(Point, Point)| outer != foot;
        let runs = pairs.chunk_by(|a, b| proud(a) || proud(b));
        let mut shapes: Vec<_> = runs.filter(|run| run.len() > 1).flat_map(ridge).collect();
        shapes.extend(worst_overhang(cup).map(|worst| Shape::Mark {
            at: self.place(30.0 * worst.clock_h, radius(30.0 * worst.clock_h)),
            ink: Ink::Black,
            mark: Mark::Triangle,
        }));
        shapes
    }

    /// The cup's edge: dashed, and thick where it lies in bone.
    fn edge(self, cup: &CupFinding) -> Vec<Shape> {
        let bare = Shape::Line {
            points: self.circle(EDGE),
            ink: Ink::Grey,
            width: 4,
            dash: Dash::Dashed,
        };
        let in_bone = cup.rim_arcs_deg.iter().map(|[from, to]| Shape::Line {
            points: self.arc(*from, *to, |_| EDGE),
            ink: Ink::Blue,
            width: RING,
            dash: Dash::Solid,
        });
        [bare].into_iter().chain(in_bone).collect()
    }

    /// The hours about the face, and what four of them mean.
    fn hours(self) -> Vec<Shape> {
        let hours = (1..=12_u8).map(|hour| {
            let at = self.place(30.0 * f64::from(hour), HOURS);
            text(at, Anchor::Centre, HOUR_SIZE, hour.to_string())
        });
        let meanings = [
            (0.0, "superior", 0.0),
            (90.0, "anterior", MEANING_ASIDE),
            (180.0, "inferior", 0.0),
            (270.0, "posterior", MEANING_ASIDE),
        ]
        .map(|(degrees, meaning, aside)| {
            let (x, y) = self.place(degrees, HOURS + aside);
            let below = if degrees < 1.0 { -LINE } else { LINE };
            text((x, y + below), Anchor::Centre, TEXT_SIZE, meaning)
        });
        hours.chain(meanings).collect()
    }
}

/// A run of the profile, from its outline to its foot.
fn ridge(run: &[(Point, Point)]) -> [Shape; 2] {
    let outline = run.iter().map(|(outer, _)| *outer);
    let foot = run.iter().rev().map(|(_, foot)| *foot);
    let area = Shape::Area {
        points: outline.clone().chain(foot).collect(),
        ink: Ink::Vermillion,
        opacity: 0.45,
    };
    let line = Shape::Line {
        points: outline.collect(),
        ink: Ink::Vermillion,
        width: 4,
        dash: Dash::Solid,
    };
    [area, line]
}

/// A number of mm on a white ground.
fn label((x, y): Point, mm: f64) -> [Shape; 2] {
    let (across, up) = (17.0, 13.0);
    let corners = [(-across, -up), (across, -up), (across, up), (-across, up)];
    let ground = Shape::Area {
        points: corners.map(|(dx, dy)| (x + dx, y + dy)).into(),
        ink: Ink::White,
        opacity: 1.0,
    };
    let number = fixed(mm, 0);
    [ground, text((x, y), Anchor::Centre, SMALL_SIZE, number)]
}

/// Directions from one to another, in degrees, both included, once round at the most.
fn evenly(from: f64, to: f64) -> impl Iterator<Item = f64> {
    let last = to.min(from + 360.0);
    let next = move |degrees: &f64| Some(degrees + STEP).filter(|next| *next < last);
    std::iter::successors(Some(from), next)
        .take(MOST_POINTS)
        .chain([last])
}

/// Spacing of the lines of equal overhang and the overhang that the profile has room for, in mm.
fn gridlines(cup: &CupFinding) -> (f64, f64) {
    let worst = worst_overhang(cup).map_or(0.0, |worst| worst.proud_mm);
    let fits = |spacing: &f64| LINES * spacing >= worst;
    let spacing = SPACINGS.into_iter().find(fits).unwrap_or(WIDEST);
    let lines = (worst / spacing).ceil().clamp(LEAST_LINES, LINES);
    (spacing, spacing * lines)
}

/// Overhang in a direction in degrees, in mm: none where the edge lies in bone, elsewhere between
/// that of its two neighbours, as the crow flies.
fn proud_at(cup: &CupFinding, degrees: f64) -> f64 {
    let in_bone = |[from, to]: &[f64; 2]| (degrees - from).rem_euclid(360.0) <= to - from;
    if cup.rim_arcs_deg.iter().any(in_bone) {
        return 0.0;
    }
    let next = cup.overhang.iter().cycle().skip(1);
    let between = cup.overhang.iter().zip(next).find_map(|(a, b)| {
        let span = (30.0 * (b.clock_h - a.clock_h)).rem_euclid(360.0);
        let along = (degrees - 30.0 * a.clock_h).rem_euclid(360.0);
        (along <= span && span > 0.0).then(|| a.proud_mm + (b.proud_mm - a.proud_mm) * along / span)
    });
    between.unwrap_or(0.0).max(0.0)
}

/// The direction, in degrees, a quarter past or before an hour, where the profile leaves most room.
fn freest(cup: &CupFinding) -> f64 {
    // Beside 3 and 9 stand what they mean.
    let is_clear = |degrees: &f64| (degrees.rem_euclid(180.0) - 90.0).abs() > 10.0;
    let quarters = (0..24_u8).map(|half_hour| 15.0 * f64::from(half_hour) + 7.5);
    let quarters = quarters.filter(is_clear);
    let height = |degrees: &f64| proud_at(cup, degrees - 7.5) + proud_at(cup, degrees + 7.5);
    quarters
        .min_by(|a, b| height(a).total_cmp(&height(b)))
        .unwrap_or(0.0)
}

/// What the lines and areas mean, with the numbers that they show.
fn keys(cup: &CupFinding, spacing: f64) -> Vec<Shape> {
    let worst = worst_overhang(cup).map_or("nowhere".into(), |worst| {
        let place = clock(worst.clock_h);
        format!("{} mm at {place}", fixed(worst.proud_mm, 1))
    });
    let line = |ink, width, dash| Look {
        ink,
        line: Some((width, dash)),
        mark: None,
    };
    let mark = Look {
        ink: Ink::Black,
        line: None,
        mark: Some(Mark::Triangle),
    };
    let rows = [
        (
            line(Ink::Blue, RING, Dash::Solid),
            format!("edge of the cup in bone: {}", percent(cup.rim_contact, 1)),
        ),
        (
            line(Ink::Grey, 4, Dash::Dashed),
            format!(
                "edge outside bone: {}° or {} mm",
                fixed(cup.uncovered_rim_deg, 1),
                fixed(cup.uncovered_rim_mm, 1)
            ),
        ),
        (
            line(Ink::Vermillion, 4, Dash::Solid),
            format!(
                "overhang: edge proud of bone, along the cup, a circle every {} mm",
                fixed(spacing, 0)
            ),
        ),
        (mark, format!("worst overhang: {worst}")),
        (
            line(Ink::SkyBlue, RING, Dash::Solid),
            format!(
                "round side in bone, the darker the more; whole {}, after reaming {}",
                percent(cup.coverage, 1),
                percent(cup.coverage_after_reaming, 1)
            ),
        ),
    ];
    let mut y = KEYS - LINE;
    rows.into_iter()
        .flat_map(|(look, words)| {
            y += LINE;
            key((MARGIN, y), look, words)
        })
        .collect()
}

/// Which way the face is seen.
fn how_to_look(face: Face) -> [Shape; 2] {
    let (side, sense) = if face.turn < 0.0 {
        ("left", "anticlockwise")
    } else {
        ("right", "clockwise")
    };
    let lines = [
        "Seen looking into the socket: 12 is superior, and 3 is anterior on both sides.".into(),
        format!(
            "In this {side} hip anterior is to the viewer's {side}, and the hours run {sense}."
        ),
    ];
    let mut y = KEYS + 4.3 * LINE;
    lines.map(|line: String| {
        y += LINE;
        text((MARGIN, y), Anchor::Left, TEXT_SIZE, line)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;
    use approx::assert_relative_eq;

    fn place_of(findings: &Findings, words: &str) -> Point {
        let shapes = picture(findings).shapes;
        let found = shapes.iter().find_map(|shape| match shape {
            Shape::Text { at, text, .. } if text == words => Some(*at),
            _ => None,
        });
        found.unwrap()
    }

    /// The longest arc of the edge in bone.
    fn ring(findings: &Findings) -> Vec<Point> {
        let shapes = picture(findings).shapes;
        let rings = shapes.into_iter().filter_map(|shape| match shape {
            Shape::Line {
                points,
                width: RING,
                ..
            } => Some(points),
            _ => None,
        });
        rings.max_by_key(Vec::len).unwrap()
    }

    /// The profile's outline, run after run; the line in the key has two points.
    fn outline(findings: &Findings) -> Vec<Point> {
        let shapes = picture(findings).shapes.into_iter();
        let runs = shapes.filter_map(|shape| match shape {
            Shape::Line {
                points,
                ink: Ink::Vermillion,
                ..
            } => Some(points),
            _ => None,
        });
        runs.filter(|points| points.len() > 2).flatten().collect()
    }

    fn texts(findings: &Findings) -> String {
        let shapes = picture(findings).shapes.into_iter();
        let texts = shapes.filter_map(|shape| match shape {
            Shape::Text { text, .. } => Some(text),
            _ => None,
        });
        texts.collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn twelve_is_on_top_and_three_on_the_anterior_side() {
        for findings in [sample::right(), sample::left()] {
            let top = place_of(&findings, "12");
            assert_relative_eq!(top.0, CENTRE.0);
            assert_relative_eq!(top.1, CENTRE.1 - HOURS);
        }
        let (right, left) = (
            place_of(&sample::right(), "3"),
            place_of(&sample::left(), "3"),
        );
        assert_relative_eq!(right.0, CENTRE.0 + HOURS);
        assert_relative_eq!(left.0, CENTRE.0 - HOURS);
        assert!(place_of(&sample::right(), "anterior").0 > right.0);
        assert!(place_of(&sample::left(), "anterior").0 < left.0);
        assert!(place_of(&sample::left(), "posterior").0 > CENTRE.0);
    }

    #[test]
    fn a_left_hip_is_the_mirror_image_of_a_right_one() {
        for drawn in [ring, outline] {
            let (right, left) = (drawn(&sample::right()), drawn(&sample::left()));
            assert!(right.len() > 20 && right.len() == left.len());
            for (a, b) in right.iter().zip(&left) {
                assert_relative_eq!(a.0 + b.0, 2.0 * CENTRE.0, epsilon = 1e-9);
                assert_relative_eq!(a.1, b.1, epsilon = 1e-9);
            }
        }
    }

    #[test]
    fn the_edge_in_bone_lies_where_its_arc_says() {
        // From 222.5° by way of 9 and 12 o'clock to 7.5° past 12: lower left to just right of the top.
        let points = ring(&sample::right());
        let (first, last) = (points[0], points[points.len() - 1]);
        assert_relative_eq!(
            first.0,
            CENTRE.0 - EDGE * 42.5_f64.to_radians().sin(),
            epsilon = 1e-9
        );
        assert_relative_eq!(
            first.1,
            CENTRE.1 + EDGE * 42.5_f64.to_radians().cos(),
            epsilon = 1e-9
        );
        assert_relative_eq!(
            last.0,
            CENTRE.0 + EDGE * 7.5_f64.to_radians().sin(),
            epsilon = 1e-9
        );
    }

    #[test]
    fn the_worst_overhang_stands_out_as_far_as_its_mm_say() {
        let from_centre = |(x, y): &Point| (x - CENTRE.0).hypot(y - CENTRE.1);
        let points = outline(&sample::right());
        let farthest = points
            .iter()
            .max_by(|a, b| from_centre(a).total_cmp(&from_centre(b)));
        let (x, y) = farthest.unwrap();
        let share = 6.3 / 8.0; // four circles, 2 mm apart
        assert_relative_eq!(
            from_centre(&(*x, *y)),
            PROFILE + share * (PROFILE_TOP - PROFILE)
        );
        assert_relative_eq!(x - CENTRE.0, CENTRE.1 - y, epsilon = 1e-9); // half past one
    }

    #[test]
    fn circles_are_spaced_for_the_worst_overhang() {
        let spaced = |proud_mm| {
            let mut cup = sample::right().cup;
            cup.overhang.retain(|place| place.proud_mm <= 0.0);
            cup.overhang[0].proud_mm = proud_mm;
            gridlines(&cup)
        };
        let read = [0.0, 1.5, 4.0, 4.1, 6.1, 17.0, 79.0, 1e6].map(spaced);
        let expected = [
            (1.0, 2.0),
            (1.0, 2.0),
            (1.0, 4.0),
            (2.0, 6.0),
            (2.0, 8.0),
            (5.0, 20.0),
            (20.0, 80.0),
            (50.0, 200.0),
        ];
        assert_eq!(read, expected);
    }

    #[test]
    fn overhang_between_two_places_is_between_theirs() {
        let mut cup = sample::right().cup;
        assert_relative_eq!(proud_at(&cup, 45.0), 6.3);
        assert_relative_eq!(proud_at(&cup, 52.5), (6.3 + 5.2) / 2.0);
        assert_relative_eq!(proud_at(&cup, 352.0), 0.0);
        cup.overhang.clear();
        assert_relative_eq!(proud_at(&cup, 45.0), 0.0);
    }

    #[test]
    fn an_edge_in_bone_is_not_proud_whatever_its_neighbours_are() {
        let cup = sample::right().cup;
        // Half past twelve is 0.8 mm proud, and bone ends at a quarter past twelve: 7.5°.
        assert_relative_eq!(proud_at(&cup, 7.4), 0.0);
        assert_relative_eq!(proud_at(&cup, 7.6), 0.8 * 7.6 / 15.0);
        assert_relative_eq!(proud_at(&cup, 367.4), 0.0);
        // Past seven o'clock, 1.9 mm proud, bone begins at 222.5°.
        assert_relative_eq!(proud_at(&cup, 222.6), 0.0);
        assert_relative_eq!(proud_at(&cup, 222.4), 1.9 * 2.6 / 15.0, epsilon = 1e-9);
    }

    #[test]
    fn the_figure_says_how_to_look_at_it() {
        let (right, left) = (texts(&sample::right()), texts(&sample::left()));
        assert!(right.contains("Seen looking into the socket"));
        assert!(
            right.contains(
                "right hip anterior is to the viewer's right, and the hours run clockwise"
            )
        );
        assert!(left.contains(
            "left hip anterior is to the viewer's left, and the hours run anticlockwise"
        ));
        for words in [
            "superior",
            "anterior",
            "inferior",
            "posterior",
            "94 %",
            "38 %",
        ] {
            assert!(left.lines().any(|line| line == words), "{words}");
        }
        assert!(left.contains("worst overhang: 6.3 mm at 1:30"));
        assert!(left.contains("54.2 %") && left.contains("185.0° or 84.0 mm"));
    }

    #[test]
    fn an_arc_is_drawn_once_round_at_the_most() {
        assert_eq!(
            evenly(10.0, 22.0).collect::<Vec<_>>(),
            [10.0, 15.0, 20.0, 22.0]
        );
        assert_eq!(evenly(0.0, 1e9).last(), Some(360.0));
        assert!(evenly(f64::NEG_INFINITY, 0.0).count() <= MOST_POINTS + 1);
        assert!(evenly(f64::NAN, f64::INFINITY).count() <= MOST_POINTS + 1);
    }
}
