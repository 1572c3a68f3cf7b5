//! `cupwright measure`: the bare measures in the mesh's own coordinates, for scripts.

use std::io::Write;
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use cupwright_geometry::{Bullet, Circle, Hemisphere, Solid, rim, union, within};
use cupwright_procedure::bone;
use nalgebra::{Point3, Vector3};
use serde_json::{Value, json};

use crate::Outcome;
use crate::tool::{Axis, Diameter, ReamerArgument, Triple};

/// The bare measures of reamers and a cup in a mesh's own coordinates, for scripts.
#[derive(Args, Debug)]
#[command(after_help = "\
Example:
  cupwright measure --bone hip.stl --centre -31.7,-70.5,-71.1 --axis 0.316,-0.533,-0.785 \\
      --reamer 43,45,47 --reamer 49@-31,-70,-71/0.3,-0.5,-0.8 --cup 50 --json

Rim angles count from the mesh's z axis projected on the rim (from y where the cup's axis is z),
right-handed about the cup's axis.")]
pub(crate) struct MeasureArguments {
    /// The bone: a closed mesh in mm (STL, OBJ or PLY)
    #[arg(long, value_name = "FILE")]
    bone: PathBuf,
    /// Common centre of reamers and cup
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true)]
    centre: Triple,
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
    cup_centre: Option<Triple>,
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
    column: Option<f64>,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

/// What one reamer takes.
struct Step {
    diameter: f64,
    removed: f64,
    cumulative: f64,
    error_bound: f64,
}

/// How a cup lies in the bone.
struct Cup {
    diameter: f64,
    coverage: f64,
    coverage_after: f64,
    rim_contact: f64,
    arcs: Vec<[f64; 2]>,
}

pub(crate) fn run(
    arguments: &MeasureArguments,
    out: &mut impl Write,
    err: &mut impl Write,
) -> anyhow::Result<Outcome> {
    anyhow::ensure!(
        !arguments.reamers.is_empty() || arguments.cup.is_some(),
        "nothing to measure: give --reamer or --cup"
    );
    let tools = arguments.tools()?;
    let bone = arguments.solid(&tools, err)?;
    let steps = steps(&bone, &tools)?;
    let cup = arguments
        .cup()?
        .map(|cup| measured(&bone, &cup, &tools))
        .transpose()?;
    warn(&steps, cup.as_ref(), err)?;
    if arguments.json {
        serde_json::to_writer_pretty(&mut *out, &document(&bone, &steps, cup.as_ref()))?;
        writeln!(out)?;
    } else {
        print(&bone, &steps, cup.as_ref(), out)?;
    }
    Ok(Outcome::Done)
}

impl MeasureArguments {
    fn tools(&self) -> anyhow::Result<Vec<Bullet>> {
        let (centre, axis) = (self.centre.point(), self.axis.0.vector());
        let mut bullets = Vec::new();
        for argument in &self.reamers {
            match argument {
                ReamerArgument::Common(diameters) => {
                    for diameter in diameters {
                        bullets.push(self.bullet(*diameter, centre, axis)?);
                    }
                }
                ReamerArgument::Own(diameter, centre, axis) => {
                    bullets.push(self.bullet(*diameter, centre.point(), axis.0.vector())?);
                }
            }
        }
        Ok(bullets)
    }

    fn bullet(
        &self,
        diameter: Diameter,
        centre: Point3<f64>,
        axis: Vector3<f64>,
    ) -> anyhow::Result<Bullet> {
        let head = Hemisphere::new(centre, axis, diameter.0 / 2.0).context("--reamer")?;
        match self.column {
            None => Ok(Bullet::open(head)),
            Some(length) => Bullet::with_column(head, length).context("--column"),
        }
    }

    fn cup(&self) -> anyhow::Result<Option<Hemisphere>> {
        let Some(diameter) = self.cup else {
            return Ok(None);
        };
        let centre = self.cup_centre.unwrap_or(self.centre).point();
        let axis = self.cup_axis.unwrap_or(self.axis).0.vector();
        Ok(Some(
            Hemisphere::new(centre, axis, diameter.0 / 2.0).context("--cup")?,
        ))
    }

    fn solid(&self, tools: &[Bullet], err: &mut impl Write) -> anyhow::Result<Solid> {
        let loaded = cupwright_io::read_mesh(&self.bone)?;
        for remark in &loaded.remarks {
            writeln!(err, "cupwright: note: {}: {remark}", self.bone.display())?;
        }
        let largest = tools
            .iter()
            .map(|b| 2.0 * b.head().radius())
            .fold(0.0, f64::max);
        let largest = largest.max(self.cup.map_or(0.0, |d| d.0));
        bone::accept(loaded.mesh, largest).with_context(|| self.bone.display().to_string())
    }
}

