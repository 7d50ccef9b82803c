//! All rows, on as many sheets as they need; and an overview of a long record for its chart.

use rust_xlsxwriter::{Workbook, Worksheet, XlsxError};

use super::{Book, Lesson, Value, WorkbookError};
use crate::analysis::{Phase, Series, phase_at};
use crate::report::words::Words;

/// So many rows are written by the library, and drawn as they are; what is beyond them is added to
/// the finished package, because cells that wait in memory take some hundred bytes each.
pub(super) const HELD: usize = 20_000;

/// Most points of an overview.
const OVERVIEW: usize = 1500;

/// Widths in seconds that an overview's rows may have.
const WIDTHS_S: [f64; 14] = [
    1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0, 7200.0, 21_600.0,
    86_400.0,
];

/// The rows of a series as sheets.
pub(super) struct Rows<'a> {
    pub(super) lesson: &'a Lesson<'a>,
    /// Words for settling, heating and cooling.
    phases: [String; 3],
    pub(super) sheets: Vec<Sheet>,
    /// Means over stretches of time, where there are too many rows to draw.
    pub(super) overview: Option<Overview>,
}

/// One sheet of rows.
pub(super) struct Sheet {
    pub(super) name: String,
    /// Its first row in the series and the one after its last.
    pub(super) range: (usize, usize),
    /// Of them, how many the library writes.
    pub(super) held: usize,
}

/// Means over equal stretches of time.
pub(super) struct Overview {
    width_s: f64,
    /// Middle of the stretch in seconds, and the mean of each sample.
    pub(super) rows: Vec<(f64, Vec<Option<f64>>)>,
}

impl<'a> Rows<'a> {
    pub(super) fn new(lesson: &'a Lesson<'a>, words: &Words, rows_per_sheet: usize) -> Self {
        let name = words.say("book-rows");
        let count = lesson.series.t_s.len();
        let starts = (0..count.max(1)).step_by(rows_per_sheet.max(1));
        let sheets = starts
            .enumerate()
            .map(|(number, from)| {
                let to = (from + rows_per_sheet).min(count);
                Sheet {
                    name: match number {
                        0 => name.clone(),
                        n => format!("{name} {}", n + 1),
                    },
                    range: (from, to),
                    held: (to - from).min(if number == 0 { HELD } else { 1 }),
                }
            })
            .collect();
        let phases = [Phase::Settling, Phase::Heating, Phase::Cooling];
        Self {
            lesson,
            phases: phases.map(|phase| words.phase(phase)),
            sheets,
            overview: (count > HELD.min(rows_per_sheet)).then(|| Overview::of(lesson.series)),
        }
    }

    /// Minutes since mark 0 of a row.
    pub(super) fn minutes(&self, row: usize) -> f64 {
        let t_s = self.lesson.series.t_s.get(row).copied().unwrap_or(f64::NAN);
        minutes(t_s, self.lesson)
    }

    /// The phase's word for a row; empty where there is none.
    pub(super) fn phase(&self, row: usize) -> &str {
        let t_s = self.lesson.series.t_s.get(row).copied().unwrap_or(f64::NAN);
        let [settling, heating, cooling] = &self.phases;
        match phase_at(t_s, &self.lesson.summary.lamp) {
            None => "",
            Some(Phase::Settling) => settling,
            Some(Phase::Heating) => heating,
            Some(Phase::Cooling) => cooling,
        }
    }

    /// Adds the sheets with their headings and the rows that the library writes.
    pub(super) fn begin(&self, workbook: &mut Workbook, book: &Book) -> Result<(), WorkbookError> {
        for part in &self.sheets {
            let sheet = workbook.add_worksheet();
            sheet.set_name(&part.name)?;
            heads(sheet, book, self.lesson, true)?;
            let phase_place = 2 + self.lesson.series.channels.len() as u16;
            let rows = (part.range.0..part.range.1).take(part.held);
            for (line, row) in (1..).zip(rows) {
                let t_s = self.lesson.series.t_s.get(row).copied();
                book.put(sheet, (line, 0), t_s, Value::Time)?;
                book.put(sheet, (line, 1), Some(self.minutes(row)), Value::Time)?;
                for (place, channel) in (2..).zip(&self.lesson.series.channels) {
                    let degc = channel.degc.get(row).copied();
                    book.put(sheet, (line, place), degc, Value::Degc)?;
                }
                let phase = self.phase(row);
                if !phase.is_empty() {
                    sheet.write_string(line, phase_place, phase)?;
                }
            }
        }
        Ok(())
    }
}

