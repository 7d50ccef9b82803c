//! Reading one piece of a journal, damaged or not. Reading never changes the file.

use std::io::{self, BufRead};

use super::{MAGIC, Record};

/// No record is longer: a read of a port is at most a few KiB, escaped at most fourfold. A longer
/// line is damage, and is skipped without being held in memory.
const LONGEST_LINE: u64 = 1 << 20;

/// A place in the journal that could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// Number of the piece, from 1.
    pub piece: u32,
    /// Line, counted from 1; 0 where a whole piece is missing.
    pub line: u64,
    /// Byte at which the line starts.
    pub byte: u64,
    /// Bytes that are not read.
    pub bytes: u64,
    /// What is wrong with it.
    pub reason: &'static str,
}

/// What the reader finds next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Item {
    /// A sound record.
    Record(Record),
    /// Damage inside the file.
    Damage(Damage),
    /// A last line that was never finished.
    TornTail(Damage),
}

/// Why a journal cannot be read at all.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// The file could not be read.
    #[error("reading failed at byte {byte}")]
    Io {
        /// Bytes read before.
        byte: u64,
        /// The cause.
        source: io::Error,
    },
    /// The first line is not a journal's.
    #[error("this is no duskmark journal: its first line is {found:?}")]
    NotAJournal {
        /// The line's beginning.
        found: String,
    },
    /// The journal is of a later version.
    #[error("this journal is of version {found}; this program reads version 1")]
    Newer {
        /// The version it states.
        found: u32,
    },
}

/// Yields the journal's items in order.
#[derive(Debug)]
pub struct Reader<R> {
    input: R,
    piece: u32,
    /// Byte at which the latest item starts.
    start: u64,
    line: u64,
    byte: u64,
    buffer: Vec<u8>,
}

impl<R: BufRead> Reader<R> {
    /// Checks the first line.
    ///
    /// # Errors
    /// [`JournalError`] if it cannot be read or is not that of a journal of version 1.
    pub fn new(input: R) -> Result<Self, JournalError> {
        Self::piece(input, 1)
    }

    /// The same for the piece of this number.
    pub(super) fn piece(input: R, piece: u32) -> Result<Self, JournalError> {
        let mut reader = Self {
            input,
            piece,
            start: 0,
            line: 0,
            byte: 0,
            buffer: Vec::new(),
        };
        reader.next_line()?;
        let found = String::from_utf8_lossy(&reader.buffer);
        let found = found.trim_end_matches('\n');
        if found == MAGIC {
            return Ok(reader);
        }
        let version = found
            .strip_prefix("duskmark-journal ")
            .map(str::parse::<u32>);
        Err(match version {
            Some(Ok(found)) => JournalError::Newer { found },
            _ => JournalError::NotAJournal {
                found: found.chars().take(40).collect(),
            },
        })
    }

    /// For a piece whose first line, of so many bytes, was damaged and is read over.
    pub(super) fn headless(input: R, piece: u32, first: u64) -> Self {
        Self {
            input,
            piece,
            start: first,
            line: 1,
            byte: first,
            buffer: Vec::new(),
        }
    }

    /// The next item, `None` at the end. Records of unknown kinds are passed over.
    ///
    /// # Errors
    /// [`JournalError::Io`] if the file cannot be read on.
    pub fn next_item(&mut self) -> Result<Option<Item>, JournalError> {
        loop {
            let start = self.byte;
            self.start = start;
            if !self.next_line()? {
                return Ok(None);
            }
            let whole = self.buffer.pop_if(|last| *last == b'\n').is_some();
            let found = Record::decode(&self.buffer);
            let damage = |reason| Damage {
                piece: self.piece,
                line: self.line,
                byte: start,
                bytes: self.byte - start,
                reason,
            };
            match found {
                Ok(Some(record)) if whole => return Ok(Some(Item::Record(record))),
                Ok(None) if whole => {}
                Err(reason) if whole => return Ok(Some(Item::Damage(damage(reason)))),
                Ok(_) | Err(_) => return Ok(Some(Item::TornTail(damage("not finished")))),
            }
        }
    }

    /// Byte at which the latest item starts.
    pub(super) fn start(&self) -> u64 {
        self.start
    }

