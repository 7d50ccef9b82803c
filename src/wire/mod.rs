//! Bytes to lines, lines to frames: framing, checksum and the dialects that boards speak.
//!
//! A [`Framer`] cuts the stream into [`RawLine`]s; a [`Dialect`] makes a [`Frame`] of each; a
//! [`Finder`] tells from the first lines which dialect it is, unless people described the lines
//! ([`Own`]). Nothing here does I/O, reads a clock
//! or keeps more than one line.
//!
//! ```
//! use duskmark::wire::{DialectKind, Finder, Framer, Verdict};
//! let mut framer = Framer::new();
//! let mut finder = Finder::new();
//! framer.push(b">17,4250,33120,30011*1ECC\n", |line| finder.look(&line));
//! assert_eq!(finder.verdict(), Verdict::Decided(DialectKind::Native));
//! assert_eq!(finder.reason(), "native: 1 of 1 lines has a right checksum");
//! ```

mod crc;
mod dialect;
mod find;
mod frame;
mod framing;
mod json;
mod label;
mod labelled;
mod native;
mod number;
mod own;
mod plain;
mod text;

pub use crc::crc16;
pub use dialect::{Dialect, DialectKind, LineFault};
pub use find::{Finder, Statistics, Verdict};
pub use frame::{Field, Frame, Hello, MAX_CHANNELS, NtcSide, Sample, Unit};
pub use framing::{Framer, MAX_LINE, RawFault, RawLine};
pub use json::Json;
pub use labelled::Labelled;
pub use native::{
    MAX_NATIVE_LINE, Native, PROTOCOL_VERSION, encode_hello, encode_remark, encode_sample,
    request_hello, request_period,
};
pub use own::{LinePattern, Misfit, Own, PatternFault, PerChannel};
pub use plain::Plain;
