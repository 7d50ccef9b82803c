//! The sheet of results: lamp, samples, comparison; and the sheet of notes.

use rust_xlsxwriter::{Worksheet, XlsxError};

use super::{Book, Lesson, Value, column};
use crate::analysis::{Comparison, Sample, SampleValues, Summary, instant_decimals, reach_s};
use crate::lamp::Kind;
use crate::report::cautions::cautions;

/// Row of the samples' headings, from 0, below title and lamp.
fn samples_row(summary: &Summary) -> u32 {
    4 + summary.lamp.len() as u32 + 1
}

/// One of a sample's values.
type Pick = fn(&SampleValues) -> Option<f64>;

/// How a line of the samples' table comes about.
#[derive(Clone, Copy)]
enum Made {
    /// Found from the readings.
    Found(Pick),
    /// The difference of two lines above it, by their places in [`LINES`].
    Minus(Pick, usize, usize),
}

/// The lines of the samples' table, in order; those of which no sample has a value are left out.
const LINES: [(&str, Value, Made); 12] = [
    (
        "report-value-start",
        Value::Degc,
        Made::Found(|v| v.start_degc),
    ),
    (
        "report-value-peak",
        Value::Degc,
        Made::Found(|v| v.peak_degc),
    ),
    ("report-value-end", Value::Degc, Made::Found(|v| v.end_degc)),
    (
        "report-value-rise",
        Value::Degc,
        Made::Minus(|v| v.rise_degc, 1, 0),
    ),
    (
        "report-value-fall",
        Value::Degc,
        Made::Minus(|v| v.fall_degc, 1, 2),
    ),
    (
        "report-value-heating",
        Value::Fine,
        Made::Found(|v| v.heating_rate_degc_per_min),
    ),
    (
        "report-value-cooling",
        Value::Fine,
        Made::Found(|v| v.cooling_rate_degc_per_min),
    ),
    (
        "report-value-constant",
        Value::Time,
        Made::Found(|v| v.time_constant_s),
    ),
    ("report-value-air", Value::Degc, Made::Found(|v| v.air_degc)),
    (
        "report-value-lowest",
        Value::Degc,
        Made::Found(|v| v.lowest_degc),
    ),
    (
        "report-value-highest",
        Value::Degc,
        Made::Found(|v| v.highest_degc),
    ),
    (
        "report-value-mean",
        Value::Degc,
        Made::Found(|v| v.mean_degc),
    ),
];

impl Made {
    fn pick(self) -> Pick {
        match self {
            Self::Found(pick) | Self::Minus(pick, ..) => pick,
        }
    }
}

pub(super) fn sheet(
    sheet: &mut Worksheet,
    book: &Book,
    lesson: &Lesson<'_>,
) -> Result<(), XlsxError> {
    let summary = lesson.summary;
    sheet.set_name(book.words.say("book-results"))?;
    Book::lying(sheet, 0);
    sheet.set_column_width(0, 34)?;
    let last = (2 * summary.samples.len() as u16).max(7);
    for place in 1..=last {
        sheet.set_column_width(place, book.width("book-u", 13))?;
    }
    book.put_title(sheet, lesson.title, lesson.is_invented)?;
    lamp(sheet, book, summary)?;
    let rows = samples(sheet, book, summary)?;
    comparison(sheet, book, summary, &rows)
}

