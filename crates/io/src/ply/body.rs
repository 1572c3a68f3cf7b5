//! The data of a PLY file.

use std::io::{self, BufRead, Read};

use nalgebra::Point3;
use thiserror::Error;

use super::BadPly;
use super::header::{AXES, Element, FACE, Header, Kind, Property, Scalar, VERTEX};
use crate::loaded::Place;
use crate::obj::Fan;
use crate::text::{self, BadLine, Words, quoted};

/// What is wrong with an entry of an element.
#[derive(Debug, Error)]
pub enum BadRow {
    /// The file ends.
    #[error(
        "the file ends here; it was cut short or its header announces too many; copy or export it again"
    )]
    Ends,
    /// The line has too few values.
    #[error(
        "there are fewer values than the header declares; correct the line, or export the file again"
    )]
    TooFewValues,
    /// The line has too many values.
    #[error(
        "there are more values than the header declares; correct the line, or export the file again"
    )]
    TooManyValues,
    /// A word stands where a number should.
    #[error(
        "{property}: {found} is no number of the declared type; write numbers like -12.5 or 1e-3, or export the file again"
    )]
    NotANumber {
        /// Name of the property.
        property: String,
        /// The word.
        found: String,
    },
    /// A coordinate is NaN or infinite.
    #[error(
        "{axis} is {value}, not a finite number; repair the mesh where it was made and export it again"
    )]
    NotFinite {
        /// Which coordinate.
        axis: &'static str,
        /// Its value.
        value: f64,
    },
    /// A list has a negative length.
    #[error(
        "{property}: a list cannot have {length} entries; correct it, or export the file again"
    )]
    BadLength {
        /// Name of the property.
        property: String,
        /// The length.
        length: i64,
    },
    /// A face names a vertex that does not exist.
    #[error(
        "it names vertex {index}, but there are {vertices}, counted from 0; correct it, or export the file again"
    )]
    IndexOutOfRange {
        /// The index.
        index: i64,
        /// How many vertices there are.
        vertices: u64,
    },
    /// A face has fewer than three corners.
    #[error(
        "it has {corners} corners where three are needed; correct it, or export the file again"
    )]
    TooFewCorners {
        /// How many corners it has.
        corners: usize,
    },
    /// The operating system refused to read on.
    #[error("it cannot be read ({0}); check the disk, or copy the file again")]
    Unreadable(io::Error),
    /// A line cannot be had.
    #[error("{0}")]
    Line(BadLine),
}

/// Vertices, triangles, and how many faces had more than three corners.
#[derive(Default)]
pub(super) struct Body {
    pub(super) vertices: Vec<Point3<f64>>,
    pub(super) triangles: Vec<[u32; 3]>,
    pub(super) polygons: usize,
}

/// The order of a number's bytes.
#[derive(Clone, Copy)]
pub(super) enum Endian {
    Little,
    Big,
}

/// Reads the data that follows the header as text.
pub(super) fn read_ascii(words: Words<impl BufRead>, header: &Header) -> Result<Body, BadPly> {
    read(AsciiValues { words }, header)
}

/// Reads the data that follows the header in binary.
pub(super) fn read_binary(
    words: Words<impl BufRead>,
    header: &Header,
    endian: Endian,
) -> Result<Body, BadPly> {
    let values = BinaryValues {
        at: words.bytes_taken(),
        input: words.into_rest(),
        endian,
    };
    read(values, header)
}

fn read(mut values: impl Values, header: &Header) -> Result<Body, BadPly> {
    let mut body = Body::default();
    for element in &header.elements {
        for row in 0..element.count {
            read_row(&mut values, element, header.vertices, &mut body).map_err(|problem| {
                BadPly::Row {
                    place: values.place(),
                    element: element.name.clone(),
                    row,
                    announced: element.count,
                    problem,
                }
            })?;
        }
    }
    match values.left_over() {
        Some(place) => Err(BadPly::LeftOver { place }),
        None => Ok(body),
    }
}

