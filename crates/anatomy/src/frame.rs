//! [`PelvicFrame`]: the axes in which inclination, anteversion, superior and anterior are told.
//!
//! Origin midway between the ASIS; **x toward the patient's right, y anterior, z superior**; mm. All
//! frames share x, along the line through the ASIS, and differ only by a turn about it:
//!
//! - **anterior pelvic plane (APP)**: four points do not lie in one plane, so it is fixed as the
//!   plane through both ASIS and the point midway between the pubic tubercles; z lies in it, from
//!   that point up, and y is its normal.
//! - **ISB pelvic frame** (Wu 2002, J Biomech 35:543): y points from the point midway between the PSIS
//!   to the origin, made square to x. Wu names the axes x forward, y up and z right and puts the origin
//!   into the hip centre; here they carry the names above, and the origin stays midway between the ASIS.
//! - either of them **tilted**: the axes of the room in which the pelvis stands with that tilt.
//!
//! What of a mix-up of right and left is found: one pair of landmarks swapped against another
//! ([`BadLandmarks::PairTurned`]); and, where PSIS are given, all pairs swapped, or a mirrored bone
//! ([`BadLandmarks::SidesSwapped`]), since then the PSIS would lie in front. With ASIS and tubercles
//! alone, all swapped, nothing is found: the same four points are a pelvis that faces the other way.

use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};
use thiserror::Error;

use crate::landmarks::{Landmarks, middle};
use crate::side::Both;
use crate::tilt::Tilt;

/// Which landmarks set the upright of a frame.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Reference {
    /// Both ASIS and the pubic tubercles.
    AnteriorPelvicPlane,
    /// Both ASIS and the PSIS: the ISB pelvic frame of Wu 2002.
    Isb,
}

impl std::fmt::Display for Reference {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::AnteriorPelvicPlane => "anterior pelvic plane",
            Self::Isb => "ISB pelvic frame",
        })
    }
}

/// Pelvic axes and the way into them from the mesh's own coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PelvicFrame {
    reference: Reference,
    tilt: Tilt,
    untilted: Isometry3<f64>,
}

/// Why landmarks make no frame.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum BadLandmarks {
    /// A coordinate is NaN or infinite.
    #[error("the {landmark} has a coordinate that is not a finite number")]
    NotFinite {
        /// Which pair it is of.
        landmark: &'static str,
    },
    /// The ASIS are too close or too far apart for a pelvis in mm.
    #[error(
        "the ASIS lie {distance:.1} mm apart; in an adult it is 188 to 274 mm: is the unit right?"
    )]
    AsisDistance {
        /// Their distance, in mm.
        distance: f64,
    },
    /// Landmarks that must lie off the ASIS line lie on it, so it is not known which way is up.
    #[error(
        "the point midway between the {landmark} lies {distance:.1} mm from the line through the ASIS, too near to tell which way is up"
    )]
    OnAsisLine {
        /// Which pair it is.
        landmark: &'static str,
        /// Distance of their mid-point from the line, in mm.
        distance: f64,
    },
    /// The ISB frame was asked for and there are no PSIS.
    #[error("the ISB pelvic frame needs both PSIS")]
    NoPsis,
    /// Right and left of this pair lie the other way round than the ASIS.
    #[error("right and left of the {landmark} lie the other way round than those of the ASIS")]
    PairTurned {
        /// Which pair it is.
        landmark: &'static str,
    },
    /// The PSIS would lie in front of the anterior pelvic plane.
    #[error(
        "the PSIS lie in front of the anterior pelvic plane: right and left are swapped, or the bone is mirrored"
    )]
    SidesSwapped,
}

const TUBERCLES: &str = "pubic tubercles";
const PSIS: &str = "PSIS";

/// Distances between the ASIS that are taken for millimetres.
///
/// Published adults: 188 to 274 mm (Augustine 2018, Clin Anat, doi 10.1002/ca.23273). A pelvis in
/// centimetres has at most 27, one in tenths of a millimetre at least 1880; the room on either side
/// is for children and animals.
const ASIS_DISTANCE: std::ops::RangeInclusive<f64> = 50.0..=600.0;

