//! What a measure owes to each of the errors that were drawn.
//!
//! Two answers beside each other: the standardised regression coefficient, which says by how many of its own
//! deviations the measure changes for one deviation of the error if all else stays (its square is about the
//! share of the measure's variance, as the errors are independent), and the rank correlation of C. Spearman
//! (1904), which also sees what is bent but goes one way. The share of the variance that straight lines
//! explain says how far to trust the first.

use nalgebra::{DMatrix, DVector};
use schemars::JsonSchema;
use serde::Serialize;

use crate::evaluator::Outcome;
use crate::measure::Measure;
use crate::setting::Setting;
use crate::variable::Variable;

/// What a measure owes to the errors.
#[derive(Clone, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Influence {
    /// Which measure.
    pub measure: Measure,
    /// Share of its variance that straight lines explain, 0 to 1.
    pub explained: f64,
    /// One entry for each error, in their order.
    pub parts: Vec<Part>,
}

/// What a measure owes to one error.
#[derive(Clone, Copy, Debug, JsonSchema, PartialEq, Serialize)]
pub struct Part {
    /// The variable that is off.
    pub variable: Variable,
    /// Standardised regression coefficient.
    pub regression: f64,
    /// Spearman's rank correlation.
    pub rank: f64,
}

/// What each measure owes to each variable; measures and variables that do not vary are left out.
pub(crate) fn influences(
    variables: &[Variable],
    measures: &[Measure],
    found: &[(Setting, Outcome)],
) -> Vec<Influence> {
    let of_measure = |&measure: &Measure| {
        let (rows, values): (Vec<&Setting>, Vec<f64>) = found
            .iter()
            .filter_map(|(setting, outcome)| Some((setting, outcome.get(measure)?)))
            .unzip();
        influence(variables, measure, &rows, &values)
    };
    measures.iter().filter_map(of_measure).collect()
}

fn influence(
    variables: &[Variable],
    measure: Measure,
    rows: &[&Setting],
    values: &[f64],
) -> Option<Influence> {
    let output = standardised(values)?;
    let inputs: Vec<(Variable, Vec<f64>, Vec<f64>)> = variables
        .iter()
        .filter_map(|&variable| {
            let raw: Vec<f64> = rows.iter().map(|row| row.get(variable)).collect();
            Some((variable, standardised(&raw)?, raw))
        })
        .collect();
    let table = DMatrix::from_fn(output.len(), inputs.len(), |row, column| {
        inputs[column].1[row]
    });
    let output = DVector::from_vec(output);
    let normal = table.tr_mul(&table).cholesky()?;
    let slopes = normal.solve(&table.tr_mul(&output));
    let left = (&output - &table * &slopes).norm_squared();
    let ranks_of_values = ranks(values);
    let part = |(k, (variable, _, raw)): (usize, &(Variable, Vec<f64>, Vec<f64>))| Part {
        variable: *variable,
        regression: slopes[k],
        rank: correlation(&ranks(raw), &ranks_of_values),
    };
    Some(Influence {
        measure,
        explained: (1.0 - left / output.norm_squared()).max(0.0),
        parts: inputs.iter().enumerate().map(part).collect(),
    })
}

/// Less their mean, in units of their deviation; `None` where they do not vary beyond rounding.
fn standardised(values: &[f64]) -> Option<Vec<f64>> {
    /// Deviation over the largest size of a value below which it is rounding: sums of a million doubles
    /// lose five digits of sixteen, and no error anybody draws is a billionth of what it is added to.
    const ROUNDING: f64 = 1e-10;
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let deviation = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / count).sqrt();
    let largest = values.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    (deviation > ROUNDING * largest)
        .then(|| values.iter().map(|v| (v - mean) / deviation).collect())
}

/// The place of each value among all, equal ones sharing theirs.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
    let (mut ranks, mut before) = (vec![0.0; values.len()], 0);
    for equal in order.chunk_by(|&a, &b| values[a].total_cmp(&values[b]).is_eq()) {
        let shared = before as f64 + (equal.len() - 1) as f64 / 2.0;
        equal.iter().for_each(|&k| ranks[k] = shared);
        before += equal.len();
    }
    ranks
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let (Some(a), Some(b)) = (standardised(a), standardised(b)) else {
        return 0.0;
    };
    let count = a.len() as f64;
    a.iter().zip(&b).map(|(a, b)| a * b).sum::<f64>() / count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_values_share_their_rank() {
        assert_eq!(ranks(&[3.0, 1.0, 3.0, 2.0]), [2.5, 0.0, 2.5, 1.0]);
    }

    #[test]
    fn what_is_bent_but_goes_one_way_has_rank_correlation_one() {
        let x: Vec<f64> = (1..50).map(f64::from).collect();
        let bent: Vec<f64> = x.iter().map(|x| -x.powi(5)).collect();
        assert!((correlation(&ranks(&x), &ranks(&bent)) + 1.0).abs() < 1e-12);
        assert!(correlation(&x, &bent) > -0.95);
    }

    #[test]
    fn what_does_not_vary_has_no_influence() {
        assert_eq!(standardised(&[40.0; 9]), None);
        assert!(standardised(&[40.0, 40.0 + 1e-6]).is_some());
        assert!(correlation(&[1.0, 1.0], &[1.0, 2.0]).abs() < 1e-15);
    }
}
