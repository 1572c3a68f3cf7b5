//! Reamers and cups as they are typed: points, directions and sizes.

use std::str::FromStr;

use cupwright_procedure::case::LARGEST_DIAMETER;
use nalgebra::{Point3, Vector3};

/// Three numbers separated by commas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Triple(pub(crate) [f64; 3]);

impl Triple {
    pub(crate) fn point(self) -> Point3<f64> {
        Point3::from(self.0)
    }

    pub(crate) fn vector(self) -> Vector3<f64> {
        Vector3::from(self.0)
    }
}

impl FromStr for Triple {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let numbers: Vec<f64> = text.split(',').map(number).collect::<Result<_, _>>()?;
        let triple: [f64; 3] = numbers.try_into().map_err(|found: Vec<f64>| {
            format!(
                "three numbers are needed, as in 1.5,-20,3; '{text}' has {}",
                found.len()
            )
        })?;
        Ok(Self(triple))
    }
}

/// An axis: a direction of any length but zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Axis(pub(crate) Triple);

impl FromStr for Axis {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let triple: Triple = text.parse()?;
        if triple.0.iter().all(|c| c.abs() <= 0.0) {
            return Err(format!(
                "the axis {text} has no direction; give the way out of the socket"
            ));
        }
        Ok(Self(triple))
    }
}

/// A diameter in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Diameter(pub(crate) f64);

impl FromStr for Diameter {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let diameter = number(text)?;
        if diameter > 0.0 && diameter <= LARGEST_DIAMETER {
            Ok(Self(diameter))
        } else {
            Err(format!(
                "a diameter must be more than 0 and at most {LARGEST_DIAMETER} mm, not {text}"
            ))
        }
    }
}

/// One argument of `--reamer`: diameters at the common place, or one at its own.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ReamerArgument {
    /// `D[,D...]`
    Common(Vec<Diameter>),
    /// `D@X,Y,Z/AX,AY,AZ`
    Own(Diameter, Triple, Axis),
}

impl FromStr for ReamerArgument {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let Some((diameter, place)) = text.split_once('@') else {
            return text
                .split(',')
                .map(str::parse)
                .collect::<Result<_, _>>()
                .map(Self::Common);
        };
        let (centre, axis) = place
            .split_once('/')
            .ok_or_else(|| format!("'{text}' lacks its axis; write D@X,Y,Z/AX,AY,AZ"))?;
        Ok(Self::Own(diameter.parse()?, centre.parse()?, axis.parse()?))
    }
}

fn number(text: &str) -> Result<f64, String> {
    let parsed: Result<f64, _> = text.trim().parse();
    parsed
        .ok()
        .filter(|n| n.is_finite())
        .ok_or_else(|| format!("'{text}' is not a finite number"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reamers_are_sizes_or_one_size_with_its_place() {
        let common = "43,45.5".parse::<ReamerArgument>().unwrap();
        assert_eq!(
            common,
            ReamerArgument::Common(vec![Diameter(43.0), Diameter(45.5)])
        );
        let own = "43@-1,2,3/0,0,2".parse::<ReamerArgument>().unwrap();
        assert_eq!(
            own,
            ReamerArgument::Own(
                Diameter(43.0),
                Triple([-1.0, 2.0, 3.0]),
                Axis(Triple([0.0, 0.0, 2.0]))
            )
        );
    }

    #[test]
    fn slips_of_the_key_are_told() {
        for bad in [
            "",
            "-43",
            "0",
            "NaN",
            "inf",
            "4300",
            "43,",
            "43@1,2,3",
            "43@1,2/0,0,1",
            "43@1,2,3/0,0,0",
        ] {
            assert!(bad.parse::<ReamerArgument>().is_err(), "{bad}");
        }
        assert!("1,2".parse::<Triple>().unwrap_err().contains("has 2"));
        assert!(
            "0,0,0"
                .parse::<Axis>()
                .unwrap_err()
                .contains("no direction")
        );
    }
}
