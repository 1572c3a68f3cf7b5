//! The map of motion over the direction of the cup: what each inclination and anteversion leaves.

use std::sync::LazyLock;

use bevy_egui::egui::{
    Align2, Color32, FontId, Mesh, Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, pos2, vec2,
};
use cupwright_procedure::joint::JointFinding;
use cupwright_procedure::joint::map::{MapCell, MotionMap};
use cupwright_report::words::{fixed, percent};

use super::figure::aside;
use crate::drawing::scale::Scale;
use crate::panels::theme;
use crate::scene::ground::single;

/// From what falls short to what goes beyond what is needed.
const SCALE: Scale = Scale {
    title: "motion left over",
    unit: "°",
    dark: -45.0,
    light: 15.0,
    step: 15.0,
    without: "",
};

/// How many shades the map is drawn in.
const SHADES: u8 = 64;

/// The shades from the dark end to the light: worked out once.
static COLOURS: LazyLock<Vec<Color32>> = LazyLock::new(|| {
    let share = |k: u8| f64::from(k) / f64::from(SHADES - 1);
    let value = |k| SCALE.dark + share(k) * (SCALE.light - SCALE.dark);
    let colour = |k| {
        let [r, g, b] = SCALE.rgb(value(k));
        Color32::from_rgb(r, g, b)
    };
    (0..SHADES).map(colour).collect()
});

/// Where the map lies on the screen.
struct Chart<'a> {
    map: &'a MotionMap,
    rect: Rect,
    cell: [f32; 2],
}

/// What is told of the map where the pointer is nowhere on it.
const MEANING: &str = "For every direction of the cup, with this ball and stem: the least that any movement goes beyond what is needed of it before neck and liner meet; negative where one falls short. The line runs where all that is needed is just allowed. Bone and soft tissue are not in it, nor the jump distance, which falls as the cup stands steeper.";

pub(super) fn show(ui: &mut Ui, map: &MotionMap, joint: &JointFinding) {
    let width = ui.available_width();
    let (all, response) = ui.allocate_exact_size(vec2(width, 196.0), Sense::hover());
    let rect = Rect::from_min_max(all.min + vec2(30.0, 4.0), all.max - vec2(16.0, 46.0));
    let chart = Chart::new(map, rect);
    let painter = ui.painter_at(all);
    chart.cells(&painter);
    chart.border(&painter);
    axes(&painter, &chart);
    legend(&painter, &chart);
    let best = best(map);
    let own = own(joint);
    mark_best(&painter, chart.at(best.0, best.1));
    let is_inside = own.filter(|own| chart.holds(own.0, own.1));
    if let Some((inclination, anteversion)) = is_inside {
        mark_own(&painter, chart.at(inclination, anteversion));
    }
    let pointed = response.hover_pos().and_then(|at| chart.cell_at(at));
    response.on_hover_ui(|ui| {
        ui.set_max_width(280.0);
        if let Some((inclination, anteversion, cell)) = pointed {
            ui.label(told(inclination, anteversion, cell));
        }
        ui.label(MEANING);
    });
    words(ui, map, own.is_some() && is_inside.is_none());
}

impl<'a> Chart<'a> {
    fn new(map: &'a MotionMap, rect: Rect) -> Self {
        let share = |whole: f32, count: usize| whole / f32::from(u16::try_from(count).unwrap_or(1));
        Self {
            map,
            rect,
            cell: [
                share(rect.width(), map.inclination_deg.len()),
                share(rect.height(), map.anteversion_deg.len()),
            ],
        }
    }

    /// The place of a direction; each cell lies about its own angles.
    fn at(&self, inclination: f64, anteversion: f64) -> Pos2 {
        let across = along(&self.map.inclination_deg, inclination);
        let up = along(&self.map.anteversion_deg, anteversion);
        pos2(
            self.rect.left() + self.cell[0] * (across + 0.5),
            self.rect.bottom() - self.cell[1] * (up + 0.5),
        )
    }

    fn holds(&self, inclination: f64, anteversion: f64) -> bool {
        self.rect.contains(self.at(inclination, anteversion))
    }

    fn cells(&self, painter: &Painter) {
        let mut mesh = Mesh::default();
        let size = vec2(self.cell[0], self.cell[1]);
        self.each(|place, cell, _| {
            // A hair wider, so that no seam shows.
            let rect = Rect::from_center_size(place, size + vec2(0.5, 0.5));
            mesh.add_colored_rect(rect, shade(cell.margin_deg));
        });
        painter.with_clip_rect(self.rect).add(Shape::mesh(mesh));
    }

