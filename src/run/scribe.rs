//! The thread that writes one run's files: the journal first, then what others read meanwhile.
//!
//! Each run has one of its own. A disk that is slow, or does not answer at all, then holds up
//! neither the ports nor the other runs: what comes waits in memory, up to a bound.

use std::collections::VecDeque;
use std::sync::mpsc;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use super::course::Lines;
use super::error::RunError;
use super::live_file::LiveFile;
use super::rescue::finish;
use crate::journal::{Missing, Record, Trouble, Writer};

/// Payload bytes that wait for a disk that does not answer, at most.
const MOST_QUEUED: usize = 16 << 20;

/// A source that can wait is made to when so much is queued.
const PATIENT_AT: usize = 256 << 10;

/// What every record costs in memory beside its payload.
const OVERHEAD: usize = 96;

/// Trouble that lasts is told again after so long.
const TELL_EVERY: Duration = Duration::from_secs(300);

/// Notices kept for people at most.
const MOST_NOTICES: usize = 32;

/// How much a power cut may cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SyncEvery {
    /// Nothing that stands in the files: each batch of rows is synced before the next is written.
    Row,
    /// So much time.
    Time(Duration),
}

#[derive(Debug)]
enum Job {
    Record(Record),
    Missing(Missing),
    Lines(Lines),
}

#[derive(Debug, Default)]
struct Queue {
    jobs: VecDeque<Job>,
    bytes: usize,
    missing: Option<Missing>,
    notices: Vec<String>,
    /// The thread is at work on the disk since then.
    busy: Option<Instant>,
    /// The last record of all, once it is there.
    end: Option<Record>,
}

#[derive(Debug, Default)]
struct Shared {
    queue: Mutex<Queue>,
    /// There is work.
    work: Condvar,
    /// There is room.
    room: Condvar,
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Queue> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The hold on the thread.
#[derive(Debug)]
pub(super) struct Scribe {
    shared: Arc<Shared>,
    ended: mpsc::Receiver<Result<(), RunError>>,
    patient: bool,
}

impl Scribe {
    /// Starts the thread. A `patient` source is made to wait for the disk; what comes from others
    /// while memory is full is lost, and marked.
    pub(super) fn start(
        writer: Writer,
        readings: LiveFile,
        events: LiveFile,
        every: SyncEvery,
        patient: bool,
    ) -> Self {
        let shared = Arc::new(Shared::default());
        let (sender, ended) = mpsc::channel();
        let thread = Thread {
            shared: Arc::clone(&shared),
            writer,
            readings,
            events,
            every,
            synced: Instant::now(),
            state: None,
            told: Instant::now(),
        };
        // Not joined: a disk that never answers would keep the program from ending.
        std::thread::spawn(move || {
            let _ = sender.send(thread.run());
        });
        Self {
            shared,
            ended,
            patient,
        }
    }

    /// Hands on a record.
    pub(super) fn record(&self, record: Record) {
        let cost = record.payload.len() + OVERHEAD;
        let mut queue = self.shared.lock();
        while self.patient && queue.bytes > PATIENT_AT {
            queue = self
                .shared
                .room
                .wait(queue)
                .unwrap_or_else(PoisonError::into_inner);
        }
        if queue.bytes > MOST_QUEUED && record.is_speech() {
            let one = Missing::one(&record);
            queue.missing = Some(queue.missing.map_or(one, |before| before.and(one)));
            return;
        }
        if let Some(missing) = queue.missing.take() {
            queue.jobs.push_back(Job::Missing(missing));
        }
        queue.bytes += cost;
        queue.jobs.push_back(Job::Record(record));
        self.shared.work.notify_one();
    }

    /// Hands on lines for the files that others read, to be written after the records before them.
    pub(super) fn lines(&self, lines: Lines) {
        let cost = lines.readings.len() + lines.events.len();
        let mut queue = self.shared.lock();
        // They follow from the journal, and are the first to be done without.
        if cost == 0 || queue.bytes > MOST_QUEUED / 2 {
            return;
        }
        queue.bytes += cost;
        queue.jobs.push_back(Job::Lines(lines));
        self.shared.work.notify_one();
    }

    /// What people must be told about the disk.
    pub(super) fn notices(&self) -> Vec<String> {
        std::mem::take(&mut self.shared.lock().notices)
    }

    /// How long the disk has not answered, and the bytes that wait for it.
    pub(super) fn waiting(&self) -> (Duration, usize) {
        let queue = self.shared.lock();
        let since = queue.busy.map_or(Duration::ZERO, |since| since.elapsed());
        (since, queue.bytes)
    }

    /// Gives the last record; the thread ends when all is written.
    pub(super) fn end(&self, record: Record) {
        self.shared.lock().end = Some(record);
        self.shared.work.notify_one();
    }

