//! Tables whose rows tell what they mean where the pointer rests, and can be chosen.

use bevy_egui::egui::text::LayoutJob;
use bevy_egui::egui::{
    Align, Color32, FontId, Response, Sense, Stroke, StrokeKind, Ui, pos2, vec2,
};

use crate::panels::theme;

/// Between two columns, in points.
const GAP: f32 = 6.0;

/// Above and below the words of a row, in points.
const PAD: f32 = 1.5;

/// A column.
pub(super) struct Column {
    pub(super) head: &'static str,
    pub(super) meaning: &'static str,
    /// How wide, against the others.
    pub(super) wide: f32,
    pub(super) align: Align,
}

/// A column of words.
pub(super) const fn words(head: &'static str, wide: f32, meaning: &'static str) -> Column {
    Column {
        head,
        meaning,
        wide,
        align: Align::LEFT,
    }
}

/// A column of numbers.
pub(super) const fn number(head: &'static str, wide: f32, meaning: &'static str) -> Column {
    Column {
        align: Align::RIGHT,
        ..words(head, wide, meaning)
    }
}

/// What stands in one column of a row.
pub(super) type Cell = (String, Color32);

/// A row, and what the pointer may do with it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Row {
    /// To read.
    Plain,
    /// To choose.
    Open,
    /// The one that is chosen.
    Chosen,
}

/// The names of the columns.
pub(super) fn head(ui: &mut Ui, columns: &[Column]) {
    let heads = columns.iter().map(|c| (c.head.to_owned(), theme::FAINT));
    let heads: Vec<_> = heads.collect();
    let rect = line(ui, columns, &heads, Row::Plain, (10.5, "")).rect;
    let stroke = Stroke::new(1.0, theme::LINE);
    ui.painter().hline(rect.x_range(), rect.bottom(), stroke);
}

/// One row; `more` is told below the meaning of the column that the pointer is on.
pub(super) fn row(
    ui: &mut Ui,
    columns: &[Column],
    cells: &[Cell],
    row: Row,
    more: &str,
) -> Response {
    line(ui, columns, cells, row, (12.0, more))
}

/// The space below a table.
pub(super) fn foot(ui: &mut Ui) {
    ui.add_space(4.0);
}

fn line(
    ui: &mut Ui,
    columns: &[Column],
    cells: &[Cell],
    row: Row,
    (size, more): (f32, &str),
) -> Response {
    let whole = ui.available_width();
    let sum: f32 = columns.iter().map(|column| column.wide).sum();
    let wide = |column: &Column| whole * column.wide / sum;
    let set = |(column, (text, colour)): (&Column, &Cell)| {
        let font = FontId::proportional(size);
        let mut job = LayoutJob::simple(text.clone(), font, *colour, wide(column) - GAP);
        job.halign = column.align;
        ui.painter().layout_job(job)
    };
    let set: Vec<_> = columns.iter().zip(cells).map(set).collect();
    let high = set.iter().map(|text| text.size().y).fold(0.0, f32::max);
    let sense = match row {
        Row::Plain => Sense::hover(),
        Row::Open | Row::Chosen => Sense::click(),
    };
    let below = std::mem::replace(&mut ui.spacing_mut().item_spacing.y, 0.0);
    let (rect, response) = ui.allocate_exact_size(vec2(whole, high + 2.0 * PAD), sense);
    ui.spacing_mut().item_spacing.y = below;
    let fill = match row {
        Row::Chosen => ui.visuals().selection.bg_fill,
        Row::Open if response.hovered() => ui.visuals().widgets.inactive.weak_bg_fill,
        _ => Color32::TRANSPARENT,
    };
    let focus = if response.has_focus() {
        Stroke::new(1.5, theme::INK)
    } else {
        Stroke::NONE
    };
    ui.painter()
        .rect(rect, 2.0, fill, focus, StrokeKind::Inside);
    let mut left = rect.left();
    let mut under = None;
    for (column, text) in columns.iter().zip(set) {
        let right = left + wide(column);
        let x = match column.align {
            Align::Max => right - GAP / 2.0,
            _ => left + GAP / 2.0,
        };
        ui.painter()
            .galley(pos2(x, rect.top() + PAD), text, theme::INK);
        let is_under = |at: bevy_egui::egui::Pos2| (left..right).contains(&at.x);
        if response.hover_pos().is_some_and(is_under) {
            under = Some(column.meaning);
        }
        left = right;
    }
    let told = [under.unwrap_or_default(), more];
    let told: Vec<_> = told.into_iter().filter(|text| !text.is_empty()).collect();
    if told.is_empty() {
        response
    } else {
        response.on_hover_text(told.join("\n"))
    }
}
