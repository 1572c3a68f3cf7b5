//! Meshes from and to streams of bytes, the format told by the content.

use std::io::{self, Cursor, Read, Write};

use cupwright_geometry::TriMesh;
use thiserror::Error;

use crate::format::Format;
use crate::loaded::{Loaded, Remark};
use crate::obj::{self, BadObj};
use crate::ply::{self, BadPly};
use crate::stl::{self, BadStl};

/// How much of a file is looked at to tell its format, in bytes.
const PREFIX: u64 = 1024;

/// Files that begin like this are no meshes that can be read here: offset, bytes, what it is.
const FOREIGN: [(usize, &[u8], &str); 17] = [
    (
        0,
        b"PK\x03\x04",
        "a zip archive (3MF and office files are zip archives too)",
    ),
    (0, b"\x89PNG", "a PNG picture"),
    (0, b"\xff\xd8\xff", "a JPEG picture"),
    (0, b"GIF8", "a GIF picture"),
    (0, b"glTF", "a binary glTF scene"),
    (0, b"{", "JSON text (glTF scenes are JSON text too)"),
    (0, b"<", "XML or HTML text"),
    (0, b"\x1f\x8b", "a gzip archive"),
    (0, b"%PDF", "a PDF document"),
    (0, b"ISO-10303-21", "a STEP model"),
    (0, b"# vtk DataFile", "a VTK data file"),
    (0, b"NRRD", "an NRRD image"),
    (0, b"OFF", "an OFF mesh"),
    (0, b"\xff\xfe", "UTF-16 text"),
    (0, b"\xfe\xff", "UTF-16 text"),
    (128, b"DICM", "a DICOM image"),
    (344, b"n+1\0", "a NIfTI image"),
];

/// Why a stream of bytes is no mesh.
#[derive(Debug, Error)]
pub enum ReadError {
    /// There are no bytes.
    #[error("the file is empty; copy or export it again")]
    Empty,
    /// The content is of another kind.
    #[error("the file holds {content}, not STL, OBJ or PLY; export the mesh in one of these")]
    Foreign {
        /// What the content looks like.
        content: &'static str,
    },
    /// The beginning cannot be read.
    #[error("the file cannot be read ({0}); check the disk, or copy it again")]
    Unreadable(io::Error),
    /// It is a bad STL file.
    #[error("STL: {0}")]
    Stl(BadStl),
    /// It is a bad OBJ file.
    #[error("OBJ: {0}")]
    Obj(BadObj),
    /// It is a bad PLY file.
    #[error("PLY: {0}")]
    Ply(BadPly),
}

/// Why a mesh cannot be written.
#[derive(Debug, Error)]
pub enum WriteError {
    /// A coordinate is beyond the range of `f32`.
    #[error(
        "vertex {vertex} has the coordinate {value:?}, which binary STL cannot hold; check the unit, or write ASCII STL, OBJ or PLY"
    )]
    BeyondSingle {
        /// Index of the vertex.
        vertex: usize,
        /// The coordinate.
        value: f64,
    },
    /// The operating system refused to write.
    #[error("the mesh cannot be written ({0}); check the space on the disk")]
    Unwritable(#[from] io::Error),
}

/// What a file holds, as far as its beginning tells.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Content {
    StlBinary,
    StlAscii,
    Obj,
    Ply,
    Foreign(&'static str),
}

/// Reads a mesh from `input`, which yields `size` bytes.
///
/// The content decides about the format: a file whose size is just what its binary STL header
/// announces is binary STL, even where the header begins with `solid`. The `extension` of the file's
/// name, if any, only helps with files that are damaged; where it promises another format than the
/// content holds, that is told as a remark.
///
/// # Errors
/// When the content is no mesh, or a damaged one.
pub fn read_from(
    mut input: impl Read,
    size: u64,
    extension: Option<&str>,
) -> Result<Loaded, ReadError> {
    let mut prefix = Vec::new();
    let beginning = input.by_ref().take(PREFIX).read_to_end(&mut prefix);
    beginning.map_err(ReadError::Unreadable)?;
    if prefix.is_empty() {
        return Err(ReadError::Empty);
    }
    let extension = extension.map(str::to_ascii_lowercase);
    let content = content(&prefix, size, extension.as_deref());
    let whole = Cursor::new(prefix).chain(input);
    let mut loaded = match content {
        Content::StlBinary => stl::read_binary(whole, size).map_err(ReadError::Stl),
        Content::StlAscii => stl::read_ascii(whole).map_err(ReadError::Stl),
        Content::Obj => obj::read(whole).map_err(ReadError::Obj),
        Content::Ply => ply::read(whole).map_err(ReadError::Ply),
        Content::Foreign(content) => Err(ReadError::Foreign { content }),
    }?;
    let format = loaded.format;
    let known = |e: &String| ["stl", "obj", "ply"].contains(&e.as_str());
    if let Some(extension) = extension.filter(|e| known(e) && e != format.extension()) {
        loaded.remarks.push(Remark::Misnamed { extension, format });
    }
    Ok(loaded)
}

