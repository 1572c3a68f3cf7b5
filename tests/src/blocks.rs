//! A cavity in a flat block, for which the mechanics of a cup have closed forms.

use std::sync::Arc;

use cupwright_anatomy::{Landmarks, Side};
use cupwright_geometry::{Solid, TriMesh, samples};
use cupwright_procedure::{Bone, Case, CaseFile};
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};

/// A right hip's case with all tools about the native centre: radiographic 40 and 15.
///
/// # Panics
/// When the text is no case; a fixture's is.
pub fn case(reamers: &str, cup_mm: f64) -> Case {
    match case_file(reamers, cup_mm).check() {
        Ok(case) => case,
        Err(problem) => panic!("a fixture must be a case: {problem}"),
    }
}

/// The same as typed.
///
/// # Panics
/// When the text is no case; a fixture's is.
pub fn case_file(reamers: &str, cup_mm: f64) -> CaseFile {
    let text = format!(
        "(version: 1, bone: Preset(name: \"block\", side: Right), orientation: Radiographic, \
         reamers: [{reamers}], cup: (diameter_mm: {cup_mm}, inclination_deg: 40, anteversion_deg: 15))"
    );
    match CaseFile::parse(&text) {
        Ok(file) => file,
        Err(problem) => panic!("a fixture must be a case: {problem}"),
    }
}

/// The axis of the tools of [`case`], out of the socket, in the pelvic frame.
pub fn axis() -> Vector3<f64> {
    let (ri, ra) = (40.0_f64.to_radians(), 15.0_f64.to_radians());
    Vector3::new(ra.cos() * ri.sin(), ra.sin(), -ra.cos() * ri.cos())
}

/// A mesh about the z axis turned so that z is the [`axis`].
pub fn turned(mesh: &TriMesh) -> TriMesh {
    let turn = UnitQuaternion::rotation_between(&Vector3::z(), &axis());
    let turn = turn.unwrap_or_else(UnitQuaternion::identity);
    mesh.moved(&Isometry3::from_parts(Translation3::identity(), turn))
}

/// A block with a flat face square to the tools' axis, `proud` mm outside their centre, `deep` mm from
/// that centre to its back, and `wide` mm across.
pub fn block(wide: f64, deep: f64, proud: f64) -> Bone {
    let mesh = samples::cuboid([wide, wide, deep + proud]);
    let down = Isometry3::translation(0.0, 0.0, (proud - deep) / 2.0);
    bone(turned(&mesh.moved(&down)), None)
}

/// A mesh in the pelvic frame as a right hip about the origin.
///
/// # Panics
/// When it is no solid; a fixture is.
pub fn bone(mesh: TriMesh, landmarks: Option<Landmarks>) -> Bone {
    let solid = match Solid::try_from(mesh) {
        Ok(solid) => Arc::new(solid),
        Err(defect) => panic!("a fixture must be a solid: {defect}"),
    };
    Bone {
        solid,
        source: "a block".into(),
        remarks: Vec::new(),
        side: Side::Right,
        landmarks,
        to_pelvic: Isometry3::identity(),
        native_centre: Point3::origin(),
        native_radius: 25.0,
        layers: None,
    }
}
