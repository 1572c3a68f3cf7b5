//! A table as Parquet: the only place that names the library.

use std::fmt;
use std::io::{self, Write};
use std::sync::Arc;

use ::parquet::basic::{Compression, LogicalType, Repetition, Type as Physical};
use ::parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use ::parquet::errors::ParquetError;
use ::parquet::file::properties::WriterProperties;
use ::parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use ::parquet::schema::types::Type;

use super::manifest::PROGRAM;
use super::table::{Cell, Column, Kind, Row};

/// Rows that are held in memory until they are written together.
const GROUP: usize = 4096;

/// A Parquet file that is being written; a cell may be null.
pub(super) struct ParquetTable<W: Write + Send> {
    out: SerializedFileWriter<W>,
    columns: Vec<Column>,
    rows: Vec<Row>,
}

impl<W: Write + Send> ParquetTable<W> {
    /// Begins a file with these columns.
    pub(super) fn new(out: W, columns: &[Column]) -> io::Result<Self> {
        let fields = columns.iter().map(|column| field(column).map(Arc::new));
        let fields = fields.collect::<Result<Vec<_>, _>>().map_err(other)?;
        let schema = Type::group_type_builder("cohort")
            .with_fields(fields)
            .build();
        let properties = WriterProperties::builder()
            .set_compression(Compression::SNAPPY)
            .set_created_by(PROGRAM.into())
            .build();
        let schema = Arc::new(schema.map_err(other)?);
        let out = SerializedFileWriter::new(out, schema, Arc::new(properties)).map_err(other)?;
        Ok(Self {
            out,
            columns: columns.to_vec(),
            rows: Vec::new(),
        })
    }

    /// Adds a row.
    pub(super) fn push(&mut self, row: Row) -> io::Result<()> {
        self.rows.push(row);
        if self.rows.len() < GROUP {
            return Ok(());
        }
        self.write_group()
    }

    /// Ends the file and gives back what it was written to.
    pub(super) fn finish(mut self) -> io::Result<W> {
        if !self.rows.is_empty() {
            self.write_group()?;
        }
        self.out.into_inner().map_err(other)
    }

    fn write_group(&mut self) -> io::Result<()> {
        let mut group = self.out.next_row_group().map_err(other)?;
        for (k, column) in self.columns.iter().enumerate() {
            let cells = self
                .rows
                .iter()
                .map(|row| row.get(k).unwrap_or(&Cell::Empty));
            match column.kind {
                Kind::Count => put::<Int64Type, _>(&mut group, cells, |cell| match cell {
                    Cell::Count(value) => Some(*value),
                    _ => None,
                }),
                Kind::Number => put::<DoubleType, _>(&mut group, cells, Cell::as_number),
                Kind::Text => put::<ByteArrayType, _>(&mut group, cells, |cell| match cell {
                    Cell::Text(text) => Some(ByteArray::from(text.as_str())),
                    _ => None,
                }),
                Kind::Flag => put::<BoolType, _>(&mut group, cells, |cell| match cell {
                    Cell::Flag(flag) => Some(*flag),
                    _ => None,
                }),
            }
            .map_err(other)?;
        }
        group.close().map_err(other)?;
        self.rows.clear();
        Ok(())
    }
}

impl<W: Write + Send> fmt::Debug for ParquetTable<W> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let rows = self.rows.len();
        f.debug_struct("ParquetTable")
            .field("rows", &rows)
            .finish_non_exhaustive()
    }
}

fn field(column: &Column) -> Result<Type, ParquetError> {
    let (physical, logical) = match column.kind {
        Kind::Count => (Physical::INT64, None),
        Kind::Number => (Physical::DOUBLE, None),
        Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Kind::Flag => (Physical::BOOLEAN, None),
    };
    Type::primitive_type_builder(&column.name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(logical)
        .build()
}

/// Writes the next column of a group: the values that there are, and which cells have one.
fn put<'a, T: DataType, W: Write + Send>(
    group: &mut SerializedRowGroupWriter<'_, W>,
    cells: impl Iterator<Item = &'a Cell>,
    value: impl Fn(&Cell) -> Option<T::T>,
) -> Result<(), ParquetError> {
    let values: Vec<Option<T::T>> = cells.map(value).collect();
    let defined: Vec<i16> = values.iter().map(|v| i16::from(v.is_some())).collect();
    let values: Vec<T::T> = values.into_iter().flatten().collect();
    let missing = || ParquetError::General("more columns than the table has".into());
    let mut column = group.next_column()?.ok_or_else(missing)?;
    column
        .typed::<T>()
        .write_batch(&values, Some(&defined), None)?;
    column.close()
}

fn other(problem: ParquetError) -> io::Error {
    match problem {
        ParquetError::External(cause) => match cause.downcast::<io::Error>() {
            Ok(cause) => *cause,
            Err(cause) => io::Error::other(cause),
        },
        problem => io::Error::other(problem),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::parquet::file::reader::{FileReader, SerializedFileReader};
    use ::parquet::record::RowAccessor;

    #[test]
    fn a_table_of_several_groups_reads_back_with_its_nulls() {
        let columns = [
            Column::count("member"),
            Column::text("problem"),
            Column::number("removed_mm3"),
            Column::flag("limits_met"),
        ];
        let file = tempfile::tempfile().unwrap();
        let mut table = ParquetTable::new(file.try_clone().unwrap(), &columns).unwrap();
        let count = 2 * GROUP + 3;
        for k in 0..count {
            let number = i32::try_from(k).unwrap();
            let third = |cell| if k % 3 == 0 { Cell::Empty } else { cell };
            let row = vec![
                Cell::count(k),
                third(Cell::Text(format!("Hüfte {k}"))),
                third(Cell::Number(f64::from(number) / 7.0)),
                third(Cell::Flag(k % 2 == 0)),
            ];
            table.push(row).unwrap();
        }
        table.finish().unwrap();
        let reader = SerializedFileReader::new(file).unwrap();
        let told = reader.metadata();
        assert_eq!(told.num_row_groups(), 3);
        assert_eq!(told.file_metadata().created_by(), Some(PROGRAM));
        let rows = reader.get_row_iter(None).unwrap();
        let mut seen = 0;
        for (k, row) in rows.enumerate() {
            let row = row.unwrap();
            let number = i32::try_from(k).unwrap();
            assert_eq!(row.get_long(0).unwrap(), i64::from(number));
            if k % 3 == 0 {
                assert!((1..=3).all(|column| row.is_null(column).unwrap()));
            } else {
                assert_eq!(row.get_string(1).unwrap(), &format!("Hüfte {k}"));
                let value = row.get_double(2).unwrap();
                assert_eq!(value.to_bits(), (f64::from(number) / 7.0).to_bits());
                assert_eq!(row.get_bool(3).unwrap(), k % 2 == 0);
            }
            seen += 1;
        }
        assert_eq!(seen, count);
    }
}
