//! The `cupwright-viewer` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    cupwright_viewer::main_with(std::env::args_os())
}
