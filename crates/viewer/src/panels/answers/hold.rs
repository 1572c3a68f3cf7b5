//! The page of the hold: press-fit, the bone that is left, where screws go. Estimates, told as such.

use bevy_egui::egui::{Color32, RichText, Ui};
use cupwright_procedure::Findings;
use cupwright_procedure::findings::WallFinding;
use cupwright_procedure::hold::{self, Banded, PressFitFinding};
use cupwright_procedure::quantity::Quantity;
use cupwright_procedure::screws::{self, Quadrant, QuadrantFinding, ScrewsFinding};
use cupwright_procedure::stock::{self, FallbackFinding, StockFinding};
use cupwright_report::words::{banded, clock, cm3, fixed, in_percent, percent, plate, trace};

use super::figure::{Figure, aside, large, of, row, rows};
use super::table::{self, Cell, Column, Row, number, words};
use crate::desk::command::Command;
use crate::panels::{Desk, chart, field, theme};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>, findings: &Findings) {
    let found = &findings.press_fit;
    large(ui, &[push_out(findings), gap_at_pole(findings)]);
    let told = "first-order estimates, in brackets their range";
    let meaning = format!(
        "Takes for granted: {}. The range is over published spreads of stiffness, friction and reamer size.",
        hold::ASSUMES
    );
    aside(ui, told, theme::CAUTION, &meaning);
    press_fit(ui, found);
    field::heading(ui, "Gap at the pole against seating force");
    chart::gap(ui, found);
    bone_left(ui, &findings.stock);
    fallback(ui, &findings.stock.fallback);
    screw_table(ui, desk, findings.screws.as_ref());
}

/// `610 to 2900`, with a quantity's decimals.
fn range(band: &Banded, decimals: usize) -> String {
    let [low, high] = [band.low, band.high].map(|value| fixed(value, decimals));
    format!("estimate, {low} to {high}")
}

fn push_out(findings: &Findings) -> Figure {
    let found = &findings.press_fit;
    Figure {
        name: "push-out force",
        value: of(Quantity::PushOutN, findings),
        under: range(&found.push_out_n, 0),
        colour: if found.self_retaining {
            theme::INK
        } else {
            theme::STOP
        },
        meaning: takes(Quantity::PushOutN.meaning(), hold::PUSH_OUT_ASSUMES),
    }
}

fn gap_at_pole(findings: &Findings) -> Figure {
    let gap = findings.press_fit.polar_gap_mm.as_ref();
    Figure {
        name: "gap at the pole",
        value: of(Quantity::PolarGapMm, findings),
        under: gap.map_or("no bone behind the pole".into(), |gap| range(gap, 1)),
        colour: theme::INK,
        meaning: takes(Quantity::PolarGapMm.meaning(), hold::SEATING_ASSUMES),
    }
}

/// What a number means and what it takes for granted.
fn takes(meaning: &str, assumes: &str) -> String {
    format!("{meaning}. Takes for granted: {assumes}.")
}

fn press_fit(ui: &mut Ui, found: &PressFitFinding) {
    rows(ui, "press-fit", |ui| {
        let interference = format!(
            "{} mm, {} as cut",
            fixed(found.nominal_interference_mm, 1),
            fixed(found.real_interference_mm, 1)
        );
        let meaning = "Cup diameter less that of the last reamer, and the same with the cavity as wide as reamers cut it.";
        row(ui, "interference", &interference, theme::INK, meaning);
        seating(ui, found);
        stability(ui, found);
        rim(ui, found);
    });
    let bone = format!(
        "{} bone: {} MPa, gives way at {} MPa; {}",
        found.inputs.quality,
        fixed(found.bone.modulus_mpa, 0),
        fixed(found.bone.strength_mpa, 1),
        plate(found)
    );
    aside(ui, &bone, theme::FAINT, hold::STIFFNESS_ASSUMES);
}

/// How far it goes in, and what it touches there.
fn seating(ui: &mut Ui, found: &PressFitFinding) {
    let told = |text: &str| takes(text, hold::SEATING_ASSUMES);
    let mut line = |name: &str, value: String, meaning: &str| {
        row(ui, name, &value, theme::INK, &told(meaning));
    };
    line(
        "stands proud",
        banded(&found.stands_proud_mm, 1, "mm"),
        "How far outside its planned place the cup comes to rest under the seating force",
    );
    line(
        "to the floor",
        banded(&found.force_to_floor_n, 0, "N"),
        "Force that drives the cup until its pole touches the floor of the cavity",
    );
    line(
        "to its place",
        banded(&found.force_to_planned_place_n, 0, "N"),
        "Force that drives it to its planned place, the floor pressed too",
    );
    line(
        "touches bone",
        banded(&in_percent(&found.contact_share), 0, "%"),
        "Share of the cup's round side that touches bone at rest",
    );
    line(
        "bone gives way",
        banded(&in_percent(&found.crushed_share), 0, "%"),
        "Share of what it touches where bone is pressed beyond its strength",
    );
}