fn lamp(sheet: &mut Worksheet, book: &Book, summary: &Summary) -> Result<(), XlsxError> {
    if summary.lamp.is_empty() {
        return book.put_said(sheet, (2, 0), "book-no-lamp", &book.text);
    }
    let heads = [
        "report-lamp-edge",
        "report-lamp-at",
        "book-from",
        "book-to",
        "book-level",
        "book-minute",
        "report-lamp-planned",
        "report-lamp-late",
    ];
    let shown = if summary.planned.is_empty() { 6 } else { 8 };
    Book::tall_head(sheet, 2)?;
    book.put_heads(sheet, (2, 0), heads.into_iter().take(shown))?;
    for (row, edge) in (3..).zip(&summary.lamp) {
        let word = match edge.edge {
            Kind::On => "report-lamp-on",
            Kind::Off => "report-lamp-off",
        };
        book.put_said(sheet, (row, 0), word, &book.text)?;
        // What the interval leaves open is not shown; a minute has two places more than a second.
        let places = instant_decimals(reach_s(edge)).max(0) as usize;
        let shown = Value::Digits(places);
        for (place, number) in (1..).zip([edge.at_s, edge.low_s, edge.high_s]) {
            book.put(sheet, (row, place), Some(number), shown)?;
        }
        let level = edge.level * 100.0;
        book.put(sheet, (row, 4), Some(level), Value::Time)?;
        let mark = (edge.at_s - summary.zero_s) / 60.0;
        book.put(sheet, (row, 5), Some(mark), Value::Digits(places + 2))?;
        if let Some(planned) = summary.planned_of(edge) {
            book.put(sheet, (row, 6), Some(planned.planned_s), shown)?;
            let late = format!("=B{0}-G{0}", row + 1);
            let late_s = edge.at_s - planned.planned_s;
            book.put_formula(sheet, (row, 7), &late, Some(late_s), shown)?;
        }
    }
    Ok(())
}

/// Writes the samples' table; gives the row of each of [`LINES`] that is there.
fn samples(
    sheet: &mut Worksheet,
    book: &Book,
    summary: &Summary,
) -> Result<[Option<u32>; 12], XlsxError> {
    let mut row = samples_row(summary);
    Book::tall_head(sheet, row)?;
    book.put_said(sheet, (row, 0), "report-fact-samples", &book.head)?;
    for (place, sample) in (1_u16..).step_by(2).zip(&summary.samples) {
        book.put_text(sheet, (row, place), &sample.name, &book.head)?;
        book.put_said(sheet, (row, place + 1), "book-u", &book.head)?;
    }
    let mut rows = [None; 12];
    let shown = if summary.lamp.is_empty() { 12 } else { 9 };
    for (line, (title, value, made)) in LINES.iter().enumerate().take(shown) {
        let pick = made.pick();
        if summary.samples.iter().all(|s| pick(&s.values).is_none()) {
            continue;
        }
        row += 1;
        if let Some(place) = rows.get_mut(line) {
            *place = Some(row);
        }
        book.put_said(sheet, (row, 0), title, &book.text)?;
        for (place, sample) in (1_u16..).step_by(2).zip(&summary.samples) {
            let at = (row, place);
            let (number, u) = (pick(&sample.values), pick(&sample.u));
            let shown = value.fitting(number, u);
            match (minuend(*made, &rows, sample), number) {
                (Some(((upper, a), (lower, b))), Some(_)) => {
                    let letters = column(place);
                    let formula = format!("={letters}{}-{letters}{}", upper + 1, lower + 1);
                    book.put_formula(sheet, at, &formula, Some(a - b), shown)?;
                }
                (_, number) => book.put(sheet, at, number, shown)?,
            }
            book.put(sheet, (row, place + 1), u, Value::Fine.fitting(number, u))?;
        }
    }
    Ok(rows)
}

/// Row and value of what a line is the difference of, where both are there.
type Term = (u32, f64);

fn minuend(made: Made, rows: &[Option<u32>; 12], sample: &Sample) -> Option<(Term, Term)> {
    let Made::Minus(_, upper, lower) = made else {
        return None;
    };
    let term = |line: usize| {
        let row = rows.get(line).copied().flatten()?;
        let (.., made) = LINES.get(line)?;
        Some((row, (made.pick())(&sample.values)?))
    };
    term(upper).zip(term(lower))
}