/// Takes one entry of `element` into `body`.
fn read_row(
    values: &mut impl Values,
    element: &Element,
    vertices: u64,
    body: &mut Body,
) -> Result<(), BadRow> {
    values.begin_row()?;
    match element.name.as_str() {
        VERTEX => {
            let place = vertex(values, &element.properties)?;
            body.vertices.push(place);
        }
        FACE => face(values, &element.properties, vertices, body)?,
        _ => {
            for property in &element.properties {
                skip(values, property)?;
            }
        }
    }
    values.end_row()
}

/// The place of a vertex, which must be finite.
fn vertex(values: &mut impl Values, properties: &[Property]) -> Result<Point3<f64>, BadRow> {
    let mut place = Point3::origin();
    for property in properties {
        match (property.axis(), property.kind) {
            (Some(axis), Kind::One(scalar)) => {
                let value = values.real(scalar, &property.name)?;
                if !value.is_finite() {
                    let axis = AXES[axis];
                    return Err(BadRow::NotFinite { axis, value });
                }
                place[axis] = value;
            }
            _ => skip(values, property)?,
        }
    }
    Ok(place)
}

/// Adds a face's triangles to `body`.
fn face(
    values: &mut impl Values,
    properties: &[Property],
    vertices: u64,
    body: &mut Body,
) -> Result<(), BadRow> {
    for property in properties {
        match property.kind {
            Kind::List { count, item } if property.is_corners() => {
                let mut fan = Fan::default();
                for _ in 0..length(values, count, property)? {
                    let index = values.whole(item, &property.name)?;
                    let corner = u32::try_from(index).ok();
                    let corner = corner.filter(|&c| u64::from(c) < vertices);
                    let corner = corner.ok_or(BadRow::IndexOutOfRange { index, vertices })?;
                    body.triangles.extend(fan.add(corner));
                }
                let corners = fan.corners();
                if corners < 3 {
                    return Err(BadRow::TooFewCorners { corners });
                }
                body.polygons += usize::from(corners > 3);
            }
            _ => skip(values, property)?,
        }
    }
    Ok(())
}

fn skip(values: &mut impl Values, property: &Property) -> Result<(), BadRow> {
    match property.kind {
        Kind::One(scalar) => values.skip(scalar, 1),
        Kind::List { count, item } => {
            let length = length(values, count, property)?;
            values.skip(item, length)
        }
    }
}

/// The length that begins a list.
fn length(values: &mut impl Values, count: Scalar, property: &Property) -> Result<u64, BadRow> {
    let length = values.whole(count, &property.name)?;
    u64::try_from(length).map_err(|_| BadRow::BadLength {
        property: property.name.clone(),
        length,
    })
}

/// The numbers of the data, one after the other.
trait Values {
    /// Begins an entry.
    fn begin_row(&mut self) -> Result<(), BadRow>;
    /// A number, finite or not, of the named property.
    fn real(&mut self, scalar: Scalar, property: &str) -> Result<f64, BadRow>;
    /// A whole number of the named property.
    fn whole(&mut self, scalar: Scalar, property: &str) -> Result<i64, BadRow>;
    /// Passes over `count` numbers.
    fn skip(&mut self, scalar: Scalar, count: u64) -> Result<(), BadRow>;
    /// Ends an entry.
    fn end_row(&mut self) -> Result<(), BadRow>;
    /// Where reading has come to.
    fn place(&self) -> Place;
    /// Where more begins, if there is more.
    fn left_over(&mut self) -> Option<Place>;
}

/// One entry a line; empty lines do not count.
struct AsciiValues<R> {
    words: Words<R>,
}

impl<R: BufRead> AsciiValues<R> {
    fn word(&mut self) -> Result<&[u8], BadRow> {
        self.words.next_on_line().ok_or(BadRow::TooFewValues)
    }

    /// The next word as `parse` understands it.
    fn parsed<T>(&mut self, property: &str, parse: fn(&[u8]) -> Option<T>) -> Result<T, BadRow> {
        let word = self.word()?;
        parse(word).ok_or_else(|| BadRow::NotANumber {
            property: property.into(),
            found: quoted(word),
        })
    }
}

