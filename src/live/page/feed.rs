//! Streams to viewers: each message says all that there is to say of its kind, so that a viewer
//! who was away has caught up with the first one.

use std::convert::Infallible;
use std::io;
use std::sync::Arc;
use std::time::Duration;

use axum::response::sse::Event;
use futures_util::Stream;
use futures_util::stream;
use tokio::io::AsyncReadExt as _;
use tokio::sync::watch;
use tokio::time::{Instant, sleep_until, timeout};

use super::hall::{Hall, Run, State};
use super::now::{LogNow, Now, TableNow};
use super::places::{self, Place};

/// A viewer gets at most one message of a kind in this time.
const APART: Duration = Duration::from_millis(80);

/// The same for the wall, which has all benches in one message.
const WALL_APART: Duration = Duration::from_millis(500);

/// A sign of life where nothing changes, by which a page that slept knows that it must reconnect.
const BEAT: Duration = Duration::from_secs(5);

/// The wall shows so many runs, the newest.
const WALL: usize = 64;

/// What a stream holds while it lasts.
#[derive(Debug)]
pub(super) struct Ticket {
    pub(super) place: Place<places::Watching>,
    pub(super) stop: watch::Receiver<bool>,
}

/// What is known of a run. Reads files.
pub(super) fn now(run: &Run) -> Now {
    Now::of(run)
}

/// The table at the marks. Reads files.
pub(super) fn table(run: &Run) -> TableNow {
    run.ask(|seen| TableNow { rows: seen.table() })
}

/// The latest events. Reads files.
pub(super) fn log(run: &Run) -> LogNow {
    run.ask(LogNow::of)
}

/// What the reader of a finished run should know. Reads files.
pub(super) fn warnings(run: &Run) -> Vec<String> {
    run.ask(|seen| seen.results.as_ref().map(|r| r.warnings.clone()))
        .unwrap_or_default()
}

/// The wall's cards: those that go on first. Reads files.
pub(super) fn cards(hall: &Hall) -> Vec<Now> {
    let runs = hall.shown();
    let mut cards: Vec<Now> = runs.iter().take(WALL).map(|run| Now::brief(run)).collect();
    cards.sort_by_key(|card| card.state != State::Running);
    cards
}

/// What a viewer was told last.
#[derive(Debug, Default, Clone, PartialEq)]
struct Told {
    now: String,
    table: String,
    log: String,
}

impl Told {
    /// Reads files.
    fn of(run: &Run) -> Self {
        Self {
            now: json(&now(run)),
            table: json(&table(run)),
            log: json(&log(run)),
        }
    }
}

fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

struct Watching<T> {
    changes: watch::Receiver<u64>,
    ticket: Ticket,
    told: T,
    next: Instant,
    waiting: Vec<Event>,
}

impl<T> Watching<T> {
    fn new(mut changes: watch::Receiver<u64>, ticket: Ticket, told: T) -> Self {
        changes.mark_changed();
        Self {
            changes,
            ticket,
            told,
            next: Instant::now(),
            waiting: Vec::new(),
        }
    }

    /// Waits for a change, and for the time that lies between two messages. Gives a sign of life
    /// where there is none; `None` at the end.
    async fn wait(&mut self, apart: Duration) -> Option<bool> {
        sleep_until(self.next).await;
        let Ticket { stop, place } = &mut self.ticket;
        let changed = tokio::select! {
            _ = stop.wait_for(|stop| *stop) => return None,
            () = place.ended() => return None,
            changed = timeout(BEAT, self.changes.changed()) => changed,
        };
        self.next = Instant::now() + apart;
        match changed {
            Ok(Ok(())) => Some(true),
            Err(_) => Some(false),
            // The run's folder is gone.
            Ok(Err(_)) => None,
        }
    }
}

/// A run's messages: `now`, `table` and `log`, each when it changed.
pub(super) fn run_events(
    run: Arc<Run>,
    ticket: Ticket,
) -> impl Stream<Item = Result<Event, Infallible>> {
    let watching = Watching::new(run.changes(), ticket, Told::default());
    stream::unfold((run, watching), |(run, mut watching)| async move {
        while watching.waiting.is_empty() {
            let changed = watching.wait(APART).await?;
            let asked = Arc::clone(&run);
            let told = tokio::task::spawn_blocking(move || Told::of(&asked))
                .await
                .ok()?;
            let before = std::mem::replace(&mut watching.told, told);
            let after = &watching.told;
            for (kind, old, new) in [
                ("log", &before.log, &after.log),
                ("table", &before.table, &after.table),
                ("now", &before.now, &after.now),
            ] {
                if old != new {
                    watching
                        .waiting
                        .push(Event::default().event(kind).data(new));
                }
            }
            if !changed && watching.waiting.is_empty() {
                watching
                    .waiting
                    .push(Event::default().event("beat").data(""));
            }
        }
        watching
            .waiting
            .pop()
            .map(|event| (Ok(event), (run, watching)))
    })
}

/// The wall's messages: `wall`, all cards at once.
pub(super) fn wall_events(
    hall: Arc<Hall>,
    ticket: Ticket,
) -> impl Stream<Item = Result<Event, Infallible>> {
    let watching = Watching::new(hall.changes(), ticket, String::new());
    stream::unfold((hall, watching), |(hall, mut watching)| async move {
        watching.wait(WALL_APART).await?;
        let asked = Arc::clone(&hall);
        let told = tokio::task::spawn_blocking(move || json(&cards(&asked)))
            .await
            .ok()?;
        let event = if told == watching.told {
            Event::default().event("beat").data("")
        } else {
            Event::default().event("wall").data(&told)
        };
        watching.told = told;
        Some((Ok(event), (hall, watching)))
    })
}

/// The file's whole lines, as it is when its end is reached.
pub(super) fn whole_lines(file: tokio::fs::File) -> impl Stream<Item = io::Result<Vec<u8>>> {
    stream::unfold((file, Vec::new()), |(mut file, mut rest)| async move {
        loop {
            let before = rest.len();
            let read = (&mut file).take(64 * 1024).read_to_end(&mut rest).await;
            match read {
                Ok(0) => return None,
                Err(error) => return Some((Err(error), (file, Vec::new()))),
                Ok(_) => {}
            }
            // Half a line waits for its other half.
            let new = rest.get(before..).unwrap_or_default();
            if let Some(end) = memchr::memrchr(b'\n', new) {
                let tail = rest.split_off(before + end + 1);
                return Some((Ok(rest), (file, tail)));
            }
        }
    })
}
