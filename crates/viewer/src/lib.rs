//! The 3D bench: see the socket being reamed and the cup being placed.
//!
//! | folder | holds |
//! |---|---|
//! | [`desk`] | the plan, what is asked of it, the answers: no picture |
//! | `work` | threads for what takes longer than a frame |
//! | `drawing` | surfaces of bone and tools, maps on them, the section's cut faces |
//! | `scene` | camera, light, stage, handles |
//! | `panels` | fields, answers, steps, windows, keys |
//! | `offscreen` | pictures and frame times without a window |
//!
//! A frame goes one way: panels and handles send [`Act`](desk::Act)s, [`desk`] changes plan or view and
//! has the findings worked out, `scene` has the surfaces drawn and puts them on the stage.

mod arguments;
pub mod desk;
mod drawing;
mod launch;
mod offscreen;
mod panels;
mod scene;
mod work;

use std::ffi::OsString;
use std::process::ExitCode;

pub use drawing::scale;

/// Does what the arguments ask, the first of them being the program's own name: opens the bench, or
/// writes a picture or frame times. Exit code 0 when all is done, 2 on an error, told in one line.
pub fn main_with<T>(arguments: impl IntoIterator<Item = T>) -> ExitCode
where
    T: Into<OsString> + Clone,
{
    let asked = match arguments::parse(arguments) {
        Ok(asked) => asked,
        Err(told) => return told,
    };
    match launch::launch(asked) {
        Ok(()) => ExitCode::SUCCESS,
        Err(problem) => {
            use std::io::Write;
            let line = problem.to_string().replace('\n', " ");
            // Where stderr is gone there is nobody to tell.
            let _ = writeln!(std::io::stderr(), "cupwright-viewer: error: {line}");
            ExitCode::from(2)
        }
    }
}