/// The two samples that are compared, and where their lines stand.
struct Pair<'a> {
    most: (&'a Sample, u16),
    least: (&'a Sample, u16),
    rows: &'a [Option<u32>; 12],
}

impl<'a> Pair<'a> {
    fn of(summary: &'a Summary, order: &[String], rows: &'a [Option<u32>; 12]) -> Option<Self> {
        let place = |name: &String| {
            let at = summary.samples.iter().position(|s| s.name == *name)?;
            Some((summary.samples.get(at)?, 1 + 2 * at as u16))
        };
        Some(Self {
            most: place(order.first()?)?,
            least: place(order.last()?)?,
            rows,
        })
    }

    /// The cells of a line and what stands in them.
    fn terms(&self, line: usize) -> Option<((String, String), (f64, f64))> {
        let row = self.rows.get(line).copied().flatten()? + 1;
        let made = LINES.get(line)?.2;
        let cell = |(_, place): (&Sample, u16)| format!("{}{row}", column(place));
        // What the cell's own formula gives; the summary's value is rounded once more.
        let value = |(sample, _): (&Sample, u16)| match minuend(made, self.rows, sample) {
            Some(((_, a), (_, b))) => Some(a - b),
            None => (made.pick())(&sample.values),
        };
        let values = (value(self.most)?, value(self.least)?);
        Some(((cell(self.most), cell(self.least)), values))
    }
}

/// Places of two lines in [`LINES`].
const RISE: usize = 3;
const FIRST_HEATING: usize = 5;

/// Title's key, sign, line of the two terms, the summary's value and its standard uncertainty.
type Compared = (&'static str, char, usize, Option<f64>, Option<f64>);

fn lines(found: &Comparison, pair: &Pair<'_>) -> [Compared; 3] {
    let of_rise = |s: &Sample| s.u.rise_degc;
    let apart = of_rise(pair.most.0).zip(of_rise(pair.least.0));
    let (rises, rates) = (found.rise_ratio, found.initial_rate_ratio);
    let u = &found.u;
    [
        (
            "book-difference",
            '-',
            RISE,
            Some(0.0),
            apart.map(|(a, b)| a.hypot(b)),
        ),
        ("book-ratio-rise", '/', RISE, rises, u.rise_ratio),
        (
            "book-ratio-rate",
            '/',
            FIRST_HEATING,
            rates,
            u.initial_rate_ratio,
        ),
    ]
}

/// Largest rise against smallest: difference and ratios, as formulas.
fn comparison(
    sheet: &mut Worksheet,
    book: &Book,
    summary: &Summary,
    rows: &[Option<u32>; 12],
) -> Result<(), XlsxError> {
    let Some(found) = &summary.comparison else {
        return Ok(());
    };
    let Some(pair) = Pair::of(summary, &found.order, rows) else {
        return Ok(());
    };
    let mut row = samples_row(summary) + rows.iter().flatten().count() as u32 + 2;
    Book::tall_head(sheet, row)?;
    book.put_heads(sheet, (row, 0), ["book-comparison", "book-value", "book-u"])?;
    let names = [
        ("most", pair.most.0.name.as_str()),
        ("least", pair.least.0.name.as_str()),
    ];
    let names = book.naming("book-order", &names);
    book.put_text(sheet, (row, 3), &names, &book.text)?;
    for (title, sign, line, known, u) in lines(found, &pair) {
        let (Some(_), Some(((a, b), (x, y)))) = (known, pair.terms(line)) else {
            continue;
        };
        row += 1;
        let (result, format) = match sign {
            '-' => (x - y, Value::Degc),
            _ => (x / y, Value::Fine),
        };
        book.put_said(sheet, (row, 0), title, &book.text)?;
        book.put_formula(
            sheet,
            (row, 1),
            &format!("={a}{sign}{b}"),
            Some(result),
            format.fitting(Some(result), u),
        )?;
        book.put(sheet, (row, 2), u, Value::Fine.fitting(Some(result), u))?;
    }
    Ok(())
}

/// What the reader should know: how to read the sheets, the summary's warnings, cautions.
pub(super) fn notes(
    sheet: &mut Worksheet,
    book: &Book,
    lesson: &Lesson<'_>,
) -> Result<(), XlsxError> {
    book.begin_notes(sheet)?;
    let fixed = [
        "book-note-formulas",
        "book-note-u",
        "book-note-times",
        "book-note-fit",
    ];
    let doubts = lesson.summary.warnings.iter();
    let doubts = doubts.map(|doubt| book.words.doubt(doubt));
    let invented = lesson
        .is_invented
        .then(|| book.words.say("invented-readings"));
    let doubts = invented.into_iter().chain(doubts);
    let all = doubts.chain(fixed.map(|key| book.words.say(key)));
    for (row, note) in (2..).zip(all.chain(cautions(&book.words))) {
        book.put_note(sheet, row, &note)?;
    }
    Ok(())
}
