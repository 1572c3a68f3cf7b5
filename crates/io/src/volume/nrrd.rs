//! NRRD: a header of text lines, then the voxels, in the same file or beside it, raw or by gzip
//! (Definition of NRRD File Format, the Teem project; an open definition).
//!
//! Right-anterior-superior, left-anterior-superior and left-posterior-superior spaces are known; in others of
//! right-handed axes the patient's right is assumed to be x, and told.

use std::fmt;
use std::io::{self, BufRead, BufReader, Read};

use cupwright_geometry::voxels::Grid;
use flate2::bufread::MultiGzDecoder;
use nalgebra::{Matrix3, Point3, Vector3};
use thiserror::Error;

use super::samples::{self, Kind, Order, Scale};
use super::{Axes, BadVolume, LabelVolume, Runs, voxels_of};

/// The longest header taken, in bytes. Those with a name for each of a hundred labels have some ten thousand.
const LONGEST_HEADER: u64 = 1 << 20;

/// What opens the file that a detached header names.
pub type Companion<'a> = dyn Fn(&str) -> Result<Box<dyn Read>, NoCompanion> + 'a;

/// Why the file that a detached header names cannot be had.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("the voxels are in {name:?}, which cannot be had: {why}; keep both files in one folder")]
pub struct NoCompanion {
    /// The file, as the header names it.
    pub name: String,
    /// Why.
    pub why: String,
}

/// The fields that say something here, as typed.
#[derive(Debug, Default)]
struct Header {
    fields: Vec<(String, String)>,
}

impl Header {
    /// Reads up to the empty line that ends a header, or to the end of the file.
    fn read(input: &mut impl BufRead) -> Result<Self, BadVolume> {
        let mut left = LONGEST_HEADER;
        let mut header = Self::default();
        for number in 1.. {
            let mut line = Vec::new();
            let read = input.by_ref().take(left).read_until(b'\n', &mut line);
            let read = read.map_err(|cause| BadVolume::Unreadable { voxel: 0, cause })?;
            left -= read as u64;
            let line = String::from_utf8_lossy(&line);
            let line = line.trim_end();
            if read == 0 && left == 0 {
                return Err(field("the header", "longer than a mebibyte", "shorter"));
            }
            if line.is_empty() {
                return Ok(header);
            }
            header.add(line, number)?;
        }
        Ok(header)
    }

    fn add(&mut self, line: &str, number: usize) -> Result<(), BadVolume> {
        if number == 1 || line.starts_with('#') || line.contains(":=") {
            return Ok(());
        }
        let Some((name, value)) = line.split_once(':') else {
            return Err(BadVolume::Line {
                line: number,
                found: line.chars().take(40).collect(),
            });
        };
        let name = name.trim().to_ascii_lowercase();
        self.fields.push((name, value.trim().to_owned()));
        Ok(())
    }

    fn optional(&self, names: &[&str]) -> Option<&str> {
        let found = self
            .fields
            .iter()
            .find(|(name, _)| names.contains(&name.as_str()));
        found.map(|(_, value)| value.as_str())
    }

    fn required(&self, name: &'static str) -> Result<&str, BadVolume> {
        self.optional(&[name]).ok_or(BadVolume::Missing(name))
    }
}

fn field(field: &str, value: impl fmt::Display, allowed: &'static str) -> BadVolume {
    let value: String = value.to_string().chars().take(60).collect();
    BadVolume::Field {
        field: field.into(),
        value: format!("'{value}'"),
        allowed,
    }
}

/// Reads an NRRD volume; `beside` opens the file with the voxels where the header names one.
///
/// # Errors
/// When the header makes no sense, the voxels are cut short or cannot be had, or they are no labels.
pub fn read_nrrd(input: &mut impl Read, beside: &Companion) -> Result<LabelVolume, BadVolume> {
    let mut input = BufReader::new(input);
    let header = Header::read(&mut input)?;
    let kept = Kept::of(&header)?;
    let size = size(&header, &kept)?;
    let count = voxels_of(size)?;
    let (kind, order) = kind(&header)?;
    let (grid, axes) = grid(&header, &kept)?;
    let packing = Packing::of(&header)?;
    let mut runs = Runs::default();
    let mut take = |data: &mut dyn BufRead| {
        let data = &mut { data };
        packing.skip(data)?;
        if packing.gzip {
            let data = &mut MultiGzDecoder::new(data);
            samples::read(data, count, kind, order, Scale::NONE, &mut runs)
        } else {
            samples::read(data, count, kind, order, Scale::NONE, &mut runs)
        }
    };
    match header.optional(&["data file", "datafile"]) {
        None => take(&mut input)?,
        Some(name) if name.starts_with("LIST") || name.contains('%') => {
            return Err(BadVolume::Unsupported {
                what: "a volume whose voxels are in several files".into(),
                instead: "save it as one file",
            });
        }
        Some(name) => take(&mut BufReader::new(beside(name)?))?,
    }
    let [x, y, z] = size.map(|n| usize::try_from(n).unwrap_or(usize::MAX));
    runs.volume([x, y, z], grid, axes)
}

