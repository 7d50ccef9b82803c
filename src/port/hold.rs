//! The hold on a thread that speaks for a port: stop it, send through it, wait for its end.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, OnceLock};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// What a thread and its holder share.
#[derive(Debug, Default)]
pub(super) struct Pulse {
    stop: AtomicBool,
    /// When the thread last turned, in ms since the first look at this clock.
    turned_ms: AtomicU64,
}

impl Pulse {
    /// The thread turns: it is not stuck in the system. True if it is to stop.
    pub(super) fn turn(&self) -> bool {
        self.turned_ms.store(now_ms(), Ordering::Relaxed);
        self.stop.load(Ordering::Relaxed)
    }
}

fn now_ms() -> u64 {
    static ORIGIN: OnceLock<Instant> = OnceLock::new();
    let origin = ORIGIN.get_or_init(Instant::now);
    u64::try_from(origin.elapsed().as_millis()).unwrap_or(u64::MAX)
}

/// A running thread. Dropping it stops the thread and waits for it.
#[derive(Debug)]
pub(super) struct Hold {
    pulse: Arc<Pulse>,
    requests: Sender<Vec<u8>>,
    thread: Option<JoinHandle<()>>,
}

impl Hold {
    /// Starts a thread, which is given its pulse and what is to be sent.
    pub(super) fn start<F>(run: F) -> Self
    where
        F: FnOnce(Arc<Pulse>, Receiver<Vec<u8>>) + Send + 'static,
    {
        let (requests, wanted) = channel();
        let pulse = Arc::new(Pulse::default());
        pulse.turn();
        let own = Arc::clone(&pulse);
        Self {
            pulse,
            requests,
            thread: Some(std::thread::spawn(move || run(own, wanted))),
        }
    }

    /// Hands bytes to the thread.
    pub(super) fn send(&self, bytes: &[u8]) {
        let _ = self.requests.send(bytes.to_vec());
    }

    /// How long the thread has not turned; zero once it has ended.
    pub(super) fn silent(&self) -> Duration {
        if self.thread.as_ref().is_none_or(JoinHandle::is_finished) {
            return Duration::ZERO;
        }
        let turned_ms = self.pulse.turned_ms.load(Ordering::Relaxed);
        Duration::from_millis(now_ms().saturating_sub(turned_ms))
    }
}

impl Drop for Hold {
    fn drop(&mut self) {
        self.pulse.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // The thread is out within a read's time-out, or within the longest wait for a port to
            // come back; its panic would be a fault of ours that the run has seen as an end.
            let _ = thread.join();
        }
    }
}
