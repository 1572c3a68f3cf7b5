//! Meshes from and to streams of bytes, the format told by the content.

use std::io::{self, BufReader, Cursor, Read, Write};

use cupwright_geometry::TriMesh;
use flate2::bufread::MultiGzDecoder;
use thiserror::Error;

use crate::dicom::{self, BadDicom, encapsulated_stl, is_dicom};
use crate::format::{Content, Format};
use crate::loaded::{Loaded, Remark};
use crate::obj::{self, BadObj};
use crate::ply::{self, BadPly};
use crate::stl::{self, BadStl};
use crate::volume::{
    self, Axes, BadVolume, Companion, LabelVolume, NoCompanion, NoLabel, is_nifti, mesh_of,
};

/// How much of a file is looked at to tell its format, in bytes.
const PREFIX: u64 = 1024;

/// Files that begin like this are no meshes that can be read here: offset, bytes, what it is.
const FOREIGN: [(usize, &[u8], &str); 15] = [
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
    (0, b"%PDF", "a PDF document"),
    (0, b"ISO-10303-21", "a STEP model"),
    (0, b"# vtk DataFile", "a VTK data file"),
    (0, b"OFF", "an OFF mesh"),
    (0, b"\xff\xfe", "UTF-16 text"),
    (0, b"\xfe\xff", "UTF-16 text"),
    (
        344,
        b"ni1\0",
        "a NIfTI header whose voxels are in another file",
    ),
    (4, b"n+2\0", "a NIfTI-2 image"),
];

/// Why a stream of bytes is no mesh.
#[derive(Debug, Error)]
pub enum ReadError {
    /// There are no bytes.
    #[error("the file is empty; copy or export it again")]
    Empty,
    /// The content is of another kind.
    #[error(
        "the file holds {content}, not STL, OBJ or PLY, nor a NIfTI or NRRD label volume; export the mesh in one of these"
    )]
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
    /// It is a bad NIfTI volume.
    #[error("NIfTI: {0}")]
    Nifti(BadVolume),
    /// It is a bad NRRD volume.
    #[error("NRRD: {0}")]
    Nrrd(BadVolume),
    /// It is a DICOM object without a surface.
    #[error("DICOM: {0}")]
    Dicom(BadDicom),
    /// The volume has not the label.
    #[error(transparent)]
    Label(#[from] NoLabel),
    /// A label was wanted of a mesh.
    #[error(
        "label {label} is asked for, but the file holds {content}, which has no labels; leave the label out"
    )]
    NotLabelled {
        /// The label.
        label: i32,
        /// What the file holds.
        content: Content,
    },
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
enum Seems {
    StlBinary,
    StlAscii,
    Obj,
    Ply,
    Nifti,
    Nrrd,
    Gzip,
    Dicom,
    Foreign(&'static str),
}

/// Reads a mesh from `input`, which yields `size` bytes.
///
/// The content decides about the format: a file whose size is just what its binary STL header
/// announces is binary STL, even where the header begins with `solid`. The `extension` of the file's
/// name, if any, only helps with files that are damaged; where it promises another format than the
/// content holds, that is told as a remark.
///
/// A label volume becomes the mesh around the only label in it; see [`read_label_from`].
///
/// # Errors
/// When the content is no mesh, or a damaged one.
pub fn read_from(
    input: impl Read,
    size: u64,
    extension: Option<&str>,
) -> Result<Loaded, ReadError> {
    let choice = Choice {
        label: None,
        beside: &nothing_beside,
    };
    read_chosen(input, size, extension, &choice)
}

/// Reads the mesh around one label of the volume in `input`.
///
/// # Errors
/// When the content is no label volume, or a damaged one, or has not the label.
pub fn read_label_from(
    input: impl Read,
    size: u64,
    extension: Option<&str>,
    label: i32,
) -> Result<Loaded, ReadError> {
    let choice = Choice {
        label: Some(label),
        beside: &nothing_beside,
    };
    read_chosen(input, size, extension, &choice)
}

/// What of a volume is wanted.
pub(crate) struct Choice<'a> {
    /// The label; `None` for the only one.
    pub(crate) label: Option<i32>,
    /// Opens the file that holds the voxels of a detached header.
    pub(crate) beside: &'a Companion<'a>,
}

