//! Cases, lessons and bones read from files, and the plan written to one.

use std::path::{Path, PathBuf};

use cupwright_io::Draft;
use cupwright_procedure::case::{AxesEntry, BoneEntry};
use cupwright_procedure::lesson::Lesson;
use cupwright_procedure::{CaseFile, text};

use super::Plan;

/// What was in a file.
pub(super) enum Opened {
    /// A case, or the plan on the bench with a mesh file as its bone.
    Plan(Box<Plan>),
    /// A lesson.
    Lesson(Box<Lesson>),
}

/// What is in a file; a mesh becomes the bone of the plan on the bench.
pub(super) fn open(path: &Path, on_bench: &CaseFile) -> Result<Opened, String> {
    if cupwright_io::Content::may_be_in(path) {
        let plan = bone(path, on_bench)?;
        return Ok(Opened::Plan(Box::new(plan)));
    }
    let named = |problem: &dyn std::fmt::Display| format!("{}: {problem}", path.display());
    let text = text::read(path).map_err(|problem| problem.to_string())?;
    match (CaseFile::parse(&text), Lesson::parse(&text)) {
        (Ok(file), _) => {
            let plan = Plan::new(file, Some(path.to_owned()));
            plan.map(|plan| Opened::Plan(Box::new(plan)))
                .map_err(|problem| named(&problem))
        }
        (Err(_), Ok(lesson)) => Ok(Opened::Lesson(Box::new(lesson))),
        // A file with steps was meant as a lesson.
        (Err(_), Err(problem)) if text.contains("steps:") => Err(named(&problem)),
        (Err(problem), Err(_)) => Err(named(&problem)),
    }
}

/// The plan on the bench with a mesh file as its bone.
fn bone(path: &Path, on_bench: &CaseFile) -> Result<Plan, String> {
    let file = CaseFile {
        bone: BoneEntry::File {
            path: absolute(path).display().to_string(),
            side: on_bench.bone.side().into(),
            label: None,
            unit: None,
            piece: None,
            axes: AxesEntry::Pelvic,
            hip_centre_mm: None,
            socket_diameter_mm: None,
        },
        ..on_bench.clone()
    };
    Plan::new(file, None).map_err(|problem| problem.to_string())
}

fn absolute(path: &Path) -> PathBuf {
    std::path::absolute(path).unwrap_or_else(|_| path.to_owned())
}

/// Writes the case; paths in it that were relative to another folder become absolute.
pub(super) fn save(plan: &mut Plan, path: &Path) -> Result<(), String> {
    use std::io::Write;
    let folder = path.parent().map(Path::to_owned).unwrap_or_default();
    let mut file = plan.file().clone();
    if absolute(&folder) != absolute(&plan.folder) {
        let from = |name: &String| absolute(&plan.folder.join(name)).display().to_string();
        if let BoneEntry::File { path, .. } = &mut file.bone {
            *path = from(path);
        }
        file.instruments = file.instruments.as_ref().map(from);
    }
    let text = file.to_text().map_err(|problem| problem.to_string())?;
    let mut draft = Draft::beside(path).map_err(|problem| problem.to_string())?;
    writeln!(draft, "{text}").map_err(|cause| format!("{}: {cause}", path.display()))?;
    draft.publish().map_err(|problem| problem.to_string())?;
    plan.saved_to(path.to_owned(), file)
        .map_err(|problem| problem.to_string())
}
