//! What must not be missed: boards that fall silent, ports that hang, names that are there twice.

use super::{Style, View};
use crate::cli::text::printable;

impl View {
    /// Nothing has come from a board for too long.
    pub(in crate::cli) fn silent(&mut self, bench: usize, silent_s: f64) {
        let prefix = self.prefix(bench);
        let text = format!("nothing from the board for {silent_s:.0} s");
        self.health(bench, &text);
        self.say(&format!("{prefix}{text}"));
    }

    /// The thread that speaks for a port does not answer.
    pub(in crate::cli) fn port_stuck(&mut self, bench: usize, seconds: u64) {
        let prefix = self.prefix(bench);
        self.alarm(
            bench,
            &format!(
                "{prefix}PORT: the system has not answered a read for {seconds} s; unplug the \
                 board and plug it in again"
            ),
        );
    }

    /// A board answers at another port than before.
    pub(in crate::cli) fn moved(&mut self, id: &str) {
        self.say(&format!(
            "Board {} moved to another port; its samples stay with it.",
            printable(id)
        ));
    }

    /// Two boards say that they are the same.
    pub(in crate::cli) fn ambiguous(&mut self, id: &str) {
        self.loud(&format!(
            "Two boards say that they are {}: nothing is moved, give each an id of its own.",
            printable(id)
        ));
    }

    /// Something is wrong with a bench, and must not be missed.
    pub(super) fn alarm(&mut self, bench: usize, text: &str) {
        self.health(bench, text);
        self.loud(text);
    }

    /// What is wrong with a bench stands in the view until its next row.
    pub(super) fn health(&mut self, bench: usize, text: &str) {
        if let (Style::Picture, Some(screen)) = (self.style, &self.screen)
            && let Some(bench) = screen.shared().state().bench_mut(bench)
        {
            bench.health.alarm = true;
            text.clone_into(&mut bench.health.text);
        }
    }

    /// A bench that is not logged keeps its place, with the reason: what was said of it scrolls away.
    pub(in crate::cli) fn missing(&mut self, bench: usize, name: &str, why: &str) {
        if let (Style::Picture, Some(screen)) = (self.style, &self.screen)
            && let Some(bench) = screen.shared().state().bench_mut(bench)
        {
            if bench.name.is_empty() {
                name.clone_into(&mut bench.name);
            }
            bench.next = "not logged".into();
        }
        self.health(bench, why);
    }

    /// A line that must not be missed.
    pub(super) fn loud(&mut self, text: &str) {
        if let Some(screen) = self.screen.as_ref().filter(|_| self.rings) {
            screen.bell();
        }
        crate::cli::screen::say(text);
    }
}