/// How far the tubercles or PSIS must be from the ASIS line, in mm: less than a picking error of
/// 5 mm would then turn the frame by more than 20°. Published plane heights: 71 to 115 mm (same).
const OFF_LINE: f64 = 15.0;

impl PelvicFrame {
    /// The frame of the anterior pelvic plane.
    ///
    /// # Errors
    /// When a landmark is not finite, the ASIS are not a plausible distance apart, the tubercles lie on
    /// the ASIS line, or right and left are mixed up as far as that can be seen.
    pub fn anterior_pelvic_plane(landmarks: &Landmarks) -> Result<Self, BadLandmarks> {
        checked(landmarks)?;
        let tubercles = middle(&landmarks.pubic_tubercle);
        let (right, up) = axes(landmarks, landmarks.mid_asis() - tubercles, TUBERCLES)?;
        Ok(Self::new(
            Reference::AnteriorPelvicPlane,
            landmarks,
            [right, up.cross(&right), up],
        ))
    }

    /// The ISB pelvic frame, in our axes.
    ///
    /// # Errors
    /// As for [`anterior_pelvic_plane`](Self::anterior_pelvic_plane), and when there are no PSIS or they
    /// lie on the ASIS line.
    pub fn isb(landmarks: &Landmarks) -> Result<Self, BadLandmarks> {
        checked(landmarks)?;
        let psis = middle(landmarks.psis.as_ref().ok_or(BadLandmarks::NoPsis)?);
        let (right, forward) = axes(landmarks, landmarks.mid_asis() - psis, PSIS)?;
        Ok(Self::new(
            Reference::Isb,
            landmarks,
            [right, forward, right.cross(&forward)],
        ))
    }

    /// The axes of the room in which the pelvis, upright as its reference has it, is tilted by `tilt`.
    ///
    /// A cup seen in the new frame has the orientation that [`Orientation::tilted`] gives. An earlier
    /// tilt of this frame is replaced.
    ///
    /// [`Orientation::tilted`]: crate::Orientation::tilted
    #[must_use]
    pub fn tilted(&self, tilt: Tilt) -> Self {
        Self { tilt, ..*self }
    }

    /// Which landmarks set the upright.
    pub fn reference(&self) -> Reference {
        self.reference
    }

    /// How far the pelvis is tilted in this frame against its reference.
    pub fn tilt(&self) -> Tilt {
        self.tilt
    }

    /// Takes a point or direction of the mesh's own coordinates to pelvic ones.
    pub fn to_pelvic(&self) -> Isometry3<f64> {
        self.tilt.rotation() * self.untilted
    }

    /// Takes a point or direction of pelvic coordinates to the mesh's own.
    pub fn to_mesh(&self) -> Isometry3<f64> {
        self.to_pelvic().inverse()
    }

    fn new(reference: Reference, landmarks: &Landmarks, axes: [Vector3<f64>; 3]) -> Self {
        let rows = Rotation3::from_matrix_unchecked(Matrix3::from_columns(&axes).transpose());
        let origin = Translation3::from(-landmarks.mid_asis().coords);
        Self {
            reference,
            tilt: Tilt::NONE,
            untilted: UnitQuaternion::from_rotation_matrix(&rows) * origin,
        }
    }
}

/// Unit vectors to the right and, square to it, along `toward`.
fn axes(
    landmarks: &Landmarks,
    toward: Vector3<f64>,
    landmark: &'static str,
) -> Result<(Vector3<f64>, Vector3<f64>), BadLandmarks> {
    let right = across(&landmarks.asis).normalize();
    let square = toward - right * right.dot(&toward);
    let distance = square.norm();
    if distance < OFF_LINE {
        return Err(BadLandmarks::OnAsisLine { landmark, distance });
    }
    Ok((right, square / distance))
}

