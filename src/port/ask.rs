//! Which of several ports is the board we had? The board's own id decides, where it states one.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use super::link::Link;
use super::open::OpenError;
use crate::wire::{DialectKind, Frame, Framer, request_hello};

/// Longest wait for a board's hello: boards that restart when their port opens need up to 3 s.
const ANSWER_WAIT: Duration = Duration::from_secs(4);

/// How often it is asked.
const ASK_EVERY: Duration = Duration::from_secs(1);

/// The id of the board behind a port, once it was heard.
pub(super) type HeardId = Arc<Mutex<Option<String>>>;

/// Finds the hello in what a board says.
#[derive(Debug, Default)]
pub(super) struct Listener {
    framer: Framer,
}

impl Listener {
    /// The id in the hello that these bytes complete, if they complete one.
    pub(super) fn hear(&mut self, bytes: &[u8]) -> Option<String> {
        let mut id = None;
        self.framer.push(bytes, |raw| {
            if let Ok(Frame::Hello(hello)) = raw.parse(DialectKind::Native.dialect()) {
                id = Some(hello.board_id);
            }
        });
        id
    }
}

/// A link that keeps the id of the board that speaks through it.
pub(super) struct Overheard<L> {
    link: L,
    listener: Listener,
    id: HeardId,
    known: bool,
}

impl<L: Link> Overheard<L> {
    pub(super) fn new(link: L, id: HeardId) -> Self {
        Self {
            link,
            listener: Listener::default(),
            id,
            known: false,
        }
    }
}

impl<L: Link> Link for Overheard<L> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.link.read(buffer)?;
        // Once a board has said its name there is nothing more to listen for.
        if !self.known
            && let Some(id) = self.listener.hear(buffer.get(..n).unwrap_or_default())
        {
            self.known = true;
            // The first board on this port is the one that was meant; a later one is told from it.
            let mut heard = self.id.lock().unwrap_or_else(PoisonError::into_inner);
            heard.get_or_insert(id);
        }
        Ok(n)
    }

    fn write(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.link.write(bytes)
    }

    fn probe(&mut self) -> std::io::Result<()> {
        self.link.probe()
    }
}

/// A link that was listened to before it is used: it gives what was heard first.
struct Asked {
    link: Box<dyn Link>,
    heard: Vec<u8>,
}

impl Link for Asked {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        if self.heard.is_empty() {
            return self.link.read(buffer);
        }
        let n = self.heard.len().min(buffer.len());
        for (place, byte) in buffer.iter_mut().zip(self.heard.drain(..n)) {
            *place = byte;
        }
        Ok(n)
    }

    fn write(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.link.write(bytes)
    }

    fn probe(&mut self) -> std::io::Result<()> {
        self.link.probe()
    }
}

/// A port that was opened, and its name.
pub(super) type Opened = (Box<dyn Link>, String);

/// Opens the first of `paths`, where the board was, and asks who is there. If that is another board,
/// and just one of the other ports has the one that says `id`, gives that; else the first, for then
/// only the socket can tell.
///
/// # Errors
/// The first port's.
pub(super) fn first_or_by_id(
    paths: &[String],
    id: &str,
    mut open: impl FnMut(&str) -> Result<Box<dyn Link>, OpenError>,
) -> Result<Opened, OpenError> {
    let Some((first, others)) = paths.split_first() else {
        return Err(OpenError::Ambiguous { paths: Vec::new() });
    };
    let (link, said) = who(open(first)?);
    if said.as_deref() == Some(id) || said.is_none() {
        return Ok((link, first.clone()));
    }
    by_id(others, id, open).or_else(|_| Ok((link, first.clone())))
}

/// Opens each of `paths` and asks who is there; gives the port of the one board that says `id`.
///
/// # Errors
/// [`OpenError::Ambiguous`] if none or several of them say so.
pub(super) fn by_id(
    paths: &[String],
    id: &str,
    mut open: impl FnMut(&str) -> Result<Box<dyn Link>, OpenError>,
) -> Result<Opened, OpenError> {
    let ambiguous = || OpenError::Ambiguous {
        paths: paths.to_vec(),
    };
    let mut found = None;
    for path in paths {
        // A port that is in use is another bench's.
        let Ok(link) = open(path) else { continue };
        let (link, said) = who(link);
        if said.as_deref() == Some(id) && found.replace((link, path.clone())).is_some() {
            return Err(ambiguous());
        }
    }
    found.ok_or_else(ambiguous)
}

