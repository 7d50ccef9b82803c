//! The workbook of a class.

use rust_xlsxwriter::{
    Chart, ChartLegendPosition, ChartSolidFill, ChartType, Color, Worksheet, XlsxError,
};

use super::ClassReport;
use super::said::{limit, outlying};
use super::together::quantity_key;
use crate::analysis::class::{BenchRow, BenchSample, Quantity, Spread};
use crate::report::workbook::{Book, COLOURS, Value, WorkbookError, column, started};

/// Row of the headings, from 0; that of the samples' names is the one above.
const HEAD: u32 = 3;

/// What the table of benches has of each sample, with a column for its uncertainty.
const SHOWN: [(Quantity, Value); 6] = [
    (Quantity::Start, Value::Degc),
    (Quantity::Rise, Value::Degc),
    (Quantity::Fall, Value::Degc),
    (Quantity::HeatingRate, Value::Fine),
    (Quantity::CoolingRate, Value::Fine),
    (Quantity::TimeConstant, Value::Time),
];

/// Columns before the samples.
const BEFORE: u16 = 3;

/// Columns of one sample.
const OF_SAMPLE: u16 = 2 * SHOWN.len() as u16;

pub(super) fn workbook(report: &ClassReport<'_>) -> Result<Vec<u8>, WorkbookError> {
    let mut workbook = started(report.title)?;
    let book = Book::new(report.language);
    benches(workbook.add_worksheet(), &book, report)?;
    together(workbook.add_worksheet(), &book, report)?;
    graph(workbook.add_worksheet(), &book, report)?;
    notes(workbook.add_worksheet(), &book, report)?;
    Ok(workbook.save_to_buffer()?)
}

/// Column of a sample's quantity.
fn place(sample: usize, shown: usize) -> u16 {
    BEFORE + OF_SAMPLE * sample as u16 + 2 * shown as u16
}

fn benches(sheet: &mut Worksheet, book: &Book, report: &ClassReport<'_>) -> Result<(), XlsxError> {
    let class = report.class;
    sheet.set_name(book.words.say("book-benches"))?;
    Book::lying(sheet, 0);
    sheet.set_freeze_panes(HEAD + 1, 1)?;
    Book::tall_head(sheet, HEAD)?;
    sheet.set_column_width(0, 26)?;
    book.put_title(sheet, report.title, report.has_invented())?;
    let first = ["class-bench", "class-heated", "book-alike"];
    book.put_heads(sheet, (HEAD, 0), first)?;
    for (sample, named) in class.samples.iter().enumerate() {
        book.put_text(sheet, (HEAD - 1, place(sample, 0)), &named.name, &book.head)?;
        for (shown, (quantity, _)) in SHOWN.iter().enumerate() {
            sheet.set_column_width(place(sample, shown), 13)?;
            sheet.set_column_width(place(sample, shown) + 1, book.width("book-u", 11))?;
            let heads = [quantity_key(*quantity), "book-u"];
            book.put_heads(sheet, (HEAD, place(sample, shown)), heads)?;
        }
    }
    for (row, bench) in (HEAD + 1..).zip(&class.benches) {
        book.put_text(sheet, (row, 0), &bench.name, &book.text)?;
        book.put(
            sheet,
            (row, 1),
            bench.heated_s.map(|s| s / 60.0),
            Value::Degc,
        )?;
        let alike = if bench.heated_alike {
            "book-yes"
        } else {
            "book-no"
        };
        book.put_said(sheet, (row, 2), alike, &book.text)?;
        for own in &bench.samples {
            of_bench(sheet, book, row, own)?;
        }
    }
    let ratios = ratios(sheet, book, report)?;
    feet(sheet, book, report, ratios)
}

fn of_bench(
    sheet: &mut Worksheet,
    book: &Book,
    row: u32,
    own: &BenchSample,
) -> Result<(), XlsxError> {
    for (shown, (quantity, format)) in SHOWN.iter().enumerate() {
        let (value, u) = quantity.of(own);
        let at = place(own.sample, shown);
        book.put(sheet, (row, at), value, format.fitting(value, u))?;
        book.put(sheet, (row, at + 1), u, Value::Fine.fitting(value, u))?;
    }
    Ok(())
}

