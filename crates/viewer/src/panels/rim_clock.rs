//! The rim of the cup as a clock face: where it runs in bone, where it stands proud, how well each
//! hour is covered.

use std::f32::consts::TAU;

use bevy_egui::egui::{
    Align2, Color32, FontId, Pos2, Sense, Shape, Stroke, StrokeKind, Ui, Vec2, vec2,
};
use cupwright_procedure::Findings;
use cupwright_report::words::{CLOCK, clock};

use super::theme;
use crate::desk::view::Section;
use crate::scene::ground::single;

/// Rim in bone.
const IN_BONE: Color32 = Color32::from_rgb(16, 92, 104);
/// Rim proud of bone.
const PROUD: Color32 = Color32::from_rgb(200, 120, 40);

/// Overhang of this many mm is drawn one tenth of the radius long.
const MM_PER_TENTH: f32 = 3.0;

/// The face in place and size.
struct Face {
    centre: Pos2,
    radius: f32,
    /// 1 where the hours run clockwise, as for a right hip; −1 for a left one.
    turn: f32,
}

impl Face {
    /// The unit vector to a clock position.
    fn toward(&self, hours: f32) -> Vec2 {
        let angle = hours / 12.0 * TAU;
        vec2(self.turn * angle.sin(), -angle.cos())
    }

    fn at(&self, hours: f32, share: f32) -> Pos2 {
        self.centre + self.toward(hours) * self.radius * share
    }

    fn arc(&self, from: f32, to: f32, share: f32, stroke: Stroke) -> Shape {
        let steps = ((to - from).abs() * 12.0).ceil().max(1.0);
        let mut points = Vec::new();
        let mut k = 0.0;
        while k <= steps {
            points.push(self.at(from + (to - from) * k / steps, share));
            k += 1.0;
        }
        Shape::line(points, stroke)
    }
}

pub(super) fn show(ui: &mut Ui, findings: &Findings, section: &Section) {
    let width = ui.available_width();
    let side = width.min(240.0);
    let (rect, response) = ui.allocate_exact_size(vec2(width, side), Sense::hover());
    let face = Face {
        centre: rect.center(),
        radius: 0.31 * side,
        turn: if findings.bone.side == "left" {
            -1.0
        } else {
            1.0
        },
    };
    let painter = ui.painter_at(rect);
    let cup = &findings.cup;
    for (hour, coverage) in (0_u8..12).zip(cup.coverage_by_hour) {
        sector(&painter, &face, f32::from(hour), coverage);
    }
    painter.add(face.arc(0.0, 12.0, 1.0, Stroke::new(2.0, PROUD)));
    for [from, to] in &cup.rim_arcs_deg {
        let (from, to) = (single(from / 30.0), single(to / 30.0));
        painter.add(face.arc(from, to, 1.0, Stroke::new(6.0, IN_BONE)));
    }
    for place in cup.overhang.iter().filter(|place| place.proud_mm > 0.0) {
        let hour = single(place.clock_h);
        let long = 0.1 * single(place.proud_mm) / MM_PER_TENTH;
        let ends = [face.at(hour, 1.0), face.at(hour, 1.0 + long.min(0.3))];
        painter.line_segment(ends, Stroke::new(3.0, PROUD));
    }
    if section.on {
        let hour = single(section.hour);
        let ends = [face.at(hour, 0.97), face.at(hour + 6.0, 0.97)];
        painter.extend(Shape::dashed_line(
            &ends,
            Stroke::new(1.5, theme::INK),
            5.0,
            4.0,
        ));
    }
    words(&painter, &face);
    let hour = response.hover_pos().map(|at| hour_at(&face, at));
    response.on_hover_ui(|ui| tooltip(ui, findings, hour));
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        key(ui, IN_BONE, "rim in bone");
        key(ui, PROUD, "proud of bone (spokes: how far)");
    });
}

