//! The sheet of the table at the marks, with rises, differences and means as formulas.

use rust_xlsxwriter::{Worksheet, XlsxError};

use super::cells::decimals;
use super::{Book, Lesson, Value, column};
use crate::analysis::{Mark, Phase, Summary, rounded};

/// Row of the headings, from 0.
const HEAD: u32 = 2;

/// How far from a whole interval a mark may be to be the one at 0, in seconds.
const AT_ZERO_S: f64 = 0.5;

/// Where things stand on the sheet.
struct Places {
    samples: u16,
    /// Row of mark 0, where there is one.
    zero: Option<u32>,
}

impl Places {
    fn value(sample: usize) -> u16 {
        2 + 2 * sample as u16
    }

    fn rise(&self, sample: usize) -> u16 {
        2 + 2 * self.samples + sample as u16
    }

    /// Column of the differences, where there are two samples.
    fn difference(&self) -> Option<u16> {
        let rises = if self.zero.is_some() { self.samples } else { 0 };
        (self.samples == 2).then_some(2 + 2 * self.samples + rises)
    }
}

pub(super) fn sheet(
    sheet: &mut Worksheet,
    book: &Book,
    lesson: &Lesson<'_>,
) -> Result<(), XlsxError> {
    let summary = lesson.summary;
    let at_zero = |m: &Mark| (m.at_s - summary.zero_s).abs() < AT_ZERO_S;
    let zero = summary.marks.iter().position(at_zero);
    let places = Places {
        samples: summary.samples.len() as u16,
        zero: zero.map(|row| HEAD + 1 + row as u32),
    };
    sheet.set_name(book.words.say("book-marks"))?;
    Book::lying(sheet, 0);
    sheet.set_freeze_panes(HEAD + 1, 2)?;
    sheet.set_column_width(0, 22)?;
    book.put_title(sheet, lesson.title, lesson.is_invented)?;
    heads(sheet, book, summary, &places)?;
    let marks: Vec<Mark> = summary.marks.iter().map(as_in_file).collect();
    for (row, (mark, whole)) in (HEAD + 1..).zip(marks.iter().zip(&summary.marks)) {
        let minutes = tidy((mark.at_s - summary.zero_s) / 60.0);
        let digits = Value::Digits(decimals(&minutes.to_string()));
        book.put(sheet, (row, 0), Some(minutes), digits)?;
        let phase = mark.phase.map(|phase| book.words.phase(phase));
        book.put_text(sheet, (row, 1), &phase.unwrap_or_default(), &book.text)?;
        for (sample, (&degc, &u)) in mark.degc.iter().zip(&mark.u_degc).enumerate() {
            let place = Places::value(sample);
            let digits = Value::Digits(decimals(&texts(whole, sample).0));
            book.put(sheet, (row, place), degc, digits)?;
            book.put(sheet, (row, place + 1), u, digits)?;
        }
        let first = zero.and_then(|zero| marks.get(zero));
        derived(sheet, book, row, mark, first, &places)?;
    }
    means(sheet, book, summary, &marks, &places)
}

/// A sample's value and uncertainty at a mark, as `marks.csv` has them.
fn texts(mark: &Mark, sample: usize) -> (String, String) {
    let of = |all: &[Option<f64>]| all.get(sample).copied().flatten();
    let degc = of(&mark.degc).unwrap_or(f64::NAN);
    rounded(degc, of(&mark.u_degc).unwrap_or(0.0))
}

/// A mark with the numbers of `marks.csv`: what a cell shows, what formulas compute with and what the
/// file says are the same.
fn as_in_file(mark: &Mark) -> Mark {
    let texts = (0..mark.degc.len()).map(|sample| texts(mark, sample));
    let (degc, u_degc) = texts
        .map(|(value, u)| (value.parse().ok(), u.parse().ok()))
        .unzip();
    Mark {
        degc,
        u_degc,
        ..mark.clone()
    }
}

/// Four decimals of a minute, as in the table of marks as text.
fn tidy(minutes: f64) -> f64 {
    (minutes * 1e4).round() / 1e4
}

