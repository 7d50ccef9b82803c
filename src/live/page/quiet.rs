//! Whether rows of a run still come, as its files tell it.

use std::collections::BTreeSet;

use crate::follow::EventSeen;
use crate::live::quiet::{is_old, unplugged, usual_s};

/// Follows a run's rows, and its boards' ports.
#[derive(Debug, Default)]
pub(super) struct Quiet {
    /// Run time of the latest row, and the usual time between rows, in seconds.
    row_s: Option<f64>,
    every_s: Option<f64>,
    /// Boards whose port is lost, by their number beside others; and when the latest was.
    lost: BTreeSet<String>,
    lost_s: f64,
}

impl Quiet {
    /// An event. Events are read before the rows that came before them.
    pub(super) fn event(&mut self, event: &EventSeen) {
        let words = event.detail.strip_prefix("board ");
        let board = words.and_then(|words| words.split_once(": "));
        let board = board.map_or("", |(number, _)| number);
        match event.kind.as_str() {
            "port-lost" => {
                self.lost.insert(board.to_owned());
                self.lost_s = event.t_s;
            }
            "port-open" => {
                self.lost.remove(board);
            }
            // Another program goes on, with boards that it has opened.
            "resume" => self.lost.clear(),
            _ => {}
        }
    }

    /// A row.
    pub(super) fn row(&mut self, t_s: f64) {
        let latest_s = self.row_s.replace(t_s).map(|before_s| t_s - before_s);
        self.every_s = usual_s(self.every_s, latest_s);
        if t_s > self.lost_s {
            self.lost.clear();
        }
    }

    /// What is wrong, in words, where a board is unplugged.
    pub(super) fn unplugged(&self) -> Option<String> {
        unplugged(self.lost.iter().map(String::as_str))
    }

    /// Whether the latest row's numbers are no longer the samples', when nothing has come for so long.
    pub(super) fn is_old(&self, silent_s: f64) -> bool {
        let gone = self.row_s.is_some_and(|row_s| self.lost_s >= row_s);
        (gone && self.lost_s > 0.0) || is_old(silent_s, self.every_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(line: &str) -> EventSeen {
        EventSeen::of(line).unwrap()
    }

    #[test]
    fn numbers_are_old_from_the_plug_s_pulling_to_the_next_row() {
        let mut quiet = Quiet::default();
        for s in 0..10 {
            quiet.row(f64::from(s));
        }
        assert!(!quiet.is_old(1.0) && quiet.is_old(6.0) && quiet.unplugged().is_none());
        quiet.event(&event("9.500,x,port-lost,,Broken pipe"));
        // The row before it may be read after it.
        quiet.row(9.4);
        assert!(quiet.is_old(0.1) && quiet.unplugged().is_some());
        quiet.event(&event("21.000,x,port-open,,/dev/ttyACM0"));
        assert!(quiet.is_old(0.1) && quiet.unplugged().is_none());
        quiet.row(22.0);
        assert!(!quiet.is_old(0.1));
    }

    #[test]
    fn boards_that_make_one_table_are_told_apart() {
        let mut quiet = Quiet::default();
        quiet.event(&event("9.500,x,port-lost,,board 2: Broken pipe"));
        quiet.event(&event("9.600,x,port-open,,board 1: /dev/ttyACM0"));
        let words = quiet.unplugged().unwrap();
        assert!(words.starts_with("Board 2 is unplugged"), "{words}");
        quiet.event(&event("12.000,x,resume,,after 3 s"));
        assert_eq!(quiet.unplugged(), None);
    }
}
