//! The STL file inside a DICOM encapsulated STL object (PS3.3 of the DICOM standard, Encapsulated STL
//! Information Object; PS3.5 for its bytes).
//!
//! Read are the two transfer syntaxes whose bytes are not packed, least significant byte first. Everything
//! but class, unit and document is passed over, so that nobody's name is kept in memory.

use std::io::{self, Read};

use thiserror::Error;

/// The class of an encapsulated STL object.
const ENCAPSULATED_STL: &str = "1.2.840.10008.5.1.4.1.1.104.3";
/// Transfer syntaxes: each element with its kind of value, and without.
const EXPLICIT: &str = "1.2.840.10008.1.2.1";
const IMPLICIT: &str = "1.2.840.10008.1.2";

/// Bytes before the first element: 128 that mean nothing, then `DICM`.
const PREAMBLE: u64 = 132;
/// A length that is not stated; the value is a list of items that has an end mark.
const UNDEFINED: u32 = u32::MAX;
/// The longest class or unit; identifiers have at most 64 bytes.
const LONGEST_TEXT: u32 = 64;

const TRANSFER_SYNTAX: u32 = 0x0002_0010;
const CLASS: u32 = 0x0008_0016;
const CODE: u32 = 0x0008_0100;
const UNITS: u32 = 0x0040_08ea;
const DOCUMENT: u32 = 0x0042_0011;
const ITEM: u32 = 0xfffe_e000;
const END_OF_ITEM: u32 = 0xfffe_e00d;
const END_OF_LIST: u32 = 0xfffe_e0dd;

/// An STL file as a DICOM object holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct EncapsulatedStl {
    /// The STL file.
    pub bytes: Vec<u8>,
    /// The code of its unit of length, where one is stated.
    pub unit: Option<String>,
}

/// Why no STL file can be had from a DICOM object.
#[derive(Debug, Error)]
pub enum BadDicom {
    /// Another kind of object.
    #[error(
        "the object is of class {0}, not an encapsulated STL ({ENCAPSULATED_STL}); export the surface of the bone, or its labels as NIfTI or NRRD"
    )]
    Class(String),
    /// Bytes in an order or packing that is not read.
    #[error(
        "the transfer syntax is {0:?}, which is not read; save the object in explicit VR little endian"
    )]
    Syntax(String),
    /// No document.
    #[error("the object ends without an encapsulated document; export it again")]
    NoDocument,
    /// A document in pieces.
    #[error("the encapsulated document does not state its length; export it again")]
    InPieces,
    /// The file ends too early.
    #[error(
        "the file ends after byte {0}, within an element: it was cut short; copy or export it again"
    )]
    CutShort(u64),
    /// The operating system refused to read on.
    #[error("the file cannot be read after byte {at} ({cause}); check the disk, or copy it again")]
    Unreadable {
        /// Bytes so far.
        at: u64,
        /// What the operating system says.
        cause: io::Error,
    },
}

/// Whether a file that begins with `prefix` is a DICOM object.
pub fn is_dicom(prefix: &[u8]) -> bool {
    prefix.get(128..132) == Some(b"DICM")
}

/// Bytes of a file, counted.
struct Bytes<R> {
    input: R,
    at: u64,
}

/// An element up to its value.
struct Element {
    tag: u32,
    length: u32,
}

impl<R: Read> Bytes<R> {
    fn exactly<const N: usize>(&mut self) -> Result<[u8; N], BadDicom> {
        let taken = self.up_to(N as u64)?;
        taken.try_into().map_err(|_| BadDicom::CutShort(self.at))
    }

    /// The next bytes, fewer at the end of the file. Memory grows with what is there.
    fn up_to(&mut self, length: u64) -> Result<Vec<u8>, BadDicom> {
        let mut taken = Vec::new();
        let read = self.input.by_ref().take(length).read_to_end(&mut taken);
        let read = read.map_err(|cause| BadDicom::Unreadable { at: self.at, cause })?;
        self.at += read as u64;
        Ok(taken)
    }

    fn all(&mut self, length: u32) -> Result<Vec<u8>, BadDicom> {
        let taken = self.up_to(length.into())?;
        if taken.len() as u64 == u64::from(length) {
            Ok(taken)
        } else {
            Err(BadDicom::CutShort(self.at))
        }
    }

    fn skip(&mut self, length: u64) -> Result<(), BadDicom> {
        let skipped = io::copy(&mut self.input.by_ref().take(length), &mut io::sink());
        let skipped = skipped.map_err(|cause| BadDicom::Unreadable { at: self.at, cause })?;
        self.at += skipped;
        if skipped == length {
            Ok(())
        } else {
            Err(BadDicom::CutShort(self.at))
        }
    }

