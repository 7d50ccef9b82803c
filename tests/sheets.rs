//! `sheet`, blank and filled: the right rows, the run's own digits, and plans that make no sheet.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;

use support::pages::{cells, demo_run, hand_made, section, text_of};
use support::program::run;

#[track_caller]
fn sheet(folder: &Path, words: &[&str]) -> String {
    let out = tempfile::tempdir().unwrap();
    let mut all = vec!["sheet", "-q", "--out", out.path().to_str().unwrap()];
    all.extend(words);
    run(folder, &all).done();
    let file = std::fs::read_dir(out.path())
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    std::fs::read_to_string(file).unwrap()
}

/// The rows of all blocks of the table, without their heads.
fn rows(html: &str, heading: &str) -> Vec<Vec<String>> {
    let all = cells(section(html, heading)).into_iter();
    all.filter(|row| !row[0].contains('/')).collect()
}

#[test]
fn the_blank_table_has_a_row_for_each_mark_from_zero_to_the_end() {
    let folder = tempfile::tempdir().unwrap();
    // Twelve minutes on, twelve off, a row every three: nine rows (common practice, no source).
    for (heat, cool, marks, times) in [
        (
            "12m",
            "12m",
            "3m",
            (0..9).map(|k| (3 * k).to_string()).collect::<Vec<_>>(),
        ),
        ("10m", "10m", "1m", (0..21).map(|k| k.to_string()).collect()),
        (
            "90s",
            "90s",
            "30s",
            (0..7).map(|k| format!("{}", f64::from(k) / 2.0)).collect(),
        ),
    ] {
        let words = [
            "--samples",
            "slate,moss",
            "--heat",
            heat,
            "--cool",
            cool,
            "--marks",
            marks,
        ];
        let html = sheet(folder.path(), &[&words[..], &["--lang", "en"]].concat());
        let rows = rows(&html, "Table");
        let first: Vec<&str> = rows.iter().map(|row| row[0].as_str()).collect();
        assert_eq!(first, times, "{heat} {cool} {marks}");
        assert!(
            rows.iter()
                .all(|row| row.len() == 3 && row[1].is_empty() && row[2].is_empty())
        );
    }
    let german = [
        "--samples",
        "slate",
        "--heat",
        "90s",
        "--marks",
        "30s",
        "--lang",
        "de",
    ];
    let rows = rows(&sheet(folder.path(), &german), "Tabelle");
    assert_eq!(rows[1][0], "0,5");
}

#[test]
fn the_sheet_asks_predicts_and_warns_in_each_language() {
    let folder = tempfile::tempdir().unwrap();
    for (lang, parts) in [
        (
            "en",
            [
                "My prediction",
                "Which sample warmed most?",
                "RCD, GFCI",
                "Lamp on for 10\u{a0}min. Read every minute.",
            ],
        ),
        (
            "de",
            [
                "Meine Vorhersage",
                "Welche Probe erwärmte sich am stärksten?",
                "FI, RCD",
                "Lampe 10\u{a0}min an, dabei jede Minute ablesen.",
            ],
        ),
        (
            "fr",
            [
                "Ma prédiction",
                "Quel échantillon s’est réchauffé le plus\u{a0}?",
                "différentiel",
                "Lampe allumée 10\u{a0}min. Lire toutes les minutes.",
            ],
        ),
    ] {
        let text = text_of(&sheet(
            folder.path(),
            &["--samples", "slate,moss", "--lang", lang],
        ));
        for part in parts {
            assert!(text.contains(part), "{part} is missing in\n{text}");
        }
        assert!(text.contains("3. ") && !text.contains("4. "), "{text}");
    }
}

