//! `cupwright inspect`: whether a mesh can be worked on, and what is in it.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use cupwright_anatomy::{NoSocket, Socket, find_socket};
use cupwright_geometry::{Defect, Solid, TriMesh, intersections, solid, topology};
use cupwright_procedure::bone;
use serde_json::{Value, json};

use crate::Outcome;

/// Whether a mesh can be worked on: closed, oriented, in one piece, in mm; and the socket in it.
#[derive(Args, Debug)]
#[command(after_help = "Example:\n  cupwright inspect hip.stl --json")]
pub(crate) struct InspectArguments {
    /// The mesh (STL, OBJ or PLY)
    file: PathBuf,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

/// What was found in a mesh.
struct Inspection {
    mesh: TriMesh,
    defects: Vec<(&'static str, String)>,
    closed: bool,
    oriented: bool,
    shells: usize,
    genus: Option<usize>,
    unit: Option<&'static str>,
    socket: Result<Socket, NoSocket>,
    notes: Vec<String>,
}

pub(crate) fn run(
    arguments: &InspectArguments,
    out: &mut impl Write,
    err: &mut impl Write,
) -> anyhow::Result<Outcome> {
    let loaded = cupwright_io::read_mesh(&arguments.file)?;
    let mut found = Inspection::of(loaded.mesh);
    found
        .notes
        .extend(loaded.remarks.iter().map(ToString::to_string));
    if let Some(welding) = loaded.welding {
        let (corners, vertices) = (welding.corners, welding.vertices);
        found
            .notes
            .push(format!("{corners} corners became {vertices} vertices"));
    }
    if arguments.json {
        for note in &found.notes {
            writeln!(err, "cupwright: note: {note}")?;
        }
        serde_json::to_writer_pretty(&mut *out, &found.document())?;
        writeln!(out)?;
    } else {
        found.print(out)?;
    }
    Ok(Outcome::Done)
}

impl Inspection {
    fn of(mesh: TriMesh) -> Self {
        let mut defects: Vec<_> = solid::defects(&mesh)
            .iter()
            .map(|d| (kind(d), d.to_string()))
            .collect();
        let has = |kind: &str| defects.iter().any(|(k, _)| *k == kind);
        let (closed, oriented) = (!has("open"), !has("flipped") && !has("inside-out"));
        let crossing = intersections::crossing_pairs(&mesh);
        if let Some([a, b]) = crossing.first() {
            let message = format!(
                "the surface passes through itself at {} pair(s) of triangles, the first {a} and {b}; bone enclosed twice counts twice",
                crossing.len()
            );
            defects.push(("self-intersection", message));
        }
        let extent = mesh.bounds().map_or(0.0, |b| b.extent().amax());
        let unit = bone::likely_unit(extent).map(|(unit, _)| unit);
        if let Some((unit, factor)) = bone::likely_unit(extent) {
            defects.push(("unit", format!("{extent:.3} across: a hemipelvis of this size would be in {unit}; scale by {factor}")));
        }
        let outer = Solid::try_from(mesh.clone()).map_or(0, |solid| solid.outer_shells().count());
        if outer > 1 {
            defects.push((
                "several-bones",
                format!("{outer} separate bones; keep the one to work on in a file of its own"),
            ));
        }
        Self {
            defects,
            closed,
            oriented,
            shells: topology::shells(mesh.triangles()).count,
            genus: if closed {
                topology::genus(mesh.triangles())
            } else {
                None
            },
            unit,
            socket: find_socket(&mesh),
            notes: Vec::new(),
            mesh,
        }
    }

    fn document(&self) -> Value {
        let socket = self.socket.as_ref().ok().map(|socket| {
            json!({
                "side": socket.side.map(|side| side.to_string()),
                "centre_mm": socket.centre.coords.as_slice(),
                "diameter_mm": 2.0 * socket.radius,
                "axis": socket.axis.as_slice(),
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
            "socket": socket,
        })
    }

    fn print(&self, out: &mut impl Write) -> anyhow::Result<()> {
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
        if self.defects.is_empty() {
            writeln!(out, "ready      nothing stands in the way of working on it")?;
        }
        Ok(())
    }
}

fn kind(defect: &Defect) -> &'static str {
    match defect {
        Defect::Open { .. } => "open",
        Defect::Flipped { .. } => "flipped",
        Defect::InsideOut { .. } => "inside-out",
        Defect::Flat => "flat",
    }
}
