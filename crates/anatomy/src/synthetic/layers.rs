//! What a volume of bone is made of: subchondral plate, cortical shell, cancellous core.
//!
//! Each layer ends on a closed mesh, so that the same exact measure serves for all: of the volume `V` that a
//! tool takes from the whole bone, `V(whole) − V(beneath_subchondral)` is subchondral,
//! `V(beneath_subchondral) − V(cancellous)` cortical, and `V(cancellous)` cancellous. The thicknesses are
//! model assumptions: real plates and shells vary from place to place more than these.

use cupwright_geometry::TriMesh;

use super::bone::{Bone, Peel};
use super::{BadShape, Resolution, Shape, meshing};
use crate::Side;

/// The inner borders of the layers of a hemipelvis, closed and in its frame, mm.
#[derive(Clone, Debug)]
pub struct Layers {
    /// The bone without the subchondral plate of the lunate surface.
    pub beneath_subchondral: TriMesh,
    /// What is left when the cortical shell is gone too; in several pieces where bone is thin.
    pub cancellous: TriMesh,
}

/// The layers of the hemipelvis that [`pelvis`](super::pelvis) makes of the same arguments.
///
/// # Errors
/// When a number of the shape is out of its range, or the numbers together give no closed bone.
pub fn layers(shape: &Shape, side: Side, resolution: Resolution) -> Result<Layers, BadShape> {
    shape.check()?;
    let plate = Peel {
        shell: 0.0,
        plate: shape.subchondral_mm,
        roof: shape.subchondral_superior_mm,
    };
    let both = Peel {
        shell: shape.cortex_mm,
        ..plate
    };
    let whole = Bone::new(shape);
    let beneath = |bone: &Bone| {
        let mesh = meshing::core(bone, shape, resolution)?;
        Ok(match side {
            Side::Right => mesh,
            Side::Left => mesh.mirrored_x(),
        })
    };
    let without_plate = whole.peeled(plate);
    let beneath_subchondral = beneath(&without_plate)?;
    let cancellous = beneath(&without_plate.peeled(both))?;
    Ok(Layers {
        beneath_subchondral,
        cancellous,
    })
}
