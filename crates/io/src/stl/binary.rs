//! STL as 50-byte records behind a header of 80 bytes and a count.

use std::io::{self, BufReader, Read, Write};

use cupwright_geometry::TriMesh;
use nalgebra::Point3;

use super::{BadStl, finished};
use crate::format::Format;
use crate::loaded::{Loaded, Place};
use crate::stream::WriteError;
use crate::weld::Welder;

/// Bytes before the first record: 80 that mean nothing, then the count.
const HEADER: usize = 84;
/// Bytes of one triangle: normal, three corners, and two bytes that mean nothing.
const RECORD: usize = 50;
/// Bytes of the record before the first corner.
const NORMAL: usize = 12;

/// The size in bytes of the binary STL file that begins with `prefix`; `None` where that is shorter
/// than a header.
///
/// A file of exactly this size is a binary STL, whatever text its header begins with.
pub fn announced_size(prefix: &[u8]) -> Option<u64> {
    let count = prefix.get(80..HEADER)?.try_into().ok()?;
    Some(size_of_file(u32::from_le_bytes(count)))
}

/// Reads a binary STL file of `size` bytes.
///
/// # Errors
/// When `size` is not what the header announces, a coordinate is not finite, or no triangle with
/// three different corners is in the file.
pub fn read_binary(input: impl Read, size: u64) -> Result<Loaded, BadStl> {
    let mut input = BufReader::with_capacity(1 << 16, input);
    let announced = header(&mut input, size)?;
    let mut welder = Welder::exact();
    let mut record = [0; RECORD];
    for triangle in 0..announced as usize {
        input
            .read_exact(&mut record)
            .map_err(|cause| stopped(cause, announced, triangle))?;
        welder.add(corners(&record, triangle)?);
    }
    finished(welder, Format::StlBinary, 1)
}

/// The count in the header, which must agree with the size.
fn header(input: &mut impl Read, bytes: u64) -> Result<u32, BadStl> {
    let mut header = [0; HEADER];
    if bytes < HEADER as u64 {
        return Err(BadStl::NoHeader { bytes });
    }
    input
        .read_exact(&mut header)
        .map_err(|cause| match cause.kind() {
            io::ErrorKind::UnexpectedEof => BadStl::NoHeader { bytes },
            _ => BadStl::Unreadable { triangle: 0, cause },
        })?;
    let [.., a, b, c, d] = header;
    let announced = u32::from_le_bytes([a, b, c, d]);
    let needed = size_of_file(announced);
    if bytes < needed {
        return Err(cut_short(announced, bytes));
    }
    if bytes > needed {
        return Err(BadStl::LeftOver {
            announced,
            needed,
            bytes,
        });
    }
    Ok(announced)
}

/// The size of a file with `count` triangles.
fn size_of_file(count: u32) -> u64 {
    HEADER as u64 + RECORD as u64 * u64::from(count)
}

/// The file has only `bytes` bytes.
fn cut_short(announced: u32, bytes: u64) -> BadStl {
    BadStl::CutShort {
        announced,
        needed: size_of_file(announced),
        bytes,
        whole: bytes.saturating_sub(HEADER as u64) / RECORD as u64,
    }
}

/// Reading stopped before its time: the file shrank, or the disk failed.
fn stopped(cause: io::Error, announced: u32, triangle: usize) -> BadStl {
    match cause.kind() {
        io::ErrorKind::UnexpectedEof => cut_short(announced, place_of(triangle)),
        _ => BadStl::Unreadable { triangle, cause },
    }
}

/// The offset of a triangle's record.
fn place_of(triangle: usize) -> u64 {
    (HEADER + RECORD * triangle) as u64
}

/// The corners of a record, which must be finite.
fn corners(record: &[u8; RECORD], triangle: usize) -> Result<[Point3<f64>; 3], BadStl> {
    let mut corners = [Point3::origin(); 3];
    let numbers = record[NORMAL..].chunks_exact(4);
    for (i, bytes) in numbers.take(9).enumerate() {
        let bits = bytes.try_into().unwrap_or_default();
        let value = f64::from(f32::from_le_bytes(bits));
        if !value.is_finite() {
            return Err(BadStl::NotFinite {
                place: Place::Byte(place_of(triangle) + (NORMAL + 4 * i) as u64),
                triangle,
                corner: i / 3,
                axis: i % 3,
                value,
            });
        }
        corners[i / 3][i % 3] = value;
    }
    Ok(corners)
}

