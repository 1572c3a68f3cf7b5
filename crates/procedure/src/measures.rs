//! The bare measures of reamers and a cup in a mesh's own coordinates: no case, no pelvic frame.
//!
//! Lengths in mm, angles in degrees, shares from 0 to 1, each with its unit in the name. "Bone" without
//! more is the bone as it was before any reaming.

use cupwright_geometry::{BadShape, Bullet, Circle, Hemisphere, Solid, rim, union, within};
use nalgebra::{Point3, Vector3};
use schemars::JsonSchema;
use serde::{Serialize, Serializer};
use thiserror::Error;

use crate::case::{FARTHEST, LARGEST_DIAMETER};
use crate::removal::{Apart, Removal, removals};

/// What reamers take from a bone and how a cup lies in it.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Measures {
    /// The bone.
    pub bone: BoneMeasures,
    /// One entry for each reamer, in the order of use.
    pub reaming: Vec<ReamerMeasures>,
    /// The cup; `None` where none was given.
    pub cup: Option<CupMeasures>,
}

/// A bone.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct BoneMeasures {
    /// How many triangles.
    pub triangles: usize,
    /// Whether its surface is closed, which it always is: an open one is refused.
    pub closed: bool,
    /// Volume enclosed, in mm³.
    pub volume_mm3: f64,
    /// Surface area, in mm².
    pub area_mm2: f64,
}

/// One reamer.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct ReamerMeasures {
    /// Its diameter.
    #[serde(serialize_with = "as_typed")]
    #[schemars(with = "f64")]
    pub diameter_mm: f64,
    /// Bone in this reamer and in none before it, in mm³.
    pub removed_mm3: f64,
    /// Bone in this reamer or one before it, in mm³.
    pub cumulative_removed_mm3: f64,
    /// The largest error of `removed_mm3`: 0 where it is exact.
    pub error_bound_mm3: f64,
}

/// How a cup lies in the bone.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct CupMeasures {
    /// Its outer diameter.
    #[serde(serialize_with = "as_typed")]
    #[schemars(with = "f64")]
    pub diameter_mm: f64,
    /// Share of its outer hemisphere that lies in bone.
    pub coverage: f64,
    /// The same, less what a reamer took away from behind the cup.
    pub coverage_after_reaming: f64,
    /// Share of its rim that lies in bone.
    pub rim_contact: f64,
    /// The arcs of its rim in bone, in degrees from the z axis projected on the rim (from y where the cup's
    /// axis is z), right-handed about the cup's axis; an arc that passes 0 ends above 360.
    pub rim_arcs_deg: Vec<[f64; 2]>,
}

/// A tool that cannot be.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum BadTool {
    /// Its diameter.
    #[error("a diameter must be more than 0 and at most {LARGEST_DIAMETER} mm, not {0}")]
    Diameter(f64),
    /// The length of a column.
    #[error("a length must be more than 0 and at most {FARTHEST} mm, not {0}")]
    Length(f64),
    /// Its place.
    #[error(
        "a coordinate must lie between -{FARTHEST} and {FARTHEST} mm; check {},{},{}", .0.x, .0.y, .0.z
    )]
    Place(Point3<f64>),
    /// Its axis.
    #[error("the axis {},{},{} has no direction; give the way out of the socket", .0.x, .0.y, .0.z)]
    Axis(Vector3<f64>),
    /// Its shape.
    #[error(transparent)]
    Shape(#[from] BadShape),
}

/// A diameter in mm that a tool may have.
///
/// # Errors
/// When it is not more than 0 and at most [`LARGEST_DIAMETER`].
pub fn diameter(mm: f64) -> Result<f64, BadTool> {
    let possible = mm > 0.0 && mm <= LARGEST_DIAMETER;
    possible.then_some(mm).ok_or(BadTool::Diameter(mm))
}

/// A length in mm that a column may have.
///
/// # Errors
/// When it is not more than 0 and at most [`FARTHEST`].
pub fn length(mm: f64) -> Result<f64, BadTool> {
    let possible = mm > 0.0 && mm <= FARTHEST;
    possible.then_some(mm).ok_or(BadTool::Length(mm))
}