/// The three axes that are kept of a volume that may have more, of one voxel each.
struct Kept {
    axes: Vec<usize>,
    sizes: Vec<u64>,
}

impl Kept {
    fn of(header: &Header) -> Result<Self, BadVolume> {
        let dimension = header.required("dimension")?;
        let allowed = "3, or more where the others have one voxel";
        let count = dimension
            .parse::<usize>()
            .ok()
            .filter(|n| (3..=16).contains(n));
        let count = count.ok_or_else(|| field("dimension", dimension, allowed))?;
        let text = header.required("sizes")?;
        let sizes: Option<Vec<u64>> = text.split_whitespace().map(|n| n.parse().ok()).collect();
        let bad = || {
            field(
                "sizes",
                text,
                "a whole number more than 0 for each dimension",
            )
        };
        let sizes = sizes
            .filter(|sizes| sizes.len() == count && !sizes.contains(&0))
            .ok_or_else(bad)?;
        let mut axes: Vec<_> = (0..count).collect();
        while axes.len() > 3 {
            let Some(single) = axes.iter().position(|&axis| sizes[axis] == 1) else {
                return Err(BadVolume::Unsupported {
                    what: format!("a volume of {count} dimensions ({text})"),
                    instead: "save it as one label map, each voxel with one label",
                });
            };
            axes.remove(single);
        }
        Ok(Self { axes, sizes })
    }

    /// What is kept of a list with an entry for each axis.
    fn of_each<T: Clone>(&self, list: &[T]) -> Option<Vec<T>> {
        let kept = self.axes.iter().map(|&axis| list.get(axis).cloned());
        kept.collect::<Option<_>>()
            .filter(|_| list.len() == self.sizes.len())
    }
}

fn size(header: &Header, kept: &Kept) -> Result<[u64; 3], BadVolume> {
    let kept = kept.of_each(&kept.sizes);
    let size = kept.and_then(|sizes| sizes.try_into().ok());
    size.ok_or_else(|| {
        field(
            "sizes",
            header.required("sizes").unwrap_or(""),
            "three numbers",
        )
    })
}

fn kind(header: &Header) -> Result<(Kind, Order), BadVolume> {
    let name = header.required("type")?;
    let kind = match name.to_ascii_lowercase().as_str() {
        "signed char" | "int8" | "int8_t" => Kind::I8,
        "uchar" | "unsigned char" | "uint8" | "uint8_t" => Kind::U8,
        "short" | "short int" | "signed short" | "signed short int" | "int16" | "int16_t" => {
            Kind::I16
        }
        "ushort" | "unsigned short" | "unsigned short int" | "uint16" | "uint16_t" => Kind::U16,
        "int" | "signed int" | "int32" | "int32_t" => Kind::I32,
        "uint" | "unsigned int" | "uint32" | "uint32_t" => Kind::U32,
        "longlong"
        | "long long"
        | "long long int"
        | "signed long long"
        | "signed long long int"
        | "int64"
        | "int64_t" => Kind::I64,
        "ulonglong" | "unsigned long long" | "unsigned long long int" | "uint64" | "uint64_t" => {
            Kind::U64
        }
        "float" => Kind::F32,
        "double" => Kind::F64,
        _ => {
            return Err(field(
                "type",
                name,
                "a number of 8 to 64 bits, like uchar or short",
            ));
        }
    };
    let order = match header.optional(&["endian"]) {
        Some("little") => Order::Little,
        Some("big") => Order::Big,
        None if matches!(kind, Kind::U8 | Kind::I8) => Order::Little,
        None => return Err(BadVolume::Missing("endian")),
        Some(other) => return Err(field("endian", other, "little or big")),
    };
    Ok((kind, order))
}

/// How the voxels are kept.
struct Packing {
    gzip: bool,
    lines: u64,
    bytes: u64,
}

impl Packing {
    fn of(header: &Header) -> Result<Self, BadVolume> {
        let encoding = header.required("encoding")?;
        let gzip = match encoding.to_ascii_lowercase().as_str() {
            "raw" => false,
            "gz" | "gzip" => true,
            _ => return Err(field("encoding", encoding, "raw or gzip")),
        };
        let number = |names: &[&'static str; 2]| {
            let text = header.optional(names).unwrap_or("0");
            let allowed = "0, or a number of up to 16 million where the encoding is raw";
            let found = text.parse::<u64>().ok();
            let fits = found.filter(|&n| n == 0 || (!gzip && n <= 16_000_000));
            fits.ok_or_else(|| field(names[0], text, allowed))
        };
        Ok(Self {
            gzip,
            lines: number(&["line skip", "lineskip"])?,
            bytes: number(&["byte skip", "byteskip"])?,
        })
    }

    /// Passes over what comes before the voxels.
    fn skip(&self, data: &mut impl BufRead) -> Result<(), BadVolume> {
        let unreadable = |cause| BadVolume::Unreadable { voxel: 0, cause };
        for _ in 0..self.lines {
            if data.skip_until(b'\n').map_err(unreadable)? == 0 {
                break;
            }
        }
        let skipped = io::copy(&mut data.take(self.bytes), &mut io::sink());
        skipped.map(|_| ()).map_err(unreadable)
    }
}

