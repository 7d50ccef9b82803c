//! The raw, append-only record of a run: every byte that came in, when, and what was known.
//!
//! # Format, version 1
//!
//! One or more text files, readable with any editor: `journal.dmj`, then `journal-0002.dmj`,
//! `journal-0003.dmj` and on, the pieces. The first line of each is `duskmark-journal 1`. Every
//! other line is one record of five fields with one space between them, ended by LF:
//!
//! ```text
//! ebdf4342 81234567890123 0 bytes >17,4250,33120,30011*1ECC\n
//! ```
//!
//! 1. CRC-32/ISO-HDLC (zlib's `crc32`; check value CBF43926) of the rest of the line after the
//!    first space, without the LF, as eight lower-case hex digits;
//! 2. time in ns on the run's clock, which is the host's boot clock at the run's start and is moved
//!    by no wall-clock change (for `bytes`: when the read returned);
//! 3. number of the port, from 0;
//! 4. kind: `setup` (JSON: how to derive everything else), `boot` (the system's boot id), `clock`
//!    (RFC 3339: the wall clock at that time; ` slept SECONDS` may follow: so long the computer
//!    slept just before), `open` and `lost` (a port came or went, and why), `bytes`, `cue` (what
//!    people were told to do), `note`, `hand` (a key that people pressed: `mark`, `lamp-on`,
//!    `lamp-off`, `go-on`), `predict` (what a group predicts: its number, `=`, the sample),
//!    `missing` (JSON: records were lost here), `resume` (JSON:
//!    the run goes on in another process), `held` (something happened at a port that came back, and
//!    nobody knows yet which board is there: one of the words `open`, `bytes`, `lost` and `note`, a
//!    space and that record's payload), `claim` (all that was held for this port belongs to this run,
//!    as if it had come now, with the times of the held records) or `moved` (it belongs to another run,
//!    where it stands too; here it makes no rows), `piece`, `end`;
//! 5. payload: the bytes, with `\\`, `\n`, `\r`, `\t` and `\xHH` for all but printable ASCII.
//!
//! A line whose checksum fails is damage: reported with its place, skipped, and the rest is read.
//! A last line without LF is a torn tail, the usual mark of a power cut. Kinds that a reader does
//! not know are skipped; a higher version number is refused.
//!
//! # Pieces
//!
//! The first record of every piece but the first is of kind `piece` and holds
//! `{"piece":2,"why":"sync-failed","after":{"piece":1,"byte":81920},"again":37}`:
//!
//! * `piece`: its own number. A number that is not there is a piece that was lost.
//! * `why`: `size` or `day` (the piece before is long enough), `resume` (another process goes on; a
//!   piece that may end torn is never written to again), `sync-failed`, `rescue`.
//! * `after`: all before this place was confirmed by the disk.
//! * `again`: the next so many records may also stand behind that place in the pieces before. Each
//!   of them is to be taken once, from whichever copy can be read: both lists are parts of one
//!   list, in order. With `again` 0 nothing is repeated, and the pieces are read one after the other.
//!
//! `missing` holds `{"records":…,"bytes":…,"from_ns":…,"to_ns":…}`. A reader must not join the bytes
//! before it with those after it, nor across damage: half a line from either side makes a wrong one.

mod disk;
mod piece;
mod pieces;
mod reader;
mod record;
mod room;
#[cfg(test)]
mod testing;
mod trouble;
mod writer;

pub use disk::{Disk, Folder, Store};
pub use piece::{Head, Missing, Place, Why, piece_name, piece_number};
pub use pieces::{FolderShelf, Pieces, Shelf};
pub use reader::{Damage, Item, JournalError, Reader};
pub use record::{Kind, Record};
pub use trouble::{Limits, Trouble};
pub use writer::Writer;

/// First line of every piece of a journal, without its LF.
pub const MAGIC: &str = "duskmark-journal 1";

/// Name of a journal's first piece in a run's folder.
pub const FILE_NAME: &str = "journal.dmj";
