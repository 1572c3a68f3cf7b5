//! A map, for its readers.

use std::io;

use cupwright_study::Map;
use cupwright_study::map::Spot;
use cupwright_study::{Axis, Measure, Variable};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use super::{Block, Subject, Told, cell, csv, of_variable, told, whose};
use crate::plot::Field;
use crate::words::percent;

/// A map, as a document tells it.
#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct MapResult {
    /// What changes along a row.
    pub x: MapAxis,
    /// What changes from row to row.
    pub y: MapAxis,
    /// One entry for each measure asked for.
    pub layers: Vec<MapLayer>,
    /// Whether all limits are kept, row by row as in `layers`.
    pub kept: Vec<Vec<bool>>,
    /// Share of the map that keeps all limits.
    pub kept_share: f64,
}

/// A variable of a map.
#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct MapAxis {
    /// Which; its unit is the end of its name.
    pub variable: Variable,
    /// Its unit: `mm` or `°`.
    pub unit: &'static str,
    /// The values it takes.
    pub values: Vec<f64>,
    /// Its value in the plan.
    pub planned: f64,
}

/// One measure over the two variables.
#[derive(Clone, Debug, JsonSchema, Serialize)]
pub struct MapLayer {
    /// Which; its unit is the end of its name.
    pub measure: Measure,
    /// A row for each value of `y`, in it a number for each value of `x`; `None` where there was nothing to
    /// measure.
    pub rows: Vec<Vec<Option<f64>>>,
    /// Where it is least and where most; `None` where there was nothing to measure.
    pub least_and_most: Option<[Spot; 2]>,
}

impl MapResult {
    fn axis(of: &Axis, map: &Map) -> MapAxis {
        MapAxis {
            variable: of.variable(),
            unit: of.variable().unit(),
            values: of.values().collect(),
            planned: map.plan.get(of.variable()),
        }
    }
}

impl From<&Map> for MapResult {
    fn from(map: &Map) -> Self {
        let across = map.x.count();
        let layers = map.layers.iter().map(|layer| MapLayer {
            measure: layer.measure,
            rows: layer.values.chunks(across).map(<[_]>::to_vec).collect(),
            least_and_most: map.ends(layer),
        });
        Self {
            x: Self::axis(&map.x, map),
            y: Self::axis(&map.y, map),
            layers: layers.collect(),
            kept: map.kept.chunks(across).map(<[_]>::to_vec).collect(),
            kept_share: map.kept_share(),
        }
    }
}

impl Told for Map {
    fn name(&self) -> &'static str {
        "map"
    }

    fn heading(&self) -> &'static str {
        "Map"
    }

    fn blocks(&self) -> Vec<Block> {
        let (x, y) = (self.x.variable(), self.y.variable());
        let axis = |axis: &cupwright_study::Axis| {
            let [least, most] = axis.ends();
            let variable = axis.variable();
            format!(
                "{variable} from {} to {} in {} values",
                of_variable(variable, least),
                of_variable(variable, most),
                axis.count()
            )
        };
        let rows = self.layers.iter().map(|layer| {
            let ends = self.ends(layer);
            let spot = |which: usize| match ends.map(|ends| ends[which]) {
                None => ["-".into(), "-".into(), "-".into()],
                Some(spot) => [
                    told(layer.measure, Some(spot.value)),
                    of_variable(x, spot.x),
                    of_variable(y, spot.y),
                ],
            };
            let name = [layer.measure.label().to_owned()];
            name.into_iter().chain(spot(0)).chain(spot(1)).collect()
        });
        let heads = [
            "",
            "least",
            x.label(),
            y.label(),
            "most",
            x.label(),
            y.label(),
        ];
        vec![
            Block::Paragraph(format!("{}; {}.", axis(&self.x), axis(&self.y))),
            Block::Paragraph(format!(
                "{} of the map keeps all limits.",
                percent(self.kept_share(), 1)
            )),
            Block::Heading("Where they keep all limits".into()),
            Block::Table(heads.map(String::from).into(), 1, rows.collect()),
        ]
    }

    fn document(&self) -> serde_json::Result<Value> {
        serde_json::to_value(MapResult::from(self))
    }

    fn files(&self, subject: &Subject) -> io::Result<Vec<(String, Vec<u8>)>> {
        let (x, y) = (self.x.variable(), self.y.variable());
        let measures = self.layers.iter().map(|layer| layer.measure.heading());
        let heads: Vec<_> = [x.heading(), y.heading()]
            .into_iter()
            .chain(measures)
            .chain(["keeps_limits".into()])
            .collect();
        let across = self.x.count();
        let rows = (0..self.kept.len()).map(|k| {
            let place = [self.x.value(k % across), self.y.value(k / across)];
            let place = place.map(|value| cell(Some(value)));
            let values = self.layers.iter().map(|layer| cell(layer.values[k]));
            let kept = [self.kept[k].to_string()];
            place.into_iter().chain(values).chain(kept).collect()
        });
        let mut files = vec![("map.csv".into(), csv(&heads, rows)?)];
        for layer in &self.layers {
            let value_told = |value: f64| layer.measure.told(value);
            let missing = |value: &Option<f64>| value.unwrap_or(f64::NAN);
            let field = Field {
                title: [
                    format!("{} over {x} and {y}", layer.measure),
                    whose(subject),
                ],
                labels: [x, y].map(|v| format!("{v} ({})", v.unit())),
                axes: [self.x.values().collect(), self.y.values().collect()],
                values: layer.values.iter().map(missing).collect(),
                value: (layer.measure.label(), &value_told),
                kept: &self.kept,
                plan: (self.plan.get(x), self.plan.get(y)),
            };
            let name = format!("map-{}.svg", layer.measure.name());
            files.push((name, field.svg()?.into_bytes()));
        }
        Ok(files)
    }
}
