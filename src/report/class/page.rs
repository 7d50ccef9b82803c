//! The page of a class.

use super::ClassReport;
use super::said::{limit, outlying};
use super::together::{self, quantity_key, scale_of};
use crate::analysis::class::{BenchRow, ClassRatio, ClassWarning, Quantity, Spread, Why};
use crate::analysis::expanded;
use crate::report::{Cell, Markup, Page, Table, Value, Words, plain};

pub(super) fn html(report: &ClassReport<'_>, drawn: &[(&str, String)]) -> String {
    let words = Words::showing(report.language, report.degrees);
    let mut body = Markup::default();
    body.heading(1, &plain(report.title));
    let invented = |w: &&ClassWarning| matches!(w, ClassWarning::Invented { .. });
    for warning in report.class.warnings.iter().filter(invented) {
        body.paragraph_as("small", &limit(&words, warning));
    }
    lead(&mut body, &words, report);
    body.section("", &words.say("class-picture"), |part| {
        part.drawings(drawn, &words.say("class-picture-caption"));
    });
    body.section("", &words.say("class-table"), |part| {
        part.paragraph_as("small", &words.say("class-table-caption"));
        for shown in parts(report) {
            part.block("many whole", |wide| {
                wide.table(&benches(&words, report, &shown));
            });
        }
    });
    apart(&mut body, &words, report);
    body.section("", &words.say("class-together"), |part| {
        part.paragraph_as("small", &words.say("class-together-caption"));
        part.block("many whole", |wide| {
            wide.table(&together::table(&words, report.class));
        });
    });
    ratio(&mut body, &words, report);
    limits(&mut body, &words, report);
    body.section("", &words.say("class-method"), |part| {
        let version = [("version", Value::Text(env!("CARGO_PKG_VERSION")))];
        part.list(&[
            words.say("class-method-names"),
            words.say("class-method-robust"),
            words.say("class-method-pooled"),
            words.tell("class-method-files", &version),
        ]);
    });
    body.block("caution", |part| {
        part.paragraph(&words.say("class-caution"));
    });
    let title = report.title.to_owned();
    Page {
        language: report.language,
        title,
        body,
    }
    .html()
}

/// The ratio of the rises that comes first.
fn first_ratio<'a>(report: &ClassReport<'a>) -> Option<&'a ClassRatio> {
    report
        .class
        .ratios
        .iter()
        .find(|r| r.ratio.quantity == Quantity::RiseRatio)
}

fn lead(body: &mut Markup, words: &Words, report: &ClassReport<'_>) {
    let count = Value::Count(report.class.benches.len());
    body.paragraph(&words.tell("class-count", &[("n", count)]));
    let Some(ratio) = first_ratio(report) else {
        return;
    };
    let Some(pooled) = ratio.ratio.pooled else {
        let why = why(words, &ratio.ratio);
        body.paragraph_as(
            "lead",
            &words.tell("class-no-lead", &[("why", Value::Text(&why))]),
        );
        return;
    };
    // A sentence for pupils: no more decimals than tell the interval's ends apart.
    let places = if pooled.high - pooled.low < 0.02 {
        3
    } else {
        2
    };
    let told = |x: f64| {
        if x < 10.0 {
            format!("{x:.places$}")
        } else {
            format!("{x:.1}")
        }
    };
    let (value, low, high) = (told(pooled.value), told(pooled.low), told(pooled.high));
    let values = [
        ("upper", Value::Name(&ratio.upper)),
        ("lower", Value::Name(&ratio.lower)),
        ("ratio", Value::Number(&value)),
        ("low", Value::Number(&low)),
        ("high", Value::Number(&high)),
        ("n", Value::Count(pooled.n)),
    ];
    body.paragraph_as("lead", &words.tell("class-lead", &values));
}

fn why(words: &Words, spread: &Spread) -> String {
    match spread.why {
        None => String::new(),
        Some(Why::Few) => words.tell("class-why-few", &[("n", Value::Count(spread.n))]),
        Some(Why::FewKnown) => words.say("class-why-few-known"),
        Some(Why::FewAlike) => words.say("class-why-few-alike"),
    }
}

/// What the table of benches shows of each sample.
const SHOWN: [Quantity; 4] = [
    Quantity::Start,
    Quantity::Rise,
    Quantity::HeatingRate,
    Quantity::TimeConstant,
];

