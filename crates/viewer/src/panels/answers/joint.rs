//! The page of the joint: leg length and offset, balls, liner, motion, version.

use bevy_egui::egui::{RichText, Ui};
use cupwright_procedure::Findings;
use cupwright_procedure::joint::length::{BallFinding, LengthFinding, signed};
use cupwright_procedure::joint::liner::{LinerFinding, TradeFinding, Verdict};
use cupwright_procedure::joint::version::VersionFinding;
use cupwright_procedure::joint::{JointFinding, OffsetChoice};
use cupwright_procedure::quantity::Quantity;
use cupwright_report::words::{fixed, sum_asked, way};

use super::figure::{Figure, aside, large, of, row, rows};
use super::table::{self, Cell, Column, Row, number, words};
use super::{motion, motion_map};
use crate::desk::{Act, Plan};
use crate::panels::{Desk, field, theme};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>, findings: &Findings) {
    let Some(joint) = &findings.joint else {
        let why = findings.no_joint.as_deref().unwrap_or("not looked at");
        ui.label(RichText::new("No joint").size(27.0).color(theme::STOP));
        ui.label(RichText::new(why).color(theme::STOP)).on_hover_text(
            "Liner, ball and stem are fields of the plan's panel; all other answers stay what they are.",
        );
        return;
    };
    large(ui, &lengths(findings, &joint.length));
    balls(ui, desk.plan, &joint.length, desk.acts);
    liner(ui, desk.plan, joint, desk.acts);
    motion::show(ui, desk, joint);
    field::heading(ui, "Where the cup may face");
    if let Some(map) = desk.answers.map.clone() {
        motion_map::show(ui, &map, joint);
    } else {
        aside(ui, "no motion is asked for", theme::FAINT, "");
    }
    version(ui, &joint.version);
}

fn lengths(findings: &Findings, found: &LengthFinding) -> [Figure; 2] {
    let ball = found.balls.get(found.chosen);
    let with = ball.map_or(String::new(), |ball| {
        format!(
            "ball {}, {}",
            signed(ball.ball_mm),
            version_name(ball.version)
        )
    });
    let figure = |name, quantity: Quantity, mm: Option<f64>, ways: [&str; 2]| {
        let told = mm.map_or(String::new(), |mm| way(mm, ways[0], ways[1]));
        let (value, under) = match told.split_once(" mm ") {
            Some((_, way)) => (of(quantity, findings), format!("{way}: {with}")),
            None => (told, with.clone()),
        };
        Figure {
            name,
            value: value.trim_start_matches('-').to_owned(),
            under,
            colour: theme::INK,
            meaning: format!("{}. Against the native joint.", quantity.meaning()),
        }
    };
    let (leg, offset) = (
        ball.map(|ball| ball.leg_length_mm),
        ball.map(|ball| ball.total_offset_mm),
    );
    [
        figure("leg", Quantity::LegLengthMm, leg, ["longer", "shorter"]),
        figure(
            "total offset",
            Quantity::TotalOffsetMm,
            offset,
            ["more", "less"],
        ),
    ]
}

fn version_name(version: OffsetChoice) -> &'static str {
    match version {
        OffsetChoice::Standard => "standard",
        OffsetChoice::High => "high offset",
    }
}

const BALLS: [Column; 5] = [
    number("ball", 34.0, "Length of the ball along the neck, in mm."),
    words(
        "version",
        66.0,
        "Version of the stem: the head of the high one stands farther from the shaft, at the same height.",
    ),
    number(
        "leg, mm",
        52.0,
        "Change of leg length against the native joint; longer is positive.",
    ),
    number(
        "offset, mm",
        58.0,
        "Change of total offset, from the midline to the shaft; more is positive.",
    ),
    number(
        "off target",
        56.0,
        "Distance from the target: leg length and offset as the legs of a right triangle (assumed: both count alike).",
    ),
];

