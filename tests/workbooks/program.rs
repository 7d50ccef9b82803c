//! Invented trays, and workbooks in the hands of `LibreOffice`.

use std::collections::BTreeMap;
use std::io::{Cursor, Read as _, Write as _};
use std::path::Path;
use std::process::Command;

use calamine::{Data, Reader as _, Xlsx};
use duskmark::analysis::{Channel, Request, Series, Summary, analyse};
use duskmark::report::Language;
use duskmark::report::workbook::{Lesson, lesson};

/// Roof slate and wet moss for twenty minutes under a lamp (invented data).
pub(super) fn tray(names: [&str; 2], factor: f64) -> (Series, Summary) {
    let t_s: Vec<f64> = (0..1320).map(f64::from).collect();
    let course = |rise: f64, tau: f64, shift: f64| {
        let heated = |t: f64| rise * factor * (1.0 - (-t / tau).exp());
        t_s.iter()
            .map(|&t| {
                let degc = match t {
                    t if t < 60.0 => 20.0,
                    t if t < 660.0 => 20.0 + heated(t - 60.0),
                    t => 20.0 + heated(600.0) * (-(t - 660.0) / tau).exp(),
                };
                let ripple = 0.02 * ((t * 12.9898 + shift).sin() * 43_758.547).fract();
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
        channel(names[0], course(14.0, 280.0, 0.0)),
        channel(names[1], course(7.0, 350.0, 1.0)),
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

/// Converts a file by `LibreOffice`, with a profile of the test's own.
pub(super) fn converted(folder: &Path, file: &str, to: &str) -> Vec<u8> {
    let profile = format!("-env:UserInstallation=file://{}/profile", folder.display());
    let out = folder.join("out");
    let said = Command::new("soffice")
        .args([
            &profile,
            "--headless",
            "--norestore",
            "--convert-to",
            to,
            "--outdir",
        ])
        .arg(&out)
        .arg(folder.join(file))
        .output()
        .unwrap();
    assert!(said.status.success(), "{said:?}");
    let extension = to.split(':').next().unwrap();
    let made = out.join(file).with_extension(extension);
    std::fs::read(&made).unwrap_or_else(|e| panic!("{}: {e}: {said:?}", made.display()))
}

/// A package's parts with their text, where they are text.
pub(super) fn parts(bytes: &[u8]) -> BTreeMap<String, String> {
    let mut package = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    (0..package.len())
        .map(|place| {
            let mut file = package.by_index(place).unwrap();
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).unwrap();
            let name = file.name().unwrap().into_owned();
            (name, String::from_utf8_lossy(&bytes).into_owned())
        })
        .collect()
}

/// The same workbook without the results of its formulas: whoever opens it has to compute them.
fn without_results(bytes: &[u8]) -> (Vec<u8>, usize) {
    let mut out = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let mut stripped = 0;
    for (name, text) in parts(bytes) {
        out.start_file(name, zip::write::SimpleFileOptions::default())
            .unwrap();
        let mut pieces = text.split("</f>");
        let mut kept = pieces.next().unwrap().to_owned();
        for piece in pieces {
            let rest = piece
                .strip_prefix("<v>")
                .map(|p| p.split_once("</v>").unwrap().1);
            stripped += usize::from(rest.is_some());
            kept += "</f>";
            kept += rest.unwrap_or(piece);
        }
        out.write_all(kept.as_bytes()).unwrap();
    }
    (out.finish().unwrap().into_inner(), stripped)
}

/// All cells of a workbook that hold something, by sheet, row and column.
pub(super) fn cells(bytes: &[u8]) -> BTreeMap<(String, u32, u32), Data> {
    let mut book = Xlsx::new(Cursor::new(bytes)).unwrap();
    let mut all = BTreeMap::new();
    for name in book.sheet_names() {
        let range = book.worksheet_range(&name).unwrap();
        let (top, left) = range.start().unwrap_or((0, 0));
        for (row, column, value) in range.used_cells() {
            // A formula that gives an empty text is as good as an empty cell.
            if value.to_string().is_empty() {
                continue;
            }
            all.insert(
                (name.clone(), top + row as u32, left + column as u32),
                value.clone(),
            );
        }
    }
    all
}

/// Holds what `LibreOffice` computed against what we say it is.
#[track_caller]
pub(super) fn computed_alike(bytes: &[u8], least_formulas: usize) {
    let folder = tempfile::tempdir().unwrap();
    let (bare, formulas) = without_results(bytes);
    assert!(formulas >= least_formulas, "{formulas} formulas");
    std::fs::write(folder.path().join("bare.xlsx"), bare).unwrap();
    let theirs = cells(&converted(
        folder.path(),
        "bare.xlsx",
        "xlsx:Calc MS Excel 2007 XML",
    ));
    let ours = cells(bytes);
    let only_one = ours.keys().filter(|place| !theirs.contains_key(*place));
    let only_one: Vec<_> = only_one
        .chain(theirs.keys().filter(|place| !ours.contains_key(*place)))
        .collect();
    assert!(only_one.is_empty(), "{only_one:?}");
    for (place, value) in &ours {
        match (value, &theirs[place]) {
            (Data::Float(a), Data::Float(b)) => {
                assert!(
                    (a - b).abs() <= 1e-9 * a.abs().max(1.0),
                    "{place:?}: {a} {b}"
                );
            }
            (a, b) => assert_eq!(a.to_string(), b.to_string(), "{place:?}"),
        }
    }
}

/// A run's workbook in a language.
pub(super) fn book_of(language: Language, series: &Series, summary: &Summary) -> Vec<u8> {
    lesson(&Lesson {
        title: "bench 1",
        language,
        summary,
        series,
        is_invented: false,
    })
    .unwrap()
}

/// A run's workbook in English.
pub(super) fn run_of(series: &Series, summary: &Summary) -> Vec<u8> {
    book_of(Language::English, series, summary)
}
