//! Values on their way into columns.

use std::sync::Arc;

use arrow_array::builder::{
    Float64Builder, Int32Builder, StringBuilder, TimestampMillisecondBuilder,
};
use arrow_array::{Array as _, ArrayRef};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Words.
    Text,
    /// A whole number.
    Count,
    /// A number.
    Number,
    /// A moment in UTC, to the millisecond.
    Instant,
}

/// Texts; an empty one is none.
#[derive(Debug, Default)]
pub(super) struct Texts(StringBuilder);

impl Texts {
    pub(super) fn push(&mut self, text: &str) {
        self.0.append_option((!text.is_empty()).then_some(text));
    }

    pub(super) fn take(&mut self) -> ArrayRef {
        Arc::new(self.0.finish())
    }
}

/// Whole numbers.
#[derive(Debug, Default)]
pub(super) struct Counts(Int32Builder);

impl Counts {
    pub(super) fn push(&mut self, count: usize) {
        self.0.append_option(i32::try_from(count).ok());
    }

    pub(super) fn take(&mut self) -> ArrayRef {
        Arc::new(self.0.finish())
    }
}

/// Numbers; what is not finite is none.
#[derive(Debug, Default)]
pub(super) struct Numbers(Float64Builder);

impl Numbers {
    pub(super) fn push(&mut self, value: Option<f64>) {
        self.0.append_option(value.filter(|v| v.is_finite()));
    }

    pub(super) fn take(&mut self) -> ArrayRef {
        Arc::new(self.0.finish())
    }
}

/// Moments.
#[derive(Debug, Default)]
pub(super) struct Instants(TimestampMillisecondBuilder);

impl Instants {
    /// One as RFC 3339 writes it; none if it does not.
    pub(super) fn push(&mut self, utc: &str) {
        let at: Option<jiff::Timestamp> = utc.parse().ok();
        self.0
            .append_option(at.map(jiff::Timestamp::as_millisecond));
    }

    pub(super) fn take(&mut self) -> ArrayRef {
        let array = self.0.finish().with_timezone("UTC");
        debug_assert!(array.data_type().is_temporal());
        Arc::new(array)
    }
}
