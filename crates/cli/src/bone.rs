//! A mesh file or label volume as a command is given it, in whatever unit.

use std::f64::consts::PI;
use std::path::Path;

use clap::{Args, ValueEnum};
use cupwright_geometry::{Solid, TriMesh, mend};
use cupwright_io::{Loaded, ReadMeshError, read_label, read_mesh};
use cupwright_procedure::bone::{self, Unusable};
use nalgebra::{Isometry3, Translation3, UnitQuaternion, Vector3};

use crate::console::Console;
use crate::piece::Choice;

/// The unit of a mesh file.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum Unit {
    Mm,
    Cm,
    M,
    In,
}

impl Unit {
    /// As the flag has it, by name, and in mm.
    fn known(self) -> (&'static str, &'static str, f64) {
        match self {
            Self::Mm => ("mm", "millimetres", 1.0),
            Self::Cm => ("cm", "centimetres", 10.0),
            Self::M => ("m", "metres", 1000.0),
            Self::In => ("in", "inches", 25.4),
        }
    }

    /// The flag for a unit that `bone::likely_unit` names.
    fn flag_of(name: &str) -> &'static str {
        let known = Self::value_variants().iter().map(|unit| unit.known());
        let found = known.into_iter().find(|(_, known, _)| *known == name);
        found.map_or("mm", |(flag, ..)| flag)
    }
}

/// Which way the axes of a mesh file point.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum Axes {
    /// x to the patient's right, y to the front, z to the head
    Ras,
    /// x to the patient's left, y to the back, z to the head
    Lps,
}

/// How a file is to be read.
#[derive(Args, Clone, Debug)]
pub(crate) struct Reading {
    /// Which label of a label volume; needed where it holds several
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    pub(crate) label: Option<i32>,
    /// Unit of the mesh file, where it is not mm; all else here is in mm
    #[arg(long, value_enum)]
    pub(crate) unit: Option<Unit>,
    /// Which way the file's axes point; with lps it is turned to ras: x to the right, y to the front
    #[arg(long, value_enum)]
    pub(crate) axes: Option<Axes>,
    /// The piece to work on, of a file that holds several: its number as inspect counts them, or
    /// largest, left or right (the one with that hip's socket)
    #[arg(long, value_name = "N|largest|left|right")]
    pub(crate) piece: Option<Choice>,
}

/// The mesh in the file at `path`, or around a label of the volume there, in mm, its axes RAS, all pieces; says so where it had to be scaled or
/// turned.
pub(crate) fn read(
    path: &Path,
    reading: &Reading,
    console: &mut Console,
) -> Result<Loaded, ReadMeshError> {
    let mut loaded = console.working("reading the bone", || match reading.label {
        None => read_mesh(path),
        Some(label) => read_label(path, label),
    })?;
    let unit = reading.unit.filter(|unit| *unit != Unit::Mm);
    if let Some((_, name, factor)) = unit.map(Unit::known) {
        loaded.mesh = loaded.mesh.scaled(factor);
        console.note(format_args!(
            "{}: taken as {name} and scaled by {factor} to mm",
            path.display()
        ));
    }
    if reading.axes == Some(Axes::Lps) {
        // Half a turn about z, so that what is inside stays inside.
        let half_turn = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), PI);
        let turned = loaded
            .mesh
            .moved(&Isometry3::from_parts(Translation3::identity(), half_turn));
        loaded.mesh = turned;
        console.note(format_args!(
            "{}: taken as LPS and turned to RAS: x to the patient's right, y to the front",
            path.display()
        ));
    }
    Ok(loaded)
}

/// The piece of `mesh` that was chosen, with what it encloses; all of it where none was.
pub(crate) fn chosen(mesh: TriMesh, reading: &Reading) -> anyhow::Result<TriMesh> {
    let Some(choice) = reading.piece else {
        return Ok(mesh);
    };
    let pieces = mend::pieces(&mesh);
    let kept = choice.among(&mesh, &pieces)?;
    Ok(mend::only(&mesh, kept).unwrap_or(mesh))
}

/// The mesh as one bone. Where the user has not said its unit, its size must suit the tools.
pub(crate) fn accept(
    mesh: TriMesh,
    unit: Option<Unit>,
    largest_tool: f64,
) -> anyhow::Result<Solid> {
    let accepted = match unit {
        Some(_) => bone::accept_as_it_is(mesh),
        None => bone::accept(mesh, largest_tool),
    };
    accepted.map_err(|problem| match problem {
        Unusable::Unit { unit, .. } => {
            let flag = Unit::flag_of(unit);
            anyhow::anyhow!("{problem}, or give --unit {flag} (--unit mm takes the file as it is)")
        }
        _ => problem.into(),
    })
}

/// The value of `--unit` for a unit that `likely_unit` names.
pub(crate) fn flag_of(unit: &str) -> &'static str {
    Unit::flag_of(unit)
}

/// What `inspect` says of a mesh that seems to be in another unit.
pub(crate) fn unit_remark(extent: f64, unit: &str, factor: f64) -> String {
    let flag = Unit::flag_of(unit);
    format!(
        "{extent:.3} across: a hemipelvis of this size would be in {unit}; scale it by {factor}, or give --unit {flag}"
    )
}
