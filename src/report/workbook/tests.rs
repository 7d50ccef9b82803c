use std::io::{Cursor, Read as _};

use super::{Lesson, lesson, lesson_with};
use crate::analysis::{Channel, Request, Series, Summary, analyse};
use crate::report::Language;

/// Roof slate and wet moss for twenty minutes under a lamp (invented data).
fn tray(rows: usize, names: [&str; 2]) -> (Series, Summary) {
    let t_s: Vec<f64> = (0..rows).map(|i| i as f64).collect();
    let course = |rise: f64, tau: f64| {
        let heated = |t: f64| rise * (1.0 - (-t / tau).exp());
        t_s.iter()
            .map(|&t| {
                let degc = match t {
                    t if t < 60.0 => 20.0,
                    t if t < 660.0 => 20.0 + heated(t - 60.0),
                    t => 20.0 + heated(600.0) * (-(t - 660.0) / tau).exp(),
                };
                let ripple = 0.01 * ((t * 12.9898).sin() * 43_758.547).fract();
                ((degc + ripple) * 1e3).round() / 1e3
            })
            .collect()
    };
    let channel = |name: &str, degc| Channel {
        name: name.to_owned(),
        degc,
        resolution_degc: Some(0.001),
        u_common_degc: None,
    };
    let channels = vec![
        channel(names[0], course(14.0, 280.0)),
        channel(names[1], course(7.0, 350.0)),
    ];
    let series = Series {
        t_s,
        channels,
        ..Series::default()
    };
    let request = Request {
        marks_s: Some(60.0),
        ..Request::default()
    };
    let summary = analyse(&series, &request);
    (series, summary)
}

fn part(bytes: &[u8], name: &str) -> String {
    let mut package = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut text = String::new();
    package
        .by_name(name)
        .unwrap()
        .read_to_string(&mut text)
        .unwrap();
    text
}

#[test]
fn the_same_run_gives_the_same_bytes_and_names_nobody() {
    let (series, summary) = tray(1300, ["slate", "moss"]);
    let run = Lesson {
        title: "bench 1",
        language: Language::English,
        summary: &summary,
        series: &series,
        is_invented: false,
    };
    let bytes = lesson(&run).unwrap();
    assert_eq!(bytes, lesson(&run).unwrap());
    let core = part(&bytes, "docProps/core.xml");
    assert!(
        core.contains("<dc:creator></dc:creator>") && core.contains("2000-01-01T00:00:00Z"),
        "{core}"
    );
    assert!(core.contains("<dc:title>bench 1</dc:title>"), "{core}");
}

#[test]
fn text_of_people_never_becomes_a_formula() {
    let names = ["=cmd|'/c calc'!A1", "@<script>\u{202e}🌿\u{7}"];
    let (series, summary) = tray(1300, names);
    let run = Lesson {
        title: "+1+1",
        language: Language::German,
        summary: &summary,
        series: &series,
        is_invented: false,
    };
    let bytes = lesson(&run).unwrap();
    let strings = part(&bytes, "xl/sharedStrings.xml");
    assert!(
        strings.contains("=cmd|'/c calc'!A1") && strings.contains("@&lt;script&gt;🌿"),
        "{strings}"
    );
    assert!(part(&bytes, "xl/styles.xml").contains("quotePrefix=\"1\""));
    for sheet in 1..=5 {
        let text = part(&bytes, &format!("xl/worksheets/sheet{sheet}.xml"));
        let own = text
            .split("<f>")
            .skip(1)
            .map(|f| f.split("</f>").next().unwrap());
        for formula in own {
            assert!(
                !formula.contains("cmd") && !formula.contains("1+1"),
                "{formula}"
            );
        }
    }
}

#[test]
fn rows_beyond_what_is_held_are_as_those_before_them() {
    // Both ways of writing a row, read back by an independent reader, give the series.
    use calamine::Reader as _;
    let (series, summary) = tray(25_003, ["slate", "moss"]);
    let run = Lesson {
        title: "long",
        language: Language::English,
        summary: &summary,
        series: &series,
        is_invented: false,
    };
    for per_sheet in [super::ROWS_PER_SHEET, 7000] {
        let bytes = lesson_with(&run, per_sheet).unwrap();
        assert_eq!(bytes, lesson_with(&run, per_sheet).unwrap());
        let mut book = calamine::Xlsx::new(Cursor::new(bytes)).unwrap();
        let mut seen = 0;
        for name in book.sheet_names().iter().filter(|n| n.starts_with("Rows")) {
            let range = book.worksheet_range(name).unwrap();
            assert_eq!(range.get_value((0, 2)).unwrap().to_string(), "slate / °C");
            for row in range.rows().skip(1) {
                let number = |place: usize| match &row[place] {
                    calamine::Data::Float(number) => *number,
                    other => panic!("{name}: {other:?}"),
                };
                let same = |a: f64, b: f64| (a - b).abs() < 1e-12;
                assert!(same(number(0), series.t_s[seen]), "{name} {seen}");
                assert!(
                    same(number(2), series.channels[0].degc[seen]),
                    "{name} {seen}"
                );
                assert!(
                    same(number(3), series.channels[1].degc[seen]),
                    "{name} {seen}"
                );
                let phase = crate::analysis::phase_at(series.t_s[seen], &summary.lamp).unwrap();
                assert_eq!(row[4].to_string(), phase.word());
                seen += 1;
            }
        }
        assert_eq!(seen, series.t_s.len());
    }
}

#[test]
fn a_run_without_rows_or_with_gaps_has_a_workbook_too() {
    let empty = Series::default();
    let summary = analyse(&empty, &Request::default());
    assert!(
        lesson(&Lesson {
            title: "",
            language: Language::French,
            summary: &summary,
            series: &empty,
            is_invented: false
        })
        .is_ok()
    );
    let (mut series, _) = tray(30_000, ["slate", "moss"]);
    for degc in &mut series.channels[1].degc {
        *degc = f64::NAN;
    }
    let summary = analyse(&series, &Request::default());
    let bytes = lesson(&Lesson {
        title: "gaps",
        language: Language::English,
        summary: &summary,
        series: &series,
        is_invented: false,
    })
    .unwrap();
    assert!(!part(&bytes, "xl/worksheets/sheet4.xml").contains("NaN"));
}
