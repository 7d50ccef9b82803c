//! The student's sheet: set-up, prediction, blank table, graph paper, questions; or the answer key.

mod answers;
mod drawing;
mod lines;
mod paper;
mod svg;
mod table;

use super::cautions::cautions;
use super::labels::labels;
use super::page::{Markup, Page, UNBROKEN};
use super::setting::Quantity;
use super::words::{Language, Value, Words, plain};
use crate::analysis::{GroupPrediction, Summary, marks_csv};
use crate::graph::Degrees;

/// Rows of a sheet's table at most: what is written by hand has fewer.
pub const MOST_ROWS: usize = 200;

/// Samples of a sheet at most: a bench has no more.
pub const MOST_SAMPLES: usize = 8;

/// What a sheet is for.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet<'a> {
    /// Names of the samples, as people gave them; one to [`MOST_SAMPLES`].
    pub samples: Vec<String>,
    /// Lamp-on time in seconds, above 0.
    pub heat_s: f64,
    /// Lamp-off time in seconds, 0 or above.
    pub cool_s: f64,
    /// Interval of the table's rows in seconds, above 0.
    pub marks_s: f64,
    /// From the lamp to the samples.
    pub lamp_distance: Option<Quantity>,
    /// What temperatures are written in.
    pub degrees: Degrees,
    /// Where the sheet is the answer key: the run that it is filled from.
    pub key: Option<Key<'a>>,
}

/// What an answer key is filled from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key<'a> {
    /// What people call the run.
    pub title: &'a str,
    /// What its temperatures say.
    pub summary: &'a Summary,
    /// The run is that of a virtual bench: invented.
    pub is_invented: bool,
}

/// Why there is no sheet for a plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SheetError {
    /// A time is none that a plan can have.
    #[error(
        "lamp-on time {heat_s} s, lamp-off time {cool_s} s and a row every {marks_s} s make no plan"
    )]
    NoPlan {
        /// Lamp-on time in seconds.
        heat_s: f64,
        /// Lamp-off time in seconds.
        cool_s: f64,
        /// Interval of rows in seconds.
        marks_s: f64,
    },
    /// More rows than anybody writes by hand.
    #[error("the table would have {rows} rows; a sheet has at most {MOST_ROWS}")]
    TooManyRows {
        /// Rows that the plan asks for.
        rows: usize,
    },
    /// No sample, or more than a bench has.
    #[error("{samples} samples; a sheet is for 1 to {MOST_SAMPLES}")]
    Samples {
        /// How many were named.
        samples: usize,
    },
}

/// Of a printed table beside graph paper: its greatest width, that of the column of times, that of
/// one to write in, and of a letter in its head, in millimetres.
const WIDEST_MM: f64 = 98.0;
const TIMES_MM: f64 = 13.0;
const BLANK_MM: f64 = 15.5;
const LETTER_MM: f64 = 1.75;

/// A row of the table: its time in minutes as written in `marks.csv`, and each sample's value,
/// empty where there is none; no values at all on a blank sheet.
#[derive(Debug, Clone, PartialEq)]
struct Row {
    minute: String,
    values: Vec<String>,
}

impl Row {
    /// Its time in seconds; NaN if it has none.
    fn at_s(&self) -> f64 {
        self.minute.parse().map_or(f64::NAN, |m: f64| m * 60.0)
    }
}

/// A sheet and the words to write it in.
struct Written<'a> {
    sheet: &'a Sheet<'a>,
    words: Words,
    labels: Vec<String>,
    rows: Vec<Row>,
}

