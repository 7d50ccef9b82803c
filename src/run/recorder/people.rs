//! What people say while a run is logged: keys, notes, predictions. Each is a record first.

use super::super::hand::{Hand, note};
use super::super::news::News;
use super::super::poll::{self, MOST_GROUPS, Predicted};
use super::Recorder;
use crate::journal::Kind;

impl Recorder {
    /// People pressed a key.
    pub fn hand(&mut self, t_ns: i64, hand: Hand, news: &mut Vec<News>) {
        let t_ns = t_ns + self.shift_ns;
        self.record(t_ns, 0, Kind::Hand, hand.code().as_bytes(), news);
    }

    /// People said something; an empty text is nothing.
    pub fn note(&mut self, t_ns: i64, text: &str, news: &mut Vec<News>) {
        if let Some(text) = note(text) {
            let t_ns = t_ns + self.shift_ns;
            self.record(t_ns, 0, Kind::Note, text.as_bytes(), news);
        }
    }

    /// A group predicts which sample will warm most.
    pub fn predict(
        &mut self,
        t_ns: i64,
        group: u8,
        sample: &str,
        news: &mut Vec<News>,
    ) -> Predicted {
        let conductor = &self.course.conductor;
        if !poll::is_open(conductor.step(), conductor.cycle()) {
            return Predicted::Closed;
        }
        let known = self.names().iter().any(|name| name == sample);
        if !known || !(1..=MOST_GROUPS).contains(&group) {
            return Predicted::Unknown;
        }
        let number = group.to_string();
        let again = self.course.guesses.iter().any(|g| g.group == number);
        let payload = poll::payload(group, sample);
        let t_ns = t_ns + self.shift_ns;
        self.record(t_ns, 0, Kind::Predict, payload.as_bytes(), news);
        if again {
            Predicted::Again
        } else {
            Predicted::First
        }
    }
}
