//! What each reamer does: bone that goes, what it meets, and the walls it leaves.

use cupwright_geometry::{Bullet, rim, union, within};
use rayon::prelude::*;

use crate::bone::Bone;
use crate::case::Case;
use crate::fan::Fans;
use crate::findings::{LayersFinding, StepFinding, WallFinding};
use crate::placed::{Placed, Tools};
use crate::removal::{Apart, Removal, removals};
use crate::stock::walls_left;

/// What each reamer does to the bone, and the walls as they are after it.
pub(crate) fn steps(
    case: &Case,
    bone: &Bone,
    tools: &Tools,
    fans: &Fans<'_>,
) -> Result<Vec<StepFinding>, Apart> {
    let gram = case.density / 1000.0;
    let swept = &tools.swept;
    let (removed, met) = rayon::join(
        || {
            let removals = removals(&bone.solid, swept)?;
            let layers = layers(bone, swept, &removals)?;
            Ok::<_, Apart>((removals, layers))
        },
        || met(bone, tools, fans),
    );
    let (removals, layers) = removed?;
    let step = |(k, (met, removal)): (usize, (Met, &Removal))| {
        let mut step = StepFinding {
            diameter_mm: case.reamers[k].diameter,
            removed_mm3: removal.volume,
            removed_g: removal.volume * gram,
            cumulative_removed_mm3: removal.cumulative,
            cumulative_removed_g: removal.cumulative * gram,
            error_bound_mm3: removal.error_bound,
            layers: layers.as_ref().map(|layers| layers[k]),
            new_contact_mm2: met.contact,
            new_contact: met.contact / tools.reamers[k].head().area(),
            rim_contact: met.rim_contact,
            thinnest_wall: None,
            walls: Vec::new(),
            coverage: met.coverage,
        };
        step.set_walls(met.walls);
        step
    };
    let steps = met.into_iter().zip(&removals).enumerate();
    Ok(steps.map(step).collect())
}

impl StepFinding {
    /// Tells these walls, and the thinnest of them.
    pub(crate) fn set_walls(&mut self, walls: Vec<WallFinding>) {
        let thinnest = walls
            .iter()
            .min_by(|a, b| a.thickness_mm.total_cmp(&b.thickness_mm));
        self.thinnest_wall = thinnest.cloned();
        self.walls = walls;
    }
}

/// What a reamer meets at its final depth.
struct Met {
    contact: f64,
    walls: Vec<WallFinding>,
    rim_contact: f64,
    coverage: f64,
}

/// What each reamer meets, side by side. The walls of the last one are left to [`stock`](crate::stock).
fn met(bone: &Bone, tools: &Tools, fans: &Fans<'_>) -> Vec<Met> {
    let count = tools.reamers.len();
    let of_reamer = |(k, placed): (usize, &Placed)| {
        let (head, radius) = (placed.head(), placed.head().radius());
        let so_far = &tools.swept[..=k];
        Met {
            contact: union::area_outside(&bone.solid, head, &so_far[..k]).value,
            walls: if k + 1 < count {
                walls_left(&fans.of(placed), bone, so_far, radius)
            } else {
                Vec::new()
            },
            rim_contact: rim::arcs_inside(&bone.solid, &head.rim()).share(),
            coverage: within::coverage(&bone.solid, head),
        }
    };
    tools
        .reamers
        .par_iter()
        .enumerate()
        .map(of_reamer)
        .collect()
}

/// What each removal is made of, where the bone says what it is made of.
fn layers(
    bone: &Bone,
    swept: &[Bullet],
    whole: &[Removal],
) -> Result<Option<Vec<LayersFinding>>, Apart> {
    let Some(layers) = &bone.layers else {
        return Ok(None);
    };
    let beneath = removals(&layers.beneath_subchondral, swept)?;
    let core = removals(&layers.cancellous, swept)?;
    let split = whole.iter().zip(&beneath).zip(&core);
    // Where a layer is missing its two borders coincide but for their triangles.
    let split = split.map(|((whole, beneath), core)| LayersFinding {
        subchondral_mm3: (whole.volume - beneath.volume).max(0.0),
        cortical_mm3: (beneath.volume - core.volume).max(0.0),
        cancellous_mm3: core.volume,
    });
    Ok(Some(split.collect()))
}
