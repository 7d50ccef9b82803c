//! Workbooks in the hands of another program: `LibreOffice` opens ours and computes them again, and
//! what it saves is read by us.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::collections::BTreeMap;
use std::io::{Cursor, Read as _, Write as _};
use std::path::Path;
use std::process::Command;

use calamine::{Data, Reader as _, Xlsx};
use duskmark::analysis::class::{Bench, class};
use duskmark::analysis::{Channel, Request, Series, Summary, analyse};
use duskmark::report::workbook::{Lesson, lesson};
use duskmark::report::{ClassReport, Language};
use support::program::run;

/// Roof slate and wet moss for twenty minutes under a lamp (invented data).
fn tray(names: [&str; 2], factor: f64) -> (Series, Summary) {
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
    let series = Series { t_s, channels };
    let request = Request {
        marks_s: Some(60.0),
        ..Request::default()
    };
    let summary = analyse(&series, &request);
    (series, summary)
}

/// Converts a file by `LibreOffice`, with a profile of the test's own.
fn converted(folder: &Path, file: &str, to: &str) -> Vec<u8> {
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
fn parts(bytes: &[u8]) -> BTreeMap<String, String> {
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
fn cells(bytes: &[u8]) -> BTreeMap<(String, u32, u32), Data> {
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
fn computed_alike(bytes: &[u8], least_formulas: usize) {
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

fn run_of(series: &Series, summary: &Summary) -> Vec<u8> {
    lesson(&Lesson {
        title: "bench 1",
        summary,
        series,
    })
    .unwrap()
}

#[test]
fn formulas_give_what_is_stored_beside_them() {
    let (mut series, _) = tray(["slate", "moss"], 1.0);
    // Marks without a value must not become zeros.
    for degc in &mut series.channels[1].degc[330..450] {
        *degc = f64::NAN;
    }
    let request = Request {
        marks_s: Some(60.0),
        ..Request::default()
    };
    let summary = analyse(&series, &request);
    computed_alike(&run_of(&series, &summary), 60);
}

#[test]
fn rises_and_ratios_are_those_of_the_summary() {
    let (series, summary) = tray(["slate", "moss"], 1.0);
    let all = cells(&run_of(&series, &summary));
    let find = |text: &str| {
        let found = all
            .iter()
            .find(|((sheet, ..), value)| sheet == "Results" && **value == *text);
        found.unwrap_or_else(|| panic!("{text}")).0.1
    };
    let number = |row: u32, column: u32| match all[&("Results".to_owned(), row, column)] {
        Data::Float(number) => number,
        ref other => panic!("{other:?}"),
    };
    let comparison = summary.comparison.as_ref().unwrap();
    for (text, column, expected) in [
        (
            "rise = peak − start / °C",
            1,
            summary.samples[0].values.rise_degc.unwrap(),
        ),
        (
            "rise = peak − start / °C",
            3,
            summary.samples[1].values.rise_degc.unwrap(),
        ),
        (
            "fall = peak − end / °C",
            1,
            summary.samples[0].values.fall_degc.unwrap(),
        ),
        (
            "largest rise over smallest",
            1,
            comparison.rise_ratio.unwrap(),
        ),
        (
            "their first heating rates",
            1,
            comparison.initial_rate_ratio.unwrap(),
        ),
    ] {
        // The summary's numbers are rounded to five decimals each.
        let found = number(find(text), column);
        assert!(
            (found - expected).abs() < 3e-5,
            "{text}: {found} {expected}"
        );
    }
}

#[test]
fn the_chart_survives_and_can_be_printed() {
    let (series, summary) = tray(["slate", "moss"], 1.0);
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("lesson.xlsx"), run_of(&series, &summary)).unwrap();
    let saved = parts(&converted(
        folder.path(),
        "lesson.xlsx",
        "xlsx:Calc MS Excel 2007 XML",
    ));
    let chart = saved
        .iter()
        .find(|(name, _)| name.contains("charts/chart"))
        .expect("a chart")
        .1;
    // Two samples and the two edges of the lamp.
    assert_eq!(chart.matches("<c:ser>").count(), 4, "{chart}");
    for place in [
        "Rows!$C$2:$C$1321",
        "Rows!$D$2:$D$1321",
        "Rows!$B$2:$B$1321",
    ] {
        assert!(chart.replace("$Rows.", "Rows!").contains(place), "{place}");
    }
    let pdf = converted(folder.path(), "lesson.xlsx", "pdf");
    std::fs::write(folder.path().join("lesson.pdf"), pdf).unwrap();
    let text = Command::new("pdftotext")
        .arg(folder.path().join("lesson.pdf"))
        .arg("-")
        .output()
        .unwrap();
    let text = String::from_utf8(text.stdout).unwrap();
    for part in [
        "Temperature / °C",
        "Time / min",
        "lamp off",
        "mean of heating",
    ] {
        assert!(text.contains(part), "{part}");
    }
    for fault in ["Err:", "#NAME?", "#REF!", "#DIV/0!", "#VALUE!"] {
        assert!(!text.contains(fault), "{fault}");
    }
}

#[test]
fn hostile_names_stay_text_through_another_program() {
    let names = ["=cmd|'/c calc'!A1", "@SUM(1;1) 🌿 <script>"];
    let (series, summary) = tray(names, 1.0);
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("l.xlsx"), run_of(&series, &summary)).unwrap();
    let saved = converted(folder.path(), "l.xlsx", "xlsx:Calc MS Excel 2007 XML");
    let texts: Vec<String> = cells(&saved).values().map(ToString::to_string).collect();
    for name in names {
        assert!(texts.iter().any(|t| t == name), "{name}");
    }
    for (name, text) in parts(&saved) {
        for formula in text
            .split("<f")
            .skip(1)
            .filter_map(|f| f.split("</f>").next())
        {
            assert!(
                !formula.contains("cmd") && !formula.contains("SUM(1"),
                "{name}: {formula}"
            );
        }
    }
}

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
    let report = ClassReport {
        title: "Class 7b",
        language: Language::English,
        class: &class,
        benches: &benches,
    };
    let bytes = report.workbook().unwrap();
    assert_eq!(bytes, report.workbook().unwrap());
    computed_alike(&bytes, 6 + 4 * 12);
}

/// Nine rows, three minutes apart, as a person writes them: 12 min lamp on and 12 min off (common
/// practice, no source). Slate and moss under a work lamp; the numbers are invented.
const HAND: &str = "Bench 3\nTime (min);Slate (°C);Moss (°C)\n0;22,8;21,9\n3;28,3;24,4\n6;31,6;25,8\n\
                    9;33,6;26,6\n12;34,9;27,1\n15;30,3;24,7\n18;27,5;23,4\n21;25,8;22,7\n24;24,8;22,3\n";

#[test]
fn what_libreoffice_saves_is_read_as_the_text_it_came_from() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    put("hand.csv", HAND);
    // The same with a clock beside it, past noon, as dates, and as durations beyond a day's hours.
    let clock = |head: &str, time: fn(u32) -> String| {
        let minutes = std::cell::Cell::new(0);
        let lines = HAND.lines().skip(2).map(|line| {
            let minute = minutes.replace(minutes.get() + 3);
            format!("{};{}\n", time(minute), line.split_once(';').unwrap().1)
        });
        format!("{head};Slate (°C);Moss (°C)\n{}", lines.collect::<String>())
    };
    put(
        "clock.csv",
        &clock("time", |m| {
            format!("{:02}:{:02}:00", 12 + (50 + m) / 60, (50 + m) % 60)
        }),
    );
    put(
        "stamp.csv",
        &clock("time", |m| format!("2026-03-14 10:{m:02}:00")),
    );
    put("typed.csv", &clock("time", |m| format!("{m}:00")));
    let json = |file: &str| -> serde_json::Value {
        let said = run(folder.path(), &["analyse", "--json", "--marks", "3m", file]);
        serde_json::from_str(&said.done().out).unwrap()
    };
    for name in ["hand", "clock", "stamp", "typed"] {
        let text = json(&format!("{name}.csv"));
        for kind in ["xlsx", "ods"] {
            // 59: semicolons, 34: quotation marks, 76: UTF-8; 1031: numbers as in German, 3: cells
            // that look like numbers or times become such.
            let profile = format!(
                "-env:UserInstallation=file://{}/profile",
                folder.path().display()
            );
            let said = Command::new("soffice")
                .args([
                    &profile,
                    "--headless",
                    "--norestore",
                    "--infilter=CSV:59,34,76,1,,1031,false,true",
                ])
                .args(["--convert-to", kind, "--outdir"])
                .arg(folder.path())
                .arg(folder.path().join(format!("{name}.csv")))
                .output()
                .unwrap();
            assert!(said.status.success(), "{said:?}");
            let book = json(&format!("{name}.{kind}"));
            assert_eq!(book["samples"], text["samples"], "{name}.{kind}");
            assert_eq!(
                book["marks"].as_array().unwrap().len(),
                text["marks"].as_array().unwrap().len()
            );
        }
    }
}

