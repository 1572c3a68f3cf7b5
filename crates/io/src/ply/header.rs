//! The header of a PLY file.

use std::io::BufRead;

use thiserror::Error;

use super::BadPly;
use crate::format::Format;
use crate::text::{Words, quoted};

/// What is wrong with a header.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
pub enum BadHeader {
    /// The file does not begin with `ply`.
    #[error("the file does not begin with `ply`; check that it is a PLY file")]
    NotPly,
    /// The format is none of the three, or not version 1.0.
    #[error(
        "{found} is no PLY format; save as `ascii 1.0`, `binary_little_endian 1.0` or `binary_big_endian 1.0`"
    )]
    UnknownFormat {
        /// The words found.
        found: String,
    },
    /// There is no `format` line.
    #[error("there is no `format` line before this one; add one, or export the file again")]
    NoFormat,
    /// The line begins with a word that PLY does not know.
    #[error("{found} is no word of a PLY header; remove the line, or export the file again")]
    UnknownWord {
        /// The word.
        found: String,
    },
    /// An `element` line lacks a name or a count.
    #[error(
        "an element needs a name and a whole count (found {found}); correct the line, or export the file again"
    )]
    BadElement {
        /// The words found.
        found: String,
    },
    /// Two elements have one name.
    #[error(
        "the element `{element}` is declared twice; rename one of the two, or export the file again"
    )]
    ElementTwice {
        /// Its name.
        element: String,
    },
    /// A `property` line stands before the first element.
    #[error(
        "a property stands before the first element; move it below its element, or export the file again"
    )]
    StrayProperty,
    /// A property has no known type, or no name.
    #[error(
        "a property needs a known type and a name, a list two types of which the first is whole (found {found}); correct the line, or export the file again"
    )]
    BadProperty {
        /// The words found.
        found: String,
    },
    /// An element has no properties.
    #[error("the element `{element}` has no properties; remove it, or export the file again")]
    NoProperties {
        /// Its name.
        element: String,
    },
    /// The header does not end.
    #[error("the file ends before `end_header`; copy or export it again")]
    EndsEarly,
    /// A needed element or property is missing.
    #[error("the header declares no {what}; export the surface as triangles with x, y and z")]
    Missing {
        /// What is missing.
        what: &'static str,
    },
    /// More vertices than a mesh can have.
    #[error("{announced} vertices are more than a mesh can have; thin it out or cut it")]
    TooManyVertices {
        /// How many the header announces.
        announced: u64,
    },
}

/// The type of a number.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Scalar {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

/// The type of a property.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Kind {
    One(Scalar),
    List { count: Scalar, item: Scalar },
}

/// A named value of an element's entries.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Property {
    pub(super) name: String,
    pub(super) kind: Kind,
}

/// A table of the file.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Element {
    pub(super) name: String,
    pub(super) count: u64,
    pub(super) properties: Vec<Property>,
}

/// What the header declares. There are the elements and properties that a mesh needs.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Header {
    pub(super) format: Format,
    pub(super) elements: Vec<Element>,
    pub(super) vertices: u64,
}

/// The element that holds the vertices.
pub(super) const VERTEX: &str = "vertex";
/// The element that holds the faces.
pub(super) const FACE: &str = "face";
/// The coordinates' names.
pub(super) const AXES: [&str; 3] = ["x", "y", "z"];

impl Scalar {
    fn named(name: &[u8]) -> Option<Self> {
        Some(match name {
            b"char" | b"int8" => Self::I8,
            b"uchar" | b"uint8" => Self::U8,
            b"short" | b"int16" => Self::I16,
            b"ushort" | b"uint16" => Self::U16,
            b"int" | b"int32" => Self::I32,
            b"uint" | b"uint32" => Self::U32,
            b"float" | b"float32" => Self::F32,
            b"double" | b"float64" => Self::F64,
            _ => return None,
        })
    }

    /// Bytes in a binary file.
    pub(super) fn size(self) -> u8 {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    fn is_whole(self) -> bool {
        !matches!(self, Self::F32 | Self::F64)
    }
}

impl Property {
    /// Whether this is a face's list of vertices.
    pub(super) fn is_corners(&self) -> bool {
        let named = self.name == "vertex_indices" || self.name == "vertex_index";
        named && matches!(self.kind, Kind::List { item, .. } if item.is_whole())
    }

