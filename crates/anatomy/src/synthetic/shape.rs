//! The numbers a synthetic pelvis is made from, each with its allowed range.

use thiserror::Error;

/// A parameter of [`Shape`]: what it means and what it may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parameter {
    /// Its name, which ends in its unit.
    pub name: &'static str,
    /// Smallest allowed value.
    pub least: f64,
    /// Largest allowed value.
    pub most: f64,
    /// What it is, in one line.
    pub meaning: &'static str,
}

/// Why a shape cannot be built.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BadShape {
    /// No parameter has this name.
    #[error("the pelvis has no parameter {name}; it has: {}", names())]
    UnknownName {
        /// The name that was given.
        name: String,
    },
    /// A value outside its range, or not a number.
    #[error("{name} = {value} is outside its range of {least} to {most}")]
    OutOfRange {
        /// The parameter.
        name: &'static str,
        /// The value that was given.
        value: f64,
        /// Smallest allowed value.
        least: f64,
        /// Largest allowed value.
        most: f64,
    },
    /// Two values that each are allowed but not together.
    #[error(
        "{name} = {value} cannot go with {other} = {other_value}: {name} must be {least} to {most} there"
    )]
    Conflict {
        /// The parameter.
        name: &'static str,
        /// Its value.
        value: f64,
        /// The parameter that it conflicts with.
        other: &'static str,
        /// The value of that one.
        other_value: f64,
        /// Smallest value allowed with it.
        least: f64,
        /// Largest value allowed with it.
        most: f64,
    },
    /// No preset has this name.
    #[error("there is no preset {name}; there are: {known}")]
    UnknownPreset {
        /// The name that was given.
        name: String,
        /// The names there are.
        known: String,
    },
    /// A preset's own file cannot be read.
    #[error("the preset {name} cannot be read: {problem}")]
    BadPreset {
        /// The preset.
        name: &'static str,
        /// What is wrong with it, with line and column.
        problem: String,
    },
    /// The field of these numbers gave no closed bone.
    #[error("these numbers give no closed bone ({problem}); move them nearer to a preset")]
    NoBone {
        /// What is wrong with the surface.
        problem: String,
    },
}

fn names() -> String {
    let names: Vec<&str> = PARAMETERS.iter().map(|p| p.name).collect();
    names.join(", ")
}

