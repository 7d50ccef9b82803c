//! The records of a table with their lines, and a limit on the length of lines before anything
//! tries to hold one.

use std::io::{self, Read};

use csv::{ByteRecord, ReaderBuilder};

use super::start::Start;
use crate::analysis::TableError;

/// Longest line, in bytes: a table's most columns of the longest cell.
const LONGEST_LINE: usize = 1 << 20;

/// Bytes read at a time.
const BUFFER: usize = 1 << 16;

/// Lets text through until a line is too long; then every read is refused.
struct Lines<R> {
    inner: R,
    length: usize,
    /// How many bytes came, and whether the last of them ends a line.
    count: u64,
    ended: bool,
}

/// A line is longer than [`LONGEST_LINE`].
#[derive(Debug, thiserror::Error)]
#[error("a line of more than {LONGEST_LINE} bytes")]
struct LongLine;

impl<R> Lines<R> {
    fn new(inner: R) -> Self {
        Self {
            inner,
            length: 0,
            count: 0,
            ended: true,
        }
    }
}

impl<R: Read> Read for Lines<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(buffer)?;
        let bytes = buffer.get(..count).unwrap_or_default();
        self.count += count as u64;
        self.ended = bytes.last().map_or(self.ended, |b| *b == b'\n');
        self.length = match memchr::memrchr2(b'\n', b'\r', bytes) {
            Some(end) => count - end - 1,
            None => self.length + count,
        };
        if self.length > LONGEST_LINE {
            return Err(io::Error::other(LongLine));
        }
        Ok(count)
    }
}

/// The records of a table, with their lines in the file.
pub(super) struct Rows<R> {
    reader: csv::Reader<Lines<R>>,
    skipped: u64,
    /// The csv reader takes the LF of CR LF for the begin of the next record.
    crlf: bool,
}

impl<R: Read> Rows<R> {
    /// From the line of the headings on.
    pub(super) fn new(table: R, start: &Start) -> Self {
        let reader = ReaderBuilder::new()
            .delimiter(start.separator)
            .has_headers(false)
            .flexible(true)
            .comment(Some(b'#'))
            .buffer_capacity(BUFFER)
            .from_reader(Lines::new(table));
        Self {
            reader,
            skipped: start.lines,
            crlf: start.crlf,
        }
    }

    /// Reads the next record; false at the end.
    pub(super) fn read(&mut self, record: &mut ByteRecord) -> Result<bool, TableError> {
        self.reader.read_byte_record(record).map_err(|e| {
            let line = self.reader.position().line() + self.skipped;
            let reason = e.to_string();
            match e.into_kind() {
                csv::ErrorKind::Io(io)
                    if io
                        .get_ref()
                        .is_some_and(<dyn std::error::Error + Send + Sync>::is::<LongLine>) =>
                {
                    let limit = LONGEST_LINE;
                    TableError::LongLine { line, limit }
                }
                csv::ErrorKind::Io(_) => TableError::Unreadable { reason },
                _ => TableError::Broken { line, reason },
            }
        })
    }

    /// Line of the record that was read last, from 1.
    ///
    /// Counted back from its end: the csv reader's place of a record is where it began to look for it,
    /// before empty lines and remarks.
    pub(super) fn line(&self, record: &ByteRecord) -> u64 {
        let end = self.reader.position();
        let inside = memchr::memchr_iter(b'\n', record.as_slice()).count();
        let lines = self.reader.get_ref();
        let open = self.crlf || (end.byte() >= lines.count && !lines.ended);
        let line = end.line() + self.skipped;
        line.saturating_sub(inside as u64 + u64::from(!open)).max(1)
    }
}

#[cfg(test)]
mod tests {
    use super::{LONGEST_LINE, Lines, Rows};
    use crate::analysis::table::start::start;
    use csv::ByteRecord;
    use std::io::Read as _;

    #[test]
    fn records_know_their_lines_behind_empty_ones_and_remarks() {
        let text = "title\n\nmin,slate\n0,20\n\n\n1,21\n# remark\n2,\"a\nb\"\n3,23";
        for text in [
            text.to_owned(),
            format!("{text}\n"),
            text.replace('\n', "\r\n"),
        ] {
            let start = start(text.as_bytes());
            let mut rows = Rows::new(&text.as_bytes()[start.skip..], &start);
            let (mut record, mut lines) = (ByteRecord::new(), Vec::new());
            while rows.read(&mut record).unwrap() {
                lines.push(rows.line(&record));
            }
            assert_eq!(lines, [3, 4, 7, 9, 11], "{text:?}");
        }
    }

    #[test]
    fn only_a_line_that_never_ends_is_refused() {
        let line = [b"9".repeat(LONGEST_LINE - 10), b"\r\n".to_vec()].concat();
        let many = line.repeat(3);
        let mut read = Vec::new();
        Lines::new(many.as_slice()).read_to_end(&mut read).unwrap();
        assert_eq!(read.len(), many.len());
        let endless = std::io::repeat(b'9');
        assert!(Lines::new(endless).read_to_end(&mut Vec::new()).is_err());
    }
}