/// Minutes since mark 0, to a thousandth of a second.
pub(super) fn minutes(t_s: f64, lesson: &Lesson<'_>) -> f64 {
    ((t_s - lesson.summary.zero_s) / 60.0 * 1e5).round() / 1e5
}

fn heads(
    sheet: &mut Worksheet,
    book: &Book,
    lesson: &Lesson<'_>,
    all: bool,
) -> Result<(), XlsxError> {
    sheet.set_freeze_panes(1, 0)?;
    Book::tall_head(sheet, 0)?;
    let channels = &lesson.series.channels;
    let of_sample = |name: &str| book.naming("report-column-sample", &[("sample", name)]);
    let names = channels.iter().map(|c| of_sample(&c.name));
    let fixed = ["book-seconds", "report-column-time"].map(|key| book.words.say(key));
    let last = all.then(|| book.words.say("report-column-phase"));
    for (place, head) in (0..).zip(fixed.into_iter().chain(names).chain(last)) {
        book.put_text(sheet, (0, place), &head, &book.head)?;
        sheet.set_column_width(place, 14)?;
    }
    Ok(())
}

/// The overview's sheet.
pub(super) fn overview(
    sheet: &mut Worksheet,
    book: &Book,
    lesson: &Lesson<'_>,
    overview: &Overview,
) -> Result<(), XlsxError> {
    sheet.set_name(book.words.say("book-overview"))?;
    heads(sheet, book, lesson, false)?;
    let place = 3 + lesson.series.channels.len() as u16;
    let width = book.words.duration(overview.width_s);
    let words = book.naming("book-means-over", &[("width", &width)]);
    book.put_text(sheet, (0, place), &words, &book.text)?;
    for (line, (t_s, means)) in (1..).zip(&overview.rows) {
        book.put(sheet, (line, 0), Some(*t_s), Value::Time)?;
        book.put(sheet, (line, 1), Some(minutes(*t_s, lesson)), Value::Time)?;
        for (place, mean) in (2..).zip(means) {
            book.put(sheet, (line, place), *mean, Value::Degc)?;
        }
    }
    Ok(())
}

impl Overview {
    fn of(series: &Series) -> Self {
        let first_s = series.t_s.first().copied().unwrap_or(0.0);
        let last_s = series.t_s.last().copied().unwrap_or(0.0);
        let least_s = (last_s - first_s) / OVERVIEW as f64;
        let width_s = WIDTHS_S
            .into_iter()
            .find(|w| *w >= least_s)
            .unwrap_or(least_s);
        let mut rows: Vec<(f64, Vec<Option<f64>>)> = Vec::new();
        let mut from = 0;
        while let Some(&t_s) = series.t_s.get(from) {
            let slot = ((t_s - first_s) / width_s).floor();
            let end_s = first_s + (slot + 1.0) * width_s;
            let rest = series.t_s.get(from..).unwrap_or_default();
            let to = from + rest.partition_point(|t| *t < end_s).max(1);
            let means = series.channels.iter().map(|channel| {
                let values = channel.degc.get(from..to).unwrap_or_default().iter();
                let (mut sum, mut n) = (0.0, 0_u32);
                for value in values.filter(|v| v.is_finite()) {
                    sum += value;
                    n += 1;
                }
                (n > 0).then(|| (sum / f64::from(n) * 1e5).round() / 1e5)
            });
            rows.push((first_s + (slot + 0.5) * width_s, means.collect()));
            from = to;
        }
        Self { width_s, rows }
    }
}
