//! What a film of the cup would show: coverage in the frontal plane, in one dimension.
//!
//! A film shows no more than how far the roof reaches out over the cup. It is told beside the coverage in
//! space so that the two are not taken for one another; neither follows from the other.

use std::f64::consts::{FRAC_PI_2, TAU};

use cupwright_anatomy::Definition;
use cupwright_geometry::{Circle, rim};
use nalgebra::Vector3;

use crate::bone::Bone;
use crate::case::Case;
use crate::findings::{FilmFinding, Shift};
use crate::placed::{NotPlaced, Placed};

/// How the cup would read on a film, from the bone before reaming.
///
/// The centre-edge angle of the cup runs from straight up to the last of the roof that the cup touches in
/// the frontal plane through its centre, outward positive. The share of the cup's width under the roof is
/// (1 + sin CE) / (1 + cos inclination), the definition that fits the index of Fujii 2017 (`BioMed` Res Int
/// 4937151); inferred, not read there.
///
/// # Errors
/// When the circle cannot be, which numbers that have overflowed make.
pub(crate) fn film(case: &Case, bone: &Bone, cup: &Placed) -> Result<FilmFinding, NotPlaced> {
    let toward = |medial_mm, superior_mm| {
        bone.vector(Shift {
            medial_mm,
            superior_mm,
            anterior_mm: 0.0,
        })
    };
    let (up, out): (Vector3<f64>, Vector3<f64>) = (toward(0.0, 1.0), toward(-1.0, 0.0));
    let film = case.cup.orientation.converted_to(Definition::Radiographic);
    // Seen from the front the edge of the cup stands so far out of straight up.
    let edge = FRAC_PI_2 - film.inclination();
    let pole = edge - FRAC_PI_2;
    // Angles from the pole toward the edge, so that the part that is looked at has no seam.
    let pole_direction = up * pole.cos() + out * pole.sin();
    let edge_direction = up * edge.cos() + out * edge.sin();
    let head = cup.head();
    let circle = Circle::new(head.centre(), head.radius(), pole_direction, edge_direction)
        .map_err(|problem| cup.refused(problem))?;
    let arcs = rim::arcs_inside(&bone.solid, &circle);
    // An arc that runs past the end of the count is the one that it begins with, too.
    let each = arcs.intervals().iter();
    let both = each.flat_map(|[start, end]| [[*start, *end], [start - TAU, end - TAU]]);
    let seen = both.filter(|[start, end]| *start < FRAC_PI_2 && *end > -FRAC_PI_2);
    let covered = seen
        .map(|[_, end]| end.min(FRAC_PI_2))
        .max_by(f64::total_cmp);
    let centre_edge = covered.map(|end| end + pole);
    let width = 1.0 + film.inclination().cos();
    Ok(FilmFinding {
        centre_edge_deg: centre_edge.map(f64::to_degrees),
        width_covered: centre_edge
            .map_or(0.0, |angle| ((1.0 + angle.sin()) / width).clamp(0.0, 1.0)),
    })
}
