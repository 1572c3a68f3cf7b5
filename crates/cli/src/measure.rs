//! `cupwright measure`: the bare measures in the mesh's own coordinates, for scripts.

use std::io::{self, Write};
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use cupwright_geometry::{Bullet, Hemisphere, Solid};
use cupwright_procedure::measures::{CupMeasures, largest_tool, reamer, round_side};
use cupwright_procedure::{Measures, measures};
use cupwright_report::json::write_document;

use crate::Exit;
use crate::bone::{self, ReadingArguments};
use crate::console::Console;
use crate::tool::{Axis, Diameter, Length, Place, ReamerArgument};

/// The bare measures of reamers and a cup in a mesh's own coordinates, for scripts.
#[derive(Args, Debug)]
#[command(after_help = "\
Example:
  cupwright measure --bone hip.stl --centre -31.7,-70.5,-71.1 --axis 0.316,-0.533,-0.785 \\
      --reamer 43,45,47 --reamer 49@-31,-70,-71/0.3,-0.5,-0.8 --cup 50 --json

Rim angles count from the mesh's z axis projected on the rim (from y where the cup's axis is z),
right-handed about the cup's axis; an arc that passes 0 ends above 360.")]
pub(crate) struct MeasureArguments {
    /// The bone: a closed mesh (STL, OBJ or PLY), or a label volume (NIfTI or NRRD) in mm, x toward the
    /// patient's right, y anterior, z superior
    #[arg(long, value_name = "FILE")]
    bone: PathBuf,
    // Where no unit is given the file must be in mm, and a bone too small for the tools is refused.
    #[command(flatten)]
    reading: ReadingArguments,
    /// Common centre of reamers and cup
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true)]
    centre: Place,
    /// Common axis, pointing out of the socket; of any length
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true)]
    axis: Axis,
    /// Diameters of reamers in the order of use; or one with a centre and axis of its own
    #[arg(
        long = "reamer",
        value_name = "D[,D...]|D@X,Y,Z/AX,AY,AZ",
        allow_hyphen_values = true
    )]
    reamers: Vec<ReamerArgument>,
    /// Outer diameter of the cup
    #[arg(long, value_name = "D", allow_hyphen_values = true)]
    cup: Option<Diameter>,
    /// The cup's centre, where it is not the common one
    #[arg(
        long,
        value_name = "X,Y,Z",
        allow_hyphen_values = true,
        requires = "cup"
    )]
    cup_centre: Option<Place>,
    /// The cup's axis, where it is not the common one
    #[arg(
        long,
        value_name = "X,Y,Z",
        allow_hyphen_values = true,
        requires = "cup"
    )]
    cup_axis: Option<Axis>,
    /// Length in mm of the column above each reamer; open to the outside where absent
    #[arg(long, value_name = "L", allow_hyphen_values = true)]
    column: Option<Length>,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &MeasureArguments, console: &mut Console) -> anyhow::Result<Exit> {
    anyhow::ensure!(
        !arguments.reamers.is_empty() || arguments.cup.is_some(),
        "nothing to measure: give --reamer or --cup"
    );
    let (reamers, cup) = (arguments.reamers()?, arguments.cup()?);
    let bone = arguments.solid(&reamers, console)?;
    let measures = console.working("reaming", || measures(&bone, &reamers, cup.as_ref()))?;
    for warning in measures.warnings() {
        console.warn(warning);
    }
    if arguments.json {
        write_document(&mut console.out, &measures)?;
    } else {
        print(&measures, console.out)?;
    }
    Ok(Exit::Done)
}

impl MeasureArguments {
    fn reamers(&self) -> anyhow::Result<Vec<Bullet>> {
        let mut bullets = Vec::new();
        for argument in &self.reamers {
            match argument {
                ReamerArgument::Common(diameters) => {
                    for diameter in diameters {
                        bullets.push(self.bullet(*diameter, self.centre, self.axis)?);
                    }
                }
                ReamerArgument::Own(diameter, centre, axis) => {
                    bullets.push(self.bullet(*diameter, *centre, *axis)?);
                }
            }
        }
        Ok(bullets)
    }

    fn bullet(&self, diameter: Diameter, centre: Place, axis: Axis) -> anyhow::Result<Bullet> {
        let head = round_side(diameter.0, centre.0, axis.0).context("--reamer")?;
        let column = self.column.map(|length| length.0);
        reamer(head, column).context("--column")
    }

    fn cup(&self) -> anyhow::Result<Option<Hemisphere>> {
        let Some(diameter) = self.cup else {
            return Ok(None);
        };
        let centre = self.cup_centre.unwrap_or(self.centre).0;
        let axis = self.cup_axis.unwrap_or(self.axis).0;
        let cup = round_side(diameter.0, centre, axis).context("--cup")?;
        Ok(Some(cup))
    }

    fn solid(&self, reamers: &[Bullet], console: &mut Console) -> anyhow::Result<Solid> {
        let reading = self.reading.reading();
        let loaded = bone::read(&self.bone, &reading, console);
        let loaded = loaded.map_err(bone::with_label_flag)?;
        for remark in &loaded.remarks {
            console.note(format_args!("{}: {remark}", self.bone.display()));
        }
        let largest = largest_tool(reamers).max(self.cup.map_or(0.0, |d| d.0));
        let solid = bone::solid(loaded.mesh, &reading, largest);
        solid.with_context(|| self.bone.display().to_string())
    }
}

fn print(measures: &Measures, out: &mut dyn Write) -> io::Result<()> {
    let bone = &measures.bone;
    writeln!(
        out,
        "bone     {} triangles, closed, {:.1} mm³, {:.1} mm²",
        bone.triangles, bone.volume_mm3, bone.area_mm2
    )?;
    for step in &measures.reaming {
        let bound = if step.error_bound_mm3 > 0.0 {
            format!(" (± {:.3})", step.error_bound_mm3)
        } else {
            String::new()
        };
        writeln!(
            out,
            "reamer   {} mm: {:.3} mm³ removed{bound}, {:.3} mm³ so far",
            step.diameter_mm, step.removed_mm3, step.cumulative_removed_mm3
        )?;
    }
    measures
        .cup
        .as_ref()
        .map_or(Ok(()), |cup| print_cup(cup, out))
}

fn print_cup(cup: &CupMeasures, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "cup      {} mm: coverage {:.2} %, after reaming {:.2} %",
        cup.diameter_mm,
        100.0 * cup.coverage,
        100.0 * cup.coverage_after_reaming
    )?;
    let arcs = cup
        .rim_arcs_deg
        .iter()
        .map(|[start, end]| match end - start {
            whole if whole >= 360.0 => "all round".to_owned(),
            _ => format!("{start:.1}° to {:.1}°", end % 360.0),
        });
    let arcs = if cup.rim_arcs_deg.is_empty() {
        String::new()
    } else {
        format!(": {}", arcs.collect::<Vec<_>>().join(", "))
    };
    writeln!(
        out,
        "rim      {:.2} % in bone{arcs}",
        100.0 * cup.rim_contact
    )
}
