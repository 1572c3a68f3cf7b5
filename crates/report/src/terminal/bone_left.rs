//! The bone that is left: walls, holes, and what a larger cup would find.

use cupwright_procedure::Findings;
use cupwright_procedure::findings::WallFinding;
use cupwright_procedure::stock::{FallbackFinding, HoleFinding, StockFinding};

use super::page::{Line, Page, Tone};
use crate::words::{clock, cm3, fixed, percent, trace};

const LABEL: usize = 10;

/// Walls and stock behind the cavity.
pub(super) fn block(page: &mut Page, findings: &Findings) {
    let stock = &findings.stock;
    page.heading("BONE LEFT BEHIND THE CAVITY");
    if stock.cavity.walls.is_empty() {
        page.paragraph("The reamers met no wall.");
    } else {
        let fallback = format!("then, reamed\nto {} mm", fixed(stock.fallback.reamer_mm, 0));
        let heads = [
            "wall",
            "thinnest\nmm",
            "\nat",
            "from the deep-\nest point",
            &fallback,
        ];
        let rows = stock.cavity.walls.iter().map(|wall| row(wall, stock));
        page.table(&heads, &[0], rows.collect());
    }
    page.lines(LABEL, &lines(stock));
}

/// Everything said of the bone as a whole.
pub(crate) fn lines(stock: &StockFinding) -> Vec<Line> {
    let holes = &stock.cavity.holes;
    let told: Vec<_> = holes.iter().map(hole).collect();
    vec![
        if holes.is_empty() {
            Line::plain("Holes", "none".into())
        } else {
            Line::toned("HOLES", told.join("; "), Tone::Alarm)
        },
        Line::plain("Stock", left(stock)),
        Line::plain("Fallback", fallback(&stock.fallback)),
    ]
}

/// A wall, as the reamers left it and as the fallback would.
pub(crate) fn row(wall: &WallFinding, stock: &StockFinding) -> Vec<String> {
    let mut spare = stock.fallback.walls.iter();
    let then = spare.find(|spare| spare.wall == wall.wall);
    let then = then.map_or(String::new(), |spare| match spare.after_mm {
        Some(mm) => thickness(mm),
        None => "not met".into(),
    });
    vec![
        wall.wall.to_string(),
        thickness(wall.thickness_mm),
        clock(wall.clock_h),
        format!("{}°", fixed(wall.from_pole_deg, 0)),
        then,
    ]
}

fn thickness(mm: f64) -> String {
    if mm > 0.0 {
        trace(mm, 1)
    } else {
        "through".into()
    }
}

fn hole(hole: &HoleFinding) -> String {
    format!(
        "{} wall BROKEN THROUGH over {} mm² about {}, {}° from the deepest point",
        hole.wall,
        trace(hole.area_mm2, 0),
        clock(hole.clock_h),
        fixed(hole.from_pole_deg, 0)
    )
}

fn left(stock: &StockFinding) -> String {
    let cavity = &stock.cavity;
    format!(
        "{} of the last reamer's round side is bone; {} cm³ lie within 10 mm behind it, {} of what bone \
         all around would give",
        percent(cavity.bone_share, 0),
        fixed(cm3(cavity.stock_mm3), 1),
        percent(cavity.stock_share, 0)
    )
}

fn fallback(found: &FallbackFinding) -> String {
    let needs = &found.needs;
    let needed = format!(
        "a cup {} mm larger, which needs walls of {} mm and {} in bone",
        fixed(needs.larger_mm, 1),
        fixed(needs.least_wall_mm, 1),
        percent(needs.least_contact, 0)
    );
    if found.possible {
        return format!(
            "possible: {needed}, would have {}",
            percent(found.bone_share, 0)
        );
    }
    let mut short: Vec<_> = found
        .walls
        .iter()
        .filter(|wall| !wall.enough)
        .map(|wall| format!("{} wall too thin", wall.wall))
        .collect();
    if found.bone_share < needs.least_contact {
        short.push(format!("only {} in bone", percent(found.bone_share, 0)));
    }
    if found.hole_area_mm2 > 0.0 {
        short.push(format!("holes of {} mm²", trace(found.hole_area_mm2, 0)));
    }
    format!("NOT possible: {needed}: {}", short.join(", "))
}