fn checked(landmarks: &Landmarks) -> Result<(), BadLandmarks> {
    let pairs = [
        ("ASIS", Some(&landmarks.asis)),
        (TUBERCLES, Some(&landmarks.pubic_tubercle)),
        (PSIS, landmarks.psis.as_ref()),
    ];
    let asis = across(&landmarks.asis);
    for (landmark, pair) in pairs {
        let Some(pair) = pair else { continue };
        if !finite(&pair.right) || !finite(&pair.left) {
            return Err(BadLandmarks::NotFinite { landmark });
        }
        if across(pair).dot(&asis) < 0.0 {
            return Err(BadLandmarks::PairTurned { landmark });
        }
    }
    let distance = asis.norm();
    if !ASIS_DISTANCE.contains(&distance) {
        return Err(BadLandmarks::AsisDistance { distance });
    }
    if let Some(psis) = &landmarks.psis {
        let up = landmarks.mid_asis() - middle(&landmarks.pubic_tubercle);
        let forward = up.cross(&asis);
        if (middle(psis) - landmarks.mid_asis()).dot(&forward) > 0.0 {
            return Err(BadLandmarks::SidesSwapped);
        }
    }
    Ok(())
}

fn across(pair: &Both<Point3<f64>>) -> Vector3<f64> {
    pair.right - pair.left
}

