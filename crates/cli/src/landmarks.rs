//! `cupwright landmarks`: landmarks guessed from a bare mesh, how sure they are, and what follows from them.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use cupwright_anatomy::Side;
use cupwright_anatomy::guess::{Correction, Mark};
use cupwright_io::Draft;
use cupwright_procedure::bone::within_reach;
use cupwright_procedure::marks::{self, HIP_CENTRE, Marks};
use cupwright_procedure::survey::{Ask, NoSurvey, SideOpen, Survey};

use crate::Exit;
use crate::bone::{self, ReadingArguments};
use crate::console::Console;
use crate::pelvis::SideArgument;
use crate::tool::{Length, Place};

/// Find landmarks on a mesh, say how sure they are, and measure the native socket.
///
/// The mesh is a hemipelvis or a whole pelvis in any pose. Every place is in the mesh's own
/// coordinates, in mm. Look at what is found before you use it: what is marked doubtful, above all.
#[derive(Args, Debug)]
#[command(after_help = "\
Names for --set: asis, pubic_tubercle, psis, each also with _right or _left, and hip_centre.
Without a side, the one of the bone is meant, and the mirror image on the other side follows.

Examples:
  cupwright landmarks hip.stl --out hip.landmarks.ron
  cupwright landmarks hip.stl --from hip.landmarks.ron --set asis_left=-119,0,0 --json")]
pub(crate) struct LandmarksArguments {
    /// The mesh (STL, OBJ or PLY)
    file: PathBuf,
    #[command(flatten)]
    reading: ReadingArguments,
    /// Which hip the mesh is, against its shape; of a whole pelvis, the hip to measure
    #[arg(long, value_enum)]
    side: Option<SideArgument>,
    /// A landmark file whose points count in place of the guess
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// Where a landmark is in truth; may be given several times, and counts before --from
    #[arg(long, value_name = "NAME=X,Y,Z", value_parser = correction)]
    set: Vec<SideOpen>,
    /// The landmark error whose effect is told
    #[arg(
        long,
        value_name = "MM",
        default_value = "3",
        allow_hyphen_values = true
    )]
    error: Length,
    /// Write the landmarks to this file, most often NAME.landmarks.ron
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &LandmarksArguments, console: &mut Console) -> anyhow::Result<Exit> {
    let named = |path: &Path| path.display().to_string();
    let mut corrections = Vec::new();
    let mut side = arguments.side.map(Side::from);
    if let Some(from) = &arguments.from {
        let marks = Marks::read(from)?;
        corrections.extend(marks.corrections().into_iter().map(SideOpen::Known));
        side = side.or(marks.side);
    }
    corrections.extend(&arguments.set);
    let mut draft = arguments.out.as_deref().map(Draft::beside).transpose()?;
    let reading = arguments.reading.reading();
    anyhow::ensure!(
        reading.turning_axes().is_none(),
        "landmarks are found whichever way the axes lie, and told in those of the file: leave out --axes"
    );
    let loaded = bone::read(&arguments.file, &reading, console).map_err(bone::with_label_flag)?;
    let mesh = reading.chosen(loaded.mesh).map_err(bone::without_piece)?;
    within_reach(&mesh).with_context(|| named(&arguments.file))?;
    let ask = Ask {
        side,
        corrections,
        error_mm: arguments.error.0,
    };
    let survey = console.working("looking for landmarks", || Survey::of(&mesh, &ask));
    let survey = survey.map_err(|why| refused(&arguments.file, why))?;
    if arguments.json {
        console.print_document(&serde_json::to_value(&survey)?)?;
    } else {
        print(&survey, console.out)?;
    }
    if let (Some(draft), Some(path)) = (&mut draft, &arguments.out) {
        let of = arguments.file.file_name().unwrap_or_default();
        let sheet = survey.sheet(&of.display().to_string());
        sheet.write(draft).with_context(|| named(path))?;
    }
    if let (Some(draft), Some(path)) = (draft, &arguments.out) {
        draft.publish()?;
        console.say(format_args!("wrote {}", path.display()));
    }
    Ok(Exit::Done)
}

