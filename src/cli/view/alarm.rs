//! What must not be missed: boards that fall silent, ports that hang, names that are there twice.

use super::{Style, View};
use crate::cli::duration::clock;
use crate::cli::text::printable;
use crate::live::quiet::{no_reading, to_do};
use crate::live::terminal::About;
use crate::live::words::Stand;
use crate::run::Recorder;

impl View {
    /// A bench's board is unplugged, in words, or no longer is.
    pub(in crate::cli) fn trouble(
        &mut self,
        bench: usize,
        trouble: Option<&str>,
        recorder: &Recorder,
    ) {
        let stand = Stand::from(recorder.conductor().step());
        let words = trouble.map(|trouble| to_do(trouble, stand));
        if let (Style::Picture, Some(screen)) = (self.style, &self.screen)
            && let Some(bench) = screen.shared().state().bench_mut(bench)
        {
            bench.trouble.clone_from(&words);
        }
        let prefix = self.prefix(bench);
        let Some(shown) = self.shown(bench) else {
            return;
        };
        let is_new = words.is_some() && !shown.in_trouble;
        shown.in_trouble = words.is_some();
        if let Some(words) = words.filter(|_| is_new) {
            self.instead(bench, &words);
            self.health(bench, &words);
            if self.style != Style::Silent {
                self.loud(&format!("{prefix}>>> {words}"));
            }
        }
    }

    /// Nothing has come from a board for too long, at `now_s` of its run.
    pub(in crate::cli) fn silent(
        &mut self,
        bench: usize,
        now_s: f64,
        silent_s: f64,
        trouble: Option<&str>,
    ) {
        let prefix = self.prefix(bench);
        let text = match trouble {
            Some(trouble) => format!("{trouble} There has been {}.", no_reading(silent_s)),
            None => format!("nothing from the board for {silent_s:.0} s: look at its cable"),
        };
        self.instead(bench, &text);
        self.health(bench, &text);
        self.say(&format!("{prefix}{} {text}", clock(now_s)));
    }

    /// The line of a bench says this until its next row, and shows no number.
    fn instead(&mut self, bench: usize, text: &str) {
        if let Some(shown) = self.shown(bench) {
            text.clone_into(&mut shown.line);
            shown.short = format!("{}: -", bench + 1);
        }
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
        self.loud_about(text, About::Other);
    }

    /// The same of what has to do with a cue.
    pub(super) fn loud_about(&mut self, text: &str, about: About) {
        if let Some(screen) = self.screen.as_ref().filter(|_| self.rings) {
            screen.bell();
        }
        crate::cli::screen::say_about(text, about);
    }
}
