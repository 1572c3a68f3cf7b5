//! Changing a case step by step, with every step undone and done again.
//!
//! An [`Edit`] is one change; [`CaseFile::with`] makes it on a copy, so a change that is refused
//! leaves nothing behind. A [`History`] keeps whole cases, not the way back: what comes out of an undo
//! is what was there, bit for bit. A case is a few hundred bytes, and all are kept.

use cupwright_anatomy::{Angles, Orientation};
use thiserror::Error;

use crate::case::{
    BadCase, BoneEntry, CaseFile, DefinitionEntry, Limits, ReamerEntry, ReferenceEntry, ShiftEntry,
};
use crate::joint::JointEntry;
use crate::mechanics::MechanicsInputs;

/// One change to a case, as a user asks for it.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// Put the cup's centre there, from the native hip centre.
    CupCentre(ShiftEntry),
    /// Turn the cup to these angles, of the case's own definition.
    CupAngles {
        /// Inclination in degrees.
        inclination_deg: f64,
        /// Anteversion in degrees.
        anteversion_deg: f64,
    },
    /// Take a cup of this outer diameter, in mm.
    CupDiameter(f64),
    /// Put a reamer before the one at this place, counted from 0; at the end where there is none.
    AddReamer(usize, ReamerEntry),
    /// Change the reamer at this place.
    ChangeReamer(usize, ReamerEntry),
    /// Leave out the reamer at this place.
    RemoveReamer(usize),
    /// Take a reamer out and put it back so that it stands at another place; both counted from 0.
    MoveReamer {
        /// Where it stands now.
        from: usize,
        /// Where it shall stand.
        to: usize,
    },
    /// Speak in another definition from now on; every axis stays where it is. A reamer that gave one
    /// angle of its own and took the other from the cup gives both from then on.
    Definition(DefinitionEntry),
    /// Refer directions and angles to another plane; the numbers stay, so the axes move.
    Reference(ReferenceEntry),
    /// Tilt the pelvis backward by so many degrees in all; the numbers stay, so the axes move.
    Tilt(f64),
    /// Work on another bone.
    Bone(BoneEntry),
    /// Other numbers for press-fit, fallback and screws.
    Mechanics(MechanicsInputs),
    /// Another liner, ball or stem, another femur or target, or other motion that is needed.
    Joint(Box<JointEntry>),
    /// Check other limits.
    Limits(Limits),
    /// Replace the notes.
    Notes(String),
    /// Take the sizes from this file, or the generic ones.
    Instruments(Option<String>),
    /// Replace everything, as by a file that was opened or a plan that is taken over.
    Whole(Box<CaseFile>),
}

/// Why an edit is refused; the case stays as it was.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BadEdit {
    /// The case would not be one any more.
    #[error("{0}")]
    Case(#[from] BadCase),
    /// There is no reamer at that place.
    #[error("there is no reamer {}; the case has {count}", place + 1)]
    NoReamer {
        /// The place asked for, counted from 0.
        place: usize,
        /// How many reamers there are.
        count: usize,
    },
}

