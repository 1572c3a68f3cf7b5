//! Pictures as SVG: the only module that knows the plotting library.
//!
//! Coordinates of shapes are in units of the picture, x to the right and y down from its upper left
//! corner. Points that are not finite are left out, and points beyond an axis held at its
//! end.

use std::borrow::Cow;
use std::io;
use std::ops::Range;

use plotters::coord::Shift;
use plotters::element::DashedPathElement;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// A place in a picture, or a pair of values in a [`Chart`].
pub(super) type Point = (f64, f64);

/// What a line is drawn with, and what an area is filled with.
///
/// The palette of M. Okabe and K. Ito, "Color Universal Design: how to make figures and
/// presentations that are friendly to colorblind people", 2008, white, and two greys.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Ink {
    Black,
    White,
    Grey,
    PaleGrey,
    SkyBlue,
    Blue,
    Vermillion,
    /// A colour of a scale: red, green, blue.
    OfScale(u8, u8, u8),
}

impl Ink {
    /// All of them.
    #[cfg(test)]
    pub(super) const ALL: [Self; 7] = [
        Self::Black,
        Self::White,
        Self::Grey,
        Self::PaleGrey,
        Self::SkyBlue,
        Self::Blue,
        Self::Vermillion,
    ];

    /// The colour as the pictures write it: `#0072B2`.
    #[cfg(test)]
    pub(super) fn written(self) -> String {
        let RGBColor(red, green, blue) = self.colour();
        format!("#{red:02X}{green:02X}{blue:02X}")
    }

    fn colour(self) -> RGBColor {
        match self {
            Self::Black => RGBColor(0, 0, 0),
            Self::White => RGBColor(255, 255, 255),
            Self::Grey => RGBColor(100, 100, 100),
            Self::PaleGrey => RGBColor(190, 190, 190),
            Self::SkyBlue => RGBColor(86, 180, 233),
            Self::Blue => RGBColor(0, 114, 178),
            Self::Vermillion => RGBColor(213, 94, 0),
            Self::OfScale(red, green, blue) => RGBColor(red, green, blue),
        }
    }
}

/// How a line runs.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Dash {
    Solid,
    Dashed,
}

/// What marks a point.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Mark {
    Disc,
    Triangle,
    Square,
}

/// Where a text stands from its point.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Anchor {
    Left,
    Centre,
}

/// Something drawn on the picture.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Shape {
    Line {
        points: Vec<Point>,
        ink: Ink,
        width: u32,
        dash: Dash,
    },
    Circle {
        centre: Point,
        radius: f64,
        ink: Ink,
        width: u32,
    },
    Area {
        points: Vec<Point>,
        ink: Ink,
        opacity: f64,
    },
    Mark {
        at: Point,
        ink: Ink,
        mark: Mark,
    },
    Text {
        at: Point,
        anchor: Anchor,
        size: f64,
        text: String,
    },
}

/// One dependence drawn in a [`Chart`]: its points, connected in their order.
pub(super) struct Series {
    pub(super) points: Vec<Point>,
    pub(super) ink: Ink,
    pub(super) dash: Dash,
    pub(super) mark: Mark,
}

/// An axis: what it shows, with its unit, and from where to where.
pub(super) struct Axis {
    pub(super) label: Cow<'static, str>,
    pub(super) range: Range<f64>,
}

/// A pair of axes with what is drawn between them.
pub(super) struct Chart {
    /// Upper edge and height of its place in the picture, labels included.
    pub(super) top: f64,
    pub(super) height: f64,
    pub(super) x: Axis,
    pub(super) y: Axis,
    pub(super) series: Vec<Series>,
}

/// A picture.
pub(super) struct Picture {
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) shapes: Vec<Shape>,
    pub(super) charts: Vec<Chart>,
}

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Drawn = Result<(), DrawingAreaErrorKind<io::Error>>;

/// Radius of a disc, the largest mark, so that another at the same place leaves its edge seen.
const DISC: i32 = 12;
/// Size of the other marks.
const MARK: i32 = 10;
/// No picture is as wide as this.
const FAR_OUT: f64 = 1e5;
/// Dash and gap of a dashed line.
const DASH: [i32; 2] = [14, 9];
/// Text on and beside the axes.
const TICK_SIZE: f64 = 24.0;
const AXIS_SIZE: f64 = 26.0;
/// The library takes the height of a line of text for its size; the font is smaller by this.
const LINE_HEIGHT: f64 = 1.24;