impl Sheet<'_> {
    /// How many rows the table has: one at 0 and one at each whole interval up to the end.
    ///
    /// Twelve minutes on, twelve off, a row every three: nine (common practice, no source).
    ///
    /// # Errors
    /// [`SheetError`] if the times make no plan or too many rows.
    pub fn rows(&self) -> Result<usize, SheetError> {
        let (heat_s, cool_s, marks_s) = (self.heat_s, self.cool_s, self.marks_s);
        let intervals = (heat_s + cool_s) / marks_s;
        if !(heat_s > 0.0 && cool_s >= 0.0 && marks_s > 0.0 && (1.0..1e9).contains(&intervals)) {
            return Err(SheetError::NoPlan {
                heat_s,
                cool_s,
                marks_s,
            });
        }
        let rows = libm::floor(intervals + 1e-6) as usize + 1;
        if rows > MOST_ROWS {
            return Err(SheetError::TooManyRows { rows });
        }
        Ok(rows)
    }

    /// The sheet as one self-contained HTML page in a language; the same sheet gives the same
    /// bytes.
    ///
    /// # Errors
    /// [`SheetError`] if there is no sheet for such a plan.
    pub fn html(&self, language: Language) -> Result<String, SheetError> {
        let samples = self.samples.len();
        if !(1..=MOST_SAMPLES).contains(&samples) {
            return Err(SheetError::Samples { samples });
        }
        let rows = self.rows()?;
        let written = Written {
            sheet: self,
            words: Words::showing(language, self.degrees),
            labels: labels(self.samples.iter().map(String::as_str)),
            rows: self
                .key
                .as_ref()
                .map_or_else(|| self.blank(rows), |key| filled(key.summary, rows, self)),
        };
        Ok(Page {
            language,
            title: written.title(),
            body: written.body(),
        }
        .html())
    }

    fn blank(&self, rows: usize) -> Vec<Row> {
        let minute = |row: usize| {
            let text = format!("{:.4}", row as f64 * self.marks_s / 60.0);
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        };
        let row = |row| Row {
            minute: minute(row),
            values: Vec::new(),
        };
        (0..rows).map(row).collect()
    }
}

/// Decimals of the key's temperatures at most: what pupils read and write down.
const DECIMALS: usize = 1;

/// The rows of `marks.csv` from 0 on, in tenths where it has more; moments that people marked between them
/// have no row on a sheet.
fn filled(summary: &Summary, rows: usize, sheet: &Sheet<'_>) -> Vec<Row> {
    let csv = marks_csv(summary);
    let row = |line: &str| {
        // Cells are numbers and words of our own: nothing is quoted.
        let mut cells = line.split(',');
        let minute = cells.next().unwrap_or_default().to_owned();
        let values = cells.skip(1).step_by(2);
        let values = values
            .map(|digits| in_degrees(digits, sheet.degrees))
            .collect();
        Row { minute, values }
    };
    let all = csv.lines().skip(1).map(row);
    let is_planned = |row: &Row| {
        let k = row.at_s() / sheet.marks_s;
        (k - k.round()).abs() * sheet.marks_s < 0.5
    };
    all.filter(|row| !row.minute.starts_with('-') && is_planned(row))
        .take(rows)
        .collect()
}

/// A temperature of `marks.csv` in these degrees, to a tenth at most.
fn in_degrees(digits: &str, degrees: Degrees) -> String {
    let places = digits.split_once('.').map_or(0, |(_, after)| after.len());
    let places = places.min(DECIMALS);
    match digits.parse::<f64>() {
        Ok(degc) => format!("{:.places$}", degrees.of(degc)),
        Err(_) => digits.to_owned(),
    }
}

