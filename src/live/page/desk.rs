//! Between the page and the session that logs: what people do on the page goes one way, which runs
//! are logged here the other. Neither ever waits for the other.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};

use tokio::sync::{mpsc, oneshot};

use super::hall::held;
use crate::lamp::Kind;

/// Deeds that wait for the session at most.
const DEPTH: usize = 32;

/// What somebody does on the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Act {
    /// Keeps these words.
    Note(String),
    /// Marks this instant.
    Mark,
    /// Says that the lamp was switched so just now.
    Lamp(Kind),
    /// Goes on to the next step without waiting.
    GoOn,
    /// Ends the run.
    End,
    /// Says which sample a group expects to warm most.
    Predict {
        /// The group's number.
        group: u8,
        /// The sample's channel, from 0.
        channel: usize,
    },
}

/// What the session makes of it: words for whoever did it.
pub type Outcome = Result<&'static str, &'static str>;

/// Something done on the page of a run.
#[derive(Debug)]
pub struct Deed {
    /// The name of the run's folder.
    pub run: String,
    /// What.
    pub act: Act,
    /// Where the answer goes.
    pub answer: oneshot::Sender<Outcome>,
}

/// Why a deed did not reach the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Undone {
    /// The run is not logged here.
    Elsewhere,
    /// The session has too much to do.
    Busy,
    /// The session says no, in words.
    Refused(&'static str),
}

/// The page's side.
#[derive(Debug)]
pub struct Desk {
    runs: Mutex<BTreeSet<String>>,
    /// All runs that were ever logged here.
    own: Mutex<BTreeSet<String>>,
    deeds: mpsc::Sender<Deed>,
}

impl Desk {
    /// A desk, and where its deeds come out.
    #[must_use]
    pub fn new() -> (Arc<Self>, mpsc::Receiver<Deed>) {
        let (deeds, out) = mpsc::channel(DEPTH);
        let (runs, own) = (Mutex::default(), Mutex::default());
        (Arc::new(Self { runs, own, deeds }), out)
    }

    /// These runs are logged here now, by the names of their folders.
    pub fn logs(&self, runs: BTreeSet<String>) {
        held(&self.own).extend(runs.iter().cloned());
        *held(&self.runs) = runs;
    }

    /// Whether a run is, or was, of this session.
    pub(super) fn owns(&self, run: &str) -> bool {
        held(&self.own).contains(run)
    }

    /// Whether a run is.
    pub(super) fn has(&self, run: &str) -> bool {
        held(&self.runs).contains(run)
    }

    /// Hands a deed to the session, and waits for what it makes of it.
    pub(super) async fn hand(&self, run: &str, act: Act) -> Result<&'static str, Undone> {
        if !self.has(run) {
            return Err(Undone::Elsewhere);
        }
        let (answer, answered) = oneshot::channel();
        let run = run.to_owned();
        let deed = Deed { run, act, answer };
        self.deeds.try_send(deed).map_err(|_| Undone::Busy)?;
        match answered.await {
            Ok(outcome) => outcome.map_err(Undone::Refused),
            // The session ended meanwhile.
            Err(_) => Err(Undone::Elsewhere),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn deeds_reach_the_session_that_logs_the_run() {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .build()
            .unwrap();
        runtime.block_on(async {
            let (desk, mut deeds) = Desk::new();
            assert_eq!(desk.hand("a", Act::Mark).await, Err(Undone::Elsewhere));
            desk.logs(BTreeSet::from(["a".to_owned()]));
            let session = async {
                let deed = deeds.recv().await.unwrap();
                assert_eq!((deed.run.as_str(), deed.act), ("a", Act::Mark));
                deed.answer.send(Ok("Marked.")).unwrap();
                // The next one is left unanswered: the session is over.
                drop(deeds.recv().await.unwrap());
            };
            let page = async {
                assert_eq!(desk.hand("a", Act::Mark).await, Ok("Marked."));
                assert_eq!(desk.hand("a", Act::End).await, Err(Undone::Elsewhere));
            };
            tokio::join!(session, page);
            // A session that does not look is not waited for.
            for _ in 0..DEPTH {
                let (answer, _) = oneshot::channel();
                let (run, act) = ("a".into(), Act::Mark);
                desk.deeds.try_send(Deed { run, act, answer }).unwrap();
            }
            assert_eq!(desk.hand("a", Act::Mark).await, Err(Undone::Busy));
        });
    }
}