/// Every ball on every version; a click takes it.
fn balls(ui: &mut Ui, plan: &Plan, found: &LengthFinding, acts: &mut Vec<Act>) {
    field::heading(ui, "Balls: a click takes one");
    table::head(ui, &BALLS);
    for (k, ball) in found.balls.iter().enumerate() {
        let look = if k == found.chosen {
            Row::Chosen
        } else {
            Row::Open
        };
        let response = table::row(
            ui,
            &BALLS,
            &ball_cells(ball, k == found.best),
            look,
            &ball.said,
        );
        if response.clicked() {
            acts.push(Act::Edit(plan.ball(Some((ball.ball_mm, ball.version)))));
        }
    }
    table::foot(ui);
    let (file, cup) = (plan.file(), &found.cup);
    if file.head.length_mm.is_some() || file.stem.offset.is_some() {
        let hint = "Leave the choice open: the ball nearest to the leg length and offset asked for is taken, whatever the cup does.";
        let response = ui.small_button("take the nearest to the target");
        if response.on_hover_text(hint).clicked() {
            acts.push(Act::Edit(plan.ball(None)));
        }
    } else {
        let hint = "No ball is fixed: this one is nearest to the leg length and offset asked for.";
        aside(
            ui,
            "chosen as the nearest to the target",
            theme::FAINT,
            hint,
        );
    }
    let alone = format!(
        "the cup alone: leg {}, offset {}",
        way(cup.leg_length_mm, "longer", "shorter"),
        way(cup.total_offset_mm, "more", "less")
    );
    let hint = "What the place of the cup and its liner does by itself, whatever the stem.";
    aside(ui, &alone, theme::FAINT, hint);
}

fn ball_cells(ball: &BallFinding, is_best: bool) -> [Cell; 5] {
    let miss = if is_best { theme::GOOD } else { theme::INK };
    let change = |mm: f64| match fixed(mm, 1) {
        told if told.starts_with('-') || told == "0.0" => told,
        told => format!("+{told}"),
    };
    [
        (signed(ball.ball_mm), theme::INK),
        (version_name(ball.version).into(), theme::INK),
        (change(ball.leg_length_mm), theme::INK),
        (change(ball.total_offset_mm), theme::INK),
        (fixed(ball.miss_mm, 1), miss),
    ]
}

const HEADS: [Column; 5] = [
    number(
        "ball, mm",
        50.0,
        "Diameter of the ball; the bore goes with it.",
    ),
    number("wall, mm", 48.0, "Polyethylene at its thinnest."),
    number(
        "jump, mm",
        52.0,
        "How far the ball's centre must move sideways to leave the liner.",
    ),
    number(
        "swing",
        42.0,
        "The angle through which the neck swings between opposite places of the edge.",
    ),
    words("", 56.0, "What the wall allows."),
];

fn liner(ui: &mut Ui, plan: &Plan, joint: &JointFinding, acts: &mut Vec<Act>) {
    let found = &joint.liner;
    field::heading(ui, "Liner: a click takes another ball");
    rows(ui, "liner", |ui| {
        let mm = |mm: f64| format!("{} mm", fixed(mm, 1));
        let wall = format!(
            "{}, {} at the pole",
            mm(found.wall_mm),
            fixed(found.wall_at_pole_mm, 1)
        );
        let meaning = Quantity::LinerWallMm.meaning();
        row(ui, "wall", &wall, theme::INK, meaning);
        let jump = mm(found.jump_distance_mm);
        let meaning = Quantity::JumpDistanceMm.meaning();
        row(ui, "jump distance", &jump, theme::INK, meaning);
    });
    table::head(ui, &HEADS);
    for trade in &found.trade {
        let look = if is_own(trade, found) {
            Row::Chosen
        } else {
            Row::Open
        };
        if table::row(ui, &HEADS, &head_cells(trade), look, "").clicked() {
            acts.push(Act::Edit(plan.head(trade.head_diameter_mm)));
        }
    }
    table::foot(ui);
}

