//! [`Evaluator`]: a case and its bone prepared once, to be asked at many settings.
//!
//! The only module of this crate that measures. What is asked agrees with what
//! [`simulate`](cupwright_procedure::simulate()) finds for the same case, to rounding; walls alone are
//! looked for along fewer rays. An evaluation knows nothing of those before it, so that any order and any
//! number of threads give the same bits.

use std::collections::BTreeMap;

use cupwright_anatomy::{BadTilt, Hour, Orientation, Tilt};
use cupwright_geometry::batch::{self, Measures, Placement};
use cupwright_geometry::union::{self, NoCommonPoint};
use cupwright_geometry::{rim, within};
use cupwright_procedure::case::BadCase;
use cupwright_procedure::fan::Steps;
use cupwright_procedure::findings::{Findings, Wall};
use cupwright_procedure::placed::{NotPlaced, Tools};
use cupwright_procedure::removal::behind;
use cupwright_procedure::simulate::{NoFindings, proud};
use cupwright_procedure::stock::walls_roughly;
use cupwright_procedure::{Bone, Case, CaseFile, Instruments, simulate};
use rayon::prelude::*;
use thiserror::Error;

use crate::measure::Measure;
use crate::setting::Setting;
use crate::variable::Variable;

/// The rays that look for the thinnest wall, about 3 mm apart on a cavity of
/// 50 mm.
pub const WALL_RAYS: Steps = Steps {
    meridians: 24,
    rings: 12,
};

/// A case and its bone, to be asked at many settings.
#[derive(Clone, Debug)]
pub struct Evaluator {
    case: CaseFile,
    bone: Bone,
}

/// What was asked at one setting.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    values: Vec<(Measure, Option<f64>)>,
    functional: Orientation,
}

