//! A placement search, for its readers.

use std::collections::BTreeMap;
use std::io;

use cupwright_study::place::Standing;
use cupwright_study::{Front, Member, Setting, Variable};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value, json};

use super::{Block, Subject, Told, cell, csv, head, of_variable, told, whose};
use crate::plot::{Line, Lines};

/// The placements found, and the plan that they may replace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placements<'a> {
    /// What was found.
    pub front: &'a Front,
    /// The plan.
    pub plan: &'a Setting,
}

/// The placements found, as a document tells them.
#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct PlacementsResult<'a> {
    /// By the first goal, the best first; empty where nothing keeps all limits.
    pub members: Vec<Placement<'a>>,
    /// Where nothing keeps all limits: the placement that misses them by least.
    pub nearest: Option<Placement<'a>>,
    /// How many placements were looked at.
    pub evaluations: usize,
}

/// A placement.
#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct Placement<'a> {
    /// What was allowed to change, by names that end in its unit.
    #[schemars(with = "BTreeMap<String, f64>")]
    pub setting: Map<String, Value>,
    /// The goals, by names that end in the unit.
    #[schemars(with = "BTreeMap<String, f64>")]
    pub goals: Map<String, Value>,
    /// How each limit stands.
    pub limits: &'a [Standing],
    /// Variables that stand at an end of their range: there more would be better.
    pub at_range_end: &'a [Variable],
}

impl<'a> From<&'a Front> for PlacementsResult<'a> {
    fn from(front: &'a Front) -> Self {
        let told = |member: &'a Member| {
            let setting = front.varied.iter();
            let setting = setting.map(|v| (v.heading(), json!(member.setting.get(*v))));
            let goals = front.goals.iter().zip(&member.goals);
            Placement {
                setting: setting.collect(),
                goals: goals
                    .map(|(goal, value)| (goal.heading(), json!(value)))
                    .collect(),
                limits: &member.limits,
                at_range_end: &member.at_range_end,
            }
        };
        Self {
            members: front.members.iter().map(told).collect(),
            nearest: front.nearest.as_ref().map(told),
            evaluations: front.evaluations,
        }
    }
}

impl Placements<'_> {
    fn row(&self, number: usize, member: &Member) -> Vec<String> {
        let front = self.front;
        let goals = front.goals.iter().zip(&member.goals);
        let goals = goals.map(|(goal, value)| told(*goal, Some(*value)));
        let values = front
            .varied
            .iter()
            .map(|v| of_variable(*v, member.setting.get(*v)));
        [number.to_string()]
            .into_iter()
            .chain(goals)
            .chain(values)
            .collect()
    }

    fn heads(&self) -> Vec<String> {
        let goals = self.front.goals.iter().map(|goal| head(goal.label()));
        let varied = self.front.varied.iter().map(|v| head(v.label()));
        [String::new()]
            .into_iter()
            .chain(goals)
            .chain(varied)
            .collect()
    }

    fn members(&self) -> impl Iterator<Item = (usize, &Member)> {
        (1..).zip(&self.front.members)
    }
}

/// What stands in the way of a member.
fn binding(member: &Member) -> String {
    let all = member.binding();
    if all.is_empty() {
        "no limit; the goals against each other".into()
    } else {
        all.join(", ")
    }
}

impl Told for Placements<'_> {
    fn name(&self) -> &'static str {
        "place"
    }

    fn heading(&self) -> &'static str {
        "Placements"
    }

    fn blocks(&self) -> Vec<Block> {
        let front = self.front;
        let looked = format!("{} placements were looked at.", front.evaluations);
        if front.members.is_empty() {
            let mut blocks = vec![Block::Paragraph(format!(
                "Nothing that was found keeps all limits. {looked}"
            ))];
            if let Some(nearest) = &front.nearest {
                blocks.push(Block::Heading("The nearest".into()));
                blocks.push(Block::Table(self.heads(), 0, vec![self.row(1, nearest)]));
                let limits = nearest.limits.iter().map(|limit| {
                    let met = if limit.kept { "met" } else { "NOT met" };
                    vec![limit.limit.clone(), met.into()]
                });
                let heads = ["limit", ""].map(String::from);
                blocks.push(Block::Table(heads.into(), 2, limits.collect()));
            }
            return blocks;
        }
        let goals: Vec<_> = front.goals.iter().map(|goal| goal.label()).collect();
        let rows = self.members().map(|(k, member)| self.row(k, member));
        let binding = self.members().map(|(k, m)| vec![k.to_string(), binding(m)]);
        vec![
            Block::Paragraph(format!(
                "Of these no placement is better in every respect of {}; each has been run in full and keeps \
                 all limits. {looked} That none better exists is not proven.",
                goals.join(", ")
            )),
            Block::Heading("Placements".into()),
            Block::Table(self.heads(), 0, rows.collect()),
            Block::Heading("What stands in the way of more".into()),
            Block::Table(["", "by"].map(String::from).into(), 2, binding.collect()),
        ]
    }

    fn document(&self) -> serde_json::Result<Value> {
        serde_json::to_value(PlacementsResult::from(self.front))
    }

    fn files(&self, subject: &Subject) -> io::Result<Vec<(String, Vec<u8>)>> {
        let front = self.front;
        let goals = front.goals.iter().map(|goal| goal.heading());
        let varied = front.varied.iter().map(|v| v.heading());
        let heads: Vec<_> = ["placement".to_owned()]
            .into_iter()
            .chain(goals)
            .chain(varied)
            .chain(["binds".into()])
            .collect();
        let rows = self.members().map(|(k, member)| {
            let goals = member.goals.iter().copied();
            let values = front.varied.iter().map(|v| member.setting.get(*v));
            let numbers = goals.chain(values).map(|value| cell(Some(value)));
            [k.to_string()]
                .into_iter()
                .chain(numbers)
                .chain([binding(member)])
                .collect()
        });
        let mut files = vec![("place.csv".into(), csv(&heads, rows)?)];
        if let [first, second, ..] = front.goals[..] {
            let points = front.members.iter().map(|m| (m.goals[0], m.goals[1]));
            let chart = Lines {
                labels: [first, second].map(|goal| format!("{goal} ({})", goal.unit())),
                series: vec![Line {
                    name: "placements of which none is better in both".into(),
                    points: points.collect(),
                }],
            };
            let title = format!("{second} against {first}");
            let svg = Lines::svg([&title, &whose(subject)], vec![chart])?;
            files.push(("place.svg".into(), svg.into_bytes()));
        }
        Ok(files)
    }
}