impl Picture {
    /// The picture as an SVG document.
    pub(super) fn svg(&self) -> io::Result<String> {
        let mut document = String::new();
        self.draw(&mut document).map_err(io::Error::other)?;
        Ok(document)
    }

    fn draw(&self, document: &mut String) -> Drawn {
        let area = SVGBackend::with_string(document, (self.width, self.height)).into_drawing_area();
        area.fill(&WHITE)?;
        for chart in &self.charts {
            chart.draw(&area, self.width)?;
        }
        for shape in &self.shapes {
            shape.draw(&area)?;
        }
        area.present()
    }
}

impl Shape {
    /// The same elsewhere.
    pub(super) fn moved(mut self, right: f64, down: f64) -> Self {
        let shift = |(x, y): &mut Point| (*x, *y) = (*x + right, *y + down);
        match &mut self {
            Self::Line { points, .. } | Self::Area { points, .. } => {
                points.iter_mut().for_each(shift);
            }
            Self::Circle { centre: at, .. } | Self::Mark { at, .. } | Self::Text { at, .. } => {
                shift(at);
            }
        }
        self
    }

    /// The same with letters this many times as large.
    pub(super) fn with_letters(mut self, times: f64) -> Self {
        if let Self::Text { size, .. } = &mut self {
            *size *= times;
        }
        self
    }

    fn draw(&self, area: &Area) -> Drawn {
        match self {
            Self::Line {
                points,
                ink,
                width,
                dash,
            } => draw_line(area, points, ink.colour().stroke_width(*width), *dash),
            Self::Circle {
                centre,
                radius,
                ink,
                width,
            } => {
                let style = ink.colour().stroke_width(*width);
                let mut centres = on_grid(&[*centre]).into_iter();
                centres.try_for_each(|at| area.draw(&Circle::new(at, rounded(*radius), style)))
            }
            Self::Area {
                points,
                ink,
                opacity,
            } => {
                let style = ink.colour().mix(*opacity).filled();
                area.draw(&Polygon::new(on_grid(points), style))
            }
            Self::Mark { at, ink, mark } => draw_mark(area, *at, *mark, *ink),
            Self::Text {
                at,
                anchor,
                size,
                text,
            } => draw_text(area, *at, *anchor, *size, text),
        }
    }
}

fn draw_line(area: &Area, points: &[Point], style: ShapeStyle, dash: Dash) -> Drawn {
    let points = on_grid(points);
    match dash {
        Dash::Solid => area.draw(&PathElement::new(points, style)),
        Dash::Dashed => {
            let [dash, gap] = DASH;
            area.draw(&DashedPathElement::new(points, dash, gap, style))
        }
    }
}

fn draw_mark(area: &Area, at: Point, mark: Mark, ink: Ink) -> Drawn {
    let style = ink.colour().filled();
    on_grid(&[at])
        .into_iter()
        .try_for_each(|(x, y)| match mark {
            Mark::Disc => area.draw(&Circle::new((x, y), DISC, style)),
            Mark::Triangle => area.draw(&TriangleMarker::new((x, y), MARK + 1, style)),
            Mark::Square => {
                let corners = [(x - MARK, y - MARK), (x + MARK, y + MARK)];
                area.draw(&Rectangle::new(corners, style))
            }
        })
}

fn draw_text(area: &Area, at: Point, anchor: Anchor, size: f64, text: &str) -> Drawn {
    let horizontal = match anchor {
        Anchor::Left => HPos::Left,
        Anchor::Centre => HPos::Center,
    };
    let style = text_style(size).pos(Pos::new(horizontal, VPos::Center));
    on_grid(&[at])
        .into_iter()
        .try_for_each(|at| area.draw(&Text::new(text, at, style.clone())))
}