fn heads(
    sheet: &mut Worksheet,
    book: &Book,
    summary: &Summary,
    places: &Places,
) -> Result<(), XlsxError> {
    Book::tall_head(sheet, HEAD)?;
    book.put_heads(sheet, (HEAD, 0), ["book-minute", "report-column-phase"])?;
    for (sample, of) in summary.samples.iter().enumerate() {
        let place = Places::value(sample);
        let mut head = |place: u16, key: &str| {
            let text = book.naming(key, &[("sample", &of.name)]);
            book.put_text(sheet, (HEAD, place), &text, &book.head)
        };
        head(place, "report-column-sample")?;
        head(place + 1, "book-u-sample")?;
        if places.zero.is_some() {
            head(places.rise(sample), "book-rise-since")?;
        }
    }
    if let (Some(place), [a, b]) = (places.difference(), summary.samples.as_slice()) {
        let head = book.naming("book-minus", &[("a", &a.name), ("b", &b.name)]);
        book.put_text(sheet, (HEAD, place), &head, &book.head)?;
    }
    let last = places
        .difference()
        .unwrap_or(places.rise(summary.samples.len()));
    for place in 2..=last {
        sheet.set_column_width(place, book.width("book-u", 14))?;
    }
    Ok(())
}

/// Rises since mark 0 and the difference of two samples, in one row.
fn derived(
    sheet: &mut Worksheet,
    book: &Book,
    row: u32,
    mark: &Mark,
    zero: Option<&Mark>,
    places: &Places,
) -> Result<(), XlsxError> {
    let value = |mark: &Mark, sample: usize| mark.degc.get(sample).copied().flatten();
    let minus = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| a - b);
    // A cell without a number gives none: an empty cell would count as 0.
    let both = |a: &str, b: &str| format!("=IF(COUNT({a},{b})=2,{a}-{b},\"\")");
    if let (Some(zero), Some(zero_row)) = (zero, places.zero) {
        for sample in 0..mark.degc.len() {
            let letters = column(Places::value(sample));
            let (own, first) = (
                format!("{letters}{}", row + 1),
                format!("{letters}${}", zero_row + 1),
            );
            let rise = minus(value(mark, sample), value(zero, sample));
            book.put_formula(
                sheet,
                (row, places.rise(sample)),
                &both(&own, &first),
                rise,
                Value::Degc,
            )?;
        }
    }
    if let Some(place) = places.difference() {
        let cell = |sample| format!("{}{}", column(Places::value(sample)), row + 1);
        let apart = minus(value(mark, 0), value(mark, 1));
        book.put_formula(
            sheet,
            (row, place),
            &both(&cell(0), &cell(1)),
            apart,
            Value::Degc,
        )?;
    }
    Ok(())
}

/// Means of the marks of each phase, below the table.
fn means(
    sheet: &mut Worksheet,
    book: &Book,
    summary: &Summary,
    marks: &[Mark],
    places: &Places,
) -> Result<(), XlsxError> {
    let (first, last) = (HEAD + 2, HEAD + 1 + marks.len() as u32);
    let mut row = last + 1;
    for phase in [Phase::Settling, Phase::Heating, Phase::Cooling] {
        if !marks.iter().any(|m| m.phase == Some(phase)) {
            continue;
        }
        let word = book.words.phase(phase);
        let mean = book.naming("book-mean", &[("phase", &word)]);
        book.put_text(sheet, (row, 0), &mean, &book.head)?;
        book.put_text(sheet, (row, 1), "", &book.head)?;
        let mean = |pick: &dyn Fn(&Mark) -> Option<f64>| {
            let own = marks.iter().filter(|m| m.phase == Some(phase));
            let values: Vec<f64> = own.filter_map(pick).collect();
            (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
        };
        let formula = |place: u16| {
            let c = column(place);
            format!("=IFERROR(AVERAGEIF(B{first}:B{last},\"{word}\",{c}{first}:{c}{last}),\"\")")
        };
        for sample in 0..summary.samples.len() {
            let place = Places::value(sample);
            let result = mean(&|m| m.degc.get(sample).copied().flatten());
            book.put_formula(sheet, (row, place), &formula(place), result, Value::Degc)?;
        }
        if let Some(place) = places.difference() {
            let apart = |m: &Mark| match m.degc.as_slice() {
                [Some(a), Some(b)] => Some(a - b),
                _ => None,
            };
            book.put_formula(
                sheet,
                (row, place),
                &formula(place),
                mean(&apart),
                Value::Degc,
            )?;
        }
        row += 1;
    }
    Ok(())
}
