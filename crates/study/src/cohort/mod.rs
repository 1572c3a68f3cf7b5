//! Cohorts: one question to many bones, in an order, one row for each answer.
//!
//! A [`Cohort`] is its [`Members`], a case that says how each is operated on, and an [`Evaluation`].
//! [`run`](run()) writes its rows into a folder, [`join`](join()) puts the folders of its shares together.
//!
//! Guaranteed:
//! - a member's rows depend on the [`Manifest`] and the member's index alone: not on the share it falls
//!   into, the order of work, the number of threads, or what was interrupted before;
//! - a run may be killed at any moment: the folder then holds whole parts and nothing half written in
//!   their place, and the same call goes on from there;
//! - a folder of another cohort is refused, told by the first thing that differs;
//! - the tables of all shares, one after the other, are the table of the whole, byte for byte;
//! - a bone that cannot be used is a row that says why;
//! - memory grows with the threads, not with the members.
//!
//! Not guaranteed: the same last digits on another processor, system library or version of this
//! program. A sampled cohort is no population: what is drawn is drawn independently, see [`sample`].

pub mod evaluation;
pub mod fit;
pub mod join;
pub mod manifest;
pub mod members;
pub mod run;
pub mod sample;
pub mod shard;
pub mod studies;
pub mod table;

mod parquet;
mod parts;
mod summary;

use std::num::NonZeroUsize;

use cupwright_anatomy::Side;
use cupwright_procedure::case::{BadCase, BoneEntry, CaseFile};
use cupwright_procedure::{Bone, Instruments};
use serde_json::{Value, json};

pub use evaluation::{Draws, Evaluation, Grid, Ready, Rehearsal};
pub use fit::{NoFit, Sizes, fitted};
pub use join::{NotJoined, join};
pub use manifest::{BadManifest, Manifest};
pub use members::{Changed, Members, NoBones};
pub use parts::{BadPart, CSV, Damage, NotWritten, PARQUET};
pub use run::{NotRun, Tally, run};
pub use shard::{BadShard, Shard};
pub use studies::{Reaming, Searches};
pub use summary::{Numbers, Summary};
pub use table::{Cell, Column, Kind, Row};

use members::Member;
use sample::Stream;

/// Many bones and what is asked of each.
#[derive(Debug)]
pub struct Cohort {
    /// The bones.
    pub members: Members,
    /// How each is operated on; its bone is not used.
    pub case: CaseFile,
    /// The sizes to hand.
    pub instruments: Instruments,
    /// Where the sizes used come from.
    pub sizes: Sizes,
    /// What is asked.
    pub evaluation: Box<dyn Evaluation>,
    /// The seed of what the evaluation draws.
    pub seed: u64,
    /// How many members are written in one step; what is lost when a run is killed.
    pub part: NonZeroUsize,
}

/// Streams of random numbers from here on belong to evaluations, those before to the sampled members.
const EVALUATIONS: u64 = 1 << 63;

impl Cohort {
    /// What the rows of `shard` depend on. Reads the bone files of the shard to their end.
    pub fn manifest(&self, shard: Shard) -> Manifest {
        let count = self.members.count();
        Manifest::of(json!({
            "format": manifest::FORMAT,
            "program": manifest::PROGRAM,
            "members": count,
            "shard": shard.to_string(),
            "members_per_part": self.part,
            "evaluation": self.evaluation.described(),
            "seed": self.seed,
            "sizes": self.sizes,
            "case": described(&self.case),
            "instruments": {
                "reamers_mm": self.instruments.reamers(),
                "cups_mm": self.instruments.cups(),
            },
            "source": self.members.described(shard.members(count)),
            "columns": self.columns(),
        }))
    }

    /// The columns of the table.
    pub fn columns(&self) -> Vec<Column> {
        let mut columns = vec![Column::count("member"), Column::count("evaluation")];
        columns.push(Column::text("problem"));
        columns.extend(self.members.columns());
        columns.extend(BONE_COLUMNS.map(Column::number));
        columns.extend(self.evaluation.columns());
        columns
    }

