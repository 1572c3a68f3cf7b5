//! What an error of one landmark, or of the midline, does to the angles told of a cup or socket.

use std::f64::consts::TAU;

use nalgebra::{Point3, Rotation3, UnitVector3, Vector3};

use super::{Guess, Mark, MidlineBasis};
use crate::frame::{BadLandmarks, PelvicFrame, Reference};
use crate::landmarks::Landmarks;
use crate::orientation::{Definition, Orientation};
use crate::side::Side;

/// The most that angles change when one thing is wrong by a given amount in its worst direction, rad;
/// the directions that are worst for the three differ.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Influence {
    /// Change of inclination.
    pub inclination: f64,
    /// Change of anteversion.
    pub anteversion: f64,
    /// Turn of the reference plane about the line from left to right: what a pelvic tilt measured
    /// against it would be off by.
    pub tilt: f64,
}

/// An axis out of a cup or socket, and how its angles are told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    /// The axis, in the mesh's own coordinates.
    pub axis: UnitVector3<f64>,
    /// Which hip.
    pub side: Side,
    /// Which two angles.
    pub definition: Definition,
    /// The plane they refer to.
    pub reference: Reference,
}

/// The influence of each landmark that the reference plane rests on, moved alone by `error` mm.
///
/// The worst direction is that of the gradient, by central differences; the change is then that at the full
/// error, the larger of both ways.
///
/// # Errors
/// When the landmarks, or those moved, make no frame.
pub fn leave_one_out(
    landmarks: &Landmarks,
    told: &Told,
    error: f64,
) -> Result<Vec<(Mark, Side, Influence)>, BadLandmarks> {
    let lower = match told.reference {
        Reference::AnteriorPelvicPlane => Mark::PubicTubercle,
        Reference::Isb => Mark::Psis,
    };
    let before = Angles::of(landmarks, told, None)?;
    let mut all = Vec::new();
    for mark in [Mark::Asis, lower] {
        for side in [Side::Right, Side::Left] {
            let change = |by: Vector3<f64>| -> Result<[f64; 3], BadLandmarks> {
                let moved = with_moved(landmarks, mark, side, &by);
                Ok(Angles::of(&moved, told, Some(&before))?.less(&before))
            };
            all.push((mark, side, worst(error, change)?));
        }
    }
    Ok(all)
}

impl Guess {
    /// The influence of the midline being turned by `angle` rad in its worst direction, mirror images
    /// following; `None` where no landmark is a mirror image.
    ///
    /// # Errors
    /// When the landmarks make no frame.
    pub fn midline_influence(
        &self,
        told: &Told,
        angle: f64,
    ) -> Result<Option<Influence>, BadLandmarks> {
        if self.midline.basis == MidlineBasis::BothSides {
            return Ok(None);
        }
        let before = Angles::of(&self.landmarks(), told, None)?;
        let mut most = [0.0_f64; 3];
        const WAYS: u32 = 48;
        let across = before.frame.to_mesh() * Vector3::y();
        let about_right = |k: u32| {
            let turn = TAU * f64::from(k) / f64::from(WAYS);
            Rotation3::from_axis_angle(&self.midline.right, turn) * across
        };
        for k in 0..WAYS {
            let by = Rotation3::from_scaled_axis(about_right(k) * angle);
            let turned = self.with_midline_turned(&by);
            let change = Angles::of(&turned.landmarks(), told, Some(&before))?.less(&before);
            most = std::array::from_fn(|i| most[i].max(change[i].abs()));
        }
        Ok(Some(Influence::from(most)))
    }
}

impl From<[f64; 3]> for Influence {
    fn from([inclination, anteversion, tilt]: [f64; 3]) -> Self {
        Self {
            inclination,
            anteversion,
            tilt,
        }
    }
}

struct Angles {
    frame: PelvicFrame,
    inclination: f64,
    anteversion: f64,
    tilt: f64,
}

impl Angles {
    /// The angles in the frame of `landmarks`; tilt counts from the frame of `before`.
    fn of(landmarks: &Landmarks, told: &Told, before: Option<&Self>) -> Result<Self, BadLandmarks> {
        let frame = match told.reference {
            Reference::AnteriorPelvicPlane => PelvicFrame::anterior_pelvic_plane(landmarks)?,
            Reference::Isb => PelvicFrame::isb(landmarks)?,
        };
        let axis = frame.to_pelvic().rotation * told.axis;
        let orientation = Orientation::of_axis(&axis, told.side, told.definition);
        let up_before = before.map_or(Vector3::z(), |b| {
            frame.to_pelvic() * (b.frame.to_mesh() * Vector3::z())
        });
        Ok(Self {
            frame,
            inclination: orientation.inclination(),
            anteversion: orientation.anteversion(),
            tilt: (-up_before.y).atan2(up_before.z),
        })
    }

