//! Errors in print: how far reamers and hands are off, and how the pelvis tilts.
//!
//! Every number says where it was read. What a paper does not print and this program assumes is called an
//! assumption.

use crate::scatter::Error;
use crate::spread::Spread;
use crate::variable::Variable;

/// How the reamer is held.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Technique {
    /// Pushed straight in.
    Straight,
    /// Led round while it cuts.
    Rotating,
}

/// A posture in which pelvic tilt was measured.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Posture {
    /// Lying on the back.
    Supine,
    /// Standing.
    Standing,
    /// Seated and about to rise.
    Seated,
}

/// How far a reamer cuts beyond its size, in mm of diameter.
///
/// Karia 2023, J Orthop Surg Res, doi 10.1186/s13018-023-03888-1, conventional reamers as new: median 1.2
/// (quartiles 1.0 and 1.6) pushed straight, 0.3 (0.3 and 0.4) led round. The shape is an assumption:
/// log-normal, the ratio of the quartiles kept.
pub fn oversize(technique: Technique) -> Error {
    let spread = match technique {
        Technique::Straight => Spread::of_quartiles(1.2, [1.0, 1.6]),
        Technique::Rotating => Spread::of_quartiles(0.3, [0.3, 0.4]),
    };
    Error::new(
        Variable::Oversize,
        spread,
        "Karia 2023, J Orthop Surg Res, doi 10.1186/s13018-023-03888-1; shape assumed",
    )
}

/// Errors of a cup placed by hand: angles and hip centre.
///
/// Deviations of the angles are those of manual placement in a series about 45 and 20 degrees (Clin Orthop
/// Relat Res, PMC2600980). Those of the hip centre were measured after rim-referenced reaming (Meermans 2016,
/// Bone Joint J 98-B:1597); forward it is not printed and assumed as medially. Means are 0: what is planned
/// is aimed at.
pub fn by_hand() -> Vec<Error> {
    const ANGLES: &str = "manual placement, Clin Orthop Relat Res, PMC2600980";
    const CENTRE: &str = "rim-referenced reaming, Meermans 2016, Bone Joint J 98-B:1597, doi 10.1302/0301-620X.98B12.BJJ-2016-0345.R1";
    let normal = |variable, deviation, source| {
        let spread = Spread::Normal {
            mean: 0.0,
            deviation,
        };
        Error::new(variable, spread, source)
    };
    vec![
        normal(Variable::Inclination, 7.6, ANGLES),
        normal(Variable::Anteversion, 9.6, ANGLES),
        normal(Variable::Medial, 1.4, CENTRE),
        normal(Variable::Superior, 1.3, CENTRE),
        normal(Variable::Anterior, 1.4, "assumed as medially; not printed"),
    ]
}

/// Pelvic tilt against the anterior pelvic plane over a population, in degrees, posterior positive.
///
/// Means of 1517 patients: supine 4.2 anterior, standing 1.3 posterior, seated and about to rise 0.6
/// anterior (Pierrepont 2017, Bone Joint J 99-B:184). That paper prints ranges, no deviations; those of 30
/// patients are 6.4 supine and 7.2 standing (Murphy 2013, Clin Orthop Relat Res 471:417), and 12.4 seated
/// is an assumption: the printed range of 83.3 over the 6.7 deviations that 1517 normal numbers span.
pub fn tilt(posture: Posture) -> Error {
    let (mean, deviation) = match posture {
        Posture::Supine => (-4.2, 6.4),
        Posture::Standing => (1.3, 7.2),
        Posture::Seated => (-0.6, 12.4),
    };
    let source = match posture {
        Posture::Seated => {
            "mean Pierrepont 2017, Bone Joint J 99-B:184; deviation assumed from its range"
        }
        _ => {
            "mean Pierrepont 2017, Bone Joint J 99-B:184; deviation Murphy 2013, Clin Orthop Relat Res 471:417"
        }
    };
    Error::new(Variable::Tilt, Spread::Normal { mean, deviation }, source)
}
