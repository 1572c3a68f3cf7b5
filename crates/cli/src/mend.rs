//! `cupwright mend`: a broken mesh made whole in a new file, and every change told.

mod comparison;

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use cupwright_geometry::TriMesh;
use cupwright_geometry::mend::{Mended, Mending, pieces};
use cupwright_io::{Format, write_mesh};
use cupwright_procedure::bone::within_reach;
use cupwright_procedure::inspection::{BIT, other_unit, unit_remark};
use cupwright_procedure::piece::Choice;
use cupwright_procedure::reading::Reading;
use cupwright_report::json::write_document;

use crate::Exit;
use crate::bone::{self, ReadingArguments};
use crate::console::Console;
use crate::tool::{Length, Place};
use comparison::Comparison;

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
    /// The mesh (STL, OBJ or PLY), or a label volume (NIfTI or NRRD)
    file: PathBuf,
    /// Where to write the mended mesh: .stl, .obj or .ply; in mm, its axes RAS where --axes is given
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    #[command(flatten)]
    reading: ReadingArguments,
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

/// Shortest edge that may be asked for, in mm: half a voxel of a fine scan. Less makes meshes of many
/// millions of triangles.
const SHORTEST: f64 = 0.25;

pub(crate) fn run(arguments: &MendArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let format = Format::for_path(&arguments.out)?;
    let file = || arguments.file.display().to_string();
    let reading = arguments.reading.reading();
    let loaded = bone::read(&arguments.file, &reading, console);
    let loaded = loaded.map_err(bone::with_label_flag)?;
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
    check_unit(&loaded.mesh, &reading).with_context(file)?;
    let before = loaded.mesh;
    let mended = console
        .working("mending", || arguments.mended(&before, reading.piece))
        .with_context(file)?;
    let centre = arguments.centre.map(|centre| centre.0);
    let result = console.working("comparing", || Comparison::of(centre, &before, mended));
    write_mesh(&arguments.out, &result.mended.mesh, format)?;
    if arguments.json {
        write_document(&mut console.out, &result.document(&arguments.out))?;
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
    match other_unit(extent, reading) {
        Some(unit) => {
            let told = unit_remark(extent, unit);
            Err(anyhow::anyhow!(
                "{told} (--unit mm takes the file as it is)"
            ))
        }
        None => Ok(()),
    }
}

impl MendArguments {
    fn mended(&self, before: &TriMesh, piece: Option<Choice>) -> anyhow::Result<Mended> {
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
        if let Some(choice) = piece {
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
    let kept = choice.among(&mesh, &pieces);
    mending.keep(&kept.map_err(bone::without_piece)?);
    Ok(())
}
