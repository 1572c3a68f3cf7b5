//! Quarters of the socket, and what the trade says of each.

use cupwright_anatomy::Hour;
use schemars::JsonSchema;
use serde::Serialize;

/// The longest screw in the postero-inferior quadrant, in mm.
const POSTEROINFERIOR_LIMIT: f64 = 20.0;

/// The longest screw in the postero-superior quadrant, in mm: what was safe along its bisector in 50 hips
/// (Park 2021, J Arthroplasty 36:744).
const POSTEROSUPERIOR_LIMIT: f64 = 43.3;

/// A quarter of the socket, by the line from the ASIS through the cup's centre and the one square to it.
#[derive(Clone, Copy, Debug, Eq, JsonSchema, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quadrant {
    /// Toward the head, behind the line.
    PosteroSuperior,
    /// Toward the feet, behind the line.
    PosteroInferior,
    /// Toward the head, in front of the line.
    AnteroSuperior,
    /// Toward the feet, in front of the line.
    AnteroInferior,
}

impl Quadrant {
    /// All of them, the safest first.
    pub const ALL: [Self; 4] = [
        Self::PosteroSuperior,
        Self::PosteroInferior,
        Self::AnteroSuperior,
        Self::AnteroInferior,
    ];

    /// The quadrant of a place on the rim's clock, with the line to the ASIS at `line`.
    ///
    /// On a border: the one next toward 3 o'clock from the line, and so on round.
    pub fn at(place: Hour, line: Hour) -> Self {
        let from_line = Hour::from_hours(place.hours() - line.hours()).hours();
        // The ASIS lies in the upper half of the face; were it in the lower one, the anterior side of the
        // line would be on its other hand.
        let upper = !(3.0..9.0).contains(&line.hours());
        let round = if upper { from_line } else { 12.0 - from_line };
        if round < 3.0 {
            Self::AnteroSuperior
        } else if round < 6.0 {
            Self::AnteroInferior
        } else if round < 9.0 {
            Self::PosteroInferior
        } else {
            Self::PosteroSuperior
        }
    }

    /// What the trade says of it.
    pub fn advice(self) -> &'static str {
        match self {
            Self::PosteroSuperior => {
                "safe, for screws that stay in bone and under 44 mm (Park 2021, J Arthroplasty 36:744)"
            }
            Self::PosteroInferior => "with caution, screws under 20 mm",
            Self::AnteroSuperior => "dangerous: external iliac vessels",
            Self::AnteroInferior => "dangerous: obturator vessels and nerve",
        }
    }

    /// The same in two or three words.
    pub fn in_short(self) -> &'static str {
        match self {
            Self::PosteroSuperior => "safe, under 44 mm",
            Self::PosteroInferior => "caution, under 20 mm",
            Self::AnteroSuperior => "DANGER: iliac vessels",
            Self::AnteroInferior => "DANGER: obturator",
        }
    }

    /// The longest screw that is safe whatever the bone, in mm; 0 where none is.
    pub(super) fn limit(self) -> f64 {
        match self {
            Self::PosteroSuperior => POSTEROSUPERIOR_LIMIT,
            Self::PosteroInferior => POSTEROINFERIOR_LIMIT,
            Self::AnteroSuperior | Self::AnteroInferior => 0.0,
        }
    }
}

impl std::fmt::Display for Quadrant {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::PosteroSuperior => "postero-superior",
            Self::PosteroInferior => "postero-inferior",
            Self::AnteroSuperior => "antero-superior",
            Self::AnteroInferior => "antero-inferior",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(place: f64, line: f64) -> Quadrant {
        Quadrant::at(Hour::from_hours(place), Hour::from_hours(line))
    }

    #[test]
    fn quadrants_lie_on_either_side_of_the_line_and_of_its_square() {
        // The ASIS at 1:30: in front of it, below it, behind it.
        for (place, quadrant) in [
            (1.6, Quadrant::AnteroSuperior),
            (4.4, Quadrant::AnteroSuperior),
            (4.6, Quadrant::AnteroInferior),
            (7.4, Quadrant::AnteroInferior),
            (7.6, Quadrant::PosteroInferior),
            (10.4, Quadrant::PosteroInferior),
            (10.6, Quadrant::PosteroSuperior),
            (1.4, Quadrant::PosteroSuperior),
            (0.0, Quadrant::PosteroSuperior),
        ] {
            assert_eq!(at(place, 1.5), quadrant, "{place}");
        }
    }

    #[test]
    fn an_asis_in_the_lower_half_of_the_face_keeps_front_and_back() {
        assert_eq!(at(3.0, 4.0), Quadrant::AnteroSuperior);
        assert_eq!(at(6.0, 4.0), Quadrant::PosteroSuperior);
    }
}