    /// Waits for the thread's end; `None` if the disk does not answer for so long.
    pub(super) fn wait(&self, patience: Duration) -> Option<Result<(), RunError>> {
        let gone = || RunError::Scribe;
        match self.ended.recv_timeout(patience) {
            Ok(result) => Some(result),
            Err(mpsc::RecvTimeoutError::Timeout) => None,
            Err(mpsc::RecvTimeoutError::Disconnected) => Some(Err(gone())),
        }
    }
}

struct Thread {
    shared: Arc<Shared>,
    writer: Writer,
    readings: LiveFile,
    events: LiveFile,
    every: SyncEvery,
    synced: Instant,
    /// The disk's trouble, as people were told it.
    state: Option<String>,
    told: Instant,
}

impl Thread {
    fn run(mut self) -> Result<(), RunError> {
        loop {
            let (jobs, end) = self.next();
            self.write(jobs);
            if let Some(end) = end {
                self.writer.push(&end);
                return finish(&mut self.writer, &end);
            }
            if self.sync_in().is_some_and(|left| left.is_zero()) {
                let result = self.writer.sync();
                self.synced = Instant::now();
                self.tell(result);
            }
            self.shared.lock().busy = None;
        }
    }

    /// Waits for work, or for the time to sync.
    fn next(&self) -> (VecDeque<Job>, Option<Record>) {
        let mut queue = self.shared.lock();
        while queue.jobs.is_empty() && queue.end.is_none() {
            let left = self.sync_in();
            let work = &self.shared.work;
            queue = match left {
                Some(left) if left.is_zero() => break,
                Some(left) => {
                    let woken = work.wait_timeout(queue, left);
                    woken.unwrap_or_else(PoisonError::into_inner).0
                }
                None => work.wait(queue).unwrap_or_else(PoisonError::into_inner),
            };
        }
        queue.busy = Some(Instant::now());
        queue.bytes = 0;
        let jobs = std::mem::take(&mut queue.jobs);
        // What was lost last of all is marked too.
        let missing = queue.missing.filter(|_| queue.end.is_some());
        let end = queue.end.take();
        drop(queue);
        self.shared.room.notify_all();
        let mut jobs = jobs;
        jobs.extend(missing.map(Job::Missing));
        (jobs, end)
    }

    fn write(&mut self, jobs: VecDeque<Job>) {
        let mut lines = Lines::default();
        for job in jobs {
            match job {
                Job::Record(record) => self.writer.push(&record),
                Job::Missing(missing) => self.writer.lose(missing),
                Job::Lines(more) => {
                    lines.readings.push_str(&more.readings);
                    lines.events.push_str(&more.events);
                }
            }
        }
        let result = self.writer.flush();
        self.tell(result);
        self.readings.append(&lines.readings);
        self.events.append(&lines.events);
    }

    /// How long until a sync is due, if there is anything to sync.
    fn sync_in(&self) -> Option<Duration> {
        if !self.writer.is_dirty() {
            return None;
        }
        let every = match self.every {
            // A disk in trouble is asked once a second, not in a circle.
            SyncEvery::Row if self.state.is_none() => Duration::ZERO,
            SyncEvery::Row => Duration::from_secs(1),
            SyncEvery::Time(every) => every,
        };
        if self.writer.wants_sync() {
            return Some(Duration::ZERO);
        }
        Some(every.saturating_sub(self.synced.elapsed()))
    }

    /// Tells when the disk's state changes, and again while it lasts.
    fn tell(&mut self, result: Result<(), Trouble>) {
        let now = match result {
            Err(moved @ Trouble::Moved { .. }) => {
                self.notice(format!("{moved}; nothing is lost"));
                None
            }
            result => result.err().map(|trouble| words(&trouble)),
        };
        let again = now.is_some() && self.told.elapsed() > TELL_EVERY;
        if now == self.state && !again {
            return;
        }
        let recovered = || "the disk takes readings again".to_owned();
        self.notice(now.clone().unwrap_or_else(recovered));
        self.told = Instant::now();
        self.state = now;
    }

    fn notice(&self, text: String) {
        let mut queue = self.shared.lock();
        if queue.notices.len() < MOST_NOTICES {
            queue.notices.push(text);
        }
    }
}

/// What a state of the disk means for the run.
fn words(trouble: &Trouble) -> String {
    match trouble {
        Trouble::Nearly { .. } => {
            "the disk is full but for some minutes of room set aside for this run: make room now"
                .into()
        }
        Trouble::Holding {
            lost: 0, source, ..
        } => {
            let to_do = to_do(source);
            format!("the disk takes nothing ({source}); readings wait in memory: {to_do}")
        }
        Trouble::Holding { source, .. } => format!(
            "the disk takes nothing and the memory set aside is full: readings are lost; {}",
            to_do(source)
        ),
        Trouble::Moved { .. } => trouble.to_string(),
        Trouble::NotSynced { reason } => format!(
            "the disk could not confirm what was written ({reason}); a power cut may cost it"
        ),
    }
}

/// What people can do about a disk that takes nothing.
fn to_do(error: &std::io::Error) -> &'static str {
    use std::io::ErrorKind::{QuotaExceeded, StorageFull};
    match error.kind() {
        StorageFull | QuotaExceeded => "make room now",
        _ => "look at the disk now",
    }
}
