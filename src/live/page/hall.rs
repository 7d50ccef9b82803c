//! All runs of a folder, and the thread that watches those that go on.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant, SystemTime};

use tokio::sync::watch;

use super::desk::Desk;
use super::places::{Places, Watching};
use super::results::Results;
use super::seen::Seen;
use crate::analysis::by_number;
use crate::journal::FILE_NAME as JOURNAL;
use crate::run::{name, setup_in};

/// How often files are looked at while somebody watches.
const GLANCE: Duration = Duration::from_millis(25);

/// How often the folder is looked through for new runs, and files while nobody watches.
const ROUND: Duration = Duration::from_secs(1);

/// A run without results whose files have not changed for so long is taken to have been cut off.
const SILENT: Duration = Duration::from_secs(90);

/// A run that nobody has looked at for so long is forgotten; its files are read again when
/// somebody does.
const FORGOTTEN: Duration = Duration::from_secs(600);

/// Runs that are listed at most, the newest.
const MOST: usize = 500;

/// Whether rows are still coming.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum State {
    /// They are.
    Running,
    /// There are no results, and nothing has come for a while.
    CutOff,
    /// The results are there.
    Finished,
}

/// One run of the folder.
#[derive(Debug)]
pub(super) struct Run {
    /// The name of its folder, which is its address.
    pub(super) id: String,
    pub(super) folder: PathBuf,
    /// The name that people gave it.
    pub(super) name: String,
    seen: Mutex<Option<Seen>>,
    used: Mutex<Instant>,
    version: watch::Sender<u64>,
    desk: Option<Arc<Desk>>,
}

/// Takes a lock also where a thread has died with it: what it guards is only looked at.
pub(super) fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Run {
    fn new(id: String, folder: PathBuf, desk: Option<Arc<Desk>>) -> Self {
        let name = setup_in(&folder).map_or_else(|_| id.clone(), |setup| setup.name);
        Self {
            id,
            folder,
            name,
            seen: Mutex::new(None),
            used: Mutex::new(Instant::now()),
            version: watch::Sender::new(0),
            desk,
        }
    }

    /// Whether the run is logged by this very program.
    pub(super) fn is_here(&self) -> bool {
        self.desk.as_ref().is_some_and(|desk| desk.has(&self.id))
    }

    /// Whether rows are still coming.
    pub(super) fn state(&self) -> State {
        if self.folder.join(name::SUMMARY).exists() {
            return State::Finished;
        }
        // However long its board is away.
        if self.is_here() {
            return State::Running;
        }
        let changed = [name::READINGS, JOURNAL].into_iter().filter_map(|name| {
            let meta = std::fs::metadata(self.folder.join(name)).ok()?;
            meta.modified().ok()
        });
        let quiet = changed
            .max()
            .and_then(|at| SystemTime::now().duration_since(at).ok());
        if quiet.is_some_and(|quiet| quiet > SILENT) {
            State::CutOff
        } else {
            State::Running
        }
    }

    /// Seconds since the latest row, as far as its file tells. Asks the system.
    pub(super) fn silent_s(&self) -> f64 {
        let meta = std::fs::metadata(self.folder.join(name::READINGS));
        let at = meta.and_then(|meta| meta.modified()).ok();
        let since = at.and_then(|at| SystemTime::now().duration_since(at).ok());
        since.map_or(0.0, |since| since.as_secs_f64())
    }

    /// A finished run's results. Reads a file.
    pub(super) fn results(&self) -> Option<Results> {
        let text = std::fs::read_to_string(self.folder.join(name::SUMMARY)).ok()?;
        Results::of(&text)
    }

    /// Asks what is known of the run, after reading on if nobody did before. Reads files: not for
    /// a thread that must not wait.
    pub(super) fn ask<T>(&self, answer: impl FnOnce(&Seen) -> T) -> T {
        *held(&self.used) = Instant::now();
        let mut seen = held(&self.seen);
        let seen = seen.get_or_insert_with(|| {
            let mut seen = Seen::new(&self.folder);
            while read_on(&mut seen) {}
            // The results are looked for when all rows are read.
            read_on(&mut seen);
            seen
        });
        answer(seen)
    }

    /// Told of every change.
    pub(super) fn changes(&self) -> watch::Receiver<u64> {
        self.version.subscribe()
    }

    /// Reads on, if anybody has looked at the run; whether anything was new.
    fn glance(&self) -> bool {
        let mut seen = held(&self.seen);
        let Some(known) = seen.as_mut() else {
            return false;
        };
        if self.version.receiver_count() == 0 && held(&self.used).elapsed() > FORGOTTEN {
            *seen = None;
            return false;
        }
        let before = known.version;
        // To the end: whoever watches is not shown half of files that were put in place anew.
        while read_on(known) {}
        let (now, changed) = (known.version, known.version != before);
        drop(seen);
        if changed {
            self.version.send_replace(now);
        }
        changed
    }
}

