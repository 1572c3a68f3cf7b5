//! The shapes of a case as closed meshes in the bone's own coordinates, to look at and to export.
//!
//! Guaranteed: the bone after the plan and the bone that each step removes fit together without a gap,
//! triangle by triangle, and are as far from the exact measures as [`Shapes::error_bound`] at most. The
//! tools' outsides are those of the case; how thick their walls are is assumed, for looking at only.

use cupwright_geometry::cut::{CutFailed, Labelled, Reaming, Tolerance, shell};
use cupwright_geometry::{BadShape, TriMesh};
use thiserror::Error;

use crate::bone::Bone;
use crate::case::Case;
use crate::placed::{NotPlaced, Placed, Which};

/// How thick the wall of a cup is drawn, in mm: assumed, for looking at only.
pub const CUP_WALL: f64 = 3.5;

/// How thick the wall of a reamer is drawn, in mm: assumed, for looking at only.
pub const REAMER_WALL: f64 = 2.0;

/// Why the shapes of a case could not be had.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum NoShapes {
    /// A tool cannot be placed.
    #[error(transparent)]
    Placed(#[from] NotPlaced),
    /// A cut could not be meshed.
    #[error(transparent)]
    Cut(#[from] CutFailed),
    /// A tool that cannot be drawn.
    #[error("{tool}: {problem}")]
    Shell {
        /// Which tool.
        tool: Which,
        /// What is wrong.
        problem: BadShape,
    },
}

/// What a case looks like.
#[derive(Clone, Debug)]
pub struct Shapes {
    /// The bone after all reamers; `None` where they leave nothing.
    pub reamed: Option<Labelled>,
    /// How far volumes of the meshes can be from those of true reamers, in mm³, all steps together.
    pub error_bound: f64,
    /// The reamers in the order of use.
    pub steps: Vec<StepShapes>,
    /// Diameter of the cup, in mm.
    pub cup_diameter: f64,
    /// The cup at its place, its wall as thick as [`CUP_WALL`].
    pub cup: TriMesh,
}

/// What a reamer looks like, and what it removes.
#[derive(Clone, Debug)]
pub struct StepShapes {
    /// Diameter of the reamer, in mm.
    pub diameter: f64,
    /// The bone that it removes and no reamer before it; `None` where there is none.
    pub removed: Option<Labelled>,
    /// The reamer at its final place, its wall as thick as [`REAMER_WALL`].
    pub reamer: TriMesh,
}

/// The shapes of `case` on `bone`, curves as near as `tolerance`.
///
/// # Errors
/// When a tool cannot be placed, or a cut cannot be meshed free of faults, which a bone that passes
/// through itself may cause.
pub fn shapes(case: &Case, bone: &Bone, tolerance: Tolerance) -> Result<Shapes, NoShapes> {
    let reamers = Placed::reamers(case, bone)?;
    let cup = Placed::cup(case, bone)?;
    let mut reaming = Reaming::of(&bone.solid, tolerance);
    let steps = reamers.iter().zip(&case.reamers).map(|(placed, tool)| {
        Ok(StepShapes {
            diameter: tool.diameter,
            removed: reaming.ream(&placed.swept())?,
            reamer: drawn(placed, REAMER_WALL, tolerance)?,
        })
    });
    let steps = steps.collect::<Result<_, NoShapes>>()?;
    let cut = reaming.cut();
    Ok(Shapes {
        error_bound: cut.error_bound(),
        reamed: cut.into_labelled(),
        steps,
        cup_diameter: case.cup.diameter,
        cup: drawn(&cup, CUP_WALL, tolerance)?,
    })
}

/// A tool as a shell; of one so small that its wall would fill it, the wall is half the radius.
fn drawn(placed: &Placed, wall: f64, tolerance: Tolerance) -> Result<TriMesh, NoShapes> {
    let wall = wall.min(placed.head().radius() / 2.0);
    let shell = shell::half_ball(placed.head(), wall, tolerance);
    shell.map_err(|problem| NoShapes::Shell {
        tool: placed.which(),
        problem,
    })
}

impl Shapes {
    /// All meshes with a name for each, fit for a file: `bone-reamed`, `removed-1-47mm`,
    /// `reamer-1-47mm`, `cup-54mm`; steps are counted from 1, diameters in mm.
    pub fn named(&self) -> Vec<(String, &TriMesh)> {
        let mut named = Vec::new();
        if let Some(reamed) = &self.reamed {
            named.push(("bone-reamed".into(), &reamed.mesh));
        }
        for (number, step) in (1..).zip(&self.steps) {
            let of_step = |what: &str| format!("{what}-{number}-{}mm", step.diameter);
            if let Some(removed) = &step.removed {
                named.push((of_step("removed"), &removed.mesh));
            }
            named.push((of_step("reamer"), &step.reamer));
        }
        named.push((format!("cup-{}mm", self.cup_diameter), &self.cup));
        named
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::CaseFile;
    use crate::removal::removals;
    use cupwright_anatomy::Side;
    use cupwright_geometry::cut::Origin;
    use cupwright_geometry::{Solid, samples, topology};
    use nalgebra::{Isometry3, Point3};

    /// A lumpy ball with a native socket in its right side.
    fn bone() -> Bone {
        Bone {
            solid: Solid::try_from(samples::lumpy_ball(60.0, 0.12, 60, 36))
                .unwrap()
                .into(),
            landmarks: None,
            source: "a lumpy ball".into(),
            remarks: Vec::new(),
            side: Side::Right,
            to_pelvic: Isometry3::identity(),
            native_centre: Point3::new(50.0, 14.0, -28.0),
            native_radius: 26.0,
            layers: None,
        }
    }

    fn case(reamers: &str) -> Case {
        let text = format!(
            "(version: 1, bone: Preset(name: \"average-male\", side: Right), orientation: Radiographic, \
             reamers: [{reamers}], cup: (diameter_mm: 54, inclination_deg: 45, anteversion_deg: 15))"
        );
        CaseFile::parse(&text).unwrap().check().unwrap()
    }

    const REAMERS: &str = "(diameter_mm: 47, centre: (medial_mm: -4)), (diameter_mm: 45, centre: (medial_mm: -4)), \
        (diameter_mm: 51.5, centre: (medial_mm: -2, superior_mm: 1)), (diameter_mm: 53)";

    fn names(shapes: &Shapes) -> Vec<String> {
        shapes.named().into_iter().map(|(name, _)| name).collect()
    }

    #[test]
    fn bone_removed_and_bone_left_are_closed_and_make_up_the_whole() {
        let (case, bone) = (case(REAMERS), bone());
        let shapes = shapes(&case, &bone, Tolerance::default()).unwrap();
        for (name, mesh) in shapes.named() {
            assert_eq!(topology::faulty_edges(mesh.triangles()), [], "{name}");
        }
        let removed = shapes.steps.iter().filter_map(|step| step.removed.as_ref());
        let removed: f64 = removed.map(|labelled| labelled.mesh.volume()).sum();
        let left = shapes.reamed.as_ref().unwrap().mesh.volume();
        assert!((removed + left - bone.solid.volume()).abs() < 1e-6);
    }

    #[test]
    fn volumes_removed_are_the_exact_measures_within_the_bound() {
        let (case, bone) = (case(REAMERS), bone());
        let shapes = shapes(&case, &bone, Tolerance::default()).unwrap();
        let reamers = Placed::reamers(&case, &bone).unwrap();
        let swept: Vec<_> = reamers.iter().map(Placed::swept).collect();
        let exact = removals(&bone.solid, &swept).unwrap();
        let mut so_far = 0.0;
        for (step, exact) in shapes.steps.iter().zip(&exact) {
            let volume = step.removed.as_ref().map_or(0.0, |r| r.mesh.volume());
            so_far += volume;
            let bound = shapes.error_bound + exact.error_bound;
            assert!(
                (volume - exact.volume).abs() <= bound,
                "{volume} for {exact:?}"
            );
            assert!((so_far - exact.cumulative).abs() <= bound);
        }
        assert!(so_far > 1000.0 && shapes.error_bound < 0.01 * so_far);
    }

    #[test]
    fn a_step_without_bone_has_no_mesh_and_every_other_a_name_with_its_number_and_size() {
        let shapes = shapes(&case(REAMERS), &bone(), Tolerance::default()).unwrap();
        let found: Vec<_> = shapes.steps.iter().map(|s| s.removed.is_some()).collect();
        assert_eq!(found, [true, false, true, true]);
        assert_eq!(
            names(&shapes),
            [
                "bone-reamed",
                "removed-1-47mm",
                "reamer-1-47mm",
                "reamer-2-45mm",
                "removed-3-51.5mm",
                "reamer-3-51.5mm",
                "removed-4-53mm",
                "reamer-4-53mm",
                "cup-54mm"
            ]
        );
    }

    #[test]
    fn labels_name_the_reamer_by_its_place_in_the_plan() {
        let shapes = shapes(&case(REAMERS), &bone(), Tolerance::default()).unwrap();
        let last = shapes.steps[3].removed.as_ref().unwrap();
        let has = |origin| last.origins.contains(&origin);
        assert!(has(Origin::Reamer(3)) && has(Origin::Reamer(2)) && !has(Origin::Reamer(1)));
        assert!(last.origins.iter().any(|o| matches!(o, Origin::Bone(_))));
        let reamed = &shapes.reamed.as_ref().unwrap().origins;
        assert!(reamed.contains(&Origin::Reamer(3)));
    }

    #[test]
    fn tools_stand_at_their_places_and_open_out_of_the_socket() {
        let (case, bone) = (case(REAMERS), bone());
        let shapes = shapes(&case, &bone, Tolerance::default()).unwrap();
        let cup = Placed::cup(&case, &bone).unwrap();
        let reamer = Placed::reamers(&case, &bone).unwrap()[2];
        for (placed, mesh, wall) in [
            (cup, &shapes.cup, CUP_WALL),
            (reamer, &shapes.steps[2].reamer, REAMER_WALL),
        ] {
            let head = placed.head();
            let outer = head.radius();
            let mut depths = [f64::INFINITY, f64::NEG_INFINITY];
            for p in mesh.vertices() {
                let from_centre = p - head.centre();
                assert!(head.axis().dot(&from_centre) < 1e-9, "above its edge");
                let depth = outer - from_centre.norm();
                depths = [depths[0].min(depth), depths[1].max(depth)];
            }
            assert!(depths[0].abs() < 1e-9 && (depths[1] - wall).abs() < 1e-9);
        }
    }

    #[test]
    fn a_bone_all_reamed_away_leaves_no_mesh_and_a_tiny_tool_is_still_drawn() {
        let mut small = bone();
        small.solid = Solid::try_from(samples::sphere(2.0, 2)).unwrap().into();
        small.native_centre = Point3::origin();
        let gone = shapes(&case("(diameter_mm: 20)"), &small, Tolerance::default()).unwrap();
        assert!(gone.reamed.is_none() && gone.steps[0].removed.is_some());
        assert_eq!(names(&gone)[0], "removed-1-20mm");
        let tiny = shapes(&case("(diameter_mm: 3)"), &bone(), Tolerance::default()).unwrap();
        assert!(tiny.steps[0].reamer.volume() > 0.0);
    }
}
