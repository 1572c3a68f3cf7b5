//! A map, for its readers.

use std::io;

use cupwright_study::Map;
use serde_json::{Value, json};

use super::{Block, Subject, Told, cell, csv, of_variable, told, whose};
use crate::plot::Field;
use crate::words::percent;

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

    fn document(&self) -> Value {
        let axis = |axis: &cupwright_study::Axis| {
            json!({
                "variable": axis.variable(),
                "unit": axis.variable().unit(),
                "values": axis.values().collect::<Vec<_>>(),
                "planned": self.plan.get(axis.variable()),
            })
        };
        let rows = |values: &[Option<f64>]| -> Vec<Vec<Option<f64>>> {
            values.chunks(self.x.count()).map(<[_]>::to_vec).collect()
        };
        let layers = self.layers.iter().map(|layer| {
            json!({
                "measure": layer.measure,
                "rows": rows(&layer.values),
                "least_and_most": self.ends(layer),
            })
        });
        let kept: Vec<_> = self.kept.chunks(self.x.count()).collect();
        json!({
            "x": axis(&self.x),
            "y": axis(&self.y),
            "layers": layers.collect::<Vec<_>>(),
            "kept": kept,
            "kept_share": self.kept_share(),
        })
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
