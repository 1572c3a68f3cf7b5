//! `cupwright inspect`: whether a mesh can be worked on, and what is in it.

use std::io::{self, Write};
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use cupwright_io::LabelCount;
use cupwright_procedure::bone::within_reach;
use cupwright_procedure::inspection::{Inspection, InspectionFinding, LabelsFinding, Role, words};
use cupwright_procedure::unit::Unit;
use cupwright_report::json::write_document;

use crate::Exit;
use crate::bone::{self, ReadingArguments};
use crate::console::Console;

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
        write_document(&mut console.out, &InspectionFinding::from(&found))?;
    } else {
        Page(&found).print(console.out, &arguments.reading.typed(&arguments.file))?;
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
        write_document(&mut console.out, &LabelsFinding::from(labels))?;
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

/// An inspection as it is told on screen.
struct Page<'a>(&'a Inspection);

impl Page<'_> {
    fn print(&self, out: &mut dyn Write, file: &str) -> io::Result<()> {
        writeln!(out, "this is    {}", self.0.subject())?;
        self.print_state(out)?;
        self.print_socket(out)?;
        self.print_pieces(out)?;
        self.print_holes(out)?;
        for (_, defect) in &self.0.defects {
            writeln!(out, "defect     {defect}")?;
        }
        for note in &self.0.notes {
            writeln!(out, "note       {note}")?;
        }
        match (self.0.defects.is_empty(), &self.0.socket) {
            (false, _) => self.print_advice(out, file),
            (true, Ok(_)) => writeln!(out, "ready      nothing stands in the way of working on it"),
            (true, Err(_)) => writeln!(out, "ready      but a case has to say where the socket is"),
        }
    }

    fn print_state(&self, out: &mut dyn Write) -> io::Result<()> {
        let yes = |is: bool| if is { "yes" } else { "NO" };
        let (mesh, survey) = (&self.0.mesh, &self.0.survey);
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
        let socket = match &self.0.socket {
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
        self.0.other.as_ref().map_or(Ok(()), |other| {
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
        if self.0.survey.pieces.len() < 2 {
            return Ok(());
        }
        let socket = self.0.socket.as_ref().ok();
        for (number, piece, role) in self.0.pieces().take(LISTED) {
            let told = words::of_piece(piece, role, socket);
            writeln!(out, "piece {number:<4} {told}")?;
        }
        more(out, self.0.survey.pieces.len(), "smaller pieces")
    }

    fn print_holes(&self, out: &mut dyn Write) -> io::Result<()> {
        let socket = self.0.socket.as_ref().ok();
        for hole in self.0.survey.holes.iter().take(LISTED) {
            let at = words::place(&hole.middle, socket, self.0.told_axes);
            writeln!(out, "hole       {:.1} mm across, {at}", hole.across)?;
        }
        more(out, self.0.survey.holes.len(), "smaller holes")
    }

    /// What to do about the defects.
    fn print_advice(&self, out: &mut dyn Write, file: &str) -> io::Result<()> {
        let unit = self.0.unit.map(Unit::short);
        let unit = unit
            .map(|unit| format!(" --unit {unit}"))
            .unwrap_or_default();
        let bones = self.0.roles.iter();
        let several = bones.filter(|r| !matches!(r, Role::Cavity | Role::Bit));
        let several = several.count() > 1;
        let holder = self.0.roles.iter().position(|r| *r == Role::Socket);
        let piece = holder.filter(|_| several);
        let piece = piece.map(|number| format!(" --piece {}", number + 1));
        let piece = piece.unwrap_or_default();
        writeln!(
            out,
            "to do      cupwright mend {file}{unit}{piece} --out NEW-FILE, which tells each change and how far the surface moved"
        )
    }
}

fn more(out: &mut dyn Write, count: usize, what: &str) -> io::Result<()> {
    if count <= LISTED {
        return Ok(());
    }
    writeln!(out, "           and {} {what}", count - LISTED)
}