fn nothing_beside(name: &str) -> Result<Box<dyn Read>, NoCompanion> {
    Err(NoCompanion {
        name: name.into(),
        why: "a stream of bytes has no file beside it".into(),
    })
}

/// See [`read_from`].
pub(crate) fn read_chosen(
    mut input: impl Read,
    size: u64,
    extension: Option<&str>,
    choice: &Choice,
) -> Result<Loaded, ReadError> {
    let prefix = beginning(&mut input)?;
    if prefix.is_empty() {
        return Err(ReadError::Empty);
    }
    let extension = extension.map(str::to_ascii_lowercase);
    let seems = content(&prefix, size, extension.as_deref());
    let mut whole = Cursor::new(prefix).chain(input);
    let mut loaded = match seems {
        Seems::StlBinary => stl::read_binary(whole, size).map_err(ReadError::Stl),
        Seems::StlAscii => stl::read_ascii(whole).map_err(ReadError::Stl),
        Seems::Obj => obj::read(whole).map_err(ReadError::Obj),
        Seems::Ply => ply::read(whole).map_err(ReadError::Ply),
        Seems::Nifti => read_nifti(&mut whole, choice),
        Seems::Nrrd => read_nrrd(&mut whole, choice),
        Seems::Gzip => read_packed(whole, choice),
        Seems::Dicom => read_dicom(whole),
        Seems::Foreign(content) => Err(ReadError::Foreign { content }),
    }?;
    let format = loaded.format;
    if let (Content::Mesh(_) | Content::DicomStl, Some(label)) = (format, choice.label) {
        let content = format;
        return Err(ReadError::NotLabelled { label, content });
    }
    let known =
        |e: &String| ["stl", "obj", "ply", "nii", "nrrd", "nhdr", "dcm"].contains(&e.as_str());
    let promised = extension.filter(|e| known(e) && !format.extensions().contains(&e.as_str()));
    if let Some(extension) = promised {
        loaded.remarks.push(Remark::Misnamed { extension, format });
    }
    Ok(loaded)
}

/// As much of a file as tells its format.
fn beginning(input: &mut impl Read) -> Result<Vec<u8>, ReadError> {
    let mut prefix = Vec::new();
    let read = input.by_ref().take(PREFIX).read_to_end(&mut prefix);
    read.map_err(ReadError::Unreadable)?;
    Ok(prefix)
}

/// Reads a volume that is packed by gzip as a whole, as `.nii.gz` files are.
fn read_packed(packed: impl Read, choice: &Choice) -> Result<Loaded, ReadError> {
    let mut input = MultiGzDecoder::new(BufReader::new(packed));
    let prefix = beginning(&mut input)?;
    let seems = content(&prefix, 0, None);
    let mut whole = Cursor::new(prefix).chain(input);
    match seems {
        Seems::Nifti => read_nifti(&mut whole, choice),
        Seems::Nrrd => read_nrrd(&mut whole, choice),
        _ => Err(ReadError::Foreign {
            content: "a gzip archive of something else",
        }),
    }
}

/// Reads the STL file in a DICOM object, which keeps its own coordinates and unit.
fn read_dicom(input: impl Read) -> Result<Loaded, ReadError> {
    let found = encapsulated_stl(input).map_err(ReadError::Dicom)?;
    let dicom::EncapsulatedStl { mut bytes, unit } = found;
    let size = bytes.len() as u64;
    let read = if stl::announced_size(&bytes) == Some(size) {
        stl::read_binary(bytes.as_slice(), size)
    } else {
        // A text of an odd length is filled up by one byte.
        if bytes.last() == Some(&0) {
            bytes.pop();
        }
        stl::read_ascii(bytes.as_slice())
    };
    let mut loaded = read.map_err(ReadError::Stl)?;
    loaded.format = Content::DicomStl;
    loaded.remarks.push(Remark::Encapsulated { unit });
    Ok(loaded)
}

fn read_nifti(input: &mut impl Read, choice: &Choice) -> Result<Loaded, ReadError> {
    let volume = volume::read_nifti(input).map_err(ReadError::Nifti)?;
    of_volume(&volume, choice, Content::Nifti)
}

fn read_nrrd(input: &mut impl Read, choice: &Choice) -> Result<Loaded, ReadError> {
    let volume = volume::read_nrrd(input, choice.beside).map_err(ReadError::Nrrd)?;
    of_volume(&volume, choice, Content::Nrrd)
}

