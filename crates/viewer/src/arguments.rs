//! What the command line asks for.

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, ValueEnum};
use cupwright_report::CAUTION;

use crate::desk::view::{From, Map, Page};

/// The 3D bench: see the socket being reamed and the cup being placed.
///
/// Without a case the built-in demonstration is opened.
#[derive(Clone, Debug, Parser)]
#[command(name = "cupwright-viewer", version, after_help = after_help())]
pub(crate) struct Arguments {
    /// The case file to open (RON)
    pub(crate) case: Option<PathBuf>,
    /// Write a picture of the case to this PNG file, without a window, and exit
    #[arg(long, value_name = "FILE.png")]
    pub(crate) picture: Option<PathBuf>,
    /// From where to look
    #[arg(long, value_enum, default_value_t = ViewName::Socket)]
    pub(crate) view: ViewName,
    /// Width and height in pixels
    #[arg(long, value_name = "WxH", default_value = "1280x800", value_parser = size)]
    pub(crate) size: Size,
    /// How many steps of the plan are done: 0 is the untouched bone; the cup where it is not given
    #[arg(long, value_name = "N")]
    pub(crate) step: Option<usize>,
    /// Colour the surfaces by this map
    #[arg(long, value_enum, default_value_t = MapName::Plain)]
    pub(crate) map: MapName,
    /// Cut everything open through this hour of the rim
    #[arg(long, value_name = "HOUR", value_parser = hour)]
    pub(crate) section: Option<f64>,
    /// Leave out reamer and cup, to see the cavity
    #[arg(long)]
    pub(crate) without_tools: bool,
    /// Draw the panels as well
    #[arg(long)]
    pub(crate) panels: bool,
    /// The page of answers, with the panels
    #[arg(long, value_enum, default_value_t = PageName::Socket)]
    pub(crate) page: PageName,
    /// With panels: larger text, for a projector
    #[arg(long)]
    pub(crate) large: bool,
    /// Drag the cup by a script without a window, write the time of each frame, and exit
    #[arg(long, value_name = "FILE.csv", conflicts_with = "picture")]
    pub(crate) frame_times: Option<PathBuf>,
    /// With --frame-times: part triangles of the bone until there are so many
    #[arg(long, value_name = "N", requires = "frame_times")]
    pub(crate) triangles: Option<usize>,
}

fn after_help() -> String {
    format!(
        "Examples:\n  cupwright-viewer plan.case.ron\n  cupwright-viewer plan.case.ron --picture section.png --view section --section 12\n\n{CAUTION}"
    )
}

/// A size in pixels.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Size {
    pub(crate) width: u32,
    pub(crate) height: u32,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum ViewName {
    Anterior,
    Lateral,
    Medial,
    Posterior,
    Socket,
    Section,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum MapName {
    Plain,
    Wall,
    Depth,
    Coverage,
    Gap,
}

#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum PageName {
    Socket,
    Hold,
    Joint,
}

impl std::convert::From<PageName> for Page {
    fn from(name: PageName) -> Self {
        match name {
            PageName::Socket => Self::Socket,
            PageName::Hold => Self::Hold,
            PageName::Joint => Self::Joint,
        }
    }
}

impl std::convert::From<ViewName> for From {
    fn from(name: ViewName) -> Self {
        match name {
            ViewName::Anterior => Self::Anterior,
            ViewName::Lateral => Self::Lateral,
            ViewName::Medial => Self::Medial,
            ViewName::Posterior => Self::Posterior,
            ViewName::Socket => Self::Socket,
            ViewName::Section => Self::Section,
        }
    }
}

impl std::convert::From<MapName> for Map {
    fn from(name: MapName) -> Self {
        match name {
            MapName::Plain => Self::Plain,
            MapName::Wall => Self::Wall,
            MapName::Depth => Self::Depth,
            MapName::Coverage => Self::Coverage,
            MapName::Gap => Self::Gap,
        }
    }
}

/// The least and most pixels of a side.
const SIDE: std::ops::RangeInclusive<u32> = 64..=8192;

fn size(text: &str) -> Result<Size, String> {
    let told = || {
        format!(
            "give width and height from {} to {} pixels, as in 1280x800",
            SIDE.start(),
            SIDE.end()
        )
    };
    let (width, height) = text.split_once('x').ok_or_else(told)?;
    let side = |text: &str| {
        text.parse()
            .ok()
            .filter(|side| SIDE.contains(side))
            .ok_or_else(told)
    };
    Ok(Size {
        width: side(width)?,
        height: side(height)?,
    })
}

fn hour(text: &str) -> Result<f64, String> {
    let hour = text.parse().ok().filter(|hour| (0.0..=12.0).contains(hour));
    hour.ok_or_else(|| "give an hour from 0 to 12, as in 12 or 1.5".into())
}

/// The arguments; where they ask for help or are wrong, what to exit with once that is told.
pub(crate) fn parse<T>(arguments: impl IntoIterator<Item = T>) -> Result<Arguments, ExitCode>
where
    T: Into<OsString> + Clone,
{
    Arguments::try_parse_from(arguments).map_err(|told| {
        // Where the output is gone there is nobody to tell.
        let _ = told.print();
        ExitCode::from(if told.use_stderr() { 2 } else { 0 })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arguments_are_sound() {
        use clap::CommandFactory;
        Arguments::command().debug_assert();
    }

    #[test]
    fn sizes_that_cannot_be_are_refused() {
        assert_eq!(
            size("1920x1080"),
            Ok(Size {
                width: 1920,
                height: 1080
            })
        );
        for wrong in ["1920", "0x100", "100x-5", "99999x800", "x"] {
            assert!(size(wrong).unwrap_err().contains("1280x800"), "{wrong}");
        }
        assert!(hour("13").is_err() && hour("noon").is_err());
    }
}
