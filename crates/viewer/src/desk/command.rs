//! Everything that a key, a button or a menu can ask for, with its key and what it does.

use bevy_egui::egui::{Key, KeyboardShortcut, ModifierNames, Modifiers};

use super::view::{From, Page, Window};

/// Something to do that needs no further words.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Command {
    /// Take back the last change.
    Undo,
    /// Make it again.
    Redo,
    /// Write the case to its file; ask for a name where it has none.
    Save,
    /// Show a window, or close it.
    Show(Window),
    /// Close what is in front.
    Close,
    /// One step of the plan on.
    StepOn,
    /// One step back.
    StepBack,
    /// To the untouched bone.
    FirstStep,
    /// To the cup.
    LastStep,
    /// Let the tool of the next step come in.
    Play,
    /// Look from there.
    Look(From),
    /// Section plane on or off.
    Section,
    /// Turn the section plane by so many hours.
    TurnSection(f64),
    /// Take away the other half.
    OtherHalf,
    /// Next map.
    NextMap,
    /// Bone solid, glass, hidden.
    NextBoneLook,
    /// Reamer and cup drawn at their place or not.
    Tools,
    /// Move the cup, in mm: medial, superior, anterior.
    Move([f64; 3]),
    /// Change inclination and anteversion, in degrees.
    Turn([f64; 2]),
    /// Change the cup's diameter, in mm.
    Resize(f64),
    /// Select the reamer so many places on.
    Select(i32),
    /// Change the selected reamer's diameter, in mm.
    ResizeReamer(f64),
    /// Add a reamer after the selected one.
    AddReamer,
    /// Leave out the selected reamer.
    RemoveReamer,
    /// Keep the plan as it is, to compare later ones with.
    Keep,
    /// Show what changed since.
    Compare,
    /// Larger text.
    Projector,
    /// Open or close the plan's panel.
    PlanPanel,
    /// Open or close the answers' panel.
    AnswersPanel,
    /// Draw the handles or not.
    Handles,
    /// Turn to a page of answers.
    Page(Page),
    /// Draw where screws go or not.
    Screws,
    /// Search how far the thigh moves until bone meets bone.
    BoneOnBone,
    /// One page of the lesson on.
    LessonOn,
    /// One page of the lesson back.
    LessonBack,
    /// Leave the lesson.
    LeaveLesson,
}

/// A command with its key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Binding {
    /// The key.
    pub chord: KeyboardShortcut,
    /// What it asks for.
    pub command: Command,
    /// The group of the help page that it stands in.
    pub group: Group,
    /// What it does, in a few words.
    pub does: &'static str,
}

/// A group of the help page.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Group {
    /// Cup and reamers.
    Plan,
    /// The steps of the plan.
    Steps,
    /// Camera, section, maps.
    Look,
    /// Files, undo, windows.
    File,
}

impl Group {
    /// All of them, in the order of the help page.
    pub const ALL: [Self; 4] = [Self::Plan, Self::Steps, Self::Look, Self::File];

    /// Its heading.
    pub fn heading(self) -> &'static str {
        match self {
            Self::Plan => "Cup and reamers",
            Self::Steps => "Steps",
            Self::Look => "Look",
            Self::File => "Files and windows",
        }
    }
}

/// How far one press of a key moves the cup, in mm.
pub const MOVE_MM: f64 = 0.5;

/// How far one press of a key turns the cup, in degrees.
pub const TURN_DEG: f64 = 1.0;

const fn plain(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::NONE, key)
}

const fn shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::SHIFT, key)
}

const fn ctrl(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND, key)
}

const fn bind(
    chord: KeyboardShortcut,
    command: Command,
    group: Group,
    does: &'static str,
) -> Binding {
    Binding {
        chord,
        command,
        group,
        does,
    }
}

