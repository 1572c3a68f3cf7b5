//! `cupwright mend`: a broken mesh made whole in a new file, and every change told.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use cupwright_anatomy::{Socket, find_socket};
use cupwright_geometry::mend::{Changed, Difference, Far, Mended, Mending, pieces};
use cupwright_geometry::{Ball, Solid, TriMesh};
use cupwright_io::{Format, write_mesh};
use cupwright_procedure::bone::{likely_unit, within_reach};
use serde_json::{Value, json};

use crate::Exit;
use crate::bone::{self, Reading};
use crate::console::Console;
use crate::piece::{BIT, Choice};
use crate::tool::{Length, Place};
use crate::words::{self, AROUND, coordinates};

/// Mend a mesh into a new file: close holes, leave out loose bits, make it face outward; every change is
/// told, with how far the surface moved and whether the socket region was touched.
#[derive(Args, Debug)]
#[command(after_help = "\
Example:
  cupwright mend scan.stl --out hip.stl
  cupwright mend pelvis.ply --unit m --axes lps --piece left --close-holes 40 --out hip.stl

The socket region is all within 10 mm of the socket's sphere, as found on the mended mesh, or within
40 mm of --centre.")]
pub(crate) struct MendArguments {
    /// The mesh (STL, OBJ or PLY)
    file: PathBuf,
    /// Where to write the mended mesh: .stl, .obj or .ply; in mm, its axes RAS where --axes is given
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    #[command(flatten)]
    reading: Reading,
    /// Close holes up to this many mm across, and cut out and close places up to as wide where the surface
    /// passes through itself; 0 for none
    #[arg(long, value_name = "MM", default_value = "20")]
    close_holes: Width,
    /// Leave out loose bits smaller than this many mm; 0 for none
    #[arg(long, value_name = "MM", default_value_t = Width(BIT))]
    bits: Width,
    /// Join corners on open edges that lie within this many mm of each other
    #[arg(long, value_name = "MM", default_value = "0.02")]
    join: Width,
    /// Cut the surface anew into triangles with edges of about this many mm
    #[arg(long, value_name = "MM")]
    remesh: Option<Length>,
    /// Centre of the socket, where it is not to be looked for
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true)]
    centre: Option<Place>,
    /// Allow the new file to take the place of the one that is mended
    #[arg(long)]
    replace: bool,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

/// A width in mm, from 0 to 1000.
#[derive(Clone, Copy, Debug)]
struct Width(f64);

impl std::str::FromStr for Width {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        match typed.parse() {
            Ok(mm) if (0.0..=1000.0).contains(&mm) => Ok(Self(mm)),
            _ => Err("give a width from 0 to 1000 mm".into()),
        }
    }
}

