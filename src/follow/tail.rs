//! Follows a text file that grows, line by line.

use std::fs::File;
use std::io::{self, Read as _, Seek as _, SeekFrom};
use std::path::PathBuf;

/// Read at most so much at a time, so that a long file is taken in bits.
const CHUNK: usize = 64 * 1024;

/// A line longer than this is no line of a run's files.
const LONGEST_LINE: usize = 64 * 1024;

/// What a look at the file brought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// Nothing new, or no file.
    Same,
    /// Whole lines were handed out; there may be more.
    More,
    /// Another file stands there now: what was read before is to be forgotten.
    Anew,
}

/// A file that others append to, or put a new one in its place.
#[derive(Debug)]
pub struct Tail {
    path: PathBuf,
    open: Option<(File, Identity)>,
    /// Where the bytes in `part` began.
    at: u64,
    part: Vec<u8>,
}

/// What tells one file from another of the same name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Identity(u64, u64);

impl Tail {
    /// A file that need not be there yet.
    #[must_use]
    pub fn new(path: PathBuf) -> Self {
        Self {
            path,
            open: None,
            at: 0,
            part: Vec::new(),
        }
    }

    /// Hands out the whole lines that are new, each with the place where it begins, at most one
    /// chunk of them.
    ///
    /// # Errors
    /// The system's; a file that is not there (yet) is none.
    pub fn look(&mut self, mut line: impl FnMut(u64, &str)) -> io::Result<Look> {
        let meta = match std::fs::metadata(&self.path) {
            Ok(meta) => meta,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Look::Same),
            Err(error) => return Err(error),
        };
        let identity = identity(&meta);
        let end = self.at + self.part.len() as u64;
        if let Some((_, before)) = self.open
            && (before != identity || meta.len() < end)
        {
            *self = Self::new(std::mem::take(&mut self.path));
            return Ok(Look::Anew);
        }
        if meta.len() == end {
            return Ok(Look::Same);
        }
        let file = match &mut self.open {
            Some((file, _)) => file,
            None => &mut self.open.insert((File::open(&self.path)?, identity)).0,
        };
        file.seek(SeekFrom::Start(end))?;
        let kept = self.part.len();
        let read = file.take(CHUNK as u64).read_to_end(&mut self.part)?;
        if read == 0 {
            return Ok(Look::Same);
        }
        let mut from = 0;
        while let Some(len) = self.newline(from.max(kept)).map(|end| end - from) {
            let bytes = self.part.get(from..from + len).unwrap_or_default();
            if let Ok(text) = std::str::from_utf8(bytes) {
                line(self.at + from as u64, text);
            }
            from += len + 1;
        }
        if from == 0 && self.part.len() > LONGEST_LINE {
            from = self.part.len();
        }
        self.part.drain(..from);
        self.at += from as u64;
        Ok(Look::More)
    }

    fn newline(&self, from: usize) -> Option<usize> {
        let rest = self.part.get(from..)?;
        memchr::memchr(b'\n', rest).map(|at| from + at)
    }
}

#[cfg(unix)]
fn identity(meta: &std::fs::Metadata) -> Identity {
    use std::os::unix::fs::MetadataExt as _;
    Identity(meta.dev(), meta.ino())
}

/// Where the system gives files no number: when they were made.
#[cfg(not(unix))]
fn identity(meta: &std::fs::Metadata) -> Identity {
    let made = meta.created().ok();
    let since = made.and_then(|t| t.duration_since(std::time::UNIX_EPOCH).ok());
    Identity(since.map_or(0, |d| d.as_nanos() as u64), 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write as _;

    fn lines(tail: &mut Tail) -> (Look, Vec<(u64, String)>) {
        let mut got = Vec::new();
        let look = tail
            .look(|at, text| got.push((at, text.to_owned())))
            .unwrap();
        (look, got)
    }

    #[test]
    fn whole_lines_come_once_and_half_ones_wait() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        let mut tail = Tail::new(path.clone());
        assert_eq!(lines(&mut tail), (Look::Same, vec![]));
        let mut file = File::create(&path).unwrap();
        file.write_all(b"one\ntw").unwrap();
        assert_eq!(lines(&mut tail), (Look::More, vec![(0, "one".into())]));
        assert_eq!(lines(&mut tail), (Look::Same, vec![]));
        file.write_all(b"o\nthree\n").unwrap();
        let rest = vec![(4, "two".into()), (8, "three".into())];
        assert_eq!(lines(&mut tail), (Look::More, rest));
    }

    #[test]
    fn a_file_that_was_replaced_is_read_anew() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        std::fs::write(&path, "one\ntwo\n").unwrap();
        let mut tail = Tail::new(path.clone());
        assert_eq!(lines(&mut tail).1.len(), 2);
        std::fs::write(folder.path().join("b"), "1\n2\n3\n").unwrap();
        std::fs::rename(folder.path().join("b"), &path).unwrap();
        assert_eq!(lines(&mut tail).0, Look::Anew);
        assert_eq!(lines(&mut tail).1.len(), 3);
        // Cut short in place: the same.
        std::fs::write(&path, "x\n").unwrap();
        assert_eq!(lines(&mut tail).0, Look::Anew);
        assert_eq!(lines(&mut tail).1, vec![(0, "x".into())]);
    }
}