/// Every key.
pub const BINDINGS: &[Binding] = {
    use Command as C;
    use Group::{File, Look, Plan, Steps};
    use Key as K;
    &[
        bind(
            plain(K::ArrowLeft),
            C::Move([-MOVE_MM, 0.0, 0.0]),
            Plan,
            "cup 0.5 mm lateral",
        ),
        bind(
            plain(K::ArrowRight),
            C::Move([MOVE_MM, 0.0, 0.0]),
            Plan,
            "cup 0.5 mm medial",
        ),
        bind(
            plain(K::ArrowUp),
            C::Move([0.0, MOVE_MM, 0.0]),
            Plan,
            "cup 0.5 mm superior",
        ),
        bind(
            plain(K::ArrowDown),
            C::Move([0.0, -MOVE_MM, 0.0]),
            Plan,
            "cup 0.5 mm inferior",
        ),
        bind(
            plain(K::PageUp),
            C::Move([0.0, 0.0, MOVE_MM]),
            Plan,
            "cup 0.5 mm anterior",
        ),
        bind(
            plain(K::PageDown),
            C::Move([0.0, 0.0, -MOVE_MM]),
            Plan,
            "cup 0.5 mm posterior",
        ),
        bind(
            shift(K::ArrowUp),
            C::Turn([-TURN_DEG, 0.0]),
            Plan,
            "inclination 1 degree less",
        ),
        bind(
            shift(K::ArrowDown),
            C::Turn([TURN_DEG, 0.0]),
            Plan,
            "inclination 1 degree more",
        ),
        bind(
            shift(K::ArrowLeft),
            C::Turn([0.0, -TURN_DEG]),
            Plan,
            "anteversion 1 degree less",
        ),
        bind(
            shift(K::ArrowRight),
            C::Turn([0.0, TURN_DEG]),
            Plan,
            "anteversion 1 degree more",
        ),
        bind(
            plain(K::OpenBracket),
            C::Resize(-1.0),
            Plan,
            "cup 1 mm smaller",
        ),
        bind(
            plain(K::CloseBracket),
            C::Resize(1.0),
            Plan,
            "cup 1 mm larger",
        ),
        bind(
            plain(K::Comma),
            C::Select(-1),
            Plan,
            "select the reamer before",
        ),
        bind(
            plain(K::Period),
            C::Select(1),
            Plan,
            "select the next reamer",
        ),
        bind(
            plain(K::Minus),
            C::ResizeReamer(-1.0),
            Plan,
            "selected reamer 1 mm smaller",
        ),
        bind(
            plain(K::Equals),
            C::ResizeReamer(1.0),
            Plan,
            "selected reamer 1 mm larger",
        ),
        bind(
            plain(K::Insert),
            C::AddReamer,
            Plan,
            "add a reamer after the selected one",
        ),
        bind(
            plain(K::Delete),
            C::RemoveReamer,
            Plan,
            "leave out the selected reamer",
        ),
        bind(
            plain(K::Space),
            C::Play,
            Steps,
            "let the next tool come in; stop it",
        ),
        bind(plain(K::N), C::StepOn, Steps, "one step on"),
        bind(plain(K::B), C::StepBack, Steps, "one step back"),
        bind(plain(K::Home), C::FirstStep, Steps, "the untouched bone"),
        bind(plain(K::End), C::LastStep, Steps, "the cup"),
        bind(
            plain(K::Num1),
            C::Look(From::Anterior),
            Look,
            "from the front",
        ),
        bind(
            plain(K::Num2),
            C::Look(From::Lateral),
            Look,
            "from the side",
        ),
        bind(
            plain(K::Num3),
            C::Look(From::Medial),
            Look,
            "from the midline",
        ),
        bind(
            plain(K::Num4),
            C::Look(From::Posterior),
            Look,
            "from behind",
        ),
        bind(
            plain(K::Num5),
            C::Look(From::Socket),
            Look,
            "into the socket",
        ),
        bind(
            plain(K::Num6),
            C::Look(From::Section),
            Look,
            "square to the section",
        ),
        bind(plain(K::X), C::Section, Look, "section plane on or off"),
        bind(
            plain(K::R),
            C::TurnSection(0.5),
            Look,
            "turn the section half an hour",
        ),
        bind(shift(K::R), C::TurnSection(-0.5), Look, "turn it back"),
        bind(plain(K::F), C::OtherHalf, Look, "section: the other half"),
        bind(plain(K::M), C::NextMap, Look, "next map on the surfaces"),
        bind(
            plain(K::G),
            C::NextBoneLook,
            Look,
            "bone solid, glass, hidden",
        ),
        bind(
            plain(K::T),
            C::Tools,
            Look,
            "reamer and cup shown or hidden",
        ),
        bind(plain(K::H), C::Handles, Look, "handles shown or hidden"),
        bind(
            plain(K::P),
            C::Projector,
            Look,
            "larger text for a projector",
        ),
        bind(plain(K::Q), C::PlanPanel, Look, "plan panel open or closed"),
        bind(
            plain(K::W),
            C::AnswersPanel,
            Look,
            "answers panel open or closed",
        ),
        bind(
            plain(K::Num7),
            C::Page(Page::Socket),
            Look,
            "answers: the socket",
        ),
        bind(
            plain(K::Num8),
            C::Page(Page::Hold),
            Look,
            "answers: will it hold",
        ),
        bind(
            plain(K::Num9),
            C::Page(Page::Joint),
            Look,
            "answers: the joint",
        ),
        bind(
            plain(K::S),
            C::Screws,
            Look,
            "screws' directions, with the hold",
        ),
        bind(
            plain(K::O),
            C::BoneOnBone,
            Plan,
            "search motion until bone meets bone",
        ),
        bind(ctrl(K::Z), C::Undo, File, "undo"),
        bind(ctrl(K::Y), C::Redo, File, "redo"),
        bind(
            ctrl(K::O),
            C::Show(Window::Open),
            File,
            "open a case or a bone",
        ),
        bind(ctrl(K::S), C::Save, File, "save the case"),
        bind(
            KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), K::S),
            C::Show(Window::Save),
            File,
            "save under another name",
        ),
        bind(
            ctrl(K::B),
            C::Show(Window::Bone),
            File,
            "choose a synthetic bone",
        ),
        bind(plain(K::K), C::Keep, File, "keep this plan to compare with"),
        bind(
            plain(K::C),
            C::Compare,
            File,
            "what changed since the kept plan",
        ),
        bind(plain(K::L), C::Show(Window::Lessons), File, "lessons"),
        bind(shift(K::N), C::LessonOn, File, "lesson: next page"),
        bind(shift(K::B), C::LessonBack, File, "lesson: page before"),
        bind(shift(K::L), C::LeaveLesson, File, "leave the lesson"),
        bind(
            plain(K::F1),
            C::Show(Window::Help),
            File,
            "help and every key",
        ),
        bind(plain(K::Escape), C::Close, File, "close what is in front"),
    ]
};

/// How a key is printed on a button's tooltip.
pub fn printed(chord: &KeyboardShortcut) -> String {
    chord.format(&ModifierNames::NAMES, cfg!(target_os = "macos"))
}

/// The key of a command.
pub fn key_of(command: Command) -> Option<String> {
    let bound = BINDINGS.iter().find(|b| b.command == command)?;
    Some(printed(&bound.chord))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_asks_for_two_things() {
        for (k, one) in BINDINGS.iter().enumerate() {
            for other in &BINDINGS[k + 1..] {
                assert_ne!(one.chord, other.chord, "{} and {}", one.does, other.does);
            }
        }
    }

    #[test]
    fn keys_read_as_they_are_printed_on_the_keyboard() {
        assert_eq!(key_of(Command::Undo).as_deref(), Some("Ctrl+Z"));
        assert_eq!(key_of(Command::Look(From::Socket)).as_deref(), Some("5"));
        assert_eq!(
            key_of(Command::Turn([0.0, TURN_DEG])).as_deref(),
            Some("Shift+Right")
        );
    }
}
