//! Reamers and cups as they are typed: places, directions and sizes.

use std::str::FromStr;

use cupwright_procedure::measures;
use nalgebra::{Point3, Vector3};

/// A place, in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Place(pub(crate) Point3<f64>);

impl FromStr for Place {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        told(measures::place(three_numbers(text)?.into()).map(Self))
    }
}

/// An axis: a direction of any length but zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Axis(pub(crate) Vector3<f64>);

impl FromStr for Axis {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        told(measures::axis(three_numbers(text)?.into()).map(Self))
    }
}

/// A diameter in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Diameter(pub(crate) f64);

impl FromStr for Diameter {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        told(measures::diameter(number(text)?).map(Self))
    }
}

/// A length in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Length(pub(crate) f64);

impl FromStr for Length {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        told(measures::length(number(text)?).map(Self))
    }
}

/// A share of a whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Share(pub(crate) f64);

impl FromStr for Share {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let share = number(text)?;
        if (0.0..=1.0).contains(&share) {
            Ok(Self(share))
        } else {
            Err(format!("a share must lie between 0 and 1, not {text}"))
        }
    }
}

/// One argument of `--reamer`: diameters at the common place, or one at its own.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ReamerArgument {
    /// `D[,D...]`
    Common(Vec<Diameter>),
    /// `D@X,Y,Z/AX,AY,AZ`
    Own(Diameter, Place, Axis),
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

/// What is wrong, in words.
fn told<T>(typed: Result<T, measures::BadTool>) -> Result<T, String> {
    typed.map_err(|problem| problem.to_string())
}

fn three_numbers(text: &str) -> Result<[f64; 3], String> {
    let numbers: Vec<f64> = text.split(',').map(number).collect::<Result<_, _>>()?;
    numbers.try_into().map_err(|found: Vec<f64>| {
        format!(
            "three numbers are needed, as in 1.5,-20,3; '{text}' has {}",
            found.len()
        )
    })
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
                Place(Point3::new(-1.0, 2.0, 3.0)),
                Axis(Vector3::new(0.0, 0.0, 2.0))
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
        let refused = |text: &str, told: &str| {
            let place = text.parse::<Place>().unwrap_err();
            assert!(place.contains(told), "{place}");
        };
        refused("1,2", "has 2");
        refused("1,2,x", "'x' is not a finite number");
        refused("1,2,-1000001", "between -1000000 and 1000000 mm");
        let axis = "0,0,0".parse::<Axis>().unwrap_err();
        assert!(axis.contains("no direction"));
        assert!("0,0,1e300".parse::<Axis>().is_ok());
        for bad in ["0", "-3", "1e7", "NaN"] {
            assert!(bad.parse::<Length>().is_err(), "{bad}");
        }
        for bad in ["-0.1", "1.1", "70", "NaN"] {
            assert!(bad.parse::<Share>().is_err(), "{bad}");
        }
        assert_eq!("0.7".parse::<Share>().unwrap(), Share(0.7));
    }
}
