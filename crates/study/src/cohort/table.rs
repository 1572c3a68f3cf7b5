//! Rows of a table whose columns know their kind, as text that reads back to the same bits.

use std::fmt::Write as _;
use std::io::{self, Write};

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// What the cells of a column hold.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Whole numbers.
    Count,
    /// Numbers.
    Number,
    /// Text of one line.
    Text,
    /// `true` or `false`.
    Flag,
}

/// A column: its heading, with the unit, and what its cells hold.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct Column {
    /// Its heading.
    pub name: String,
    /// What its cells hold.
    pub kind: Kind,
}

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// There was nothing to measure, or a number that is none.
    Empty,
    /// A whole number.
    Count(i64),
    /// A number, finite.
    Number(f64),
    /// Text of one line, not empty.
    Text(String),
    /// Yes or no.
    Flag(bool),
}

/// One row: a cell for each column.
pub type Row = Vec<Cell>;

/// Text that is no cell of its column.
#[derive(Clone, Debug, Error, PartialEq)]
#[error("'{text}' is no value for the column {column}")]
pub struct BadCell {
    /// The column's heading.
    pub column: String,
    /// The text.
    pub text: String,
}

impl Column {
    /// A column of whole numbers.
    pub fn count(name: impl Into<String>) -> Self {
        Self::of(name, Kind::Count)
    }

    /// A column of numbers.
    pub fn number(name: impl Into<String>) -> Self {
        Self::of(name, Kind::Number)
    }

    /// A column of text.
    pub fn text(name: impl Into<String>) -> Self {
        Self::of(name, Kind::Text)
    }

    /// A column of `true` and `false`.
    pub fn flag(name: impl Into<String>) -> Self {
        Self::of(name, Kind::Flag)
    }

    fn of(name: impl Into<String>, kind: Kind) -> Self {
        Self {
            name: name.into(),
            kind,
        }
    }

    /// The cell that `text` stands for.
    ///
    /// # Errors
    /// When the text is no value of this column's kind.
    pub fn cell(&self, text: &str) -> Result<Cell, BadCell> {
        if text.is_empty() {
            return Ok(Cell::Empty);
        }
        let read = match self.kind {
            Kind::Count => text.parse().ok().map(Cell::Count),
            Kind::Number => text.parse().ok().map(Cell::number),
            Kind::Text => Some(Cell::Text(text.into())),
            Kind::Flag => text.parse().ok().map(Cell::Flag),
        };
        let given = read.filter(|cell| *cell != Cell::Empty);
        given.ok_or_else(|| BadCell {
            column: self.name.clone(),
            text: text.into(),
        })
    }
}

impl Cell {
    /// A number; empty where it is not finite.
    pub fn number(value: f64) -> Self {
        if value.is_finite() {
            Self::Number(value)
        } else {
            Self::Empty
        }
    }

    /// A number, or nothing.
    pub fn number_or_empty(value: Option<f64>) -> Self {
        value.map_or(Self::Empty, Self::number)
    }

    /// A count; empty where it is past counting.
    pub fn count(value: usize) -> Self {
        i64::try_from(value).map_or(Self::Empty, Self::Count)
    }

    /// Text, brought to one line; empty where nothing is left.
    pub fn text(text: &str) -> Self {
        let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if line.is_empty() {
            Self::Empty
        } else {
            Self::Text(line)
        }
    }

    /// The number of a cell that holds one.
    pub fn as_number(&self) -> Option<f64> {
        match self {
            Self::Number(value) => Some(*value),
            _ => None,
        }
    }

    /// As text; a number with as many digits as it takes to read back the same bits.
    fn written(&self, into: &mut String) {
        into.clear();
        let done = match self {
            Self::Empty => Ok(()),
            Self::Count(value) => write!(into, "{value}"),
            Self::Number(value) => write!(into, "{value}"),
            Self::Text(text) => into.write_str(text),
            Self::Flag(flag) => write!(into, "{flag}"),
        };
        debug_assert!(done.is_ok(), "writing to a String does not fail");
    }
}

/// A table of comma-separated values that is being written, headings first.
#[derive(Debug)]
pub struct CsvTable<W: Write> {
    out: csv::Writer<W>,
    cell: String,
}

impl<W: Write> CsvTable<W> {
    /// Begins a table with these columns.
    ///
    /// # Errors
    /// When `out` refuses.
    pub fn new(out: W, columns: &[Column]) -> io::Result<Self> {
        let mut out = csv::Writer::from_writer(out);
        out.write_record(columns.iter().map(|column| &column.name))?;
        let cell = String::new();
        Ok(Self { out, cell })
    }

    /// Writes a row.
    ///
    /// # Errors
    /// When the file refuses, or the row has not as many cells as the table has columns.
    pub fn push(&mut self, row: &[Cell]) -> io::Result<()> {
        for cell in row {
            cell.written(&mut self.cell);
            self.out.write_field(&self.cell)?;
        }
        Ok(self.out.write_record(None::<&[u8]>)?)
    }

    /// Ends the table and gives back what it was written to.
    ///
    /// # Errors
    /// When the last bytes cannot be written.
    pub fn finish(self) -> io::Result<W> {
        self.out.into_inner().map_err(|e| e.into_error())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns() -> Vec<Column> {
        vec![
            Column::count("member"),
            Column::text("problem"),
            Column::number("removed_mm3"),
            Column::flag("limits_met"),
        ]
    }

    #[test]
    fn a_table_reads_back_to_the_same_bits() {
        let tricky = [0.1 + 0.2, 1e-300, -0.0, 123_456_789.125, f64::MIN_POSITIVE];
        let rows: Vec<Row> = tricky
            .iter()
            .map(|value| {
                let text = Cell::text("a, \"b\"\n  Hüfte");
                vec![
                    Cell::Count(-3),
                    text,
                    Cell::Number(*value),
                    Cell::Flag(true),
                ]
            })
            .collect();
        let mut table = CsvTable::new(Vec::new(), &columns()).unwrap();
        rows.iter().for_each(|row| table.push(row).unwrap());
        let file = table.finish().unwrap();
        let mut reader = csv::Reader::from_reader(file.as_slice());
        for (record, value) in reader.records().zip(tricky) {
            let record = record.unwrap();
            let cells = columns();
            let cells: Vec<_> = cells.iter().zip(&record).map(|(c, t)| c.cell(t)).collect();
            assert_eq!(cells[0], Ok(Cell::Count(-3)));
            assert_eq!(cells[1], Ok(Cell::Text("a, \"b\" Hüfte".into())));
            let read = cells[2].clone().unwrap().as_number().unwrap();
            assert_eq!(read.to_bits(), value.to_bits());
            assert_eq!(cells[3], Ok(Cell::Flag(true)));
        }
    }

    #[test]
    fn what_is_no_number_is_an_empty_cell_and_no_cell_of_a_file() {
        assert_eq!(Cell::number(f64::NAN), Cell::Empty);
        let column = Column::number("removed_mm3");
        assert_eq!(column.cell(""), Ok(Cell::Empty));
        for text in ["NaN", "inf", "3 mm"] {
            let told = column.cell(text).unwrap_err().to_string();
            assert!(
                told.contains("removed_mm3") && told.contains(text),
                "{told}"
            );
        }
    }
}
