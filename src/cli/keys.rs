//! Keys and words that people type while a session runs, read by a thread of its own.
//!
//! In the terminal view single keys count; in a plain terminal lines do. A terminal is read only
//! while the program has its foreground: one that is read from the background stops the reader.

use std::io::{self, BufRead as _};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use ratatui::crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use tokio::sync::mpsc::{Receiver, Sender, channel};

use super::screen::Shared;
use crate::lamp::Kind;

/// Keys that wait for the session at most; nobody types faster.
const DEPTH: usize = 32;

/// How often the thread looks whether it is still wanted.
const LOOK: Duration = Duration::from_millis(200);

/// Characters of a note that can be typed.
const LONGEST_NOTE: usize = 200;

/// What a key asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Press {
    /// Keep these words.
    Note(String),
    /// This instant is worth remembering.
    Mark,
    /// The lamp was switched just now, whichever way.
    Lamp,
    /// The lamp was switched so just now.
    LampWas(Kind),
    /// On to the next step.
    GoOn,
    /// A group predicts which sample will warm most.
    Predict {
        /// The group's number.
        group: u8,
        /// The sample's channel, from 0.
        channel: usize,
    },
    /// End the session.
    End,
}

/// A key, and which bench it is for, from 0; none: for all.
pub(super) type Input = (Option<usize>, Press);

/// Keys of a session.
#[derive(Debug)]
pub(super) struct Keys {
    inputs: Receiver<Input>,
    stop: Arc<AtomicBool>,
}

impl Keys {
    /// Nobody types.
    pub(super) fn none() -> Self {
        Self::start(|_, _| {})
    }

    /// Single keys, with the view that shows what they do.
    pub(super) fn of_view(shared: Arc<Shared>) -> Self {
        Self::start(move |sender, stop| {
            let mut typing = Typing::default();
            while !stop.load(Ordering::Relaxed) {
                match event::poll(LOOK).and_then(|there| there.then(event::read).transpose()) {
                    Ok(Some(Event::Key(key))) if key.kind != KeyEventKind::Release => {
                        let input = typing.key(key, &shared);
                        shared.redraw();
                        if input.is_some_and(|input| sender.blocking_send(input).is_err()) {
                            return;
                        }
                    }
                    Ok(Some(Event::Resize(..))) => shared.redraw(),
                    Ok(_) => {}
                    Err(_) => return,
                }
            }
        })
    }

    /// Lines.
    pub(super) fn of_lines() -> Self {
        Self::start(|sender, stop| {
            while !stop.load(Ordering::Relaxed) {
                if !is_readable() {
                    continue;
                }
                let mut line = String::new();
                match io::stdin().lock().read_line(&mut line) {
                    Ok(n) if n > 0 => {
                        if sender.blocking_send(of_line(&line)).is_err() {
                            return;
                        }
                    }
                    _ => return,
                }
            }
        })
    }

    fn start(read: impl FnOnce(&Sender<Input>, &AtomicBool) + Send + 'static) -> Self {
        let (sender, inputs) = channel(DEPTH);
        let stop = Arc::new(AtomicBool::new(false));
        let own = Arc::clone(&stop);
        std::thread::spawn(move || read(&sender, &own));
        Self { inputs, stop }
    }

    /// The next key; waits for ever where nobody types.
    pub(super) async fn next(&mut self) -> Input {
        match self.inputs.recv().await {
            Some(input) => input,
            None => std::future::pending().await,
        }
    }
}

impl Drop for Keys {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// What was typed so far.
#[derive(Debug, Default)]
struct Typing {
    /// The key that ends the run was pressed once.
    ending: bool,
}

impl Typing {
    fn key(&mut self, key: KeyEvent, shared: &Shared) -> Option<Input> {
        let ending = std::mem::take(&mut self.ending);
        let mut state = shared.state();
        let bench = Some(state.selected);
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return (key.code == KeyCode::Char('c')).then_some((None, Press::End));
        }
        if let Some(note) = &mut state.note {
            match key.code {
                KeyCode::Char(c) if note.chars().count() < LONGEST_NOTE => note.push(c),
                KeyCode::Backspace => drop(note.pop()),
                KeyCode::Esc => state.note = None,
                KeyCode::Enter => return state.note.take().map(|note| (bench, Press::Note(note))),
                _ => {}
            }
            return None;
        }
        let press = match key.code {
            KeyCode::Char('n') => {
                state.note = Some(String::new());
                return None;
            }
            KeyCode::Char('m') => Press::Mark,
            KeyCode::Char('l') => Press::Lamp,
            KeyCode::Enter | KeyCode::Char(' ') => Press::GoOn,
            KeyCode::Char('e') if ending => return Some((None, Press::End)),
            KeyCode::Char('e') => {
                self.ending = true;
                state.say("Press e once more to end the run.");
                return None;
            }
            KeyCode::Char('c') => {
                if let Some(code) = state.code.clone() {
                    state.say(&format!("The teacher's code for the page: {code}"));
                }
                return None;
            }
            KeyCode::Tab => {
                state.selected = (state.selected + 1) % state.benches.len().max(1);
                return None;
            }
            KeyCode::Char(c @ '1'..='9') => {
                let wanted = c as usize - '1' as usize;
                if wanted < state.benches.len() {
                    state.selected = wanted;
                }
                return None;
            }
            _ => return None,
        };
        Some((bench, press))
    }
}

