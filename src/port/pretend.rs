//! A virtual board in place of a port: the same events, from the simulated bench.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

use tokio::sync::mpsc;

use super::clock::boot_ns;
use super::hold::{Hold, Pulse};
use super::keeper::{PortEvent, What};
use crate::sim::{Happening, VirtualBoard};

/// Longest sleep between looks at the stop flag.
const NAP: Duration = Duration::from_millis(200);

/// The hold on a virtual board's thread.
#[derive(Debug)]
pub struct Pretender {
    hold: Hold,
    start_ns: i64,
    speed: f64,
}

impl Pretender {
    /// Runs `board` at `speed` times life; infinite: as fast as the run takes it. Arrival times
    /// are those of the simulated bench, counted from now.
    #[must_use]
    pub fn start(
        bench: usize,
        board: VirtualBoard,
        speed: f64,
        events: mpsc::Sender<PortEvent>,
    ) -> Self {
        // A bench that does not run by the host's clock does not begin on it either: the same seed
        // then gives the same journal.
        let start_ns = if speed.is_finite() { boot_ns() } else { 0 };
        let hold = Hold::start(move |pulse, wanted| {
            let thread = Thread {
                bench,
                board,
                speed,
                start_ns,
                events,
                wanted,
                pulse,
            };
            thread.run();
        });
        Self {
            hold,
            start_ns,
            speed,
        }
    }

    /// Sends bytes to the board.
    pub fn send(&self, bytes: &[u8]) {
        self.hold.send(bytes);
    }

    /// How long the board's thread has not turned.
    #[must_use]
    pub fn stuck(&self) -> Duration {
        self.hold.silent()
    }

    /// Now on the simulated bench's clock, in ns; for an infinite speed, when it started.
    #[must_use]
    pub fn now_ns(&self) -> i64 {
        if self.speed.is_finite() {
            self.start_ns + ((boot_ns() - self.start_ns) as f64 * self.speed) as i64
        } else {
            self.start_ns
        }
    }
}

struct Thread {
    bench: usize,
    board: VirtualBoard,
    speed: f64,
    start_ns: i64,
    events: mpsc::Sender<PortEvent>,
    wanted: Receiver<Vec<u8>>,
    pulse: Arc<Pulse>,
}

impl Thread {
    fn run(mut self) {
        let mut last_s = 0.0;
        self.tell(last_s, What::Opened("virtual".into()));
        while let Some(wake_s) = self.board.wake_s() {
            if !self.wait_until(wake_s) {
                break;
            }
            while let Some(happening) = self.board.next_before(wake_s) {
                last_s = happening.at_s();
                let what = match happening {
                    Happening::Bytes(burst) => What::Bytes(burst.bytes),
                    Happening::Unplugged { .. } => What::Lost("the port hung up".into()),
                    Happening::Replugged { .. } => What::Opened("virtual".into()),
                };
                self.tell(last_s, what);
            }
        }
        self.tell(last_s, What::Ended);
    }

    /// Waits until the bench's clock shows `due_s`; false when the run is over. Requests are
    /// handed to the board as they come, which may bring its next words forward: then it returns.
    fn wait_until(&mut self, due_s: f64) -> bool {
        loop {
            if self.pulse.turn() || self.events.is_closed() {
                return false;
            }
            let real_s = (boot_ns() - self.start_ns) as f64 / 1e9;
            let left_s = due_s / self.speed - real_s;
            let nap = Duration::from_secs_f64(left_s.clamp(0.0, NAP.as_secs_f64()));
            match self.wanted.recv_timeout(nap) {
                Ok(bytes) => {
                    let now_s = if self.speed.is_finite() {
                        real_s * self.speed
                    } else {
                        due_s
                    };
                    self.board.receive(&bytes, now_s);
                    return true;
                }
                Err(RecvTimeoutError::Timeout) if left_s <= 0.0 => return true,
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return false,
            }
        }
    }

    fn tell(&self, at_s: f64, what: What) {
        let event = PortEvent {
            bench: self.bench,
            t_ns: self.start_ns + (at_s * 1e9).round() as i64,
            what,
        };
        let _ = self.events.blocking_send(event);
    }
}
