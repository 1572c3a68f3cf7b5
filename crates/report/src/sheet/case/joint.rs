//! Whether the joint comes back: liner and ball, leg and offset, motion, version.

use std::io;

use cupwright_procedure::Findings;
use cupwright_procedure::joint::JointFinding;
use cupwright_procedure::joint::map::{MapCell, MotionMap};

use super::super::CaseSheet;
use super::super::html::Html;
use super::super::parts::{Figure, Table, Tone, Verdict, paragraph, remark, verdicts};
use super::super::skeleton::Section;
use super::{heads, rows, section};
use crate::plot::heat::{Heat, Place, Side};
use crate::terminal::joint::{
    asked_for, ball_row, cup_by_itself, liner_in_short, motion_in_short, movement_row, rule_row,
    trade_row,
};
use crate::words::{fixed, percent};
use cupwright_procedure::joint::length::signed;

/// What is shaded the strongest, in degrees to spare or lacking.
const STRONGEST: f64 = 20.0;

/// All about the joint, or why there is none.
pub(super) fn sections(sheet: &CaseSheet) -> io::Result<Vec<Section>> {
    let findings = sheet.findings;
    let Some(joint) = &findings.joint else {
        let why = findings.no_joint.as_deref().unwrap_or("not looked at");
        let mut body = Html::new();
        let verdict = Verdict {
            word: "NO JOINT",
            tone: Tone::Alarm,
            text: why.into(),
            source: String::new(),
        };
        verdicts(&mut body, &[verdict]);
        return Ok(vec![section(
            "joint",
            "joint",
            "Does the joint come back?",
            body,
        )]);
    };
    let mut sections = vec![
        liner(joint),
        lengths(joint, findings),
        motion(joint, findings),
    ];
    if let Some(map) = sheet.motion_map {
        sections.extend(directions(map, joint)?);
    }
    sections.push(version(joint));
    Ok(sections)
}

fn liner(joint: &JointFinding) -> Section {
    let found = &joint.liner;
    let mut body = Html::new();
    paragraph(&mut body, &liner_in_short(found));
    let trade = found.trade.iter().map(|trade| trade_row(trade, found));
    let table = Table {
        caption: "What each size of ball would trade in this cup: wall against jump distance and swing.",
        heads: heads([
            "ball mm",
            "liner wall mm",
            "jump distance mm",
            "neck swings",
            "wall",
        ]),
        words: &[4],
        brief: &[4],
        rows: rows(trade),
    };
    table.put(&mut body);
    section("liner", "liner", "Which liner and ball?", body)
}

fn lengths(joint: &JointFinding, findings: &Findings) -> Section {
    let found = &joint.length;
    let mut body = Html::new();
    paragraph(&mut body, &cup_by_itself(found, findings.cup.centre_shift));
    let balls = found.balls.iter().enumerate();
    let balls = balls.map(|(k, ball)| ball_row(ball, k == found.chosen));
    let table = Table {
        caption: "To be read aloud: leg and offset with each ball, against the native joint.",
        heads: heads(["ball", "version", "leg", "offset", "off target"]),
        words: &[1, 2, 3],
        brief: &[1, 2, 3],
        rows: rows(balls),
    };
    table.put(&mut body);
    paragraph(&mut body, &asked_for(found));
    section(
        "balls",
        "leg and offset",
        "Which ball gives back leg and offset?",
        body,
    )
}

fn motion(joint: &JointFinding, findings: &Findings) -> Section {
    let found = &joint.motion;
    let bony = findings.bone_on_bone.as_ref();
    let mut body = Html::new();
    let movements = found.movements.iter();
    let table = Table {
        caption: "Each movement until the neck meets the liner, and where on the rim; until bone meets bone; \
             and what is needed of it.",
        heads: heads([
            "movement",
            "neck meets liner",
            "at",
            "bone meets bone",
            "needed",
            "verdict",
        ]),
        words: &[0, 5],
        brief: &[5],
        rows: rows(movements.map(|movement| movement_row(movement, bony, found))),
    };
    table.put(&mut body);
    remark(&mut body, &motion_in_short(found, bony));
    let heading = format!("How far does it move with ball {}?", signed(found.ball_mm));
    section("motion", "motion", &heading, body)
}