impl Chart {
    fn draw(&self, area: &Area, width: u32) -> Drawn {
        let size = (width.cast_signed(), rounded(self.height));
        let place = area.clone().shrink((0, rounded(self.top)), size);
        let mut chart = ChartBuilder::on(&place)
            .margin_left(30)
            .margin_right(40)
            .x_label_area_size(90)
            .y_label_area_size(120)
            .build_cartesian_2d(self.x.range.clone(), self.y.range.clone())?;
        let number = |value: &f64| ((value * 1e6).round() / 1e6).to_string();
        chart
            .configure_mesh()
            .x_desc(self.x.label.as_ref())
            .y_desc(self.y.label.as_ref())
            .x_labels(12)
            .y_labels(6)
            .max_light_lines(0)
            .bold_line_style(Ink::PaleGrey.colour())
            .x_label_formatter(&number)
            .y_label_formatter(&number)
            .label_style(text_style(TICK_SIZE))
            .axis_desc_style(text_style(AXIS_SIZE))
            .draw()?;
        for series in &self.series {
            let finite = series.points.iter().filter(|point| is_finite(point));
            let placed = finite.map(|(x, y)| {
                let at = (self.x.held(*x), self.y.held(*y));
                let (x, y) = chart.backend_coord(&at);
                (f64::from(x), f64::from(y))
            });
            let placed: Vec<_> = placed.collect();
            draw_line(
                area,
                &placed,
                series.ink.colour().stroke_width(4),
                series.dash,
            )?;
            for at in placed {
                draw_mark(area, at, series.mark, series.ink)?;
            }
        }
        Ok(())
    }
}

impl Axis {
    /// `value`, held within the axis.
    fn held(&self, value: f64) -> f64 {
        value.max(self.range.start).min(self.range.end)
    }
}

fn text_style(size: f64) -> TextStyle<'static> {
    ("sans-serif", size * LINE_HEIGHT).into_text_style(&(1, 1))
}

fn on_grid(points: &[Point]) -> Vec<(i32, i32)> {
    let finite = points.iter().filter(|point| is_finite(point));
    finite.map(|(x, y)| (rounded(*x), rounded(*y))).collect()
}

fn is_finite((x, y): &Point) -> bool {
    x.is_finite() && y.is_finite()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "the library draws on a grid of whole numbers, and these are held within i32"
)]
fn rounded(value: f64) -> i32 {
    value.round().clamp(-FAR_OUT, FAR_OUT) as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(shapes: Vec<Shape>) -> String {
        let picture = Picture {
            width: 100,
            height: 100,
            shapes,
            charts: vec![],
        };
        picture.svg().unwrap()
    }

    fn line(points: Vec<Point>, dash: Dash) -> Vec<Shape> {
        vec![Shape::Line {
            points,
            ink: Ink::Blue,
            width: 3,
            dash,
        }]
    }

    #[test]
    fn a_line_runs_through_its_points() {
        let svg = drawn(line(vec![(1.0, 2.0), (3.4, 4.6)], Dash::Solid));
        assert!(svg.contains("points=\"1,2 3,5 \""), "{svg}");
        assert!(
            svg.contains("#0072B2") && svg.ends_with("</svg>\n"),
            "{svg}"
        );
    }

    #[test]
    fn a_dashed_line_is_several() {
        let svg = drawn(line(vec![(0.0, 0.0), (60.0, 0.0)], Dash::Dashed));
        assert_eq!(svg.matches("<polyline").count(), 3, "{svg}");
    }

    #[test]
    fn a_point_that_is_not_finite_is_left_out() {
        let points = vec![
            (1.0, 2.0),
            (f64::NAN, 0.0),
            (0.0, f64::INFINITY),
            (3.0, 4.0),
        ];
        let svg = drawn(line(points, Dash::Solid));
        assert!(svg.contains("points=\"1,2 3,4 \""), "{svg}");
    }

    #[test]
    fn a_chart_holds_its_points() {
        let points = vec![(5.0, 1e300), (-1e300, 50.0), (f64::NAN, 1.0)];
        let axis = |label: &'static str, end| Axis {
            label: label.into(),
            range: 0.0..end,
        };
        let picture = Picture {
            width: 1000,
            height: 1000,
            shapes: vec![],
            charts: vec![Chart {
                top: 0.0,
                height: 1000.0,
                x: axis("time (s)", 10.0),
                y: axis("way (m)", 100.0),
                series: vec![Series {
                    points,
                    ink: Ink::Blue,
                    dash: Dash::Dashed,
                    mark: Mark::Disc,
                }],
            }],
        };
        let svg = picture.svg().unwrap();
        assert_eq!(svg.matches("<circle").count(), 2, "{svg}");
        assert!(svg.contains("time (s)") && svg.contains("way (m)"), "{svg}");
    }
}
