//! What a table says in short, gathered row by row.

use super::table::{Cell, Column, Kind};

/// The numbers of a column in short.
#[derive(Clone, Debug, PartialEq)]
pub struct Numbers {
    /// The column's heading.
    pub name: String,
    /// How many rows have a number there.
    pub count: usize,
    /// Their mean.
    pub mean: f64,
    /// The least.
    pub least: f64,
    /// The greatest.
    pub most: f64,
    /// Sum of the squares of their distances from the mean.
    squares: f64,
}

/// A table in short.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// How many rows.
    pub rows: usize,
    /// How many members.
    pub members: usize,
    /// How many members could not be used.
    pub unusable: usize,
    /// What was wrong with the first of them, and its number.
    pub first_problem: Option<(i64, String)>,
    /// How many rows do not meet the limits of the case.
    pub limits_not_met: usize,
    /// Every column of numbers.
    pub spreads: Vec<Numbers>,
    last_member: Cell,
    places: Vec<(usize, usize)>,
    problem: Option<usize>,
    limits: Option<usize>,
}

impl Numbers {
    /// Standard deviation; 0 where there is one number or none.
    #[expect(
        clippy::cast_precision_loss,
        reason = "tables are far shorter than 2^52"
    )]
    pub fn deviation(&self) -> f64 {
        if self.count < 2 {
            return 0.0;
        }
        (self.squares / (self.count - 1) as f64).sqrt()
    }

    /// Takes in a number, after Welford (1962, Technometrics 4:419).
    #[expect(
        clippy::cast_precision_loss,
        reason = "tables are far shorter than 2^52"
    )]
    fn push(&mut self, value: f64) {
        self.count += 1;
        let off = value - self.mean;
        self.mean += off / self.count as f64;
        self.squares += off * (value - self.mean);
        self.least = self.least.min(value);
        self.most = self.most.max(value);
    }
}

impl Summary {
    /// That of a table with these columns and no row yet.
    pub(super) fn of(columns: &[Column]) -> Self {
        let numbers = columns.iter().enumerate();
        let numbers: Vec<_> = numbers.filter(|(_, c)| c.kind == Kind::Number).collect();
        let spread = |name: &str| Numbers {
            name: name.into(),
            count: 0,
            mean: 0.0,
            least: f64::INFINITY,
            most: f64::NEG_INFINITY,
            squares: 0.0,
        };
        let named = |name: &str| columns.iter().position(|column| column.name == name);
        Self {
            rows: 0,
            members: 0,
            unusable: 0,
            first_problem: None,
            limits_not_met: 0,
            spreads: numbers.iter().map(|(_, c)| spread(&c.name)).collect(),
            last_member: Cell::Empty,
            places: (0..)
                .zip(numbers)
                .map(|(k, (place, _))| (k, place))
                .collect(),
            problem: named("problem"),
            limits: named("limits_met"),
        }
    }

    /// Takes in a row, whose first cell is its member.
    pub(super) fn push(&mut self, row: &[Cell]) {
        self.rows += 1;
        if let Some(member) = row.first().filter(|member| **member != self.last_member) {
            self.members += 1;
            self.last_member = member.clone();
        }
        if let Some(Cell::Text(problem)) = self.problem.and_then(|at| row.get(at)) {
            self.unusable += 1;
            if let (None, Cell::Count(member)) = (&self.first_problem, &self.last_member) {
                self.first_problem = Some((*member, problem.clone()));
            }
        }
        if self.limits.and_then(|at| row.get(at)) == Some(&Cell::Flag(false)) {
            self.limits_not_met += 1;
        }
        for &(spread, place) in &self.places {
            if let Some(value) = row.get(place).and_then(Cell::as_number) {
                self.spreads[spread].push(value);
            }
        }
    }

    /// The column called `name`, if it has numbers.
    pub fn spread(&self, name: &str) -> Option<&Numbers> {
        self.spreads.iter().find(|s| s.name == name && s.count > 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn means_deviations_and_ends_are_those_of_the_numbers_there_are() {
        let columns = [
            Column::count("member"),
            Column::text("problem"),
            Column::number("removed_mm3"),
        ];
        let mut summary = Summary::of(&columns);
        for (member, value) in [
            (1, 2.0),
            (1, 4.0),
            (2, 4.0),
            (3, 4.0),
            (4, 5.0),
            (5, 5.0),
            (6, 7.0),
            (7, 9.0),
        ] {
            summary.push(&[Cell::Count(member), Cell::Empty, Cell::Number(value)]);
        }
        summary.push(&[Cell::Count(8), Cell::text("open"), Cell::Empty]);
        summary.push(&[Cell::Count(9), Cell::text("empty"), Cell::Empty]);
        assert_eq!(
            (summary.rows, summary.members, summary.unusable),
            (10, 9, 2)
        );
        assert_eq!(summary.first_problem, Some((8, "open".into())));
        let spread = summary.spread("removed_mm3").unwrap();
        assert_eq!(spread.count, 8);
        // The squares of the distances from 5 add up to 32.
        approx::assert_relative_eq!(spread.mean, 5.0);
        approx::assert_relative_eq!(spread.deviation(), (32.0_f64 / 7.0).sqrt());
        approx::assert_relative_eq!(spread.least, 2.0);
        approx::assert_relative_eq!(spread.most, 9.0);
    }
}