fn is_own(trade: &TradeFinding, found: &LinerFinding) -> bool {
    (trade.head_diameter_mm - found.head_diameter_mm).abs() < 1e-9
}

fn head_cells(trade: &TradeFinding) -> [Cell; 5] {
    let (verdict, colour) = match trade.verdict {
        Verdict::Accepted => ("", theme::INK),
        Verdict::Thin => ("thin", theme::CAUTION),
        Verdict::Refused => ("too thin", theme::STOP),
    };
    let swing = trade.oscillation_deg;
    [
        (fixed(trade.head_diameter_mm, 1), theme::INK),
        (fixed(trade.wall_mm, 1), colour),
        (fixed(trade.jump_distance_mm, 1), theme::INK),
        (
            swing.map_or("no room".into(), |deg| format!("{}°", fixed(deg, 0))),
            theme::INK,
        ),
        (verdict.into(), colour),
    ]
}

const RULES: [Column; 4] = [
    words(
        "rule in print",
        110.0,
        "Rules that join cup and stem; they do not agree with each other, and none is a recommendation of this program.",
    ),
    number("sum", 46.0, "What the rule adds up, for this cup and stem."),
    number("asks for", 66.0, "The sum that it asks for."),
    number(
        "off by",
        46.0,
        "How far the sum lies above what is asked; negative below; 0 within.",
    ),
];

/// The published rules, which do not agree with each other.
fn version(ui: &mut Ui, found: &VersionFinding) {
    field::heading(ui, "Cup and stem version together");
    table::head(ui, &RULES);
    for rule in found.rules.iter().filter(|rule| rule.applies) {
        let off = rule.departure_deg;
        let colour = if off.abs() > 0.0 {
            theme::CAUTION
        } else {
            theme::INK
        };
        let cells = [
            (rule.rule.clone(), theme::INK),
            (format!("{}°", fixed(rule.sum_deg, 1)), theme::INK),
            (sum_asked(rule), theme::INK),
            (format!("{}°", fixed(off, 1)), colour),
        ];
        let more = format!("{}; {}. {}", rule.formula, rule.remark, rule.source);
        table::row(ui, &RULES, &cells, Row::Plain, &more);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bevy_egui::egui::{Context, Event, Modifiers, PointerButton, Pos2, RawInput, pos2};
    use cupwright_procedure::CaseFile;
    use cupwright_procedure::edit::Edit;
    use cupwright_procedure::joint::joint;

    fn pointer(at: Pos2, pressed: bool) -> Event {
        Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        }
    }

    #[test]
    fn a_click_on_a_row_takes_its_ball_and_version() {
        let text = include_str!("../../../../../assets/cases/demonstration.ron");
        let plan = Plan::new(CaseFile::parse(text).unwrap(), None).unwrap();
        let length = joint(&plan.case().joint, plan.case()).unwrap().length;
        let (ctx, mut acts) = (Context::default(), Vec::new());
        for y in 0..60_u8 {
            let at = pos2(100.0, 4.0 * f32::from(y));
            for event in [
                Event::PointerMoved(at),
                pointer(at, true),
                pointer(at, false),
            ] {
                let input = RawInput {
                    events: vec![event],
                    ..RawInput::default()
                };
                let mut output = ctx.run_ui(input, |ui| balls(ui, &plan, &length, &mut acts));
                // Nothing is painted here.
                output.textures_delta.clear();
            }
        }
        let taken = acts.iter().map(|act| match act {
            Act::Edit(Edit::Joint(joint)) => (joint.head.length_mm, joint.stem.offset),
            other => panic!("{other:?}"),
        });
        let mut taken: Vec<_> = taken.collect();
        taken.dedup();
        let rows = length.balls.iter();
        let rows = rows.map(|ball| (Some(ball.ball_mm), Some(ball.version)));
        assert_eq!(taken, rows.collect::<Vec<_>>());
    }
}
