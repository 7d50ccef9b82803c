//! Runs the tests once for each fault.

use std::error::Error;
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Prints for each fault of a list, a line each that begins with its number, whether a test fails.
pub fn reap(program: &str, more: &[&str], seconds: u64, list: &Path) -> Result<(), Box<dyn Error>> {
    let (mut noticed, mut missed, mut forever) = (0, 0, 0);
    for fault in std::fs::read_to_string(list)?.lines() {
        let id = fault.split('\t').next().unwrap_or_default();
        let what = match run(program, more, id, Duration::from_secs(seconds))? {
            Outcome::Noticed => {
                noticed += 1;
                "noticed"
            }
            Outcome::Missed => {
                missed += 1;
                "missed"
            }
            Outcome::Forever => {
                forever += 1;
                "forever"
            }
        };
        println!("{what}\t{fault}");
    }
    let all = noticed + missed + forever;
    let share = 100.0 * f64::from(noticed + forever) / f64::from(all.max(1));
    println!(
        "{all} faults: {noticed} noticed, {forever} ran for ever, {missed} missed: {share:.1} %"
    );
    Ok(())
}

enum Outcome {
    Noticed,
    Missed,
    Forever,
}

/// One run, which ends at the first test that fails.
fn run(
    program: &str,
    more: &[&str],
    id: &str,
    longest: Duration,
) -> Result<Outcome, Box<dyn Error>> {
    let mut tests = Command::new(program)
        .args(["--test-threads", "1"])
        .args(more)
        .env("FAULT", id)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()?;
    let out = tests.stdout.take().ok_or("no output")?;
    let (send, lines) = channel();
    let reader = std::thread::spawn(move || {
        for line in BufReader::new(out).lines().map_while(Result::ok) {
            let _ = send.send(line);
        }
    });
    let end = Instant::now() + longest;
    let outcome = loop {
        match lines.recv_timeout(end.saturating_duration_since(Instant::now())) {
            Ok(line) if line.ends_with("FAILED") => break Some(Outcome::Noticed),
            Ok(_) => {}
            Err(RecvTimeoutError::Timeout) => break Some(Outcome::Forever),
            Err(RecvTimeoutError::Disconnected) => break None,
        }
    };
    if outcome.is_some() {
        let _ = tests.kill();
    }
    let status = tests.wait()?;
    let _ = reader.join();
    // One that aborted, or overran its stack, has said nothing.
    Ok(outcome.unwrap_or(if status.success() {
        Outcome::Missed
    } else {
        Outcome::Noticed
    }))
}