impl std::fmt::Display for Width {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// Distances shorter than this, in mm, are rounding of the file and not told as movement.
const UNMOVED: f64 = 1e-6;

/// Reach of the socket region about a centre that was given, in mm.
const ABOUT_CENTRE: f64 = 40.0;

/// Shortest edge that may be asked for, in mm: half a voxel of a fine scan. Less makes meshes of many
/// millions of triangles.
const SHORTEST: f64 = 0.25;

pub(crate) fn run(arguments: &MendArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let format = Format::for_path(&arguments.out)?;
    let file = || arguments.file.display().to_string();
    let reading = &arguments.reading;
    let loaded = bone::read(&arguments.file, reading, console)?;
    if !arguments.replace && same_file(&arguments.file, &arguments.out) {
        anyhow::bail!(
            "{}: this is the file to be mended; name another, or give --replace",
            arguments.out.display()
        );
    }
    for remark in &loaded.remarks {
        console.note(format_args!("{}: {remark}", file()));
    }
    within_reach(&loaded.mesh).with_context(file)?;
    check_unit(&loaded.mesh, reading).with_context(file)?;
    let before = loaded.mesh;
    let mended = console
        .working("mending", || arguments.mended(&before))
        .with_context(file)?;
    let result = console.working("comparing", || Comparison::of(arguments, &before, mended));
    write_mesh(&arguments.out, &result.mended.mesh, format)?;
    if arguments.json {
        console.print_document(&result.document(arguments))?;
    } else {
        result.print(console.out)?;
    }
    console.say(format_args!(
        "wrote {} ({} triangles)",
        arguments.out.display(),
        result.mended.mesh.triangles().len()
    ));
    for problem in result.obstacles() {
        console.warn(format_args!("{}: {problem}", arguments.out.display()));
    }
    Ok(Exit::Done)
}

/// Whether both paths name one file that exists.
fn same_file(one: &Path, other: &Path) -> bool {
    match (fs::canonicalize(one), fs::canonicalize(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// Widths are in mm: a mesh that seems not to be must say its unit.
fn check_unit(mesh: &TriMesh, reading: &Reading) -> anyhow::Result<()> {
    let extent = mesh.bounds().map_or(0.0, |b| b.extent().amax());
    match likely_unit(extent).filter(|_| reading.unit.is_none()) {
        Some((unit, factor)) => {
            let told = bone::unit_remark(extent, unit, factor);
            Err(anyhow::anyhow!(
                "{told} (--unit mm takes the file as it is)"
            ))
        }
        None => Ok(()),
    }
}

impl MendArguments {
    fn mended(&self, before: &TriMesh) -> anyhow::Result<Mended> {
        let edge = self.remesh.map(|edge| edge.0);
        if let Some(edge) = edge.filter(|edge| *edge < SHORTEST) {
            anyhow::bail!("--remesh {edge}: give an edge of at least {SHORTEST} mm");
        }
        let mut mending = Mending::of(before);
        mending.join(self.join.0);
        mending.drop_surplus();
        mending.agree();
        mending.drop_crumbs(self.bits.0);
        mending.face_out();
        if let Some(choice) = self.reading.piece {
            keep(&mut mending, choice)?;
        }
        mending.untangle(self.close_holes.0);
        mending.close_holes(self.close_holes.0);
        mending.drop_slivers();
        mending.face_out();
        if let Some(edge) = edge {
            mending.remesh(edge);
        }
        Ok(mending.finish()?)
    }
}

fn keep(mending: &mut Mending, choice: Choice) -> anyhow::Result<()> {
    let Some(mesh) = mending.mesh() else {
        return Ok(());
    };
    let pieces = pieces(&mesh);
    mending.keep(&choice.among(&mesh, &pieces)?);
    Ok(())
}

/// The mended mesh beside what it was.
struct Comparison {
    mended: Mended,
    before: [f64; 2],
    whole: Changed,
    socket: Option<Socket>,
    region: Option<(Ball, Changed)>,
    /// Why the new mesh can still not be worked on.
    refusal: Option<String>,
}

impl Comparison {
    fn of(arguments: &MendArguments, before: &TriMesh, mended: Mended) -> Self {
        let difference: Difference = mended.difference(before);
        let socket = find_socket(&mended.mesh).ok();
        let ball = match (arguments.centre, &socket) {
            (Some(centre), _) => Ball::new(centre.0, ABOUT_CENTRE).ok(),
            (None, Some(socket)) => Ball::new(socket.centre, socket.radius + AROUND).ok(),
            (None, None) => None,
        };
        let accepted = cupwright_procedure::bone::accept_as_it_is(mended.mesh.clone());
        Self {
            before: [before.area(), before.volume()],
            whole: difference.whole(),
            region: ball.map(|ball| (ball, difference.within(&ball))),
            socket,
            refusal: accepted.err().map(|problem| problem.to_string()),
            mended,
        }
    }

    /// What still stands in the way of working on the new mesh.
    fn obstacles(&self) -> Vec<String> {
        let left = self.mended.left.iter().filter(|left| !left.is_harmless());
        let left = left.map(|left| match left.place() {
            Some(at) => format!("{left}, at {}", coordinates(&at)),
            None => left.to_string(),
        });
        left.chain(self.refusal.clone()).collect()
    }

    /// Whether a place lies in the socket region.
    fn in_region(&self, at: Option<nalgebra::Point3<f64>>) -> bool {
        let held = |(ball, _): &(Ball, Changed)| {
            at.is_some_and(|at| (at - ball.centre()).norm() <= ball.radius())
        };
        self.region.as_ref().is_some_and(held)
    }

    fn print(&self, out: &mut dyn Write) -> io::Result<()> {
        const LISTED: usize = 20;
        let changes = &self.mended.changes;
        if changes.is_empty() {
            writeln!(out, "changed    nothing: there was nothing to mend")?;
        }
        for change in changes.iter().take(LISTED) {
            let at = change
                .place()
                .map(|at| format!(", at {}", coordinates(&at)));
            let here = if self.in_region(change.place()) {
                " (IN THE SOCKET REGION)"
            } else {
                ""
            };
            writeln!(out, "changed    {change}{}{here}", at.unwrap_or_default())?;
        }
        if changes.len() > LISTED {
            let more = changes.len() - LISTED;
            writeln!(out, "           and {more} more; --json lists all")?;
        }
        writeln!(out, "surface    {}", told(&self.whole))?;
        self.print_region(out)?;
        for left in &self.mended.left {
            let at = left.place().map(|at| format!(", at {}", coordinates(&at)));
            writeln!(out, "left       {left}{}", at.unwrap_or_default())?;
        }
        let solid = Solid::try_from(self.mended.mesh.clone()).ok();
        match solid {
            Some(solid) => writeln!(
                out,
                "now        closed, {:.1} mm³, {:.1} mm² (before {:.1} mm²)",
                solid.volume(),
                solid.area(),
                self.before[0]
            )?,
            None => writeln!(out, "now        still not closed")?,
        }
        if self.obstacles().is_empty() {
            writeln!(out, "ready      nothing stands in the way of working on it")?;
        }
        Ok(())
    }

    fn print_region(&self, out: &mut dyn Write) -> io::Result<()> {
        let Some((ball, changed)) = &self.region else {
            return writeln!(
                out,
                "socket     none found, so nothing can be said of its region; give --centre"
            );
        };
        let place = format!(
            "within {:.0} mm of {}",
            ball.radius(),
            coordinates(&ball.centre())
        );
        if is_untouched(changed) {
            writeln!(out, "socket     its region is unchanged ({place})")
        } else {
            writeln!(
                out,
                "socket     ITS REGION WAS CHANGED ({place}): {}",
                told(changed)
            )
        }
    }

    fn document(&self, arguments: &MendArguments) -> Value {
        let changes = self.mended.changes.iter().map(|change| {
            json!({
                "kind": change.kind(),
                "message": change.to_string(),
                "at_mm": change.place().map(point),
                "in_socket_region": self.in_region(change.place()),
            })
        });
        let left = self.mended.left.iter().map(|left| {
            json!({
                "kind": left.kind(),
                "message": left.to_string(),
                "at_mm": left.place().map(point),
            })
        });
        let solid = Solid::try_from(self.mended.mesh.clone()).ok();
        json!({
            "out": arguments.out.display().to_string(),
            "changes": changes.collect::<Vec<_>>(),
            "surface": document_of(&self.whole),
            "socket_region": self.region.as_ref().map(|(ball, changed)| json!({
                "centre_mm": point(ball.centre()),
                "radius_mm": ball.radius(),
                "unchanged": is_untouched(changed),
                "surface": document_of(changed),
            })),
            "socket": self.socket.map(|socket| json!({
                "side": socket.side.map(|side| side.to_string()),
                "centre_mm": point(socket.centre),
                "diameter_mm": 2.0 * socket.radius,
            })),
            "left": left.collect::<Vec<_>>(),
            "before": { "area_mm2": self.before[0], "signed_volume_mm3": self.before[1] },
            "after": {
                "triangles": self.mended.mesh.triangles().len(),
                "closed": solid.is_some(),
                "area_mm2": self.mended.mesh.area(),
                "volume_mm3": solid.map(|solid| solid.volume()),
            },
            "ready": self.obstacles().is_empty(),
        })
    }
}

/// Whether a region is as it was, to the rounding of a file.
fn is_untouched(changed: &Changed) -> bool {
    let still = |far: Option<Far>| far.is_none_or(|far| far.distance <= UNMOVED);
    still(changed.moved) && still(changed.reach) && changed.turned <= 0.0
}

/// How far a surface moved, in words.
fn told(changed: &Changed) -> String {
    let moved = match changed.moved.filter(|far| far.distance > UNMOVED) {
        Some(far) => format!(
            "moved by at most {:.4} mm, at {}",
            far.distance,
            coordinates(&far.at)
        ),
        None => "none of what was there has moved".into(),
    };
    let mut told = vec![moved];
    if let Some(far) = changed.reach.filter(|far| far.distance > UNMOVED) {
        told.push(format!(
            "{:.1} mm² are new, up to {:.4} mm from what was there, at {}",
            changed.new,
            far.distance,
            coordinates(&far.at)
        ));
    }
    if changed.turned > 0.0 {
        told.push(format!(
            "{:.1} mm² turned to face the other way",
            changed.turned
        ));
    }
    told.join("; ")
}

fn document_of(changed: &Changed) -> Value {
    let far = |far: Option<Far>| {
        far.map(|far| json!({ "distance_mm": far.distance, "at_mm": point(far.at) }))
    };
    json!({
        "moved": far(changed.moved),
        "new_reach": far(changed.reach),
        "new_mm2": changed.new,
        "gone_mm2": changed.gone,
        "turned_mm2": changed.turned,
    })
}

fn point(at: nalgebra::Point3<f64>) -> [f64; 3] {
    [at.x + 0.0, at.y + 0.0, at.z + 0.0]
}
