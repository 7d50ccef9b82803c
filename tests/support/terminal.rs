//! The built program on a terminal of the test's own: a pseudo-terminal, its picture and its keys.

use std::fs::File;
use std::io::{Read as _, Write as _};
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::time::{Duration, Instant};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Action, LocalModes, Winsize, tcflow, tcgetattr, tcsetwinsize};

use super::program::PATIENCE;

/// A terminal with a program on it.
pub struct Terminal {
    near: File,
    path: PathBuf,
    child: Child,
    came: Receiver<Vec<u8>>,
    /// Lets the reader take one more piece.
    allow: SyncSender<()>,
    picture: vt100::Parser,
    /// All that came.
    pub bytes: Vec<u8>,
    reading: bool,
}

impl Terminal {
    /// Starts a program with this terminal as its own (`setsid` is of util-linux).
    pub fn start(command: &Command, (width, height): (u16, u16)) -> Self {
        let near = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&near).unwrap();
        unlockpt(&near).unwrap();
        let path: PathBuf = ptsname(&near, Vec::new())
            .unwrap()
            .into_string()
            .unwrap()
            .into();
        let far = File::options().read(true).write(true).open(&path).unwrap();
        let size = Winsize {
            ws_row: height,
            ws_col: width,
            ws_xpixel: 0,
            ws_ypixel: 0,
        };
        tcsetwinsize(&near, size).unwrap();
        let mut own = Command::new("setsid");
        own.arg("--ctty")
            .arg(command.get_program())
            .args(command.get_args());
        if let Some(folder) = command.get_current_dir() {
            own.current_dir(folder);
        }
        own.env_remove("NO_COLOR")
            .env("TERM", "xterm-256color")
            .env("LC_ALL", "C.UTF-8");
        for (name, value) in command.get_envs() {
            match value {
                Some(value) => own.env(name, value),
                None => own.env_remove(name),
            };
        }
        own.stdin(Stdio::from(far.try_clone().unwrap()));
        own.stdout(Stdio::from(far.try_clone().unwrap()));
        let child = own.stderr(Stdio::from(far)).spawn().unwrap();
        let near = File::from(near);
        let mut from = near.try_clone().unwrap();
        let (send, came) = sync_channel(0);
        let (allow, allowed) = sync_channel(1);
        // Reads one piece each time it may: a terminal that is not looked at takes nothing.
        std::thread::spawn(move || {
            let mut piece = [0; 4096];
            while allowed.recv().is_ok() {
                match from.read(&mut piece) {
                    Ok(n) if n > 0 && send.send(piece[..n].to_vec()).is_ok() => {}
                    _ => return,
                }
            }
        });
        Self {
            near,
            path,
            child,
            came,
            allow,
            picture: vt100::Parser::new(height, width, 0),
            bytes: Vec::new(),
            reading: false,
        }
    }

    /// Presses keys.
    pub fn press(&mut self, keys: &str) {
        self.near.write_all(keys.as_bytes()).unwrap();
    }

    /// Takes one piece, if one comes in time. False at the end.
    fn read(&mut self, patience: Duration) -> bool {
        if !std::mem::replace(&mut self.reading, true) {
            let _ = self.allow.send(());
        }
        match self.came.recv_timeout(patience) {
            Ok(piece) => {
                self.reading = false;
                self.picture.process(&piece);
                self.bytes.extend(piece);
                true
            }
            Err(RecvTimeoutError::Timeout) => true,
            Err(RecvTimeoutError::Disconnected) => false,
        }
    }

    /// The picture as text.
    pub fn text(&self) -> String {
        self.picture.screen().contents()
    }

    /// Waits until the picture holds a text.
    #[track_caller]
    pub fn wait_for(&mut self, part: &str) {
        let deadline = Instant::now() + PATIENCE;
        while !self.text().contains(part) {
            let more = self.read(Duration::from_millis(100));
            assert!(
                more && Instant::now() < deadline,
                "{part:?} never came:\n{}",
                self.text()
            );
        }
    }

    /// Whether keys are echoed and lines edited, as a shell leaves a terminal.
    pub fn is_cooked(&self) -> bool {
        let far = File::options()
            .read(true)
            .write(true)
            .open(&self.path)
            .unwrap();
        let modes = tcgetattr(&far).unwrap().local_modes;
        modes.contains(LocalModes::ECHO | LocalModes::ICANON)
    }

    /// Stops the terminal, as Ctrl-S does: it takes nothing until it goes on.
    pub fn stop(&mut self) {
        tcflow(self.far(), Action::OOff).unwrap();
        // What it had taken before.
        while self.takes(Duration::from_millis(300)) {}
    }

    /// Whether anything comes out of it in that time.
    pub fn takes(&mut self, patience: Duration) -> bool {
        let before = self.bytes.len();
        self.read(patience);
        self.bytes.len() > before
    }

    /// Lets it go on.
    pub fn go_on(&mut self) {
        tcflow(self.far(), Action::OOn).unwrap();
    }

    fn far(&self) -> File {
        File::options()
            .read(true)
            .write(true)
            .open(&self.path)
            .unwrap()
    }

    /// Changes the terminal's size.
    pub fn resize(&mut self, width: u16, height: u16) {
        let size = Winsize {
            ws_row: height,
            ws_col: width,
            ws_xpixel: 0,
            ws_ypixel: 0,
        };
        tcsetwinsize(&self.near, size).unwrap();
        self.picture.screen_mut().set_size(height, width);
        // Until it is drawn so: a key that is pressed while the signal is on its way may wait for the next one.
        let deadline = Instant::now() + PATIENCE;
        let wide = usize::from(width) - 10;
        let is_drawn = |text: &str| {
            text.lines()
                .any(|line| line.trim_end().chars().count() > wide)
        };
        while !is_drawn(&self.text()) {
            let more = self.read(Duration::from_millis(100));
            assert!(
                more && Instant::now() < deadline,
                "not drawn anew:\n{}",
                self.text()
            );
        }
    }

    /// Reads to the program's end.
    #[track_caller]
    pub fn end(&mut self) -> ExitStatus {
        let deadline = Instant::now() + PATIENCE;
        loop {
            self.read(Duration::from_millis(50));
            if let Some(status) = self.child.try_wait().unwrap() {
                // What is still on its way.
                let rest = Instant::now() + Duration::from_millis(500);
                while Instant::now() < rest && self.read(Duration::from_millis(50)) {}
                return status;
            }
            assert!(
                Instant::now() < deadline,
                "it never ended:\n{}",
                self.text()
            );
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
