//! Where a cup may face: what every inclination and anteversion leaves of the motion that is needed.

use cupwright_anatomy::{Angles, Definition, Orientation, Side};
use serde::{Deserialize, Serialize};

use super::motion::{Cone, Swing, counted, needed_half_angle};
use super::{BadJoint, Joint, Movement};
use crate::case::Case;

/// The cups that a map looks at: radiographic angles, in equal steps.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct MapGrid {
    /// The least and the greatest inclination; default 25 and 60°.
    pub inclination_deg: [f64; 2],
    /// The least and the greatest anteversion; default -5 and 40°.
    pub anteversion_deg: [f64; 2],
    /// The step of both; default 1°.
    pub step_deg: f64,
}

impl Default for MapGrid {
    fn default() -> Self {
        Self {
            inclination_deg: [25.0, 60.0],
            anteversion_deg: [-5.0, 40.0],
            step_deg: 1.0,
        }
    }
}

/// Motion over the direction of the cup, everything else being as it is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MotionMap {
    /// The inclinations, radiographic.
    pub inclination_deg: Vec<f64>,
    /// The anteversions, radiographic.
    pub anteversion_deg: Vec<f64>,
    /// By inclination, then anteversion.
    pub cells: Vec<Vec<MapCell>>,
    /// The place of the cell with the greatest margin: inclination, anteversion.
    pub best: [usize; 2],
    /// Share of the cells that allow all that is needed.
    pub free_share: f64,
}

/// What one direction of the cup leaves.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MapCell {
    /// The least that any movement goes beyond what is needed of it; negative where one falls short.
    pub margin_deg: f64,
    /// That movement.
    pub limiting: Movement,
    /// The least oscillation angle that would allow all.
    pub needed_oscillation_deg: f64,
}

/// The most inclinations or anteversions of a map.
const MOST: f64 = 1000.0;

/// The usual map of a case's joint; `None` where its parts make no joint, or nothing is needed of it.
pub fn motion_map_of(case: &Case) -> Option<MotionMap> {
    let joint = Joint::new(&case.joint, case).ok()?;
    motion_map(&joint, &MapGrid::default()).ok()
}

/// The map of a joint with the ball that it chooses.
///
/// # Errors
/// When the grid cannot be, nothing is needed of the joint, or the joint has no motion; see
/// [`motion`](super::motion::motion).
pub fn motion_map(joint: &Joint, grid: &MapGrid) -> Result<MotionMap, BadJoint> {
    if joint.entry.needs.is_empty() {
        return Err(BadJoint::Number {
            field: "the number of needs",
            value: 0.0,
            allowed: "1 or more, for a map of what is left of them",
        });
    }
    let cone = joint.cone(joint.chosen_ball()?)?;
    let inclinations = steps("inclination_deg", grid.inclination_deg, grid.step_deg)?;
    let anteversions = steps("anteversion_deg", grid.anteversion_deg, grid.step_deg)?;
    let rows = inclinations.iter().map(|&inclination| {
        let row = anteversions.iter();
        row.map(|&anteversion| cell(joint, &cone, inclination, anteversion))
            .collect::<Result<Vec<_>, _>>()
    });
    let cells = rows.collect::<Result<Vec<_>, _>>()?;
    let mut best = [0, 0];
    let (mut free, mut all) = (0.0, 0.0);
    for (i, row) in cells.iter().enumerate() {
        for (j, cell) in row.iter().enumerate() {
            all += 1.0;
            free += if cell.margin_deg >= 0.0 { 1.0 } else { 0.0 };
            if cell.margin_deg > cells[best[0]][best[1]].margin_deg {
                best = [i, j];
            }
        }
    }
    Ok(MotionMap {
        inclination_deg: inclinations,
        anteversion_deg: anteversions,
        cells,
        best,
        free_share: free / all,
    })
}

fn cell(
    joint: &Joint,
    cone: &Cone,
    inclination: f64,
    anteversion: f64,
) -> Result<MapCell, BadJoint> {
    let angles = Angles::from_degrees(inclination, anteversion);
    let facing = Orientation::new(Definition::Radiographic, angles);
    let axis = facing.map_err(|bad| BadJoint::Number {
        field: "an angle of the map",
        value: bad.value.to_degrees(),
        allowed: "an inclination between -180 and 180° or an anteversion between -90 and 90°",
    })?;
    let (axis, neck) = (axis.axis(Side::Right), joint.stem.neck.direction());
    let needs = &joint.entry.needs;
    let start = (f64::INFINITY, needs[0].movement);
    let (margin_deg, limiting) = needs.iter().fold(start, |least, need| {
        let limit = Swing::new(&axis, &neck, need.movement).limit(cone.half_angle);
        let margin = counted(limit) - need.range_deg;
        if margin < least.0 {
            (margin, need.movement)
        } else {
            least
        }
    });
    Ok(MapCell {
        margin_deg,
        limiting,
        needed_oscillation_deg: 2.0 * needed_half_angle(&axis, &neck, needs).to_degrees(),
    })
}

/// From the least to the greatest in equal steps, both included where the step divides them.
fn steps(field: &'static str, [least, most]: [f64; 2], step: f64) -> Result<Vec<f64>, BadJoint> {
    // So that 0.1 goes ten times into 1.
    const ROUNDING: f64 = 1e-9;
    let count = ((most - least) / step + ROUNDING).floor();
    if !(step > 0.0 && (0.0..MOST).contains(&count)) {
        return Err(BadJoint::Number {
            field,
            value: step,
            allowed: "an ascending range and a positive step, with at most 1000 steps",
        });
    }
    let numbers = std::iter::successors(Some(0.0), |k| Some(k + 1.0));
    let inside = numbers.take_while(|&k| k <= count);
    Ok(inside.map(|k| least + k * step).collect())
}
