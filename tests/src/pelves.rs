//! Synthetic pelves as bones to work on, coarse, each made once for all tests of a file.

use std::sync::Mutex;

use cupwright_anatomy::synthetic::{Preset, Resolution, pelvis};
use cupwright_anatomy::{PelvicFrame, Side};
use cupwright_geometry::Solid;
use cupwright_procedure::{Bone, Case, CaseFile};

static MADE: Mutex<Vec<(&'static str, Side, Bone)>> = Mutex::new(Vec::new());

/// A preset's hemipelvis.
///
/// # Panics
/// When it is no bone; a preset is.
pub fn bone(preset: Preset, side: Side) -> Bone {
    let Ok(mut made) = MADE.lock() else {
        panic!("another test failed to make a bone");
    };
    let known = made.iter().find(|m| m.0 == preset.name() && m.1 == side);
    if let Some((_, _, bone)) = known {
        return bone.clone();
    }
    let shape = preset.shape();
    let made_now = shape.map(|shape| pelvis(&shape, side, Resolution::Coarse));
    let Ok(Ok(pelvis)) = made_now else {
        panic!("a preset must be a pelvis: {}", preset.name());
    };
    let frame = PelvicFrame::anterior_pelvic_plane(&pelvis.landmarks);
    let (Ok(solid), Ok(frame)) = (Solid::try_from(pelvis.mesh), frame) else {
        panic!("a preset must be a solid with a frame: {}", preset.name());
    };
    let bone = Bone {
        solid: solid.into(),
        source: preset.name().into(),
        remarks: Vec::new(),
        side,
        landmarks: Some(pelvis.landmarks),
        to_pelvic: frame.to_pelvic(),
        native_centre: pelvis.socket.centre,
        native_radius: pelvis.socket.radius,
        layers: None,
    };
    made.push((preset.name(), side, bone.clone()));
    bone
}

/// How a cup lies, and how large it is.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Definition, inclination and anteversion in degrees.
    pub facing: (&'static str, f64, f64),
    /// By how much the cup is larger than the native socket, in mm; the only reamer is 1 mm smaller.
    pub over_mm: f64,
    /// Medially of the native centre, in mm.
    pub medial_mm: f64,
}

impl Plan {
    /// By the common rule of the trade: 2 mm over the socket, 40 and 15 degrees, 3 mm medialised.
    pub const COMMON: Self = Self {
        facing: ("Radiographic", 40.0, 15.0),
        over_mm: 2.0,
        medial_mm: 3.0,
    };

    /// The case of this plan on a bone.
    ///
    /// # Panics
    /// When it is no case; a fixture is.
    pub fn case(&self, bone: &Bone) -> Case {
        match self.case_file(bone).check() {
            Ok(case) => case,
            Err(problem) => panic!("a fixture must be a case: {problem}"),
        }
    }

    /// The same as typed.
    ///
    /// # Panics
    /// When it is no case; a fixture is.
    pub fn case_file(&self, bone: &Bone) -> CaseFile {
        let (definition, inclination, anteversion) = self.facing;
        let cup = 2.0 * bone.native_radius + self.over_mm;
        let text = format!(
            "(version: 1, bone: Preset(name: \"{}\", side: {:?}), orientation: {definition}, \
             reamers: [(diameter_mm: {})], cup: (diameter_mm: {cup}, inclination_deg: {inclination}, \
             anteversion_deg: {anteversion}, centre: (medial_mm: {})))",
            bone.source,
            bone.side,
            cup - 1.0,
            self.medial_mm,
        );
        match CaseFile::parse(&text) {
            Ok(file) => file,
            Err(problem) => panic!("a fixture must be a case: {problem}"),
        }
    }
}