/// Reads on; a file that cannot be read is told of in the program's log and tried again.
fn read_on(seen: &mut Seen) -> bool {
    seen.look().unwrap_or_else(|error| {
        tracing::warn!(%error, "a run's files cannot be read");
        false
    })
}

/// The runs of a folder.
#[derive(Debug)]
pub(super) struct Hall {
    dir: PathBuf,
    runs: Mutex<BTreeMap<String, Arc<Run>>>,
    /// Told of every change of any run that goes on, and of new runs.
    changes: watch::Sender<u64>,
    /// Those who watch.
    viewers: Arc<Places<Watching>>,
    stop: AtomicBool,
    desk: Option<Arc<Desk>>,
    /// The runs that were there before the session that logs beside the page.
    before: BTreeSet<String>,
}

impl Hall {
    /// The runs below `dir`, which need not be there yet; `desk` is that of the session that logs
    /// beside the page, if one does.
    pub(super) fn new(dir: &Path, desk: Option<Arc<Desk>>) -> Arc<Self> {
        let mut hall = Self {
            dir: dir.to_owned(),
            runs: Mutex::default(),
            changes: watch::Sender::new(0),
            viewers: Places::new(),
            stop: AtomicBool::new(false),
            desk,
            before: BTreeSet::new(),
        };
        hall.look_round();
        if hall.desk.is_some() {
            hall.before = held(&hall.runs).keys().cloned().collect();
        }
        Arc::new(hall)
    }

    /// The runs of the wall: beside a session its own and those that go on, but none that was over before:
    /// who waits for today's run would take yesterday's results for it.
    pub(super) fn shown(&self) -> Vec<Arc<Run>> {
        let is_own = |id: &str| self.desk.as_ref().is_some_and(|desk| desk.owns(id));
        let mut runs = self.runs();
        runs.retain(|run| {
            let is_old = self.before.contains(&run.id) && !is_own(&run.id);
            !is_old || run.state() == State::Running
        });
        runs
    }

    /// The places of those who watch.
    pub(super) fn viewers(&self) -> &Arc<Places<Watching>> {
        &self.viewers
    }

    /// The runs: the newest first, and those of one minute, as the benches of a class are, by name.
    pub(super) fn runs(&self) -> Vec<Arc<Run>> {
        let mut all: Vec<Arc<Run>> = held(&self.runs).values().cloned().collect();
        all.sort_by(|a, b| {
            let ((a_minute, a_name), (b_minute, b_name)) = (parts(&a.id), parts(&b.id));
            let by_name = by_number(a_name, b_name);
            let newest = b_minute.cmp(a_minute);
            newest.then(by_name).then_with(|| b.id.cmp(&a.id))
        });
        all
    }

    /// One run, also one that began a moment ago. May read the folder of runs.
    pub(super) fn run(&self, id: &str) -> Option<Arc<Run>> {
        let known = || held(&self.runs).get(id).cloned();
        known().or_else(|| {
            if self.look_round() {
                self.changes.send_modify(|version| *version += 1);
            }
            known()
        })
    }

    /// The way to the session that logs beside the page.
    pub(super) fn desk(&self) -> Option<&Desk> {
        self.desk.as_deref()
    }

    /// Told of every change.
    pub(super) fn changes(&self) -> watch::Receiver<u64> {
        self.changes.subscribe()
    }

    /// Looks for runs that are new or gone; whether there were any.
    fn look_round(&self) -> bool {
        let mut there: Vec<(String, PathBuf)> = std::fs::read_dir(&self.dir)
            .into_iter()
            .flatten()
            .filter_map(Result::ok)
            .map(|entry| entry.path())
            .filter(|path| path.join(JOURNAL).exists() || path.join(name::READINGS).exists())
            .filter_map(|path| Some((path.file_name()?.to_str()?.to_owned(), path)))
            .collect();
        // Names begin with the time.
        there.sort();
        let too_many = there.len().saturating_sub(MOST);
        let there: BTreeMap<String, PathBuf> = there.into_iter().skip(too_many).collect();
        let mut runs = held(&self.runs);
        let before = runs.len();
        runs.retain(|id, _| there.contains_key(id));
        let mut changed = runs.len() != before;
        for (id, folder) in there {
            runs.entry(id).or_insert_with_key(|id| {
                changed = true;
                Arc::new(Run::new(id.clone(), folder, self.desk.clone()))
            });
        }
        changed
    }