fn steps(bone: &Solid, tools: &[Bullet]) -> anyhow::Result<Vec<Step>> {
    let (mut before, mut bound_before) = (0.0, 0.0);
    let mut steps = Vec::with_capacity(tools.len());
    for (k, tool) in tools.iter().enumerate() {
        let so_far = union::volume_in_union(bone, &tools[..=k])
            .with_context(|| format!("reamer {}", k + 1))?;
        // Rounding must not let a reamer give bone back.
        let cumulative = so_far.value.max(before);
        steps.push(Step {
            diameter: 2.0 * tool.head().radius(),
            removed: cumulative - before,
            cumulative,
            error_bound: so_far.error_bound + bound_before,
        });
        (before, bound_before) = (cumulative, so_far.error_bound);
    }
    Ok(steps)
}

fn measured(bone: &Solid, cup: &Hemisphere, tools: &[Bullet]) -> anyhow::Result<Cup> {
    let arcs = rim::arcs_inside(bone, &rim_of(cup)?);
    Ok(Cup {
        diameter: 2.0 * cup.radius(),
        coverage: within::coverage(bone, cup),
        coverage_after: union::area_outside(bone, cup, tools).value / cup.area(),
        rim_contact: arcs.share(),
        arcs: arcs
            .intervals()
            .iter()
            .map(|arc| arc.map(f64::to_degrees))
            .collect(),
    })
}

/// The rim with its angles counted from the z axis, or from y where the cup's axis is z.
fn rim_of(cup: &Hemisphere) -> anyhow::Result<Circle> {
    const ALONG_Z: f64 = 1e-6;
    let axis = cup.axis().into_inner();
    let up = if axis.xy().norm() > ALONG_Z {
        Vector3::z()
    } else {
        Vector3::y()
    };
    let start = up - up.dot(&axis) * axis;
    cup.rim()
        .counted_from(start, axis.cross(&start))
        .context("--cup-axis")
}

fn warn(steps: &[Step], cup: Option<&Cup>, err: &mut impl Write) -> anyhow::Result<()> {
    for (k, step) in steps.iter().enumerate() {
        if step.cumulative <= 0.0 {
            writeln!(
                err,
                "cupwright: warning: reamer {} ({} mm) touches no bone",
                k + 1,
                step.diameter
            )?;
        }
    }
    if let Some((last, cup)) = steps.last().zip(cup)
        && cup.diameter < last.diameter
    {
        let (cup, last) = (cup.diameter, last.diameter);
        writeln!(
            err,
            "cupwright: warning: the cup ({cup} mm) is smaller than the last reamer ({last} mm)"
        )?;
    }
    Ok(())
}

fn document(bone: &Solid, steps: &[Step], cup: Option<&Cup>) -> Value {
    let reaming = steps.iter().map(|step| {
        json!({
            "diameter_mm": step.diameter,
            "removed_mm3": step.removed,
            "cumulative_removed_mm3": step.cumulative,
            "error_bound_mm3": step.error_bound,
        })
    });
    let cup = cup.map(|cup| {
        json!({
            "diameter_mm": cup.diameter,
            "coverage": cup.coverage,
            "coverage_after_reaming": cup.coverage_after,
            "rim_contact": cup.rim_contact,
            "rim_arcs_deg": cup.arcs,
        })
    });
    json!({
        "bone": {
            "triangles": bone.mesh().triangles().len(),
            "closed": true,
            "volume_mm3": bone.volume(),
            "area_mm2": bone.mesh().area(),
        },
        "reaming": reaming.collect::<Vec<_>>(),
        "cup": cup,
    })
}

fn print(
    bone: &Solid,
    steps: &[Step],
    cup: Option<&Cup>,
    out: &mut impl Write,
) -> anyhow::Result<()> {
    let triangles = bone.mesh().triangles().len();
    writeln!(
        out,
        "bone     {triangles} triangles, closed, {:.1} mm³, {:.1} mm²",
        bone.volume(),
        bone.mesh().area()
    )?;
    for step in steps {
        let Step {
            diameter,
            removed,
            cumulative,
            error_bound,
        } = step;
        write!(
            out,
            "reamer   {diameter} mm: {removed:.3} mm³ removed, {cumulative:.3} mm³ so far"
        )?;
        writeln!(
            out,
            "{}",
            if *error_bound > 0.0 {
                format!(" (± {error_bound:.3})")
            } else {
                String::new()
            }
        )?;
    }
    let Some(cup) = cup else { return Ok(()) };
    let arcs = cup
        .arcs
        .iter()
        .map(|[start, end]| format!("{start:.1}° to {end:.1}°"));
    writeln!(
        out,
        "cup      {} mm: coverage {:.2} %, after reaming {:.2} %",
        cup.diameter,
        100.0 * cup.coverage,
        100.0 * cup.coverage_after
    )?;
    writeln!(
        out,
        "rim      {:.2} % in bone: {}",
        100.0 * cup.rim_contact,
        arcs.collect::<Vec<_>>().join(", ")
    )?;
    Ok(())
}
