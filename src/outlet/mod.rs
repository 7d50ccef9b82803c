//! The way out to other programs: lines of JSON, an MQTT broker, tables for query engines.
//!
//! Everything comes from runs' files, at the outlet's own pace ([`crate::follow`]): a reader that is
//! slow, closed or away for hours costs nothing that is logged, and finds all of it later. What is
//! sent names its bench, run and place in the run, so that what comes twice can be told.

pub mod export;
mod line;
pub mod mqtt;
mod stream;
mod word;

pub use line::{FORMAT, SCHEMA};
pub use stream::{Stopped, Stream, StreamError};
pub use word::word;
