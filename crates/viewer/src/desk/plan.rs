//! The plan on the bench: the case with its history, where it is kept, and what is selected in it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use bevy::prelude::Resource;
use cupwright_procedure::case::BadCase;
use cupwright_procedure::edit::{BadEdit, Edit, History};
use cupwright_procedure::joint::OffsetChoice;
use cupwright_procedure::{Case, CaseFile, Findings};

/// The plan that is worked on.
#[derive(Clone, Debug, Resource)]
pub struct Plan {
    history: History,
    case: Case,
    saved: CaseFile,
    revision: u64,
    /// The file that the plan is kept in, if any.
    pub path: Option<PathBuf>,
    /// The folder that its bone's path is relative to.
    pub folder: PathBuf,
    /// The reamer that keys change, counted from 0.
    pub selected: usize,
    /// A plan kept to compare with.
    pub kept: Option<Kept>,
    /// The plan that was on the bench before this one, and one that this was taken back for.
    earlier: Option<Box<Plan>>,
    later: Option<Box<Plan>>,
}

/// A plan kept to compare with, and what it came to.
#[derive(Clone, Debug)]
pub struct Kept {
    /// The case as meant.
    pub case: Arc<Case>,
    /// What it came to.
    pub findings: Arc<Findings>,
}

impl Plan {
    /// A plan that begins with this case.
    ///
    /// # Errors
    /// When the case cannot be.
    pub fn new(file: CaseFile, path: Option<PathBuf>) -> Result<Self, BadCase> {
        let folder = path.as_deref().and_then(Path::parent).map(Path::to_owned);
        Ok(Self {
            case: file.check()?,
            saved: file.clone(),
            history: History::new(file),
            revision: 0,
            path,
            folder: folder.unwrap_or_default(),
            selected: 0,
            kept: None,
            earlier: None,
            later: None,
        })
    }

    /// The case as typed.
    pub fn file(&self) -> &CaseFile {
        self.history.case()
    }

    /// The case as meant.
    pub fn case(&self) -> &Case {
        &self.case
    }

    /// A number that grows with every change.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// The change that takes this ball on this version of the stem; where it is `None`, the nearest to the
    /// target.
    pub fn ball(&self, chosen: Option<(f64, OffsetChoice)>) -> Edit {
        let mut joint = self.file().joint();
        joint.head.length_mm = chosen.map(|(length, _)| length);
        joint.stem.offset = chosen.map(|(_, version)| version);
        Edit::Joint(Box::new(joint))
    }

    /// The change that takes a ball of this diameter, in mm, with the bore made for it.
    pub fn head(&self, diameter_mm: f64) -> Edit {
        let mut joint = self.file().joint();
        joint.head.diameter_mm = diameter_mm;
        joint.liner.bore_mm = None;
        Edit::Joint(Box::new(joint))
    }

    /// How many reamers.
    pub fn reamers(&self) -> usize {
        self.case.reamers.len()
    }

    /// Whether it differs from what was last opened or saved.
    pub fn is_changed(&self) -> bool {
        self.saved != *self.file()
    }

    /// How many steps can be taken back, and made again.
    pub fn depth(&self) -> (usize, usize) {
        let (back, again) = self.history.depth();
        let plans = [&self.earlier, &self.later].map(|plan| usize::from(plan.is_some()));
        (back + plans[0], again + plans[1])
    }

    /// Puts another plan in the place of this one, which [`undo`](Self::undo) brings back.
    pub fn make_way_for(&mut self, next: Self) {
        let earlier = self.replaced_by(next);
        self.earlier = Some(earlier);
    }

    /// Puts another plan in the place of this one, with the next revision; gives this one back.
    fn replaced_by(&mut self, next: Self) -> Box<Self> {
        let revision = self.revision + 1;
        let last = std::mem::replace(self, next);
        self.revision = revision;
        Box::new(last)
    }

    /// Notes that the plan has been written to a file, as this case: paths in it may have changed.
    ///
    /// # Errors
    /// When the case cannot be, which one that was just written can.
    pub fn saved_to(&mut self, path: PathBuf, file: CaseFile) -> Result<(), BadEdit> {
        self.folder = path.parent().map(Path::to_owned).unwrap_or_default();
        self.path = Some(path);
        self.saved = file.clone();
        if file == *self.file() {
            return Ok(());
        }
        self.apply(&Edit::Whole(Box::new(file)))
    }

    /// Makes a change.
    ///
    /// # Errors
    /// When the change leaves no case; the plan stays as it was.
    pub fn apply(&mut self, edit: &Edit) -> Result<(), BadEdit> {
        self.history.apply(edit)?;
        self.later = None;
        self.changed().map_err(BadEdit::from)
    }

    /// Goes on with the last change, as in one drag.
    ///
    /// # Errors
    /// As for [`apply`](Self::apply).
    pub fn amend(&mut self, edit: &Edit) -> Result<(), BadEdit> {
        self.history.amend(edit)?;
        self.later = None;
        self.changed().map_err(BadEdit::from)
    }

    /// Takes back the last change, the last of them being that this plan came onto the bench; false
    /// where there is none.
    pub fn undo(&mut self) -> bool {
        if self.history.undo() {
            return self.changed().is_ok();
        }
        let Some(earlier) = self.earlier.take() else {
            return false;
        };
        let later = self.replaced_by(*earlier);
        self.later = Some(later);
        true
    }

    /// Makes it again; false where there is none.
    pub fn redo(&mut self) -> bool {
        if self.history.redo() {
            return self.changed().is_ok();
        }
        let Some(later) = self.later.take() else {
            return false;
        };
        self.make_way_for(*later);
        true
    }

    fn changed(&mut self) -> Result<(), BadCase> {
        self.case = self.file().check()?;
        self.revision += 1;
        self.selected = self.selected.min(self.reamers().saturating_sub(1));
        Ok(())
    }
}
