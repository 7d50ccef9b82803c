//! Workbooks in every language: none of another's words, formulas and charts alike.

use std::collections::BTreeSet;

use calamine::DataType as _;
use duskmark::analysis::class::{Bench, class};
use duskmark::analysis::{Cued, Request, Series, Summary, analyse};
use duskmark::graph::Degrees;
use duskmark::lamp::Kind;
use duskmark::report::{ClassReport, Language};

use super::program::{book_of, cells, computed_alike, tray};

#[test]
fn a_class_is_computed_alike() {
    let benches: Vec<(Series, Summary)> = (0..6)
        .map(|i| tray(["slate", "moss"], 1.0 + 0.02 * f64::from(i)))
        .collect();
    let benches: Vec<Bench<'_>> = benches
        .iter()
        .map(|(series, summary)| Bench {
            name: "=bench",
            summary,
            series,
        })
        .collect();
    let class = class(&benches);
    for language in Language::ALL {
        let report = ClassReport {
            title: "Class 7b",
            language,
            degrees: Degrees::Celsius,
            class: &class,
            benches: &benches,
        };
        let bytes = report.workbook().unwrap();
        assert_eq!(bytes, report.workbook().unwrap());
        computed_alike(&bytes, 6 + 4 * 12);
    }
}

/// A lesson of which people were told when to switch the lamp, so that nothing of the workbook is
/// left out.
fn planned() -> (Series, Summary) {
    let (series, _) = tray(["Schiefer", "Moos"], 1.0);
    let cue = |edge, cued_s, after_on_s| Cued {
        edge,
        cued_s,
        after_on_s,
    };
    let request = Request {
        marks_s: Some(60.0),
        cues: vec![
            cue(Kind::On, 58.0, None),
            cue(Kind::Off, 657.0, Some(595.0)),
        ],
        ..Request::default()
    };
    let summary = analyse(&series, &request);
    (series, summary)
}

/// Texts of all cells that are no number, and names of all sheets.
fn texts(bytes: &[u8]) -> BTreeSet<String> {
    let all = cells(bytes);
    let texts = all.values().filter(|value| value.is_string());
    let texts = texts.map(ToString::to_string);
    let sheets = all.keys().map(|(sheet, ..)| sheet.clone());
    texts.chain(sheets).collect()
}

#[test]
fn every_sheet_is_in_its_language_and_computed_alike() {
    let (series, summary) = planned();
    let english = texts(&book_of(Language::English, &series, &summary));
    // Names of people's own, and what is written the same in both languages.
    let same = |text: &String| {
        ["bench 1", "Schiefer", "Moos"].contains(&text.as_str())
            || text.starts_with("u(")
            || text.starts_with("Schiefer /")
            || text.starts_with("Moos /")
            || text.starts_with("Schiefer − Moos")
            || ["Phase", "Notes", "Graph"].contains(&text.as_str())
    };
    for language in [Language::German, Language::French] {
        let bytes = book_of(language, &series, &summary);
        assert_eq!(bytes, book_of(language, &series, &summary));
        let own = texts(&bytes);
        let left: Vec<_> = own.intersection(&english).filter(|t| !same(t)).collect();
        assert!(left.is_empty(), "{}: {left:?}", language.tag());
        assert_eq!(own.len(), english.len(), "{own:?} {english:?}");
        computed_alike(&bytes, 60);
    }
}

#[test]
fn what_was_planned_stands_beside_what_was_seen() {
    let (series, summary) = planned();
    let all = cells(&book_of(Language::English, &series, &summary));
    let number = |row: u32, column: u32| {
        let cell = &all[&("Results".to_owned(), row, column)];
        cell.to_string().parse::<f64>().unwrap()
    };
    for (row, planned) in (3..).zip(&summary.planned) {
        assert!((number(row, 6) - planned.planned_s).abs() < 1e-9);
        assert!((number(row, 7) - planned.late_s.unwrap()).abs() < 1e-4);
    }
}
