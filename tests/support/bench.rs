//! Boards on pseudo-terminals, spoken by the test.

use std::fs::File;
use std::io::{Read as _, Write as _};
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

/// A pseudo-terminal whose near side the test holds, as a board does.
pub struct Port {
    near: File,
    /// Name of the far side, for `--board`.
    pub path: PathBuf,
}

impl Port {
    pub fn open() -> Self {
        // Without CLOEXEC the program that the test starts would hold the board's side open too.
        let near = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&near).unwrap();
        unlockpt(&near).unwrap();
        let path = ptsname(&near, Vec::new()).unwrap().into_string().unwrap();
        // A fresh one echoes and edits lines: the board would hear itself.
        let far = File::options().read(true).write(true).open(&path).unwrap();
        let mut modes = tcgetattr(&far).unwrap();
        modes.make_raw();
        tcsetattr(&far, OptionalActions::Now, &modes).unwrap();
        Self {
            near: near.into(),
            path: path.into(),
        }
    }

    /// The same, under a name that stays when the port is opened anew.
    pub fn open_as(link: &Path) -> Self {
        let port = Self::open();
        let _ = std::fs::remove_file(link);
        symlink(&port.path, link).unwrap();
        port
    }

    pub fn name(&self) -> &str {
        self.path.to_str().unwrap()
    }

    pub fn say(&mut self, text: &str) {
        self.say_bytes(text.as_bytes());
    }

    pub fn say_bytes(&mut self, bytes: &[u8]) {
        self.near.write_all(bytes).unwrap();
    }

    /// A second hold on the near side, for a thread of its own.
    pub fn twin(&self) -> File {
        self.near.try_clone().unwrap()
    }

    /// Says lines as a board does: each sample when the board's own clock shows its time.
    pub fn play(&mut self, lines: &[String]) {
        // No board has a line ready in the moment in which its port is opened.
        let start = Instant::now() + Duration::from_millis(100);
        let mut first_ms = None;
        for line in lines {
            if let Some(board_ms) = board_ms(line) {
                let since = board_ms.wrapping_sub(*first_ms.get_or_insert(board_ms));
                // A restarted clock goes on at once.
                if since < 60_000 {
                    let due = start + Duration::from_millis(since.into());
                    std::thread::sleep(due.saturating_duration_since(Instant::now()));
                }
            }
            self.say(line);
        }
    }

    /// Waits until the host asks for something, and gives its first line.
    pub fn hear(&mut self) -> String {
        let mut line = Vec::new();
        let mut byte = [0];
        loop {
            match self.near.read(&mut byte) {
                Ok(1) if byte[0] == b'\n' => return String::from_utf8(line).unwrap(),
                Ok(1) => line.push(byte[0]),
                // Nobody has the far side open yet.
                Ok(_) | Err(_) => std::thread::sleep(Duration::from_millis(20)),
            }
        }
    }
}

/// The board's clock in a native sample line, good or bad.
fn board_ms(line: &str) -> Option<u32> {
    line.strip_prefix('>')?.split(',').nth(1)?.parse().ok()
}

/// A native line: everything before the checksum, and the checksum.
pub fn native(text: &str) -> String {
    format!("{text}*{:04X}\n", duskmark::wire::crc16(text.as_bytes()))
}

/// The hello of a two-channel board that prints degrees, ten lines a second.
pub fn hello() -> String {
    native("!duskmark 1 id=test-1 channels=2 unit=degc period_ms=100")
}

/// A sample line of that board: `seq` counts from 0, its clock from one second.
pub fn sample(seq: u32, fields: &str) -> String {
    native(&format!(">{seq},{},{fields}", 1000 + seq.wrapping_mul(100)))
}