/// Where else the cup may face; `None` for a map without cells.
fn directions(map: &MotionMap, joint: &JointFinding) -> io::Result<Option<Section>> {
    let own = joint
        .version
        .cup
        .iter()
        .find(|cup| cup.definition == "radiographic");
    let (Some(own), Some((inclination, anteversion, best))) = (own, best(map)) else {
        return Ok(None);
    };
    let angles = |a: f64, b: f64| format!("{}° / {}°", fixed(a, 0), fixed(b, 0));
    let here = format!(
        "this cup, {}",
        angles(own.inclination_deg, own.anteversion_deg)
    );
    let most = format!(
        "most to spare, {}: {}°",
        angles(inclination, anteversion),
        fixed(best.margin_deg, 0)
    );
    let places = [
        ([own.inclination_deg, own.anteversion_deg], &here),
        ([inclination, anteversion], &most),
    ];
    let svg = heat(map, &places)?;
    let share = percent(map.free_share, 0);
    let figure = Figure {
        svg: &svg,
        alternative: &format!(
            "Motion over the cup's direction: {share} of the directions shown allow all that is needed; {most}, \
             least in {}; {here}: {}",
            best.limiting,
            own_margin(joint)
        ),
        caption: &format!(
            "Degrees that the tightest movement goes beyond what is needed of it, by the cup's direction; below \
             nought it falls short. Neck against liner alone, all else as planned; {share} of the directions \
             shown allow all that is needed. This cup: {}.",
            own_margin(joint)
        ),
        kind: "heat",
    };
    let mut body = Html::new();
    figure.put(&mut body);
    Ok(Some(section(
        "directions",
        "directions",
        "Where else might the cup face?",
        body,
    )))
}

/// The direction with the most to spare, in degrees, and its cell; `None` in a map without cells.
fn best(map: &MotionMap) -> Option<(f64, f64, &MapCell)> {
    let [i, j] = map.best;
    let angles = (map.inclination_deg.get(i)?, map.anteversion_deg.get(j)?);
    Some((*angles.0, *angles.1, map.cells.get(i)?.get(j)?))
}

/// The map drawn, with places told by their words.
fn heat(map: &MotionMap, places: &[([f64; 2], &String)]) -> io::Result<String> {
    let margins = map
        .cells
        .iter()
        .map(|row| row.iter().map(|cell| cell.margin_deg));
    let values: Vec<Vec<f64>> = margins.map(Iterator::collect).collect();
    let places = places.iter().map(|(at, words)| Place {
        at: *at,
        words: (*words).clone(),
    });
    let heat = Heat {
        across: Side {
            label: "inclination, radiographic (°)",
            values: &map.inclination_deg,
        },
        up: Side {
            label: "anteversion, radiographic (°)",
            values: &map.anteversion_deg,
        },
        values: &values,
        strongest: STRONGEST,
        places: places.collect(),
    };
    heat.svg()
}

/// What the plan's own cup has to spare.
fn own_margin(joint: &JointFinding) -> String {
    let needs = joint.motion.needs.iter();
    let least = needs.min_by(|a, b| a.margin_deg.total_cmp(&b.margin_deg));
    least.map_or("nothing is needed".into(), |need| {
        let margin = fixed(need.margin_deg.abs(), 0);
        let way = if need.met { "to spare" } else { "too little" };
        format!("{margin}° {way} in {}", need.movement)
    })
}

fn version(joint: &JointFinding) -> Section {
    let rules = joint.version.rules.iter().filter(|rule| rule.applies);
    let mut body = Html::new();
    let table = Table {
        caption: "Rules in print, which do not agree with each other.",
        heads: heads(["rule", "sum", "asks for", "off by", "adds up"]),
        words: &[0, 4],
        brief: &[],
        rows: rules.map(|rule| rule_row(rule).into()).collect(),
    };
    table.put(&mut body);
    section("version", "version", "Do cup and stem turn together?", body)
}
