//! One Parquet file, written batch by batch.

use std::collections::HashMap;
use std::io;
use std::sync::Arc;

use arrow_array::{ArrayRef, RecordBatch};
use arrow_schema::{DataType, Field, Schema, SchemaRef, TimeUnit};
use parquet::arrow::ArrowWriter;
use parquet::basic::{Compression, Encoding, ZstdLevel};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::schema::types::ColumnPath;

use super::columns::Kind;

/// Lines of a row group, which is what is in memory at most: some 5 MB.
const ROW_GROUP: usize = 128 * 1024;

/// zstd's own usual level; higher ones cost much time and save little here.
const LEVEL: i32 = 3;

/// A column: its name, what it holds, its unit (UCUM), and what it means.
pub(super) type Column = (&'static str, Kind, Option<&'static str>, &'static str);

/// Columns of a table.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    pub(super) format: &'static str,
    pub(super) columns: &'static [Column],
}

impl Layout {
    fn schema(self) -> SchemaRef {
        let fields = self.columns.iter().map(|&(name, kind, unit, about)| {
            let kind = match kind {
                Kind::Text => DataType::Utf8,
                Kind::Count => DataType::Int32,
                Kind::Number => DataType::Float64,
                Kind::Instant => DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into())),
            };
            let unit = unit.map(|unit| ("unit".to_owned(), unit.to_owned()));
            let about = Some(("description".to_owned(), about.to_owned()));
            let metadata: HashMap<_, _> = unit.into_iter().chain(about).collect();
            Field::new(name, kind, true).with_metadata(metadata)
        });
        Arc::new(Schema::new(fields.collect::<Vec<_>>()))
    }

    fn properties(self) -> Result<WriterProperties, ParquetError> {
        let about = |key: &str, value: &str| KeyValue::new(key.to_owned(), value.to_owned());
        let mut properties = WriterProperties::builder()
            .set_compression(Compression::ZSTD(ZstdLevel::try_new(LEVEL)?))
            .set_max_row_group_row_count(Some(ROW_GROUP))
            .set_created_by(concat!("duskmark ", env!("CARGO_PKG_VERSION")).to_owned())
            .set_key_value_metadata(Some(vec![about("format", self.format)]));
        for &(name, kind, ..) in self.columns {
            let column = ColumnPath::from(name);
            // Times hardly repeat, but their differences do. Every engine reads this encoding.
            if kind == Kind::Instant {
                properties = properties
                    .set_column_dictionary_enabled(column.clone(), false)
                    .set_column_encoding(column, Encoding::DELTA_BINARY_PACKED);
            }
        }
        Ok(properties.build())
    }
}

/// A table that is being written.
pub(super) struct Table<'a> {
    schema: SchemaRef,
    writer: ArrowWriter<&'a mut io::BufWriter<std::fs::File>>,
}

impl<'a> Table<'a> {
    pub(super) fn begin(
        out: &'a mut io::BufWriter<std::fs::File>,
        layout: Layout,
    ) -> io::Result<Self> {
        let schema = layout.schema();
        let properties = layout.properties().map_err(plain)?;
        let writer = ArrowWriter::try_new(out, Arc::clone(&schema), Some(properties));
        Ok(Self {
            schema,
            writer: writer.map_err(plain)?,
        })
    }

    /// Adds lines, one array for each column.
    pub(super) fn add(&mut self, columns: Vec<ArrayRef>) -> io::Result<()> {
        let batch = RecordBatch::try_new(Arc::clone(&self.schema), columns);
        let batch = batch.map_err(io::Error::other)?;
        self.writer.write(&batch).map_err(plain)
    }

    pub(super) fn finish(self) -> io::Result<()> {
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