fn finite(point: &Point3<f64>) -> bool {
    point.iter().all(|c| c.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Angles, Definition, Orientation, Side};
    use approx::assert_abs_diff_eq;
    use nalgebra::Unit;

    fn pelvis() -> Landmarks {
        let pair = |x: f64, y: f64, z: f64| Both {
            right: Point3::new(x, y, z),
            left: Point3::new(-x, y, z),
        };
        Landmarks {
            asis: pair(119.0, 0.0, 0.0),
            pubic_tubercle: pair(25.0, 0.0, -92.7),
            psis: Some(pair(40.0, -145.0, 20.0)),
        }
    }

    fn somewhere() -> Isometry3<f64> {
        Isometry3::new(
            Vector3::new(300.0, -20.0, 1000.0),
            Vector3::new(1.0, -2.0, 0.4),
        )
    }

    fn swapped<T: Copy>(pair: Both<T>) -> Both<T> {
        Both {
            right: pair.left,
            left: pair.right,
        }
    }

    #[test]
    fn the_plane_finds_its_own_axes_in_any_pose() {
        let frame = PelvicFrame::anterior_pelvic_plane(&pelvis().moved(&somewhere())).unwrap();
        for point in [Point3::new(119.0, 0.0, 0.0), Point3::new(3.0, -50.0, 7.0)] {
            let found = frame.to_pelvic() * (somewhere() * point);
            assert_abs_diff_eq!(found, point, epsilon = 1e-10);
            assert_abs_diff_eq!(
                frame.to_mesh() * found,
                somewhere() * point,
                epsilon = 1e-10
            );
        }
    }

    #[test]
    fn the_isb_frame_puts_the_psis_level_behind_the_asis() {
        let landmarks = pelvis().moved(&somewhere());
        let frame = PelvicFrame::isb(&landmarks).unwrap();
        let psis = frame.to_pelvic() * middle(&landmarks.psis.unwrap());
        let depth = landmarks.size().unwrap().depth;
        assert_abs_diff_eq!(psis, Point3::new(0.0, -depth, 0.0), epsilon = 1e-10);
        assert!((frame.to_pelvic() * landmarks.asis.right).x > 118.0);
        assert!((frame.to_pelvic() * landmarks.pubic_tubercle.left).z < -80.0);
    }

    #[test]
    fn the_plane_passes_midway_between_uneven_tubercles() {
        let mut landmarks = pelvis();
        landmarks.pubic_tubercle.right.y += 6.0;
        landmarks.pubic_tubercle.left.y -= 2.0;
        let frame = PelvicFrame::anterior_pelvic_plane(&landmarks).unwrap();
        let [right, left] = [Side::Right, Side::Left]
            .map(|side| frame.to_pelvic() * landmarks.pubic_tubercle.on(side));
        assert_abs_diff_eq!(right.y + left.y, 0.0, epsilon = 1e-12);
        assert!((frame.to_pelvic() * landmarks.asis.left).y.abs() < 1e-12);
    }

    #[test]
    fn a_cup_seen_in_a_tilted_frame_has_the_tilted_orientation() {
        let pair = Angles::from_degrees(40.0, 15.0);
        let cup = Orientation::new(Definition::Radiographic, pair).unwrap();
        let frame = PelvicFrame::anterior_pelvic_plane(&pelvis().moved(&somewhere())).unwrap();
        let tilt = Tilt::posterior(0.2).unwrap();
        for side in [Side::Right, Side::Left] {
            let in_mesh = frame.to_mesh() * cup.axis(side).into_inner();
            let seen = frame.tilted(tilt).to_pelvic() * in_mesh;
            let seen = Orientation::of_axis(&Unit::new_normalize(seen), side, cup.definition());
            assert_abs_diff_eq!(seen.angle_to(&cup.tilted(tilt)), 0.0, epsilon = 1e-12);
            assert!(seen.anteversion() > cup.anteversion());
        }
    }

    #[test]
    fn mixed_up_sides_are_found_where_they_can_be() {
        let mut one_pair = pelvis();
        one_pair.pubic_tubercle = swapped(one_pair.pubic_tubercle);
        assert_eq!(
            PelvicFrame::anterior_pelvic_plane(&one_pair),
            Err(BadLandmarks::PairTurned {
                landmark: TUBERCLES
            })
        );
        let mut all = pelvis();
        all.asis = swapped(all.asis);
        all.pubic_tubercle = swapped(all.pubic_tubercle);
        all.psis = all.psis.map(swapped);
        for frame in [PelvicFrame::anterior_pelvic_plane, PelvicFrame::isb] {
            assert_eq!(frame(&all), Err(BadLandmarks::SidesSwapped));
        }
        // Four points alone cannot tell: they are a pelvis that faces the other way.
        all.psis = None;
        let turned = PelvicFrame::anterior_pelvic_plane(&all).unwrap();
        let forward = turned.to_mesh() * Vector3::y();
        assert_abs_diff_eq!(forward, -Vector3::y(), epsilon = 1e-12);
    }

    #[test]
    fn landmarks_that_fix_no_frame_are_refused() {
        let mut flat = pelvis();
        flat.pubic_tubercle = flat.asis;
        assert!(matches!(
            PelvicFrame::anterior_pelvic_plane(&flat),
            Err(BadLandmarks::OnAsisLine { .. })
        ));
        let mut metres = pelvis();
        metres.asis.right = Point3::new(0.119, 0.0, 0.0);
        metres.asis.left = Point3::new(-0.119, 0.0, 0.0);
        let refused = PelvicFrame::anterior_pelvic_plane(&metres);
        assert!(matches!(refused, Err(BadLandmarks::AsisDistance { distance }) if distance < 0.3));
        let mut nan = pelvis();
        nan.asis.left.z = f64::NAN;
        assert!(matches!(
            PelvicFrame::isb(&nan),
            Err(BadLandmarks::NotFinite { landmark: "ASIS" })
        ));
        let mut none = pelvis();
        none.psis = None;
        assert_eq!(PelvicFrame::isb(&none), Err(BadLandmarks::NoPsis));
    }

    #[test]
    fn sizes_are_the_distances_between_landmarks() {
        let landmarks = pelvis().moved(&somewhere());
        let size = landmarks.size().unwrap();
        assert_abs_diff_eq!(size.width, 238.0, epsilon = 1e-9);
        assert_abs_diff_eq!(size.depth, 145_f64.hypot(20.0), epsilon = 1e-9);
        assert_abs_diff_eq!(landmarks.plane_height(), 92.7, epsilon = 1e-9);
    }
}