#[test]
fn a_month_at_one_row_a_second_is_three_sheets_of_rows() {
    let t_s: Vec<f64> = (0..30 * 86_400).map(f64::from).collect();
    let day = |t: f64| (t / 86_400.0 * std::f64::consts::TAU).sin();
    let channel = |name: &str, swing: f64| Channel {
        name: name.to_owned(),
        degc: t_s
            .iter()
            .map(|t| ((18.0 + swing * day(*t)) * 100.0).round() / 100.0)
            .collect(),
        resolution_degc: Some(0.01),
        u_common_degc: None,
    };
    let channels = vec![channel("slate", 9.0), channel("moss", 4.0)];
    let series = Series { t_s, channels };
    let summary = analyse(&Series::default(), &Request::default());
    let begun = std::time::Instant::now();
    let bytes = run_of(&series, &summary);
    println!(
        "{} bytes in {:.1} s",
        bytes.len(),
        begun.elapsed().as_secs_f64()
    );
    if let Ok(status) = std::fs::read_to_string("/proc/self/status") {
        println!(
            "{}",
            status
                .lines()
                .find(|l| l.starts_with("VmHWM"))
                .unwrap_or_default()
        );
    }
    let mut package = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut rows = Vec::new();
    for sheet in 4..=6 {
        let mut file = package
            .by_name(&format!("xl/worksheets/sheet{sheet}.xml"))
            .unwrap();
        let mut text = String::new();
        file.read_to_string(&mut text).unwrap();
        rows.push(text.matches("<row ").count());
        assert!(rows.last() <= Some(&1_048_576));
        assert!(text.ends_with("</worksheet>"));
    }
    assert_eq!(rows.iter().sum::<usize>(), series.t_s.len() + 3);
}
