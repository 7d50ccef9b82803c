//! Watches the session's own loop: a loop that does not turn is told of, from another thread.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A loop that has not turned for so long is stuck.
const STUCK: Duration = Duration::from_secs(5);

/// How often the thread looks.
const LOOK: Duration = Duration::from_secs(1);

/// The watched loop's hold on its watch. Dropping it ends the watch.
#[derive(Debug)]
pub(super) struct Guard(Arc<Mutex<Instant>>);

impl Guard {
    /// Starts to watch.
    pub(super) fn start() -> Self {
        Self::watching(STUCK, LOOK, |stuck| {
            super::say(&format!(
                "duskmark: its own loop has not turned for {} s; what comes waits in memory",
                stuck.as_secs()
            ));
        })
    }

    fn watching(limit: Duration, look: Duration, tell: impl Fn(Duration) + Send + 'static) -> Self {
        let turned = Arc::new(Mutex::new(Instant::now()));
        let watched = Arc::downgrade(&turned);
        std::thread::spawn(move || {
            let mut told = false;
            loop {
                std::thread::sleep(look);
                let Some(turned) = watched.upgrade() else {
                    return;
                };
                let since = turned
                    .lock()
                    .unwrap_or_else(PoisonError::into_inner)
                    .elapsed();
                let stuck = since > limit;
                if stuck && !told {
                    tell(since);
                }
                told = stuck;
            }
        });
        Self(turned)
    }

    /// The loop turns.
    pub(super) fn turn(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Instant::now();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::channel;

    #[test]
    fn a_loop_that_stops_turning_is_told_of_once() {
        let (sender, told) = channel();
        let tell = move |since| {
            let _ = sender.send(since);
        };
        let guard = Guard::watching(Duration::from_millis(60), Duration::from_millis(5), tell);
        // It never turns: told once, however often the watch looks after that. (Turning in between
        // would depend on how busy the machine is.)
        let since = told.recv_timeout(Duration::from_secs(20)).unwrap();
        assert!(since > Duration::from_millis(60), "{since:?}");
        std::thread::sleep(Duration::from_millis(50));
        drop(guard);
        // The thread ends, and with it the channel: nothing more was told.
        let end = told.recv_timeout(Duration::from_secs(20));
        assert_eq!(end, Err(std::sync::mpsc::RecvTimeoutError::Disconnected));
    }
}