impl CaseFile {
    /// This case with one change.
    ///
    /// # Errors
    /// When the change names a reamer that is not there, or leaves a case that cannot be.
    pub fn with(&self, edit: &Edit) -> Result<Self, BadEdit> {
        let mut case = self.clone();
        match edit {
            Edit::CupCentre(centre) => case.cup.centre = *centre,
            Edit::CupAngles {
                inclination_deg,
                anteversion_deg,
            } => {
                case.cup.inclination_deg = *inclination_deg;
                case.cup.anteversion_deg = *anteversion_deg;
            }
            Edit::CupDiameter(diameter_mm) => case.cup.diameter_mm = *diameter_mm,
            Edit::AddReamer(place, reamer) => {
                let place = (*place).min(case.reamers.len());
                case.reamers.insert(place, *reamer);
            }
            Edit::ChangeReamer(place, reamer) => *case.reamer_mut(*place)? = *reamer,
            Edit::RemoveReamer(place) => {
                case.reamer_mut(*place)?;
                case.reamers.remove(*place);
            }
            Edit::MoveReamer { from, to } => {
                case.reamer_mut(*to)?;
                let reamer = *case.reamer_mut(*from)?;
                case.reamers.remove(*from);
                case.reamers.insert(*to, reamer);
            }
            Edit::Definition(definition) => case.speak_in(*definition)?,
            Edit::Reference(reference) => case.reference = *reference,
            Edit::Tilt(degrees) => case.posterior_tilt_deg = *degrees,
            Edit::Bone(bone) => case.bone.clone_from(bone),
            Edit::Mechanics(inputs) => case.set_mechanics(inputs),
            Edit::Joint(joint) => case.set_joint(joint),
            Edit::Limits(limits) => case.limits = *limits,
            Edit::Notes(notes) => case.notes.clone_from(notes),
            Edit::Instruments(file) => case.instruments.clone_from(file),
            Edit::Whole(other) => case.clone_from(other),
        }
        case.check()?;
        Ok(case)
    }

    fn set_mechanics(&mut self, inputs: &MechanicsInputs) {
        let MechanicsInputs {
            press_fit,
            fallback,
            screws,
        } = *inputs;
        (self.press_fit, self.fallback, self.screws) = (press_fit, fallback, screws);
    }

    fn set_joint(&mut self, joint: &JointEntry) {
        let JointEntry {
            liner,
            head,
            stem,
            femur,
            target,
            needs,
        } = joint.clone();
        (self.liner, self.head, self.stem) = (liner, head, stem);
        (self.femur, self.target, self.needs) = (femur, target, needs);
    }

    fn reamer_mut(&mut self, place: usize) -> Result<&mut ReamerEntry, BadEdit> {
        let count = self.reamers.len();
        self.reamers
            .get_mut(place)
            .ok_or(BadEdit::NoReamer { place, count })
    }

    /// Changes the definition and with it every pair of angles, so that no axis moves.
    fn speak_in(&mut self, definition: DefinitionEntry) -> Result<(), BadEdit> {
        let from = self.orientation;
        if from == definition {
            // There and back would cost the last bits.
            return Ok(());
        }
        let cup = (self.cup.inclination_deg, self.cup.anteversion_deg);
        (self.cup.inclination_deg, self.cup.anteversion_deg) = converted(from, definition, cup)?;
        for reamer in &mut self.reamers {
            // A reamer that gives one angle of its own takes the other from the cup.
            if reamer.inclination_deg.is_some() || reamer.anteversion_deg.is_some() {
                let own = (
                    reamer.inclination_deg.unwrap_or(cup.0),
                    reamer.anteversion_deg.unwrap_or(cup.1),
                );
                let (inclination, anteversion) = converted(from, definition, own)?;
                (reamer.inclination_deg, reamer.anteversion_deg) =
                    (Some(inclination), Some(anteversion));
            }
        }
        self.orientation = definition;
        Ok(())
    }
}

/// A pair of angles in degrees, in another definition.
fn converted(
    from: DefinitionEntry,
    to: DefinitionEntry,
    pair: (f64, f64),
) -> Result<(f64, f64), BadCase> {
    let angle = |problem| BadCase::Angle {
        field: "angles".into(),
        problem,
    };
    let orientation =
        Orientation::new(from.into(), Angles::from_degrees(pair.0, pair.1)).map_err(angle)?;
    let other = orientation.converted_to(to.into());
    Ok((
        other.inclination().to_degrees(),
        other.anteversion().to_degrees(),
    ))
}

/// A case with all its earlier and undone states.
///
/// A drag is one step: [`apply`](Self::apply) begins a step and [`amend`](Self::amend) goes on with it,
/// until [`release`](Self::release), an [`undo`](Self::undo), a [`redo`](Self::redo), or an `apply` that
/// begins none. From then on `amend` begins a step of its own, so it never swallows one that was done.
#[derive(Clone, Debug, PartialEq)]
pub struct History {
    past: Vec<CaseFile>,
    present: CaseFile,
    future: Vec<CaseFile>,
    /// Whether the step from the latest of `past` to `present` may still grow.
    growing: bool,
}

