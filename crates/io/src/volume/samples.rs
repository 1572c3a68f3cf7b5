//! Voxels as a file stores them: ten kinds of number in either order of bytes.

use std::io::{self, Read};

use super::{BadVolume, Runs};

/// A kind of number.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Kind {
    U8,
    I8,
    U16,
    I16,
    U32,
    I32,
    U64,
    I64,
    F32,
    F64,
}

/// Which byte comes first.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Order {
    Little,
    Big,
}

impl Kind {
    /// Bytes of a number.
    fn width(self) -> usize {
        match self {
            Self::U8 | Self::I8 => 1,
            Self::U16 | Self::I16 => 2,
            Self::U32 | Self::I32 | Self::F32 => 4,
            Self::U64 | Self::I64 | Self::F64 => 8,
        }
    }
}

/// The values in a file as what they mean: multiplied and moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    pub(super) slope: f64,
    pub(super) intercept: f64,
}

impl Scale {
    pub(super) const NONE: Self = Self {
        slope: 1.0,
        intercept: 0.0,
    };
}

/// Bytes taken at a time; a multiple of every width.
const CHUNK: usize = 1 << 16;

/// Adds `count` voxels from `input` to `runs`; fewer where it ends early.
pub(super) fn read(
    input: &mut impl Read,
    count: u64,
    kind: Kind,
    order: Order,
    scale: Scale,
    runs: &mut Runs,
) -> Result<(), BadVolume> {
    let width = kind.width();
    let mut chunk = vec![0; CHUNK];
    let mut left = count * width as u64;
    while left > 0 {
        let wanted = usize::try_from(left).unwrap_or(CHUNK).min(CHUNK);
        let had = fill(input, &mut chunk[..wanted]).map_err(|cause| BadVolume::Unreadable {
            voxel: u64::from(runs.voxels),
            cause,
        })?;
        let whole = &chunk[..had - had % width];
        add(whole, kind, order, scale, runs)?;
        if had < wanted {
            break;
        }
        left -= wanted as u64;
    }
    Ok(())
}

/// Reads until `place` is full or the input ends; how much.
fn fill(input: &mut impl Read, place: &mut [u8]) -> io::Result<usize> {
    let mut had = 0;
    while had < place.len() {
        match input.read(&mut place[had..]) {
            Ok(0) => break,
            Ok(more) => had += more,
            Err(cause) if cause.kind() == io::ErrorKind::Interrupted => {}
            Err(cause) => return Err(cause),
        }
    }
    Ok(had)
}

/// The numbers of a whole chunk.
fn add(
    bytes: &[u8],
    kind: Kind,
    order: Order,
    scale: Scale,
    runs: &mut Runs,
) -> Result<(), BadVolume> {
    macro_rules! each {
        ($number:ty, $label:expr, $real:expr) => {{
            let label: fn($number) -> Option<i32> = $label;
            let read = match order {
                Order::Little => <$number>::from_le_bytes,
                Order::Big => <$number>::from_be_bytes,
            };
            for bytes in bytes.chunks_exact(size_of::<$number>()) {
                let value = read(bytes.try_into().unwrap_or_default());
                match label(value).filter(|_| scale == Scale::NONE) {
                    Some(label) => runs.add(label)?,
                    None => runs.add_scaled($real(value), scale)?,
                }
            }
        }};
    }
    match kind {
        Kind::U8 => each!(u8, |v| Some(v.into()), f64::from),
        Kind::I8 => each!(i8, |v| Some(v.into()), f64::from),
        Kind::U16 => each!(u16, |v| Some(v.into()), f64::from),
        Kind::I16 => each!(i16, |v| Some(v.into()), f64::from),
        Kind::U32 => each!(u32, |v| v.try_into().ok(), f64::from),
        Kind::I32 => each!(i32, Some, f64::from),
        Kind::U64 => each!(u64, |v| v.try_into().ok(), near),
        Kind::I64 => each!(i64, |v| v.try_into().ok(), near),
        Kind::F32 => each!(f32, |v| whole(v.into()), f64::from),
        Kind::F64 => each!(f64, whole, std::convert::identity),
    }
    Ok(())
}