#[test]
fn the_key_has_the_values_of_marks_csv_in_tenths_and_answers() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let marks = std::fs::read_to_string(kept.join("marks.csv")).unwrap();
    let lines: Vec<Vec<&str>> = marks
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect())
        .filter(|c: &Vec<&str>| !c[0].starts_with('-'))
        .collect();
    for (lang, heading, mark) in [
        ("en", "Table", "."),
        ("de", "Tabelle", ","),
        ("fr", "Tableau", ","),
    ] {
        let html = sheet(folder.path(), &["--lang", lang, kept.to_str().unwrap()]);
        let rows = rows(&html, heading);
        assert_eq!(rows.len(), lines.len());
        for (row, line) in rows.iter().zip(&lines) {
            let tenths = |digits: &str| match digits.parse::<f64>() {
                Ok(degc) => format!("{degc:.1}"),
                Err(_) => digits.to_owned(),
            };
            let own = [line[0].to_owned(), tenths(line[2]), tenths(line[4])];
            let own = own.map(|digits| digits.replace('.', mark));
            assert_eq!(row[..], own, "{lang}");
        }
    }
    let text = text_of(&sheet(
        folder.path(),
        &["--lang", "en", kept.to_str().unwrap()],
    ));
    // As it stands in the table, in tenths.
    let degc = |row: usize, column: usize| {
        let degc: f64 = lines[row][column].parse().unwrap();
        (10.0 * degc).round() / 10.0
    };
    let rise = format!("slate: {:.1}\u{a0}°C", degc(10, 2) - degc(0, 2));
    let fall = format!("moss: {:.1}\u{a0}°C", degc(10, 4) - degc(11, 4));
    for part in [
        rise.as_str(),
        fall.as_str(),
        "slate warmed most.",
        "slate cooled faster.",
        "Answer key",
        "From the table: slate",
        "These readings are invented",
    ] {
        assert!(text.contains(part), "{part} is missing in\n{text}");
    }
    // Without --out it lies in the run's folder, and one line tells of it.
    let said = run(folder.path(), &["sheet", "--json", kept.to_str().unwrap()]);
    let told: serde_json::Value = serde_json::from_str(said.done().out.trim()).unwrap();
    let file = kept.join("sheet.html");
    assert_eq!(told["file"], file.to_str().unwrap());
    assert_eq!(told["bytes"], std::fs::metadata(&file).unwrap().len());
}

#[test]
fn a_table_without_a_plan_is_filled_by_what_the_data_show() {
    let folder = tempfile::tempdir().unwrap();
    let file = hand_made(folder.path(), &["slate", "moss"]);
    let html = sheet(
        folder.path(),
        &["--lang", "en", "--marks", "2m", file.to_str().unwrap()],
    );
    let rows = rows(&html, "Table");
    assert_eq!(rows.len(), 11, "{rows:?}");
    assert!(text_of(&html).contains("Lamp on for 10\u{a0}min"));
    assert!(
        rows.iter().all(|row| row[1].parse::<f64>().is_ok()),
        "{rows:?}"
    );
}

#[test]
fn the_key_takes_the_rows_after_the_lamp_went_off() {
    // It went off ten minutes after it went on, between the rows at 8 and at 12 min.
    let folder = tempfile::tempdir().unwrap();
    let file = hand_made(folder.path(), &["slate", "moss"]);
    let words = ["--lang", "en", "--marks", "4m", file.to_str().unwrap()];
    let html = sheet(folder.path(), &words);
    let rows = rows(&html, "Table");
    let degc = |row: usize, column: usize| rows[row][column].parse::<f64>().unwrap();
    assert_eq!(rows[3][0], "12");
    let fell = |column: usize| degc(3, column) - degc(4, column);
    let rose = degc(3, 1).max(degc(2, 1)) - degc(0, 1);
    let text = text_of(&html);
    for part in [
        format!(
            "slate: {:.1}\u{a0}°C · moss: {:.1}\u{a0}°C",
            fell(1),
            fell(2)
        ),
        "(from 12 to 16\u{a0}min: the first rows after the lamp went off)".to_owned(),
        format!("slate: {rose:.1}\u{a0}°C"),
    ] {
        assert!(text.contains(&part), "{part} is missing in\n{text}");
    }
}