impl History {
    /// A case without a past.
    pub fn new(case: CaseFile) -> Self {
        Self {
            past: Vec::new(),
            present: case,
            future: Vec::new(),
            growing: false,
        }
    }

    /// The case as it is.
    pub fn case(&self) -> &CaseFile {
        &self.present
    }

    /// Begins a step, which [`undo`](Self::undo) takes back; what was undone before is forgotten.
    ///
    /// An edit that changes nothing makes no step and forgets nothing.
    ///
    /// # Errors
    /// As for [`CaseFile::with`]; the case and all steps stay then.
    pub fn apply(&mut self, edit: &Edit) -> Result<(), BadEdit> {
        self.growing = false;
        let next = self.present.with(edit)?;
        if next != self.present {
            self.past.push(std::mem::replace(&mut self.present, next));
            self.future.clear();
            self.growing = true;
        }
        Ok(())
    }

    /// Goes on with the step that the latest [`apply`](Self::apply) or `amend` began; begins one where
    /// there is none to go on with.
    ///
    /// # Errors
    /// As for [`CaseFile::with`]; the case and all steps stay then, and a step that grew may grow on.
    pub fn amend(&mut self, edit: &Edit) -> Result<(), BadEdit> {
        if self.growing {
            self.present = self.present.with(edit)?;
            Ok(())
        } else {
            self.apply(edit)
        }
    }

    /// Ends the step: the pointer was let go. A next [`amend`](Self::amend) begins another.
    pub fn release(&mut self) {
        self.growing = false;
    }

    /// Takes the last step back; false when there is none.
    pub fn undo(&mut self) -> bool {
        self.growing = false;
        let Some(before) = self.past.pop() else {
            return false;
        };
        self.future
            .push(std::mem::replace(&mut self.present, before));
        true
    }

    /// Makes the step again that was taken back last; false when there is none.
    pub fn redo(&mut self) -> bool {
        self.growing = false;
        let Some(after) = self.future.pop() else {
            return false;
        };
        self.past.push(std::mem::replace(&mut self.present, after));
        true
    }