fn refused(file: &Path, why: NoSurvey) -> anyhow::Error {
    let flag = match &why {
        NoSurvey::Unit { unit, .. } => {
            format!(", or give --unit {}", bone::flag_of(*unit))
        }
        _ => String::new(),
    };
    anyhow::anyhow!("{}: {why}{flag}", file.display())
}

fn print(survey: &Survey, out: &mut dyn Write) -> io::Result<()> {
    let socket = &survey.socket;
    let told = match (survey.side_given, survey.side_margin) {
        (true, margin) if margin < 0.0 => "as given, though its shape is more like the other",
        (true, _) => "as given, and as its shape has it",
        (false, _) => survey.side_sureness.as_str(),
    };
    let margin = 100.0 * survey.side_margin.abs();
    writeln!(
        out,
        "bone       {}, {} hip: {told} (by {margin:.0} %)",
        survey.part, survey.side
    )?;
    let midline = &survey.midline;
    writeln!(
        out,
        "midline    {}, within {:.1}°: {}",
        midline.sureness, midline.within_deg, midline.basis
    )?;
    print_landmarks(survey, out)?;
    writeln!(
        out,
        "\nsocket     centre {}, sphere {:.1} mm across, fits within {:.2} mm (rms)",
        listed(&socket.centre_mm),
        socket.sphere_diameter_mm,
        socket.rms_mm
    )?;
    let notch = socket.notch_width_mm;
    let notch = notch.map_or("not seen".into(), |width| format!("{width:.1} mm"));
    writeln!(
        out,
        "rim        {:.1} mm across, {:.1} mm deep, notch {notch}, even to {:.1} mm (rms)",
        socket.rim_diameter_mm, socket.depth_mm, socket.rim_unevenness_mm
    )?;
    for (k, facing) in socket.faces.iter().enumerate() {
        let label = if k == 0 { "faces" } else { "" };
        writeln!(
            out,
            "{label:<11}{:.1}° inclination, {:.1}° anteversion ({}, anterior pelvic plane)",
            facing.inclination_deg, facing.anteversion_deg, facing.definition
        )?;
    }
    print_influences(survey, out)
}

fn print_landmarks(survey: &Survey, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "\nlandmarks, mm in the coordinates of the file")?;
    for mark in &survey.landmarks {
        writeln!(
            out,
            "  {:<22}{}   {:<9} within {:>4.1} mm   {}",
            mark.name,
            listed(&mark.at_mm),
            mark.sureness,
            mark.within_mm,
            mark.basis
        )?;
    }
    Ok(())
}

fn print_influences(survey: &Survey, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\nif one alone is {} mm off, in its worst direction (native socket, radiographic)",
        survey.error_mm
    )?;
    writeln!(
        out,
        "  {:<26}{:>12}{:>13}{:>8}",
        "", "inclination", "anteversion", "tilt"
    )?;
    for row in &survey.if_off {
        writeln!(
            out,
            "  {:<26}{:>11.1}°{:>12.1}°{:>7.1}°",
            row.of, row.inclination_deg, row.anteversion_deg, row.tilt_deg
        )?;
    }
    Ok(())
}

fn listed([x, y, z]: &[f64; 3]) -> String {
    format!("{x:>8.1} {y:>8.1} {z:>8.1}")
}

/// `NAME=X,Y,Z`
fn correction(text: &str) -> Result<SideOpen, String> {
    let (name, place) = text
        .split_once('=')
        .ok_or_else(|| format!("'{text}' is not NAME=X,Y,Z"))?;
    let Place(at) = place.trim().parse()?;
    let name = name.trim();
    if name == HIP_CENTRE {
        return Ok(SideOpen::Known(Correction::HipCentre(at)));
    }
    if let Some((mark, side)) = marks::named(name) {
        return Ok(SideOpen::Known(Correction::Landmark { mark, side, at }));
    }
    let mark = Mark::ALL.into_iter().find(|mark| mark.key() == name);
    mark.map(|mark| SideOpen::Own { mark, at }).ok_or_else(|| {
        let known = Mark::ALL.map(Mark::key).join(", ");
        format!("there is no landmark {name}; there are: {known}, each also with _right or _left, and {HIP_CENTRE}")
    })
}
