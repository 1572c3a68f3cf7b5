//! Cases and joints to put together.

use cupwright_procedure::joint::{HeadEntry, JointEntry, LinerEntry, StemEntry};
use cupwright_procedure::{Case, CaseFile};

/// A cup to put a joint into.
#[derive(Clone, Copy, Debug)]
pub struct Cup {
    /// Outer diameter, in mm.
    pub diameter: f64,
    /// `Radiographic`, `Operative` or `Anatomic`.
    pub definition: &'static str,
    /// Inclination and anteversion, in degrees.
    pub facing: [f64; 2],
    /// Medial, superior and anterior shift of its centre, in mm.
    pub shift: [f64; 3],
    /// `Right` or `Left`.
    pub side: &'static str,
}

impl Cup {
    /// A right cup of 56 mm at the native centre, radiographic angles in degrees.
    pub fn film(inclination: f64, anteversion: f64) -> Self {
        Self {
            diameter: 56.0,
            definition: "Radiographic",
            facing: [inclination, anteversion],
            shift: [0.0; 3],
            side: "Right",
        }
    }

    /// The case of this cup, on the average man.
    ///
    /// # Panics
    /// When it is none; a fixture is.
    pub fn case(&self) -> Case {
        let Self {
            diameter,
            definition,
            facing: [inclination, anteversion],
            shift: [medial, superior, anterior],
            side,
        } = self;
        let text = format!(
            "(version: 1, bone: Preset(name: \"average-male\", side: {side}), orientation: {definition}, \
             reamers: [(diameter_mm: {})], cup: (diameter_mm: {diameter}, inclination_deg: {inclination}, \
             anteversion_deg: {anteversion}, centre: (medial_mm: {medial}, superior_mm: {superior}, \
             anterior_mm: {anterior})))",
            diameter - 1.0
        );
        let case = CaseFile::parse(&text).and_then(|file| file.check());
        match case {
            Ok(case) => case,
            Err(problem) => panic!("a fixture must be a case: {problem}"),
        }
    }
}

/// A joint without clearance: the edge of the liner has the radius of the head.
pub fn snug(head_mm: f64, neck_mm: f64, neck_shaft_deg: f64, antetorsion_deg: f64) -> JointEntry {
    JointEntry {
        liner: LinerEntry {
            clearance_mm: 0.0,
            ..LinerEntry::default()
        },
        head: HeadEntry {
            diameter_mm: head_mm,
            ..HeadEntry::default()
        },
        stem: StemEntry {
            neck_shaft_angle_deg: neck_shaft_deg,
            neck_diameter_mm: neck_mm,
            antetorsion_deg,
            ..StemEntry::default()
        },
        ..JointEntry::default()
    }
}
