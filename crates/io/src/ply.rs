//! PLY: a header that declares elements, then their data as text or in binary.
//!
//! Needed are an element `vertex` with the properties `x`, `y` and `z`, and an element `face` with a
//! list `vertex_indices` (or `vertex_index`). Other elements and properties, lists included, are
//! passed over. A face with more than three corners is cut into triangles that fan out from its
//! first corner, which is right for convex faces; the cut is told as a remark. The data must hold
//! exactly what the header announces. Vertices that lie in the same place stay separate, as the file
//! has them.

mod body;
mod header;
mod write;

use std::io::{BufReader, Read};

use cupwright_geometry::{BadMesh, TriMesh};
use thiserror::Error;

use crate::format::Format;
use crate::loaded::{Loaded, Place, Remark};
use crate::text::{BadLine, Words};

pub use body::BadRow;
pub use header::BadHeader;
pub use write::{write_ascii, write_big_endian, write_little_endian};

/// Why a PLY file cannot be read.
#[derive(Debug, Error)]
pub enum BadPly {
    /// The header is wrong.
    #[error("header, line {line}: {problem}")]
    Header {
        /// The line, counting from 1.
        line: u64,
        /// What is wrong.
        problem: BadHeader,
    },
    /// An entry of an element is wrong.
    #[error("{place}: {element} {row} (counting from 0) of {announced}: {problem}")]
    Row {
        /// Where it begins, or where reading stopped.
        place: Place,
        /// Name of the element.
        element: String,
        /// Its entry, counting from 0.
        row: u64,
        /// How many entries the header announces.
        announced: u64,
        /// What is wrong.
        problem: BadRow,
    },
    /// There is data beyond what the header announces.
    #[error(
        "{place}: there is more data than the header announces; correct the element counts, or export the file again"
    )]
    LeftOver {
        /// Where it begins.
        place: Place,
    },
    /// There are no faces.
    #[error("the file holds no faces; export the surface, not points")]
    NoFaces,
    /// The mesh is too large.
    #[error("{0}; thin it out or cut it")]
    Mesh(BadMesh),
    /// A line cannot be had.
    #[error(transparent)]
    Line(#[from] BadLine),
}

