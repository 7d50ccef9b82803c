//! Runs of every odd kind through report, class and sheet: what is named to do harm, what lacks the lamp or
//! a probe, what was planned otherwise, and one that cannot be read among thirty.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::path::{Path, PathBuf};

use calamine::{Data, Reader as _, Xlsx, open_workbook};
use serde_json::Value;
use support::bench::{Port, native, sample};
use support::pages::text_of;
use support::program::{Running, duskmark, only_run, run};

/// A short lesson on the virtual bench, as quick as it can be: its folder.
fn lesson(folder: &Path, words: &[&str]) -> PathBuf {
    lesson_on(folder, "virtual:speed=inf", words)
}

fn lesson_on(folder: &Path, board: &str, words: &[&str]) -> PathBuf {
    let usual = ["log", "-q", "--board", board, "--marks", "30s"];
    run(folder, &[&usual, words].concat()).done();
    only_run(folder)
}

/// A lesson of slate and moss on a bench of its own.
fn bench(folder: &Path, seed: usize, words: &[&str]) -> PathBuf {
    let board = format!("virtual:speed=inf,seed={seed}");
    lesson_on(
        folder,
        &board,
        &[&PLAN[..], &["--samples", "slate,moss"], words].concat(),
    )
}

const PLAN: [&str; 6] = ["--heat", "2m", "--cool", "2m", "--settle", "off"];

/// A lesson whose samples have these names.
fn named(folder: &Path, names: &str) -> PathBuf {
    lesson(folder, &[&PLAN[..], &["--samples", names]].concat())
}

/// All cells of a workbook that hold text, and all formulas.
fn texts_and_formulas(book: &Path) -> (Vec<String>, Vec<String>) {
    let mut book: Xlsx<_> = open_workbook(book).unwrap();
    let (mut texts, mut formulas) = (Vec::new(), Vec::new());
    for sheet in book.sheet_names() {
        let cells = book.worksheet_range(&sheet).unwrap();
        texts.extend(cells.used_cells().filter_map(|(_, _, cell)| match cell {
            Data::String(text) => Some(text.clone()),
            _ => None,
        }));
        let used = book.worksheet_formula(&sheet).unwrap();
        formulas.extend(used.used_cells().map(|(_, _, text)| text.clone()));
    }
    (texts, formulas)
}

#[test]
fn names_stay_text_on_every_page_and_in_every_workbook() {
    let long = "n".repeat(200);
    for pair in [
        ["<script>alert(1)</script>", "=cmd|'/c calc'!A1"],
        ["@SUM(1)", "+1-2"],
        ["he said \"hot\" & 'wet'", "a\\b/c"],
        ["🪨", "🌿 moss"],
        ["أردواز", "טחב רטוב"],
        [&long, "moss"],
    ] {
        let folder = tempfile::tempdir().unwrap();
        let kept = named(folder.path(), &pair.join(","));
        let words = kept.to_str().unwrap();
        run(folder.path(), &["report", "-q", "--lang", "en", words]).done();
        run(folder.path(), &["sheet", "-q", "--lang", "en", words]).done();
        run(
            folder.path(),
            &["class", "-q", "--lang", "en", "--out", "all", words],
        )
        .done();
        let all = folder.path().join("all");
        for page in [
            kept.join("report.html"),
            kept.join("sheet.html"),
            all.join("class.html"),
        ] {
            let html = std::fs::read_to_string(&page).unwrap();
            assert!(!html.contains("<script"), "{}", page.display());
            let text = text_of(&html).replace('\u{200b}', "");
            for name in pair {
                assert!(text.contains(name), "{name} in {}", page.display());
            }
        }
        for book in [kept.join("lesson.xlsx"), all.join("class.xlsx")] {
            let (texts, formulas) = texts_and_formulas(&book);
            for name in pair {
                let there = texts.iter().any(|text| text.contains(name));
                assert!(there, "{name} in {}: {texts:?}", book.display());
            }
            assert!(!formulas.is_empty());
            for formula in formulas {
                let harm = ["cmd", "SUM(1)", "+1-2"];
                assert!(!harm.iter().any(|h| formula.contains(h)), "{formula}");
            }
        }
    }
}