/// Writes `mesh` to `out`.
///
/// # Errors
/// When `out` cannot be written, or the format cannot hold a coordinate.
pub fn write_to(out: impl Write, mesh: &TriMesh, format: Format) -> Result<(), WriteError> {
    match format {
        Format::StlBinary => stl::write_binary(out, mesh),
        Format::StlAscii => stl::write_ascii(out, mesh),
        Format::Obj => obj::write(out, mesh),
        Format::PlyAscii => ply::write_ascii(out, mesh),
        Format::PlyLittleEndian => ply::write_little_endian(out, mesh),
        Format::PlyBigEndian => ply::write_big_endian(out, mesh),
    }
}

/// What a file that begins with `prefix` holds.
fn content(prefix: &[u8], size: u64, extension: Option<&str>) -> Content {
    if stl::announced_size(prefix) == Some(size) {
        return Content::StlBinary;
    }
    if prefix.starts_with(b"ply\n") || prefix.starts_with(b"ply\r") {
        return Content::Ply;
    }
    let matching = FOREIGN.iter().find(|(offset, bytes, _)| {
        let at_offset = prefix.get(*offset..);
        at_offset.is_some_and(|p| p.starts_with(bytes))
    });
    if let Some((_, _, foreign)) = matching {
        return Content::Foreign(foreign);
    }
    let first_word = first_word(prefix).to_ascii_lowercase();
    if has_control_bytes(prefix) {
        // Damaged beyond doubt; the STL reader says how.
        return if extension == Some("stl") || first_word == b"solid" {
            Content::StlBinary
        } else {
            Content::Foreign("binary data of an unknown kind")
        };
    }
    match (first_word.as_slice(), extension) {
        (b"solid", _) => Content::StlAscii,
        (word, _) if obj::is_statement(word) => Content::Obj,
        (_, Some("obj")) => Content::Obj,
        (_, Some("stl")) => Content::Foreign("text that does not begin with `solid`"),
        (_, Some("ply")) => Content::Foreign("text that does not begin with `ply`"),
        (b"", _) => Content::Foreign("only blanks and comments"),
        _ => Content::Foreign("text of an unknown kind"),
    }
}

/// The first word that is not in an OBJ comment.
fn first_word(prefix: &[u8]) -> &[u8] {
    let text = prefix.strip_prefix(b"\xef\xbb\xbf").unwrap_or(prefix);
    let lines = text.split(|&b| b == b'\n').map(<[u8]>::trim_ascii);
    let mut statements = lines.filter(|l| !l.is_empty() && !l.starts_with(b"#"));
    let first = statements.next().unwrap_or_default();
    first
        .split(u8::is_ascii_whitespace)
        .next()
        .unwrap_or_default()
}