    /// Reads a line, cut at [`LONGEST_LINE`]; false at the end.
    fn next_line(&mut self) -> Result<bool, JournalError> {
        self.buffer.clear();
        let failed = |byte| move |source| JournalError::Io { byte, source };
        let mut limited = io::Read::take(&mut self.input, LONGEST_LINE);
        let read = limited
            .read_until(b'\n', &mut self.buffer)
            .map_err(failed(self.byte))?;
        self.byte += read as u64;
        if read as u64 == LONGEST_LINE && !self.buffer.ends_with(b"\n") {
            let skipped = self.input.skip_until(b'\n').map_err(failed(self.byte))?;
            self.byte += skipped as u64;
            // Shown as one damaged line, whatever its first megabyte held.
            self.buffer.clear();
            self.buffer.push(b'\n');
        }
        self.line += u64::from(read > 0);
        Ok(read > 0)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Kind;
    use super::*;

    fn record(n: i64) -> Record {
        Record {
            t_ns: n,
            port: 0,
            kind: Kind::Bytes,
            payload: format!("line {n}\n").into_bytes(),
        }
    }

    fn file(records: i64) -> Vec<u8> {
        let mut bytes = format!("{MAGIC}\n").into_bytes();
        for n in 0..records {
            record(n).encode(&mut bytes);
        }
        bytes
    }

    fn items(bytes: &[u8]) -> Vec<Item> {
        let mut reader = Reader::new(bytes).unwrap();
        std::iter::from_fn(|| reader.next_item().unwrap()).collect()
    }

    #[test]
    fn cut_at_every_byte_costs_at_most_the_last_record() {
        let whole = file(5);
        let ends: Vec<usize> = (0..=5).map(|n| file(n).len()).collect();
        for cut in ends[0]..=whole.len() {
            let complete = ends.iter().filter(|&&end| end <= cut).count() - 1;
            let found = items(&whole[..cut]);
            let records = found
                .iter()
                .filter(|i| matches!(i, Item::Record(_)))
                .count();
            assert_eq!(records, complete, "cut at {cut}");
            let torn = usize::from(!ends.contains(&cut));
            assert_eq!(found.len(), complete + torn, "cut at {cut}");
        }
    }

    #[test]
    fn damage_inside_is_reported_with_its_place_and_the_rest_is_read() {
        let mut bytes = file(4);
        let second = file(1).len();
        bytes[second + 20] ^= 1;
        let found = items(&bytes);
        assert_eq!(found.len(), 4);
        assert_eq!(found[0], Item::Record(record(0)));
        let Item::Damage(damage) = &found[1] else {
            panic!("{:?}", found[1]);
        };
        assert_eq!((damage.line, damage.byte), (3, second as u64));
        assert_eq!(damage.reason, "checksum does not match");
        assert_eq!(found[3], Item::Record(record(3)));
    }

    #[test]
    fn a_record_of_a_kind_that_is_not_known_is_passed_over() {
        let mut bytes = file(2);
        let body = "7 0 weather wet moss";
        let sum = crc32fast::hash(body.as_bytes());
        bytes.extend_from_slice(format!("{sum:08x} {body}\n").as_bytes());
        record(9).encode(&mut bytes);
        let records = [0, 1, 9].map(|n| Item::Record(record(n)));
        assert_eq!(items(&bytes), records);
    }

    #[test]
    fn a_tail_of_zeros_is_a_torn_tail() {
        let mut bytes = file(2);
        bytes.extend_from_slice(&[0; 4096]);
        let found = items(&bytes);
        assert_eq!(found.len(), 3);
        assert!(matches!(&found[2], Item::TornTail(d) if d.bytes == 4096));
    }

    #[test]
    fn a_line_without_end_is_skipped_in_bounded_memory() {
        let mut bytes = file(1);
        bytes.extend(std::iter::repeat_n(b'a', 3 << 20));
        bytes.push(b'\n');
        record(9).encode(&mut bytes);
        let found = items(&bytes);
        assert_eq!(found.len(), 3);
        assert!(matches!(&found[1], Item::Damage(d) if d.bytes == (3 << 20) + 1));
        assert_eq!(found[2], Item::Record(record(9)));
    }

    #[test]
    fn other_files_and_later_versions_are_refused_in_words() {
        let other = Reader::new(&b"elapsed_s,slate_degc\n"[..]).unwrap_err();
        assert!(other.to_string().contains("no duskmark journal"), "{other}");
        let newer = Reader::new(&b"duskmark-journal 2\n"[..]).unwrap_err();
        assert!(newer.to_string().contains("version 2"), "{newer}");
        assert!(Reader::new(&b""[..]).is_err());
    }
}
