//! How much bone is left behind the whole cavity: walls from where bone begins at each hour, holes with
//! their area, and what a larger cup would still find.
//!
//! Measured along rays from the centre of the last reamer, exact along each. The cavity is what all
//! reamers have swept together. The lip of the socket tapers to nothing by nature: walls are measured
//! from [`LIP`] below the place where bone begins at each hour, so that a lip that is set back, as in a
//! shallow socket, reads no thinner than one at the edge.

mod cavity;
mod walls;

use cupwright_geometry::{Bullet, Hemisphere};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::fan::{Fan, Steps};
use crate::findings::{Wall, WallFinding};
use crate::hold::BadInput;
use crate::placed::{NotPlaced, Tools};
use cavity::cavity;
pub(crate) use cavity::walls_left;
pub use cavity::walls_roughly;

/// How far below the place where bone begins a wall is measured from, along the cavity, in mm; assumed.
pub const LIP: f64 = 6.0;

/// Share of the whole by which sums between two meridians may be off, for the cavity as it is.
const CLOSELY: f64 = 5e-5;

/// The same for a fallback, which is asked whether and not how much.
const ROUGHLY: f64 = 1e-3;

/// How deep behind the cavity bone is counted as stock, in mm; assumed.
pub const STOCK_DEPTH: f64 = 10.0;

/// What the walls and the stock take for granted.
pub const ASSUMES: &str = "first-order estimate: bone as the mesh encloses it, along rays from the last reamer's centre; walls \
     from 6 mm below where bone begins at each hour, stock within 10 mm behind the cavity (assumed)";

/// What the fallback takes for granted.
pub const FALLBACK_ASSUMES: &str =
    "first-order estimate: the fallback cup's reamer at the place and axis of the last reamer";

/// The larger cup that would be used if this one failed, and what it needs.
#[derive(Clone, Copy, Debug, Deserialize, JsonSchema, PartialEq, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct FallbackCup {
    /// By how much its last reamer is larger than the last of the case, in mm of diameter; 6, three even
    /// sizes: assumed.
    pub larger_mm: f64,
    /// The least wall that it needs anywhere, in mm; 2: assumed.
    pub least_wall_mm: f64,
    /// The least share of its round side that must meet bone; 0.7, the minimum most often asked for:
    /// common practice, no published source.
    pub least_contact: f64,
}

impl Default for FallbackCup {
    fn default() -> Self {
        Self {
            larger_mm: 6.0,
            least_wall_mm: 2.0,
            least_contact: 0.7,
        }
    }
}

/// Why there is no stock to tell.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoStock {
    /// A tool cannot be placed.
    #[error(transparent)]
    Placed(#[from] NotPlaced),
    /// A number of the fallback that cannot be.
    #[error(transparent)]
    Input(#[from] BadInput),
    /// No reamers.
    #[error("the case has no reamer, so there is no cavity")]
    NoReamers,
}

/// A hole through a wall.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct HoleFinding {
    /// Through which wall.
    pub wall: Wall,
    /// Area of the cavity behind which no bone is left, in mm².
    pub area_mm2: f64,
    /// Its middle on the clock.
    pub clock_h: f64,
    /// Angle of its middle from the deepest point of the cavity.
    pub from_pole_deg: f64,
}

/// The wall at one hour.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct HourFinding {
    /// Clock position.
    pub clock_h: f64,
    /// From the edge of the last reamer down the cavity to where bone begins; `None` where it never does.
    pub begins_mm: Option<f64>,
    /// Bone left 5 mm below that place, 0 in a hole; `None` past the pole.
    pub wall_5_mm: Option<f64>,
    /// Bone left 10 mm below it.
    pub wall_10_mm: Option<f64>,
}

/// What one cavity leaves.
#[derive(Clone, Debug, Default, JsonSchema, PartialEq, Serialize)]
pub struct CavityFinding {
    /// The thinnest place of each wall, by the name of the wall; walls not reached are absent.
    pub walls: Vec<WallFinding>,
    /// The holes, by wall.
    pub holes: Vec<HoleFinding>,
    /// Area of all of them.
    pub hole_area_mm2: f64,
    /// Area of a hole through the medial wall: a medial breach; 0 where there is none.
    pub medial_breach_mm2: f64,
    /// Area of the cavity that bone forms.
    pub bone_area_mm2: f64,
    /// The same as a share of the last reamer's round side.
    pub bone_share: f64,
    /// Bone within [`STOCK_DEPTH`] behind the cavity.
    pub stock_mm3: f64,
    /// The same as a share of what bone all around would give.
    pub stock_share: f64,
    /// The wall at every half hour from 12 o'clock.
    pub by_hour: Vec<HourFinding>,
}

