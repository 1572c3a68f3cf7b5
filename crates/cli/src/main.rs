//! The `cupwright` program: hands its arguments and its terminal to the library.

use std::io::{self, BufWriter, IsTerminal};
use std::process::ExitCode;

use cupwright::{Console, Progress, Style, main_with};

/// The exit code of a program that Ctrl-C ended: 128 and the number of the signal.
const INTERRUPTED: i32 = 130;

fn main() -> ExitCode {
    // Without a handler Ctrl-C still ends the program; a file it was writing is then left behind.
    let _ = ctrlc::set_handler(|| {
        let _none_left = cupwright_io::abandon_drafts();
        std::process::exit(INTERRUPTED);
    });
    let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let style = if io::stdout().is_terminal() && !plain {
        Style::Coloured
    } else {
        Style::Plain
    };
    let progress = if io::stderr().is_terminal() {
        Progress::Shown
    } else {
        Progress::Hidden
    };
    // Progress is drawn by a thread of its own, so stderr must not be locked here.
    let mut console = Console {
        out: &mut BufWriter::new(io::stdout().lock()),
        err: &mut io::stderr(),
        style,
        progress,
    };
    main_with(std::env::args_os(), &mut console).into()
}