    /// Which coordinate this is: 0, 1 or 2.
    pub(super) fn axis(&self) -> Option<usize> {
        let axis = AXES.iter().position(|&axis| self.name == axis);
        axis.filter(|_| matches!(self.kind, Kind::One(_)))
    }
}

/// Reads up to and including the line `end_header`.
pub(super) fn read(words: &mut Words<impl BufRead>) -> Result<Header, BadPly> {
    if !words.next_line()? || words.next_on_line() != Some(b"ply") {
        return Err(BadPly::Header {
            line: 1,
            problem: BadHeader::NotPly,
        });
    }
    let mut draft = Draft::default();
    loop {
        let more = words.next_line()?;
        let line = words.line_number();
        let at_line = |problem| BadPly::Header { line, problem };
        if !more {
            return Err(at_line(BadHeader::EndsEarly));
        }
        let statement: Vec<&[u8]> = words.rest_of_line().collect();
        if statement == [b"end_header"] {
            return draft.finished().map_err(at_line);
        }
        draft.take(&statement).map_err(at_line)?;
    }
}

/// What the lines so far declare.
#[derive(Default)]
struct Draft {
    format: Option<Format>,
    elements: Vec<Element>,
}

impl Draft {
    /// Takes a line.
    fn take(&mut self, statement: &[&[u8]]) -> Result<(), BadHeader> {
        match statement {
            [] | [b"comment" | b"obj_info", ..] => Ok(()),
            [b"format", format @ ..] => self.format(format),
            _ if self.format.is_none() => Err(BadHeader::NoFormat),
            [b"element", element @ ..] => self.element(element),
            [b"property", property @ ..] => self.property(property),
            [word, ..] => Err(BadHeader::UnknownWord {
                found: quoted(word),
            }),
        }
    }

    fn format(&mut self, words: &[&[u8]]) -> Result<(), BadHeader> {
        self.format = Some(match words {
            [b"ascii", b"1.0"] => Format::PlyAscii,
            [b"binary_little_endian", b"1.0"] => Format::PlyLittleEndian,
            [b"binary_big_endian", b"1.0"] => Format::PlyBigEndian,
            _ => {
                let found = quoted(&words.join(&b' '));
                return Err(BadHeader::UnknownFormat { found });
            }
        });
        Ok(())
    }

    fn element(&mut self, words: &[&[u8]]) -> Result<(), BadHeader> {
        let bad = || BadHeader::BadElement {
            found: quoted(&words.join(&b' ')),
        };
        let [name, count] = words else {
            return Err(bad());
        };
        let count = std::str::from_utf8(count).ok().and_then(|c| c.parse().ok());
        let count = count.ok_or_else(bad)?;
        let name = String::from_utf8_lossy(name).into_owned();
        if self.elements.iter().any(|e| e.name == name) {
            return Err(BadHeader::ElementTwice { element: name });
        }
        self.elements.push(Element {
            name,
            count,
            properties: Vec::new(),
        });
        Ok(())
    }

    fn property(&mut self, words: &[&[u8]]) -> Result<(), BadHeader> {
        let bad = || BadHeader::BadProperty {
            found: quoted(&words.join(&b' ')),
        };
        let element = self.elements.last_mut().ok_or(BadHeader::StrayProperty)?;
        let kind_and_name = match words {
            [b"list", count, item, name] => {
                let count = Scalar::named(count).filter(|c| c.is_whole());
                let kind = count.zip(Scalar::named(item));
                kind.map(|(count, item)| (Kind::List { count, item }, name))
            }
            [one, name] => Scalar::named(one).map(|one| (Kind::One(one), name)),
            _ => None,
        };
        let (kind, name) = kind_and_name.ok_or_else(bad)?;
        element.properties.push(Property {
            name: String::from_utf8_lossy(name).into_owned(),
            kind,
        });
        Ok(())
    }

