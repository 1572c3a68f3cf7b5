//! PLY files from meshes.

use std::io::{BufWriter, Write};

use cupwright_geometry::TriMesh;

use crate::stream::WriteError;

/// Writes `mesh` as PLY text, each coordinate with as many digits as tell it from every other `f64`.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_ascii(out: impl Write, mesh: &TriMesh) -> Result<(), WriteError> {
    let mut out = BufWriter::new(out);
    write_header(&mut out, mesh, "ascii")?;
    for p in mesh.vertices() {
        writeln!(out, "{:?} {:?} {:?}", p.x, p.y, p.z)?;
    }
    for [a, b, c] in mesh.triangles() {
        writeln!(out, "3 {a} {b} {c}")?;
    }
    out.flush()?;
    Ok(())
}

/// Writes `mesh` as binary PLY, least significant bytes first; coordinates are `f64`.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_little_endian(out: impl Write, mesh: &TriMesh) -> Result<(), WriteError> {
    let format = "binary_little_endian";
    write_binary(out, mesh, format, f64::to_le_bytes, u32::to_le_bytes)
}

/// Writes `mesh` as binary PLY, most significant bytes first; coordinates are `f64`.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_big_endian(out: impl Write, mesh: &TriMesh) -> Result<(), WriteError> {
    let format = "binary_big_endian";
    write_binary(out, mesh, format, f64::to_be_bytes, u32::to_be_bytes)
}

fn write_binary(
    out: impl Write,
    mesh: &TriMesh,
    format: &str,
    real: fn(f64) -> [u8; 8],
    index: fn(u32) -> [u8; 4],
) -> Result<(), WriteError> {
    let mut out = BufWriter::new(out);
    write_header(&mut out, mesh, format)?;
    for &coordinate in mesh.vertices().iter().flat_map(|p| p.iter()) {
        out.write_all(&real(coordinate))?;
    }
    for triangle in mesh.triangles() {
        out.write_all(&[3])?;
        for &corner in triangle {
            out.write_all(&index(corner))?;
        }
    }
    out.flush()?;
    Ok(())
}

/// The indices of a mesh are small enough to be called `int`, which more readers know than `uint`.
fn write_header(out: &mut impl Write, mesh: &TriMesh, format: &str) -> Result<(), WriteError> {
    writeln!(
        out,
        "ply\nformat {format} 1.0\ncomment lengths in millimetres"
    )?;
    writeln!(out, "element vertex {}", mesh.vertices().len())?;
    writeln!(
        out,
        "property double x\nproperty double y\nproperty double z"
    )?;
    writeln!(out, "element face {}", mesh.triangles().len())?;
    writeln!(out, "property list uchar int vertex_indices\nend_header")?;
    Ok(())
}
