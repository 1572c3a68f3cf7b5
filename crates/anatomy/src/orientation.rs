//! Cup orientation: two angles that mean nothing without their definition.
//!
//! An [`Orientation`] carries its [`Definition`], its fields are private, and there is no way to
//! read the pair as if it were of another definition: [`converted_to`](Orientation::converted_to)
//! goes through the cup axis, and [`departure_from`](Orientation::departure_from) refuses a mixed
//! comparison. Angles in radians.
//!
//! The cup axis is the unit vector that points **out** of the socket. In the pelvic frame (x right,
//! y anterior, z superior) that of a right cup is, in the radiographic pair RI, RA,
//! `(cos RA sin RI, sin RA, -cos RA cos RI)`; a left cup is its mirror image in x = 0.

use std::f64::consts::{FRAC_PI_2, PI};

use nalgebra::{Unit, UnitVector3, Vector3};
use thiserror::Error;

use crate::side::Side;
use crate::tilt::Tilt;

/// Which two angles are meant (Murray 1993, J Bone Joint Surg Br 75-B:228; wording from memory).
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Definition {
    /// Inclination: between the longitudinal axis and the cup axis projected on the coronal plane.
    /// Anteversion: between the cup axis and the coronal plane.
    Radiographic,
    /// Inclination: between the cup axis and the sagittal plane. Anteversion: between the
    /// longitudinal axis and the cup axis projected on the sagittal plane.
    Operative,
    /// Inclination: between the longitudinal axis and the cup axis. Anteversion: between the
    /// transverse axis and the cup axis projected on the transverse plane.
    Anatomic,
}

impl Definition {
    /// The three of them.
    pub const ALL: [Self; 3] = [Self::Radiographic, Self::Operative, Self::Anatomic];

    /// Smallest and largest inclination and anteversion, in radians.
    fn ranges(self) -> [(f64, f64); 2] {
        match self {
            Self::Radiographic => [(-PI, PI), (-FRAC_PI_2, FRAC_PI_2)],
            Self::Operative => [(-FRAC_PI_2, FRAC_PI_2), (-PI, PI)],
            Self::Anatomic => [(0.0, PI), (-PI, PI)],
        }
    }
}

impl std::fmt::Display for Definition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Radiographic => "radiographic",
            Self::Operative => "operative",
            Self::Anatomic => "anatomic",
        })
    }
}

/// Inclination and anteversion, in radians, of a definition that is stated elsewhere.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Angles {
    /// Inclination, also called abduction.
    pub inclination: f64,
    /// Anteversion; negative is retroversion.
    pub anteversion: f64,
}

impl Angles {
    /// From degrees: inclination first, as the pair is always written.
    pub fn from_degrees(inclination: f64, anteversion: f64) -> Self {
        Self {
            inclination: inclination.to_radians(),
            anteversion: anteversion.to_radians(),
        }
    }
}

/// The direction a cup faces, as two angles together with their definition.
///
/// Two orientations are equal when definition and angles are; one axis told in two definitions
/// makes two unequal orientations, and [`angle_to`](Self::angle_to) between them is zero.
///
/// ```
/// use cupwright_anatomy::{Angles, Definition, Orientation};
/// let film = Orientation::new(Definition::Radiographic, Angles::from_degrees(45.0, 20.0))?;
/// let table = film.converted_to(Definition::Operative);
/// assert!((table.inclination().to_degrees() - 41.64).abs() < 0.01);
/// assert!((table.anteversion().to_degrees() - 27.24).abs() < 0.01);
/// # Ok::<(), cupwright_anatomy::BadAngle>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Orientation {
    definition: Definition,
    angles: Angles,
}

/// An angle that its definition cannot have.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("{definition} {angle} of {}° is not between {}° and {}°",
    value.to_degrees(), least.to_degrees(), most.to_degrees())]
pub struct BadAngle {
    /// The definition asked for.
    pub definition: Definition,
    /// `"inclination"` or `"anteversion"`.
    pub angle: &'static str,
    /// The value given, in radians.
    pub value: f64,
    /// The smallest value possible, in radians.
    pub least: f64,
    /// The largest value possible, in radians.
    pub most: f64,
}

/// Two orientations of different definitions were to be compared number by number.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
#[error("{given} angles cannot be compared with {wanted} ones: convert them first")]
pub struct MixedDefinitions {
    /// The definition of the orientation.
    pub given: Definition,
    /// The definition of what it was compared with.
    pub wanted: Definition,
}

