//! What mending changed, as a document tells it.
//!
//! Lengths in mm; places in the mesh's own coordinates.

use schemars::JsonSchema;
use serde::Serialize;

use crate::json::Document;

/// What mending changed.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct MendingDocument {
    /// The file that was written.
    pub out: String,
    /// Each change, in the order in which they were made.
    pub changes: Vec<ChangeDocument>,
    /// How far the whole surface moved.
    pub surface: MovedDocument,
    /// The socket's region; `None` where no socket was found and no centre given.
    pub socket_region: Option<RegionDocument>,
    /// The socket found on the mended mesh.
    pub socket: Option<SocketDocument>,
    /// What was left as it is.
    pub left: Vec<LeftDocument>,
    /// The mesh as it was.
    pub before: BeforeDocument,
    /// The mesh as it is.
    pub after: AfterDocument,
    /// Whether nothing stands in the way of working on it.
    pub ready: bool,
}

impl Document for MendingDocument {
    const FORM: &'static str = "cupwright/mend/1";
}

/// One change.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct ChangeDocument {
    /// One word for it, for programs.
    pub kind: String,
    /// What was done.
    pub message: String,
    /// Where; `None` where it is not at one place.
    pub at_mm: Option<[f64; 3]>,
    /// Whether that place lies in the socket's region.
    pub in_socket_region: bool,
}

/// Something that was left as it is.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct LeftDocument {
    /// One word for it, for programs.
    pub kind: String,
    /// What it is, and why it was left.
    pub message: String,
    /// Where; `None` where it is not at one place.
    pub at_mm: Option<[f64; 3]>,
}

/// How a surface lies against what it was.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct MovedDocument {
    /// Where what was there moved farthest; `None` where there is nothing.
    pub moved: Option<FarDocument>,
    /// Where what is new lies farthest from what was there; `None` where nothing is new.
    pub new_reach: Option<FarDocument>,
    /// Area of what is new, in mm².
    pub new_mm2: f64,
    /// Area of what is gone, in mm².
    pub gone_mm2: f64,
    /// Area of what faces the other way now, in mm².
    pub turned_mm2: f64,
}

/// A distance and where it is.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct FarDocument {
    /// How far.
    pub distance_mm: f64,
    /// Where.
    pub at_mm: [f64; 3],
}

/// The socket's region: a ball about its centre.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct RegionDocument {
    /// Its centre.
    pub centre_mm: [f64; 3],
    /// Its radius.
    pub radius_mm: f64,
    /// Whether the surface in it is as it was, to the rounding of a file.
    pub unchanged: bool,
    /// How far the surface in it moved.
    pub surface: MovedDocument,
}

/// A socket.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct SocketDocument {
    /// `right` or `left`; `None` where the bone does not tell.
    pub side: Option<String>,
    /// Centre of the sphere that fits it.
    pub centre_mm: [f64; 3],
    /// Diameter of that sphere.
    pub diameter_mm: f64,
}

/// The mesh before mending.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct BeforeDocument {
    /// Surface area, in mm².
    pub area_mm2: f64,
    /// Volume by the formula for closed meshes, in mm³, negative where it faces inward; of a mesh with holes
    /// it says little.
    pub signed_volume_mm3: f64,
}

/// The mesh after mending.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct AfterDocument {
    /// How many triangles.
    pub triangles: usize,
    /// Whether it encloses bone.
    pub closed: bool,
    /// Surface area, in mm².
    pub area_mm2: f64,
    /// Volume enclosed, in mm³; `None` where it encloses none.
    pub volume_mm3: Option<f64>,
}
