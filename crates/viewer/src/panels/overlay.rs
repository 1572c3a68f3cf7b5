//! Over the picture: handles, legend, notices, and the pointer's turning and moving.

use bevy_egui::egui::{
    self, Align2, Color32, CursorIcon, FontId, PointerButton, Response, Sense, Shape, Stroke,
    StrokeKind, Ui, vec2 as size,
};

use super::{Desk, pos2, screws, theme, vec2};
use crate::desk::Act;
use crate::desk::view::{From, Map};
use crate::drawing::scale::Scale;
use crate::scene::eye::Lens;
use crate::scene::handles::{Drag, Grip, Handles};

/// What the overlay remembers from frame to frame.
#[derive(Default)]
pub(super) struct Memory {
    drag: Option<Drag>,
}

pub(super) fn show(ui: &mut Ui, rect: egui::Rect, desk: &mut Desk<'_>, memory: &mut Memory) {
    let response = ui.interact(rect, ui.id().with("picture"), Sense::click_and_drag());
    let lens = Lens {
        stand: desk.eye.stand,
        rect: bevy::math::Rect::from_corners(vec2(rect.min), vec2(rect.max)),
    };
    let handles = desk
        .answers
        .bone()
        .and_then(|bone| Handles::of(desk.plan.case(), bone));
    let handles = handles.filter(|_| desk.view.handles);
    let under = grip_under(&response, handles.as_ref(), &lens, memory);
    point(
        ui,
        &response,
        handles.as_ref().zip(under),
        &lens,
        desk,
        memory,
    );
    if response.clicked() || response.drag_started() {
        ui.memory_mut(|m| {
            if let Some(id) = m.focused() {
                m.surrender_focus(id);
            }
        });
    }
    let painter = ui.painter_at(rect);
    if let Some(handles) = &handles {
        draw_handles(&painter, handles, &lens, under);
    }
    screws::draw(&painter, &lens, desk);
    if let Some(scale) = &desk.drawn.scale {
        legend(&painter, rect, scale);
    }
    caption(&painter, rect, desk);
    notice(ui, rect, desk);
}

fn grip_under(
    response: &Response,
    handles: Option<&Handles>,
    lens: &Lens,
    memory: &Memory,
) -> Option<Grip> {
    if let Some(drag) = &memory.drag {
        return Some(drag.grip);
    }
    handles?.under(vec2(response.hover_pos()?), lens)
}

/// What the pointer does: drags a handle, or turns, moves and nears the picture.
fn point(
    ui: &Ui,
    response: &Response,
    under: Option<(&Handles, Grip)>,
    lens: &Lens,
    desk: &mut Desk<'_>,
    memory: &mut Memory,
) {
    if under.is_some() {
        ui.ctx().set_cursor_icon(CursorIcon::Grab);
    }
    let pressed_at = ui.input(|input| input.pointer.press_origin());
    if response.drag_started_by(PointerButton::Primary)
        && let (Some((handles, _)), Some(at)) = (under, pressed_at)
        && let Some(grip) = handles.under(vec2(at), lens)
    {
        memory.drag = Some(handles.take(grip, vec2(at), lens, desk.plan.file().cup.centre));
    }
    if let Some(drag) = &mut memory.drag {
        if let (Some(at), Some(bone)) = (response.interact_pointer_pos(), desk.answers.bone())
            && let Some(edit) = drag.edit(vec2(at), lens, desk.plan.case(), bone)
            && desk
                .plan
                .file()
                .with(&edit)
                .is_ok_and(|file| file != *desk.plan.file())
        {
            desk.acts.push(if drag.has_moved {
                Act::Drag(edit)
            } else {
                Act::Edit(edit)
            });
            drag.has_moved = true;
        }
        if response.drag_stopped() || !response.dragged() {
            memory.drag = None;
        }
        return;
    }
    let by = vec2(response.drag_delta().to_pos2()) / lens.rect.height();
    if response.dragged_by(PointerButton::Primary) && by != bevy::math::Vec2::ZERO {
        desk.eye.orbit(by);
        desk.view.from = From::Free;
    } else if by != bevy::math::Vec2::ZERO {
        desk.eye.pan(by);
        desk.view.from = From::Free;
    }
    if response.hovered() {
        let rolled = ui.input(|input| input.smooth_scroll_delta().y);
        if rolled != 0.0 {
            desk.eye.zoom((rolled / 300.0).exp());
        }
    }
}

fn draw_handles(painter: &egui::Painter, handles: &Handles, lens: &Lens, under: Option<Grip>) {
    for grip in Grip::ALL {
        let [from, to] = handles.line(grip);
        let (Some(from), Some(to)) = (lens.seen(from), lens.seen(to)) else {
            continue;
        };
        let (from, to) = (pos2(from), pos2(to));
        let is_under = under == Some(grip);
        let colour = if is_under {
            Color32::from_rgb(220, 110, 20)
        } else {
            theme::ACCENT
        };
        let halo = Stroke::new(5.0, Color32::from_white_alpha(150));
        painter.line_segment([from, to], halo);
        painter.line_segment([from, to], Stroke::new(2.5, colour));
        if grip == Grip::Axis {
            painter.circle(to, 7.0, colour, Stroke::new(2.0, Color32::WHITE));
        } else if from.distance(to) > 8.0 {
            let along = (to - from).normalized() * 11.0;
            let side = along.rot90() * 0.45;
            let tip = vec![
                to + along * 0.4,
                to - along * 0.6 + side,
                to - along * 0.6 - side,
            ];
            painter.add(Shape::convex_polygon(
                tip,
                colour,
                Stroke::new(1.0, Color32::WHITE),
            ));
        }
        let out = if from.distance(to) > 1.0 {
            (to - from).normalized()
        } else {
            size(0.0, -1.0)
        };
        outlined(
            painter,
            to + out * 20.0,
            Align2::CENTER_CENTER,
            grip.name(),
            12.0,
            colour,
        );
    }
}