impl Orientation {
    /// The pair `angles`, in radians, of `definition`.
    ///
    /// Radiographic anteversion and operative inclination lie within ±90°, anatomic inclination
    /// between 0 and 180°, the other three within ±180°.
    ///
    /// # Errors
    /// When an angle is not a number or lies outside its range.
    pub fn new(definition: Definition, angles: Angles) -> Result<Self, BadAngle> {
        // Wide enough for 90° or 180° turned into radians and back, and no more.
        const ROUNDING: f64 = 1e-14;
        let named = [
            ("inclination", angles.inclination),
            ("anteversion", angles.anteversion),
        ];
        for ((angle, value), (least, most)) in named.into_iter().zip(definition.ranges()) {
            if !(least - ROUNDING..=most + ROUNDING).contains(&value) {
                return Err(BadAngle {
                    definition,
                    angle,
                    value,
                    least,
                    most,
                });
            }
        }
        Ok(Self { definition, angles })
    }

    /// The orientation of a cup whose axis, pointing out of the socket, is `axis` in the pelvic frame.
    ///
    /// Where the axis leaves one of the two angles open it is 0: radiographic inclination of an axis
    /// straight forward or back, operative anteversion of one straight to the side, anatomic
    /// anteversion of one straight up or down.
    pub fn of_axis(axis: &UnitVector3<f64>, side: Side, definition: Definition) -> Self {
        let (lateral, anterior, inferior) = (side.sign() * axis.x, axis.y, -axis.z);
        let (inclination, anteversion) = match definition {
            Definition::Radiographic => (
                angle_of(lateral, inferior),
                anterior.atan2(lateral.hypot(inferior)),
            ),
            Definition::Operative => (
                lateral.atan2(anterior.hypot(inferior)),
                angle_of(anterior, inferior),
            ),
            Definition::Anatomic => (
                lateral.hypot(anterior).atan2(inferior),
                angle_of(anterior, lateral),
            ),
        };
        let angles = Angles {
            inclination,
            anteversion,
        };
        Self { definition, angles }
    }

    /// The cup axis in the pelvic frame (x right, y anterior, z superior), pointing out of the socket.
    ///
    /// Closed form, right side: radiographic `(cos RA sin RI, sin RA, -cos RA cos RI)`, operative
    /// `(sin OI, cos OI sin OA, -cos OI cos OA)`, anatomic `(sin AI cos AA, sin AI sin AA, -cos AI)`.
    pub fn axis(&self, side: Side) -> UnitVector3<f64> {
        let (sin_i, cos_i) = self.angles.inclination.sin_cos();
        let (sin_a, cos_a) = self.angles.anteversion.sin_cos();
        let [lateral, anterior, inferior] = match self.definition {
            Definition::Radiographic => [cos_a * sin_i, sin_a, cos_a * cos_i],
            Definition::Operative => [sin_i, cos_i * sin_a, cos_i * cos_a],
            Definition::Anatomic => [sin_i * cos_a, sin_i * sin_a, cos_i],
        };
        Unit::new_normalize(Vector3::new(side.sign() * lateral, anterior, -inferior))
    }

    /// The same direction in the angles of another definition.
    ///
    /// Goes through the cup axis, so it agrees with the trigonometric relations between the pairs
    /// (for instance sin OI = sin RI cos RA and tan OA = tan RA / cos RI) and holds where those divide
    /// by zero.
    #[must_use]
    pub fn converted_to(&self, definition: Definition) -> Self {
        if definition == self.definition {
            return *self;
        }
        Self::of_axis(&self.axis(Side::Right), Side::Right, definition)
    }

    /// The orientation, in the same definition, once the pelvis that holds the cup has tilted.
    ///
    /// Closed form: operative inclination stays, operative anteversion grows by the posterior tilt;
    /// sin RA' = sin RA cos t + cos RA cos RI sin t.
    #[must_use]
    pub fn tilted(&self, tilt: Tilt) -> Self {
        let turned = tilt.rotation() * self.axis(Side::Right);
        Self::of_axis(&turned, Side::Right, self.definition)
    }

    /// Which two angles these are.
    pub fn definition(&self) -> Definition {
        self.definition
    }

    /// Inclination and anteversion, in radians.
    pub fn angles(&self) -> Angles {
        self.angles
    }

    /// Inclination in radians, of [`definition`](Self::definition).
    pub fn inclination(&self) -> f64 {
        self.angles.inclination
    }

    /// Anteversion in radians, of [`definition`](Self::definition).
    pub fn anteversion(&self) -> f64 {
        self.angles.anteversion
    }

    /// Angle between the two cup axes, in radians, whatever the definitions.
    pub fn angle_to(&self, other: &Self) -> f64 {
        let (a, b) = (self.axis(Side::Right), other.axis(Side::Right));
        a.cross(&b).norm().atan2(a.dot(&b))
    }

    /// This pair less `target`, angle by angle, in radians.
    ///
    /// # Errors
    /// When the two are of different definitions.
    pub fn departure_from(&self, target: &Self) -> Result<Angles, MixedDefinitions> {
        if self.definition != target.definition {
            return Err(MixedDefinitions {
                given: self.definition,
                wanted: target.definition,
            });
        }
        Ok(Angles {
            inclination: self.angles.inclination - target.angles.inclination,
            anteversion: self.angles.anteversion - target.angles.anteversion,
        })
    }
}