/// What a fallback cup would find in one wall.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct SpareFinding {
    /// The wall.
    pub wall: Wall,
    /// Its thinnest place now.
    pub left_mm: f64,
    /// Its thinnest place after reaming for the fallback; `None` where that no longer meets this wall
    /// below its lip.
    pub after_mm: Option<f64>,
    /// Whether that is what the fallback needs.
    pub enough: bool,
}

/// What a fallback cup would find.
#[derive(Clone, Debug, Default, JsonSchema, PartialEq, Serialize)]
pub struct FallbackFinding {
    /// The numbers that went in.
    pub needs: FallbackCup,
    /// Its last reamer.
    pub reamer_mm: f64,
    /// Wall by wall.
    pub walls: Vec<SpareFinding>,
    /// Area of holes after reaming for it.
    pub hole_area_mm2: f64,
    /// Share of its round side that meets bone.
    pub bone_share: f64,
    /// Whether every wall and the share of bone are enough and no hole is left.
    pub possible: bool,
}

/// Bone left by the reamers of a case.
#[derive(Clone, Debug, Default, JsonSchema, PartialEq, Serialize)]
pub struct StockFinding {
    /// The cavity as it is.
    pub cavity: CavityFinding,
    /// What a fallback cup would find.
    pub fallback: FallbackFinding,
    /// The assumptions, for the reader.
    pub assumptions: Vec<&'static str>,
}

/// The bone that the reamers of a case leave, and what a fallback cup would find.
///
/// # Errors
/// When a tool cannot be placed, or a number of the fallback cannot be.
pub fn stock(case: &Case, bone: &Bone, fallback: &FallbackCup) -> Result<StockFinding, NoStock> {
    let tools = Tools::of(case, bone)?;
    let fan = Fan::cast(&bone.solid, tools.last(), Steps::default());
    stock_along(&fan, bone, &tools, fallback)
}

/// The bone left, along rays that serve the last of the reamers.
///
/// # Errors
/// As for [`stock`].
pub fn stock_along(
    fan: &Fan<'_>,
    bone: &Bone,
    tools: &Tools,
    fallback: &FallbackCup,
) -> Result<StockFinding, NoStock> {
    fallback.check()?;
    let (last, swept) = (
        tools.reamers.last().ok_or(NoStock::NoReamers)?,
        &tools.swept,
    );
    let (head, radius) = (last.head(), last.head().radius());
    let larger = radius + fallback.larger_mm / 2.0;
    let larger_head = Hemisphere::new(head.centre(), head.axis().into_inner(), larger)
        .map_err(|problem| last.refused(problem))?;
    let with_larger: Vec<_> = swept
        .iter()
        .copied()
        .chain([Bullet::open(larger_head)])
        .collect();
    let (cavity, after) = rayon::join(
        || cavity(fan, bone, swept, radius, CLOSELY),
        || cavity(fan, bone, &with_larger, larger, ROUGHLY),
    );
    let fallback = fallback_finding(fallback, 2.0 * larger, &cavity, &after);
    Ok(StockFinding {
        cavity,
        fallback,
        assumptions: vec![ASSUMES, FALLBACK_ASSUMES],
    })
}

impl FallbackCup {
    /// Refuses numbers that cannot be.
    ///
    /// # Errors
    /// The first of them, by the name of its field.
    pub fn check(&self) -> Result<(), BadInput> {
        let range = crate::hold::ranged;
        let size = "between 0 and 50 mm";
        range("fallback.larger_mm", self.larger_mm, 0.0..=50.0, size)?;
        range(
            "fallback.least_wall_mm",
            self.least_wall_mm,
            0.0..=50.0,
            size,
        )?;
        let share = "a share from 0 to 1";
        range(
            "fallback.least_contact",
            self.least_contact,
            0.0..=1.0,
            share,
        )
    }
}

fn fallback_finding(
    needs: &FallbackCup,
    reamer_mm: f64,
    now: &CavityFinding,
    after: &CavityFinding,
) -> FallbackFinding {
    let spare = |left: &WallFinding| {
        let then = after.walls.iter().find(|w| w.wall == left.wall);
        let after_mm = then.map(|w| w.thickness_mm);
        SpareFinding {
            wall: left.wall,
            left_mm: left.thickness_mm,
            after_mm,
            enough: after_mm.is_some_and(|mm| mm >= needs.least_wall_mm),
        }
    };
    let walls: Vec<_> = now.walls.iter().map(spare).collect();
    let share = after.bone_share;
    FallbackFinding {
        needs: *needs,
        reamer_mm,
        hole_area_mm2: after.hole_area_mm2,
        bone_share: share,
        possible: share >= needs.least_contact
            && after.hole_area_mm2 <= 0.0
            && walls.iter().all(|wall| wall.enough),
        walls,
    }
}
