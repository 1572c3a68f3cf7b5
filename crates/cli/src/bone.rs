//! A mesh file or label volume as a command is given it, in whatever unit.

use std::path::Path;

use clap::ValueEnum;
use cupwright_geometry::{Solid, TriMesh};
use cupwright_io::{Loaded, ReadMeshError, read_label, read_mesh};
use cupwright_procedure::bone::{self, Unusable};

use crate::console::Console;

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
    pub(crate) fn flag_of(name: &str) -> &'static str {
        let known = Self::value_variants().iter().map(|unit| unit.known());
        let found = known.into_iter().find(|(_, known, _)| *known == name);
        found.map_or("mm", |(flag, ..)| flag)
    }
}

/// The mesh in the file at `path`, or around a label of the volume there, in mm; says so where it had to
/// be scaled.
pub(crate) fn read(
    path: &Path,
    label: Option<i32>,
    unit: Option<Unit>,
    console: &mut Console,
) -> Result<Loaded, ReadMeshError> {
    let mut loaded = console.working("reading the bone", || match label {
        None => read_mesh(path),
        Some(label) => read_label(path, label),
    })?;
    if let Some((_, name, factor)) = unit.filter(|unit| *unit != Unit::Mm).map(Unit::known) {
        loaded.mesh = loaded.mesh.scaled(factor);
        console.note(format_args!(
            "{}: taken as {name} and scaled by {factor} to mm",
            path.display()
        ));
    }
    Ok(loaded)
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

/// What `inspect` says of a mesh that seems to be in another unit.
pub(crate) fn unit_remark(extent: f64, unit: &str, factor: f64) -> String {
    let flag = Unit::flag_of(unit);
    format!(
        "{extent:.3} across: a hemipelvis of this size would be in {unit}; scale it by {factor}, or give --unit {flag}"
    )
}