    /// The rows of the member `index`, counted from 0; `manifest` is that of its share.
    ///
    /// # Errors
    /// When the member's file is not the one the manifest knows.
    pub fn rows(&self, index: usize, manifest: &Manifest) -> Result<Vec<Row>, Changed> {
        let known = &manifest.content()["source"];
        let tool = self.largest_tool();
        let Member { cells, bone } = self.members.member(index, known, tool)?;
        let answered = bone.and_then(|bone| self.answered(index, bone));
        let width = self.columns().len();
        let row = |evaluation: Cell, problem: Cell, rest: Vec<Cell>| {
            let mut row = vec![Cell::count(index + 1), evaluation, problem];
            row.extend(cells.iter().cloned());
            row.extend(rest);
            row.resize(width, Cell::Empty);
            row
        };
        Ok(match answered {
            Ok((bone, rows)) => (1..)
                .zip(rows)
                .map(|(number, cells)| {
                    let rest = bone.iter().cloned().chain(cells).collect();
                    row(Cell::Count(number), Cell::Empty, rest)
                })
                .collect(),
            Err(problem) => vec![row(Cell::Empty, Cell::text(&problem), Vec::new())],
        })
    }

    /// The cells of a bone's columns, and the evaluation's rows.
    fn answered(&self, index: usize, bone: Bone) -> Result<(Vec<Cell>, Vec<Row>), String> {
        let native_mm = 2.0 * bone.native_radius;
        let file = self.plan(bone.side, native_mm).map_err(|e| e.to_string())?;
        let case = file.check().map_err(|e| e.to_string())?;
        let bone = bone.in_frame_of(&case).map_err(|e| e.to_string())?;
        let cells = vec![Cell::number(native_mm), Cell::number(bone.solid.volume())];
        let ready = Ready {
            bone: &bone,
            file: &file,
            case: &case,
            instruments: &self.instruments,
            stream: Stream::of(self.seed, EVALUATIONS + index as u64),
        };
        let rows = self.evaluation.rows(ready)?;
        Ok((cells, rows))
    }

    /// The case of a member.
    fn plan(&self, side: Side, native_mm: f64) -> Result<CaseFile, NoFit> {
        let mut file = self.case.clone();
        file.bone = BoneEntry::Preset {
            name: "cohort".into(),
            side: side.into(),
            overrides: std::collections::BTreeMap::new(),
            layers: false,
        };
        match self.sizes {
            Sizes::Socket => fitted(&file, native_mm, &self.instruments),
            Sizes::Case => Ok(file),
        }
    }

    /// The largest tool that a member may meet, in mm, by which a bone in the wrong unit is told.
    fn largest_tool(&self) -> f64 {
        let reamers = self.case.reamers.iter().map(|reamer| reamer.diameter_mm);
        let in_case = reamers.fold(self.case.cup.diameter_mm, f64::max);
        match self.sizes {
            Sizes::Socket => self.instruments.cups().first().copied().unwrap_or(in_case),
            Sizes::Case => in_case,
        }
    }

    /// Checks what all members share, before any work.
    ///
    /// # Errors
    /// When the case is refused.
    pub fn check(&self) -> Result<(), BadCase> {
        self.case.check().map(|_| ())
    }
}

/// The columns of a bone that could be used.
const BONE_COLUMNS: [&str; 2] = ["native_diameter_mm", "bone_volume_mm3"];

/// A case without its bone, as the manifest tells it.
fn described(case: &CaseFile) -> Value {
    let mut content = serde_json::to_value(case).unwrap_or_default();
    if let Some(fields) = content.as_object_mut() {
        fields.shift_remove("bone");
        // Told by their sizes.
        fields.shift_remove("instruments");
    }
    content
}
