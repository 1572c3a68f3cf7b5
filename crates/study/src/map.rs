//! [`Map`]: measures over two variables.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use thiserror::Error;

use crate::evaluator::{Evaluator, NoOutcome};
use crate::limit::{Limit, needed};
use crate::measure::Measure;
use crate::setting::Setting;
use crate::variable::{Axis, Variable};

/// Measures over two variables.
#[derive(Clone, Debug, PartialEq)]
pub struct Map {
    /// What changes to the right.
    pub x: Axis,
    /// What changes upward.
    pub y: Axis,
    /// The setting of the plan, of which all other variables keep their values.
    pub plan: Setting,
    /// One layer for each measure asked for.
    pub layers: Vec<Layer>,
    /// Whether all limits are kept, row by row as in [`Layer::values`].
    pub kept: Vec<bool>,
}

/// One measure over the two variables.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// What is told.
    pub measure: Measure,
    /// Row by row, y ascending and in each row x ascending; `None` where there was nothing to measure.
    pub values: Vec<Option<f64>>,
}

/// A place on a map.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Spot {
    /// Value of the map's x.
    pub x: f64,
    /// Value of the map's y.
    pub y: f64,
    /// The measure there.
    pub value: f64,
}

/// Why there is no map.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoMap {
    /// Both axes are of one variable.
    #[error("both axes of the map are {0}; give two variables")]
    OneVariable(Variable),
    /// A setting on it has no outcome.
    #[error("at {x_name} {x} and {y_name} {y}: {problem}", x_name = x_variable.name(), y_name = y_variable.name())]
    Outcome {
        /// The first variable.
        x_variable: Variable,
        /// Its value.
        x: f64,
        /// The second variable.
        y_variable: Variable,
        /// Its value.
        y: f64,
        /// Why not.
        problem: NoOutcome,
    },
}

/// The measures over two variables, all others as planned.
///
/// # Errors
/// When both axes are of one variable, or a setting on the map has no outcome.
pub fn map(
    evaluator: &Evaluator,
    [x, y]: [Axis; 2],
    measures: &[Measure],
    limits: &[Limit],
) -> Result<Map, NoMap> {
    if x.variable() == y.variable() {
        return Err(NoMap::OneVariable(x.variable()));
    }
    let (plan, asked) = (evaluator.plan(), needed(limits, measures));
    let cells: Vec<_> = y
        .values()
        .flat_map(|y| x.values().map(move |x| (x, y)))
        .collect();
    let found: Vec<_> = cells
        .into_par_iter()
        .map(|(x_value, y_value)| {
            let setting = plan.with(x.variable(), x_value).with(y.variable(), y_value);
            let outcome = evaluator.evaluate(&setting, &asked);
            outcome.map_err(|problem| NoMap::Outcome {
                x_variable: x.variable(),
                x: x_value,
                y_variable: y.variable(),
                y: y_value,
                problem,
            })
        })
        .collect::<Result<_, _>>()?;
    let layer = |&measure| Layer {
        measure,
        values: found.iter().map(|o| o.get(measure)).collect(),
    };
    Ok(Map {
        x,
        y,
        plan,
        layers: measures.iter().map(layer).collect(),
        kept: found
            .iter()
            .map(|o| limits.iter().all(|l| l.is_kept(o)))
            .collect(),
    })
}

impl Map {
    /// Share of its cells that keep all limits.
    pub fn kept_share(&self) -> f64 {
        self.kept.iter().filter(|k| **k).count() as f64 / self.kept.len() as f64
    }

    /// Where a layer is least and where it is most, among cells that keep all limits; `None` where none does
    /// or nothing was measured.
    pub fn ends(&self, layer: &Layer) -> Option<[Spot; 2]> {
        let cells = layer.values.iter().zip(&self.kept).enumerate();
        let measured: Vec<_> = cells
            .filter(|(_, (_, kept))| **kept)
            .filter_map(|(k, (value, _))| value.map(|v| (k, v)))
            .collect();
        let spot = |&(k, value): &(usize, f64)| Spot {
            x: self.x.value(k % self.x.count()),
            y: self.y.value(k / self.x.count()),
            value,
        };
        let least = measured.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let most = measured.iter().rev().max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some([spot(least), spot(most)])
    }
}