/// Writes `mesh` as binary STL.
///
/// Coordinates are rounded to `f32`, about 4·10⁻⁶ mm at 100 mm; vertices nearer to each other than
/// that become one when the file is read.
///
/// # Errors
/// When a coordinate is beyond the range of `f32`, or `out` cannot be written.
pub fn write_binary(mut out: impl Write, mesh: &TriMesh) -> Result<(), WriteError> {
    for (vertex, place) in mesh.vertices().iter().enumerate() {
        if let Some(&value) = place.iter().find(|c| !single(**c).is_finite()) {
            return Err(WriteError::BeyondSingle { vertex, value });
        }
    }
    let triangles = mesh.triangles().iter().enumerate();
    let records = triangles.map(|(triangle, _)| stl_io::Triangle {
        normal: stl_io::Normal::new(normal(mesh, triangle).map(single)),
        vertices: mesh
            .corners(triangle)
            .map(|p| stl_io::Vertex::new(p.coords.map(single).into())),
    });
    stl_io::write_stl(&mut out, records)?;
    Ok(())
}

/// The unit normal of a triangle; zero where it has no area.
pub(super) fn normal(mesh: &TriMesh, triangle: usize) -> [f64; 3] {
    let normal = mesh.area_vector(triangle).try_normalize(0.0);
    normal.unwrap_or_default().into()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "binary STL stores f32; rounding to the nearest is what is wanted"
)]
fn single(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loaded::Remark;
    use crate::weld::Welding;
    use cupwright_geometry::samples;

    fn file_of(mesh: &TriMesh) -> Vec<u8> {
        let mut file = Vec::new();
        write_binary(&mut file, mesh).unwrap();
        file
    }

    fn read(file: &[u8]) -> Result<Loaded, BadStl> {
        read_binary(file, file.len() as u64)
    }

    /// The coordinates rounded to `f32`.
    fn rounded(mesh: &TriMesh) -> TriMesh {
        let vertices = mesh.vertices().iter();
        let vertices = vertices.map(|p| p.map(|c| f64::from(single(c)) + 0.0));
        TriMesh::new(vertices.collect(), mesh.triangles().to_vec()).unwrap()
    }

    #[track_caller]
    fn refused(file: &[u8], message: &str) {
        assert_eq!(read(file).unwrap_err().to_string(), message);
    }

    #[test]
    fn a_round_trip_keeps_every_triangle_to_the_bit_of_an_f32() {
        let mesh = rounded(&samples::lumpy_ball(24.7, 0.2, 40, 25));
        let loaded = read(&file_of(&mesh)).unwrap();
        assert_eq!(loaded.mesh.triangles().len(), mesh.triangles().len());
        for t in 0..mesh.triangles().len() {
            assert_eq!(loaded.mesh.corners(t), mesh.corners(t));
        }
        let welding = Welding {
            corners: 3 * mesh.triangles().len(),
            vertices: mesh.vertices().len(),
            dropped_degenerate: 0,
        };
        assert_eq!(loaded.welding, Some(welding));
        assert_eq!(loaded.remarks, []);
        assert_eq!(file_of(&loaded.mesh), file_of(&mesh));
    }

    #[test]
    fn an_independent_reader_sees_the_same_triangles_and_normals() {
        let mesh = samples::lumpy_ball(24.7, 0.2, 20, 15);
        let read = stl_io::read_stl(&mut io::Cursor::new(file_of(&mesh))).unwrap();
        assert_eq!(read.faces.len(), mesh.triangles().len());
        for (t, face) in read.faces.iter().enumerate() {
            let corners = face.vertices.map(|v| read.vertices[v].0);
            let expected = mesh.corners(t).map(|p| p.coords.map(single));
            assert_eq!(corners.map(nalgebra::Vector3::from), expected);
            let outward = mesh.area_vector(t).normalize();
            let stored = nalgebra::Vector3::from(face.normal.0.map(f64::from));
            assert!((stored - outward).norm() < 1e-6);
        }
    }

    #[test]
    fn a_cut_file_is_refused_with_both_counts() {
        let file = file_of(&samples::cuboid([1.0, 2.0, 3.0]));
        refused(
            &file[..300],
            "the header announces 12 triangles, which take 684 bytes, but the file holds 300 bytes (4 whole triangles): \
             it was cut short or is no STL; copy or export it again",
        );
        refused(
            &file[..83],
            "the file holds 83 bytes, but a binary STL begins with a header of 84; copy or export it again",
        );
    }

    #[test]
    fn left_over_bytes_are_refused() {
        let mut file = file_of(&samples::cuboid([1.0, 2.0, 3.0]));
        file.push(0);
        refused(
            &file,
            "the header announces 12 triangles, which take 684 bytes, but the file holds 685 bytes: \
             it was not finished or is no STL; export it again",
        );
    }

    #[test]
    fn billions_of_announced_triangles_take_no_memory() {
        let mut file = vec![b' '; 80];
        file.extend(u32::MAX.to_le_bytes());
        file.extend([0; 16]);
        refused(
            &file,
            "the header announces 4294967295 triangles, which take 214748364834 bytes, but the file holds 100 bytes (0 whole triangles): \
             it was cut short or is no STL; copy or export it again",
        );
    }

    #[test]
    fn a_file_that_shrinks_while_it_is_read_is_refused() {
        let file = file_of(&samples::cuboid([1.0, 2.0, 3.0]));
        let refused = read_binary(&file[..200], file.len() as u64).unwrap_err();
        assert!(matches!(
            refused,
            BadStl::CutShort {
                announced: 12,
                whole: 2,
                ..
            }
        ));
    }

    #[test]
    fn a_failing_disk_is_told_with_the_triangle() {
        struct Failing;
        impl Read for Failing {
            fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
                Err(io::Error::other("sector 7"))
            }
        }
        let file = file_of(&samples::cuboid([1.0, 2.0, 3.0]));
        let refused = read_binary(file[..200].chain(Failing), file.len() as u64).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "the file cannot be read beyond triangle 2 (sector 7); check the disk, or copy the file again"
        );
    }

    #[test]
    fn a_coordinate_that_is_not_finite_is_named_by_triangle_corner_and_byte() {
        let file = file_of(&samples::cuboid([1.0, 2.0, 3.0]));
        for (value, name) in [(f32::NAN, "NaN"), (f32::NEG_INFINITY, "-inf")] {
            let mut file = file.clone();
            let at = 84 + 5 * 50 + 12 + 12 + 4;
            file[at..at + 4].copy_from_slice(&value.to_le_bytes());
            refused(
                &file,
                &format!(
                    "byte 362: triangle 5 (counting from 0), second corner: y is {name}, not a finite number; \
                     repair the mesh where it was made and export it again"
                ),
            );
        }
    }

    #[test]
    fn normals_and_attributes_may_be_anything() {
        let mesh = rounded(&samples::cuboid([1.0, 2.0, 3.0]));
        let mut file = file_of(&mesh);
        for record in file[84..].chunks_exact_mut(50) {
            record[..12].fill(0xff);
            record[48..].fill(0xff);
        }
        assert_eq!(
            read(&file).unwrap().mesh,
            read(&file_of(&mesh)).unwrap().mesh
        );
    }

    #[test]
    fn no_triangles_and_only_degenerate_ones_are_refused() {
        refused(
            &[0; 84],
            "the file holds no triangles; export the surface again",
        );
        let mut file = vec![0; 84 + 100];
        file[80] = 2;
        refused(
            &file,
            "all 2 triangles have two corners in the same place; check the unit and the digits of the export",
        );
    }

    #[test]
    fn a_degenerate_triangle_is_left_out_and_told() {
        let mut file = file_of(&samples::cuboid([1.0, 2.0, 3.0]));
        file[80] = 13;
        file.extend([0; 50]);
        let loaded = read(&file).unwrap();
        assert_eq!(loaded.mesh.triangles().len(), 12);
        assert_eq!(loaded.mesh.vertices().len(), 8);
        assert_eq!(loaded.remarks, [Remark::DegenerateDropped { triangles: 1 }]);
    }

    #[test]
    fn coordinates_beyond_f32_are_not_written() {
        let huge = samples::cuboid([2e39, 1.0, 1.0]);
        let refused = write_binary(Vec::new(), &huge).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "vertex 0 has the coordinate -1e39, which binary STL cannot hold; check the unit, or write ASCII STL, OBJ or PLY"
        );
    }
}
