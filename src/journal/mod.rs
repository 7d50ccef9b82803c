//! The raw, append-only record of a run: every byte that came in, when, and what was known.
//!
//! # Format, version 1
//!
//! A text file, readable with any editor. The first line is `duskmark-journal 1`. Every other line
//! is one record of five fields with one space between them, ended by LF:
//!
//! ```text
//! ebdf4342 81234567890123 0 bytes >17,4250,33120,30011*1ECC\n
//! ```
//!
//! 1. CRC-32/ISO-HDLC (zlib's `crc32`; check value CBF43926) of the rest of the line after the
//!    first space, without the LF, as eight lower-case hex digits;
//! 2. time in ns on the host's boot clock, which no wall-clock change moves (for `bytes`: when
//!    the read returned);
//! 3. number of the port, from 0;
//! 4. kind: `setup` (JSON: how to derive everything else), `clock` (RFC 3339: the wall clock at
//!    that time), `open` and `lost` (a port came or went, and why), `bytes`, `cue` (what people
//!    were told to do), `note`, `end`;
//! 5. payload: the bytes, with `\\`, `\n`, `\r`, `\t` and `\xHH` for all but printable ASCII.
//!
//! A line whose checksum fails is damage: reported with its place, skipped, and the rest is read.
//! A last line without LF is a torn tail, the usual mark of a power cut. Kinds that a reader does
//! not know are skipped; a higher version number is refused.

mod reader;
mod record;
mod writer;

pub use reader::{Damage, Item, JournalError, Reader};
pub use record::{Kind, Record};
pub use writer::{Store, Trouble, Writer};

/// First line of a journal, without its LF.
pub const MAGIC: &str = "duskmark-journal 1";

/// Name of the journal in a run's folder.
pub const FILE_NAME: &str = "journal.dmj";