/// A line: one of the keys, else a note; `2: …` is for the second bench alone.
fn of_line(line: &str) -> Input {
    let line = line.trim();
    let number = line.split_once(':').and_then(|(number, rest)| {
        let number: usize = number.trim().parse().ok()?;
        (1..=64)
            .contains(&number)
            .then(|| (number - 1, rest.trim()))
    });
    let (bench, words) = match number {
        Some((bench, rest)) => (Some(bench), rest),
        None => (None, line),
    };
    let press = match words {
        "" => Press::GoOn,
        "m" => Press::Mark,
        "l" => Press::Lamp,
        note => Press::Note(note.chars().take(LONGEST_NOTE).collect()),
    };
    (bench, press)
}

/// Whether somebody can type: standard input is a terminal, and ours now.
pub(super) fn can_type() -> bool {
    use std::io::IsTerminal as _;
    io::stdin().is_terminal() && is_foreground()
}

#[cfg(unix)]
fn is_foreground() -> bool {
    rustix::termios::tcgetpgrp(io::stdin()).is_ok_and(|group| group == rustix::process::getpgrp())
}

#[cfg(not(unix))]
fn is_foreground() -> bool {
    true
}

/// Waits a moment for a line that can be read.
#[cfg(unix)]
fn is_readable() -> bool {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    if !is_foreground() {
        std::thread::sleep(LOOK);
        return false;
    }
    let stdin = io::stdin();
    let mut fds = [PollFd::new(&stdin, PollFlags::IN)];
    let wait = Timespec::try_from(LOOK).ok();
    poll(&mut fds, wait.as_ref()).is_ok_and(|ready| ready > 0) && is_foreground()
}

#[cfg(not(unix))]
fn is_readable() -> bool {
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_a_key_or_a_note() {
        for (line, input) in [
            ("\n", (None, Press::GoOn)),
            ("m\n", (None, Press::Mark)),
            ("2: l\n", (Some(1), Press::Lamp)),
            (
                "bumped the table\n",
                (None, Press::Note("bumped the table".into())),
            ),
            (
                "at 10:30 bumped\n",
                (None, Press::Note("at 10:30 bumped".into())),
            ),
            ("99: x\n", (None, Press::Note("99: x".into()))),
        ] {
            assert_eq!(of_line(line), input, "{line}");
        }
    }

    #[test]
    fn keys_type_a_note_and_end_the_run_only_when_pressed_twice() {
        let shared = Shared::default();
        let mut typing = Typing::default();
        let mut press = |code: KeyCode| typing.key(KeyEvent::from(code), &shared);
        for c in "nbumex".chars() {
            assert_eq!(press(KeyCode::Char(c)), None);
        }
        assert_eq!(press(KeyCode::Backspace), None);
        let note = Some((Some(0), Press::Note("bume".into())));
        assert_eq!(press(KeyCode::Enter), note);
        assert_eq!(press(KeyCode::Enter), Some((Some(0), Press::GoOn)));
        assert_eq!(press(KeyCode::Char('e')), None);
        assert_eq!(press(KeyCode::Char('m')), Some((Some(0), Press::Mark)));
        assert_eq!(press(KeyCode::Char('e')), None);
        assert_eq!(press(KeyCode::Char('e')), Some((None, Press::End)));
    }

    #[test]
    fn the_teachers_code_is_shown_when_it_is_asked_for() {
        let shared = Shared::default();
        let mut typing = Typing::default();
        let mut press = || typing.key(KeyEvent::from(KeyCode::Char('c')), &shared);
        assert_eq!(press(), None);
        assert!(shared.state().messages.is_empty());
        shared.state().code = Some("ABCDEF-GHJKLM".into());
        assert_eq!(press(), None);
        let said = shared.state().messages.back().cloned();
        assert!(said.is_some_and(|said| said.text.ends_with(": ABCDEF-GHJKLM")));
    }
}
