//! The hold on a thread that speaks for a port: stop it, send through it, wait for its end.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;

/// A running thread. Dropping it stops the thread and waits for it.
#[derive(Debug)]
pub(super) struct Hold {
    stop: Arc<AtomicBool>,
    requests: Sender<Vec<u8>>,
    thread: Option<JoinHandle<()>>,
}

impl Hold {
    /// Starts a thread, which is given its stop flag and what is to be sent.
    pub(super) fn start<F>(run: F) -> Self
    where
        F: FnOnce(Arc<AtomicBool>, Receiver<Vec<u8>>) + Send + 'static,
    {
        let (requests, wanted) = channel();
        let stop = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&stop);
        Self {
            stop,
            requests,
            thread: Some(std::thread::spawn(move || run(flag, wanted))),
        }
    }

    /// Hands bytes to the thread.
    pub(super) fn send(&self, bytes: &[u8]) {
        let _ = self.requests.send(bytes.to_vec());
    }
}

impl Drop for Hold {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // The thread is out within a read's time-out, or within the longest wait for a port to
            // come back; its panic would be a fault of ours that the run has seen as an end.
            let _ = thread.join();
        }
    }
}