/// The mesh around the label wanted, and what was done for it.
fn of_volume(volume: &LabelVolume, choice: &Choice, format: Content) -> Result<Loaded, ReadError> {
    let made = mesh_of(volume, choice.label)?;
    let mut remarks = vec![Remark::LabelTaken {
        taken: made.taken,
        others: made.others,
        size: volume.size(),
    }];
    match volume.axes() {
        Axes::Ras => {}
        Axes::Turned(from) => remarks.push(Remark::AxesTurned { from }),
        Axes::Assumed => remarks.push(Remark::AxesAssumed),
    }
    if made.reaches_border {
        remarks.push(Remark::CutAtBorder);
    }
    if made.crumbs > 0 {
        let pieces = made.crumbs;
        remarks.push(Remark::CrumbsDropped { pieces });
    }
    if made.added > 0 {
        let voxels = made.added;
        remarks.push(Remark::VoxelsAdded { voxels });
    }
    Ok(Loaded {
        mesh: made.mesh,
        format,
        welding: None,
        remarks,
    })
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
fn content(prefix: &[u8], size: u64, extension: Option<&str>) -> Seems {
    if stl::announced_size(prefix) == Some(size) {
        return Seems::StlBinary;
    }
    if prefix.starts_with(b"ply\n") || prefix.starts_with(b"ply\r") {
        return Seems::Ply;
    }
    if is_nifti(prefix) {
        return Seems::Nifti;
    }
    if prefix.starts_with(b"NRRD") {
        return Seems::Nrrd;
    }
    if is_dicom(prefix) {
        return Seems::Dicom;
    }
    if prefix.starts_with(b"\x1f\x8b") {
        return Seems::Gzip;
    }
    let matching = FOREIGN.iter().find(|(offset, bytes, _)| {
        let at_offset = prefix.get(*offset..);
        at_offset.is_some_and(|p| p.starts_with(bytes))
    });
    if let Some((_, _, foreign)) = matching {
        return Seems::Foreign(foreign);
    }
    let first_word = first_word(prefix).to_ascii_lowercase();
    if has_control_bytes(prefix) {
        // Damaged beyond doubt; the STL reader says how.
        return if extension == Some("stl") || first_word == b"solid" {
            Seems::StlBinary
        } else {
            Seems::Foreign("binary data of an unknown kind")
        };
    }
    match (first_word.as_slice(), extension) {
        (b"solid", _) => Seems::StlAscii,
        (word, _) if obj::is_statement(word) => Seems::Obj,
        (_, Some("obj")) => Seems::Obj,
        (_, Some("stl")) => Seems::Foreign("text that does not begin with `solid`"),
        (_, Some("ply")) => Seems::Foreign("text that does not begin with `ply`"),
        (b"", _) => Seems::Foreign("only blanks and comments"),
        _ => Seems::Foreign("text of an unknown kind"),
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
                assert_eq!(loaded.format, format.into());
                assert_eq!(loaded.mesh.triangles().len(), 12);
                let promised = extension.map(str::to_ascii_lowercase);
                let right = [None, Some("dat"), Some(format.extension())];
                if right.contains(&promised.as_deref()) {
                    assert_eq!(loaded.remarks, []);
                } else {
                    let extension = promised.unwrap();
                    assert_eq!(
                        loaded.remarks,
                        [Remark::Misnamed {
                            extension,
                            format: format.into()
                        }]
                    );
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
        assert_eq!(loaded.format, Format::StlBinary.into());
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
                    "the file holds {content}, not STL, OBJ or PLY, nor a NIfTI or NRRD label volume; export the mesh in one of these"
                ),
            );
        }
        let mut dicom = vec![0; 128];
        dicom.extend(b"DICM");
        refused(
            &dicom,
            Some("stl"),
            "DICOM: the object is of class , not an encapsulated STL (1.2.840.10008.5.1.4.1.1.104.3); \
             export the surface of the bone, or its labels as NIfTI or NRRD",
        );
        refused(
            b"Dear reader,\n",
            Some("stl"),
            "the file holds text that does not begin with `solid`, not STL, OBJ or PLY, nor a NIfTI or NRRD label volume; export the mesh in one of these",
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
