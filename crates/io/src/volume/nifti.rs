//! NIfTI-1 in one file: a header of 348 bytes, then the voxels (nifti1.h, R. W. Cox and others, National
//! Institute of Mental Health, 2003 to 2007; a standard in the public domain).
//!
//! Its coordinates are mm, +x right, +y anterior, +z superior. Where a file has both, `sform` goes before `qform`.

use std::io::{self, Read};

use cupwright_geometry::voxels::Grid;
use nalgebra::{Matrix3, Point3, Quaternion, UnitQuaternion, Vector3};

use super::samples::{self, Kind, Order, Scale};
use super::{Axes, BadVolume, LabelVolume, Runs, voxels_of};

/// Bytes of the header.
pub(super) const HEADER: usize = 348;
/// Where voxels begin where no extension is: four bytes after the header say so.
pub(super) const DATA: u16 = 352;
/// The last bytes of a header whose voxels follow in the same file.
pub(super) const MAGIC: &[u8] = b"n+1\0";
/// The most bytes between header and voxels.
const LONGEST_EXTENSION: f64 = 16_777_216.0;

/// Whether a file that begins with `prefix` is a NIfTI-1 image in one file.
pub fn is_nifti(prefix: &[u8]) -> bool {
    prefix.get(HEADER - 4..HEADER) == Some(MAGIC)
}

/// The header with its order of bytes.
struct Header<'a> {
    bytes: &'a [u8; HEADER],
    order: Order,
}

impl Header<'_> {
    fn take<const N: usize>(&self, at: usize) -> [u8; N] {
        let mut taken = [0; N];
        taken.copy_from_slice(&self.bytes[at..at + N]);
        if self.order == Order::Big {
            taken.reverse();
        }
        taken
    }

    fn short(&self, at: usize) -> i16 {
        i16::from_le_bytes(self.take(at))
    }

    /// A number of four bytes, NaN and all.
    fn real(&self, at: usize) -> f64 {
        f32::from_le_bytes(self.take(at)).into()
    }

    fn reals<const N: usize>(&self, at: usize) -> [f64; N] {
        std::array::from_fn(|n| self.real(at + 4 * n))
    }
}

/// Reads a NIfTI-1 image in one file, which is not packed.
///
/// # Errors
/// When the header makes no sense, the voxels are cut short, or they are no labels.
pub fn read_nifti(input: &mut impl Read) -> Result<LabelVolume, BadVolume> {
    let mut bytes = [0; HEADER];
    exactly(input, &mut bytes)?;
    let header = Header {
        bytes: &bytes,
        order: order(&bytes)?,
    };
    let (size, count) = size(&header)?;
    let (kind, scale) = (kind(&header)?, scale(&header)?);
    let grid = grid(&header)?;
    let axes = if header.short(252) > 0 || header.short(254) > 0 {
        Axes::Ras
    } else {
        Axes::Assumed
    };
    skip(input, &header)?;
    let mut runs = Runs::default();
    samples::read(input, count, kind, header.order, scale, &mut runs)?;
    runs.volume(size, grid, axes)
}

fn exactly(input: &mut impl Read, place: &mut [u8]) -> Result<(), BadVolume> {
    let (mut had, whole) = (0, place.len());
    while had < whole {
        match input.read(&mut place[had..]) {
            Ok(0) => return Err(BadVolume::NoHeader(had as u64)),
            Ok(more) => had += more,
            Err(cause) if cause.kind() == io::ErrorKind::Interrupted => {}
            Err(cause) => return Err(BadVolume::Unreadable { voxel: 0, cause }),
        }
    }
    Ok(())
}

/// The order in which the header's size is 348.
fn order(bytes: &[u8; HEADER]) -> Result<Order, BadVolume> {
    let size = [bytes[0], bytes[1], bytes[2], bytes[3]];
    if i32::from_le_bytes(size) == 348 {
        Ok(Order::Little)
    } else if i32::from_be_bytes(size) == 348 {
        Ok(Order::Big)
    } else {
        Err(field("sizeof_hdr", i32::from_le_bytes(size), "348"))
    }
}

fn field(field: &str, value: impl ToString, allowed: &'static str) -> BadVolume {
    BadVolume::Field {
        field: field.into(),
        value: value.to_string(),
        allowed,
    }
}

/// How many voxels along each index, and in all.
fn size(header: &Header) -> Result<([usize; 3], u64), BadVolume> {
    let dimensions = header.short(40);
    if !(1..=7).contains(&dimensions) {
        return Err(field("dim[0]", dimensions, "3"));
    }
    let along = |n: i16| match header.short(40 + 2 * usize::from(n.unsigned_abs())) {
        _ if n > dimensions => Ok(1),
        found if found < 1 => Err(field(&format!("dim[{n}]"), found, "1 or more")),
        found => Ok(found.unsigned_abs()),
    };
    for n in 4..=7 {
        let volumes = along(n)?;
        if volumes > 1 {
            return Err(BadVolume::Unsupported {
                what: format!("a file with {volumes} volumes"),
                instead: "export one volume with one label for each voxel",
            });
        }
    }
    let size = [along(1)?, along(2)?, along(3)?];
    let count = voxels_of(size.map(u64::from))?;
    Ok((size.map(usize::from), count))
}

