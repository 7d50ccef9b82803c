//! The keeper against links that misbehave.

use super::*;
use std::collections::VecDeque;
use std::io;
use std::sync::Mutex;

/// One opening of a port: what each read gives.
type Reads = VecDeque<io::Result<Vec<u8>>>;

struct Script(Reads, Arc<Mutex<Vec<u8>>>);

impl Link for Script {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self.0.pop_front() {
            Some(Ok(bytes)) => {
                buffer[..bytes.len()].copy_from_slice(&bytes);
                Ok(bytes.len())
            }
            Some(Err(error)) => Err(error),
            None => Ok(0),
        }
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.1.lock().unwrap().extend_from_slice(bytes);
        Ok(())
    }

    fn probe(&mut self) -> io::Result<()> {
        Ok(())
    }
}

struct Scripts {
    openings: VecDeque<Result<Reads, OpenError>>,
    sent: Arc<Mutex<Vec<u8>>>,
}

impl Opener for Scripts {
    fn open(&mut self) -> Result<(Box<dyn Link>, String), OpenError> {
        match self.openings.pop_front() {
            Some(Ok(reads)) => Ok((Box::new(Script(reads, Arc::clone(&self.sent))), "p".into())),
            Some(Err(error)) => Err(error),
            None => Err(OpenError::NotFound { port: "p".into() }),
        }
    }
}

fn story(openings: Vec<Result<Reads, OpenError>>, length: usize) -> Vec<String> {
    let (sender, mut receiver) = mpsc::channel(16);
    let openings = openings.into();
    let sent = Arc::default();
    let keeper = Keeper::start(0, Box::new(Scripts { openings, sent }), sender);
    let told = (0..length)
        .filter_map(|_| receiver.blocking_recv())
        .map(|event| match event.what {
            What::Opened(_) => "opened".into(),
            What::Bytes(bytes) => String::from_utf8(bytes).unwrap(),
            What::Lost(reason) => format!("lost: {reason}"),
            What::Refused(error) => format!("refused: {error}"),
            What::Waiting(reason) => format!("waiting: {reason}"),
            What::Ended => "ended".into(),
        })
        .collect();
    receiver.close();
    drop(keeper);
    told
}

#[expect(clippy::unnecessary_wraps, reason = "stands in a list of results")]
fn bytes(text: &str) -> io::Result<Vec<u8>> {
    Ok(text.as_bytes().to_vec())
}

#[test]
fn a_lost_port_is_opened_again_and_nothing_between_is_dropped() {
    for gone in [
        io::ErrorKind::BrokenPipe.into(),
        io::ErrorKind::PermissionDenied.into(),
        io::Error::from_raw_os_error(5),
        io::Error::from_raw_os_error(6),
    ] {
        let text = format!("lost: {gone}");
        let first = [
            bytes("a"),
            Err(io::ErrorKind::TimedOut.into()),
            bytes("b"),
            Err(gone),
        ];
        let second = [bytes("c")];
        let told = story(vec![Ok(first.into()), Ok(second.into())], 7);
        assert_eq!(
            told,
            [
                "opened",
                "a",
                "b",
                &text,
                "opened",
                "c",
                "lost: the port hung up"
            ]
        );
    }
}

#[test]
fn a_port_that_cannot_be_opened_at_first_is_refused() {
    let busy = || OpenError::Busy {
        port: "p".into(),
        holder: Some("screen (process 7)".into()),
    };
    let for_ever = (0..50).map(|_| Err(busy())).collect();
    assert_eq!(
        story(for_ever, 1),
        ["refused: p is in use by screen (process 7)"]
    );
}

#[test]
fn a_port_that_is_in_use_for_a_moment_is_waited_for() {
    let busy = || OpenError::Busy {
        port: "p".into(),
        holder: None,
    };
    let openings = vec![Err(busy()), Err(busy()), Ok([bytes("a")].into())];
    assert_eq!(story(openings, 2), ["opened", "a"]);
}

#[test]
fn a_reason_to_wait_is_said_once() {
    let denied = || OpenError::Denied {
        port: "p".into(),
        group: None,
    };
    let openings = vec![
        Ok(Reads::new()),
        Err(denied()),
        Err(denied()),
        Ok([bytes("x")].into()),
    ];
    assert_eq!(
        story(openings, 5),
        [
            "opened",
            "lost: the port hung up",
            "waiting: no permission to open p",
            "opened",
            "x"
        ]
    );
}
