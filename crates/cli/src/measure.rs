//! `cupwright measure`: the bare measures in the mesh's own coordinates, for scripts.

use std::io::{self, Write};
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use cupwright_geometry::{Bullet, Circle, Hemisphere, Solid, rim, union, within};
use cupwright_procedure::removal::{Removal, removals};
use nalgebra::Vector3;
use serde_json::{Value, json};

use crate::Exit;
use crate::bone::{self, ReadingArguments};
use crate::console::{Console, warn_of_tools};
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

/// How a cup lies in the bone.
struct Cup {
    diameter: f64,
    coverage: f64,
    coverage_after: f64,
    rim_contact: f64,
    arcs_deg: Vec<[f64; 2]>,
}

/// Everything that was measured.
struct Measures {
    bone: Solid,
    /// Diameter of each reamer, and what it takes.
    reaming: Vec<(f64, Removal)>,
    cup: Option<Cup>,
}

pub(crate) fn run(arguments: &MeasureArguments, console: &mut Console) -> anyhow::Result<Exit> {
    anyhow::ensure!(
        !arguments.reamers.is_empty() || arguments.cup.is_some(),
        "nothing to measure: give --reamer or --cup"
    );
    let (reamers, cup) = (arguments.reamers()?, arguments.cup()?);
    let bone = arguments.solid(&reamers, console)?;
    let measures = console.working("reaming", || Measures::of(bone, &reamers, cup.as_ref()))?;
    let so_far = measures.reaming.iter().map(|(d, r)| (*d, r.cumulative));
    warn_of_tools(
        console,
        &so_far.collect::<Vec<_>>(),
        measures.cup.as_ref().map(|cup| cup.diameter),
    );
    if arguments.json {
        console.print_document(&measures.document())?;
    } else {
        measures.print(console.out)?;
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
        let head = Hemisphere::new(centre.0, axis.0, diameter.0 / 2.0).context("--reamer")?;
        match self.column {
            None => Ok(Bullet::open(head)),
            Some(length) => Bullet::with_column(head, length.0).context("--column"),
        }
    }

    fn cup(&self) -> anyhow::Result<Option<Hemisphere>> {
        let Some(diameter) = self.cup else {
            return Ok(None);
        };
        let centre = self.cup_centre.unwrap_or(self.centre).0;
        let axis = self.cup_axis.unwrap_or(self.axis).0;
        Ok(Some(
            Hemisphere::new(centre, axis, diameter.0 / 2.0).context("--cup")?,
        ))
    }

    fn solid(&self, reamers: &[Bullet], console: &mut Console) -> anyhow::Result<Solid> {
        let reading = self.reading.reading();
        let loaded = bone::read(&self.bone, &reading, console);
        let loaded = loaded.map_err(bone::with_label_flag)?;
        for remark in &loaded.remarks {
            console.note(format_args!("{}: {remark}", self.bone.display()));
        }
        let largest = reamers
            .iter()
            .map(|b| 2.0 * b.head().radius())
            .fold(self.cup.map_or(0.0, |d| d.0), f64::max);
        let solid = bone::solid(loaded.mesh, &reading, largest);
        solid.with_context(|| self.bone.display().to_string())
    }
}

impl Measures {
    fn of(bone: Solid, reamers: &[Bullet], cup: Option<&Hemisphere>) -> anyhow::Result<Self> {
        let diameters = reamers.iter().map(|b| 2.0 * b.head().radius());
        Ok(Self {
            reaming: diameters.zip(removals(&bone, reamers)?).collect(),
            cup: cup
                .map(|cup| Cup::in_bone(&bone, cup, reamers))
                .transpose()?,
            bone,
        })
    }

    fn document(&self) -> Value {
        let reaming = self.reaming.iter().map(|(diameter, removal)| {
            json!({
                "diameter_mm": size(*diameter),
                "removed_mm3": plain(removal.volume),
                "cumulative_removed_mm3": plain(removal.cumulative),
                "error_bound_mm3": plain(removal.error_bound),
            })
        });
        let cup = self.cup.as_ref().map(|cup| {
            json!({
                "diameter_mm": size(cup.diameter),
                "coverage": plain(cup.coverage),
                "coverage_after_reaming": plain(cup.coverage_after),
                "rim_contact": plain(cup.rim_contact),
                "rim_arcs_deg": cup.arcs_deg,
            })
        });
        json!({
            "bone": {
                "triangles": self.bone.mesh().triangles().len(),
                "closed": true,
                "volume_mm3": self.bone.volume(),
                "area_mm2": self.bone.mesh().area(),
            },
            "reaming": reaming.collect::<Vec<_>>(),
            "cup": cup,
        })
    }

    fn print(&self, out: &mut dyn Write) -> io::Result<()> {
        let mesh = self.bone.mesh();
        writeln!(
            out,
            "bone     {} triangles, closed, {:.1} mm³, {:.1} mm²",
            mesh.triangles().len(),
            self.bone.volume(),
            mesh.area()
        )?;
        for (diameter, removal) in &self.reaming {
            let Removal {
                volume,
                cumulative,
                error_bound,
            } = removal;
            let bound = if *error_bound > 0.0 {
                format!(" (± {error_bound:.3})")
            } else {
                String::new()
            };
            writeln!(
                out,
                "reamer   {diameter} mm: {volume:.3} mm³ removed{bound}, {cumulative:.3} mm³ so far"
            )?;
        }
        self.cup.as_ref().map_or(Ok(()), |cup| cup.print(out))
    }
}

impl Cup {
    fn in_bone(bone: &Solid, cup: &Hemisphere, reamers: &[Bullet]) -> anyhow::Result<Self> {
        let arcs = rim::arcs_inside(bone, &rim_of(cup)?);
        let degrees = arcs.intervals().iter().map(|arc| arc.map(f64::to_degrees));
        Ok(Self {
            diameter: 2.0 * cup.radius(),
            coverage: within::coverage(bone, cup),
            coverage_after: union::area_outside(bone, cup, reamers).value / cup.area(),
            rim_contact: arcs.share(),
            arcs_deg: degrees.collect(),
        })
    }

    fn print(&self, out: &mut dyn Write) -> io::Result<()> {
        writeln!(
            out,
            "cup      {} mm: coverage {:.2} %, after reaming {:.2} %",
            self.diameter,
            100.0 * self.coverage,
            100.0 * self.coverage_after
        )?;
        let arcs = self.arcs_deg.iter().map(|[start, end]| match end - start {
            whole if whole >= 360.0 => "all round".to_owned(),
            _ => format!("{start:.1}° to {:.1}°", end % 360.0),
        });
        let arcs = if self.arcs_deg.is_empty() {
            String::new()
        } else {
            format!(": {}", arcs.collect::<Vec<_>>().join(", "))
        };
        writeln!(
            out,
            "rim      {:.2} % in bone{arcs}",
            100.0 * self.rim_contact
        )
    }
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

/// A size as it was typed: a whole number without a point.
fn size(mm: f64) -> Value {
    let typed = mm.to_string().parse::<serde_json::Number>();
    typed.map_or_else(|_| json!(mm), Value::Number)
}

/// A number that is never written as -0.0.
fn plain(number: f64) -> f64 {
    number + 0.0
}
