//! The `cupwright` program: reads its arguments and leaves the rest to the library.

use std::io::{self, IsTerminal};
use std::process::ExitCode;

use clap::Parser;
use cupwright::{Arguments, Style, main_with};

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let colour = io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    let style = if colour {
        Style::Coloured
    } else {
        Style::Plain
    };
    main_with(
        &arguments,
        &mut io::stdout().lock(),
        &mut io::stderr().lock(),
        style,
    )
}