    /// The line between what allows all that is needed and what does not.
    fn border(&self, painter: &Painter) {
        let [wide, high] = self.cell.map(|side| side / 2.0);
        let stroke = Stroke::new(1.5, Color32::WHITE);
        let allows = |cell: &MapCell| cell.margin_deg >= 0.0;
        self.each(|at, cell, [i, j]| {
            let differs = |other: &&MapCell| allows(other) != allows(cell);
            let beside = self.map.cells.get(i + 1).and_then(|row| row.get(j));
            if beside.filter(differs).is_some() {
                let x = at.x + wide;
                painter.line_segment([pos2(x, at.y - high), pos2(x, at.y + high)], stroke);
            }
            let above = self.map.cells[i].get(j + 1);
            if above.filter(differs).is_some() {
                let y = at.y - high;
                painter.line_segment([pos2(at.x - wide, y), pos2(at.x + wide, y)], stroke);
            }
        });
    }

    fn each(&self, mut show: impl FnMut(Pos2, &MapCell, [usize; 2])) {
        let rows = self.map.inclination_deg.iter().zip(&self.map.cells);
        for (i, (inclination, row)) in rows.enumerate() {
            for (j, (anteversion, cell)) in self.map.anteversion_deg.iter().zip(row).enumerate() {
                show(self.at(*inclination, *anteversion), cell, [i, j]);
            }
        }
    }

    /// The cell under the pointer, with its angles.
    fn cell_at(&self, pointer: Pos2) -> Option<(f64, f64, &MapCell)> {
        let mut found = None;
        let size = vec2(self.cell[0], self.cell[1]);
        self.each(|place, _, cell| {
            if Rect::from_center_size(place, size).contains(pointer) {
                found = Some(cell);
            }
        });
        let [i, j] = found?;
        let map = self.map;
        Some((
            map.inclination_deg[i],
            map.anteversion_deg[j],
            &map.cells[i][j],
        ))
    }
}

/// How many steps from the first of evenly spaced numbers.
fn along(numbers: &[f64], value: f64) -> f32 {
    let step = numbers
        .get(1)
        .zip(numbers.first())
        .map_or(1.0, |(b, a)| b - a);
    single((value - numbers.first().copied().unwrap_or(0.0)) / step)
}

fn shade(margin: f64) -> Color32 {
    let share = ((margin - SCALE.dark) / (SCALE.light - SCALE.dark)).clamp(0.0, 1.0);
    let below = share * f64::from(SHADES - 1) + 0.5;
    let mut shades = (0..SHADES).zip(COLOURS.iter());
    let found = shades.rfind(|(k, _)| f64::from(*k) <= below);
    found.map_or(theme::LINE, |(_, colour)| *colour)
}

fn best(map: &MotionMap) -> (f64, f64) {
    let [i, j] = map.best;
    (map.inclination_deg[i], map.anteversion_deg[j])
}

/// The cup's own radiographic angles.
fn own(joint: &JointFinding) -> Option<(f64, f64)> {
    let mut cups = joint.version.cup.iter();
    let cup = cups.find(|cup| cup.definition == "radiographic")?;
    Some((cup.inclination_deg, cup.anteversion_deg))
}

fn told(inclination: f64, anteversion: f64, cell: &MapCell) -> String {
    let left = if cell.margin_deg < 0.0 {
        format!("{}° short", fixed(-cell.margin_deg, 0))
    } else {
        format!("{}° to spare", fixed(cell.margin_deg, 0))
    };
    format!(
        "{}° / {}°: {left}, limited by {}",
        fixed(inclination, 0),
        fixed(anteversion, 0),
        cell.limiting
    )
}

fn mark_own(painter: &Painter, at: Pos2) {
    painter.circle_stroke(at, 6.0, Stroke::new(4.0, theme::INK));
    painter.circle_stroke(at, 6.0, Stroke::new(2.0, Color32::WHITE));
}

fn mark_best(painter: &Painter, at: Pos2) {
    for (wide, colour) in [(4.0, Color32::WHITE), (2.0, theme::INK)] {
        let stroke = Stroke::new(wide, colour);
        for arm in [vec2(5.0, 5.0), vec2(5.0, -5.0)] {
            painter.line_segment([at - arm, at + arm], stroke);
        }
    }
}

