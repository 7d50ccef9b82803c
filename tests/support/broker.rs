//! Debian's mosquitto, with a configuration of the test's own, and who listens to it.

use std::fmt::Write as _;
use std::io::{BufRead as _, BufReader};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::Value;

use super::program::{PATIENCE, wait_until};

/// A port that is free now.
pub fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    listener.local_addr().unwrap().port()
}

/// A broker.
pub struct Broker {
    pub port: u16,
    config: PathBuf,
    log: PathBuf,
    child: Option<Child>,
}

impl Broker {
    /// Starts one in a folder of its own, open to all, which forgets nothing while it runs.
    pub fn open(at: &Path) -> Self {
        Self::with(at, "allow_anonymous true\n")
    }

    /// Starts one with further lines of configuration.
    pub fn with(at: &Path, lines: &str) -> Self {
        let port = free_port();
        Self::of(at, port, &format!("listener {port} 127.0.0.1\n{lines}"))
    }

    /// Starts one of which all but the keeping of messages is given.
    pub fn of(at: &Path, port: u16, lines: &str) -> Self {
        std::fs::create_dir_all(at).unwrap();
        let (config, log) = (at.join("mosquitto.conf"), at.join("log"));
        let mut text = String::new();
        let folder = at.display();
        let log_path = log.display();
        writeln!(
            text,
            "user root\nlog_dest file {log_path}\nlog_type all\nconnection_messages true"
        )
        .unwrap();
        if !lines.contains("persistence_location") {
            // Saved when told to (SIGUSR1); kept for whoever is away, and sent at once to who is there.
            writeln!(
                text,
                "persistence true\npersistence_location {folder}/\nautosave_interval 0"
            )
            .unwrap();
            writeln!(text, "max_inflight_messages 0\nmax_queued_messages 0").unwrap();
        }
        text.push_str(lines);
        std::fs::write(&config, text).unwrap();
        let mut broker = Self {
            port,
            config,
            log,
            child: None,
        };
        broker.start();
        broker
    }

    pub fn start(&mut self) {
        let child = Command::new("mosquitto")
            .arg("-c")
            .arg(&self.config)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        self.child = Some(child.expect("mosquitto is there"));
        wait_until("the broker", || {
            TcpStream::connect(("127.0.0.1", self.port)).is_ok()
        });
    }

    /// As a power cut does it: no word to anybody, nothing saved.
    pub fn kill(&mut self) {
        let mut child = self.child.take().unwrap();
        child.kill().unwrap();
        child.wait().unwrap();
    }

    /// Who is connected and listens stays known over a kill.
    pub fn save(&self) {
        let db = self.config.with_file_name("mosquitto.db");
        let _ = std::fs::remove_file(&db);
        let pid = self.child.as_ref().unwrap().id().to_string();
        Command::new("kill")
            .args(["-s", "USR1", &pid])
            .status()
            .unwrap();
        wait_until("the broker's file", || db.exists());
    }

    pub fn log(&self) -> String {
        std::fs::read_to_string(&self.log).unwrap_or_default()
    }

    pub fn address(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        if let Some(mut child) = self.child.take() {
            let _ = child.kill();
            let _ = child.wait();
        }
    }
}

/// A message as a listener got it.
#[derive(Debug, Clone)]
pub struct Got {
    pub retained: bool,
    pub topic: String,
    pub body: Value,
}

/// Somebody who listens to everything, and is known to the broker when away.
pub struct Listener {
    child: Child,
    got: Arc<Mutex<Vec<Got>>>,
}

impl Listener {
    /// Listens, from when this returns.
    pub fn start(broker: &Broker, name: &str) -> Self {
        Self::with(broker.port, name, &[])
    }

