//! What people are told of a bench's ports: boards that are unplugged or silent, ports that are stuck.

use std::collections::BTreeSet;

use tokio::time::Instant;

use super::super::service::STUCK;
use super::super::view::View;
use super::super::wiring::Word;
use super::{ASK_EVERY, Bench, Stage};
use crate::live::quiet::unplugged;
use crate::port::What;

/// A board that stays silent is told of again after so many seconds, then after twice as many, and so on
/// to once an hour.
const AGAIN_S: f64 = 30.0;
const SELDOM_S: f64 = 3600.0;

/// What is known of a bench's ports, and was told.
#[derive(Debug, Default)]
pub(super) struct Ports {
    /// Those that are lost.
    lost: BTreeSet<u16>,
    /// How long nothing had come when people were told last, in seconds.
    told_s: Option<f64>,
    /// People were told that a port's thread is stuck.
    stuck_told: bool,
}

impl Ports {
    /// Something came from a port.
    pub(super) fn heard(&mut self, port: u16, word: &Word) {
        if word.is_speech() {
            self.told_s = None;
        }
        match word {
            Word::Said(What::Lost(_)) | Word::Held(What::Lost(_)) => {
                self.lost.insert(port);
                // That it is unplugged is told at once.
                self.told_s = Some(0.0);
            }
            Word::Said(What::Opened(_) | What::Bytes(_))
            | Word::Held(What::Opened(_) | What::Bytes(_)) => {
                self.lost.remove(&port);
            }
            // Another's board is there, and its own still away.
            Word::Moved(_) => {
                self.lost.insert(port);
            }
            _ => {}
        }
    }

    /// What is wrong, in words, where a board of `all` is unplugged.
    fn trouble(&self, all: usize) -> Option<String> {
        let number = |port: &u16| match all {
            1 => String::new(),
            _ => (port + 1).to_string(),
        };
        let boards: Vec<String> = self.lost.iter().map(number).collect();
        unplugged(boards.iter().map(String::as_str))
    }

    /// Whether people are to be told again that nothing has come for so long.
    fn is_due(&mut self, silent_s: f64) -> bool {
        let due = self.told_s.is_none_or(|told_s| {
            let next_s = (2.0 * told_s).max(AGAIN_S).min(told_s + SELDOM_S);
            silent_s >= next_s
        });
        if due {
            self.told_s = Some(silent_s);
        }
        due
    }
}

impl Bench {
    /// Asks boards that owe a hello or are silent, and tells of ports that are lost or stuck.
    pub(super) fn look_at_ports(&mut self, index: usize, view: &mut View) {
        let (now, now_ns, stuck) = (Instant::now(), self.now_ns(), self.stuck());
        let Stage::Logging(recorder) = &self.stage else {
            return;
        };
        let asks = now >= self.ask;
        let mut silent_s = None;
        for (port, source) in (0_u16..).zip(&self.sources) {
            let silent = recorder.silent_s(port, now_ns);
            // A board that fell silent may only need a word to wake.
            let has_id = self.ids.get(usize::from(port)).is_some_and(Option::is_some);
            let wakes = !self.is_virtual && silent.is_some() && has_id;
            if asks && (recorder.wants_hello(port) || wakes) {
                source.send(crate::wire::request_hello());
                self.ask = now + ASK_EVERY;
            }
            silent_s = silent_s.or(silent);
        }
        let trouble = self.ports.trouble(self.sources.len());
        let now_s = recorder.elapsed_s(now_ns);
        view.trouble(index, trouble.as_deref(), recorder);
        if let Some(silent_s) = silent_s.filter(|silent_s| self.ports.is_due(*silent_s)) {
            view.silent(index, now_s, silent_s, trouble.as_deref());
        }
        if stuck >= STUCK && !std::mem::replace(&mut self.ports.stuck_told, true) {
            view.port_stuck(index, stuck.as_secs());
        }
        self.ports.stuck_told &= stuck >= STUCK;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_is_told_at_once_and_then_ever_more_seldom() {
        let mut ports = Ports::default();
        let told: Vec<u32> = (5..20_000)
            .filter(|s| ports.is_due(f64::from(*s)))
            .collect();
        let first = [5, 30, 60, 120, 240, 480, 960, 1920, 3840, 7440, 11_040];
        assert_eq!(told[..first.len()], first);
    }

    #[test]
    fn a_board_is_unplugged_until_its_port_is_there_again() {
        let mut ports = Ports::default();
        ports.heard(1, &Word::Said(What::Lost("Broken pipe".into())));
        let words = ports.trouble(2).unwrap();
        assert!(words.starts_with("Board 2 is unplugged"), "{words}");
        assert!(!ports.is_due(6.0) && ports.is_due(31.0));
        ports.heard(0, &Word::Said(What::Bytes(b"x".to_vec())));
        assert!(ports.trouble(2).is_some());
        ports.heard(1, &Word::Held(What::Opened("p".into())));
        assert_eq!(ports.trouble(2), None);
        // It was another's board that came there.
        ports.heard(1, &Word::Moved("south".into()));
        assert!(ports.trouble(2).is_some());
    }
}