/// Asks the board behind a link for its id; what it says meanwhile is not lost.
fn who(mut link: Box<dyn Link>) -> (Box<dyn Link>, Option<String>) {
    let mut heard = Vec::new();
    let id = listen(link.as_mut(), &mut heard);
    (Box::new(Asked { link, heard }), id)
}

fn listen(link: &mut dyn Link, heard: &mut Vec<u8>) -> Option<String> {
    let mut listener = Listener::default();
    let mut buffer = [0; 512];
    let begun = Instant::now();
    let mut ask = begun;
    while begun.elapsed() < ANSWER_WAIT {
        if Instant::now() >= ask {
            link.write(request_hello()).ok()?;
            ask += ASK_EVERY;
        }
        match link.read(&mut buffer) {
            Ok(0) => return None,
            Ok(n) => {
                let bytes = buffer.get(..n).unwrap_or_default();
                heard.extend_from_slice(bytes);
                let id = listener.hear(bytes);
                if id.is_some() {
                    return id;
                }
            }
            Err(error) if super::is_gone(&error) => return None,
            Err(_) => {}
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io;

    /// A board that says its hello when it is asked.
    struct Board {
        id: &'static str,
        asked: bool,
    }

    impl Link for Board {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            if !std::mem::take(&mut self.asked) {
                return Err(io::ErrorKind::TimedOut.into());
            }
            let text = format!("!duskmark 1 id={} channels=1 unit=degc", self.id);
            let sum = crate::wire::crc16(text.as_bytes());
            let line = format!("half,of*a line\n{text}*{sum:04X}\n");
            buffer[..line.len()].copy_from_slice(line.as_bytes());
            Ok(line.len())
        }

        fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
            self.asked = bytes == request_hello();
            Ok(())
        }

        fn probe(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    fn find(boards: &[(&str, Option<&'static str>)], id: &str) -> Result<String, OpenError> {
        let paths: Vec<String> = boards.iter().map(|(path, _)| (*path).to_owned()).collect();
        by_id(&paths, id, |path| {
            let board = boards.iter().find(|(p, _)| *p == path).and_then(|b| b.1);
            let id = board.ok_or(OpenError::Busy {
                port: path.into(),
                holder: None,
            })?;
            Ok(Box::new(Board { id, asked: false }))
        })
        .map(|(mut link, path)| {
            // What it said while it was asked is still to be read.
            let mut buffer = [0; 8];
            assert_eq!(link.read(&mut buffer).unwrap(), 8);
            assert_eq!(&buffer, b"half,of*");
            path
        })
    }

    #[test]
    fn twins_are_told_apart_by_what_they_say() {
        let boards = [("/dev/a", Some("north")), ("/dev/b", Some("south"))];
        assert_eq!(find(&boards, "south").unwrap(), "/dev/b");
        let held = [("/dev/a", None), ("/dev/b", Some("south"))];
        assert_eq!(find(&held, "south").unwrap(), "/dev/b");
    }

    #[test]
    fn two_of_a_name_or_none_are_never_guessed_at() {
        let twins = [("/dev/a", Some("same")), ("/dev/b", Some("same"))];
        for (boards, id) in [(&twins, "same"), (&twins, "other")] {
            let error = find(boards, id).unwrap_err();
            assert!(matches!(error, OpenError::Ambiguous { ref paths } if paths.len() == 2));
            assert!(error.to_string().contains("/dev/a and /dev/b"));
        }
    }

    #[test]
    fn the_first_name_on_a_port_is_kept() {
        let heard = HeardId::default();
        for id in ["first", "second"] {
            let mut link = Overheard::new(Board { id, asked: true }, Arc::clone(&heard));
            link.read(&mut [0; 512]).unwrap();
        }
        assert_eq!(heard.lock().unwrap().as_deref(), Some("first"));
    }
}