/// Samples, and ratios of rises, of one table of benches.
struct Part<'a> {
    samples: std::ops::Range<usize>,
    ratios: Vec<&'a ClassRatio>,
}

/// Samples and ratios side by side, and ratios alone: so many have room on paper for whole words.
const SAMPLES_BESIDE: usize = 2;
const RATIOS_BESIDE: usize = 5;

/// A bench's name of so many letters stays on a line.
const UNBROKEN: usize = 12;

/// The tables of benches: one where that has room.
fn parts<'a>(report: &ClassReport<'a>) -> Vec<Part<'a>> {
    let all = report.class.samples.len();
    let rises = report.class.ratios.iter();
    let rises = rises.filter(|r| r.ratio.quantity == Quantity::RiseRatio);
    let ratios: Vec<&ClassRatio> = rises.collect();
    if all <= SAMPLES_BESIDE {
        let samples = 0..all;
        return vec![Part { samples, ratios }];
    }
    let groups = (0..all).step_by(SAMPLES_BESIDE).map(|from| Part {
        samples: from..(from + SAMPLES_BESIDE).min(all),
        ratios: Vec::new(),
    });
    let rest = ratios.chunks(RATIOS_BESIDE).map(|ratios| Part {
        samples: 0..0,
        ratios: ratios.to_vec(),
    });
    groups.chain(rest).collect()
}

fn benches(words: &Words, report: &ClassReport<'_>, part: &Part<'_>) -> Table {
    let class = report.class;
    let mut first = vec![Cell::heading(""), Cell::heading("")];
    let mut second = vec![
        Cell::heading(words.say("class-bench")),
        Cell::heading(words.say("class-heated")),
    ];
    let mut name = words.say("class-table");
    for sample in class.samples.get(part.samples.clone()).unwrap_or_default() {
        first.push(Cell::heading(plain(&sample.name)).over(SHOWN.len()));
        second.extend(
            SHOWN
                .iter()
                .map(|q| Cell::heading(words.say(quantity_key(*q)))),
        );
        name = format!("{name}, {}", sample.name);
    }
    for ratio in &part.ratios {
        first.push(Cell::heading(""));
        let names = [
            ("upper", Value::Name(&ratio.upper)),
            ("lower", Value::Name(&ratio.lower)),
        ];
        let head = words.tell("class-ratio-rise", &names);
        if part.samples.is_empty() {
            name = format!("{name}, {}", head.trim());
        }
        second.push(Cell::heading(head));
    }
    // Without samples nothing spans the columns below.
    let head = if part.samples.is_empty() {
        vec![second]
    } else {
        vec![first, second]
    };
    let row = |(place, row): (usize, &BenchRow)| bench_row(words, report, part, place, row);
    Table {
        caption: String::new(),
        name,
        head,
        rows: class.benches.iter().enumerate().map(row).collect(),
    }
}

fn bench_row(
    words: &Words,
    report: &ClassReport<'_>,
    part: &Part<'_>,
    place: usize,
    row: &BenchRow,
) -> Vec<Cell> {
    let class = report.class;
    let minutes = row.heated_s.map_or("–".to_owned(), |s| {
        words.number(&format!("{:.1}", s / 60.0))
    });
    let mut name = plain(&row.name);
    if name.chars().count() <= UNBROKEN {
        name = name.replace(' ', "\u{A0}");
    }
    let mut cells = vec![Cell::heading(name), Cell::number(minutes)];
    let own = class.samples.iter().enumerate();
    for (sample, all) in own.filter(|(sample, _)| part.samples.contains(sample)) {
        for quantity in SHOWN {
            let own = row.sample(sample).map(|s| quantity.of(s));
            let spread = all.quantities.iter().find(|s| s.quantity == quantity);
            cells.push(value(words, (quantity, own), spread, place));
        }
    }
    for ratio in &part.ratios {
        let own = together::ratio_of(class, row, ratio);
        cells.push(value(
            words,
            (ratio.ratio.quantity, own.map(|(a, b)| (Some(a), Some(b)))),
            Some(&ratio.ratio),
            place,
        ));
    }
    cells
}

/// A value and its standard uncertainty, as far as they are there.
type Known = (Option<f64>, Option<f64>);

