//! Motion until bone meets bone, searched on request beside the frame, and whether it still holds.

use std::sync::Arc;

use bevy::prelude::{ResMut, Resource};
use cupwright_procedure::joint::bony::BonyFinding;
use cupwright_procedure::{Bone, Case, Findings, with_bone_on_bone};

use super::{Answers, Notice, Plan};
use crate::work::{Broken, Latest};

/// What a search goes by.
#[derive(Clone, Debug)]
struct Question {
    case: Arc<Case>,
    generation: u64,
    findings: Arc<Findings>,
    bone: Arc<Bone>,
}

/// What a search found, and of what.
#[derive(Clone, Debug)]
struct Searched {
    case: Arc<Case>,
    generation: u64,
    found: Option<BonyFinding>,
}

/// The search, and what the last one found.
#[derive(Debug, Resource)]
pub struct BoneOnBone {
    searches: Latest<Question, Searched>,
    last: Option<Searched>,
}

impl Default for BoneOnBone {
    fn default() -> Self {
        let search = |question: Question| {
            let findings = Findings::clone(&question.findings);
            let found = with_bone_on_bone(findings, &question.case, &question.bone);
            Searched {
                case: question.case,
                generation: question.generation,
                found: found.bone_on_bone,
            }
        };
        Self {
            searches: Latest::new("bone on bone", search),
            last: None,
        }
    }
}

impl BoneOnBone {
    /// Whether it is being searched.
    pub fn is_busy(&self) -> bool {
        self.searches.is_busy()
    }

    /// What the last search found, whatever has changed since.
    pub fn found(&self) -> Option<&BonyFinding> {
        self.last.as_ref()?.found.as_ref()
    }

    /// Whether what was found still holds: bone, cup and joint are as they were then.
    pub fn is_of(&self, plan: &Plan, answers: &Answers) -> bool {
        self.last.as_ref().is_some_and(|last| {
            let (then, now) = (&last.case, plan.case());
            last.generation == answers.generation && then.cup == now.cup && then.joint == now.joint
        })
    }

    /// Begins to search.
    pub(super) fn search(&mut self, plan: &Plan, answers: &Answers) -> Result<(), String> {
        let ready = answers.bone().zip(answers.findings.as_ref());
        let ready = ready.filter(|_| !answers.is_making_bone());
        let (bone, findings) = ready.ok_or("the bone is still being made; search in a moment")?;
        if let Some(reason) = findings
            .no_joint
            .as_ref()
            .filter(|_| answers.found == plan.revision())
        {
            return Err(format!("there is no joint to move: {reason}"));
        }
        self.searches.ask(Question {
            case: Arc::new(plan.case().clone()),
            generation: answers.generation,
            findings: Arc::clone(findings),
            bone: Arc::clone(bone),
        });
        Ok(())
    }
}

/// Takes what has been found.
pub(super) fn exchange(mut bone_on_bone: ResMut<BoneOnBone>, mut notice: ResMut<Notice>) {
    match bone_on_bone.searches.take() {
        Some(Ok(searched)) => {
            if searched.found.is_none() {
                notice.trouble("this cup, ball and stem make no joint to move");
            }
            bone_on_bone.last = Some(searched);
        }
        Some(Err(Broken(told))) => notice.trouble(told),
        None => {}
    }
}