    /// A short text; those that are too long to be one come back cut off.
    fn text(&mut self, length: u32) -> Result<String, BadDicom> {
        let text = self.all(length.min(LONGEST_TEXT))?;
        self.skip(length.saturating_sub(LONGEST_TEXT).into())?;
        let text = String::from_utf8_lossy(&text);
        Ok(text.trim_end_matches(['\0', ' ']).to_owned())
    }

    /// The next tag; `None` at the end of the file.
    fn tag(&mut self) -> Result<Option<u32>, BadDicom> {
        let bytes = self.up_to(4)?;
        match bytes[..] {
            [] => Ok(None),
            [a, b, c, d] => Ok(Some(u32::from_le_bytes([c, d, a, b]))),
            _ => Err(BadDicom::CutShort(self.at)),
        }
    }

    fn long(&mut self) -> Result<u32, BadDicom> {
        self.exactly().map(u32::from_le_bytes)
    }

    /// What follows a tag, up to the value.
    fn element(&mut self, tag: u32, syntax: &str) -> Result<Element, BadDicom> {
        let has_kind = tag >> 16 == 2 || (syntax == EXPLICIT && tag >> 16 != 0xfffe);
        let length = if !has_kind {
            self.long()?
        } else if is_long(&self.exactly()?) {
            self.skip(2)?;
            self.long()?
        } else {
            self.exactly().map(u16::from_le_bytes)?.into()
        };
        Ok(Element { tag, length })
    }
}

/// Whether values of this kind state their length in four bytes.
fn is_long(kind: &[u8; 2]) -> bool {
    const LONG: [&[u8; 2]; 13] = [
        b"OB", b"OD", b"OF", b"OL", b"OV", b"OW", b"SQ", b"SV", b"UC", b"UN", b"UR", b"UT", b"UV",
    ];
    LONG.contains(&kind)
}

