//! Bytes in, lines out, the same lines for every cut of the stream.
//!
//! Whoever changes this: both CR and LF end a line and empty lines are skipped, so CRLF needs no
//! memory of its own across a cut. Lines that lie whole inside a pushed chunk are lent without a
//! copy; only a line that spans chunks goes through the carry buffer.

use arrayvec::ArrayVec;

use super::text;

/// The longest line that is delivered, in bytes without its line end. Native lines have at most
/// 120 bytes; the rest is room for wordy JSON. It bounds memory when a wrong baud rate never
/// gives a line end.
pub const MAX_LINE: usize = 256;

/// What is wrong with a line before anybody tries to understand it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RawFault {
    /// More than [`MAX_LINE`] bytes came before a line end; only the first ones are kept.
    #[error("{bytes} bytes came without a line end that can be used")]
    TooLong {
        /// Length of the whole line in bytes, without its line end.
        bytes: usize,
    },
    /// Control characters, or bytes that are no text in any usual encoding.
    #[error("the line is not text")]
    NotText,
}

/// One line as it came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RawLine<'a> {
    /// The bytes without the line end; the first [`MAX_LINE`] of them if the line is too long.
    /// Never empty.
    pub bytes: &'a [u8],
    /// What is wrong with the line, if anything.
    pub fault: Option<RawFault>,
    /// The line may lack its beginning (first line after opening the port) or its end (cut off
    /// when the port was lost). If it can't be understood, that is nobody's fault.
    pub maybe_fragment: bool,
    /// How many bytes of the pushed chunk came after the first byte of this line's end. With
    /// the baud rate they tell how much earlier than the chunk the line was complete. (For CRLF
    /// the LF counts, so a cut between the two makes no difference in time.)
    pub bytes_after: usize,
}

/// Cuts a stream of bytes into lines.
///
/// ```
/// let mut framer = duskmark::wire::Framer::new();
/// let mut lines = Vec::new();
/// framer.push(b"23.4,25.1\r\n23.", |line| lines.push(line.bytes.to_vec()));
/// framer.push(b"5,25.1\r\n", |line| lines.push(line.bytes.to_vec()));
/// assert_eq!(lines, [b"23.4,25.1".to_vec(), b"23.5,25.1".to_vec()]);
/// ```
#[derive(Debug, Clone, Default)]
pub struct Framer {
    /// The beginning of a line whose end has not come yet.
    carry: ArrayVec<u8, MAX_LINE>,
    /// Bytes of the present line that no longer fitted into `carry`.
    dropped: usize,
    /// No line end has been seen since the port was opened.
    after_open: bool,
}

impl Framer {
    /// A framer at the beginning of a line.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Starts anew after the port was opened: what waits is forgotten (see [`Framer::cut`]), and
    /// the first line is marked as a possible fragment.
    pub fn after_open(&mut self) {
        self.carry.clear();
        self.dropped = 0;
        self.after_open = true;
    }

    /// Bytes of a line whose end has not come yet, including those beyond [`MAX_LINE`].
    #[must_use]
    pub fn pending(&self) -> usize {
        self.carry.len() + self.dropped
    }

    /// Takes the next bytes of the stream and hands every line that they complete to `each`.
    pub fn push(&mut self, bytes: &[u8], mut each: impl FnMut(RawLine<'_>)) {
        // One look at the whole chunk instead of one per line; lines are looked at only if it fails.
        let plain = text::is_plain(bytes);
        let mut start = 0;
        for end in memchr::memchr2_iter(b'\n', b'\r', bytes) {
            let body = bytes.get(start..end).unwrap_or_default();
            let bytes_after = bytes.len() - end - 1;
            start = end + 1;
            if self.pending() > 0 {
                self.keep(body);
                self.deliver_carry(bytes_after, false, &mut each);
            } else if !body.is_empty() {
                let line = raw_line(body, body.len(), self.after_open, plain, bytes_after);
                each(line);
            }
            self.after_open = false;
        }
        self.keep(bytes.get(start..).unwrap_or_default());
    }

    /// Delivers and forgets a half line: the port is lost and its end will never come.
    pub fn cut(&mut self, mut each: impl FnMut(RawLine<'_>)) {
        if self.pending() > 0 {
            self.deliver_carry(0, true, &mut each);
        }
        self.after_open = false;
    }

    fn keep(&mut self, bytes: &[u8]) {
        let fits = bytes.len().min(self.carry.remaining_capacity());
        let (head, tail) = bytes.split_at(fits);
        self.carry.extend(head.iter().copied());
        self.dropped += tail.len();
    }

    fn deliver_carry(&mut self, bytes_after: usize, cut: bool, each: &mut impl FnMut(RawLine<'_>)) {
        let maybe_fragment = self.after_open || cut;
        each(raw_line(
            &self.carry,
            self.pending(),
            maybe_fragment,
            false,
            bytes_after,
        ));
        self.carry.clear();
        self.dropped = 0;
    }
}

/// `plain` promises that the bytes are known to be printable ASCII.
#[inline]
fn raw_line(
    bytes: &[u8],
    length: usize,
    maybe_fragment: bool,
    plain: bool,
    bytes_after: usize,
) -> RawLine<'_> {
    let fault = if length > MAX_LINE {
        Some(RawFault::TooLong { bytes: length })
    } else if plain || text::is_text(bytes) {
        None
    } else {
        Some(RawFault::NotText)
    };
    RawLine {
        bytes: bytes.get(..MAX_LINE).unwrap_or(bytes),
        fault,
        maybe_fragment,
        bytes_after,
    }
}

#[cfg(test)]
mod tests;
