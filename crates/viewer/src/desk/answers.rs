//! The bone and the findings, worked out beside the frame, always of the latest plan.

use std::path::PathBuf;
use std::sync::Arc;

use bevy::prelude::{Res, ResMut, Resource};
use cupwright_procedure::case::BoneEntry;
use cupwright_procedure::joint::map::{MotionMap, motion_map_of};
use cupwright_procedure::{Bone, Case, Findings, Instruments, simulate};

use super::{Notice, Plan};
use crate::work::{Broken, Latest};

/// What a plan works with: its bone and the sizes to hand.
#[derive(Clone, Debug)]
pub struct Material {
    /// The bone, in the frame of the plan.
    pub bone: Arc<Bone>,
    /// The sizes of reamers and cups.
    pub instruments: Arc<Instruments>,
}

/// What a [`Material`] is made from, as far as the plan goes.
#[derive(Clone, Debug, PartialEq)]
struct Order {
    case: Case,
    folder: PathBuf,
}

/// What comes of a plan.
type Found = (Findings, Option<MotionMap>);

/// The bone and the findings, and the threads that work them out.
#[derive(Debug, Resource)]
pub struct Answers {
    makers: Latest<Order, (Order, Result<Material, String>)>,
    finders: Latest<(u64, Arc<Case>, Material), (u64, Result<Found, String>)>,
    ordered: Option<Order>,
    /// The revision of the plan that was looked at for another bone.
    looked_at: Option<u64>,
    asked: Option<u64>,
    /// Why the plan has no bone.
    pub no_bone: Option<String>,
    /// What the plan works with.
    pub material: Option<Material>,
    /// A number that grows with every new bone.
    pub generation: u64,
    /// The newest findings.
    pub findings: Option<Arc<Findings>>,
    /// Motion over the direction of the cup; `None` where there is no joint, or nothing is needed of it.
    pub map: Option<Arc<MotionMap>>,
    /// The revision of the plan that they belong to.
    pub found: u64,
    /// Why the newest plan has none.
    pub no_findings: Option<String>,
}

impl Default for Answers {
    fn default() -> Self {
        let mut last: Option<(Order, Bone)> = None;
        Self {
            makers: Latest::new("bones", move |order: Order| {
                let made = material(&order, &mut last);
                (order, made)
            }),
            finders: Latest::new(
                "findings",
                |(revision, case, material): (u64, Arc<Case>, Material)| {
                    let found = simulate(&case, &material.bone, &material.instruments);
                    let found = found.map(|findings| (findings, motion_map_of(&case)));
                    (revision, found.map_err(|problem| problem.to_string()))
                },
            ),
            ordered: None,
            looked_at: None,
            asked: None,
            no_bone: None,
            material: None,
            generation: 0,
            findings: None,
            map: None,
            found: 0,
            no_findings: None,
        }
    }
}

impl Answers {
    /// Whether the bone is being made.
    pub fn is_making_bone(&self) -> bool {
        self.makers.is_busy()
    }

    /// Whether anything is still being worked out.
    pub fn is_busy(&self) -> bool {
        self.makers.is_busy() || self.finders.is_busy()
    }

    /// Works on another bone from now on, until the plan asks for one itself.
    pub(crate) fn put_bone(&mut self, bone: Bone) {
        if let Some(material) = &mut self.material {
            material.bone = Arc::new(bone);
            self.generation += 1;
            self.asked = None;
            self.findings = None;
        }
    }

    /// The bone, where there is one.
    pub fn bone(&self) -> Option<&Arc<Bone>> {
        self.material.as_ref().map(|material| &material.bone)
    }
}

/// Asks for what the plan needs, and takes what has come.
pub(super) fn exchange(plan: Res<Plan>, mut answers: ResMut<Answers>, mut notice: ResMut<Notice>) {
    let answers = &mut *answers;
    if answers.looked_at != Some(plan.revision()) {
        answers.looked_at = Some(plan.revision());
        let order = Order::of(&plan);
        let last = answers.ordered.as_ref();
        if last.is_none_or(|last| !last.is_alike(&order)) {
            answers.ordered = Some(order.clone());
            answers.makers.ask(order);
        }
    }
    if let Some(come) = answers.makers.take() {
        match come {
            Ok((of, Ok(material))) if answers.ordered.as_ref().is_some_and(|o| o.is_alike(&of)) => {
                answers.material = Some(material);
                answers.generation += 1;
                answers.no_bone = None;
                answers.asked = None;
            }
            Ok((_, Ok(_))) => {}
            Ok((_, Err(told))) | Err(Broken(told)) => {
                notice.trouble(&told);
                answers.no_bone = Some(told);
            }
        }
    }
    let waiting = answers.makers.is_busy() || answers.no_bone.is_some();
    if let Some(material) = answers.material.as_ref().filter(|_| !waiting)
        && answers.asked != Some(plan.revision())
    {
        answers.asked = Some(plan.revision());
        let question = (
            plan.revision(),
            Arc::new(plan.case().clone()),
            material.clone(),
        );
        answers.finders.ask(question);
    }
    match answers.finders.take() {
        Some(Ok((revision, Ok((findings, map))))) => {
            answers.findings = Some(Arc::new(findings));
            answers.map = map.map(Arc::new);
            answers.found = revision;
            answers.no_findings = None;
        }
        Some(Ok((_, Err(told))) | Err(Broken(told))) => answers.no_findings = Some(told),
        None => {}
    }
}

impl Order {
    fn of(plan: &Plan) -> Self {
        Self {
            case: plan.case().clone(),
            folder: plan.folder.clone(),
        }
    }

    /// Whether the same material serves both.
    fn is_alike(&self, other: &Self) -> bool {
        let frame = |order: &Self| {
            let case = &order.case;
            let instruments = case.instruments.as_ref();
            let instruments = instruments.map(|name| order.folder.join(name));
            (case.reference, case.tilt, instruments)
        };
        self.is_of_one_bone_with(other) && frame(self) == frame(other)
    }

    fn is_of_one_bone_with(&self, other: &Self) -> bool {
        // The folder matters to a path alone.
        let is_preset = matches!(self.case.bone, BoneEntry::Preset { .. });
        let is_one_place = is_preset || self.folder == other.folder;
        is_one_place && without_layers(&self.case) == without_layers(&other.case)
    }
}

/// The bone as the bench makes it: its layers would take seconds, and nothing here shows them.
fn without_layers(case: &Case) -> BoneEntry {
    let mut entry = case.bone.clone();
    if let BoneEntry::Preset { layers, .. } = &mut entry {
        *layers = false;
    }
    entry
}

fn material(order: &Order, last: &mut Option<(Order, Bone)>) -> Result<Material, String> {
    let case = Case {
        bone: without_layers(&order.case),
        ..order.case.clone()
    };
    let bone = match last {
        Some((made, bone)) if made.is_of_one_bone_with(order) => bone.in_frame_of(&case),
        _ => Bone::of_case(&case, &order.folder),
    };
    let bone = bone.map_err(|problem| problem.to_string())?;
    *last = Some((order.clone(), bone.clone()));
    let instruments = Instruments::of_case(&case, &order.folder);
    let instruments = instruments.map_err(|problem| problem.to_string())?;
    Ok(Material {
        bone: Arc::new(bone),
        instruments: Arc::new(instruments),
    })
}
