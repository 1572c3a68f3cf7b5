//! Keys become commands.

use bevy_egui::egui::{Context, Event, Key, Modifiers};

use crate::desk::command::BINDINGS;
use crate::desk::{Act, Command};

/// Takes the keys that were pressed since the last frame.
pub(super) fn take(ctx: &Context, acts: &mut Vec<Act>) {
    let is_typing = ctx.text_edit_focused();
    let is_focused = ctx.memory(|memory| memory.focused().is_some());
    ctx.input_mut(|input| {
        input.events.retain(|event| {
            let Event::Key {
                key,
                pressed: true,
                modifiers,
                ..
            } = event
            else {
                return true;
            };
            let command = command_of(*key, *modifiers, is_typing, is_focused);
            acts.extend(command.map(Act::Do));
            command.is_none()
        });
    });
}

/// What a key asks for; `None` where a field or a button that has the focus wants it.
fn command_of(key: Key, held: Modifiers, is_typing: bool, is_focused: bool) -> Option<Command> {
    let wanted_by_focus = matches!(
        key,
        Key::Space | Key::Enter | Key::ArrowDown | Key::ArrowUp | Key::ArrowLeft | Key::ArrowRight
    );
    if (is_typing && !held.command) || (is_focused && wanted_by_focus) {
        return None;
    }
    let bound = BINDINGS
        .iter()
        .find(|bound| bound.chord.logical_key == key && held.matches_exact(bound.chord.modifiers));
    bound.map(|bound| bound.command)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::view::Window;

    #[test]
    fn a_key_is_a_command_unless_a_field_wants_it() {
        let none = Modifiers::NONE;
        assert_eq!(
            command_of(Key::N, none, false, false),
            Some(Command::StepOn)
        );
        assert_eq!(
            command_of(Key::N, Modifiers::SHIFT, false, false),
            Some(Command::LessonOn)
        );
        assert_eq!(command_of(Key::N, none, true, true), None);
        assert_eq!(command_of(Key::ArrowUp, none, false, true), None);
        assert_eq!(
            command_of(Key::Z, Modifiers::COMMAND, true, true),
            Some(Command::Undo)
        );
        let help = Some(Command::Show(Window::Help));
        assert_eq!(command_of(Key::F1, none, false, true), help);
    }
}
