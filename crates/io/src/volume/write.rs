//! Label volumes as files.

use std::io::{self, Write};

use flate2::Compression;
use flate2::write::GzEncoder;
use nalgebra::Vector3;

use super::LabelVolume;
use super::nifti::{DATA, HEADER, MAGIC};
use super::samples::Kind;

/// Writes a volume as NIfTI-1 in one file, not packed, its place by `sform`.
///
/// # Errors
/// When `out` cannot be written, or the volume has more voxels along an index than the format can say.
pub fn write_nifti(mut out: impl Write, volume: &LabelVolume) -> io::Result<()> {
    if volume
        .size
        .iter()
        .any(|length| i16::try_from(*length).is_err())
    {
        return Err(io::ErrorKind::InvalidInput.into());
    }
    let mut labels = volume.counts.keys();
    let kind = if labels.all(|label| u8::try_from(*label).is_ok()) {
        Kind::U8
    } else {
        Kind::I32
    };
    out.write_all(&header_of(volume, kind))?;
    out.write_all(&[0; 4])?;
    let mut out = io::BufWriter::new(out);
    for label in volume.values() {
        match u8::try_from(label) {
            Ok(label) if kind == Kind::U8 => out.write_all(&[label])?,
            _ => out.write_all(&label.to_le_bytes())?,
        }
    }
    out.flush()
}

/// Writes a volume as NIfTI-1 in one file packed by gzip, as `.nii.gz` files are.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_nifti_gz(out: impl Write, volume: &LabelVolume) -> io::Result<()> {
    let mut packed = GzEncoder::new(out, Compression::fast());
    write_nifti(&mut packed, volume)?;
    packed.finish()?.flush()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "NIfTI-1 stores places as f32"
)]
fn header_of(volume: &LabelVolume, kind: Kind) -> [u8; HEADER] {
    let mut header = [0; HEADER];
    let mut put = |at: usize, bytes: &[u8]| header[at..at + bytes.len()].copy_from_slice(bytes);
    put(0, &348_i32.to_le_bytes());
    put(40, &3_i16.to_le_bytes());
    for (n, length) in volume.size.iter().enumerate() {
        let length = u16::try_from(*length).unwrap_or(u16::MAX);
        put(42 + 2 * n, &length.to_le_bytes());
    }
    let (code, bits): (i16, i16) = if kind == Kind::U8 { (2, 8) } else { (8, 32) };
    put(70, &code.to_le_bytes());
    put(72, &bits.to_le_bytes());
    put(76, &1.0_f32.to_le_bytes());
    for (n, spacing) in volume.grid.spacing().into_iter().enumerate() {
        put(80 + 4 * n, &(spacing as f32).to_le_bytes());
    }
    put(108, &f32::from(DATA).to_le_bytes());
    put(123, &[2]);
    put(254, &1_i16.to_le_bytes());
    let (origin, axes) = (volume.grid.origin(), volume.grid.axes());
    for row in 0..3 {
        let numbers = [axes[(row, 0)], axes[(row, 1)], axes[(row, 2)], origin[row]];
        for (n, number) in numbers.into_iter().enumerate() {
            put(280 + 16 * row + 4 * n, &(number as f32).to_le_bytes());
        }
    }
    put(HEADER - 4, MAGIC);
    header
}

/// Writes a volume as NRRD with its voxels in the same file, packed by gzip, in a
/// left-posterior-superior space.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_nrrd(mut out: impl Write, volume: &LabelVolume) -> io::Result<()> {
    let turned = |v: Vector3<f64>| format!("({},{},{})", -v.x, -v.y, v.z);
    let [nx, ny, nz] = volume.size;
    let axes = volume.grid.axes();
    let steps: Vec<_> = axes
        .column_iter()
        .map(|step| turned(step.into_owned()))
        .collect();
    write!(
        out,
        "NRRD0004\ntype: int\ndimension: 3\nspace: left-posterior-superior\nsizes: {nx} {ny} {nz}\n\
         space directions: {}\nkinds: domain domain domain\nendian: little\nencoding: gzip\n\
         space origin: {}\n\n",
        steps.join(" "),
        turned(volume.grid.origin().coords),
    )?;
    let mut packed = io::BufWriter::new(GzEncoder::new(out, Compression::fast()));
    for label in volume.values() {
        packed.write_all(&label.to_le_bytes())?;
    }
    let packed = packed
        .into_inner()
        .map_err(io::IntoInnerError::into_error)?;
    packed.finish()?.flush()
}