/// A value rounded to what it is known within, with an asterisk where it stands apart; a dash for none.
fn value(
    words: &Words,
    (quantity, own): (Quantity, Option<Known>),
    spread: Option<&Spread>,
    place: usize,
) -> Cell {
    let Some((Some(value), u)) = own else {
        return Cell::number("–");
    };
    let least = together::finest(quantity);
    let scale = scale_of(quantity);
    let u = words.scaled(scale.of_uncertainty(), u.unwrap_or(0.0).max(least));
    let (text, _) = expanded(words.scaled(scale, value), u);
    let apart = spread.is_some_and(|s| s.apart.iter().any(|a| a.bench == place));
    let star = if apart { "\u{A0}*" } else { "" };
    Cell::number(format!("{}{star}", words.number(&text)))
}

fn apart(body: &mut Markup, words: &Words, report: &ClassReport<'_>) {
    body.section("", &words.say("class-apart"), |part| {
        // So many that did the same are what one is judged by.
        let rises = report.class.samples.iter().flat_map(|s| &s.quantities);
        let rises = rises.filter(|s| s.quantity == Quantity::Rise);
        let few = rises.map(|s| s.n).max().unwrap_or(0) < 5;
        if report.class.outlying.is_empty() {
            let key = if few {
                "class-apart-few"
            } else {
                "class-apart-none"
            };
            part.paragraph(&words.say(key));
            return;
        }
        part.paragraph(&words.say("class-apart-careful"));
        let points: Vec<String> = report
            .class
            .outlying
            .iter()
            .map(|o| outlying(words, report, o))
            .collect();
        part.list(&points);
    });
}

fn ratio(body: &mut Markup, words: &Words, report: &ClassReport<'_>) {
    let own = report
        .class
        .ratios
        .iter()
        .filter(|r| r.ratio.quantity == Quantity::RiseRatio);
    let known: Vec<_> = own.filter_map(|r| Some((r, r.ratio.pooled?))).collect();
    if known.is_empty() {
        return;
    }
    body.section("", &words.say("class-ratio"), |part| {
        for (ratio, pooled) in known {
            let told = |x, u| together::rounded_together(Quantity::RiseRatio, x, u);
            let half = pooled.half();
            let (value, _) = told(pooled.value, half);
            let text = |x: f64| told(x, half).0;
            let (low, high) = (text(pooled.low), text(pooled.high));
            part.paragraph(&words.tell(
                "class-ratio-of",
                &[
                    ("upper", Value::Name(&ratio.upper)),
                    ("lower", Value::Name(&ratio.lower)),
                    ("value", Value::Number(&value)),
                    ("low", Value::Number(&low)),
                    ("high", Value::Number(&high)),
                    ("n", Value::Count(pooled.n)),
                ],
            ));
            let (_, within) = told(0.0, pooled.within_u);
            let between = match pooled.between_sd {
                sd if sd > 0.0 => told(0.0, sd).1,
                _ => "0".to_owned(),
            };
            let spread = [
                ("within", Value::Number(&within)),
                ("between", Value::Number(&between)),
            ];
            part.paragraph(&words.tell("class-ratio-spread", &spread));
            if pooled.between_sd > pooled.within_u {
                part.paragraph(&words.say("class-ratio-between"));
            } else if pooled.between_sd <= 0.0 {
                part.paragraph(&words.say("class-ratio-within"));
            }
            if let Some(all) = ratio.ratio.pooled_all {
                let text = |x: f64| told(x, all.half()).0;
                let [value, low, high] = [all.value, all.low, all.high].map(text);
                let values = [
                    ("value", Value::Number(&value)),
                    ("low", Value::Number(&low)),
                    ("high", Value::Number(&high)),
                    ("n", Value::Count(all.n)),
                ];
                part.paragraph(&words.tell("class-ratio-all", &values));
            }
        }
    });
}

fn limits(body: &mut Markup, words: &Words, report: &ClassReport<'_>) {
    body.section("", &words.say("class-limits"), |part| {
        let points: Vec<String> = report
            .class
            .warnings
            .iter()
            .map(|w| limit(words, w))
            .collect();
        if points.is_empty() {
            part.paragraph(&words.say("class-limits-none"));
        }
        part.list(&points);
    });
}
