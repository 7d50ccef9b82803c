//! Bytes to lines, lines to frames: framing, checksum and the dialects that boards speak.

mod frame;

pub use frame::{Field, Frame, Hello, MAX_CHANNELS, NtcSide, Sample, Unit};
