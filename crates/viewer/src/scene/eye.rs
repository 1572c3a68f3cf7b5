//! Where the picture is looked at from.

use std::f32::consts::FRAC_PI_2;

use bevy::math::{Mat3, Quat, Rect, Vec2, Vec3};
use bevy::prelude::Resource;

/// The angle of view from top to bottom, in radians: long enough a lens that shapes keep theirs.
pub(crate) const FIELD_OF_VIEW: f32 = 0.42;

/// How long a turn to a named view takes, in seconds.
const TURN_S: f32 = 0.35;

/// The least and most that is seen from top to bottom, in units of the scene.
const SPANS: [f32; 2] = [0.3, 20.0];

/// A place to look from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stand {
    /// What is in the middle of the picture.
    pub(crate) focus: Vec3,
    /// How the camera is turned: it looks along its own −z.
    pub(crate) turn: Quat,
    /// What is seen from top to bottom at the focus, in units of the scene.
    pub(crate) span: f32,
}

impl Stand {
    /// Looks at `focus` from the direction `from`, with `up` as nearly upward as it can be.
    pub(crate) fn toward(focus: Vec3, from: Vec3, up: Vec3, span: f32) -> Self {
        let back = from.normalize_or(Vec3::Z);
        let right = up.cross(back).normalize_or(back.any_orthonormal_vector());
        let turn = Quat::from_mat3(&Mat3::from_cols(right, back.cross(right), back));
        Self { focus, turn, span }
    }

    fn distance(&self) -> f32 {
        self.span / 2.0 / (FIELD_OF_VIEW / 2.0).tan()
    }

    /// Where the camera stands.
    pub(crate) fn place(&self) -> Vec3 {
        self.focus + self.turn * Vec3::Z * self.distance()
    }
}

/// The camera, and where it is going.
#[derive(Clone, Debug, Resource)]
pub(crate) struct Eye {
    pub(crate) stand: Stand,
    going: Option<(Stand, Stand, f32)>,
}

impl Eye {
    pub(crate) fn at(stand: Stand) -> Self {
        Self { stand, going: None }
    }

    /// Turns there, over a few frames.
    pub(crate) fn go(&mut self, to: Stand) {
        self.going = Some((self.stand, to, 0.0));
    }

    /// Stands there at once.
    pub(crate) fn jump(&mut self, to: Stand) {
        *self = Self::at(to);
    }

    /// Goes on with a turn.
    pub(crate) fn pass(&mut self, seconds: f32) {
        let Some((from, to, gone)) = &mut self.going else {
            return;
        };
        *gone = (*gone + seconds / TURN_S).min(1.0);
        let share = *gone * *gone * (3.0 - 2.0 * *gone);
        self.stand = Stand {
            focus: from.focus.lerp(to.focus, share),
            turn: from.turn.slerp(to.turn, share),
            span: from.span + (to.span - from.span) * share,
        };
        if *gone >= 1.0 {
            self.going = None;
        }
    }

    /// Turns about the focus: `by` in heights of the picture, half a turn each.
    pub(crate) fn orbit(&mut self, by: Vec2) {
        self.going = None;
        let half_turn = 2.0 * FRAC_PI_2;
        let level = Quat::from_rotation_y(-by.x * half_turn);
        let lift = Quat::from_axis_angle(self.stand.turn * Vec3::X, -by.y * half_turn);
        self.stand.turn = (level * lift * self.stand.turn).normalize();
    }

    /// Moves sideways: `by` in heights of the picture.
    pub(crate) fn pan(&mut self, by: Vec2) {
        self.going = None;
        let step = Vec3::new(-by.x, by.y, 0.0) * self.stand.span;
        self.stand.focus += self.stand.turn * step;
    }

    /// Comes nearer by a factor.
    pub(crate) fn zoom(&mut self, factor: f32) {
        self.going = None;
        self.stand.span = (self.stand.span / factor).clamp(SPANS[0], SPANS[1]);
    }
}

/// Between the scene and a picture of it on the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Lens {
    pub(crate) stand: Stand,
    /// The picture's rectangle on the screen, y downward.
    pub(crate) rect: Rect,
}

impl Lens {
    fn scale(&self) -> f32 {
        self.rect.height() / 2.0 / (FIELD_OF_VIEW / 2.0).tan()
    }

    /// Where a place is seen; `None` behind the camera.
    pub(crate) fn seen(&self, place: Vec3) -> Option<Vec2> {
        let v = self.stand.turn.inverse() * (place - self.stand.place());
        (v.z < -1e-4).then(|| self.rect.center() + Vec2::new(v.x, -v.y) / -v.z * self.scale())
    }

    /// From the camera through a place on the screen: origin and direction.
    pub(crate) fn ray(&self, seen: Vec2) -> (Vec3, Vec3) {
        let off = (seen - self.rect.center()) / self.scale();
        let along = self.stand.turn * Vec3::new(off.x, -off.y, -1.0).normalize();
        (self.stand.place(), along)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lens() -> Lens {
        let stand = Stand::toward(
            Vec3::new(1.0, 2.0, 3.0),
            Vec3::new(0.3, 0.2, 1.0),
            Vec3::Y,
            4.0,
        );
        Lens {
            stand,
            rect: Rect::new(100.0, 50.0, 900.0, 650.0),
        }
    }

    #[test]
    fn the_focus_is_in_the_middle_and_the_span_fills_the_height() {
        let lens = lens();
        let seen = lens.seen(lens.stand.focus).unwrap();
        assert!(seen.distance(Vec2::new(500.0, 350.0)) < 1e-3);
        let top = lens
            .seen(lens.stand.focus + lens.stand.turn * Vec3::Y * 2.0)
            .unwrap();
        assert!(top.distance(Vec2::new(500.0, 50.0)) < 1e-2, "{top}");
        assert_eq!(lens.seen(lens.stand.place() * 2.0 - lens.stand.focus), None);
    }

    #[test]
    fn a_ray_runs_through_what_is_seen() {
        let lens = lens();
        let place = Vec3::new(0.4, 2.6, 2.9);
        let (from, along) = lens.ray(lens.seen(place).unwrap());
        assert!((place - from).cross(along).length() < 1e-4);
    }

    #[test]
    fn a_turn_ends_where_it_was_to_go() {
        let mut eye = Eye::at(lens().stand);
        let to = Stand::toward(Vec3::ZERO, Vec3::X, Vec3::Y, 2.0);
        eye.go(to);
        for _ in 0..60 {
            eye.pass(1.0 / 60.0);
        }
        assert!(eye.stand.place().distance(to.place()) < 1e-4);
        assert!((eye.stand.turn * Vec3::Y).distance(Vec3::Y) < 1e-4);
    }
}
