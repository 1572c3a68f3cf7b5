//! Where a command's words go: results to one side, everything else to the other.

use std::fmt::Display;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use cupwright_report::Style;
use indicatif::{ProgressBar, ProgressStyle};

/// Where a command puts its results and its remarks, and how.
pub struct Console<'a> {
    /// Takes results.
    pub out: &'a mut dyn Write,
    /// Takes everything else.
    pub err: &'a mut dyn Write,
    /// Whether results may be coloured.
    pub style: Style,
    /// Whether long work shows that it goes on.
    pub progress: Progress,
}

/// Whether long work shows on stderr that it goes on.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Progress {
    /// It does: somebody is watching.
    Shown,
    /// It does not: stderr is no terminal.
    Hidden,
}

// What is said on the side is said as far as anybody listens: where stderr is gone, the work and
// its result still count.
impl Console<'_> {
    /// Says what was done.
    pub(crate) fn say(&mut self, done: impl Display) {
        let _ = writeln!(self.err, "cupwright: {done}");
    }

    /// Says which files are in a folder now.
    pub(crate) fn wrote(&mut self, files: &[PathBuf], folder: &Path) {
        let names = files.iter().filter_map(|file| file.file_name());
        let names: Vec<_> = names.map(|name| name.display().to_string()).collect();
        self.say(format_args!(
            "wrote {} to {}",
            names.join(", "),
            folder.display()
        ));
    }

    /// Says something worth knowing.
    pub(crate) fn note(&mut self, note: impl Display) {
        self.say(format_args!("note: {note}"));
    }

    /// Says what was computed all the same although it can hardly be meant.
    pub(crate) fn warn(&mut self, warning: impl Display) {
        self.say(format_args!("warning: {warning}"));
    }

    /// A bar that goes from 0 to `total` things called `what`, if anybody is watching.
    pub(crate) fn counting(&self, total: u64, what: &str) -> ProgressBar {
        if self.progress == Progress::Hidden {
            return ProgressBar::hidden();
        }
        let bar = ProgressBar::new(total);
        let form = format!("{{wide_bar}} {{pos}} of {{len}} {what}, {{eta}} left");
        match ProgressStyle::with_template(&form) {
            Ok(style) => bar.with_style(style),
            Err(_) => bar,
        }
    }

    /// Does `work`; meanwhile says `what`, if anybody is watching.
    pub(crate) fn working<T>(&self, what: &'static str, work: impl FnOnce() -> T) -> T {
        const TICK: Duration = Duration::from_millis(100);
        let spinner = match self.progress {
            Progress::Hidden => return work(),
            Progress::Shown => ProgressBar::new_spinner().with_message(what),
        };
        spinner.enable_steady_tick(TICK);
        let done = work();
        spinner.finish_and_clear();
        done
    }
}
