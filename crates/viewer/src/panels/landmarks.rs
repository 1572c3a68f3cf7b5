//! Landmarks over the picture: where they are, and the click that puts one there.

use bevy::math::Vec2;
use bevy_egui::egui::{self, Align2, Color32, CursorIcon, PointerButton, Response, Stroke, Ui};
use cupwright_anatomy::Side;
use cupwright_anatomy::guess::{Mark, Sureness};
use cupwright_geometry::crossing::intervals_inside;
use cupwright_procedure::Bone;
use nalgebra::{Point3, UnitVector3};

use super::overlay::outlined;
use super::{Desk, pos2, theme, vec2};
use crate::desk::Act;
use crate::desk::view::Page;
use crate::scene::eye::Lens;
use crate::scene::ground::{Ground, UNIT_MM, single};

/// What a landmark is called where there is little room.
pub(super) fn called(mark: Mark, side: Side) -> String {
    let mark = match mark {
        Mark::Asis => "ASIS",
        Mark::PubicTubercle => "pubic tubercle",
        Mark::Psis => "PSIS",
    };
    format!("{side} {mark}")
}

/// The colour for how sure something is.
pub(super) fn colour(sureness: Sureness) -> Color32 {
    match sureness {
        Sureness::Good => theme::GOOD,
        Sureness::Fair => theme::CAUTION,
        Sureness::Doubtful => theme::STOP,
    }
}

/// Draws the landmarks while their page is open: full where they are seen, hollow behind bone.
pub(super) fn draw(painter: &egui::Painter, lens: &Lens, desk: &Desk<'_>) {
    if desk.view.page != Page::Landmarks {
        return;
    }
    let (Some(bone), Some(survey)) = (desk.answers.bone(), &desk.landmarking.survey) else {
        return;
    };
    let ground = Ground::of(bone);
    for (mark, side) in Mark::sided() {
        let estimate = survey.guess().estimate(mark, side);
        let Some(seen) = lens.seen(ground.point(&estimate.at)) else {
            continue;
        };
        let is_armed = desk.landmarking.armed == Some((mark, side));
        let colour = colour(estimate.sureness());
        let fill = if is_hidden(bone, &ground, lens, &estimate.at) {
            Color32::from_white_alpha(120)
        } else {
            colour
        };
        let at = pos2(seen);
        painter.circle(
            at,
            if is_armed { 8.0 } else { 5.5 },
            fill,
            Stroke::new(2.0, colour),
        );
        // The sides apart, since from the side both lie at one place.
        let off = if side == Side::Right { -17.0 } else { 17.0 };
        let beside = at + egui::vec2(0.0, off);
        outlined(
            painter,
            beside,
            Align2::CENTER_CENTER,
            &called(mark, side),
            12.0,
            colour,
        );
    }
}

/// Whether bone lies between the camera and a place.
fn is_hidden(bone: &Bone, ground: &Ground, lens: &Lens, at: &Point3<f64>) -> bool {
    /// What a landmark may lie below the surface and still be seen, in mm.
    const SHALLOW: f64 = 3.0;
    let eye = ground.place(lens.stand.place());
    let distance = (at - eye).norm();
    let along = UnitVector3::try_new(at - eye, f64::MIN_POSITIVE);
    let first = along.and_then(|along| first_bone(bone, &eye, &along));
    first.is_some_and(|first| first < distance - SHALLOW)
}

fn first_bone(bone: &Bone, from: &Point3<f64>, along: &UnitVector3<f64>) -> Option<f64> {
    let inside = intervals_inside(&bone.solid, from, along);
    inside.first().map(|[start, _]| *start)
}

/// The place on bone, in its own coordinates, that is seen at a place on the screen.
fn pointed_at(bone: &Bone, lens: &Lens, seen: Vec2) -> Option<Point3<f64>> {
    let ground = Ground::of(bone);
    let (from, ray) = lens.ray(seen);
    let (from, ahead) = (
        ground.place(from),
        ground.place(from + ray * single(1000.0 / UNIT_MM)),
    );
    let along = UnitVector3::try_new(ahead - from, f64::MIN_POSITIVE)?;
    first_bone(bone, &from, &along).map(|distance| from + along.into_inner() * distance)
}

/// Puts the landmark that waits for its place where the picture is clicked.
pub(super) fn point(ui: &Ui, response: &Response, lens: &Lens, desk: &mut Desk<'_>) {
    let Some((mark, side)) = desk.landmarking.armed else {
        return;
    };
    if response.hovered() {
        ui.ctx().set_cursor_icon(CursorIcon::Crosshair);
    }
    if !response.clicked_by(PointerButton::Primary) {
        return;
    }
    let (Some(at), Some(bone)) = (response.interact_pointer_pos(), desk.answers.bone()) else {
        return;
    };
    match pointed_at(bone, lens, vec2(at)) {
        Some(place) => desk.acts.push(Act::Put(place)),
        None => {
            let told = format!(
                "there is no bone there; click on the {}, or press Esc",
                called(mark, side)
            );
            desk.notice.trouble(told);
        }
    }
}

/// What a click does now, for the caption.
pub(super) fn waiting_for(desk: &Desk<'_>) -> Option<String> {
    let (mark, side) = desk.landmarking.armed?;
    Some(format!(
        "click on the {}; Esc leaves it where it is",
        called(mark, side)
    ))
}