#[test]
fn names_that_are_the_same_or_empty_are_told_apart_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    let words = [&["log", "--board", "virtual:speed=inf"], &PLAN[..]].concat();
    for (names, why) in [("moss,moss", "moss"), ("moss,", "sample")] {
        let said = run(folder.path(), &[&words[..], &["--samples", names]].concat());
        said.failed_with(2, &[why]);
    }
    // By another case they are two on one bench.
    let kept = named(folder.path(), "moss,MOSS");
    let said = run(
        folder.path(),
        &["class", "--json", "--out", "all", kept.to_str().unwrap()],
    );
    let class: Value = serde_json::from_str(&said.done().out).unwrap();
    assert_eq!(class["samples"].as_array().unwrap().len(), 2, "{class}");
}

/// A run of a board with one probe, ended after four seconds, before anything was to be seen of the lamp.
fn one_probe(folder: &Path) -> PathBuf {
    let mut port = Port::open();
    let words = [
        "log",
        "--board",
        port.name(),
        "--samples",
        "slate",
        "--name",
        "alone",
    ];
    let plan = ["--heat", "2m", "--settle", "off", "--view", "plain"];
    let mut log = Running::start(duskmark(folder, &[&words[..], &plan].concat()));
    port.say(&native(
        "!duskmark 1 id=test-1 channels=1 unit=degc period_ms=100",
    ));
    let degc = |k: u32| format!("{:.2}", 21.0 + f64::from(k) / 10.0);
    let lines: Vec<String> = (0..40).map(|k| sample(k, &degc(k))).collect();
    let kept = log.wait_for_run(folder);
    port.play(&lines);
    log.signal("INT");
    log.wait_for_end();
    kept
}

#[test]
fn a_class_of_all_kinds_of_runs_tells_each_of_them() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| {
        let own = folder.path().join(name);
        std::fs::create_dir(&own).unwrap();
        own
    };
    let mut inputs = vec![
        bench(&at("a"), 1, &[]),
        bench(&at("b"), 2, &[]),
        bench(&at("c"), 3, &[]),
    ];
    let name = |name: &'static str| ["--samples", "slate,moss", "--name", name];
    let longer = ["--heat", "4m", "--cool", "2m", "--settle", "off"];
    let longer = [&longer[..], &name("longer")].concat();
    inputs.push(lesson(&at("d"), &longer));
    // No lamp at all, and one probe.
    inputs.push(lesson(
        &at("e"),
        &[&["--for", "4m"][..], &name("dark")].concat(),
    ));
    inputs.push(one_probe(&at("f")));
    let words: Vec<&str> = inputs.iter().map(|input| input.to_str().unwrap()).collect();
    let said = run(
        folder.path(),
        &[&["class", "--json", "--out", "all"], &words[..]].concat(),
    );
    let class: Value = serde_json::from_str(&said.done().out).unwrap();
    assert_eq!(class["benches"].as_array().unwrap().len(), 6);
    let warnings = class["warnings"].to_string();
    for part in [
        "longer: heated for",
        "dark: its lamp was not seen",
        "alone: one sample only",
    ] {
        assert!(warnings.contains(part), "{part} in {warnings}");
    }
    // Each has its own report and key, too.
    for (input, words) in inputs.iter().zip(&words).skip(3) {
        run(folder.path(), &["report", "-q", "--lang", "en", words]).done();
        let key = run(folder.path(), &["sheet", "-q", "--lang", "en", words]);
        if words.ends_with("dark") {
            // Without a lamp there is no lesson to ask about.
            key.failed_with(1, &["the lamp was not seen", "--heat"]);
        } else {
            key.done();
        }
        let text = text_of(&std::fs::read_to_string(input.join("report.html")).unwrap());
        assert!(!text.contains("NaN") && !text.contains("inf "), "{text}");
    }
}

