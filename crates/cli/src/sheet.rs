//! What goes onto a sheet besides the findings: pictures from files, and the map of motion.

use std::path::PathBuf;

use anyhow::Context;
use cupwright_procedure::joint::Joint;
use cupwright_procedure::joint::map::{MapGrid, MotionMap, motion_map};
use cupwright_procedure::{Case, Findings};
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

/// Motion over the directions of the cup; `None` where the case makes no joint or needs no motion.
pub(crate) fn motion_map_of(case: &Case, findings: &Findings) -> Option<MotionMap> {
    findings.joint.as_ref()?;
    let joint = Joint::new(&case.joint, case).ok()?;
    motion_map(&joint, &MapGrid::default()).ok()
}
