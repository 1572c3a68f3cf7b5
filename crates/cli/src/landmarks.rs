//! `cupwright landmarks`: landmarks guessed from a bare mesh, how sure they are, and what follows from them.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use cupwright_anatomy::guess::{Basis, Correction, Guess, Mark};
use cupwright_anatomy::{NotAPelvis, Side};
use cupwright_io::Draft;
use cupwright_procedure::bone::within_reach;
use cupwright_procedure::marks::{self, HIP_CENTRE, Marks};
use cupwright_procedure::survey::{Ask, NoSurvey, SideOpen, SocketFinding, Survey};
use cupwright_report::CAUTION;
use cupwright_report::json::write_document;

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

/// A larger error, in mm, makes other landmarks of it, not less certain ones.
const LARGEST_ERROR: f64 = 30.0;

pub(crate) fn run(arguments: &LandmarksArguments, console: &mut Console) -> anyhow::Result<Exit> {
    anyhow::ensure!(
        arguments.error.0 <= LARGEST_ERROR,
        "--error: a landmark error of at most {LARGEST_ERROR} mm can be followed"
    );
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
    let survey = survey.map_err(|why| refused(&arguments.file, side, &why))?;
    if arguments.json {
        write_document(&mut console.out, &survey)?;
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

fn refused(file: &Path, side: Option<Side>, why: &NoSurvey) -> anyhow::Error {
    let flag = match why {
        NoSurvey::Unit { unit, .. } => {
            format!(", or give --unit {}", unit.short())
        }
        NoSurvey::NotAPelvis(NotAPelvis::Unlike { .. }) if side.is_some() => {
            "; without --side or --from the side is told from the shape".into()
        }
        _ => String::new(),
    };
    anyhow::anyhow!("{}: {why}{flag}", file.display())
}

fn print(survey: &Survey, out: &mut dyn Write) -> io::Result<()> {
    labelled(out, "this is", &whose(survey))?;
    let midline = &survey.midline;
    let (sure, within, basis) = (&midline.sureness, midline.within_deg, &midline.basis);
    labelled(
        out,
        "midline",
        &format!("{sure}, within {within:.1}°: {basis}"),
    )?;
    print_landmarks(survey, out)?;
    print_socket(&survey.socket, out)?;
    print_influences(survey, out)?;
    writeln!(out)?;
    labelled(
        out,
        "before use",
        "look at each landmark on the bone; put right with --set what is wrong, above all what is doubtful",
    )?;
    labelled(out, "", CAUTION)
}

fn whose(survey: &Survey) -> String {
    let (side, part) = (&survey.side, &survey.part);
    let margin = 100.0 * survey.side_margin.abs();
    let other = if part == "hemipelvis" {
        "its mirror image"
    } else {
        "turned back to front, it"
    };
    let told = match (survey.side_given, survey.side_margin < 0.0) {
        (true, true) => format!("side as given, though {other} fits {margin:.0} % better"),
        (true, false) => format!("side as given; {other} fits {margin:.0} % worse"),
        (false, _) => {
            let sure = &survey.side_sureness;
            format!("side {sure}: {other} fits {margin:.0} % worse")
        }
    };
    format!("a {part}, {side} hip; {told}")
}

fn print_landmarks(survey: &Survey, out: &mut dyn Write) -> io::Result<()> {
    writeln!(
        out,
        "\n{:<22}{:>9}{:>9}{:>9}{:>9}   mm, file's axes",
        "landmarks", "x", "y", "z", "within"
    )?;
    for mark in &survey.landmarks {
        let place = listed(&mark.at_mm);
        let (name, within, sure) = (&mark.name, mark.within_mm, &mark.sureness);
        let from = from_what(survey.guess(), name);
        writeln!(out, "{name:<22}{place}{within:>9.1}   {sure:<10}{from}")?;
    }
    labelled(
        out,
        "",
        "within: about one standard deviation, estimated. touched: by a plane laid against the front, or the \
         rearmost point. mirrored: image of the other side in the midline",
    )
}

/// What the landmark of that name rests on, in a word.
fn from_what(guess: &Guess, name: &str) -> &'static str {
    match marks::named(name).map(|(mark, side)| guess.estimate(mark, side).basis) {
        Some(Basis::Outermost { .. }) => "touched",
        Some(Basis::Mirrored) => "mirrored",
        Some(Basis::Given) => "given",
        None => "",
    }
}

fn print_socket(socket: &SocketFinding, out: &mut dyn Write) -> io::Result<()> {
    let [x, y, z] = socket.centre_mm;
    let (sphere, rms) = (socket.sphere_diameter_mm, socket.rms_mm);
    writeln!(out)?;
    let joint = format!(
        "joint surface {sphere:.1} mm in diameter about {x:.1}, {y:.1}, {z:.1}; a sphere fits it within {rms:.2} mm (rms)"
    );
    labelled(out, "socket", &joint)?;
    let notch = socket.notch_width_mm;
    let notch = notch.map_or("no notch seen".into(), |width| {
        format!("notch {width:.1} mm wide")
    });
    let (across, depth) = (socket.rim_diameter_mm, socket.depth_mm);
    let uneven = socket.rim_unevenness_mm;
    let rim = format!(
        "{across:.1} mm across, {depth:.1} mm from its plane to the floor, {notch}; its line leaves the plane by {uneven:.1} mm (rms)"
    );
    labelled(out, "rim", &rim)?;
    writeln!(
        out,
        "{:<22}{:>13}{:>13}   on the anterior pelvic plane",
        "its plane faces", "inclination", "anteversion"
    )?;
    for facing in &socket.faces {
        let (inclination, anteversion) = (facing.inclination_deg, facing.anteversion_deg);
        let definition = &facing.definition;
        writeln!(
            out,
            "  {definition:<20}{inclination:>12.1}°{anteversion:>12.1}°"
        )?;
    }
    Ok(())
}

fn print_influences(survey: &Survey, out: &mut dyn Write) -> io::Result<()> {
    let off = format!("at most, if {} mm off", survey.error_mm);
    writeln!(
        out,
        "\n{off:<26}{:>13}{:>13}{:>8}   radiographic",
        "inclination", "anteversion", "tilt"
    )?;
    for row in &survey.if_off {
        let (inclination, anteversion, tilt) =
            (row.inclination_deg, row.anteversion_deg, row.tilt_deg);
        writeln!(
            out,
            "{:<26}{inclination:>12.1}°{anteversion:>12.1}°{tilt:>7.1}°",
            row.of
        )?;
    }
    Ok(())
}

/// A label and what it says, in lines of at most 80 columns.
fn labelled(out: &mut dyn Write, label: &str, text: &str) -> io::Result<()> {
    const INDENT: usize = 11;
    const COLUMNS: usize = 80;
    let mut line = format!("{label:<INDENT$}");
    let mut bare = true;
    for word in text.split_whitespace() {
        if !bare && line.chars().count() + 1 + word.chars().count() > COLUMNS {
            writeln!(out, "{line}")?;
            line = " ".repeat(INDENT);
            bare = true;
        }
        if !bare {
            line.push(' ');
        }
        line.push_str(word);
        bare = false;
    }
    writeln!(out, "{line}")
}

fn listed([x, y, z]: &[f64; 3]) -> String {
    format!("{x:>9.1}{y:>9.1}{z:>9.1}")
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