/// Whether there are bytes that no text has.
fn has_control_bytes(prefix: &[u8]) -> bool {
    prefix
        .iter()
        .any(|b| b.is_ascii_control() && !b.is_ascii_whitespace() && *b != 0x0b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cupwright_geometry::samples;

    const FORMATS: [Format; 6] = [
        Format::StlBinary,
        Format::StlAscii,
        Format::Obj,
        Format::PlyAscii,
        Format::PlyLittleEndian,
        Format::PlyBigEndian,
    ];

    fn file_of(format: Format) -> Vec<u8> {
        let mut file = Vec::new();
        write_to(&mut file, &samples::cuboid([1.0, 2.0, 3.0]), format).unwrap();
        file
    }

    fn read(file: &[u8], extension: Option<&str>) -> Result<Loaded, ReadError> {
        read_from(file, file.len() as u64, extension)
    }

    #[track_caller]
    fn refused(file: &[u8], extension: Option<&str>, message: &str) {
        assert_eq!(read(file, extension).unwrap_err().to_string(), message);
    }

    #[test]
    fn the_content_tells_the_format_whatever_the_name() {
        for format in FORMATS {
            for extension in [None, Some("stl"), Some("OBJ"), Some("ply"), Some("dat")] {
                let loaded = read(&file_of(format), extension).unwrap();
                assert_eq!(loaded.format, format);
                assert_eq!(loaded.mesh.triangles().len(), 12);
                let promised = extension.map(str::to_ascii_lowercase);
                let right = [None, Some("dat"), Some(format.extension())];
                if right.contains(&promised.as_deref()) {
                    assert_eq!(loaded.remarks, []);
                } else {
                    let extension = promised.unwrap();
                    assert_eq!(loaded.remarks, [Remark::Misnamed { extension, format }]);
                }
            }
        }
    }

    #[test]
    fn a_binary_stl_may_begin_with_solid() {
        let mut file = file_of(Format::StlBinary);
        file[..80].fill(b' ');
        file[..18].copy_from_slice(b"solid\nfacet normal");
        let loaded = read(&file, Some("stl")).unwrap();
        assert_eq!(loaded.format, Format::StlBinary);
        for extension in [Some("stl"), None] {
            refused(
                &file[..600],
                extension,
                "STL: the header announces 12 triangles, which take 684 bytes, but the file holds 600 bytes (10 whole triangles): \
                 it was cut short or is no STL; copy or export it again",
            );
        }
    }

    #[test]
    fn other_kinds_of_file_are_named() {
        for (start, content) in [
            (
                &b"PK\x03\x04\x14\x00"[..],
                "a zip archive (3MF and office files are zip archives too)",
            ),
            (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "a PNG picture"),
            (b"glTF\x02\0\0\0", "a binary glTF scene"),
            (
                b"{\"asset\":{\"version\":\"2.0\"}}",
                "JSON text (glTF scenes are JSON text too)",
            ),
            (b"\xff\xfes\0o\0l\0i\0d\0", "UTF-16 text"),
            (b"\x00\x01\x02", "binary data of an unknown kind"),
            (b"# nothing\n", "only blanks and comments"),
            (b"Dear reader,\n", "text of an unknown kind"),
        ] {
            refused(
                start,
                None,
                &format!(
                    "the file holds {content}, not STL, OBJ or PLY; export the mesh in one of these"
                ),
            );
        }
        let mut dicom = vec![0; 128];
        dicom.extend(b"DICM");
        refused(
            &dicom,
            Some("stl"),
            "the file holds a DICOM image, not STL, OBJ or PLY; export the mesh in one of these",
        );
        refused(
            b"Dear reader,\n",
            Some("stl"),
            "the file holds text that does not begin with `solid`, not STL, OBJ or PLY; export the mesh in one of these",
        );
        refused(
            b"",
            Some("stl"),
            "the file is empty; copy or export it again",
        );
    }

    #[test]
    fn text_named_obj_is_refused_by_line() {
        refused(
            b"# x\nDear reader,\n",
            Some("obj"),
            "OBJ: line 2: 'Dear' is no OBJ statement; remove the line, or export the file again",
        );
    }

    #[test]
    fn no_beginning_of_a_file_is_taken_for_the_whole() {
        for format in FORMATS {
            let file = file_of(format);
            // In a text file, what ends early may still be whole: a line end, a solid's name, the
            // last digits. OBJ has no end mark at all.
            let short = match format {
                Format::StlBinary | Format::PlyLittleEndian | Format::PlyBigEndian => 1,
                Format::StlAscii => " mesh\n".len() + 1,
                Format::PlyAscii => "\n".len() + 1,
                Format::Obj => continue,
            };
            for end in 0..=file.len() - short {
                assert!(read(&file[..end], None).is_err(), "{format}, {end} bytes");
            }
        }
    }

    #[test]
    fn damaged_bytes_give_an_error_or_a_valid_mesh_and_never_a_panic() {
        for format in FORMATS {
            let file = file_of(format);
            for at in 0..file.len() {
                for by in [0x00, 0x01, 0x20, 0x2d, 0x39, 0x7f, 0xff] {
                    let mut damaged = file.clone();
                    damaged[at] ^= by;
                    if let Err(error) = read(&damaged, Some(format.extension())) {
                        assert!(error.to_string().contains("; "), "{error}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_full_disk_is_an_error_in_every_format() {
        struct Full;
        impl Write for Full {
            fn write(&mut self, _: &[u8]) -> io::Result<usize> {
                Err(io::ErrorKind::StorageFull.into())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        for format in FORMATS {
            let refused = write_to(Full, &samples::cuboid([1.0, 1.0, 1.0]), format);
            assert!(
                matches!(refused, Err(WriteError::Unwritable(_))),
                "{format}"
            );
        }
    }
}