#[test]
fn the_key_of_a_table_by_hand_counts_the_loss_from_its_warmest_row() {
    // Whoever wrote it switched the lamp off with the row at 6 min; its curves bend seven seconds later.
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("hand.csv");
    let written = "time (min),slate,moss\n0,22.8,21.8\n2,28.3,25.2\n4,30.9,26.2\n6,32.7,26.9\n\
                   8,28.5,24.0\n10,26.8,23.4\n12,25.7,23.1\n";
    std::fs::write(&file, written).unwrap();
    let file = file.to_str().unwrap();
    for words in [&["--marks", "2m", file][..], &[file]] {
        let html = sheet(folder.path(), &[&["--lang", "en"], words].concat());
        // Without being told the table has its own rows, and none that nobody wrote.
        let times: Vec<String> = rows(&html, "Table")
            .iter()
            .map(|row| row[0].clone())
            .collect();
        assert_eq!(times, ["0", "2", "4", "6", "8", "10", "12"]);
        let text = text_of(&html);
        for part in [
            "slate: 4.2\u{a0}°C · moss: 2.9\u{a0}°C",
            "Lamp on for 6\u{a0}min",
            "Lamp off for 6\u{a0}min",
        ] {
            assert!(text.contains(part), "{part} is missing in\n{text}");
        }
        assert!(!text.contains("the first rows after"), "{text}");
    }
}

#[test]
fn plans_that_make_no_sheet_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |words: &[&str], code: i32, parts: &[&str]| {
        run(folder.path(), &[&["sheet"], words].concat()).failed_with(code, parts);
    };
    refused(
        &[],
        2,
        &["needs the samples' names", "--samples slate,moss"],
    );
    refused(
        &["--samples", "slate,moss", "--marks", "1s"],
        2,
        &["1201 rows", "at most 200"],
    );
    refused(
        &["--samples", "slate", "--heat", "1m", "--marks", "1h"],
        2,
        &["make no plan"],
    );
    refused(
        &["--samples", "slate", "--heat", "10"],
        2,
        &["is no duration"],
    );
    refused(
        &["--samples", "slate", "runs/x"],
        2,
        &["cannot be used with"],
    );
    refused(&["not-there.csv"], 1, &["not-there.csv"]);
    let calm = folder.path().join("calm.csv");
    let rows: Vec<String> = (0..60).map(|k| format!("{k},21.0\n")).collect();
    let rows = rows.concat();
    std::fs::write(&calm, format!("minute,moss\n{rows}")).unwrap();
    refused(
        &[calm.to_str().unwrap()],
        1,
        &["the lamp was not seen", "--heat"],
    );
    assert!(
        std::fs::read_dir(folder.path()).unwrap().count() == 1,
        "nothing was written"
    );
}

#[test]
fn one_sample_and_eight_have_sheets_and_names_stay_text() {
    let folder = tempfile::tempdir().unwrap();
    let one = text_of(&sheet(
        folder.path(),
        &["--samples", "moss", "--lang", "en"],
    ));
    assert!(
        one.contains("By how many degrees did it warm?") && !one.contains("My prediction"),
        "{one}"
    );
    let eight = "a,b,<script>alert(1)</script>,=cmd,🌿,אזוב,g\"g,h&h";
    for lang in ["en", "de", "fr"] {
        let html = sheet(folder.path(), &["--samples", eight, "--lang", lang]);
        assert!(!html.contains("<script"));
        let text = text_of(&html);
        assert!(
            text.contains("<script>alert(1)</script>") && text.contains("\u{2068}אזוב\u{2069}")
        );
    }
    let long = "n".repeat(200);
    assert!(sheet(folder.path(), &["--samples", &long, "--lang", "en"]).len() < 40_000);
}

#[test]
fn an_interval_that_misses_the_lamp_off_gets_one_that_does_not() {
    let folder = tempfile::tempdir().unwrap();
    for (heat, marks, better) in [
        ("10m", "7m", "5m"),
        ("90s", "1m", "30s"),
        ("7m", "2m", "1m"),
    ] {
        let words = [
            "sheet",
            "--samples",
            "slate,moss",
            "--heat",
            heat,
            "--marks",
            marks,
        ];
        let said = run(folder.path(), &words);
        let part = format!("--marks {better} ");
        let told = said
            .done()
            .err
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert!(told.contains(&part), "{part} in\n{told}");
    }
}