/// A place, in mm, where a tool may stand.
///
/// # Errors
/// When a coordinate is farther than [`FARTHEST`] from 0.
pub fn place(mm: Point3<f64>) -> Result<Point3<f64>, BadTool> {
    let possible = mm.iter().all(|c| c.abs() <= FARTHEST);
    possible.then_some(mm).ok_or(BadTool::Place(mm))
}

/// An axis of any length but 0.
///
/// # Errors
/// When it has no direction.
pub fn axis(way: Vector3<f64>) -> Result<Vector3<f64>, BadTool> {
    let possible = way.iter().all(|c| c.is_finite()) && way.iter().any(|c| c.abs() > 0.0);
    possible.then_some(way).ok_or(BadTool::Axis(way))
}

/// The round side of a reamer or cup.
///
/// # Errors
/// When its diameter, place or axis cannot be.
pub fn round_side(
    diameter_mm: f64,
    centre: Point3<f64>,
    way_out: Vector3<f64>,
) -> Result<Hemisphere, BadTool> {
    let radius = diameter(diameter_mm)? / 2.0;
    Ok(Hemisphere::new(place(centre)?, axis(way_out)?, radius)?)
}

/// A reamer that came along its axis from outside, or from `column` mm above its centre.
///
/// # Errors
/// When the column has no length.
pub fn reamer(head: Hemisphere, column: Option<f64>) -> Result<Bullet, BadTool> {
    match column {
        None => Ok(Bullet::open(head)),
        Some(mm) => Ok(Bullet::with_column(head, length(mm)?)?),
    }
}

