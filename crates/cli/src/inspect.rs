//! `cupwright inspect`: whether a mesh can be worked on, and what is in it.

use std::io::{self, Write};
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use cupwright_anatomy::{NoSocket, Socket, find_socket};
use cupwright_geometry::mend::{Hole, Piece, Survey};
use cupwright_geometry::{Defect, TriMesh};
use cupwright_io::LabelCount;
use cupwright_procedure::bone::within_reach;
use cupwright_procedure::reading::{Axes, Reading};
use cupwright_procedure::unit::Unit;
use serde_json::{Value, json};

use crate::Exit;
use crate::bone::{self, ReadingArguments};
use crate::console::Console;
use crate::piece::{Role, found_alone, roles};
use crate::words::{self, Harm};

/// What a mesh file holds: which bone, closed or not, its pieces and holes, unit and axes, the socket.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  cupwright inspect hip.stl --json
  cupwright inspect pelvis.ply --unit m --axes lps --piece left
  cupwright inspect pelvis.nii.gz --label 2

Nothing is changed. What is wrong is put right by cupwright mend, into a new file. Of a label volume that
holds several, the labels are listed where none is given.")]
pub(crate) struct InspectArguments {
    /// The mesh (STL, OBJ or PLY), or a label volume (NIfTI or NRRD)
    file: PathBuf,
    #[command(flatten)]
    reading: ReadingArguments,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

/// What was found in a mesh.
struct Inspection {
    mesh: TriMesh,
    survey: Survey,
    defects: Vec<Told>,
    unit: Option<Unit>,
    axes: Option<Axes>,
    /// The axes that were told; what is said of directions holds for them.
    told_axes: Option<Axes>,
    roles: Vec<Role>,
    socket: Result<Socket, NoSocket>,
    other: Option<Socket>,
    notes: Vec<String>,
}

/// Pieces, holes and the like listed one by one on screen, at most.
const LISTED: usize = 8;

pub(crate) fn run(arguments: &InspectArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let reading = arguments.reading.reading();
    let file = || arguments.file.display().to_string();
    let loaded = match bone::read(&arguments.file, &reading, console) {
        Ok(loaded) => loaded,
        Err(problem) => {
            return match problem.labels() {
                Some(labels) => list(labels, arguments, console),
                None => Err(problem.into()),
            };
        }
    };
    within_reach(&loaded.mesh).with_context(file)?;
    let mut notes: Vec<_> = loaded.remarks.iter().map(ToString::to_string).collect();
    if let Some(welding) = loaded.welding {
        let (corners, vertices) = (welding.corners, welding.vertices);
        notes.push(format!("{corners} corners became {vertices} vertices"));
    }
    let mesh = reading
        .chosen(loaded.mesh)
        .map_err(bone::without_piece)
        .with_context(file)?;
    let found = console.working("looking at the mesh", || {
        Inspection::of(mesh, &reading, notes)
    });
    if arguments.json {
        console.print_document(&found.document())?;
    } else {
        found.print(console.out, &arguments.file.display().to_string())?;
    }
    Ok(Exit::Done)
}

/// The labels of a volume, to choose from.
fn list(
    labels: &[LabelCount],
    arguments: &InspectArguments,
    console: &mut Console,
) -> anyhow::Result<Exit> {
    if arguments.json {
        let each = labels
            .iter()
            .map(|count| json!({ "label": count.label, "voxels": count.voxels }));
        console.print_document(&json!({ "labels": each.collect::<Vec<_>>() }))?;
        return Ok(Exit::Done);
    }
    for LabelCount { label, voxels } in labels {
        writeln!(console.out, "label {label:>6}  {voxels:>10} voxels")?;
    }
    let count = labels.len();
    writeln!(
        console.out,
        "{count} labels: choose one with --label to look at it"
    )?;
    Ok(Exit::Done)
}

impl Inspection {
    fn of(mesh: TriMesh, reading: &Reading, mut notes: Vec<String>) -> Self {
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
        let unit = bone::other_unit(extent, reading);
        defects.extend(unit.map(|unit| ("unit", bone::unit_remark(extent, unit))));
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
    fn subject(&self) -> String {
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

    fn document(&self) -> Value {
        let socket = self.socket.as_ref().ok().map(document_of);
        let defects = self
            .defects
            .iter()
            .map(|(kind, message)| json!({ "kind": kind, "message": message }));
        let no_socket = self
            .socket
            .as_ref()
            .err()
            .map(|why| json!({ "kind": "no-socket", "message": why.to_string() }));
        let survey = &self.survey;
        let closed = survey.is_closed();
        json!({
            "triangles": self.mesh.triangles().len(),
            "vertices": self.mesh.vertices().len(),
            "closed": closed,
            "oriented": survey.is_oriented(),
            "shells": survey.pieces.len(),
            "genus": survey.genus.filter(|_| closed),
            "volume_mm3": closed.then(|| self.mesh.volume()),
            "area_mm2": self.mesh.area(),
            "likely_unit": self.unit.unwrap_or_default().to_string(),
            "defects": defects.chain(no_socket).collect::<Vec<_>>(),
            "notes": self.notes,
            "socket": socket,
            "summary": self.subject(),
            "likely_axes": self.axes.map(|axes| match axes {
                Axes::RightAnteriorSuperior => "ras",
                Axes::LeftPosteriorSuperior => "lps",
            }),
            "other_socket": self.other.as_ref().map(document_of),
            "pieces": self.pieces().map(document_of_piece).collect::<Vec<_>>(),
            "holes": survey.holes.iter().map(document_of_hole).collect::<Vec<_>>(),
            "copies": survey.copies,
            "odd_edges": survey.odd_edges,
            "pinches": survey.pinches,
            "slivers": survey.slivers,
            "crossings": survey.crossings.len(),
        })
    }

    fn pieces(&self) -> impl Iterator<Item = (usize, &Piece, Role)> {
        let pieces = self.survey.pieces.iter().zip(&self.roles);
        (1..)
            .zip(pieces)
            .map(|(number, (piece, role))| (number, piece, *role))
    }

    fn print(&self, out: &mut dyn Write, file: &str) -> io::Result<()> {
        writeln!(out, "this is    {}", self.subject())?;
        self.print_state(out)?;
        self.print_socket(out)?;
        self.print_pieces(out)?;
        self.print_holes(out)?;
        for (_, defect) in &self.defects {
            writeln!(out, "defect     {defect}")?;
        }
        for note in &self.notes {
            writeln!(out, "note       {note}")?;
        }
        match (self.defects.is_empty(), &self.socket) {
            (false, _) => self.print_advice(out, file),
            (true, Ok(_)) => writeln!(out, "ready      nothing stands in the way of working on it"),
            (true, Err(_)) => writeln!(out, "ready      but a case has to say where the socket is"),
        }
    }

    fn print_state(&self, out: &mut dyn Write) -> io::Result<()> {
        let yes = |is: bool| if is { "yes" } else { "NO" };
        let (mesh, survey) = (&self.mesh, &self.survey);
        let (triangles, vertices) = (mesh.triangles().len(), mesh.vertices().len());
        writeln!(out, "triangles  {triangles}, vertices {vertices}")?;
        writeln!(out, "closed     {}", yes(survey.is_closed()))?;
        writeln!(out, "oriented   {}", yes(survey.is_oriented()))?;
        writeln!(out, "shells     {}", survey.pieces.len())?;
        if let Some(genus) = survey.genus.filter(|_| survey.is_closed()) {
            writeln!(
                out,
                "handles    {genus} (a hemipelvis has 1: the obturator foramen)"
            )?;
        }
        if survey.is_closed() {
            writeln!(out, "volume     {:.1} mm³", mesh.volume())?;
        }
        writeln!(out, "area       {:.1} mm²", mesh.area())
    }

    fn print_socket(&self, out: &mut dyn Write) -> io::Result<()> {
        let socket = match &self.socket {
            Ok(socket) => socket,
            Err(why) => return writeln!(out, "socket     none found: {why}"),
        };
        let side = socket
            .side
            .map_or("side not clear".to_owned(), |side| format!("{side} hip"));
        let c = socket.centre;
        writeln!(
            out,
            "socket     {side}, diameter {:.1} mm, centre {:.1}, {:.1}, {:.1}",
            2.0 * socket.radius,
            c.x,
            c.y,
            c.z
        )?;
        let a = socket.axis;
        writeln!(
            out,
            "           opens to {:.3}, {:.3}, {:.3}; sphere fits within {:.2} mm (rms)",
            a.x, a.y, a.z, socket.rms
        )?;
        self.other.as_ref().map_or(Ok(()), |other| {
            writeln!(
                out,
                "           the other one: diameter {:.1} mm, centre {}",
                2.0 * other.radius,
                words::coordinates(&other.centre)
            )
        })
    }

    /// The pieces, where there are several.
    fn print_pieces(&self, out: &mut dyn Write) -> io::Result<()> {
        if self.survey.pieces.len() < 2 {
            return Ok(());
        }
        let socket = self.socket.as_ref().ok();
        for (number, piece, role) in self.pieces().take(LISTED) {
            let told = words::of_piece(piece, role, socket);
            writeln!(out, "piece {number:<4} {told}")?;
        }
        more(out, self.survey.pieces.len(), "smaller pieces")
    }

    fn print_holes(&self, out: &mut dyn Write) -> io::Result<()> {
        let socket = self.socket.as_ref().ok();
        for hole in self.survey.holes.iter().take(LISTED) {
            let at = words::place(&hole.middle, socket, self.told_axes);
            writeln!(out, "hole       {:.1} mm across, {at}", hole.across)?;
        }
        more(out, self.survey.holes.len(), "smaller holes")
    }

    /// What to do about the defects.
    fn print_advice(&self, out: &mut dyn Write, file: &str) -> io::Result<()> {
        let unit = self.unit.map(bone::flag_of);
        let unit = unit
            .map(|unit| format!(" --unit {unit}"))
            .unwrap_or_default();
        let bones = self.roles.iter();
        let several = bones.filter(|r| !matches!(r, Role::Cavity | Role::Bit));
        let several = several.count() > 1;
        let holder = self.roles.iter().position(|r| *r == Role::Socket);
        let piece = holder.filter(|_| several);
        let piece = piece.map(|number| format!(" --piece {}", number + 1));
        let piece = piece.unwrap_or_default();
        writeln!(
            out,
            "to do      cupwright mend {file}{unit}{piece} --out NEW-FILE, which tells each change and how far the surface moved"
        )
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

fn more(out: &mut dyn Write, count: usize, what: &str) -> io::Result<()> {
    if count <= LISTED {
        return Ok(());
    }
    writeln!(out, "           and {} {what}", count - LISTED)
}

fn document_of_piece((number, piece, role): (usize, &Piece, Role)) -> Value {
    json!({
        "number": number,
        "role": role.name(),
        "triangles": piece.triangles.len(),
        "closed": piece.closed,
        "area_mm2": piece.area,
        "volume_mm3": piece.closed.then_some(piece.volume),
        "extent_mm": plain(piece.bounds.extent().into()),
    })
}

fn document_of_hole(hole: &Hole) -> Value {
    json!({
        "across_mm": hole.across,
        "edges": hole.border.len(),
        "centre_mm": plain(hole.middle.into()),
    })
}

fn document_of(socket: &Socket) -> Value {
    json!({
        "side": socket.side.map(|side| side.to_string()),
        "centre_mm": plain(socket.centre.into()),
        "diameter_mm": 2.0 * socket.radius,
        "axis": plain(socket.axis.into_inner().into()),
        "rms_mm": socket.rms,
        "coverage": socket.coverage,
    })
}

/// Coordinates of which none is written as -0.0.
fn plain(coordinates: [f64; 3]) -> [f64; 3] {
    coordinates.map(|c| c + 0.0)
}

/// A defect's kind and what it is.
type Told = (&'static str, String);

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