/// One of twelve sectors: its shade tells how much of it lies in bone.
fn sector(painter: &bevy_egui::egui::Painter, face: &Face, hour: f32, coverage: f64) {
    let shade = |share: f64| {
        let mix = |bare: f64, full: f64| bare + (full - bare) * share.clamp(0.0, 1.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "0 to 255"
        )]
        let byte = |bare, full| mix(bare, full) as u8;
        Color32::from_rgb(byte(250.0, 150.0), byte(232.0, 190.0), byte(206.0, 194.0))
    };
    let mut points = vec![face.centre];
    for k in 0_u8..=4 {
        points.push(face.at(hour - 0.5 + f32::from(k) / 4.0, 0.96));
    }
    let line = Stroke::new(1.0, theme::PAPER);
    painter.add(Shape::convex_polygon(points, shade(coverage), line));
    let at = face.at(hour, 0.68);
    let text = format!("{:.0}", 100.0 * coverage);
    painter.text(
        at,
        Align2::CENTER_CENTER,
        text,
        FontId::proportional(10.0),
        theme::FAINT,
    );
}

fn words(painter: &bevy_egui::egui::Painter, face: &Face) {
    let font = FontId::proportional(12.5);
    for (hour, text) in [(0.0, "12"), (3.0, "3"), (6.0, "6"), (9.0, "9")] {
        let at = face.at(hour, 1.0) - face.toward(hour) * 11.0;
        painter.text(at, Align2::CENTER_CENTER, text, font.clone(), theme::INK);
    }
    let small = FontId::proportional(11.0);
    // Beyond the longest spoke.
    let far = 1.34;
    painter.text(
        face.at(0.0, far),
        Align2::CENTER_CENTER,
        "superior",
        small.clone(),
        theme::FAINT,
    );
    painter.text(
        face.at(6.0, far),
        Align2::CENTER_CENTER,
        "inferior",
        small.clone(),
        theme::FAINT,
    );
    painter.text(
        face.at(3.0, 1.05 * far),
        Align2::CENTER_CENTER,
        "anterior",
        small.clone(),
        theme::FAINT,
    );
    painter.text(
        face.at(9.0, 1.05 * far),
        Align2::CENTER_CENTER,
        "posterior",
        small,
        theme::FAINT,
    );
}

fn key(ui: &mut Ui, colour: Color32, words: &str) {
    let (rect, _) = ui.allocate_exact_size(vec2(14.0, 10.0), Sense::hover());
    let bar = rect.shrink2(vec2(0.0, 2.5));
    ui.painter()
        .rect(bar, 1.0, colour, Stroke::NONE, StrokeKind::Inside);
    ui.label(bevy_egui::egui::RichText::new(words).small());
}

fn hour_at(face: &Face, at: Pos2) -> f32 {
    let off = at - face.centre;
    (face.turn * off.x).atan2(-off.y).rem_euclid(TAU) / TAU * 12.0
}

fn tooltip(ui: &mut Ui, findings: &Findings, hour: Option<f32>) {
    ui.set_max_width(280.0);
    let cup = &findings.cup;
    if let Some(hour) = hour {
        let near = |at: f64| {
            let off = (at - f64::from(hour)).rem_euclid(12.0);
            off.min(12.0 - off)
        };
        let sector = (0_u8..12).zip(cup.coverage_by_hour);
        let sector = sector.min_by(|a, b| near(f64::from(a.0)).total_cmp(&near(f64::from(b.0))));
        if let Some((hour, coverage)) = sector {
            ui.label(format!(
                "{}: {:.0} % of the cup about this hour lies in bone",
                clock(hour.into()),
                100.0 * coverage
            ));
        }
        let place = cup
            .overhang
            .iter()
            .min_by(|a, b| near(a.clock_h).total_cmp(&near(b.clock_h)));
        if let Some(place) = place {
            let hour = clock(place.clock_h);
            ui.label(format!(
                "{hour}: the edge stands {:.1} mm proud",
                place.proud_mm
            ));
        }
    }
    ui.label(pos_note(findings));
}

fn pos_note(findings: &Findings) -> String {
    let hand = if findings.bone.side == "left" {
        "the hours run anticlockwise, as they lie on a left hip"
    } else {
        "the hours run clockwise"
    };
    format!("{}; {hand}.", CLOCK.trim_end_matches('.'))
}
