//! Messages from the runs, in their order, and what of them was acknowledged.

use std::collections::{BTreeMap, VecDeque};
use std::path::{Path, PathBuf};

use super::cursor::Cursors;
use super::{MqttSetup, Notice};
use crate::follow::{Follow, Heard, Many, Place, State, Step};
use crate::outlet::line::{From, kind, line};

/// Messages that wait to be sent at most; the rest waits in the files.
const MOST_WAITING: usize = 256;

/// Messages of one run in a row at most, so that all runs come forward.
const TURN: usize = 16;

/// What is published.
#[derive(Debug, Clone)]
pub(super) struct Message {
    pub(super) topic: String,
    pub(super) payload: String,
    pub(super) retain: bool,
    /// What is acknowledged with it: a run's folder and a step in it.
    pub(super) step: Option<(PathBuf, Step)>,
    /// The same in few words, for a broker that takes no more.
    pub(super) brief: Option<String>,
}

/// Runs that are sent.
#[derive(Debug)]
pub(super) struct Feed {
    runs: Many,
    site: String,
    root: String,
    client: String,
    cursors: Cursors,
    /// What was acknowledged of each run, and whether that is kept.
    acknowledged: BTreeMap<PathBuf, (Place, bool)>,
    /// The state that was told of each run.
    told: BTreeMap<PathBuf, State>,
    waiting: VecDeque<Message>,
}

impl Feed {
    pub(super) fn new(setup: &MqttSetup, client: &str) -> Self {
        let root = setup.root();
        Self {
            runs: Many::new(setup.source.clone()),
            site: setup.site.clone(),
            client: client.to_owned(),
            cursors: Cursors::new(&setup.broker(), &root),
            root,
            acknowledged: BTreeMap::new(),
            told: BTreeMap::new(),
            waiting: VecDeque::new(),
        }
    }

    /// Reads on in the runs' files.
    ///
    /// # Errors
    /// The system's, with the path of what could not be read.
    pub(super) fn look(&mut self) -> Result<(), (PathBuf, std::io::Error)> {
        let (cursors, acknowledged, told) = (&self.cursors, &mut self.acknowledged, &mut self.told);
        self.runs.look(|folder| {
            let place = cursors.read(folder);
            if place.begun {
                let state = place.end.map_or(State::Running, |_| State::Finished);
                told.insert(folder.to_owned(), state);
            }
            acknowledged.insert(folder.to_owned(), (place.clone(), true));
            place
        })?;
        let mut more = true;
        while std::mem::take(&mut more) {
            for follow in self.runs.runs() {
                let from = From::of(&self.site, follow);
                for _ in 0..TURN {
                    if self.waiting.len() >= MOST_WAITING {
                        return Ok(());
                    }
                    let Some(heard) = follow.take() else { break };
                    more = true;
                    let place = (self.root.as_str(), self.client.as_str());
                    let messages = messages(place, &from, follow, &heard, &mut self.told);
                    self.waiting.extend(messages);
                }
            }
        }
        Ok(())
    }

    /// Whether the files had more than is held here when they were last looked at.
    pub(super) fn has_more(&self) -> bool {
        self.waiting.len() >= MOST_WAITING
    }

    pub(super) fn next(&mut self) -> Option<Message> {
        self.waiting.pop_front()
    }

    /// Whether nothing waits here or in the files.
    pub(super) fn is_dry(&self) -> bool {
        self.waiting.is_empty() && self.runs.is_dry()
    }

    /// Whether all of the one run is on its way.
    pub(super) fn is_over(&self) -> bool {
        self.waiting.is_empty() && self.runs.is_over()
    }

    /// The broker has it.
    pub(super) fn acknowledge(&mut self, run: &Path, step: Step) {
        let (place, kept) = self.acknowledged.entry(run.to_owned()).or_default();
        place.pass(step);
        *kept = false;
    }

    /// Keeps what was acknowledged since the last time; tells of what could not be kept.
    pub(super) fn keep(&mut self, tell: &mut impl FnMut(Notice)) {
        for (run, (place, kept)) in &mut self.acknowledged {
            // Of a run that is gone there is nothing to keep.
            if std::mem::replace(kept, true) || !run.exists() {
                continue;
            }
            if let Err(error) = self.cursors.write(run, place) {
                tell(Notice::NotKept {
                    path: self.cursors.path(run),
                    why: error.to_string(),
                });
            }
        }
    }

    /// Whether this sender is there, for its own topic.
    pub(super) fn link(root: &str, client: &str, state: &str) -> Message {
        Message {
            topic: format!("{root}/_link/{client}"),
            payload: serde_json::json!({"type": "link", "client": client, "state": state})
                .to_string(),
            retain: true,
            step: None,
            brief: None,
        }
    }
}

/// What is to be published of what was heard.
fn messages(
    (root, client): (&str, &str),
    from: &From,
    follow: &Follow,
    heard: &Heard,
    told: &mut BTreeMap<PathBuf, State>,
) -> Vec<Message> {
    let topic = |last: &str| format!("{root}/{}/{last}", from.bench);
    let mut messages = vec![Message {
        topic: topic(kind(heard)),
        payload: line(from, follow, heard),
        retain: !matches!(heard, Heard::Event(..)),
        step: Some((follow.folder().to_owned(), heard.step())),
        brief: match heard {
            Heard::End(state, Some(_)) => Some(line(from, follow, &Heard::End(*state, None))),
            _ => None,
        },
    }];
    let state = match heard {
        Heard::Event(..) => return messages,
        Heard::Begin | Heard::Row(..) => State::Running,
        Heard::End(state, _) => *state,
    };
    if told.insert(follow.folder().to_owned(), state) != Some(state) {
        let payload = serde_json::json!({
            "type": "state", "site": from.site, "bench": from.bench, "run": from.run,
            "state": state, "client": client,
        });
        messages.push(Message {
            topic: topic("state"),
            payload: payload.to_string(),
            retain: true,
            step: None,
            brief: None,
        });
    }
    messages
}