    /// How many steps can be taken back, and how many made again.
    pub fn depth(&self) -> (usize, usize) {
        (self.past.len(), self.future.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn start() -> CaseFile {
        CaseFile::parse(include_str!("../../../assets/cases/demonstration.ron")).unwrap()
    }

    /// The case to the last bit: every number is written with as many digits as it takes.
    fn bits(history: &History) -> String {
        history.case().to_text().unwrap()
    }

    fn cup(diameter_mm: f64) -> Edit {
        Edit::CupDiameter(diameter_mm)
    }

    fn reamers(case: &CaseFile) -> Vec<f64> {
        case.reamers.iter().map(|r| r.diameter_mm).collect()
    }

    #[test]
    fn an_edit_that_cannot_be_changes_nothing() {
        let mut history = History::new(start());
        assert!(history.apply(&cup(-1.0)).is_err());
        assert!(history.amend(&Edit::Tilt(f64::NAN)).is_err());
        let (place, count) = (9, 4);
        for edit in [
            Edit::RemoveReamer(9),
            Edit::ChangeReamer(9, ReamerEntry::default()),
            Edit::MoveReamer { from: 9, to: 0 },
            Edit::MoveReamer { from: 0, to: 9 },
        ] {
            let refused = history.apply(&edit).unwrap_err();
            assert_eq!(refused, BadEdit::NoReamer { place, count });
            assert_eq!(refused.to_string(), "there is no reamer 10; the case has 4");
        }
        assert_eq!(history, History::new(start()));
    }

    #[test]
    fn the_last_reamer_cannot_be_left_out() {
        let mut history = History::new(start());
        for _ in 1..start().reamers.len() {
            history.apply(&Edit::RemoveReamer(0)).unwrap();
        }
        let refused = history.apply(&Edit::RemoveReamer(0));
        assert_eq!(refused, Err(BadEdit::Case(BadCase::NoReamers)));
    }

    #[test]
    fn reamers_are_added_moved_and_left_out_where_asked() {
        let mm = |diameter_mm| ReamerEntry {
            diameter_mm,
            ..ReamerEntry::default()
        };
        let mut history = History::new(start());
        for edit in [
            Edit::AddReamer(1, mm(48.0)),
            Edit::AddReamer(99, mm(55.0)),
            Edit::RemoveReamer(0),
            Edit::MoveReamer { from: 0, to: 4 },
            Edit::MoveReamer { from: 3, to: 1 },
            Edit::ChangeReamer(0, mm(50.0)),
        ] {
            history.apply(&edit).unwrap();
        }
        assert_eq!(reamers(history.case()), [50.0, 55.0, 51.0, 53.0, 48.0]);
    }

    #[test]
    fn another_definition_moves_no_axis() {
        let mut typed = start();
        typed.reamers[0].inclination_deg = Some(45.0);
        typed.reamers[1].anteversion_deg = Some(5.0);
        let before = typed.check().unwrap();
        for definition in [DefinitionEntry::Operative, DefinitionEntry::Anatomic] {
            let edit = Edit::Definition(definition);
            let after = typed.with(&edit).unwrap().check().unwrap();
            let tools = |case: &crate::Case| [case.reamers.clone(), vec![case.cup]].concat();
            for (a, b) in tools(&before).iter().zip(tools(&after)) {
                assert!(a.orientation.angle_to(&b.orientation) < 1e-12);
            }
            assert_ne!(before.definition, after.definition);
            let back = typed.with(&edit).unwrap().with(&edit).unwrap();
            assert_eq!(back, typed.with(&edit).unwrap(), "the same one twice");
        }
    }

    #[test]
    fn a_joint_and_the_numbers_of_a_press_fit_are_taken_over_whole() {
        let file = r#"(version: 1, bone: Preset(name: "average-male", side: Right), orientation: Radiographic,
            reamers: [(diameter_mm: 53)], cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15),
            press_fit: (quality: Soft, friction: 0.5, seating_force_n: 2500), fallback: (larger_mm: 4),
            screws: (tilt_deg: 10), liner: (shell_mm: 3), head: (diameter_mm: 28, length_mm: Some(3.5)),
            stem: (offset: Some(High)), femur: (offset_mm: 40), target: (leg_length_mm: 5),
            needs: [(movement: Abduction, range_deg: 50)])"#;
        let other = CaseFile::parse(file).unwrap();
        let mut history = History::new(start());
        let mechanics = Edit::Mechanics(other.mechanics());
        history.apply(&mechanics).unwrap();
        assert_eq!(history.case().mechanics(), other.mechanics());
        assert_eq!(history.case().joint(), start().joint());
        let joint = Edit::Joint(Box::new(other.joint()));
        history.apply(&joint).unwrap();
        assert_eq!(history.case().joint(), other.joint());
        assert_eq!(history.case().reamers, start().reamers);
        assert!(history.undo() && history.undo());
        assert_eq!(history.case(), &start());
    }

    #[test]
    fn a_ball_that_is_not_in_the_series_and_a_force_below_nought_change_nothing() {
        let mut history = History::new(start());
        let mut joint = start().joint();
        joint.head.length_mm = Some(2.0);
        let refused = history.apply(&Edit::Joint(Box::new(joint))).unwrap_err();
        assert_eq!(refused.to_string(), "ball +2 mm is not one of lengths_mm");
        let mut inputs = start().mechanics();
        inputs.press_fit.seating_force_n = -1.0;
        let refused = history.apply(&Edit::Mechanics(inputs)).unwrap_err();
        assert!(refused.to_string().starts_with("seating_force_n is -1"));
        assert_eq!(history, History::new(start()));
    }

