//! `cupwright pelvis`: writes a synthetic pelvis and its landmarks.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueEnum};
use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::{self, PARAMETERS, Pelvis, Preset, Resolution, Shape};
use cupwright_io::{Draft, Format};
use cupwright_procedure::marks::{MarksAxes, NamedPoint, Sheet};
use nalgebra::Point3;

use crate::Exit;
use crate::console::Console;

/// Write a synthetic hemipelvis and its landmarks.
///
/// The mesh is in the pelvic frame: mm, origin midway between the ASIS, x toward the patient's
/// right, y anterior, z superior. Landmarks go beside it, into FILE with the ending .landmarks.ron.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  cupwright pelvis --list
  cupwright pelvis shallow-2 --side left --set socket_diameter_mm=48 --out hip.stl")]
pub(crate) struct PelvisArguments {
    /// Name of the preset
    #[arg(required_unless_present = "list")]
    preset: Option<String>,
    /// Print the presets and the numbers that can be set, and exit
    #[arg(long)]
    list: bool,
    /// Which hip
    #[arg(long, value_enum, default_value = "right")]
    side: SideArgument,
    /// Change a number of the preset; may be given several times
    #[arg(long, value_name = "NAME=VALUE", value_parser = setting)]
    set: Vec<(String, f64)>,
    /// How finely to cut the surface: about 30,000, 120,000 or 500,000 triangles
    #[arg(long, value_enum, default_value = "middle")]
    resolution: ResolutionArgument,
    /// Where to write the mesh: .stl, .obj or .ply
    #[arg(long, value_name = "FILE", required_unless_present = "list")]
    out: Option<PathBuf>,
}

/// Which hip, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum SideArgument {
    Right,
    Left,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum ResolutionArgument {
    Coarse,
    Middle,
    Fine,
}

pub(crate) fn run(arguments: &PelvisArguments, console: &mut Console) -> anyhow::Result<Exit> {
    if arguments.list {
        return list(console.out);
    }
    let (Some(preset), Some(path)) = (&arguments.preset, &arguments.out) else {
        anyhow::bail!("give a preset and --out FILE");
    };
    let format = Format::for_path(path)?;
    let mut shape = Shape::preset(preset)?;
    for (name, value) in &arguments.set {
        shape
            .set(name, *value)
            .with_context(|| format!("--set {name}={value}"))?;
    }
    // Where a file cannot be written, that is told before the work; both are complete before either
    // takes its place.
    let beside = path.with_extension("landmarks.ron");
    let (mut bone, mut landmarks) = (Draft::beside(path)?, Draft::beside(&beside)?);
    let (side, resolution) = (arguments.side.into(), arguments.resolution.into());
    let pelvis = console.working("shaping the bone", || {
        synthetic::pelvis(&shape, side, resolution)
    })?;
    let named = |path: &Path| path.display().to_string();
    cupwright_io::write_to(&mut bone, &pelvis.mesh, format).with_context(|| named(path))?;
    write_landmarks(&mut landmarks, preset, &pelvis).with_context(|| named(&beside))?;
    landmarks.publish()?;
    bone.publish()?;
    console.say(format_args!(
        "wrote {} ({} triangles) and {}",
        path.display(),
        pelvis.mesh.triangles().len(),
        beside.display()
    ));
    Ok(Exit::Done)
}

fn list(out: &mut dyn Write) -> anyhow::Result<Exit> {
    writeln!(out, "Presets:")?;
    for preset in Preset::ALL {
        writeln!(out, "  {:<22}{}", preset.name(), preset.description()?)?;
    }
    writeln!(
        out,
        "\nNumbers that --set can change, with the range allowed:"
    )?;
    for parameter in PARAMETERS {
        writeln!(
            out,
            "  {:<34}{} to {}",
            parameter.name, parameter.least, parameter.most
        )?;
    }
    Ok(Exit::Done)
}

fn write_landmarks(file: &mut impl Write, preset: &str, pelvis: &Pelvis) -> io::Result<()> {
    let point = |name: &str, at: Point3<f64>| NamedPoint {
        name: name.into(),
        at,
        sure: None,
    };
    let socket = &pelvis.socket;
    let points = pelvis.points().into_iter();
    let sheet = Sheet {
        comment: format!(
            "Landmarks of a synthetic {} hemipelvis, preset {preset}: invented, no patient's. In mm.",
            pelvis.side
        ),
        axes: MarksAxes::Pelvic,
        side: pelvis.side,
        points: points.map(|(name, at)| point(name, at)).collect(),
        socket_diameter: 2.0 * socket.radius,
        socket_axis: socket.axis.into(),
        rim: &socket.rim,
        fossa: &socket.fossa,
    };
    sheet.write(file)
}

fn setting(text: &str) -> Result<(String, f64), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or_else(|| format!("'{text}' is not NAME=VALUE"))?;
    let number: Result<f64, _> = value.trim().parse();
    let number = number.map_err(|_| format!("'{value}' is not a number"))?;
    Ok((name.trim().to_owned(), number))
}

impl From<SideArgument> for Side {
    fn from(side: SideArgument) -> Self {
        match side {
            SideArgument::Right => Self::Right,
            SideArgument::Left => Self::Left,
        }
    }
}

impl From<ResolutionArgument> for Resolution {
    fn from(resolution: ResolutionArgument) -> Self {
        match resolution {
            ResolutionArgument::Coarse => Self::Coarse,
            ResolutionArgument::Middle => Self::Middle,
            ResolutionArgument::Fine => Self::Fine,
        }
    }
}
