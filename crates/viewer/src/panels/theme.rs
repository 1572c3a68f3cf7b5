//! Colours and sizes of the panels: dark on paper, so that a projector shows it.

use bevy_egui::egui::{
    Color32, Context, CornerRadius, FontFamily, FontId, Stroke, TextStyle, Visuals,
};

pub(super) const PAPER: Color32 = Color32::from_rgb(246, 244, 239);
pub(super) const INK: Color32 = Color32::from_rgb(28, 36, 40);
pub(super) const FAINT: Color32 = Color32::from_rgb(96, 104, 106);
pub(super) const LINE: Color32 = Color32::from_rgb(204, 200, 190);
pub(super) const ACCENT: Color32 = Color32::from_rgb(16, 92, 104);
pub(super) const STOP: Color32 = Color32::from_rgb(160, 38, 24);
pub(super) const CAUTION: Color32 = Color32::from_rgb(138, 88, 0);
pub(super) const GOOD: Color32 = Color32::from_rgb(24, 98, 58);
/// The kept plan, here and in the picture.
pub(super) const KEPT: Color32 = Color32::from_rgb(190, 96, 30);

/// How much larger everything is for the back of a room.
pub(super) const PROJECTOR: f32 = 1.4;

/// Sets colours and text sizes.
pub(super) fn set(ctx: &Context) {
    let mut visuals = Visuals::light();
    visuals.panel_fill = PAPER;
    visuals.window_fill = PAPER;
    visuals.override_text_color = Some(INK);
    visuals.selection.bg_fill = Color32::from_rgb(178, 214, 216);
    visuals.selection.stroke = Stroke::new(1.0, ACCENT);
    visuals.hyperlink_color = ACCENT;
    visuals.window_corner_radius = CornerRadius::same(4);
    visuals.widgets.noninteractive.bg_stroke = Stroke::new(1.0, LINE);
    visuals.widgets.inactive.weak_bg_fill = Color32::from_rgb(232, 229, 221);
    visuals.widgets.inactive.bg_fill = Color32::from_rgb(232, 229, 221);
    ctx.set_visuals(visuals);
    ctx.all_styles_mut(|style| {
        let sizes = [
            (TextStyle::Small, 11.0),
            (TextStyle::Body, 13.5),
            (TextStyle::Button, 13.5),
            (TextStyle::Heading, 16.0),
        ];
        for (text, size) in sizes {
            style
                .text_styles
                .insert(text, FontId::new(size, FontFamily::Proportional));
        }
        style.spacing.item_spacing = [7.0, 5.0].into();
        style.interaction.tooltip_delay = 0.35;
    });
}