/// What moves it again.
fn stability(ui: &mut Ui, found: &PressFitFinding) {
    let lever = format!("tips over {}", clock(found.tips_over_clock_h));
    let meaning = takes(Quantity::LeverOutNm.meaning(), hold::LEVER_OUT_ASSUMES);
    let value = banded(&found.lever_out_nm, 1, "Nm");
    row(ui, &lever, &value, theme::INK, &meaning);
    let meaning = takes(
        "Moment that turns the cup about its own axis",
        hold::PUSH_OUT_ASSUMES,
    );
    let value = banded(&found.torque_nm, 1, "Nm");
    row(ui, "turns in place", &value, theme::INK, &meaning);
    let meaning = takes(
        "Whether the cup stays without being held",
        hold::SELF_RETENTION_ASSUMES,
    );
    let (value, colour) = if found.self_retaining {
        ("yes", theme::GOOD)
    } else {
        ("NO", theme::STOP)
    };
    row(ui, "stays by itself", value, colour, &meaning);
    let least = "The least friction with which it stays by itself";
    let meaning = format!(
        "{least}; {} is assumed. Takes for granted: {}.",
        fixed(found.inputs.friction, 2),
        hold::SELF_RETENTION_ASSUMES
    );
    let value = banded(&found.least_friction, 2, "");
    row(ui, "friction needed", &value, theme::INK, &meaning);
}

fn rim(ui: &mut Ui, found: &PressFitFinding) {
    let name = format!("rim at {}", clock(found.hoop_strain_clock_h));
    let value = banded(&in_percent(&found.hoop_strain), 1, "%");
    let colour = if found.rim_at_risk {
        theme::CAUTION
    } else {
        theme::INK
    };
    let meaning = takes(Quantity::RimStretch.meaning(), hold::HOOP_STRAIN_ASSUMES);
    row(ui, &name, &value, colour, &meaning);
}

const WALLS: [Column; 5] = [
    words("wall", 62.0, "Which wall of the socket."),
    number(
        "left, mm",
        50.0,
        "Bone left behind the cavity at its thinnest in this direction, from 6 mm below where bone begins.",
    ),
    number("at", 40.0, "Where on the rim's clock."),
    number(
        "from pole",
        52.0,
        "Angle from the deepest point of the cavity.",
    ),
    number(
        "then, mm",
        56.0,
        "What the larger reamer of the fallback would leave.",
    ),
];

fn bone_left(ui: &mut Ui, found: &StockFinding) {
    field::heading(ui, "Bone left behind the cavity");
    let breach = found.cavity.medial_breach_mm2;
    if breach > 0.0 {
        let told = format!("medial breach: {} mm²", trace(breach, 0));
        let words = RichText::new(told).strong().color(theme::STOP);
        ui.label(words)
            .on_hover_text(Quantity::MedialBreachMm2.meaning());
    }
    for hole in &found.cavity.holes {
        let told = format!(
            "{} wall broken through over {} mm² about {}, {}° from the pole",
            hole.wall,
            trace(hole.area_mm2, 0),
            clock(hole.clock_h),
            fixed(hole.from_pole_deg, 0)
        );
        ui.label(RichText::new(told).color(theme::STOP))
            .on_hover_text("Area of the cavity behind which no bone is left.");
    }
    if found.cavity.holes.is_empty() {
        aside(
            ui,
            "no wall is broken through",
            theme::GOOD,
            Quantity::MedialBreachMm2.meaning(),
        );
    }
    table::head(ui, &WALLS);
    for wall in &found.cavity.walls {
        let cells = wall_cells(wall, &found.fallback);
        table::row(ui, &WALLS, &cells, Row::Plain, "");
    }
    table::foot(ui);
    let stock = format!(
        "{} cm³ within 10 mm behind it, {} of a whole mantle",
        fixed(cm3(found.cavity.stock_mm3), 1),
        percent(found.cavity.stock_share, 0)
    );
    aside(ui, &stock, theme::INK, stock::ASSUMES);
}

fn wall_cells(wall: &WallFinding, fallback: &FallbackFinding) -> [Cell; 5] {
    let mut spare = fallback.walls.iter();
    let then = spare.find(|spare| spare.wall == wall.wall);
    let after = match then.map(|spare| (spare.after_mm, spare.enough)) {
        Some((Some(mm), true)) => (thickness(mm), theme::INK),
        Some((Some(mm), false)) => (thickness(mm), theme::CAUTION),
        Some((None, _)) => ("not met".into(), theme::CAUTION),
        None => (String::new(), theme::INK),
    };
    let colour = if wall.thickness_mm > 0.0 {
        theme::INK
    } else {
        theme::STOP
    };
    [
        (wall.wall.to_string(), theme::INK),
        (thickness(wall.thickness_mm), colour),
        (clock(wall.clock_h), theme::INK),
        (format!("{}°", fixed(wall.from_pole_deg, 0)), theme::INK),
        after,
    ]
}