impl std::fmt::Display for Orientation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{:.1}° inclination, {:.1}° anteversion ({})",
            self.angles.inclination.to_degrees(),
            self.angles.anteversion.to_degrees(),
            self.definition
        )
    }
}

/// Angle whose tangent is `opposite / adjacent`; 0 where both are zero, of either sign.
fn angle_of(opposite: f64, adjacent: f64) -> f64 {
    if opposite == 0.0 && adjacent == 0.0 {
        0.0
    } else {
        opposite.atan2(adjacent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn degrees(definition: Definition, inclination: f64, anteversion: f64) -> Orientation {
        Orientation::new(definition, Angles::from_degrees(inclination, anteversion)).unwrap()
    }

    #[test]
    fn a_left_axis_mirrors_the_right_one() {
        let cup = degrees(Definition::Radiographic, 40.0, 15.0);
        let (right, left) = (cup.axis(Side::Right), cup.axis(Side::Left));
        assert!(right.x > 0.6 && right.y > 0.25 && right.z < -0.7);
        let mirrored = Vector3::new(-left.x, left.y, left.z);
        assert_abs_diff_eq!(mirrored, right.into_inner(), epsilon = 1e-15);
    }

    #[test]
    fn every_definition_finds_its_angles_back_in_the_axis() {
        for definition in Definition::ALL {
            for side in [Side::Right, Side::Left] {
                let cup = degrees(definition, 52.0, -11.0);
                let back = Orientation::of_axis(&cup.axis(side), side, definition);
                assert_abs_diff_eq!(back.inclination(), cup.inclination(), epsilon = 1e-15);
                assert_abs_diff_eq!(back.anteversion(), cup.anteversion(), epsilon = 1e-15);
            }
        }
    }

    #[test]
    fn an_angle_left_open_at_a_pole_is_zero() {
        let poles = [
            (Definition::Radiographic, Vector3::y(), [0.0, 90.0]),
            (Definition::Radiographic, -Vector3::y(), [0.0, -90.0]),
            (Definition::Operative, Vector3::x(), [90.0, 0.0]),
            (Definition::Anatomic, -Vector3::z(), [0.0, 0.0]),
            (Definition::Anatomic, Vector3::z(), [180.0, 0.0]),
        ];
        for (definition, axis, [inclination, anteversion]) in poles {
            let axis = Unit::new_unchecked(axis);
            let cup = Orientation::of_axis(&axis, Side::Right, definition);
            assert_abs_diff_eq!(cup.inclination().to_degrees(), inclination, epsilon = 1e-12);
            assert_abs_diff_eq!(cup.anteversion().to_degrees(), anteversion, epsilon = 1e-12);
            for other in Definition::ALL {
                let there = cup.converted_to(other).axis(Side::Right);
                assert_abs_diff_eq!(
                    (there.into_inner() - axis.into_inner()).norm(),
                    0.0,
                    epsilon = 1e-15
                );
            }
        }
    }

    #[test]
    fn an_angle_outside_its_range_is_named() {
        let bad = Orientation::new(Definition::Radiographic, Angles::from_degrees(40.0, 120.0));
        assert_eq!(bad.unwrap_err().angle, "anteversion");
        let nan = Angles {
            inclination: f64::NAN,
            anteversion: 0.0,
        };
        for definition in Definition::ALL {
            assert_eq!(
                Orientation::new(definition, nan).unwrap_err().angle,
                "inclination"
            );
        }
        assert!(Orientation::new(Definition::Anatomic, Angles::from_degrees(-1.0, 0.0)).is_err());
    }

    #[test]
    fn right_angles_in_degrees_are_within_their_range() {
        for (definition, i, a) in [
            (Definition::Radiographic, 180.0, 90.0),
            (Definition::Operative, 90.0, -180.0),
            (Definition::Anatomic, 180.0, 180.0),
        ] {
            assert!(Orientation::new(definition, Angles::from_degrees(i, a)).is_ok());
        }
    }

    #[test]
    fn mixed_definitions_are_not_compared() {
        let film = degrees(Definition::Radiographic, 40.0, 20.0);
        let table = film.converted_to(Definition::Operative);
        assert_eq!(
            table.departure_from(&film),
            Err(MixedDefinitions {
                given: Definition::Operative,
                wanted: Definition::Radiographic
            })
        );
        assert_abs_diff_eq!(table.angle_to(&film), 0.0, epsilon = 1e-15);
        let target = degrees(Definition::Radiographic, 45.0, 15.0);
        let departure = film.departure_from(&target).unwrap();
        assert_abs_diff_eq!(departure.inclination.to_degrees(), -5.0, epsilon = 1e-12);
        assert_abs_diff_eq!(departure.anteversion.to_degrees(), 5.0, epsilon = 1e-12);
    }
}