    fn less(&self, before: &Self) -> [f64; 3] {
        [
            self.inclination - before.inclination,
            self.anteversion - before.anteversion,
            self.tilt,
        ]
    }
}

fn worst(
    error: f64,
    change: impl Fn(Vector3<f64>) -> Result<[f64; 3], BadLandmarks>,
) -> Result<Influence, BadLandmarks> {
    // Small enough for a straight line, large enough for rounding, mm.
    const STEP: f64 = 0.01;
    let mut gradients = [Vector3::zeros(); 3];
    for k in 0..3 {
        let mut by = Vector3::zeros();
        by[k] = STEP;
        let (there, back) = (change(by)?, change(-by)?);
        for i in 0..3 {
            gradients[i][k] = (there[i] - back[i]) / (2.0 * STEP);
        }
    }
    let mut most = [0.0; 3];
    for i in 0..3 {
        let Some(direction) = gradients[i].try_normalize(1e-12) else {
            continue;
        };
        let (there, back) = (change(direction * error)?, change(-direction * error)?);
        most[i] = there[i].abs().max(back[i].abs());
    }
    Ok(Influence::from(most))
}

fn with_moved(landmarks: &Landmarks, mark: Mark, side: Side, by: &Vector3<f64>) -> Landmarks {
    let mut moved = *landmarks;
    let pair = match mark {
        Mark::Asis => Some(&mut moved.asis),
        Mark::PubicTubercle => Some(&mut moved.pubic_tubercle),
        Mark::Psis => moved.psis.as_mut(),
    };
    if let Some(pair) = pair {
        let place: &mut Point3<f64> = pair.on_mut(side);
        *place += by;
    }
    moved
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::side::Both;
    use approx::assert_abs_diff_eq;

    fn pelvis() -> Landmarks {
        let pair = |x: f64, y: f64, z: f64| Both {
            right: Point3::new(x, y, z),
            left: Point3::new(-x, y, z),
        };
        Landmarks {
            asis: pair(120.0, 0.0, 0.0),
            pubic_tubercle: pair(28.0, 0.0, -90.0),
            psis: Some(pair(43.0, -150.0, 20.0)),
        }
    }

    fn told(reference: Reference) -> Told {
        let angles = crate::Angles::from_degrees(40.0, 20.0);
        let cup = Orientation::new(Definition::Operative, angles).unwrap();
        Told {
            axis: cup.axis(Side::Right),
            side: Side::Right,
            definition: Definition::Operative,
            reference,
        }
    }

    #[test]
    fn a_landmark_off_by_3_mm_tilts_the_plane_by_what_its_height_allows() {
        // One of a pair moves the middle by half: 1.5 mm over a height of 90 mm. Operative anteversion
        // changes by the tilt exactly.
        let plane = told(Reference::AnteriorPelvicPlane);
        let all = leave_one_out(&pelvis(), &plane, 3.0).unwrap();
        assert_eq!(all.len(), 4);
        for (mark, _, influence) in &all[2..] {
            assert_eq!(*mark, Mark::PubicTubercle);
            assert_abs_diff_eq!(influence.tilt, (1.5_f64 / 90.0).atan(), epsilon = 1e-9);
            assert_abs_diff_eq!(influence.anteversion, influence.tilt, epsilon = 1e-9);
            assert_abs_diff_eq!(influence.inclination, 0.0, epsilon = 1e-9);
        }
    }

    #[test]
    fn an_asis_off_by_3_mm_turns_the_line_across_by_what_its_width_allows() {
        // The line turns by 3 / 240; operative inclination, the angle with the sagittal plane, by no more.
        let plane = told(Reference::AnteriorPelvicPlane);
        let all = leave_one_out(&pelvis(), &plane, 3.0).unwrap();
        let turn = (3.0_f64 / 240.0).atan();
        for (_, _, influence) in &all[..2] {
            assert!(influence.inclination <= turn + 1e-6);
            assert!(influence.inclination > 0.9 * turn, "{influence:?}");
        }
    }

    #[test]
    fn the_isb_frame_rests_on_the_psis() {
        let all = leave_one_out(&pelvis(), &told(Reference::Isb), 3.0).unwrap();
        let (mark, _, influence) = all[3];
        assert_eq!(mark, Mark::Psis);
        let depth = pelvis().size().unwrap().depth;
        assert_abs_diff_eq!(influence.tilt, (1.5 / depth).atan(), epsilon = 1e-6);
    }
}