    /// Watches until told to stop. For a thread of its own.
    pub(super) fn watch(&self) {
        let mut round = Instant::now();
        while !self.stop.load(Ordering::Relaxed) {
            let mut changed = false;
            if round.elapsed() >= ROUND {
                round = Instant::now();
                changed |= self.look_round();
            }
            for run in self.runs() {
                changed |= run.glance();
            }
            if changed {
                self.changes.send_modify(|version| *version += 1);
            }
            std::thread::sleep(if self.viewers.any() {
                GLANCE
            } else {
                ROUND / 4
            });
        }
    }

    /// Ends the watching.
    pub(super) fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// A run's minute and name: `2026-03-14T1032` and `bench-1` of `2026-03-14T103205-bench-1`.
fn parts(id: &str) -> (&str, &str) {
    let minute = id.get(..15).unwrap_or_default();
    (minute, id.get(18..).unwrap_or(id))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_are_found_newest_first_and_forgotten_when_gone() {
        let dir = tempfile::tempdir().unwrap();
        let hall = Hall::new(&dir.path().join("none"), None);
        assert!(hall.runs().is_empty());
        for id in ["2026-03-14T103205-a", "2026-03-15T080000-b", "other"] {
            std::fs::create_dir(dir.path().join(id)).unwrap();
        }
        for id in ["2026-03-14T103205-a", "2026-03-15T080000-b"] {
            std::fs::write(
                dir.path().join(id).join(name::READINGS),
                "elapsed_s,time_utc,slate_degc,phase,flags\n",
            )
            .unwrap();
        }
        let hall = Hall::new(dir.path(), None);
        let ids: Vec<String> = hall.runs().iter().map(|r| r.id.clone()).collect();
        assert_eq!(ids, ["2026-03-15T080000-b", "2026-03-14T103205-a"]);
        let run = hall.run("2026-03-14T103205-a").unwrap();
        assert_eq!(
            (run.state(), run.ask(|seen| seen.rows)),
            (State::Running, 0)
        );
        let mut changes = run.changes();
        std::fs::write(
            run.folder.join(name::READINGS),
            "elapsed_s,time_utc,slate_degc,phase,flags\n1.000,u,20.0,,\n",
        )
        .unwrap();
        assert!(run.glance() && changes.has_changed().unwrap());
        changes.mark_unchanged();
        assert_eq!(run.ask(|seen| seen.rows), 1);
        std::fs::write(run.folder.join(name::SUMMARY), "{}").unwrap();
        assert_eq!(run.state(), State::Finished);
        // One that began since nobody looked is there at once.
        let late = dir.path().join("2026-03-14T103305-c");
        std::fs::create_dir(&late).unwrap();
        std::fs::write(late.join(name::READINGS), "elapsed_s\n").unwrap();
        assert!(hall.run("2026-03-14T103305-c").is_some());
        std::fs::remove_dir_all(&run.folder).unwrap();
        assert!(hall.look_round() && hall.run("2026-03-14T103205-a").is_none());
    }

    #[test]
    fn the_benches_of_a_class_stand_in_their_order() {
        let dir = tempfile::tempdir().unwrap();
        let names = [
            "T103205-bench-10",
            "T103206-bench-2",
            "T103207-bench-1",
            "T104000-late",
        ];
        for run in names {
            let folder = dir.path().join(format!("2026-03-14{run}"));
            std::fs::create_dir(&folder).unwrap();
            std::fs::write(folder.join(name::READINGS), "elapsed_s\n").unwrap();
        }
        let hall = Hall::new(dir.path(), None);
        let order: Vec<String> = hall.runs().iter().map(|run| run.id.clone()).collect();
        let names: Vec<&str> = order.iter().map(|id| parts(id).1).collect();
        assert_eq!(names, ["late", "bench-1", "bench-2", "bench-10"]);
        // Beside a session: what goes on, and its own also when it is over.
        for id in order.iter().take(2) {
            std::fs::write(dir.path().join(id).join(name::SUMMARY), "{}").unwrap();
        }
        let desk = Desk::new().0;
        desk.logs(BTreeSet::from([order[1].clone()]));
        let shown = Hall::new(dir.path(), Some(desk)).shown();
        let shown: Vec<&String> = shown.iter().map(|run| &run.id).collect();
        assert_eq!(shown, [&order[1], &order[2], &order[3]]);
    }
}
