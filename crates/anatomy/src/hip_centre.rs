//! Where the hip centre should be, from distances between landmarks: published regressions.
//!
//! All give it in mm in the pelvic frame of this crate (origin midway between the ASIS, x toward the
//! patient's right, y anterior, z superior), with the ISB pelvic frame's upright
//! ([`PelvicFrame::isb`](crate::PelvicFrame::isb)). The papers name the same axes z, x and y. They
//! miss a given person's centre by millimetres each way; none replaces a socket that can be seen.

use nalgebra::Point3;

use crate::landmarks::PelvicSize;
use crate::side::Side;

/// The regressions by sex differ.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Sex {
    /// Female.
    Female,
    /// Male.
    Male,
}

/// What Seidel's ratios are of, in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeidelSize {
    /// Width and depth of the pelvis.
    pub pelvis: PelvicSize,
    /// Height of the anterior pelvic plane, from the ASIS line to the pubic tubercles.
    pub plane_height: f64,
}

/// Hip centre after Harrington 2007 (J Biomech 40:595), from the width and depth of the pelvis.
///
/// Forward −0.24 PD − 9.9, up −0.30 PW − 10.9, lateral 0.33 PW + 7.3 (coefficients read in public code
/// that cites it). Leave-one-out error 5.2, 3.6 and 3.2 mm.
///
/// ```
/// use cupwright_anatomy::{PelvicSize, Side, hip_centre::harrington};
/// let centre = harrington(PelvicSize { width: 238.0, depth: 150.0 }, Side::Left);
/// assert!((centre.x + 85.84).abs() < 1e-9);
/// ```
pub fn harrington(size: PelvicSize, side: Side) -> Point3<f64> {
    let PelvicSize { width, depth } = size;
    placed(
        side,
        [
            0.33 * width + 7.3,
            -0.24 * depth - 9.9,
            -0.30 * width - 10.9,
        ],
    )
}

/// Hip centre after Bell 1989 and 1990, from the distance between the ASIS, in mm.
///
/// Forward −0.19 PW, up −0.30 PW, lateral 0.36 PW (read in public code; the abstract's 30 % distal and
/// 14 % medial of the ASIS agree with it, its 22 % posterior is used in [`bell_by_sex`]).
pub fn bell(width: f64, side: Side) -> Point3<f64> {
    placed(side, [0.36 * width, -0.19 * width, -0.30 * width])
}

/// Hip centre after Tylkowski and Bell by sex, from the distance between the ASIS, in mm.
///
/// From the ASIS: 0.22 PW posterior, 0.31 (male) or 0.29 (female) distal, 0.14 or 0.15 medial (read in
/// public code that cites them).
pub fn bell_by_sex(width: f64, sex: Sex, side: Side) -> Point3<f64> {
    let (distal, medial) = match sex {
        Sex::Male => (0.31, 0.14),
        Sex::Female => (0.29, 0.15),
    };
    placed(
        side,
        [(0.5 - medial) * width, -0.22 * width, -distal * width],
    )
}

/// Hip centre after Seidel 1995 (J Biomech 28:995, place from memory), from width, depth and height.
///
/// From the ASIS: 0.34 of the depth posterior, 0.79 of the height distal, 0.14 of the width medial
/// (read in public code that cites it).
pub fn seidel(size: SeidelSize, side: Side) -> Point3<f64> {
    let PelvicSize { width, depth } = size.pelvis;
    placed(
        side,
        [0.36 * width, -0.34 * depth, -0.79 * size.plane_height],
    )
}

/// Hip centre after Hara 2016 (Sci Rep 6:37707), from the leg length, in mm.
///
/// Forward 11 − 0.063 LL, up −9 − 0.078 LL, lateral 8 + 0.086 LL (read in public code that cites it).
/// Leave-one-out error 5.2, 4.4 and 3.8 mm.
pub fn hara(leg_length: f64, side: Side) -> Point3<f64> {
    placed(
        side,
        [
            8.0 + 0.086 * leg_length,
            11.0 - 0.063 * leg_length,
            -9.0 - 0.078 * leg_length,
        ],
    )
}

fn placed(side: Side, [lateral, anterior, superior]: [f64; 3]) -> Point3<f64> {
    Point3::new(side.sign() * lateral, anterior, superior)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: PelvicSize = PelvicSize {
        width: 238.0,
        depth: 150.0,
    };

    #[test]
    fn left_mirrors_right() {
        for centre in [
            |side| harrington(SIZE, side),
            |side| bell_by_sex(238.0, Sex::Female, side),
            |side| hara(880.0, side),
        ] {
            let (right, left) = (centre(Side::Right), centre(Side::Left));
            assert!(right.x > 80.0 && right.y < -40.0 && right.z < -65.0);
            assert_eq!(Point3::new(-left.x, left.y, left.z), right);
        }
    }

    #[test]
    fn the_centre_of_a_woman_lies_higher_and_nearer_the_midline() {
        let [woman, man] = [Sex::Female, Sex::Male].map(|sex| bell_by_sex(238.0, sex, Side::Right));
        assert!(woman.x < man.x && woman.z > man.z);
    }
}