impl Written<'_> {
    fn is_alone(&self) -> bool {
        self.labels.len() == 1
    }

    fn title(&self) -> String {
        let key = if self.is_alone() {
            "sheet-title-one"
        } else {
            "sheet-title"
        };
        self.words.say(key)
    }

    fn body(&self) -> Markup {
        let words = &self.words;
        let mut page = Markup::default();
        page.heading(1, &self.title());
        let samples = self.labels.join(" · ");
        let subtitle = words.tell("sheet-subtitle", &[("samples", Value::Text(&samples))]);
        page.paragraph(&subtitle);
        match self.sheet.key {
            Some(key) => {
                let title = plain(key.title);
                let said = words.tell("sheet-key", &[("title", Value::Name(&title))]);
                page.paragraph_as("note", &said);
                if key.is_invented {
                    page.paragraph_as("small", &words.say("invented-readings"));
                }
            }
            None => page.block("fields", |fields| {
                fields.field(&words.say("sheet-bench"));
                fields.field(&words.say("sheet-group"));
                fields.field(&words.say("sheet-date"));
            }),
        }
        page.block("caution small", |block| {
            block.heading(2, &words.say("caution-heading"));
            block.list(&cautions(words));
        });
        self.set_up(&mut page);
        // Answers are short: on the key they find room below the set-up.
        if self.sheet.key.is_some() {
            self.questions(&mut page);
            self.data(&mut page);
        } else {
            self.data(&mut page);
            self.questions(&mut page);
        }
        page
    }

    /// Table and graph paper, beside each other where both find room.
    fn data(&self, page: &mut Markup) {
        if self.is_beside() {
            page.block("new-page side", |side| {
                side.block("", |left| self.table(left));
                side.block("", |right| self.graph(right));
            });
        } else {
            self.table(page);
            self.graph(page);
        }
    }

    /// Whether the table leaves room for graph paper beside it on A4, and the questions below.
    fn is_beside(&self) -> bool {
        self.labels.len() <= 4 && self.rows.len() <= 26 && self.least_width_mm() <= WIDEST_MM
    }

    /// Width of the printed table in which no word of its head is broken.
    fn least_width_mm(&self) -> f64 {
        let longest = |label: &String| {
            let words = label.split_whitespace().map(|word| word.chars().count());
            words.max().unwrap_or(0).min(UNBROKEN) as f64
        };
        let columns = self.labels.iter().map(longest);
        let columns = columns.map(|chars| (LETTER_MM * chars + 3.6).max(BLANK_MM));
        TIMES_MM + columns.sum::<f64>()
    }

    fn set_up(&self, page: &mut Markup) {
        let words = &self.words;
        let sheet = self.sheet;
        let step = words.every(sheet.marks_s);
        let timed = |key, s: f64| {
            let time = words.duration(s);
            words.tell(
                key,
                &[("time", Value::Text(&time)), ("step", Value::Text(&step))],
            )
        };
        let mut steps = vec![
            words.say("sheet-do-settle"),
            timed("sheet-do-heat", sheet.heat_s),
        ];
        if sheet.cool_s > 0.0 {
            steps.push(timed("sheet-do-cool", sheet.cool_s));
        }
        steps.push(words.say("sheet-do-graph"));
        page.section("keep", &words.say("sheet-setup"), |part| {
            part.block("columns", |both| {
                both.block("", |left| {
                    let caption = words.say(match self.labels.len() {
                        1 => "sheet-drawing-one",
                        2 => "sheet-drawing",
                        _ => "sheet-drawing-above",
                    });
                    left.figure(&self.drawing(&caption), &caption);
                });
                both.block("", |right| {
                    right.heading(3, &words.say("sheet-do"));
                    right.numbered(&steps);
                    self.prediction(right);
                });
            });
        });
    }

    fn prediction(&self, page: &mut Markup) {
        let words = &self.words;
        if self.is_alone() {
            return;
        }
        let summary = self.sheet.key.map(|key| key.summary);
        let comparison = summary.and_then(|s| s.comparison.as_ref());
        let predicted = comparison.and_then(|c| c.prediction.as_ref());
        let groups = comparison.map_or(&[][..], |c| c.predictions.as_slice());
        if self.sheet.key.is_some() && predicted.is_none() && groups.is_empty() {
            return;
        }
        page.block("box", |part| {
            part.heading(3, &words.say("sheet-prediction"));
            if let Some(prediction) = predicted {
                let sample = [("sample", Value::Name(&prediction.sample))];
                part.paragraph(&words.tell("sheet-predicted-answer", &sample));
            } else if groups.is_empty() {
                part.paragraph(&words.say("sheet-prediction-most"));
                part.choices(&self.labels);
                part.field(&words.say("sheet-prediction-why"));
                part.lines(1);
            }
            let of_group = |made: &GroupPrediction| {
                let said = [
                    ("group", Value::Name(&made.group)),
                    ("sample", Value::Name(&made.prediction.sample)),
                ];
                words.tell("sheet-predicted-group", &said)
            };
            if !groups.is_empty() {
                part.list(&groups.iter().map(of_group).collect::<Vec<_>>());
            }
        });
    }
}