/// The ratios of the rises as formulas; gives the values of each of their columns.
fn ratios(
    sheet: &mut Worksheet,
    book: &Book,
    report: &ClassReport<'_>,
) -> Result<Vec<Column>, XlsxError> {
    let class = report.class;
    let mut at = BEFORE + OF_SAMPLE * class.samples.len() as u16;
    let mut out = Vec::new();
    let rises = class
        .ratios
        .iter()
        .filter(|r| r.ratio.quantity == Quantity::RiseRatio);
    for ratio in rises {
        let sample = |name: &str| class.samples.iter().position(|s| s.name == name);
        let (Some(upper), Some(lower)) = (sample(&ratio.upper), sample(&ratio.lower)) else {
            continue;
        };
        let names = [("upper", ratio.upper.as_str()), ("lower", &ratio.lower)];
        let head = book.naming(quantity_key(Quantity::RiseRatio), &names);
        book.put_text(sheet, (HEAD, at), &head, &book.head)?;
        let mut values = Vec::new();
        for (row, bench) in (HEAD + 1..).zip(&class.benches) {
            let rise = |sample: usize| bench.sample(sample)?.values.rise_degc;
            let cell = |sample: usize| format!("{}{}", column(place(sample, 1)), row + 1);
            let (a, b) = (cell(upper), cell(lower));
            let result = rise(upper)
                .zip(rise(lower))
                .filter(|(_, b)| *b > 0.0)
                .map(|(a, b)| a / b);
            let formula = format!("=IF(COUNT({a},{b})=2,IF({b}>0,{a}/{b},\"\"),\"\")");
            book.put_formula(sheet, (row, at), &formula, result, Value::Fine)?;
            values.extend(result);
        }
        out.push((at, values, Value::Fine));
        at += 1;
    }
    Ok(out)
}

/// A column, the values in it, and how they are shown.
type Column = (u16, Vec<f64>, Value);

/// What is computed of a column's values.
type Foot = fn(&[f64]) -> Option<f64>;

/// Under each column: how many values, their median, lowest and highest, as formulas.
fn feet(
    sheet: &mut Worksheet,
    book: &Book,
    report: &ClassReport<'_>,
    ratios: Vec<Column>,
) -> Result<(), XlsxError> {
    let class = report.class;
    let mut columns = Vec::new();
    for sample in 0..class.samples.len() {
        for (shown, (quantity, format)) in SHOWN.iter().enumerate() {
            let value = |row: &BenchRow| quantity.of(row.sample(sample)?).0;
            columns.push((
                place(sample, shown),
                class.benches.iter().filter_map(value).collect(),
                *format,
            ));
        }
    }
    columns.extend(ratios);
    let (first, last) = (HEAD + 2, HEAD + 1 + class.benches.len() as u32);
    let lines: [(&str, &str, Foot); 4] = [
        ("class-median", "MEDIAN", median),
        ("book-lowest", "MIN", |v| v.iter().copied().reduce(f64::min)),
        ("book-highest", "MAX", |v| {
            v.iter().copied().reduce(f64::max)
        }),
        ("class-n", "COUNT", |v| Some(v.len() as f64)),
    ];
    for (row, (title, function, compute)) in (last..).zip(lines) {
        book.put_said(sheet, (row, 0), title, &book.head)?;
        for (at, values, format) in columns.iter().filter(|(_, values, _)| !values.is_empty()) {
            let letters = column(*at);
            let formula = format!("={function}({letters}{first}:{letters}{last})");
            let format = if function == "COUNT" {
                Value::Time
            } else {
                *format
            };
            book.put_formula(sheet, (row, *at), &formula, compute(values), format)?;
        }
    }
    Ok(())
}

fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    let lower = *sorted.get((sorted.len() - 1) / 2)?;
    Some(0.5 * (lower + upper))
}