    /// The same with further words, like a user.
    pub fn with(port: u16, name: &str, words: &[&str]) -> Self {
        let port_text = port.to_string();
        let mut child = Command::new("mosquitto_sub")
            .args(["-h", "127.0.0.1", "-p", &port_text, "-V", "5", "-q", "1"])
            .args(["-c", "-x", "86400", "-i", name, "-t", "#", "-F", "%r %t %p"])
            .args(words)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("mosquitto_sub is there");
        let got = Arc::new(Mutex::new(Vec::new()));
        let own = Arc::clone(&got);
        let out = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            for line in out.lines().map_while(Result::ok) {
                let mut parts = line.splitn(3, ' ');
                let mut part = || parts.next().unwrap_or_default().to_owned();
                let got = Got {
                    retained: part() == "1",
                    topic: part(),
                    body: serde_json::from_str(&part()).unwrap_or(Value::Null),
                };
                own.lock().unwrap().push(got);
            }
        });
        let listener = Self { child, got };
        let probe = format!("probe/{name}");
        wait_until("a listener", || {
            let sent = Command::new("mosquitto_pub")
                .args([
                    "-h",
                    "127.0.0.1",
                    "-p",
                    &port_text,
                    "-q",
                    "1",
                    "-t",
                    &probe,
                    "-m",
                    "1",
                ])
                .args(words)
                .status();
            sent.unwrap();
            listener.all().iter().any(|got| got.topic == probe)
        });
        listener
    }

    fn all(&self) -> Vec<Got> {
        self.got.lock().unwrap().clone()
    }

    /// All that it got but for probes.
    pub fn got(&self) -> Vec<Got> {
        let mut all = self.all();
        all.retain(|got| !got.topic.starts_with("probe/"));
        all
    }

    /// Waits until what it got is as wanted, and gives it.
    #[track_caller]
    pub fn wait_for(&self, what: &str, there: impl Fn(&[Got]) -> bool) -> Vec<Got> {
        // Thousands of messages on a busy machine take their time.
        let deadline = Instant::now() + 4 * PATIENCE;
        loop {
            let got = self.got();
            if there(&got) {
                return got;
            }
            assert!(Instant::now() < deadline, "{what} never came");
            std::thread::sleep(Duration::from_millis(200));
        }
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A run's files that a test writes, as logging does: whole lines, appended.
pub struct Growing {
    pub folder: PathBuf,
    file: std::fs::File,
    rows: u32,
}

impl Growing {
    pub fn begin(dir: &Path, name: &str) -> Self {
        let folder = dir.join(name);
        std::fs::create_dir_all(&folder).unwrap();
        let mut options = std::fs::File::options();
        let file = options
            .append(true)
            .create_new(true)
            .open(folder.join("readings.csv"));
        let mut growing = Self {
            folder,
            file: file.unwrap(),
            rows: 0,
        };
        growing.write("elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n");
        growing
    }

    fn write(&mut self, text: &str) {
        std::io::Write::write_all(&mut self.file, text.as_bytes()).unwrap();
    }

    /// Rows at 10 Hz by their own clock.
    pub fn rows(&mut self, count: u32) {
        let mut text = String::new();
        for _ in 0..count {
            self.rows += 1;
            let (s, tenth) = (self.rows / 10, self.rows % 10);
            let clock = format!(
                "2026-03-14T{:02}:{:02}:{:02}.{tenth}00Z",
                10 + s / 3600,
                s / 60 % 60,
                s % 60
            );
            writeln!(text, "{s}.{tenth}00,{clock},2{}.50,21.00,,", s % 10).unwrap();
        }
        self.write(&text);
    }

    /// The run is over.
    pub fn end(&mut self, summary: &str) {
        std::fs::write(self.folder.join("summary.json"), summary).unwrap();
    }
}

/// Sequence numbers of rows that arrived of a run, in the order of their first arrival, and how
/// often one came again. Retained ones are what a listener found when it came.
pub fn rows_of(got: &[Got], run: &str) -> (Vec<u64>, usize) {
    let rows = got
        .iter()
        .filter(|got| !got.retained && got.body["type"] == "row" && got.body["run"] == run);
    let (mut seen, mut again) = (Vec::new(), 0);
    let mut known = std::collections::HashSet::new();
    for row in rows {
        let seq = row.body["seq"].as_u64().unwrap();
        if known.insert(seq) {
            seen.push(seq);
        } else {
            again += 1;
        }
    }
    (seen, again)
}