/// Which way each axis of the file's space goes in right-anterior-superior coordinates.
fn space(header: &Header) -> Result<(Vector3<f64>, Axes), BadVolume> {
    let Some(name) = header.optional(&["space"]) else {
        return Ok((Vector3::repeat(1.0), Axes::Assumed));
    };
    Ok(match name.to_ascii_lowercase().as_str() {
        "right-anterior-superior" | "ras" => (Vector3::repeat(1.0), Axes::Ras),
        "left-posterior-superior" | "lps" => (
            Vector3::new(-1.0, -1.0, 1.0),
            Axes::Turned("left-posterior-superior"),
        ),
        "left-anterior-superior" | "las" => (
            Vector3::new(-1.0, 1.0, 1.0),
            Axes::Turned("left-anterior-superior"),
        ),
        "scanner-xyz" | "3d-right-handed" => (Vector3::repeat(1.0), Axes::Assumed),
        "3d-left-handed" => {
            return Err(BadVolume::Unsupported {
                what: "a left-handed space that does not say where the patient's right is".into(),
                instead: "save the labels with a space such as left-posterior-superior",
            });
        }
        _ => {
            let allowed = "right-anterior-superior, left-anterior-superior, left-posterior-superior or 3D-right-handed";
            return Err(field("space", name, allowed));
        }
    })
}

fn grid(header: &Header, kept: &Kept) -> Result<(Grid, Axes), BadVolume> {
    let (signs, axes) = space(header)?;
    let unit = unit(header)?;
    let (steps, axes) = match header.optional(&["space directions"]) {
        Some(text) => (directions(text, kept)?, axes),
        None => (spacings(header, kept)?, Axes::Assumed),
    };
    let allowed = "three numbers in brackets, like (0, 0, 0)";
    let origin = match header.optional(&["space origin"]) {
        None => Vector3::zeros(),
        Some(text) => vector(text).ok_or_else(|| field("space origin", text, allowed))?,
    };
    let turn = Matrix3::from_diagonal(&signs) * unit;
    Ok((Grid::new(Point3::from(turn * origin), turn * steps)?, axes))
}

/// The steps from voxel to voxel along each axis that is kept, as columns.
fn directions(text: &str, kept: &Kept) -> Result<Matrix3<f64>, BadVolume> {
    let allowed = "three numbers in brackets for each axis, like (0.8,0,0) (0,0.8,0) (0,0,1)";
    let bad = || field("space directions", text, allowed);
    let mut each = Vec::new();
    let mut rest = text.trim();
    while !rest.is_empty() {
        let (one, after) = match rest.strip_prefix("none") {
            Some(after) => (None, after),
            None => {
                let end = rest.find(')').ok_or_else(bad)? + 1;
                (Some(vector(&rest[..end]).ok_or_else(bad)?), &rest[end..])
            }
        };
        each.push(one);
        rest = after.trim_start();
    }
    let steps: Option<Vec<_>> = kept.of_each(&each).ok_or_else(bad)?.into_iter().collect();
    Ok(Matrix3::from_columns(&steps.ok_or_else(bad)?))
}

fn vector(text: &str) -> Option<Vector3<f64>> {
    let inner = text.trim().strip_prefix('(')?.strip_suffix(')')?;
    let numbers: Option<Vec<f64>> = inner.split(',').map(|n| n.trim().parse().ok()).collect();
    let three: [f64; 3] = numbers?.try_into().ok()?;
    Some(three.into())
}

fn spacings(header: &Header, kept: &Kept) -> Result<Matrix3<f64>, BadVolume> {
    let text = header.required("spacings")?;
    let bad = || field("spacings", text, "a number more than 0 for each axis");
    let all: Option<Vec<f64>> = text.split_whitespace().map(|n| n.parse().ok()).collect();
    let kept = kept.of_each(&all.ok_or_else(bad)?).ok_or_else(bad)?;
    if !kept.iter().all(|&step| step > 0.0 && step.is_finite()) {
        return Err(bad());
    }
    Ok(Matrix3::from_diagonal(&Vector3::from_iterator(kept)))
}

/// How many mm the file's unit of length is; one that it does not state is taken for mm.
fn unit(header: &Header) -> Result<f64, BadVolume> {
    let Some(text) = header.optional(&["space units", "units"]) else {
        return Ok(1.0);
    };
    let quoted: Vec<_> = text
        .split('"')
        .filter(|unit| !unit.trim().is_empty())
        .collect();
    let first = quoted.first().copied().unwrap_or("mm");
    let one = quoted.iter().all(|unit| *unit == first);
    match first {
        "mm" | "millimeter" | "millimetre" if one => Ok(1.0),
        "cm" if one => Ok(10.0),
        "m" if one => Ok(1000.0),
        "um" | "µm" if one => Ok(0.001),
        _ => Err(field("space units", text, "\"mm\" for each axis")),
    }
}