/// Words that can be read on anything.
pub(super) fn outlined(
    painter: &egui::Painter,
    at: egui::Pos2,
    align: Align2,
    words: &str,
    height: f32,
    colour: Color32,
) {
    let font = FontId::proportional(height);
    let galley = painter.layout_no_wrap(words.to_owned(), font, colour);
    let rect = align.anchor_size(at, galley.size()).expand(2.0);
    painter.rect_filled(rect, 3.0, Color32::from_white_alpha(190));
    painter.galley(rect.min + size(2.0, 2.0), galley, colour);
}

/// The colours of the map and their numbers.
fn legend(painter: &egui::Painter, rect: egui::Rect, scale: &Scale) {
    let bar = egui::Rect::from_min_size(rect.left_bottom() + size(18.0, -206.0), size(18.0, 150.0));
    let title = format!("{}, {}", scale.title, scale.unit);
    let title = painter.layout_no_wrap(title, FontId::proportional(12.0), theme::INK);
    let wide = (title.size().x - bar.width()).max(112.0);
    let back = egui::Rect::from_min_max(
        bar.min - size(10.0, 30.0),
        bar.max + size(wide + 10.0, 34.0),
    );
    painter.rect(
        back,
        4.0,
        Color32::from_white_alpha(225),
        Stroke::new(1.0, theme::LINE),
        StrokeKind::Inside,
    );
    painter.galley(bar.min - size(2.0, 24.0), title, theme::INK);
    let steps = 75_u8;
    for k in 0..steps {
        let share = f64::from(k) / f64::from(steps - 1);
        let [r, g, b] = scale.rgb(scale.dark + share * (scale.light - scale.dark));
        let top = bar.bottom() - bar.height() * f32::from(k + 1) / f32::from(steps);
        let band = egui::Rect::from_min_size(egui::pos2(bar.left(), top), size(bar.width(), 2.6));
        painter.rect_filled(band, 0.0, Color32::from_rgb(r, g, b));
    }
    for value in scale.labels() {
        let share = (value - scale.dark) / (scale.light - scale.dark);
        let y = bar.bottom() - bar.height() * crate::scene::ground::single(share);
        let at = egui::pos2(bar.right() + 8.0, y);
        let text = cupwright_report::words::fixed(value, usize::from(scale.step < 1.0));
        painter.line_segment(
            [at - size(7.0, 0.0), at - size(2.0, 0.0)],
            Stroke::new(1.0, theme::INK),
        );
        painter.text(
            at,
            Align2::LEFT_CENTER,
            text,
            FontId::proportional(12.0),
            theme::INK,
        );
    }
    if !scale.without.is_empty() {
        let at = bar.left_bottom() + size(0.0, 14.0);
        let patch = egui::Rect::from_min_size(at, size(18.0, 12.0));
        let [r, g, b] = scale.without_rgb();
        painter.rect_filled(patch, 0.0, Color32::from_rgb(r, g, b));
        painter.text(
            at + size(26.0, 6.0),
            Align2::LEFT_CENTER,
            scale.without,
            FontId::proportional(12.0),
            theme::INK,
        );
    }
}

/// What is shown, in the picture's upper left corner.
fn caption(painter: &egui::Painter, rect: egui::Rect, desk: &Desk<'_>) {
    let reamers = desk.plan.reamers();
    let step = desk.view.step.min(reamers + 1);
    let words = match step {
        0 => "untouched bone".to_owned(),
        n if n > reamers => {
            let what = match desk.view.map {
                Map::Wall | Map::Depth => "the cavity for the cup,",
                _ => "cup",
            };
            format!("{what} {} mm", desk.plan.file().cup.diameter_mm)
        }
        n => format!(
            "after reamer {n} of {reamers}, {} mm",
            desk.plan.file().reamers[n - 1].diameter_mm
        ),
    };
    let at = rect.left_top() + size(12.0, 12.0);
    outlined(painter, at, Align2::LEFT_TOP, &words, 15.0, theme::INK);
    if desk.answers.is_making_bone() {
        let at = rect.center();
        outlined(
            painter,
            at,
            Align2::CENTER_CENTER,
            "making the bone…",
            20.0,
            theme::INK,
        );
    }
}

/// What the bench has to say of the last thing asked.
fn notice(ui: &mut Ui, rect: egui::Rect, desk: &mut Desk<'_>) {
    if desk.notice.text.is_empty() {
        return;
    }
    let colour = if desk.notice.is_trouble {
        theme::STOP
    } else {
        theme::GOOD
    };
    let at = rect.right_bottom() - size(12.0, 12.0);
    let mut closed = false;
    egui::Area::new("notice".into())
        .fixed_pos(at)
        .pivot(Align2::RIGHT_BOTTOM)
        .show(ui.ctx(), |ui| {
            egui::Frame::popup(ui.style()).show(ui, |ui| {
                ui.set_max_width((rect.width() - 170.0).clamp(120.0, 420.0));
                ui.horizontal_top(|ui| {
                    if ui
                        .small_button("×")
                        .on_hover_text("Close this message")
                        .clicked()
                    {
                        closed = true;
                    }
                    let words = egui::RichText::new(&desk.notice.text).color(colour);
                    ui.add(egui::Label::new(words).wrap());
                });
            });
        });
    if closed {
        desk.notice.text.clear();
    }
}