macro_rules! parameters {
    ($($name:ident: $least:literal to $most:literal, $meaning:literal;)*) => {
        /// Everything that shapes the synthetic pelvis; every unit is in the name.
        ///
        /// Directions are those of the anterior pelvic plane: "below" and "behind" are measured from
        /// the line through both ASIS. Rim angles say how far the rim stands below the level of the full
        /// hemisphere at a place on the clock face (12 superior, 3 anterior, on both sides), negative
        /// where it stands above.
        #[derive(Clone, Debug, PartialEq)]
        pub struct Shape {
            $(#[doc = $meaning] pub $name: f64,)*
        }

        /// Every parameter of [`Shape`], in its order.
        pub const PARAMETERS: &[Parameter] = &[
            $(Parameter { name: stringify!($name), least: $least, most: $most, meaning: $meaning },)*
        ];

        impl Shape {
            pub(super) const UNSET: Self = Self { $($name: f64::NAN,)* };

            fn slot(&mut self, name: &str) -> Option<&mut f64> {
                match name {
                    $(stringify!($name) => Some(&mut self.$name),)*
                    _ => None,
                }
            }

            /// Every parameter's value, in the order of [`PARAMETERS`].
            pub fn values(&self) -> Vec<f64> {
                vec![$(self.$name,)*]
            }
        }
    };
}

parameters! {
    asis_width_mm: 170.0 to 300.0, "Distance between the two ASIS, mm.";
    app_height_mm: 65.0 to 125.0, "From the ASIS line down to the line of the pubic tubercles, mm.";
    crest_width_mm: 200.0 to 340.0, "Widest distance between the iliac crests, mm.";
    crest_height_mm: 35.0 to 85.0, "Highest point of the iliac crest above the ASIS line, mm.";
    psis_width_mm: 55.0 to 130.0, "Distance between the two PSIS, mm.";
    pelvic_depth_mm: 110.0 to 185.0, "From the ASIS line back to the PSIS line, mm.";
    psis_rise_mm: -10.0 to 45.0, "PSIS line above the ASIS line, mm.";
    hip_spacing_mm: 130.0 to 230.0, "Distance between the two hip centres, mm.";
    hip_behind_mm: 30.0 to 75.0, "Hip centre behind the anterior pelvic plane, mm.";
    hip_below_mm: 45.0 to 100.0, "Hip centre below the ASIS line, mm.";
    tubercle_spacing_mm: 36.0 to 84.0, "Distance between the two pubic tubercles, mm.";
    symphysis_height_mm: 28.0 to 50.0, "Height of the symphyseal face, mm.";
    spine_width_mm: 75.0 to 130.0, "Distance between the two ischial spines, mm.";
    tuberosity_width_mm: 90.0 to 170.0, "Distance between the middles of the ischial tuberosities, mm.";
    tuberosity_drop_mm: 60.0 to 105.0, "Lowest point of the ischium below the hip centre, mm.";
    wing_thickness_mm: 3.0 to 10.0, "Thinnest place of the iliac wing, mm.";
    crest_thickness_mm: 8.0 to 20.0, "Thickness of the iliac crest, mm.";
    socket_diameter_mm: 38.0 to 64.0, "Diameter of the bony socket across its lunate surface, mm.";
    socket_lengthening_mm: 0.0 to 8.0, "How much taller than wide the socket is, mm.";
    fossa_depth_mm: 1.0 to 6.0, "How far the fossa lies behind the lunate surface, mm.";
    fossa_length_mm: 20.0 to 45.0, "The fossa's extent along the line from the notch, mm.";
    fossa_width_mm: 16.0 to 36.0, "The fossa's extent across the line from the notch, mm.";
    notch_width_mm: 10.0 to 32.0, "Width of the acetabular notch at the rim, mm.";
    inclination_deg: 30.0 to 75.0, "Anatomic inclination of the socket's axis in the anterior pelvic plane, degrees.";
    anteversion_deg: -15.0 to 50.0, "Anatomic anteversion of the socket's axis in the anterior pelvic plane, degrees.";
    rim_superior_deg: -15.0 to 45.0, "Rim below hemisphere level at 11:30, degrees.";
    rim_anterosuperior_deg: -15.0 to 45.0, "Rim below hemisphere level at 1:15, degrees.";
    rim_anterior_deg: -15.0 to 50.0, "Rim below hemisphere level at 2:30, the anterior trough, degrees.";
    rim_anteroinferior_deg: -15.0 to 45.0, "Rim below hemisphere level at 4:15, degrees.";
    rim_posteroinferior_deg: -15.0 to 45.0, "Rim below hemisphere level at 7:45, degrees.";
    rim_posterior_deg: -15.0 to 50.0, "Rim below hemisphere level at 9:00, degrees.";
    rim_posterosuperior_deg: -15.0 to 50.0, "Rim below hemisphere level at 10:15, the posterosuperior trough, degrees.";
    rim_thickness_mm: 2.5 to 8.0, "Width of the bony lip of the socket, mm.";
    medial_wall_mm: 1.5 to 15.0, "Bone between the floor of the fossa and the inside of the pelvis, the width of the teardrop, mm.";
    subchondral_superior_mm: 0.5 to 4.0, "Thickness of the subchondral plate under the weight-bearing roof, mm.";
    subchondral_mm: 0.3 to 3.0, "Thickness of the subchondral plate elsewhere, mm.";
    cortex_mm: 0.4 to 4.0, "Thickness of the cortical shell, mm.";
    cartilage_mm: 0.0 to 4.0, "Thickness of the cartilage on the lunate surface, not part of the bone, mm.";
    rim_osteophyte_mm: 0.0 to 8.0, "How far osteophytes carry the rim beyond its native edge, mm.";
    floor_osteophyte_mm: 0.0 to 10.0, "Bone grown over the floor of the fossa, hiding the true floor, mm.";
}

impl Shape {
    /// Sets the parameter `name`, whose unit is in its name.
    ///
    /// # Errors
    /// When there is no such parameter, or `value` is outside its range; the shape is then unchanged.
    pub fn set(&mut self, name: &str, value: f64) -> Result<(), BadShape> {
        let unknown = || BadShape::UnknownName {
            name: name.to_owned(),
        };
        let parameter = PARAMETERS
            .iter()
            .find(|p| p.name == name)
            .ok_or_else(unknown)?;
        parameter.check(value)?;
        *self.slot(name).ok_or_else(unknown)? = value;
        Ok(())
    }

    /// Checks each value by itself, then those that limit each other.
    ///
    /// # Errors
    /// The first value that is outside its range, alone or together with another.
    pub fn check(&self) -> Result<(), BadShape> {
        for (parameter, value) in PARAMETERS.iter().zip(self.values()) {
            parameter.check(value)?;
        }
        self.conflict().map_or(Ok(()), Err)
    }

    /// The first value that cannot go with another.
    fn conflict(&self) -> Option<BadShape> {
        let (socket, hips, asis) = (
            ("socket_diameter_mm", self.socket_diameter_mm),
            ("hip_spacing_mm", self.hip_spacing_mm),
            ("asis_width_mm", self.asis_width_mm),
        );
        let height = ("app_height_mm", self.app_height_mm);
        let below = ("hip_below_mm", self.hip_below_mm);
        let crest = ("crest_width_mm", self.crest_width_mm);
        let width = ("fossa_width_mm", self.fossa_width_mm);
        let length = ("fossa_length_mm", self.fossa_length_mm);
        let notch = ("notch_width_mm", self.notch_width_mm);
        // What must lie between which limits beside which other value.
        let limits = [
            (hips, socket, [2.0 * socket.1 + 36.0, 230.0]),
            (width, socket, [16.0, 0.66 * socket.1]),
            (length, socket, [20.0, 0.8 * socket.1]),
            (notch, socket, [10.0, 0.56 * socket.1]),
            (crest, asis, [asis.1, asis.1 + 70.0]),
            (below, height, [height.1 - 35.0, height.1 + 5.0]),
            (asis, hips, [hips.1 + 25.0, hips.1 + 110.0]),
        ];
        limits
            .into_iter()
            .find(|((_, value), _, [least, most])| !(least..=most).contains(&value))
            .map(
                |((name, value), (other, other_value), [least, most])| BadShape::Conflict {
                    name,
                    value,
                    other,
                    other_value,
                    least,
                    most,
                },
            )
    }
}

impl Parameter {
    fn check(&self, value: f64) -> Result<(), BadShape> {
        if (self.least..=self.most).contains(&value) {
            Ok(())
        } else {
            Err(BadShape::OutOfRange {
                name: self.name,
                value,
                least: self.least,
                most: self.most,
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_ends_in_its_unit_and_every_range_holds_something() {
        for parameter in PARAMETERS {
            let unit = ["_mm", "_deg"]
                .iter()
                .any(|unit| parameter.name.ends_with(unit));
            assert!(
                unit && parameter.least < parameter.most,
                "{}",
                parameter.name
            );
        }
    }

    #[test]
    fn a_value_out_of_range_leaves_the_shape_as_it_was() {
        let mut shape = Shape::preset("average-male").unwrap();
        let before = shape.clone();
        assert!(shape.set("notch_width_mm", -3.0).is_err());
        assert_eq!(shape, before);
        assert_eq!(shape.set("notch_width_mm", 20.0), Ok(()));
        assert_eq!(shape.notch_width_mm.to_bits(), 20.0_f64.to_bits());
    }

    #[test]
    fn values_that_exclude_each_other_are_told_apart_from_wild_ones() {
        let mut shape = Shape::preset("average-male").unwrap();
        shape.hip_below_mm = 100.0;
        let conflict = shape.check().unwrap_err();
        assert_eq!(
            conflict.to_string(),
            "hip_below_mm = 100 cannot go with app_height_mm = 92.7: \
             hip_below_mm must be 57.7 to 97.7 there"
        );
    }
}