/// The nearest `f64` to a whole number of 64 bits; the same number where it has no more than 32.
#[expect(
    clippy::cast_precision_loss,
    reason = "only labels of 32 bits are taken"
)]
fn near(value: impl Into<i128>) -> f64 {
    value.into() as f64
}

impl Runs {
    /// The next voxel's value before scaling.
    fn add_scaled(&mut self, value: f64, scale: Scale) -> Result<(), BadVolume> {
        let value = value * scale.slope + scale.intercept;
        match whole(value) {
            Some(label) => self.add(label),
            None => Err(BadVolume::NotALabel {
                voxel: self.voxels.into(),
                value,
            }),
        }
    }
}

/// The value as a whole number of 32 bits, if it is one.
fn whole(value: f64) -> Option<i32> {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "what is not the same afterwards is refused"
    )]
    let label = value as i32;
    (f64::from(label).to_bits() == (value + 0.0).to_bits()).then_some(label)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(kind: Kind, order: Order, bytes: &[u8], expected: &[i32]) {
        let mut runs = Runs::default();
        let count = expected.len() as u64;
        read(&mut &bytes[..], count, kind, order, Scale::NONE, &mut runs).unwrap();
        let labels: Vec<_> = runs.runs.iter().map(|r| r.label).collect();
        assert_eq!(labels, expected, "{kind:?} {order:?}");
    }

    #[test]
    fn every_kind_of_number_is_read_in_both_orders() {
        check(Kind::U8, Order::Little, &[1, 255], &[1, 255]);
        check(Kind::I8, Order::Big, &[1, 255], &[1, -1]);
        check(Kind::U16, Order::Big, &[1, 2, 255, 255], &[258, 65535]);
        check(Kind::U16, Order::Little, &[1, 2], &[513]);
        check(Kind::I16, Order::Little, &[254, 255], &[-2]);
        check(Kind::U32, Order::Big, &[0, 0, 1, 0], &[256]);
        check(Kind::I32, Order::Little, &(-7_i32).to_le_bytes(), &[-7]);
        check(Kind::U64, Order::Big, &9_u64.to_be_bytes(), &[9]);
        check(Kind::I64, Order::Little, &(-9_i64).to_le_bytes(), &[-9]);
        check(Kind::F32, Order::Big, &3.0_f32.to_be_bytes(), &[3]);
        check(Kind::F64, Order::Little, &(-0.0_f64).to_le_bytes(), &[0]);
    }

    #[test]
    fn what_is_no_whole_number_is_told_with_its_voxel() {
        for value in [0.5, f64::NAN, f64::INFINITY, 3e9] {
            let bytes: Vec<u8> = [1.0, value].iter().flat_map(|v| v.to_le_bytes()).collect();
            let mut runs = Runs::default();
            let read = read(
                &mut &bytes[..],
                2,
                Kind::F64,
                Order::Little,
                Scale::NONE,
                &mut runs,
            );
            assert!(matches!(read, Err(BadVolume::NotALabel { voxel: 1, .. })));
        }
    }

    #[test]
    fn a_scale_is_applied() {
        let scale = Scale {
            slope: 0.5,
            intercept: -1.0,
        };
        let mut runs = Runs::default();
        read(
            &mut &[4, 8][..],
            2,
            Kind::U8,
            Order::Little,
            scale,
            &mut runs,
        )
        .unwrap();
        assert_eq!(
            runs.runs.iter().map(|r| r.label).collect::<Vec<_>>(),
            [1, 3]
        );
        assert!(read(&mut &[5][..], 1, Kind::U8, Order::Little, scale, &mut runs).is_err());
    }
}
