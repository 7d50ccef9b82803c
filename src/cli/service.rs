//! The word to systemd, where it started us: ready, status, watchdog.
//!
//! The watchdog is fed only while every disk and every port's thread answers. A disk that is full
//! or fails its syncs answers: the run goes on in memory, and a restart would lose that. A board
//! that is unplugged or silent is no fault of the service either.

use std::sync::mpsc::{SyncSender, sync_channel};
use std::time::{Duration, Instant};

/// A disk or a port's thread that has not answered for so long is stuck.
pub(super) const STUCK: Duration = Duration::from_secs(10);

/// How often the status is told.
const STATUS_EVERY: Duration = Duration::from_secs(10);

/// What systemd was told.
#[derive(Debug)]
pub(super) struct Service {
    /// How often it wants to hear from us at least.
    watchdog: Option<Duration>,
    /// To the thread that speaks: a manager that does not listen must not hold up a run.
    words: Option<SyncSender<Word>>,
    fed: Option<Instant>,
    told: Option<Instant>,
    ready: bool,
}

impl Service {
    /// Looks whether systemd is there.
    pub(super) fn new() -> Self {
        Self {
            watchdog: watchdog(),
            words: std::env::var_os("NOTIFY_SOCKET").map(|_| speaker()),
            fed: None,
            told: None,
            ready: false,
        }
    }

    /// A moment in a session: whether all that must answer does, whether the runs are under way,
    /// and what there is to say.
    pub(super) fn turn(&mut self, healthy: bool, under_way: bool, status: impl FnOnce() -> String) {
        if under_way && !std::mem::replace(&mut self.ready, true) {
            self.say(Word::Ready);
        }
        let due =
            |last: Option<Instant>, every: Duration| last.is_none_or(|t| t.elapsed() >= every);
        if let Some(watchdog) = self.watchdog
            && healthy
            && due(self.fed, watchdog / 3)
        {
            self.say(Word::Alive);
            self.fed = Some(Instant::now());
        }
        if self.ready && due(self.told, STATUS_EVERY) {
            self.say(Word::Status(status()));
            self.told = Some(Instant::now());
        }
    }

    /// The session ends.
    pub(super) fn stopping(&self) {
        self.say(Word::Stopping);
    }

    fn say(&self, word: Word) {
        if let Some(words) = &self.words {
            let _ = words.try_send(word);
        }
    }
}

/// Starts the thread that speaks.
fn speaker() -> SyncSender<Word> {
    let (words, spoken) = sync_channel(8);
    std::thread::spawn(move || {
        for word in spoken {
            notify(&word);
        }
    });
    words
}

#[derive(Debug)]
enum Word {
    Ready,
    Alive,
    #[cfg_attr(
        not(target_os = "linux"),
        expect(dead_code, reason = "nobody is told elsewhere")
    )]
    Status(String),
    Stopping,
}

#[cfg(target_os = "linux")]
fn watchdog() -> Option<Duration> {
    sd_notify::watchdog_enabled()
}

#[cfg(target_os = "linux")]
fn notify(word: &Word) {
    use sd_notify::NotifyState;
    let state = match word {
        Word::Ready => NotifyState::Ready,
        Word::Alive => NotifyState::Watchdog,
        Word::Status(text) => NotifyState::Status(text),
        Word::Stopping => NotifyState::Stopping,
    };
    if let Err(error) = sd_notify::notify(&[state]) {
        tracing::debug!(%error, "systemd cannot be told");
    }
}

#[cfg(not(target_os = "linux"))]
fn watchdog() -> Option<Duration> {
    None
}

#[cfg(not(target_os = "linux"))]
fn notify(_word: &Word) {}
