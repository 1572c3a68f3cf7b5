//! Landmarks of a bone from a file: guessed beside the frame, put right by pointing at bone.
//!
//! What counts is what the case says; a guess is used only once it is taken into the case, and every
//! correction is a change of the case, to be undone like any other.

use std::sync::Arc;

use bevy::prelude::{Res, ResMut, Resource};
use cupwright_anatomy::guess::{self, Correction, Guess, Mark, Part};
use cupwright_anatomy::{Landmarks, NotAPelvis, Side};
use cupwright_geometry::Solid;
use cupwright_procedure::case::{AxesEntry, BoneEntry};
use cupwright_procedure::edit::Edit;
use cupwright_procedure::reading::Axes;
use cupwright_procedure::survey::Survey;
use nalgebra::Point3;

use super::view::Page;
use super::{Answers, Plan, View};
use crate::work::{Broken, Latest};

/// The landmark error whose effect is told, in mm.
pub const ERROR_MM: f64 = 3.0;

/// What a survey is of.
#[derive(Clone, Debug, PartialEq)]
struct Of {
    generation: u64,
    side: Side,
    landmarks: Option<Landmarks>,
}

/// The survey of the bone on the bench, and the landmark that is being placed.
#[derive(Debug, Resource)]
pub struct Landmarking {
    surveys: Latest<(Of, Arc<Solid>), (Of, Result<Survey, String>)>,
    asked: Option<Of>,
    /// What can be told of the bone, its landmarks being those of the case where it has some.
    pub survey: Option<Arc<Survey>>,
    /// Why nothing can be told.
    pub trouble: Option<String>,
    /// The landmark that the next click on bone places.
    pub armed: Option<(Mark, Side)>,
}

impl Default for Landmarking {
    fn default() -> Self {
        let mut last: Option<(Arc<Solid>, Guess)> = None;
        Self {
            surveys: Latest::new("landmarks", move |(of, solid)| {
                let told = survey(&of, &solid, &mut last);
                (of, told)
            }),
            asked: None,
            survey: None,
            trouble: None,
            armed: None,
        }
    }
}

impl Landmarking {
    /// Whether it is being worked out.
    pub fn is_busy(&self) -> bool {
        self.surveys.is_busy()
    }

    /// The change that puts the landmark that waits for its place there, in the bone's own coordinates, mm;
    /// mirror images follow. `None` where none waits, or the bone is not known yet.
    pub(super) fn put(&mut self, plan: &Plan, at: Point3<f64>) -> Option<Edit> {
        let guess = self.survey.as_ref()?.guess();
        let (mark, side) = self.armed.take()?;
        let corrected = guess.corrected(&[Correction::Landmark { mark, side, at }]);
        with_landmarks(plan, &corrected)
    }

    /// The change that takes side and landmarks of the bone into the case.
    pub(super) fn take(&self, plan: &Plan) -> Option<Edit> {
        with_landmarks(plan, self.survey.as_ref()?.guess())
    }
}

/// The case with the landmarks of a guess; `None` where its bone is synthetic and knows them.
fn with_landmarks(plan: &Plan, guess: &Guess) -> Option<Edit> {
    let mut entry = plan.file().bone.clone();
    let turn = entry.reading().turning_axes().map(Axes::turn);
    let in_file = turn.map_or(guess.landmarks(), |turn| {
        guess.landmarks().moved(&turn.inverse())
    });
    let BoneEntry::File { side, axes, .. } = &mut entry else {
        return None;
    };
    *side = guess.side.into();
    *axes = AxesEntry::at(&in_file);
    Some(Edit::Bone(entry))
}

/// What the case makes of a bone; the guess is kept for as long as the bone is the same.
fn survey(
    of: &Of,
    solid: &Arc<Solid>,
    last: &mut Option<(Arc<Solid>, Guess)>,
) -> Result<Survey, String> {
    let known = last.take().filter(|(made, _)| Arc::ptr_eq(made, solid));
    let guess = match known {
        Some((_, guess)) if guess.part == Part::Hemipelvis || guess.side == of.side => guess,
        _ => guessed(solid, of.side).map_err(|why| why.to_string())?,
    };
    *last = Some((Arc::clone(solid), guess.clone()));
    let landmarks = of.landmarks.as_ref();
    let corrections = landmarks.map_or_else(Vec::new, |known| guess.corrections_to(known));
    let corrected = guess.corrected(&corrections);
    Survey::from_guess(solid.mesh(), corrected, false, ERROR_MM).map_err(|why| why.to_string())
}

/// What the shape says; of a whole pelvis, about the hip of `side`.
fn guessed(solid: &Solid, side: Side) -> Result<Guess, NotAPelvis> {
    let guess = guess::guess(solid.mesh(), None)?;
    if guess.part == Part::WholePelvis && guess.side != side {
        return guess::guess(solid.mesh(), Some(side));
    }
    Ok(guess)
}

/// Asks for a survey while its page is looked at, and takes what has come.
pub(super) fn exchange(
    plan: Res<Plan>,
    view: Res<View>,
    answers: Res<Answers>,
    mut landmarking: ResMut<Landmarking>,
) {
    let is_file = matches!(plan.file().bone, BoneEntry::File { .. });
    let is_shown = view.page == Page::Landmarks && view.answers_panel && is_file;
    if let Some(bone) = answers.bone().filter(|_| is_shown) {
        let of = Of {
            generation: answers.generation,
            side: bone.side,
            landmarks: bone.landmarks,
        };
        if landmarking.asked.as_ref() != Some(&of) {
            landmarking.asked = Some(of.clone());
            landmarking.surveys.ask((of, Arc::clone(&bone.solid)));
        }
    }
    if !is_shown && landmarking.armed.is_some() {
        landmarking.armed = None;
    }
    match landmarking.surveys.take() {
        Some(Ok((of, told))) if landmarking.asked.as_ref() == Some(&of) => {
            let (survey, trouble) = match told {
                Ok(survey) => (Some(Arc::new(survey)), None),
                Err(told) => (None, Some(told)),
            };
            landmarking.survey = survey;
            landmarking.trouble = trouble;
        }
        Some(Err(Broken(told))) => landmarking.trouble = Some(told),
        Some(Ok(_)) | None => {}
    }
}