#[test]
fn one_run_among_thirty_that_cannot_be_read_costs_itself_only() {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    std::fs::create_dir(&runs).unwrap();
    for seed in 1..=30 {
        let own = folder.path().join(seed.to_string());
        std::fs::create_dir(&own).unwrap();
        let made = bench(&own, seed, &[]);
        std::fs::rename(made, runs.join(format!("bench-{seed:02}"))).unwrap();
    }
    let broken = runs.join("bench-17");
    for file in ["journal.dmj", "readings.csv", "summary.json", "run.toml"] {
        std::fs::write(broken.join(file), b"\x00\xff\x00").unwrap();
    }
    let inputs: Vec<String> = std::fs::read_dir(&runs)
        .unwrap()
        .map(|entry| entry.unwrap().path().to_str().unwrap().to_owned())
        .collect();
    assert_eq!(inputs.len(), 30);
    let mut words = vec!["class", "--json", "--lang", "en", "--out", "all"];
    words.extend(inputs.iter().map(String::as_str));
    let said = run(folder.path(), &words);
    said.failed_with(4, &["bench-17"]);
    let class: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(class["benches"].as_array().unwrap().len(), 29);
    let html = std::fs::read_to_string(folder.path().join("all/class.html")).unwrap();
    assert!(
        html.contains("bench-17"),
        "the page tells what was left out"
    );
}

/// The marks of a run are one table, whoever shows it: `marks.csv` is checked against the report and the
/// key in `reports` and `sheets`, against the live page in `page`, and against the workbook here.
#[test]
fn the_workbook_s_marks_are_those_of_the_file_to_the_digit() {
    let folder = tempfile::tempdir().unwrap();
    let kept = support::pages::demo_run(folder.path());
    run(folder.path(), &["report", "-q", kept.to_str().unwrap()]).done();
    let mut book: Xlsx<_> = open_workbook(kept.join("lesson.xlsx")).unwrap();
    let cells = book.worksheet_range("Marks").unwrap();
    let marks = std::fs::read_to_string(kept.join("marks.csv")).unwrap();
    let lines: Vec<Vec<&str>> = marks
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect())
        .collect();
    assert!(lines.len() > 20);
    // Title, an empty row, headings.
    for (row, line) in (3..).zip(&lines) {
        for (column, digits) in line.iter().enumerate().filter(|(column, _)| *column != 1) {
            let cell = cells.get_value((row, column as u32)).unwrap();
            assert_eq!(*cell, Data::Float(digits.parse().unwrap()), "{line:?}");
        }
    }
    assert_eq!(decimals_shown(&kept.join("lesson.xlsx"), lines[2][2]), 4);
}

/// Decimals of the number format of the cell that holds a number, from the package itself.
fn decimals_shown(book: &Path, digits: &str) -> usize {
    let mut package = zip::ZipArchive::new(std::fs::File::open(book).unwrap()).unwrap();
    let mut part = |name: &str| {
        let mut text = String::new();
        let mut part = package.by_name(name).unwrap();
        std::io::Read::read_to_string(&mut part, &mut text).unwrap();
        text
    };
    let sheet = part("xl/worksheets/sheet2.xml");
    let styles = part("xl/styles.xml");
    let value = digits.trim_end_matches('0');
    let cell = sheet
        .split("<c ")
        .find(|cell| cell.contains(&format!("<v>{value}</v>")))
        .unwrap_or_else(|| panic!("no {value}"));
    let style: usize = cell
        .split("s=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    let formats = styles.split("<cellXfs").nth(1).unwrap();
    let own = formats.split("<xf ").nth(style + 1).unwrap();
    let id = own
        .split("numFmtId=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let code = styles
        .split("<numFmt ")
        .find(|f| f.starts_with(&format!("numFmtId=\"{id}\"")))
        .unwrap();
    let code = code
        .split("formatCode=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    code.split('.').nth(1).map_or(0, str::len)
}