/// The STL file inside a DICOM object.
///
/// # Errors
/// When the object is of another class, has no document, or is cut short.
pub fn encapsulated_stl(input: impl Read) -> Result<EncapsulatedStl, BadDicom> {
    let mut bytes = Bytes { input, at: 0 };
    bytes.skip(PREAMBLE)?;
    let (mut syntax, mut class, mut unit) = (String::new(), String::new(), None);
    // How many lists and items without a stated length are open, and whether the unit's is.
    let (mut depth, mut in_units) = (0_u32, false);
    while let Some(tag) = bytes.tag()? {
        if tag >> 16 > 2 && ![EXPLICIT, IMPLICIT].contains(&syntax.as_str()) {
            return Err(BadDicom::Syntax(syntax));
        }
        let Element { tag, length } = bytes.element(tag, &syntax)?;
        in_units &=
            depth > 0 || [CODE, ITEM, END_OF_ITEM, END_OF_LIST].contains(&tag) || tag >> 16 == 8;
        match tag {
            TRANSFER_SYNTAX => syntax = bytes.text(length)?,
            CLASS if depth == 0 => class = bytes.text(length)?,
            CODE if in_units && unit.is_none() => unit = Some(bytes.text(length)?),
            DOCUMENT if depth == 0 => {
                if class != ENCAPSULATED_STL {
                    return Err(BadDicom::Class(class));
                }
                if length == UNDEFINED {
                    return Err(BadDicom::InPieces);
                }
                let bytes = bytes.all(length)?;
                return Ok(EncapsulatedStl { bytes, unit });
            }
            END_OF_ITEM | END_OF_LIST => depth = depth.saturating_sub(1),
            _ if length == UNDEFINED => {
                depth = depth.saturating_add(1);
                in_units |= tag == UNITS;
            }
            UNITS => in_units = true,
            ITEM if in_units => {}
            _ => bytes.skip(length.into())?,
        }
    }
    if class == ENCAPSULATED_STL {
        Err(BadDicom::NoDocument)
    } else {
        Err(BadDicom::Class(class))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An element with its kind.
    fn element(tag: u32, kind: &[u8; 2], value: &[u8]) -> Vec<u8> {
        let mut bytes = tag_of(tag);
        bytes.extend(kind);
        if is_long(kind) {
            bytes.extend([0, 0]);
            bytes.extend(u32::try_from(value.len()).unwrap().to_le_bytes());
        } else {
            bytes.extend(u16::try_from(value.len()).unwrap().to_le_bytes());
        }
        bytes.extend(value);
        bytes
    }

    fn tag_of(tag: u32) -> Vec<u8> {
        let [a, b, c, d] = tag.to_be_bytes();
        vec![b, a, d, c]
    }

    /// A list without a stated length, or an item.
    fn open(tag: u32, kind: &[u8]) -> Vec<u8> {
        [&tag_of(tag)[..], kind, &[0xff; 4]].concat()
    }

    fn end(tag: u32) -> Vec<u8> {
        [&tag_of(tag)[..], &[0; 4]].concat()
    }

    fn object(class: &str, syntax: &str, elements: &[Vec<u8>]) -> Vec<u8> {
        let mut file = vec![0; 128];
        file.extend(b"DICM");
        file.extend(element(0x0002_0000, b"UL", &[0; 4]));
        file.extend(element(TRANSFER_SYNTAX, b"UI", syntax.as_bytes()));
        file.extend(element(CLASS, b"UI", class.as_bytes()));
        file.extend(elements.concat());
        file
    }

    const DOCUMENT_BYTES: &[u8] = b"an STL file";

    fn whole(class: &str, syntax: &str) -> Vec<u8> {
        let code = element(CODE, b"SH", b"mm");
        let name = element(0x0010_0010, b"PN", b"Nobody");
        // A list in a list, neither with a length, that hides a document and a code of its own.
        let hidden = [
            open(0x0040_0555, b"SQ\0\0"),
            open(ITEM, b""),
            element(CODE, b"SH", b"km"),
            element(DOCUMENT, b"OB", b"hidden"),
            end(END_OF_ITEM),
            end(END_OF_LIST),
        ]
        .concat();
        let units = [
            open(UNITS, b"SQ\0\0"),
            open(ITEM, b""),
            code,
            end(END_OF_ITEM),
            end(END_OF_LIST),
        ]
        .concat();
        let document = element(DOCUMENT, b"OB", DOCUMENT_BYTES);
        object(class, syntax, &[name, hidden, units, document])
    }

    #[test]
    fn the_document_and_its_unit_are_found_among_other_elements() {
        let found = encapsulated_stl(&whole(ENCAPSULATED_STL, EXPLICIT)[..]).unwrap();
        assert_eq!(found.bytes, DOCUMENT_BYTES);
        assert_eq!(found.unit.as_deref(), Some("mm"));
    }

    #[test]
    fn a_unit_in_a_list_that_states_its_length_is_found_too() {
        let code = element(CODE, b"SH", b"um");
        let mut item = tag_of(ITEM);
        item.extend(u32::try_from(code.len()).unwrap().to_le_bytes());
        item.extend(code);
        let elements = [
            element(UNITS, b"SQ", &item),
            element(DOCUMENT, b"OB", b"x "),
        ];
        let found = encapsulated_stl(&object(ENCAPSULATED_STL, EXPLICIT, &elements)[..]).unwrap();
        assert_eq!(
            (found.unit.as_deref(), &found.bytes[..]),
            (Some("um"), &b"x "[..])
        );
    }

    #[test]
    fn other_classes_and_syntaxes_are_refused_by_name() {
        let told = |file: Vec<u8>| encapsulated_stl(&file[..]).unwrap_err().to_string();
        let image = told(whole("1.2.840.10008.5.1.4.1.1.2", EXPLICIT));
        assert!(
            image.contains("of class 1.2.840.10008.5.1.4.1.1.2, not"),
            "{image}"
        );
        let packed = told(whole(ENCAPSULATED_STL, "1.2.840.10008.1.2.1.99"));
        assert!(
            packed.contains("transfer syntax is \"1.2.840.10008.1.2.1.99\""),
            "{packed}"
        );
    }

    #[test]
    fn four_gigabytes_announced_and_ten_bytes_there_take_ten() {
        let mut file = object(ENCAPSULATED_STL, EXPLICIT, &[]);
        file.extend(tag_of(DOCUMENT));
        file.extend(b"OB\0\0");
        file.extend(0xffff_fffe_u32.to_le_bytes());
        file.extend([7; 10]);
        let told = encapsulated_stl(&file[..]).unwrap_err();
        assert!(
            matches!(told, BadDicom::CutShort(at) if at == file.len() as u64),
            "{told}"
        );
    }

    #[test]
    fn a_file_cut_anywhere_or_damaged_gives_an_error_or_a_document_and_no_panic() {
        let file = whole(ENCAPSULATED_STL, EXPLICIT);
        for end in 0..file.len() {
            assert!(encapsulated_stl(&file[..end]).is_err(), "{end}");
        }
        for at in 0..file.len() {
            for by in [0x01, 0x40, 0xff] {
                let mut damaged = file.clone();
                damaged[at] ^= by;
                let _ = encapsulated_stl(&damaged[..]);
            }
        }
    }
}