impl<R: BufRead> Values for AsciiValues<R> {
    fn begin_row(&mut self) -> Result<(), BadRow> {
        self.words.skip_line();
        let more = self.words.reach_word().map_err(BadRow::Line)?;
        more.then_some(()).ok_or(BadRow::Ends)
    }

    fn real(&mut self, _: Scalar, property: &str) -> Result<f64, BadRow> {
        self.parsed(property, text::number)
    }

    fn whole(&mut self, _: Scalar, property: &str) -> Result<i64, BadRow> {
        self.parsed(property, text::whole)
    }

    fn skip(&mut self, _: Scalar, count: u64) -> Result<(), BadRow> {
        for _ in 0..count {
            self.word()?;
        }
        Ok(())
    }

    fn end_row(&mut self) -> Result<(), BadRow> {
        match self.words.next_on_line() {
            Some(_) => Err(BadRow::TooManyValues),
            None => Ok(()),
        }
    }

    fn place(&self) -> Place {
        Place::Line(self.words.line_number())
    }

    fn left_over(&mut self) -> Option<Place> {
        let none = matches!(self.words.reach_word(), Ok(false));
        (!none).then(|| self.place())
    }
}

/// Numbers without anything between them.
struct BinaryValues<R> {
    input: R,
    at: u64,
    endian: Endian,
}

impl<R: Read> BinaryValues<R> {
    /// The next `N` bytes, least significant first.
    fn bytes<const N: usize>(&mut self) -> Result<[u8; N], BadRow> {
        let mut bytes = [0; N];
        let mut taken = 0;
        while taken < N {
            match self.input.read(&mut bytes[taken..]) {
                Ok(0) => return Err(BadRow::Ends),
                Ok(more) => {
                    taken += more;
                    self.at += more as u64;
                }
                Err(cause) if cause.kind() == io::ErrorKind::Interrupted => {}
                Err(cause) => return Err(BadRow::Unreadable(cause)),
            }
        }
        if let Endian::Big = self.endian {
            bytes.reverse();
        }
        Ok(bytes)
    }
}

impl<R: Read> Values for BinaryValues<R> {
    fn begin_row(&mut self) -> Result<(), BadRow> {
        Ok(())
    }

    fn real(&mut self, scalar: Scalar, _: &str) -> Result<f64, BadRow> {
        match scalar {
            Scalar::F64 => self.bytes().map(f64::from_le_bytes),
            Scalar::F32 => Ok(f32::from_le_bytes(self.bytes()?).into()),
            Scalar::U32 => Ok(u32::from_le_bytes(self.bytes()?).into()),
            Scalar::I32 => Ok(i32::from_le_bytes(self.bytes()?).into()),
            Scalar::U16 => Ok(u16::from_le_bytes(self.bytes()?).into()),
            Scalar::I16 => Ok(i16::from_le_bytes(self.bytes()?).into()),
            Scalar::U8 => Ok(u8::from_le_bytes(self.bytes()?).into()),
            Scalar::I8 => Ok(i8::from_le_bytes(self.bytes()?).into()),
        }
    }

    /// The header has seen to it that `scalar` is a whole type; each of them fits an `f64`, too.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "whole numbers of at most 32 bits pass through f64 unchanged"
    )]
    fn whole(&mut self, scalar: Scalar, property: &str) -> Result<i64, BadRow> {
        self.real(scalar, property).map(|number| number as i64)
    }

    fn skip(&mut self, scalar: Scalar, count: u64) -> Result<(), BadRow> {
        let length = count * u64::from(scalar.size());
        let mut skipped = self.input.by_ref().take(length);
        let taken = io::copy(&mut skipped, &mut io::sink()).map_err(BadRow::Unreadable)?;
        self.at += taken;
        (taken == length).then_some(()).ok_or(BadRow::Ends)
    }

    fn end_row(&mut self) -> Result<(), BadRow> {
        Ok(())
    }

    fn place(&self) -> Place {
        Place::Byte(self.at)
    }

    fn left_over(&mut self) -> Option<Place> {
        let place = self.place();
        let none = matches!(self.bytes::<1>(), Err(BadRow::Ends));
        (!none).then_some(place)
    }
}
