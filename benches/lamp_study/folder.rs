//! Records, truths and answers on disk, so that other tools can be given the same data.
//!
//! A folder holds one CSV file for each record (seconds, then the channels in degrees Celsius, full
//! precision, `NaN` where there is no value), `truth.jsonl` with one [`Truth`] a line, and one
//! `answers-*.jsonl` for each tool with one [`Answer`] a line.

use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::bench_model::Record;

/// What is true of a record.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct Truth {
    pub(crate) file: String,
    pub(crate) family: String,
    /// On, off, on, off and so forth.
    pub(crate) edges_s: Vec<f64>,
    /// Cramér–Rao bound of each off-edge; empty where none is defined.
    pub(crate) bound_s: Vec<f64>,
    /// Whether the lags are said to be none.
    pub(crate) no_lags: bool,
}

/// What a tool says of a record.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct Answer {
    pub(crate) tool: String,
    pub(crate) file: String,
    /// All edges it names, of both kinds.
    pub(crate) edges: usize,
    pub(crate) off: Vec<Off>,
    /// Time it took.
    pub(crate) spent_s: f64,
}

/// An off-edge as a tool states it.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[expect(
    clippy::struct_field_names,
    reason = "each is a time, and its name says the unit"
)]
pub(crate) struct Off {
    pub(crate) at_s: f64,
    /// Ends of the 95 % interval, where the tool states one.
    pub(crate) low_s: Option<f64>,
    pub(crate) high_s: Option<f64>,
}

/// Writes records, truths and our own answers.
pub(crate) struct Writer {
    folder: PathBuf,
    truths: BufWriter<File>,
    answers: BufWriter<File>,
}

impl Writer {
    pub(crate) fn new(folder: &Path) -> Self {
        fs::create_dir_all(folder).unwrap();
        let file = |name: &str| BufWriter::new(File::create(folder.join(name)).unwrap());
        Self {
            folder: folder.to_owned(),
            truths: file("truth.jsonl"),
            answers: file("answers-duskmark.jsonl"),
        }
    }

    pub(crate) fn write(&mut self, record: &Record, truth: &Truth, answer: &Answer) {
        let mut text = String::from("elapsed_s");
        for channel in 1..=record.channels.len() {
            let _ = write!(text, ",channel_{channel}_degc");
        }
        text.push('\n');
        for (row, t_s) in record.t_s.iter().enumerate() {
            let _ = write!(text, "{t_s}");
            for channel in &record.channels {
                let _ = write!(text, ",{}", channel[row]);
            }
            text.push('\n');
        }
        fs::write(self.folder.join(&truth.file), text).unwrap();
        line(&mut self.truths, truth);
        line(&mut self.answers, answer);
    }
}

fn line(file: &mut BufWriter<File>, value: &impl Serialize) {
    serde_json::to_writer(&mut *file, value).unwrap();
    file.write_all(b"\n").unwrap();
}

/// The truths of a folder and every tool's answers.
pub(crate) fn read(folder: &Path) -> (Vec<Truth>, Vec<Answer>) {
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            let name = path.file_name().and_then(|name| name.to_str());
            name.is_some_and(|name| name.starts_with("answers-"))
        })
        .collect();
    files.sort();
    let answers = files.iter().flat_map(|file| lines(file)).collect();
    (lines(&folder.join("truth.jsonl")), answers)
}

fn lines<T: DeserializeOwned>(file: &Path) -> Vec<T> {
    fs::read_to_string(file)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}
