//! What a mesh file holds: which bone, closed or not, its pieces and holes, unit and axes, the socket.
//!
//! Nothing is changed. An [`Inspection`] is what was found, an [`InspectionFinding`] the numbers of it.

mod finding;
mod roles;
pub mod words;

use cupwright_anatomy::{NoSocket, Socket, find_socket};
use cupwright_geometry::mend::{Piece, Survey};
use cupwright_geometry::{Defect, TriMesh};

use crate::reading::{Axes, Reading};
use crate::unit::Unit;
use roles::found_alone;
use words::Harm;

pub use finding::{
    DefectFinding, HoleFinding, InspectionFinding, LabelFinding, LabelsFinding,
    NativeSocketFinding, PieceFinding,
};
pub use roles::{BIT, Role, roles};

/// What was found in a mesh.
#[derive(Clone, Debug)]
pub struct Inspection {
    /// The mesh.
    pub mesh: TriMesh,
    /// What its triangles tell of pieces, holes and flaws.
    pub survey: Survey,
    /// What keeps it from being worked on: the kind, and the sentence that tells it.
    pub defects: Vec<Told>,
    /// The unit that it seems to be in, where none was said and it is not mm.
    pub unit: Option<Unit>,
    /// Which way its axes seem to point.
    pub axes: Option<Axes>,
    /// The axes that were told; what is said of directions holds for them.
    pub told_axes: Option<Axes>,
    /// What each piece is, in the order of the survey.
    pub roles: Vec<Role>,
    /// The socket, or why there is none.
    pub socket: Result<Socket, NoSocket>,
    /// The socket of the other side, in a whole pelvis.
    pub other: Option<Socket>,
    /// What is worth knowing.
    pub notes: Vec<String>,
}

impl Inspection {
    /// What is in `mesh`, which was read as `reading` says; `notes` were made on the way.
    pub fn of(mesh: TriMesh, reading: &Reading, mut notes: Vec<String>) -> Self {
        let (survey, socket) = surveyed(&mesh);
        let socket = found_alone(&mesh, &survey.pieces, socket);
        let found = socket.as_ref().ok();
        let other = found.and_then(|first| words::other_socket(&mesh, first));
        let mut defects: Vec<_> = survey
            .defects
            .iter()
            .map(|d| (kind(d), d.to_string()))
            .collect();
        defects.extend(crossing(&survey));
        let extent = mesh.bounds().map_or(0.0, |b| b.extent().amax());
        let unit = other_unit(extent, reading);
        defects.extend(unit.map(|unit| ("unit", unit_remark(extent, unit))));
        defects.extend(several_bones(&survey));
        for (kind, told, harm) in words::flaws(&survey) {
            match harm {
                Harm::Done => defects.push((kind, told)),
                Harm::None => notes.push(told),
            }
        }
        let axes = found.and_then(words::likely_axes);
        if axes == Some(Axes::LeftPosteriorSuperior) {
            notes.push(
                "the axes look like LPS (x to the patient's left, y to the back): give --axes lps where they matter"
                    .into(),
            );
        }
        let roles = roles(&mesh, &survey.pieces, found, other.as_ref());
        Self {
            defects,
            unit,
            axes,
            told_axes: reading.axes,
            roles,
            socket,
            other,
            notes,
            survey,
            mesh,
        }
    }

    /// The first sentence.
    pub fn subject(&self) -> String {
        if let Some(unit) = self.unit {
            let extent = self.mesh.bounds().map_or(0.0, |b| b.extent().amax());
            return words::subject_in(unit, extent, &self.survey);
        }
        let socket = self.socket.as_ref().ok();
        words::subject(
            &self.mesh,
            &self.survey,
            &self.roles,
            socket,
            self.other.as_ref(),
        )
    }

    /// The pieces with their numbers, from 1, and what each is.
    pub fn pieces(&self) -> impl Iterator<Item = (usize, &Piece, Role)> {
        let pieces = self.survey.pieces.iter().zip(&self.roles);
        (1..)
            .zip(pieces)
            .map(|(number, (piece, role))| (number, piece, *role))
    }
}

/// The survey of a mesh and the socket in it, looked for side by side.
fn surveyed(mesh: &TriMesh) -> (Survey, Result<Socket, NoSocket>) {
    std::thread::scope(|scope| {
        let socket = scope.spawn(|| find_socket(mesh));
        let survey = Survey::of(mesh);
        let socket = socket.join();
        let socket = socket.unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        (survey, socket)
    })
}

/// What is said of a mesh that seems to be in another unit.
pub fn unit_remark(extent: f64, unit: Unit) -> String {
    let (short, factor) = (unit.short(), unit.millimetres());
    format!(
        "{extent:.3} across: a hemipelvis of this size would be in {unit}; scale it by {factor}, or give --unit {short}"
    )
}

/// The unit that a mesh seems to be in where none was said and it is not mm.
pub fn other_unit(extent: f64, reading: &Reading) -> Option<Unit> {
    let likely = Unit::likely(extent);
    (reading.unit.is_none() && likely != Unit::Millimetres).then_some(likely)
}

/// A defect's kind and what it is.
pub type Told = (&'static str, String);

fn crossing(survey: &Survey) -> Option<Told> {
    let pairs = &survey.crossings;
    let [a, b] = pairs.first()?;
    let message = format!(
        "the surface passes through itself at {} pair(s) of triangles, the first {a} and {b}; bone enclosed twice counts twice",
        pairs.len()
    );
    Some(("self-intersection", message))
}

fn several_bones(survey: &Survey) -> Option<Told> {
    if !survey.defects.is_empty() {
        return None;
    }
    let outer = survey.pieces.iter().filter(|p| p.volume > 0.0).count();
    let message = format!(
        "{outer} separate bones; choose one with --piece, or keep the one to work on in a file of its own"
    );
    (outer > 1).then_some(("several-bones", message))
}

fn kind(defect: &Defect) -> &'static str {
    match defect {
        Defect::Open { .. } => "open",
        Defect::Flipped { .. } => "flipped",
        Defect::InsideOut { .. } => "inside-out",
        Defect::Flat => "flat",
    }
}
