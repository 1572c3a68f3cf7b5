//! What goes onto a sheet besides the findings: pictures from files.

use std::path::PathBuf;

use anyhow::Context;
use cupwright_report::sheet::Picture;

/// The pictures of these files, in their order.
pub(crate) fn pictures(paths: &[PathBuf]) -> anyhow::Result<Vec<Picture>> {
    let picture = |path: &PathBuf| {
        let named = || path.display().to_string();
        let bytes = std::fs::read(path).with_context(|| {
            let advice = "this picture cannot be read; check the name and the folder";
            format!("{}: {advice}", named())
        })?;
        let name = path.file_name().unwrap_or(path.as_os_str());
        Picture::from_png(name.display().to_string(), bytes).with_context(named)
    };
    paths.iter().map(picture).collect()
}
