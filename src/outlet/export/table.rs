//! One Parquet file, written row group by row group.

use std::collections::BTreeMap;
use std::fs::File;
use std::io;
use std::sync::Arc;

use parquet::basic::{
    Compression, Encoding, LogicalType, Repetition, TimeUnit, Type as Physical, ZstdLevel,
};
use parquet::errors::{ParquetError, Result};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::{ColumnPath, Type};
use serde::Serialize;

use super::columns::{Column, Kind, Value};

/// Lines of a row group, which is what is in memory at most: some 8 MB.
const ROW_GROUP: usize = 64 * 1024;

/// zstd's own usual level; higher ones cost much time and save little here.
const LEVEL: i32 = 3;

/// What a column is.
#[derive(Debug, Clone, Copy, Serialize)]
pub(super) struct About {
    #[serde(skip)]
    pub(super) name: &'static str,
    #[serde(skip)]
    pub(super) kind: Kind,
    /// In UCUM's code; none for words and counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) unit: Option<&'static str>,
    pub(super) description: &'static str,
}

impl About {
    pub(super) const fn text(name: &'static str, description: &'static str) -> Self {
        Self::of(name, Kind::Text, None, description)
    }

    pub(super) const fn count(name: &'static str, description: &'static str) -> Self {
        Self::of(name, Kind::Count, None, description)
    }

    pub(super) const fn instant(name: &'static str, description: &'static str) -> Self {
        Self::of(name, Kind::Instant, None, description)
    }

    pub(super) const fn number(
        name: &'static str,
        unit: &'static str,
        description: &'static str,
    ) -> Self {
        Self::of(name, Kind::Number, Some(unit), description)
    }

    const fn of(
        name: &'static str,
        kind: Kind,
        unit: Option<&'static str>,
        description: &'static str,
    ) -> Self {
        Self {
            name,
            kind,
            unit,
            description,
        }
    }

    fn schema(&self) -> Result<Arc<Type>> {
        let (physical, logical) = match self.kind {
            Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
            Kind::Count => (Physical::INT32, None),
            Kind::Number => (Physical::DOUBLE, None),
            Kind::Instant => (
                Physical::INT64,
                Some(LogicalType::timestamp(true, TimeUnit::MILLIS)),
            ),
        };
        let column = Type::primitive_type_builder(self.name, physical)
            .with_repetition(Repetition::OPTIONAL)
            .with_logical_type(logical);
        Ok(Arc::new(column.build()?))
    }
}

/// Which run, which sample, and where: the columns that the tables of rows and marks begin with.
pub(super) const RUN: About = About::text("run", "Name of the run's folder");
pub(super) const SAMPLE: About = About::text(
    "sample",
    "Name of the sample as a column is named: lower case, ASCII",
);
pub(super) const CHANNEL: About =
    About::count("channel", "Place of the sample on its bench, from 1");
pub(super) const PHASE: About =
    About::text("phase", "What the lamp did: settling, heating or cooling");

/// Columns of a table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    pub(super) format: &'static str,
    pub(super) columns: &'static [About],
}

impl Layout {
    fn schema(self) -> Result<Arc<Type>> {
        let fields = self.columns.iter().map(About::schema);
        let table = Type::group_type_builder("duskmark")
            .with_fields(fields.collect::<Result<Vec<_>>>()?)
            .build()?;
        Ok(Arc::new(table))
    }

    /// What each column means, as JSON: Parquet has no place for that beside the column itself.
    fn meanings(self) -> Result<String> {
        let columns: BTreeMap<_, _> = self.columns.iter().map(|c| (c.name, c)).collect();
        serde_json::to_string(&columns).map_err(|e| ParquetError::External(Box::new(e)))
    }

    fn properties(self) -> Result<WriterProperties> {
        let about = |key: &str, value: String| KeyValue::new(key.to_owned(), value);
        let mut properties = WriterProperties::builder()
            .set_compression(Compression::ZSTD(ZstdLevel::try_new(LEVEL)?))
            .set_created_by(concat!("duskmark ", env!("CARGO_PKG_VERSION")).to_owned())
            .set_key_value_metadata(Some(vec![
                about("format", self.format.to_owned()),
                about("columns", self.meanings()?),
            ]));
        for column in self.columns {
            let path = ColumnPath::from(column.name);
            // Times hardly repeat, but their differences do. Every engine reads this encoding.
            if column.kind == Kind::Instant {
                properties = properties
                    .set_column_dictionary_enabled(path.clone(), false)
                    .set_column_encoding(path, Encoding::DELTA_BINARY_PACKED);
            }
        }
        Ok(properties.build())
    }
}

/// A table that is being written.
pub(super) struct Table<'a> {
    columns: Vec<Column>,
    writer: SerializedFileWriter<&'a mut io::BufWriter<File>>,
}

impl<'a> Table<'a> {
    pub(super) fn begin(out: &'a mut io::BufWriter<File>, layout: Layout) -> io::Result<Self> {
        let writer = || {
            let properties = Arc::new(layout.properties()?);
            SerializedFileWriter::new(out, layout.schema()?, properties)
        };
        Ok(Self {
            columns: layout.columns.iter().map(|c| Column::new(c.kind)).collect(),
            writer: writer().map_err(plain)?,
        })
    }

    /// Adds a line: a value for each column, in the layout's order.
    pub(super) fn line<'v>(
        &mut self,
        values: impl IntoIterator<Item = Value<'v>>,
    ) -> io::Result<()> {
        let mut values = values.into_iter();
        for column in &mut self.columns {
            column.push(values.next().expect("a value for each column"));
        }
        debug_assert!(values.next().is_none(), "more values than columns");
        if self.waiting() == ROW_GROUP {
            self.group().map_err(plain)?;
        }
        Ok(())
    }

    fn waiting(&self) -> usize {
        self.columns.first().map_or(0, Column::len)
    }

    /// Writes what waits as a row group.
    fn group(&mut self) -> Result<()> {
        let mut group = self.writer.next_row_group()?;
        for column in &mut self.columns {
            let Some(mut writer) = group.next_column()? else {
                return Err(ParquetError::General("a column too many".into()));
            };
            column.write(writer.untyped())?;
            writer.close()?;
        }
        group.close().map(|_| ())
    }

    pub(super) fn finish(mut self) -> io::Result<()> {
        if self.waiting() > 0 {
            self.group().map_err(plain)?;
        }
        self.writer.close().map(|_| ()).map_err(plain)
    }
}

/// The system's own answer, if there is one inside.
fn plain(error: ParquetError) -> io::Error {
    match error {
        ParquetError::External(inner) => match inner.downcast::<io::Error>() {
            Ok(io) => *io,
            Err(inner) => io::Error::other(inner),
        },
        error => io::Error::other(error),
    }
}
