//! The terminal while it is ours: set up, drawn to, and given back as it was, whatever happens.

use std::io;

use ratatui::Terminal;
use ratatui::backend::{Backend, CrosstermBackend};
use ratatui::crossterm::{cursor, execute, terminal};

use super::layout::draw;
use super::state::State;

/// A screen of our own. Dropping it, also while a panic unwinds, gives the terminal back.
pub struct Stage<W: io::Write> {
    terminal: Terminal<CrosstermBackend<W>>,
}

impl<W: io::Write> std::fmt::Debug for Stage<W> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Stage").finish_non_exhaustive()
    }
}

impl<W: io::Write> Stage<W> {
    /// Takes the terminal behind `out`: raw keys, and a screen beside the one that was there.
    ///
    /// # Errors
    /// The system's, with the terminal given back.
    pub fn open(mut out: W) -> io::Result<Self> {
        terminal::enable_raw_mode()?;
        let begun = execute!(out, terminal::EnterAlternateScreen, cursor::Hide);
        let stage = begun.and_then(|()| Terminal::new(CrosstermBackend::new(out)));
        match stage {
            Ok(terminal) => Ok(Self { terminal }),
            Err(error) => {
                let _ = terminal::disable_raw_mode();
                Err(error)
            }
        }
    }

    /// Draws a picture; only what changed is sent.
    ///
    /// # Errors
    /// The terminal's.
    pub fn draw(&mut self, state: &State) -> io::Result<()> {
        self.terminal.draw(|frame| draw(frame, state)).map(drop)
    }

    /// Sounds the terminal's bell.
    ///
    /// # Errors
    /// The terminal's.
    pub fn bell(&mut self) -> io::Result<()> {
        let out = self.terminal.backend_mut();
        io::Write::write_all(out, b"\x07")?;
        Backend::flush(out)
    }
}

impl<W: io::Write> Drop for Stage<W> {
    fn drop(&mut self) {
        give_back(self.terminal.backend_mut());
    }
}

/// Gives a terminal back that a [`Stage`] took; harmless if none did.
pub fn give_back(mut out: impl io::Write) {
    let _ = terminal::disable_raw_mode();
    let _ = execute!(out, terminal::LeaveAlternateScreen, cursor::Show);
}