/// Why nothing was measured.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoMeasures {
    /// Nothing was asked.
    #[error("nothing to measure: give a reamer or a cup")]
    NoTools,
    /// Reamers that do not belong to one socket.
    #[error(transparent)]
    Apart(#[from] Apart),
    /// A cup without a rim.
    #[error("the cup's axis: {0}")]
    Rim(#[from] BadShape),
}

/// The largest diameter of all reamers, in mm; 0 without any.
pub fn largest_tool(reamers: &[Bullet]) -> f64 {
    let diameters = reamers.iter().map(|reamer| 2.0 * reamer.head().radius());
    diameters.fold(0.0, f64::max)
}

/// What `reamers`, in the order of use, take from `bone`, and how `cup` lies in it.
///
/// # Errors
/// When there is neither reamer nor cup, or a reamer shares no point with those before it.
pub fn measures(
    bone: &Solid,
    reamers: &[Bullet],
    cup: Option<&Hemisphere>,
) -> Result<Measures, NoMeasures> {
    if reamers.is_empty() && cup.is_none() {
        return Err(NoMeasures::NoTools);
    }
    let diameters = reamers.iter().map(|reamer| 2.0 * reamer.head().radius());
    let taken = diameters.zip(removals(bone, reamers)?);
    Ok(Measures {
        bone: BoneMeasures {
            triangles: bone.mesh().triangles().len(),
            closed: true,
            volume_mm3: bone.volume(),
            area_mm2: bone.area(),
        },
        reaming: taken.map(ReamerMeasures::from).collect(),
        cup: cup
            .map(|cup| CupMeasures::of(bone, cup, reamers))
            .transpose()?,
    })
}

impl From<(f64, Removal)> for ReamerMeasures {
    fn from((diameter_mm, removal): (f64, Removal)) -> Self {
        Self {
            diameter_mm,
            removed_mm3: plain(removal.volume),
            cumulative_removed_mm3: plain(removal.cumulative),
            error_bound_mm3: plain(removal.error_bound),
        }
    }
}

impl CupMeasures {
    fn of(bone: &Solid, cup: &Hemisphere, reamers: &[Bullet]) -> Result<Self, BadShape> {
        let arcs = rim::arcs_inside(bone, &rim_of(cup)?);
        let degrees = arcs.intervals().iter().map(|arc| arc.map(f64::to_degrees));
        let after = union::area_outside(bone, cup, reamers).value / cup.area();
        Ok(Self {
            diameter_mm: 2.0 * cup.radius(),
            coverage: plain(within::coverage(bone, cup)),
            coverage_after_reaming: plain(after),
            rim_contact: plain(arcs.share()),
            rim_arcs_deg: degrees.collect(),
        })
    }
}

impl Measures {
    /// What was measured all the same although it can hardly be meant.
    pub fn warnings(&self) -> Vec<String> {
        let reamers = self.reaming.iter();
        let reamers = reamers.map(|r| (r.diameter_mm, r.cumulative_removed_mm3));
        warnings(reamers, self.cup.as_ref().map(|cup| cup.diameter_mm))
    }
}

/// What can hardly be meant: reamers that touch no bone, and a cup smaller than the last reamer.
///
/// `reamers` are diameters with the bone removed so far, in mm and mm³.
pub fn warnings(reamers: impl Iterator<Item = (f64, f64)>, cup: Option<f64>) -> Vec<String> {
    let (mut told, mut last) = (Vec::new(), None);
    for (number, (diameter, so_far)) in (1..).zip(reamers) {
        if so_far <= 0.0 {
            told.push(format!("reamer {number} ({diameter} mm) touches no bone"));
        }
        last = Some(diameter);
    }
    if let Some((last, cup)) = last.zip(cup).filter(|(last, cup)| cup < last) {
        told.push(format!(
            "the cup ({cup} mm) is smaller than the last reamer ({last} mm)"
        ));
    }
    told
}

/// The rim with its angles counted from the z axis, or from y where the cup's axis is z.
fn rim_of(cup: &Hemisphere) -> Result<Circle, BadShape> {
    const ALONG_Z: f64 = 1e-6;
    let axis = cup.axis().into_inner();
    let up = if axis.xy().norm() > ALONG_Z {
        Vector3::z()
    } else {
        Vector3::y()
    };
    let start = up - up.dot(&axis) * axis;
    cup.rim().counted_from(start, axis.cross(&start))
}

/// A size as it was typed: a whole number without a point.
fn as_typed<S: Serializer>(mm: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    match mm.to_string().parse::<u32>() {
        Ok(whole) => serializer.serialize_u32(whole),
        Err(_) => serializer.serialize_f64(*mm),
    }
}

/// A number that is never written as -0.0.
fn plain(number: f64) -> f64 {
    number + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tool_that_cannot_be_is_refused_by_what_is_wrong_with_it() {
        let (origin, up) = (Point3::origin(), Vector3::z());
        let refused = |diameter, centre, axis| round_side(diameter, centre, axis).unwrap_err();
        for bad in [0.0, -3.0, 200.5, f64::NAN] {
            let found = refused(bad, origin, up);
            assert!(matches!(found, BadTool::Diameter(_)), "{found}");
        }
        let far = refused(50.0, Point3::new(0.0, 1.1e6, 0.0), up).to_string();
        assert!(far.contains("between -1000000 and 1000000 mm"), "{far}");
        for bad in [Vector3::zeros(), Vector3::new(f64::NAN, 0.0, 1.0)] {
            let found = refused(50.0, origin, bad);
            assert!(matches!(found, BadTool::Axis(_)), "{found}");
        }
        let head = round_side(50.0, origin, up).unwrap();
        assert!(matches!(reamer(head, Some(0.0)), Err(BadTool::Length(_))));
        assert_eq!(reamer(head, None), Ok(Bullet::open(head)));
    }

    #[test]
    fn what_can_hardly_be_meant_is_told() {
        let told = warnings([(30.0, 0.0), (51.5, 7.0)].into_iter(), Some(50.0));
        let expected = [
            "reamer 1 (30 mm) touches no bone",
            "the cup (50 mm) is smaller than the last reamer (51.5 mm)",
        ];
        assert_eq!(told, expected);
        assert!(warnings([(51.0, 7.0)].into_iter(), Some(51.0)).is_empty());
        assert!(warnings(std::iter::empty(), Some(50.0)).is_empty());
    }
}