fn kind(header: &Header) -> Result<Kind, BadVolume> {
    let code = header.short(70);
    Ok(match code {
        2 => Kind::U8,
        4 => Kind::I16,
        8 => Kind::I32,
        16 => Kind::F32,
        64 => Kind::F64,
        256 => Kind::I8,
        512 => Kind::U16,
        768 => Kind::U32,
        1024 => Kind::I64,
        1280 => Kind::U64,
        _ => {
            return Err(field(
                "datatype",
                code,
                "one of 2, 4, 8, 16, 64, 256, 512, 768, 1024, 1280",
            ));
        }
    })
}

/// A slope of 0 means that there is none.
fn scale(header: &Header) -> Result<Scale, BadVolume> {
    let [slope, intercept] = header.reals(112);
    if slope == 0.0 {
        return Ok(Scale::NONE);
    }
    match (slope.is_finite(), intercept.is_finite()) {
        (false, _) => Err(field("scl_slope", slope, "a finite number")),
        (_, false) => Err(field("scl_inter", intercept, "a finite number")),
        _ => Ok(Scale { slope, intercept }),
    }
}

/// How many mm the header's unit of length is; one that it does not state is taken for mm.
fn unit(header: &Header) -> f64 {
    match header.bytes[123] & 7 {
        1 => 1000.0,
        3 => 0.001,
        _ => 1.0,
    }
}

fn grid(header: &Header) -> Result<Grid, BadVolume> {
    let (by_quaternion, by_rows) = (header.short(252) > 0, header.short(254) > 0);
    if by_rows && by_quaternion {
        let (rows, turned) = (rows(header), quaternion(header)?);
        if rows.1.determinant() * turned.1.determinant() < 0.0 {
            return Err(BadVolume::TwoSides);
        }
    }
    let (origin, axes) = if by_rows {
        rows(header)
    } else if by_quaternion {
        quaternion(header)?
    } else {
        (Point3::origin(), Matrix3::from_diagonal(&spacing(header)?))
    };
    let unit = unit(header);
    Ok(Grid::new(origin * unit, axes * unit)?)
}

/// Distances between voxels.
fn spacing(header: &Header) -> Result<Vector3<f64>, BadVolume> {
    let spacing: [f64; 3] = header.reals(80);
    for (n, &along) in spacing.iter().enumerate() {
        if !(along > 0.0 && along.is_finite()) {
            return Err(field(&format!("pixdim[{}]", n + 1), along, "more than 0"));
        }
    }
    Ok(spacing.into())
}

/// Origin and axes by `srow_x`, `srow_y` and `srow_z`.
fn rows(header: &Header) -> (Point3<f64>, Matrix3<f64>) {
    let rows: [[f64; 4]; 3] = [280, 296, 312].map(|at| header.reals(at));
    let axes = Matrix3::from_fn(|row, column| rows[row][column]);
    (rows.map(|row| row[3]).into(), axes)
}

/// Origin and axes by quaternion, offset and spacing; a `pixdim[0]` of −1 turns the third axis round.
fn quaternion(header: &Header) -> Result<(Point3<f64>, Matrix3<f64>), BadVolume> {
    let [b, c, d]: [f64; 3] = header.reals(256);
    let vector = Vector3::new(b, c, d);
    // A little more than 1 is rounding of 32-bit numbers.
    let square = vector.norm_squared();
    if square.is_nan() || square > 1.001 {
        let value = format!("({b}, {c}, {d})");
        return Err(field(
            "quatern_b, c, d",
            value,
            "the vector of a unit quaternion",
        ));
    }
    let a = (1.0 - vector.norm_squared()).max(0.0).sqrt();
    let turn = UnitQuaternion::from_quaternion(Quaternion::from_parts(a, vector));
    let mut steps = spacing(header)?;
    if header.real(76) < 0.0 {
        steps.z = -steps.z;
    }
    let axes = turn.to_rotation_matrix().into_inner() * Matrix3::from_diagonal(&steps);
    Ok((header.reals(268).into(), axes))
}

/// Passes over what lies between header and voxels.
fn skip(input: &mut impl Read, header: &Header) -> Result<(), BadVolume> {
    let offset = header.real(108);
    let between = offset - f64::from(DATA) + 4.0;
    if !((0.0..=LONGEST_EXTENSION).contains(&between) && offset.fract() == 0.0) {
        return Err(field("vox_offset", offset, "a whole number from 352 on"));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked above"
    )]
    let between = between as u64;
    let skipped = io::copy(&mut input.take(between), &mut io::sink());
    skipped.map_err(|cause| BadVolume::Unreadable { voxel: 0, cause })?;
    Ok(())
}
