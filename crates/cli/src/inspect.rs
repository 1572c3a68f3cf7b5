//! `cupwright inspect`: whether a mesh can be worked on, and what is in it.

use std::io::{self, Write};
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use cupwright_anatomy::{NoSocket, Socket, find_socket};
use cupwright_geometry::{Defect, Solid, TriMesh, intersections, solid, topology};
use cupwright_io::LabelCount;
use cupwright_procedure::bone::{likely_unit, within_reach};
use serde_json::{Value, json};

use crate::Exit;
use crate::bone::{self, Unit};
use crate::console::Console;

/// Whether a mesh can be worked on: closed, oriented, in one piece, in mm; and the socket in it.
#[derive(Args, Debug)]
#[command(
    after_help = "Examples:\n  cupwright inspect hip.stl --json\n  cupwright inspect pelvis.nii.gz --label 2"
)]
pub(crate) struct InspectArguments {
    /// The mesh (STL, OBJ or PLY), or a label volume (NIfTI or NRRD)
    file: PathBuf,
    /// Which label of a label volume; where it holds several and none is given, they are listed
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    label: Option<i32>,
    /// Unit of the file, where it is not mm; what is told is in mm all the same
    #[arg(long, value_enum)]
    unit: Option<Unit>,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

/// What was found in a mesh.
struct Inspection {
    mesh: TriMesh,
    defects: Vec<Told>,
    closed: bool,
    oriented: bool,
    shells: usize,
    genus: Option<usize>,
    unit: Option<&'static str>,
    socket: Result<Socket, NoSocket>,
    notes: Vec<String>,
}

pub(crate) fn run(arguments: &InspectArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let loaded = match bone::read(&arguments.file, arguments.label, arguments.unit, console) {
        Ok(loaded) => loaded,
        Err(problem) => {
            return match problem.labels() {
                Some(labels) => list(labels, arguments, console),
                None => Err(problem.into()),
            };
        }
    };
    within_reach(&loaded.mesh).with_context(|| arguments.file.display().to_string())?;
    let mut notes: Vec<_> = loaded.remarks.iter().map(ToString::to_string).collect();
    if let Some(welding) = loaded.welding {
        let (corners, vertices) = (welding.corners, welding.vertices);
        notes.push(format!("{corners} corners became {vertices} vertices"));
    }
    let found = console.working("looking at the mesh", || {
        Inspection::of(loaded.mesh, arguments.unit, notes)
    });
    if arguments.json {
        console.print_document(&found.document())?;
    } else {
        found.print(console.out)?;
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
    fn of(mesh: TriMesh, told_unit: Option<Unit>, notes: Vec<String>) -> Self {
        let mut defects: Vec<_> = solid::defects(&mesh)
            .iter()
            .map(|d| (kind(d), d.to_string()))
            .collect();
        let has = |kind: &str| defects.iter().any(|(k, _)| *k == kind);
        let (closed, oriented) = (!has("open"), !has("flipped") && !has("inside-out"));
        defects.extend(crossing(&mesh));
        let extent = mesh.bounds().map_or(0.0, |b| b.extent().amax());
        let likely = likely_unit(extent).filter(|_| told_unit.is_none());
        if let Some((unit, factor)) = likely {
            defects.push(("unit", bone::unit_remark(extent, unit, factor)));
        }
        defects.extend(several_bones(&mesh));
        Self {
            defects,
            closed,
            oriented,
            shells: topology::shells(mesh.triangles()).count,
            genus: closed.then(|| topology::genus(mesh.triangles())).flatten(),
            unit: likely.map(|(unit, _)| unit),
            socket: find_socket(&mesh),
            notes,
            mesh,
        }
    }

    fn document(&self) -> Value {
        let socket = self.socket.as_ref().ok().map(|socket| {
            json!({
                "side": socket.side.map(|side| side.to_string()),
                "centre_mm": plain(socket.centre.into()),
                "diameter_mm": 2.0 * socket.radius,
                "axis": plain(socket.axis.into_inner().into()),
                "rms_mm": socket.rms,
                "coverage": socket.coverage,
            })
        });
        let defects = self
            .defects
            .iter()
            .map(|(kind, message)| json!({ "kind": kind, "message": message }));
        let no_socket = self
            .socket
            .as_ref()
            .err()
            .map(|why| json!({ "kind": "no-socket", "message": why.to_string() }));
        json!({
            "triangles": self.mesh.triangles().len(),
            "vertices": self.mesh.vertices().len(),
            "closed": self.closed,
            "oriented": self.oriented,
            "shells": self.shells,
            "genus": self.genus,
            "volume_mm3": self.closed.then(|| self.mesh.volume()),
            "area_mm2": self.mesh.area(),
            "likely_unit": self.unit.unwrap_or("millimetres"),
            "defects": defects.chain(no_socket).collect::<Vec<_>>(),
            "notes": self.notes,
            "socket": socket,
        })
    }

    fn print(&self, out: &mut dyn Write) -> io::Result<()> {
        let yes = |is: bool| if is { "yes" } else { "NO" };
        writeln!(
            out,
            "triangles  {}, vertices {}",
            self.mesh.triangles().len(),
            self.mesh.vertices().len()
        )?;
        writeln!(out, "closed     {}", yes(self.closed))?;
        writeln!(out, "oriented   {}", yes(self.oriented))?;
        writeln!(out, "shells     {}", self.shells)?;
        if let Some(genus) = self.genus {
            writeln!(
                out,
                "handles    {genus} (a hemipelvis has 1: the obturator foramen)"
            )?;
        }
        if self.closed {
            writeln!(out, "volume     {:.1} mm³", self.mesh.volume())?;
        }
        writeln!(out, "area       {:.1} mm²", self.mesh.area())?;
        match &self.socket {
            Ok(socket) => {
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
            }
            Err(why) => writeln!(out, "socket     none found: {why}")?,
        }
        for (_, defect) in &self.defects {
            writeln!(out, "defect     {defect}")?;
        }
        for note in &self.notes {
            writeln!(out, "note       {note}")?;
        }
        match (self.defects.is_empty(), &self.socket) {
            (false, _) => Ok(()),
            (true, Ok(_)) => writeln!(out, "ready      nothing stands in the way of working on it"),
            (true, Err(_)) => writeln!(out, "ready      but a case has to say where the socket is"),
        }
    }
}

/// Coordinates of which none is written as -0.0.
fn plain(coordinates: [f64; 3]) -> [f64; 3] {
    coordinates.map(|c| c + 0.0)
}

/// A defect's kind and what it is.
type Told = (&'static str, String);

fn crossing(mesh: &TriMesh) -> Option<Told> {
    let pairs = intersections::crossing_pairs(mesh);
    let [a, b] = pairs.first()?;
    let message = format!(
        "the surface passes through itself at {} pair(s) of triangles, the first {a} and {b}; bone enclosed twice counts twice",
        pairs.len()
    );
    Some(("self-intersection", message))
}

fn several_bones(mesh: &TriMesh) -> Option<Told> {
    let solid = Solid::try_from(mesh.clone()).ok()?;
    let outer = solid.outer_shells().count();
    let message = format!("{outer} separate bones; keep the one to work on in a file of its own");
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