    #[test]
    fn a_drag_is_taken_back_in_one_step() {
        let mut history = History::new(start());
        history.apply(&cup(56.0)).unwrap();
        for size in [57.0, 58.0, 59.0] {
            history.amend(&cup(size)).unwrap();
        }
        assert_eq!(history.depth(), (1, 0));
        assert!(history.undo());
        assert_eq!(history.case(), &start());
        assert!(history.redo() && !history.redo());
        assert!((history.case().cup.diameter_mm - 59.0).abs() < 1e-12);
    }

    /// Steps after `between`, which comes after one step, and then a drag without `apply`.
    #[track_caller]
    fn a_drag_stands_alone_after(between: impl Fn(&mut History)) {
        let mut history = History::new(start());
        history.apply(&cup(56.0)).unwrap();
        between(&mut history);
        let (before, (steps, _)) = (bits(&history), history.depth());
        history.amend(&Edit::Tilt(3.0)).unwrap();
        history.amend(&Edit::Tilt(4.0)).unwrap();
        assert_eq!(history.depth(), (steps + 1, 0));
        history.undo();
        assert_eq!(bits(&history), before);
    }

    #[test]
    fn a_drag_swallows_no_step_that_was_done() {
        a_drag_stands_alone_after(History::release);
        a_drag_stands_alone_after(|history| {
            history.undo();
        });
        a_drag_stands_alone_after(|history| {
            history.undo();
            history.redo();
        });
        a_drag_stands_alone_after(|history| {
            assert!(history.apply(&cup(f64::NAN)).is_err());
        });
        a_drag_stands_alone_after(|history| history.apply(&cup(56.0)).unwrap());
    }

    #[test]
    fn an_edit_that_changes_nothing_is_no_step_and_forgets_nothing() {
        let mut history = History::new(start());
        history.apply(&cup(56.0)).unwrap();
        history.undo();
        history.apply(&cup(54.0)).unwrap();
        assert_eq!(history.depth(), (0, 1));
        history.apply(&cup(58.0)).unwrap();
        assert_eq!(history.depth(), (1, 0), "another way forgets the first");
    }

    #[test]
    fn a_whole_case_is_taken_over_and_taken_back() {
        let mut other = start();
        other.bone = BoneEntry::Preset {
            name: "worn".into(),
            side: crate::case::SideEntry::Left,
            overrides: [("socket_diameter_mm".to_owned(), 50.0)].into(),
            layers: true,
        };
        other.notes = "another".into();
        let mut history = History::new(start());
        history
            .apply(&Edit::Whole(Box::new(other.clone())))
            .unwrap();
        assert_eq!(history.case(), &other);
        history.undo();
        assert_eq!(history.case(), &start());
        other.version = 99;
        assert!(history.apply(&Edit::Whole(Box::new(other))).is_err());
    }

    /// What a user may do.
    #[derive(Clone, Debug)]
    enum Deed {
        Apply(Edit),
        Amend(Edit),
        Release,
        Undo,
        Redo,
    }

    fn shift() -> impl Strategy<Value = ShiftEntry> {
        (-20.0..20.0_f64, -20.0..20.0_f64, -250.0..250.0_f64).prop_map(|(m, s, a)| ShiftEntry {
            medial_mm: m,
            superior_mm: s,
            anterior_mm: a,
        })
    }

    fn reamer() -> impl Strategy<Value = ReamerEntry> {
        let angle = || proptest::option::of(-20.0..100.0_f64);
        (
            -5.0..80.0_f64,
            proptest::option::of(shift()),
            angle(),
            angle(),
        )
            .prop_map(|(diameter_mm, centre, inclination_deg, anteversion_deg)| {
                ReamerEntry {
                    diameter_mm,
                    centre,
                    inclination_deg,
                    anteversion_deg,
                }
            })
    }

