//! The numbers of an inspection, as a document tells them.

use cupwright_anatomy::Socket;
use cupwright_geometry::mend::{Hole, Piece};
use cupwright_io::LabelCount;
use schemars::JsonSchema;
use serde::Serialize;

use super::{Inspection, Role};
use crate::reading::Axes;

/// What a mesh file holds. Lengths in mm; places and directions in the mesh's own coordinates.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct InspectionFinding {
    /// How many triangles.
    pub triangles: usize,
    /// How many vertices.
    pub vertices: usize,
    /// Whether the surface has no hole.
    pub closed: bool,
    /// Whether all of it faces outward.
    pub oriented: bool,
    /// How many pieces do not hang together.
    pub shells: usize,
    /// How many handles it has: a hemipelvis has 1, the obturator foramen; `None` where it is not closed.
    pub genus: Option<usize>,
    /// Volume enclosed, in mm³; `None` where it is not closed.
    pub volume_mm3: Option<f64>,
    /// Surface area, in mm².
    pub area_mm2: f64,
    /// The unit that the file seems to be in, from its size.
    pub likely_unit: String,
    /// What keeps it from being worked on; `no-socket` among them where none was found.
    pub defects: Vec<DefectFinding>,
    /// What is worth knowing.
    pub notes: Vec<String>,
    /// The socket; `None` where none was found.
    pub socket: Option<NativeSocketFinding>,
    /// What the file holds, in one sentence.
    pub summary: String,
    /// Which way the axes seem to point: `ras`, x to the right and y to the front, or `lps`, x to the left
    /// and y to the back; `None` where the bone does not tell.
    pub likely_axes: Option<&'static str>,
    /// The socket of the other side, in a whole pelvis.
    pub other_socket: Option<NativeSocketFinding>,
    /// The pieces, the largest surface first.
    pub pieces: Vec<PieceFinding>,
    /// The holes, the widest first.
    pub holes: Vec<HoleFinding>,
    /// Triangles that are there twice.
    pub copies: usize,
    /// Edges along which more than two sheets of surface meet.
    pub odd_edges: usize,
    /// Places where parts of the surface touch at one point.
    pub pinches: usize,
    /// Triangles a thousand times as long as high.
    pub slivers: usize,
    /// Pairs of triangles that pass through each other.
    pub crossings: usize,
}

/// Something wrong.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct DefectFinding {
    /// One word for it, for programs.
    pub kind: String,
    /// What it is, where, and what to do.
    pub message: String,
}

/// The native socket as found in a mesh.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct NativeSocketFinding {
    /// `right` or `left`; `None` where the bone does not tell.
    pub side: Option<String>,
    /// Centre of the sphere that fits it.
    pub centre_mm: [f64; 3],
    /// Diameter of that sphere.
    pub diameter_mm: f64,
    /// The direction that it opens to, of length 1.
    pub axis: [f64; 3],
    /// How far its surface lies from the sphere, root mean square.
    pub rms_mm: f64,
    /// Share of the half sphere that has surface.
    pub coverage: f64,
}

/// A piece of the mesh.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct PieceFinding {
    /// Its number, from 1.
    pub number: usize,
    /// What it is: `socket` (holds the socket), `in-socket` (a femur), `cavity`, `bone` or `bit`.
    pub role: &'static str,
    /// How many triangles.
    pub triangles: usize,
    /// Whether it has no hole.
    pub closed: bool,
    /// Surface area, in mm².
    pub area_mm2: f64,
    /// Volume enclosed, in mm³, negative for a cavity; `None` where it is not closed.
    pub volume_mm3: Option<f64>,
    /// How long it is along each axis.
    pub extent_mm: [f64; 3],
}

/// A hole in the surface.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct HoleFinding {
    /// How wide it is.
    pub across_mm: f64,
    /// How many edges bound it.
    pub edges: usize,
    /// The middle of its border.
    pub centre_mm: [f64; 3],
}

/// The labels of a volume that holds several, of which none was chosen.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct LabelsFinding {
    /// Each label.
    pub labels: Vec<LabelFinding>,
}

/// A label of a volume.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct LabelFinding {
    /// Its number.
    pub label: i32,
    /// How many voxels bear it.
    pub voxels: u64,
}

impl From<&[LabelCount]> for LabelsFinding {
    fn from(counts: &[LabelCount]) -> Self {
        let labels = counts.iter().map(|count| LabelFinding {
            label: count.label,
            voxels: count.voxels,
        });
        Self {
            labels: labels.collect(),
        }
    }
}

impl From<&Inspection> for InspectionFinding {
    fn from(of: &Inspection) -> Self {
        let (mesh, survey) = (&of.mesh, &of.survey);
        let closed = survey.is_closed();
        Self {
            triangles: mesh.triangles().len(),
            vertices: mesh.vertices().len(),
            closed,
            oriented: survey.is_oriented(),
            shells: survey.pieces.len(),
            genus: survey.genus.filter(|_| closed),
            volume_mm3: closed.then(|| mesh.volume()),
            area_mm2: mesh.area(),
            likely_unit: of.unit.unwrap_or_default().to_string(),
            defects: defects(of),
            notes: of.notes.clone(),
            socket: of.socket.as_ref().ok().map(Into::into),
            summary: of.subject(),
            likely_axes: of.axes.map(|axes| match axes {
                Axes::RightAnteriorSuperior => "ras",
                Axes::LeftPosteriorSuperior => "lps",
            }),
            other_socket: of.other.as_ref().map(Into::into),
            pieces: of.pieces().map(Into::into).collect(),
            holes: survey.holes.iter().map(Into::into).collect(),
            copies: survey.copies,
            odd_edges: survey.odd_edges,
            pinches: survey.pinches,
            slivers: survey.slivers,
            crossings: survey.crossings.len(),
        }
    }
}

fn defects(of: &Inspection) -> Vec<DefectFinding> {
    let no_socket = of.socket.as_ref().err();
    let no_socket = no_socket.map(|why| ("no-socket", why.to_string()));
    let all = of.defects.iter().cloned().chain(no_socket);
    all.map(|(kind, message)| DefectFinding {
        kind: kind.into(),
        message,
    })
    .collect()
}

impl From<&Socket> for NativeSocketFinding {
    fn from(socket: &Socket) -> Self {
        Self {
            side: socket.side.map(|side| side.to_string()),
            centre_mm: plain(socket.centre.into()),
            diameter_mm: 2.0 * socket.radius,
            axis: plain(socket.axis.into_inner().into()),
            rms_mm: socket.rms,
            coverage: socket.coverage,
        }
    }
}

impl From<(usize, &Piece, Role)> for PieceFinding {
    fn from((number, piece, role): (usize, &Piece, Role)) -> Self {
        Self {
            number,
            role: role.name(),
            triangles: piece.triangles.len(),
            closed: piece.closed,
            area_mm2: piece.area,
            volume_mm3: piece.closed.then_some(piece.volume),
            extent_mm: plain(piece.bounds.extent().into()),
        }
    }
}

impl From<&Hole> for HoleFinding {
    fn from(hole: &Hole) -> Self {
        Self {
            across_mm: hole.across,
            edges: hole.border.len(),
            centre_mm: plain(hole.middle.into()),
        }
    }
}

/// Coordinates of which none is written as -0.0.
fn plain(coordinates: [f64; 3]) -> [f64; 3] {
    coordinates.map(|c| c + 0.0)
}
