//! Records, truths and answers on disk, so that other tools can be given the same data.
//!
//! A folder holds one CSV file for each record (seconds, then the channels in degrees Celsius, full
//! precision, `NaN` where there is no value), `truth-*.jsonl` with one [`Truth`] a line, and
//! `answers-*.jsonl` with one [`Answer`] a line. The star stands for the tool and for the part of
//! the seeds, so that several processes may write at once.

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
    /// CPU time it took.
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
    pub(crate) fn new(folder: &Path, part: usize) -> Self {
        fs::create_dir_all(folder).unwrap();
        let file = |name: &str| {
            let path = folder.join(format!("{name}-{part}.jsonl"));
            BufWriter::new(File::create(path).unwrap())
        };
        Self {
            folder: folder.to_owned(),
            truths: file("truth"),
            answers: file("answers-duskmark"),
        }
    }

    pub(crate) fn write(&mut self, record: &Record, truth: &Truth, answer: Option<&Answer>) {
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
        if let Some(answer) = answer {
            line(&mut self.answers, answer);
        }
    }
}

fn line(file: &mut BufWriter<File>, value: &impl Serialize) {
    serde_json::to_writer(&mut *file, value).unwrap();
    file.write_all(b"\n").unwrap();
}

/// The truths of a folder and every tool's answers.
pub(crate) fn read(folder: &Path) -> (Vec<Truth>, Vec<Answer>) {
    (lines(folder, "truth-"), lines(folder, "answers-"))
}

/// The lines of all files whose name begins so, in order of name.
fn lines<T: DeserializeOwned>(folder: &Path, begin: &str) -> Vec<T> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            let name = path.file_name().and_then(|name| name.to_str());
            name.is_some_and(|name| name.starts_with(begin))
        })
        .collect();
    files.sort();
    let texts = files.iter().map(|file| fs::read_to_string(file).unwrap());
    texts
        .flat_map(|text| {
            let parse = |line: &str| serde_json::from_str(line).unwrap();
            text.lines().map(parse).collect::<Vec<T>>()
        })
        .collect()
}
