//! The built program, run as a user runs it.

use std::io::{BufRead as _, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// Nothing that is waited for takes so long; a test that waits longer has failed.
pub const PATIENCE: Duration = Duration::from_secs(60);

pub const PROGRAM: &str = env!("CARGO_BIN_EXE_duskmark");

/// The program with words, in a folder of the test's own, without the user's settings.
pub fn duskmark(folder: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(PROGRAM);
    command
        .args(words)
        .current_dir(folder)
        .env_remove("DUSKMARK_OUT")
        .env_remove("DUSKMARK_BOARD")
        .env_remove("DUSKMARK_LOG")
        .env_remove("DUSKMARK_CALIBRATIONS")
        // Where this system has the user's own folder for settings.
        .env("XDG_CONFIG_HOME", folder.join("own"))
        .env("APPDATA", folder.join("own"))
        .env("HOME", folder.join("own"))
        .env_remove("LC_ALL")
        .env_remove("LC_MESSAGES")
        .env_remove("LANG")
        .stdin(Stdio::null());
    command
}

/// What a finished program said.
#[derive(Debug)]
pub struct Said {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl From<Output> for Said {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

impl Said {
    /// Checks the exit code and that the error text holds all `parts`.
    #[track_caller]
    pub fn failed_with(&self, code: i32, parts: &[&str]) {
        assert_eq!(self.code, code, "{self:#?}");
        for part in parts {
            assert!(
                self.err.contains(part),
                "{part:?} is missing in:\n{}",
                self.err
            );
        }
    }

    #[track_caller]
    pub fn done(&self) -> &Self {
        assert_eq!(self.code, 0, "{self:#?}");
        self
    }
}

/// Runs the program to its end.
#[track_caller]
pub fn run(folder: &Path, words: &[&str]) -> Said {
    duskmark(folder, words).output().unwrap().into()
}

/// A program that runs beside the test, its error lines coming in as they are written.
pub struct Running {
    child: Child,
    lines: Receiver<String>,
    seen: Vec<String>,
}

impl Running {
    pub fn start(mut command: Command) -> Self {
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (sender, lines) = channel();
        let err = BufReader::new(child.stderr.take().unwrap());
        std::thread::spawn(move || {
            for line in err.lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    break;
                }
            }
        });
        Self {
            child,
            lines,
            seen: Vec::new(),
        }
    }

    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Waits for an error line that holds `part`.
    #[track_caller]
    pub fn wait_for(&mut self, part: &str) -> String {
        if let Some(line) = self.seen.iter().find(|line| line.contains(part)) {
            return line.clone();
        }
        let deadline = Instant::now() + PATIENCE;
        loop {
            let left = deadline.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok(line) => {
                    let found = line.contains(part);
                    self.seen.push(line.clone());
                    if found {
                        return line;
                    }
                }
                Err(end) => {
                    panic!(
                        "{part:?} never came ({end}); it said:\n{}",
                        self.seen.join("\n")
                    )
                }
            }
        }
    }

    /// Waits until the run's folder is named, and gives it.
    #[track_caller]
    pub fn wait_for_run(&mut self, folder: &Path) -> PathBuf {
        let line = self.wait_for("Logging into ");
        folder.join(line.trim_start_matches("Logging into "))
    }

    /// Sends a signal by its name.
    pub fn signal(&self, name: &str) {
        let pid = self.child.id().to_string();
        let sent = Command::new("kill")
            .args(["-s", name, &pid])
            .status()
            .unwrap();
        assert!(sent.success());
    }

    /// Waits until it has ended, whatever it says meanwhile.
    pub fn wait_for_end(&mut self) {
        self.seen.extend(self.lines.iter());
        self.child.wait().unwrap();
    }

    /// Waits for its end.
    #[track_caller]
    pub fn end(mut self) -> Said {
        let mut out = String::new();
        let mut pipe = self.child.stdout.take().unwrap();
        pipe.read_to_string(&mut out).unwrap();
        let status = self.child.wait().unwrap();
        self.seen.extend(self.lines.iter());
        Said {
            code: status.code().unwrap_or(-1),
            out,
            err: self.seen.join("\n"),
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Logs `board` with further words, beside the test.
pub fn log_on(folder: &Path, board: &str, words: &[&str]) -> Running {
    let words = [&["log", "--board", board], words].concat();
    Running::start(duskmark(folder, &words))
}

/// Waits for something that no line tells, by looking again and again.
#[track_caller]
pub fn wait_until(what: &str, mut there: impl FnMut() -> bool) {
    let deadline = Instant::now() + PATIENCE;
    while !there() {
        assert!(Instant::now() < deadline, "{what} never came");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// The one run folder below `runs/`.
#[track_caller]
pub fn only_run(folder: &Path) -> PathBuf {
    let mut runs: Vec<PathBuf> = std::fs::read_dir(folder.join("runs"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        // What is hidden is the program's own, such as a lock.
        .filter(|path| !path.file_name().unwrap().to_str().unwrap().starts_with('.'))
        .collect();
    assert_eq!(runs.len(), 1, "{runs:?}");
    runs.pop().unwrap()
}

/// Takes the derived files of a run away: a rebuild gives each again, byte for byte.
#[track_caller]
pub fn assert_rebuilt_alike(folder: &Path, run_folder: &Path) {
    let names = [
        "readings.csv",
        "events.csv",
        "marks.csv",
        "summary.json",
        "run.toml",
    ];
    let read = || names.map(|name| std::fs::read(run_folder.join(name)).unwrap());
    let before = read();
    for name in names {
        std::fs::remove_file(run_folder.join(name)).unwrap();
    }
    let said = run(folder, &["rebuild", run_folder.to_str().unwrap()]);
    assert!([0, 4].contains(&said.code), "{said:#?}");
    assert!(read() == before, "a rebuild differs");
}