    /// Edits of every kind but the two that take a whole bone or case; some cannot be.
    fn edit() -> impl Strategy<Value = Edit> {
        let definition = prop_oneof![
            Just(DefinitionEntry::Radiographic),
            Just(DefinitionEntry::Operative),
            Just(DefinitionEntry::Anatomic),
        ];
        prop_oneof![
            shift().prop_map(Edit::CupCentre),
            (-20.0..100.0_f64, -60.0..60.0_f64).prop_map(|(inclination_deg, anteversion_deg)| {
                Edit::CupAngles {
                    inclination_deg,
                    anteversion_deg,
                }
            }),
            prop_oneof![40.0..60.0_f64, Just(f64::NAN), Just(-0.0)].prop_map(cup),
            (0..6_usize, reamer()).prop_map(|(k, r)| Edit::AddReamer(k, r)),
            (0..6_usize, reamer()).prop_map(|(k, r)| Edit::ChangeReamer(k, r)),
            (0..6_usize).prop_map(Edit::RemoveReamer),
            (0..6_usize, 0..6_usize).prop_map(|(from, to)| Edit::MoveReamer { from, to }),
            definition.prop_map(Edit::Definition),
            prop_oneof![
                Just(ReferenceEntry::Isb),
                Just(ReferenceEntry::AnteriorPelvicPlane)
            ]
            .prop_map(Edit::Reference),
            (-100.0..100.0_f64).prop_map(Edit::Tilt),
            proptest::option::of(-0.1..1.1_f64).prop_map(|min_coverage| {
                Edit::Limits(Limits {
                    min_coverage,
                    ..Limits::default()
                })
            }),
            (-100.0..9000.0_f64, -1.0..11.0_f64).prop_map(|(seating_force_n, friction)| {
                let mut inputs = MechanicsInputs::default();
                inputs.press_fit.seating_force_n = seating_force_n;
                inputs.press_fit.friction = friction;
                Edit::Mechanics(inputs)
            }),
            (
                -5.0..45.0_f64,
                proptest::option::of(-1.0..8.0_f64),
                95.0..170.0_f64
            )
                .prop_map(|(diameter_mm, length_mm, neck_shaft_angle_deg)| {
                    let mut joint = JointEntry::default();
                    joint.head.diameter_mm = diameter_mm;
                    joint.head.length_mm = length_mm.map(|mm| (mm / 3.5).round() * 3.5);
                    joint.stem.neck_shaft_angle_deg = neck_shaft_angle_deg;
                    Edit::Joint(Box::new(joint))
                }),
            "[a-z]{0,3}".prop_map(Edit::Notes),
            proptest::option::of("[a-z]{3}").prop_map(Edit::Instruments),
        ]
    }

    fn deeds() -> impl Strategy<Value = Vec<Deed>> {
        let deed = prop_oneof![
            3 => edit().prop_map(Deed::Apply),
            3 => edit().prop_map(Deed::Amend),
            1 => Just(Deed::Release),
            2 => Just(Deed::Undo),
            1 => Just(Deed::Redo),
        ];
        proptest::collection::vec(deed, 0..40)
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn whatever_was_done_is_undone_and_made_again_to_the_last_bit(deeds in deeds()) {
            let mut history = History::new(start());
            for deed in deeds {
                let (text, depth) = (bits(&history), history.depth());
                let refused = match deed {
                    Deed::Apply(edit) => history.apply(&edit).is_err(),
                    Deed::Amend(edit) => history.amend(&edit).is_err(),
                    Deed::Release => {
                        history.release();
                        true
                    }
                    Deed::Undo => !history.undo(),
                    Deed::Redo => !history.redo(),
                };
                prop_assert!(!refused || (bits(&history), history.depth()) == (text, depth));
                prop_assert!(history.case().check().is_ok());
            }
            while history.redo() {}
            let end = bits(&history);
            let (steps, _) = history.depth();
            let mut back = 0;
            while history.undo() {
                back += 1;
            }
            prop_assert_eq!(back, steps);
            prop_assert_eq!(bits(&history), History::new(start()).case().to_text().unwrap());
            while history.redo() {}
            prop_assert_eq!(bits(&history), end);
        }
    }
}