fn axes(painter: &Painter, chart: &Chart<'_>) {
    let font = FontId::proportional(10.5);
    let rect = chart.rect;
    let is_ten = |value: &&f64| (**value / 10.0 - (**value / 10.0).round()).abs() < 1e-6;
    for &inclination in chart.map.inclination_deg.iter().filter(is_ten) {
        let x = chart.at(inclination, 0.0).x;
        let at = pos2(x, rect.bottom() + 3.0);
        let text = format!("{}°", fixed(inclination, 0));
        painter.text(at, Align2::CENTER_TOP, text, font.clone(), theme::FAINT);
    }
    for &anteversion in chart.map.anteversion_deg.iter().filter(is_ten) {
        let y = chart.at(0.0, anteversion).y;
        let at = pos2(rect.left() - 4.0, y);
        let text = format!("{}°", fixed(anteversion, 0));
        painter.text(at, Align2::RIGHT_CENTER, text, font.clone(), theme::FAINT);
    }
    let at = rect.left_top() + vec2(5.0, 4.0);
    let white = Color32::from_white_alpha(230);
    painter.text(at, Align2::LEFT_TOP, "anteversion", font.clone(), white);
    let at = rect.right_bottom() - vec2(5.0, 4.0);
    painter.text(at, Align2::RIGHT_BOTTOM, "inclination", font, white);
}

/// The shades and their numbers.
fn legend(painter: &Painter, chart: &Chart<'_>) {
    let font = FontId::proportional(10.5);
    let left = chart.rect.left_bottom() + vec2(0.0, 19.0);
    let bar = Rect::from_min_size(left, vec2(chart.rect.width(), 8.0));
    let wide = bar.width() / f32::from(SHADES);
    for (k, colour) in (0..SHADES).zip(COLOURS.iter()) {
        let at = bar.min + vec2(wide * f32::from(k), 0.0);
        let band = Rect::from_min_size(at, vec2(wide + 0.5, bar.height()));
        painter.rect_filled(band, 0.0, *colour);
    }
    for value in SCALE.labels() {
        let share = single((value - SCALE.dark) / (SCALE.light - SCALE.dark));
        let at = pos2(bar.left() + bar.width() * share, bar.bottom() + 2.0);
        let text = match value {
            v if v > 0.0 => format!("+{}°", fixed(v, 0)),
            v => format!("{}°", fixed(v, 0)),
        };
        painter.text(at, Align2::CENTER_TOP, text, font.clone(), theme::FAINT);
    }
}

/// The best place, and how much of the map is good.
fn words(ui: &mut Ui, map: &MotionMap, is_outside: bool) {
    let (inclination, anteversion) = best(map);
    let [i, j] = map.best;
    let words = format!(
        "× best: {}",
        told(inclination, anteversion, &map.cells[i][j])
    );
    aside(ui, &words, theme::INK, MEANING);
    let free = format!(
        "○ this cup; {} of the map allow all that is needed",
        percent(map.free_share, 0)
    );
    aside(ui, &free, theme::INK, MEANING);
    if is_outside {
        aside(ui, "this cup faces beyond the map", theme::CAUTION, MEANING);
    }
    aside(
        ui,
        "motion alone: a steep cup lets the ball out sooner",
        theme::FAINT,
        MEANING,
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shades_run_from_the_dark_end_to_the_light_and_stay_there_beyond() {
        assert_eq!(shade(-90.0), COLOURS[0]);
        assert_eq!(shade(SCALE.dark), COLOURS[0]);
        assert_eq!(shade(SCALE.light), COLOURS[63]);
        assert_eq!(shade(f64::INFINITY), COLOURS[63]);
        assert_ne!(shade(-15.0), shade(-16.0));
    }

    #[test]
    fn a_cell_is_found_where_it_is_drawn() {
        use cupwright_procedure::joint::Movement;
        let cell = |margin_deg| MapCell {
            margin_deg,
            limiting: Movement::Flexion,
            needed_oscillation_deg: 120.0,
        };
        let map = MotionMap {
            inclination_deg: vec![30.0, 40.0, 50.0],
            anteversion_deg: vec![0.0, 10.0],
            cells: [-3.0, 1.0, 2.0]
                .map(|m| vec![cell(m), cell(m + 0.5)])
                .to_vec(),
            best: [2, 1],
            free_share: 2.0 / 3.0,
        };
        let rect = Rect::from_min_size(pos2(10.0, 20.0), vec2(90.0, 40.0));
        let chart = Chart::new(&map, rect);
        assert_eq!(chart.at(30.0, 0.0), pos2(25.0, 50.0));
        let (inclination, anteversion, found) = chart.cell_at(pos2(26.0, 31.0)).unwrap();
        assert!((inclination - 30.0).abs() < 1e-12 && (anteversion - 10.0).abs() < 1e-12);
        assert!((found.margin_deg + 2.5).abs() < 1e-12);
        assert!(chart.cell_at(pos2(5.0, 31.0)).is_none());
        assert!(chart.holds(52.0, 12.0) && !chart.holds(60.0, 0.0));
        assert_eq!(
            told(40.0, 10.0, &map.cells[0][1]),
            "40° / 10°: 2° short, limited by flexion"
        );
    }
}