/// Why a setting has no outcome.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoOutcome {
    /// It makes no case.
    #[error(transparent)]
    Case(#[from] BadCase),
    /// A tool cannot be placed.
    #[error(transparent)]
    Placed(#[from] NotPlaced),
    /// Reamers that do not belong to one socket.
    #[error(transparent)]
    Apart(#[from] NoCommonPoint),
    /// A tilt that no pelvis has.
    #[error(transparent)]
    Tilt(#[from] BadTilt),
    /// A run of it fails.
    #[error(transparent)]
    Run(#[from] NoFindings),
}

impl Evaluator {
    /// A case with its bone, which costs next to nothing to copy.
    ///
    /// # Errors
    /// When the case cannot be.
    pub fn new(case: &CaseFile, bone: &Bone) -> Result<Self, BadCase> {
        case.check()?;
        Ok(Self {
            case: case.clone(),
            bone: bone.clone(),
        })
    }

    /// The case as planned.
    pub fn case(&self) -> &CaseFile {
        &self.case
    }

    /// Its bone.
    pub fn bone(&self) -> &Bone {
        &self.bone
    }

    /// The setting of the plan.
    pub fn plan(&self) -> Setting {
        Setting::of(&self.case)
    }

    /// What is asked at a setting.
    ///
    /// # Errors
    /// When the setting makes no case, or one that cannot be run.
    pub fn evaluate(&self, setting: &Setting, asked: &[Measure]) -> Result<Outcome, NoOutcome> {
        let case = setting.applied(&self.case)?.check()?;
        let tilt = Tilt::posterior(setting.get(Variable::Tilt).to_radians())?;
        let placed = PlacedCase {
            bone: &self.bone,
            tools: Tools::of(&case, &self.bone)?,
            functional: case.cup.orientation.tilted(tilt),
            case,
        };
        let walls = if asked.iter().any(|m| is_wall(*m)) {
            placed.walls(WALL_RAYS)
        } else {
            BTreeMap::new()
        };
        let at_once = placed.at_once(asked);
        let value = |&measure| match at_once.and_then(|found| found.of(measure)) {
            Some(found) => Ok((measure, Some(found))),
            None => Ok((measure, placed.measured(measure, &walls)?)),
        };
        Ok(Outcome {
            values: asked.iter().map(value).collect::<Result<_, NoOutcome>>()?,
            functional: placed.functional,
        })
    }

    /// What is asked at each of several settings, side by side, in their order.
    pub fn evaluate_all(
        &self,
        settings: &[Setting],
        asked: &[Measure],
    ) -> Vec<Result<Outcome, NoOutcome>> {
        let settings = settings.par_iter();
        settings.map(|s| self.evaluate(s, asked)).collect()
    }

    /// What is asked at a setting, read off a run in full: the same but for walls, which are looked for more
    /// closely.
    ///
    /// # Errors
    /// When the setting makes no case, or one that cannot be run.
    pub fn run(
        &self,
        setting: &Setting,
        asked: &[Measure],
        instruments: &Instruments,
    ) -> Result<Outcome, NoOutcome> {
        let case = setting.applied(&self.case)?.check()?;
        let tilt = Tilt::posterior(setting.get(Variable::Tilt).to_radians())?;
        let functional = case.cup.orientation.tilted(tilt);
        let findings = simulate(&case, &self.bone, instruments)?;
        let value = |&measure| {
            let value = match measure {
                Measure::Coverage => Some(findings.cup.coverage),
                Measure::FunctionalInclination => Some(functional.inclination().to_degrees()),
                Measure::FunctionalAnteversion => Some(functional.anteversion().to_degrees()),
                other => other.quantity().of(&findings),
            };
            (measure, value)
        };
        Ok(Outcome {
            values: asked.iter().map(value).collect(),
            functional,
        })
    }

    /// Everything that a run of the case at a setting finds.
    ///
    /// # Errors
    /// When the setting makes no case, or one that cannot be run.
    pub fn simulate(
        &self,
        setting: &Setting,
        instruments: &Instruments,
    ) -> Result<Findings, NoOutcome> {
        let case = setting.applied(&self.case)?.check()?;
        Ok(simulate(&case, &self.bone, instruments)?)
    }
}

impl Outcome {
    /// A value that was asked for; `None` where it was not, or there was nothing to measure.
    pub fn get(&self, measure: Measure) -> Option<f64> {
        self.values.iter().find(|(m, _)| *m == measure)?.1
    }

    /// How the cup faces after the change of tilt.
    pub fn functional(&self) -> &Orientation {
        &self.functional
    }
}

fn is_wall(measure: Measure) -> bool {
    matches!(measure, Measure::ThinnestWall | Measure::Wall(_))
}

/// A case of which every tool stands in the bone.
struct PlacedCase<'a> {
    case: Case,
    bone: &'a Bone,
    tools: Tools,
    functional: Orientation,
}

/// What one walk over the bone gives of a cup.
#[derive(Clone, Copy)]
struct AtOnce(Measures);

impl AtOnce {
    fn of(&self, measure: Measure) -> Option<f64> {
        match measure {
            Measure::Coverage => Some(self.0.coverage),
            Measure::RimContact => Some(self.0.rim_contact),
            _ => None,
        }
    }
}

impl PlacedCase<'_> {
    /// Coverage and rim contact together, where both are asked for: a walk less.
    fn at_once(&self, asked: &[Measure]) -> Option<AtOnce> {
        let both = [Measure::Coverage, Measure::RimContact];
        if !both.iter().all(|measure| asked.contains(measure)) {
            return None;
        }
        let placement = Placement {
            cup: *self.tools.cup.head(),
            reamers: Vec::new(),
        };
        let found = batch::evaluate(&self.bone.solid, &[placement]);
        found.first().copied().map(AtOnce)
    }

    fn measured(
        &self,
        measure: Measure,
        walls: &BTreeMap<Wall, f64>,
    ) -> Result<Option<f64>, NoOutcome> {
        let (solid, head) = (&self.bone.solid, self.tools.cup.head());
        Ok(match measure {
            Measure::Coverage => Some(within::coverage(solid, head)),
            Measure::CoverageAfterReaming => {
                let after = union::area_outside(solid, head, &behind(head, &self.tools.swept));
                Some(after.value / head.area())
            }
            Measure::RimContact => Some(rim::arcs_inside(solid, &self.tools.cup.rim()?).share()),
            Measure::Removed => Some(union::volume_in_union(solid, &self.tools.swept)?.value),
            Measure::ThinnestWall => walls.values().copied().min_by(f64::total_cmp),
            Measure::Wall(wall) => walls.get(&wall).copied(),
            Measure::Overhang => Some(self.overhang()?),
            Measure::CentreShift => Some(self.case.cup.centre.distance()),
            Measure::Interference => {
                let last = self.case.reamers.last();
                last.map(|reamer| self.case.cup.diameter - reamer.diameter)
            }
            Measure::FunctionalInclination => Some(self.functional.inclination().to_degrees()),
            Measure::FunctionalAnteversion => Some(self.functional.anteversion().to_degrees()),
        })
    }

    /// The thinnest place of each wall behind the cavity.
    fn walls(&self, steps: Steps) -> BTreeMap<Wall, f64> {
        self.tools
            .reamers
            .last()
            .map_or_else(BTreeMap::new, |last| {
                walls_roughly(self.bone, last, &self.tools.swept, steps)
            })
    }

    fn overhang(&self) -> Result<f64, NoOutcome> {
        let half_hours = (0..24).map(|k| Hour::from_hours(f64::from(k) / 2.0));
        let mut proudest = 0.0_f64;
        for hour in half_hours {
            proudest = proudest.max(proud(self.bone, &self.tools.cup, hour)?);
        }
        Ok(proudest)
    }
}
