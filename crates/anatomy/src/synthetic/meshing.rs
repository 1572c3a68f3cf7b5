//! The closed mesh of a bone at a wanted resolution, checked for what it promises.

use cupwright_geometry::{TriMesh, topology};
use nalgebra::Point3;

use super::bone::Bone;
use super::surface::{self, Draft, Thin};
use super::{BadShape, Resolution, Shape, relax, remesh};

/// The surface of `bone` as well-shaped triangles.
///
/// All resolutions start from the same extraction, so that they share its topology.
pub(super) fn meshed(
    bone: &Bone,
    shape: &Shape,
    resolution: Resolution,
) -> Result<Draft, BadShape> {
    let step = EXTRACTION_STEP * shape.asis_width_mm / 238.0;
    let (mut draft, taken) = extracted(bone, shape, step)?;
    relax::relax(&mut draft, bone, 2);
    if taken < step {
        remesh::collapse_edges(&mut draft, |_| 0.8 * step);
    }
    remesh::turn_edges(&mut draft, 4);
    match resolution {
        Resolution::Coarse => {
            // Finer in the socket, so that its triangles stay close to the sphere.
            let socket = &bone.socket;
            remesh::collapse_edges(&mut draft, |p| {
                let near = nalgebra::distance(p, &socket.centre) < 1.2 * socket.radius;
                if near { 1.1 * step } else { 1.55 * step }
            });
            remesh::turn_edges(&mut draft, 4);
            relax::relax(&mut draft, bone, 3);
            remesh::turn_edges(&mut draft, 4);
        }
        Resolution::Middle => {}
        Resolution::Fine => {
            remesh::split(&mut draft);
            relax::relax(&mut draft, bone, 1);
        }
    }
    relax::relax(&mut draft, bone, 2);
    Ok(draft)
}

/// The surface of a bone that has been peeled: closed, but in any number of pieces.
pub(super) fn core(
    bone: &Bone,
    shape: &Shape,
    resolution: Resolution,
) -> Result<TriMesh, BadShape> {
    let step = EXTRACTION_STEP * shape.asis_width_mm / 238.0;
    let step = match resolution {
        Resolution::Coarse => 1.5 * step,
        Resolution::Middle => step,
        Resolution::Fine => 0.6 * step,
    };
    let mut draft = surface::extracted(bone, corners(shape), step, Thin::Drop);
    tight(&draft).map_err(|problem| BadShape::NoBone { problem })?;
    relax::relax(&mut draft, bone, 2);
    remesh::turn_edges(&mut draft, 4);
    outward(draft)
}

/// Distance of the samples from which an average man's bone is extracted, mm.
const EXTRACTION_STEP: f64 = 1.29;

/// The surface sampled every `step` mm, or more finely where the bone is so thin that it breaks, and the
/// step that was taken.
fn extracted(bone: &Bone, shape: &Shape, step: f64) -> Result<(Draft, f64), BadShape> {
    let mut problem = String::new();
    for share in [1.0, 0.97, 0.8, 0.66] {
        let draft = surface::extracted(bone, corners(shape), share * step, Thin::Fill);
        match sound(&draft) {
            Ok(()) => return Ok((draft, if share > 0.9 { step } else { share * step })),
            Err(found) => problem = found,
        }
    }
    Err(BadShape::NoBone { problem })
}

/// Two corners of a box around the bone.
fn corners(shape: &Shape) -> (Point3<f64>, Point3<f64>) {
    let low = Point3::new(
        -4.0,
        -shape.pelvic_depth_mm - 12.0,
        -shape.hip_below_mm - shape.tuberosity_drop_mm - 15.0,
    );
    let high = Point3::new(
        0.5 * shape.crest_width_mm + 12.0,
        10.0,
        shape.crest_height_mm + 12.0,
    );
    (low, high)
}

/// Whether the draft is one closed piece with one hole through it, no edge shared by more than two
/// triangles.
fn sound(draft: &Draft) -> Result<(), String> {
    tight(draft)?;
    let pieces = topology::shells(&draft.triangles).count;
    if pieces != 1 {
        return Err(format!("{pieces} pieces"));
    }
    match topology::genus(&draft.triangles) {
        Some(1) => Ok(()),
        Some(holes) => Err(format!(
            "{holes} holes through it where the obturator foramen is one"
        )),
        None => Err("pinched".to_owned()),
    }
}

/// Whether every edge has two triangles, one each way.
fn tight(draft: &Draft) -> Result<(), String> {
    let faults = topology::faulty_edges(&draft.triangles).len();
    if faults > 0 {
        return Err(format!("{faults} open edges"));
    }
    match remesh::pinched_edges(&draft.triangles) {
        0 => Ok(()),
        pinched => Err(format!("{pinched} pinched edges")),
    }
}

/// The draft as a mesh, once it is sound.
pub(super) fn closed(draft: Draft) -> Result<TriMesh, BadShape> {
    sound(&draft).map_err(|problem| BadShape::NoBone { problem })?;
    outward(draft)
}

fn outward(draft: Draft) -> Result<TriMesh, BadShape> {
    let mesh = TriMesh::new(draft.vertices, draft.triangles).map_err(|e| BadShape::NoBone {
        problem: e.to_string(),
    })?;
    Ok(if mesh.volume() < 0.0 {
        mesh.reversed()
    } else {
        mesh
    })
}