fn thickness(mm: f64) -> String {
    if mm > 0.0 {
        trace(mm, 1)
    } else {
        "through".into()
    }
}

fn fallback(ui: &mut Ui, found: &FallbackFinding) {
    let needs = &found.needs;
    let (can, colour) = if found.possible {
        ("possible", theme::GOOD)
    } else {
        ("NOT possible", theme::STOP)
    };
    let told = format!("Reaming to {} mm instead: {can}", fixed(found.reamer_mm, 0));
    let meaning = format!(
        "A cup {} mm larger needs walls of {} mm and {} in bone, and no hole. Takes for granted: {}.",
        fixed(needs.larger_mm, 1),
        fixed(needs.least_wall_mm, 1),
        percent(needs.least_contact, 0),
        stock::FALLBACK_ASSUMES
    );
    ui.label(RichText::new(told).color(colour))
        .on_hover_text(&meaning);
    let mut why: Vec<_> = found
        .walls
        .iter()
        .filter(|wall| !wall.enough)
        .map(|wall| format!("{} wall too thin", wall.wall))
        .collect();
    if found.hole_area_mm2 > 0.0 {
        why.push(format!("holes of {} mm²", trace(found.hole_area_mm2, 0)));
    }
    why.push(format!("{} in bone", percent(found.bone_share, 0)));
    aside(ui, &why.join(", "), theme::INK, &meaning);
}

const SCREWS: [Column; 4] = [
    words(
        "quadrant",
        130.0,
        "Quarters of the socket by the line from the ASIS through the cup's centre.",
    ),
    number(
        "bone, mm",
        50.0,
        "The deepest bone along any direction that a screw may take, from the cup's outer surface.",
    ),
    number(
        "longest, mm",
        58.0,
        "The longest screw that stays in bone and within what is safe in this quadrant.",
    ),
    number("at", 42.0, "Its hole on the cup's clock."),
];

fn screw_table(ui: &mut Ui, desk: &mut Desk<'_>, found: Option<&ScrewsFinding>) {
    field::heading(ui, "Screws, if it does not hold");
    let Some(found) = found else {
        aside(
            ui,
            "Quadrants are told from the ASIS, which this case does not give.",
            theme::INK,
            "A mesh file gives it with axes: Landmarks(...).",
        );
        return;
    };
    for doubt in &found.unreliable_because {
        aside(ui, doubt, theme::CAUTION, found.source);
    }
    table::head(ui, &SCREWS);
    for quadrant in &found.quadrants {
        let cells = quadrant_cells(quadrant, found);
        table::row(ui, &SCREWS, &cells, Row::Plain, quadrant.advice);
    }
    table::foot(ui);
    let (on, does) = (
        desk.view.screws,
        "Draw the longest safe screw of each quadrant over the picture, as if bone were glass",
    );
    field::toggle(
        ui,
        "draw them in the picture",
        on,
        Command::Screws,
        does,
        desk.acts,
    );
    let told = "vessels and nerves are not in the model";
    let meaning = format!("{}. Quadrants: {}.", screws::ASSUMES, found.source);
    aside(ui, told, theme::FAINT, &meaning);
}

fn quadrant_cells(found: &QuadrantFinding, screws: &ScrewsFinding) -> [Cell; 4] {
    let safe = found.best.as_ref();
    let safe = safe.filter(|_| screws.unreliable_because.is_empty());
    let longest = safe.and_then(|screw| screw.longest_safe_mm);
    let at = safe.filter(|_| longest.is_some());
    let name = format!("{}\n{}", found.quadrant, found.quadrant.in_short());
    [
        (name, colour(found.quadrant)),
        (trace(found.deepest_bone_mm, 0), theme::INK),
        (longest.map_or("none".into(), |mm| fixed(mm, 0)), theme::INK),
        (
            at.map_or(String::new(), |screw| clock(screw.clock_h)),
            theme::INK,
        ),
    ]
}

/// The colour of a quadrant: the trade's advice.
pub(in crate::panels) fn colour(quadrant: Quadrant) -> Color32 {
    match quadrant {
        Quadrant::PosteroSuperior => theme::GOOD,
        Quadrant::PosteroInferior => theme::CAUTION,
        Quadrant::AnteroSuperior | Quadrant::AnteroInferior => theme::STOP,
    }
}
