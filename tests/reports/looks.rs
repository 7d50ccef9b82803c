//! Reports in other degrees, sizes and colours, and beside the plan.

use std::path::Path;

use super::page;
use super::support::csv::Table;
use super::support::pages::{cells, demo_run, section, text_of};
use super::support::program::run;

/// The picture of an input, drawn with these words.
fn picture(input: &Path, words: &[&str]) -> String {
    let mut all = vec!["report", "-q", input.to_str().unwrap()];
    all.extend(words);
    run(input, &all).done();
    std::fs::read_to_string(input.join("graph.svg")).unwrap()
}

#[test]
fn a_page_in_fahrenheit_has_every_temperature_in_it() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let html = page(&kept, &["--lang", "en", "--degrees", "fahrenheit"]);
    assert!(html.contains("Temperature / °F") && !html.contains("°C"));
    // °F = 9/5 °C + 32, exact by definition; differences by 9/5 alone (NIST SP 811, B.8).
    let number = |cell: &str| -> f64 {
        let value = cell.split([' ', '\u{a0}']).next().unwrap();
        value.replace('\u{2212}', "-").parse().unwrap()
    };
    let marks = Table::read(&kept.join("marks.csv"));
    let rows = cells(section(&html, "The table"));
    for (row, file) in rows[1..].iter().zip(&marks.rows) {
        let degc: f64 = file[2].parse().unwrap();
        assert!(
            (number(&row[2]) - (1.8 * degc + 32.0)).abs() < 0.001,
            "{row:?} {file:?}"
        );
    }
    let summary = std::fs::read_to_string(kept.join("summary.json")).unwrap();
    let summary: serde_json::Value = serde_json::from_str(&summary).unwrap();
    let value = |key: &str| summary["samples"][0][key].as_f64().unwrap();
    let numbers = cells(section(&html, "The numbers"));
    for (head, expected) in [
        ("Start / °F", 1.8 * value("start_degc") + 32.0),
        ("Rise / °F", 1.8 * value("rise_degc")),
        (
            "Initial heating rate / (°F/min)",
            1.8 * value("heating_rate_degc_per_min"),
        ),
        ("Time constant of cooling / s", value("time_constant_s")),
    ] {
        let row = numbers.iter().find(|row| row[0] == head);
        let found = number(&row.unwrap_or_else(|| panic!("{head} in {numbers:?}"))[1]);
        assert!(
            (found / expected - 1.0).abs() < 0.01,
            "{head}: {found} {expected}"
        );
    }
    let text = text_of(&html);
    let rise = format!("slate warmed by {:.1}\u{a0}°F", 1.8 * value("rise_degc"));
    for part in [
        rise.as_str(),
        "drifts less than 0.18\u{a0}°F per minute",
        "in degrees Celsius",
    ] {
        assert!(text.contains(part), "{part} is missing in\n{text}");
    }
}

#[test]
fn pictures_come_for_page_wall_and_phone_on_white_and_dark_in_the_language() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let usual = picture(&kept, &["--lang", "de"]);
    for part in [
        "width=\"960\"",
        "Temperatur / °C",
        ">Lampe aus ",
        "Liniendiagramm",
    ] {
        assert!(usual.contains(part), "{part}");
    }
    assert!(!usual.contains("<polygon"), "no band unless asked for");
    let words = [
        "--lang",
        "fr",
        "--picture",
        "projector",
        "--theme",
        "dark",
        "--degrees",
        "fahrenheit",
        "--bands",
    ];
    let wall = picture(&kept, &words);
    for part in ["width=\"1920\"", "Température / °F", "<polygon", "teinté"] {
        assert!(wall.contains(part), "{part}");
    }
    let ground = |svg: &str| {
        let rect = svg.split("<rect").nth(1).unwrap();
        rect.split("fill=\"").nth(1).unwrap()[..7].to_owned()
    };
    assert_eq!(ground(&usual), "#FFFFFF");
    assert_ne!(ground(&wall), "#FFFFFF");
    // The picture in the page is for page and phone whatever the file is for.
    let html = std::fs::read_to_string(kept.join("report.html")).unwrap();
    assert!(html.contains("width=\"960\"") && html.contains("width=\"390\""));
    assert!(picture(&kept, &["--picture", "phone"]).contains("width=\"390\""));
    run(&kept, &["report", "--picture", "poster", "."]).failed_with(2, &["projector"]);
}

#[test]
fn what_was_planned_is_told_beside_what_was_seen() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let html = page(&kept, &["--lang", "en"]);
    let text = text_of(section(&html, "What happened"));
    assert!(text.contains("s after the planned time."), "{text}");
    let rows = cells(section(&html, "The numbers"));
    let head = rows.iter().position(|row| row[0] == "Lamp").unwrap();
    assert_eq!(rows[head][3..], ["Planned / s", "After the plan / s"]);
    let number = |cell: &String| cell.parse::<f64>().unwrap();
    for row in &rows[head + 1..head + 3] {
        let late_s = number(&row[1]) - number(&row[3]);
        assert!((number(&row[4]) - late_s).abs() < 0.11, "{row:?}");
    }
}