    /// The header, if it declares what a mesh needs.
    fn finished(self) -> Result<Header, BadHeader> {
        const MOST_VERTICES: u64 = u32::MAX as u64 / 4;
        let format = self.format.ok_or(BadHeader::NoFormat)?;
        if let Some(empty) = self.elements.iter().find(|e| e.properties.is_empty()) {
            return Err(BadHeader::NoProperties {
                element: empty.name.clone(),
            });
        }
        let needed = |name: &str, what| {
            let element = self.elements.iter().find(|e| e.name == name);
            element.ok_or(BadHeader::Missing { what })
        };
        let vertex = needed(VERTEX, "element `vertex`")?;
        let face = needed(FACE, "element `face`")?;
        let whats = ["property `x`", "property `y`", "property `z`"];
        for (axis, what) in whats.into_iter().enumerate() {
            let count = vertex
                .properties
                .iter()
                .filter(|p| p.axis() == Some(axis))
                .count();
            if count != 1 {
                return Err(BadHeader::Missing { what });
            }
        }
        if face.properties.iter().filter(|p| p.is_corners()).count() != 1 {
            let what = "list `vertex_indices` of whole numbers";
            return Err(BadHeader::Missing { what });
        }
        let announced = vertex.count;
        if announced > MOST_VERTICES {
            return Err(BadHeader::TooManyVertices { announced });
        }
        Ok(Header {
            format,
            vertices: announced,
            elements: self.elements,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINES: [&str; 9] = [
        "ply",
        "format ascii 1.0",
        "element vertex 3",
        "property float x",
        "property float y",
        "property float z",
        "element face 1",
        "property list uchar int vertex_indices",
        "end_header",
    ];

    /// Refuses the header above once line `line` (from 1) is replaced.
    #[track_caller]
    fn refused(line: usize, by: &str, at: usize, message: &str) {
        let mut lines = LINES;
        lines[line - 1] = by;
        let text = lines.join("\n");
        let refused = read(&mut Words::new(text.as_bytes())).unwrap_err();
        assert_eq!(refused.to_string(), format!("header, line {at}: {message}"));
    }

    #[test]
    fn a_header_declares_elements_and_properties() {
        let text = LINES.join("\n");
        let header = read(&mut Words::new(text.as_bytes())).unwrap();
        assert_eq!(header.format, Format::PlyAscii);
        assert_eq!(header.vertices, 3);
        let list = Kind::List {
            count: Scalar::U8,
            item: Scalar::I32,
        };
        assert_eq!(header.elements[1].properties[0].kind, list);
    }

    #[test]
    fn a_wrong_line_is_refused_with_its_number() {
        refused(
            1,
            "solid",
            1,
            "the file does not begin with `ply`; check that it is a PLY file",
        );
        refused(
            2,
            "format ascii 2.0",
            2,
            "'ascii 2.0' is no PLY format; save as `ascii 1.0`, `binary_little_endian 1.0` or `binary_big_endian 1.0`",
        );
        refused(
            2,
            "",
            3,
            "there is no `format` line before this one; add one, or export the file again",
        );
        refused(
            3,
            "element vertex -3",
            3,
            "an element needs a name and a whole count (found 'vertex -3'); correct the line, or export the file again",
        );
        refused(
            7,
            "element vertex 1",
            7,
            "the element `vertex` is declared twice; rename one of the two, or export the file again",
        );
        refused(
            3,
            "",
            4,
            "a property stands before the first element; move it below its element, or export the file again",
        );
        for bad in [
            "property vec3 x",
            "property list float int x",
            "property list int x",
        ] {
            let words = bad.trim_start_matches("property ");
            refused(
                4,
                bad,
                4,
                &format!(
                    "a property needs a known type and a name, a list two types of which the first is whole (found '{words}'); \
                     correct the line, or export the file again"
                ),
            );
        }
        refused(
            4,
            "colour red",
            4,
            "'colour' is no word of a PLY header; remove the line, or export the file again",
        );
    }

    #[test]
    fn what_a_mesh_needs_must_be_declared() {
        let missing = |what: &str| {
            format!(
                "the header declares no {what}; export the surface as triangles with x, y and z"
            )
        };
        refused(5, "", 9, &missing("property `y`"));
        refused(
            5,
            "property list uchar float y",
            9,
            &missing("property `y`"),
        );
        refused(3, "element point 3", 9, &missing("element `vertex`"));
        refused(7, "element tristrips 1", 9, &missing("element `face`"));
        refused(
            8,
            "property list uchar float vertex_indices",
            9,
            &missing("list `vertex_indices` of whole numbers"),
        );
        refused(
            8,
            "",
            9,
            "the element `face` has no properties; remove it, or export the file again",
        );
    }

    #[test]
    fn a_header_without_an_end_is_refused() {
        refused(
            9,
            "",
            8,
            "the file ends before `end_header`; copy or export it again",
        );
    }

    #[test]
    fn more_vertices_than_a_mesh_can_have_are_refused() {
        refused(
            3,
            "element vertex 4000000000",
            9,
            "4000000000 vertices are more than a mesh can have; thin it out or cut it",
        );
    }
}
