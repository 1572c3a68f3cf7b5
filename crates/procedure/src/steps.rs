//! What each reamer does: bone that goes, what it meets, and the walls it leaves.

use std::collections::BTreeMap;

use cupwright_geometry::{Bullet, rim, union, within};
use rayon::prelude::*;

use crate::bone::Bone;
use crate::case::Case;
use crate::findings::{LayersFinding, StepFinding, Wall, WallFinding};
use crate::placed::Placed;
use crate::removal::{Apart, Removal, removals};
use crate::walls::{Rays, Thinnest};

/// What each reamer does to the bone, and the walls as they are after it.
pub(crate) fn steps(
    case: &Case,
    bone: &Bone,
    reamers: &[Placed],
    swept: &[Bullet],
) -> Result<Vec<StepFinding>, Apart> {
    let gram = case.density / 1000.0;
    let (removed, met) = rayon::join(
        || {
            let removals = removals(&bone.solid, swept)?;
            let layers = layers(bone, swept, &removals)?;
            Ok::<_, Apart>((removals, layers))
        },
        || met(bone, reamers, swept),
    );
    let (removals, layers) = removed?;
    let mut walls: BTreeMap<Wall, WallFinding> = BTreeMap::new();
    let step = |(k, (met, removal)): (usize, (Met, &Removal))| {
        for (wall, found) in met.walls {
            let found = wall_finding(bone, &reamers[k], wall, &found);
            let kept = walls.entry(wall).or_insert_with(|| found.clone());
            if found.thickness_mm <= kept.thickness_mm {
                *kept = found;
            }
        }
        StepFinding {
            diameter_mm: case.reamers[k].diameter,
            removed_mm3: removal.volume,
            removed_g: removal.volume * gram,
            cumulative_removed_mm3: removal.cumulative,
            cumulative_removed_g: removal.cumulative * gram,
            error_bound_mm3: removal.error_bound,
            layers: layers.as_ref().map(|layers| layers[k]),
            new_contact_mm2: met.contact,
            new_contact: met.contact / reamers[k].head().area(),
            rim_contact: met.rim_contact,
            thinnest_wall: walls
                .values()
                .min_by(|a, b| a.thickness_mm.total_cmp(&b.thickness_mm))
                .cloned(),
            walls: walls.values().cloned().collect(),
            coverage: met.coverage,
        }
    };
    let steps = met.into_iter().zip(&removals).enumerate();
    Ok(steps.map(step).collect())
}

/// What a reamer meets at its final depth, whatever those before it have removed but for `contact`.
struct Met {
    contact: f64,
    walls: BTreeMap<Wall, Thinnest>,
    rim_contact: f64,
    coverage: f64,
}

/// What each reamer meets, side by side; those that share centre and axis share their rays.
fn met(bone: &Bone, reamers: &[Placed], swept: &[Bullet]) -> Vec<Met> {
    let mut cast: Vec<Rays> = Vec::new();
    for placed in reamers {
        if !cast.iter().any(|rays| rays.serve(placed.head())) {
            cast.push(Rays::cast(
                bone,
                placed.head(),
                [placed.twelve(), placed.three()],
            ));
        }
    }
    let of_reamer = |(k, placed): (usize, &Placed)| {
        let head = placed.head();
        let rays = cast.iter().find(|rays| rays.serve(head));
        Met {
            contact: union::area_outside(&bone.solid, head, &swept[..k]).value,
            walls: rays.map(|rays| rays.thinnest(head)).unwrap_or_default(),
            rim_contact: rim::arcs_inside(&bone.solid, &head.rim()).share(),
            coverage: within::coverage(&bone.solid, head),
        }
    };
    reamers.par_iter().enumerate().map(of_reamer).collect()
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

fn wall_finding(bone: &Bone, placed: &Placed, wall: Wall, found: &Thinnest) -> WallFinding {
    WallFinding {
        wall,
        thickness_mm: found.thickness,
        place: bone.shift(&(found.place - bone.native_centre)),
        clock_h: placed.hour_of(&found.toward).hours(),
        from_pole_deg: found.toward.angle(&-placed.head().axis()).to_degrees(),
    }
}