fn together(sheet: &mut Worksheet, book: &Book, report: &ClassReport<'_>) -> Result<(), XlsxError> {
    let class = report.class;
    sheet.set_name(book.words.say("book-together"))?;
    Book::lying(sheet, 0);
    let heads = [
        "class-quantity",
        "class-n",
        "class-median",
        "book-lowest",
        "book-highest",
        "class-robust",
        "class-pooled",
        "book-u",
        "book-interval-from",
        "book-interval-to",
        "book-within",
        "book-between",
        "book-pooled-n",
        "book-pooled-all",
    ];
    Book::tall_head(sheet, 0)?;
    for (at, head) in (0..).zip(heads) {
        let least = if at == 0 { 44 } else { 13 };
        sheet.set_column_width(at, book.width(head, least))?;
    }
    book.put_heads(sheet, (0, 0), heads)?;
    let mut row = 1;
    for sample in &class.samples {
        for spread in sample.quantities.iter().filter(|s| s.n > 0) {
            let quantity = book.words.say(quantity_key(spread.quantity));
            let names = [("quantity", quantity.as_str()), ("sample", &sample.name)];
            line(sheet, book, row, &book.naming("class-of", &names), spread)?;
            row += 1;
        }
    }
    for ratio in class.ratios.iter().filter(|r| r.ratio.n > 0) {
        let names = [("upper", ratio.upper.as_str()), ("lower", &ratio.lower)];
        let title = book.naming(quantity_key(ratio.ratio.quantity), &names);
        line(sheet, book, row, &title, &ratio.ratio)?;
        row += 1;
    }
    Ok(())
}

fn line(
    sheet: &mut Worksheet,
    book: &Book,
    row: u32,
    title: &str,
    spread: &Spread,
) -> Result<(), XlsxError> {
    book.put_text(sheet, (row, 0), title, &book.text)?;
    let pooled = spread.pooled;
    let numbers = [
        Some(spread.n as f64),
        spread.median,
        spread.lowest,
        spread.highest,
        spread.robust_sd,
        pooled.map(|p| p.value),
        pooled.map(|p| p.u),
        pooled.map(|p| p.low),
        pooled.map(|p| p.high),
        pooled.map(|p| p.within_u),
        pooled.map(|p| p.between_sd),
        pooled.map(|p| p.n as f64),
        spread.pooled_all.map(|p| p.value),
    ];
    for (at, number) in (1..).zip(numbers) {
        let format = if at == 1 || at == 12 {
            Value::Time
        } else {
            Value::Fine
        };
        book.put(sheet, (row, at), number, format)?;
    }
    Ok(())
}

/// Rises by bench, one column of the chart for each sample.
fn graph(sheet: &mut Worksheet, book: &Book, report: &ClassReport<'_>) -> Result<(), XlsxError> {
    sheet.set_name(book.words.say("book-graph"))?;
    let table = book.words.say("book-benches");
    let table = table.as_str();
    Book::lying(sheet, 1);
    let mut chart = Chart::new(ChartType::Column);
    let last = HEAD + report.class.benches.len() as u32;
    for (sample, colour) in (0..report.class.samples.len()).zip(COLOURS.iter().cycle()) {
        let at = place(sample, 1);
        chart
            .add_series()
            .set_categories((table, HEAD + 1, 0, last, 0))
            .set_values((table, HEAD + 1, at, last, at))
            .set_name((table, HEAD - 1, place(sample, 0)))
            .set_format(ChartSolidFill::new().set_color(Color::RGB(*colour)));
    }
    chart.x_axis().set_name(&book.words.say("class-bench"));
    chart.y_axis().set_name(&book.words.say("class-rise"));
    chart.title().set_hidden();
    chart.legend().set_position(ChartLegendPosition::Bottom);
    chart.set_alt_text(book.words.say("book-class-chart"));
    chart.set_width(960).set_height(560);
    if !report.class.samples.is_empty() {
        sheet.insert_chart(2, 0, &chart)?;
    }
    book.put_title(sheet, report.title, report.has_invented())
}

fn notes(sheet: &mut Worksheet, book: &Book, report: &ClassReport<'_>) -> Result<(), XlsxError> {
    let words = &book.words;
    book.begin_notes(sheet)?;
    let apart = report.class.outlying.iter();
    let apart = apart.map(|found| outlying(words, report, found));
    let limits = report.class.warnings.iter().map(|w| limit(words, w));
    let fixed = [
        "book-class-note",
        "class-method-pooled",
        "class-together-caption",
        "class-apart-careful",
    ];
    let fixed = fixed.map(|key| words.say(key));
    for (row, note) in (2..).zip(apart.chain(limits).chain(fixed)) {
        book.put_note(sheet, row, &note)?;
    }
    Ok(())
}