/// Reads a PLY file, in text or binary of either byte order.
///
/// # Errors
/// When the header is not understood or lacks vertices or faces, the data does not agree with it, a
/// coordinate is not finite, or a face has fewer than three corners or names a vertex that does not
/// exist.
pub fn read(input: impl Read) -> Result<Loaded, BadPly> {
    let mut words = Words::new(BufReader::with_capacity(1 << 16, input));
    let header = header::read(&mut words)?;
    let body = match header.format {
        Format::PlyLittleEndian => body::read_binary(words, &header, body::Endian::Little),
        Format::PlyBigEndian => body::read_binary(words, &header, body::Endian::Big),
        _ => body::read_ascii(words, &header),
    }?;
    let mesh = TriMesh::new(body.vertices, body.triangles).map_err(|bad| match bad {
        BadMesh::Empty => BadPly::NoFaces,
        other => BadPly::Mesh(other),
    })?;
    let mut remarks = Vec::new();
    if body.polygons > 0 {
        remarks.push(Remark::PolygonsSplit {
            polygons: body.polygons,
        });
    }
    Ok(Loaded {
        mesh,
        format: header.format.into(),
        welding: None,
        remarks,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stream::WriteError;
    use cupwright_geometry::samples;

    const HEADER: &str = "ply\nformat ascii 1.0\ncomment c\nobj_info i\n\
        element vertex 4\nproperty float x\nproperty float y\nproperty double z\n\
        element face 1\nproperty list uchar int vertex_indices\nend_header\n";
    const VERTICES: &str = "0 0 0\n1 0 0\n1 1 0\n0 1 0\n";

    #[track_caller]
    fn refused(file: &[u8], message: &str) {
        assert_eq!(read(file).unwrap_err().to_string(), message);
    }

    #[track_caller]
    fn refused_body(body: &str, message: &str) {
        refused(format!("{HEADER}{body}").as_bytes(), message);
    }

    /// The header above in binary, with its data.
    fn binary(order: &str, data: &[u8]) -> Vec<u8> {
        let header = HEADER.replace("ascii", order);
        [header.as_bytes(), data].concat()
    }

    /// The square's vertices, little endian.
    fn square() -> Vec<u8> {
        let corners = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0_f32]];
        let rows = corners.map(|[x, y]| [&x.to_le_bytes()[..], &y.to_le_bytes(), &[0; 8]].concat());
        rows.concat()
    }

    #[track_caller]
    fn survives(write: fn(&mut Vec<u8>, &TriMesh) -> Result<(), WriteError>, format: Format) {
        let mesh = samples::lumpy_ball(24.7, 0.2, 20, 15)
            .moved(&nalgebra::Isometry3::translation(1e-9, 3e8, 0.1));
        let mut file = Vec::new();
        write(&mut file, &mesh).unwrap();
        let loaded = read(file.as_slice()).unwrap();
        assert_eq!(loaded.mesh, mesh);
        assert_eq!((loaded.format, loaded.welding), (format.into(), None));
        assert_eq!(loaded.remarks, []);
    }

    #[test]
    fn a_round_trip_keeps_every_bit_and_index() {
        survives(|out, mesh| write_ascii(out, mesh), Format::PlyAscii);
        survives(
            |out, mesh| write_little_endian(out, mesh),
            Format::PlyLittleEndian,
        );
        survives(
            |out, mesh| write_big_endian(out, mesh),
            Format::PlyBigEndian,
        );
    }

    #[test]
    fn polygons_fan_out_from_their_first_corner_and_that_is_told() {
        let loaded = read(format!("{HEADER}{VERTICES}4 1 2 3 0\n").as_bytes()).unwrap();
        assert_eq!(loaded.mesh.triangles(), [[1, 2, 3], [1, 3, 0]]);
        assert_eq!(loaded.remarks, [Remark::PolygonsSplit { polygons: 1 }]);
    }

    #[test]
    fn unknown_elements_and_properties_are_passed_over_in_text() {
        let file = "ply\r\nformat ascii 1.0\r\nelement note 2\r\nproperty list int float a\r\nproperty uchar b\r\n\
            element vertex 3\r\nproperty uchar red\r\nproperty double x\r\nproperty list uchar int q\r\nproperty double z\r\nproperty double y\r\n\
            element face 1\r\nproperty float quality\r\nproperty list uchar uint vertex_index\r\nproperty int flags\r\nend_header\r\n\
            0 7\r\n2 1.5 2.5 7\r\n255 1 0 3 2\r\n9 4 2 8 8 6 5\r\n9 7 0 9 8\r\n\r\n0.5 3 0 1 2 -1\r\n";
        let loaded = read(file.as_bytes()).unwrap();
        let places = [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0], [7.0, 8.0, 9.0]];
        assert_eq!(loaded.mesh.vertices(), places.map(nalgebra::Point3::from));
        assert_eq!(loaded.mesh.triangles(), [[0, 1, 2]]);
    }

    #[test]
    fn unknown_elements_and_properties_are_passed_over_in_binary() {
        let header = "ply\nformat binary_big_endian 1.0\nelement note 2\nproperty list ushort double a\nproperty int16 b\n\
            element face 1\nproperty list uint8 uint16 vertex_indices\nproperty list char float64 extra\n\
            element vertex 3\nproperty float32 z\nproperty int32 x\nproperty list uchar uchar q\nproperty int8 y\nend_header\n";
        let mut file = header.as_bytes().to_vec();
        file.extend([0, 1, 9, 9, 9, 9, 9, 9, 9, 9, 0, 0, 0, 0, 9, 9]);
        file.extend([3, 0, 2, 0, 0, 0, 1, 0]);
        for (x, y, z) in [(1_i32, 2_i8, 3.0_f32), (-4, 5, 6.0), (7, -8, 9.5)] {
            file.extend(z.to_be_bytes());
            file.extend(x.to_be_bytes());
            file.extend([2, 0xee, 0xee]);
            file.extend(y.to_be_bytes());
        }
        let loaded = read(file.as_slice()).unwrap();
        let places = [[1.0, 2.0, 3.0], [-4.0, 5.0, 6.0], [7.0, -8.0, 9.5]];
        assert_eq!(loaded.mesh.vertices(), places.map(nalgebra::Point3::from));
        assert_eq!(loaded.mesh.triangles(), [[2, 0, 1]]);
    }

    #[test]
    fn text_with_fewer_entries_than_announced_is_refused() {
        refused_body(
            VERTICES,
            "line 15: face 0 (counting from 0) of 1: the file ends here; it was cut short or its header announces too many; copy or export it again",
        );
        refused_body(
            "0 0 0\n1 0 0\n1 1 0\n3 0 1 2\n",
            "line 15: vertex 3 (counting from 0) of 4: there are more values than the header declares; correct the line, or export the file again",
        );
        refused_body(
            "0 0 0\n1 0\n",
            "line 13: vertex 1 (counting from 0) of 4: there are fewer values than the header declares; correct the line, or export the file again",
        );
    }

    #[test]
    fn text_with_more_entries_than_announced_is_refused() {
        refused_body(
            &format!("{VERTICES}3 0 1 2\n\n3 0 2 3\n"),
            "line 18: there is more data than the header announces; correct the element counts, or export the file again",
        );
    }

    #[test]
    fn binary_that_does_not_agree_with_its_header_is_refused_with_the_byte() {
        let start = binary("binary_little_endian", &[]).len();
        refused(
            &binary("binary_little_endian", &square()[..40]),
            &format!(
                "byte {}: vertex 2 (counting from 0) of 4: the file ends here; it was cut short or its header announces too many; copy or export it again",
                start + 40
            ),
        );
        let mut data = square();
        data.extend([3, 0, 0, 0, 0, 1, 0, 0, 0, 2, 0, 0, 0]);
        assert!(read(binary("binary_little_endian", &data).as_slice()).is_ok());
        data.push(0);
        refused(
            &binary("binary_little_endian", &data),
            &format!(
                "byte {}: there is more data than the header announces; correct the element counts, or export the file again",
                start + 64 + 13
            ),
        );
    }

    #[test]
    fn binary_that_ends_in_what_is_passed_over_is_refused_with_the_byte() {
        let note =
            "element note 3\nproperty short a\nproperty list uchar double b\nelement vertex 4";
        let header = HEADER.replace("element vertex 4", note);
        let header = header.replace("ascii", "binary_little_endian");
        let file = [header.as_bytes(), &[7, 7, 0, 7, 7, 2, 1, 2, 3]].concat();
        refused(
            &file,
            &format!(
                "byte {}: note 1 (counting from 0) of 3: the file ends here; it was cut short or its header announces too many; copy or export it again",
                file.len()
            ),
        );
    }

    #[test]
    fn announced_billions_take_no_memory() {
        for order in ["ascii", "binary_big_endian"] {
            let header = HEADER.replace("ascii", order);
            let header = header.replace("vertex 4", "vertex 1000000000");
            let refused = read(format!("{header}0 0 0\n").as_bytes()).unwrap_err();
            let BadPly::Row {
                announced: 1_000_000_000,
                problem: BadRow::Ends,
                ..
            } = refused
            else {
                panic!("{refused}")
            };
        }
        let mut file = HEADER
            .replace("ascii", "binary_little_endian")
            .replace("list uchar", "list uint")
            .into_bytes();
        file.extend(square());
        file.extend([0xff; 4]);
        let refused = read(file.as_slice()).unwrap_err();
        assert!(matches!(
            refused,
            BadPly::Row {
                row: 0,
                problem: BadRow::Ends,
                ..
            }
        ));
    }

    #[test]
    fn bad_numbers_are_named_with_line_and_property() {
        refused_body(
            "0 0 0\n1,5 0 0\n",
            "line 13: vertex 1 (counting from 0) of 4: x: '1,5' is no number of the declared type; write numbers like -12.5 or 1e-3, or export the file again",
        );
        refused_body(
            "0 0 0\n1 0 -inf\n",
            "line 13: vertex 1 (counting from 0) of 4: z is -inf, not a finite number; repair the mesh where it was made and export it again",
        );
        refused_body(
            &format!("{VERTICES}3 0 1 2.5\n"),
            "line 16: face 0 (counting from 0) of 1: vertex_indices: '2.5' is no number of the declared type; write numbers like -12.5 or 1e-3, or export the file again",
        );
    }

    #[test]
    fn a_binary_coordinate_that_is_not_finite_is_named_with_its_byte() {
        let mut data = square();
        data[20..24].copy_from_slice(&f32::NAN.to_le_bytes());
        let start = binary("binary_little_endian", &[]).len();
        refused(
            &binary("binary_little_endian", &data),
            &format!(
                "byte {}: vertex 1 (counting from 0) of 4: y is NaN, not a finite number; repair the mesh where it was made and export it again",
                start + 24
            ),
        );
    }

    #[test]
    fn bad_faces_are_named_with_their_line() {
        refused_body(
            &format!("{VERTICES}3 0 1 4\n"),
            "line 16: face 0 (counting from 0) of 1: it names vertex 4, but there are 4, counted from 0; correct it, or export the file again",
        );
        refused_body(
            &format!("{VERTICES}3 0 1 -1\n"),
            "line 16: face 0 (counting from 0) of 1: it names vertex -1, but there are 4, counted from 0; correct it, or export the file again",
        );
        refused_body(
            &format!("{VERTICES}2 0 1\n"),
            "line 16: face 0 (counting from 0) of 1: it has 2 corners where three are needed; correct it, or export the file again",
        );
        refused_body(
            &format!("{VERTICES}-3 0 1 2\n"),
            "line 16: face 0 (counting from 0) of 1: vertex_indices: a list cannot have -3 entries; correct it, or export the file again",
        );
    }

    #[test]
    fn no_faces_are_refused() {
        let file = format!("{}{VERTICES}", HEADER.replace("face 1", "face 0"));
        refused(
            file.as_bytes(),
            "the file holds no faces; export the surface, not points",
        );
    }
}
