//! The page beside a session: what people do on it, and which runs it may be done in.

use std::collections::BTreeSet;
use std::sync::Arc;

use tokio::sync::mpsc::Receiver;

use super::bench::Bench;
use super::keys::Press;
use crate::live::page::{Act, Deed, Desk};

/// The session's end of the page's desk.
#[derive(Debug, Default)]
pub(super) struct Deeds(Option<(Arc<Desk>, Receiver<Deed>)>);

impl Deeds {
    /// No page.
    pub(super) fn none() -> Self {
        Self::default()
    }

    /// A page, which gets the desk that comes with it.
    pub(super) fn start() -> (Self, Arc<Desk>) {
        let (desk, deeds) = Desk::new();
        (Self(Some((Arc::clone(&desk), deeds))), desk)
    }

    /// The next deed; waits for ever where there is no page.
    pub(super) async fn next(&mut self) -> Deed {
        let next = match &mut self.0 {
            Some((_, deeds)) => deeds.recv().await,
            None => None,
        };
        match next {
            Some(deed) => deed,
            None => std::future::pending().await,
        }
    }

    /// Tells the page which runs are logged now.
    pub(super) fn tell(&self, benches: &[Bench]) {
        if let Some((desk, _)) = &self.0 {
            desk.logs(benches.iter().filter_map(Bench::run_name).collect());
        }
    }
}

impl Drop for Deeds {
    /// The page may outlast the session.
    fn drop(&mut self) {
        if let Some((desk, _)) = &self.0 {
            desk.logs(BTreeSet::new());
        }
    }
}

/// The key that does the same; none for what ends the run.
pub(super) fn press(act: Act) -> Option<Press> {
    Some(match act {
        Act::Note(text) => Press::Note(text),
        Act::Mark => Press::Mark,
        Act::Lamp(kind) => Press::LampWas(kind),
        Act::GoOn => Press::GoOn,
        Act::Predict { group, channel } => Press::Predict { group, channel },
        Act::End => return None,
    })
}
