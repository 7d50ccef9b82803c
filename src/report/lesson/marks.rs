//! The table at the marks.

use super::super::page::{Cell, Markup, Table};
use super::super::words::{Scale, Value};
use super::Told;
use super::dashes::Dashes;
use crate::analysis::{Mark, Phase, Summary, Warning, marks_csv};
use crate::lamp::Kind;

/// Rows of a page's table at most: a fortnight's marks are for a file.
const MOST_ROWS: usize = 200;

/// Rows that are read one by one, and intervals to choose among, in seconds.
const FEW_ROWS: f64 = 60.0;
const EVERY: [(f64, &str); 6] = [
    (60.0, "1m"),
    (300.0, "5m"),
    (900.0, "15m"),
    (3600.0, "1h"),
    (21_600.0, "6h"),
    (86_400.0, "24h"),
];

impl Told<'_> {
    /// The table at the marks, or why there is none.
    pub(super) fn table(&self, page: &mut Markup) {
        let words = &self.words;
        page.section("", &words.say("report-table"), |part| {
            if self.summary().marks.is_empty() {
                let every = [("every", Value::Text(self.advised_every()))];
                part.paragraph(&words.tell("report-table-none", &every));
                return;
            }
            let mut dashes = Dashes::default();
            self.wide(part, &self.marks_table(&mut dashes));
            let left = self.summary().marks.len().saturating_sub(MOST_ROWS);
            if left > 0 {
                part.paragraph(&words.tell("report-table-more", &[("n", Value::Count(left))]));
            }
            dashes.explain(words, part);
        });
    }

    /// An interval that gives a table of a size to be read, as the option takes it.
    fn advised_every(&self) -> &'static str {
        let summary = self.summary();
        let length_s = summary.rows as f64 * summary.interval_s.unwrap_or(0.0);
        let fits = |(s, _): &&(f64, &str)| length_s <= s * FEW_ROWS;
        EVERY.iter().find(fits).map_or("24h", |(_, text)| text)
    }

    fn marks_table(&self, dashes: &mut Dashes) -> Table {
        let words = &self.words;
        // The file's own times and phases: what is printed twice cannot differ.
        let csv = marks_csv(self.summary());
        let lines = csv.lines().skip(1);
        let rows = lines.zip(&self.summary().marks).take(MOST_ROWS);
        let rows = rows.map(|(line, mark)| self.marks_row(line, mark, dashes));
        let heads = self.labels.iter().map(|label| {
            let text = words.tell("report-column-sample", &[("sample", Value::Name(label))]);
            Cell::heading(text)
        });
        let first = ["report-column-time", "report-column-phase"];
        let first = first.into_iter().map(|key| Cell::heading(words.say(key)));
        let rows = rows.collect();
        Table {
            name: String::new(),
            caption: words.say(caption(self.summary())) + " " + &words.say("report-plus-minus"),
            head: vec![first.chain(heads).collect()],
            rows,
        }
    }

    fn marks_row(&self, line: &str, mark: &Mark, dashes: &mut Dashes) -> Vec<Cell> {
        let words = &self.words;
        // Columns' names are slugs and cells are numbers: nothing in the file is quoted.
        let mut cells = line.split(',');
        let minute = cells.next().unwrap_or_default();
        let phase = cells.next().and_then(phase_of);
        let phase = phase.map_or("–".to_owned(), |phase| words.phase(phase));
        let mut row = vec![Cell::number(words.minute(minute)), Cell::text(phase)];
        for sample in 0..self.labels.len() {
            let of = |all: &[Option<f64>]| all.get(sample).copied().flatten();
            row.push(Cell::number(match of(&mark.degc) {
                Some(degc) => {
                    let u = of(&mark.u_degc).unwrap_or(f64::NAN);
                    let u = words.scaled(Scale::Difference, u);
                    words.measured(words.scaled(Scale::Temperature, degc), u)
                }
                None => dashes.dash(self.why_no_mark(sample, mark)),
            }));
        }
        row
    }

    fn why_no_mark(&self, sample: usize, mark: &Mark) -> String {
        let warnings = &self.summary().warnings;
        let early = |w: &&Warning| matches!(w, Warning::EndsBeforeMark { at_s, .. } if (at_s - mark.at_s).abs() < 1e-3);
        let name = self.summary().samples.get(sample).map(|s| &s.name);
        let none = |w: &&Warning| matches!(w, Warning::NoValues { sample } if Some(sample) == name);
        let known = warnings
            .iter()
            .find(early)
            .or_else(|| warnings.iter().find(none));
        match known {
            Some(doubt) => self.words.doubt(doubt),
            None => self.words.say("note-mark-empty"),
        }
    }
}

/// What the marks are counted from: the lamp's going on, the row that was written nearest to it, or
/// the beginning.
fn caption(summary: &Summary) -> &'static str {
    let zero_s = summary.zero_s;
    let ons = || summary.lamp.iter().filter(|e| e.edge == Kind::On);
    if ons().any(|on| (on.at_s - zero_s).abs() < 1e-3) {
        "report-table-caption"
    } else if ons().any(|on| (on.low_s..=on.high_s).contains(&zero_s)) {
        "report-table-caption-written"
    } else {
        "report-table-caption-open"
    }
}

/// The phase of a word in the file.
fn phase_of(word: &str) -> Option<Phase> {
    let all = [Phase::Settling, Phase::Heating, Phase::Cooling];
    all.into_iter().find(|phase| phase.word() == word)
}
