//! Reports of what is hostile, lacking or broken.

use std::path::Path;

use super::support::pages::{cells, demo_run, hand_made, section, text_of};
use super::support::program::run;
use super::{LANGUAGES, page};

#[test]
fn hostile_names_stay_text() {
    let folder = tempfile::tempdir().unwrap();
    // Of a heading the reader of tables takes sixty characters.
    let (heading, long) = ("n".repeat(200), "n".repeat(60));
    let names = [
        "<script>alert(1)</script>",
        "=cmd|' /C calc'!A0",
        "a \"quoted\" & 'single'",
        "🌿 moss \u{202e}txet",
        "אזוב רטוב",
        heading.as_str(),
        "moss",
        "moss",
    ];
    let file = hand_made(folder.path(), &names);
    for lang in LANGUAGES {
        let html = page(&file, &["--lang", lang, "--marks", "2m"]);
        assert!(
            !html.contains("<script") && !html.contains('\u{202e}'),
            "{lang}"
        );
        let text = text_of(&html);
        for name in [
            "<script>alert(1)</script>",
            "=cmd|' /C calc'!A0",
            "a \"quoted\" & 'single'",
            "\u{2068}אזוב רטוב\u{2069}",
            "🌿 moss txet",
            &long,
            "moss (2)",
        ] {
            assert!(text.contains(name), "{name} is missing in {lang}");
        }
    }
}

#[test]
fn of_a_table_that_people_wrote_only_what_is_known_is_said() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/hand-timed.csv");
    for lang in LANGUAGES {
        let html = page(&file, &["--lang", lang]);
        // Its own rows are the table.
        let heading = ["The table", "Die Tabelle", "Le tableau"];
        let rows = heading.iter().find(|h| html.contains(&format!(">{h}<")));
        let rows = cells(section(&html, rows.unwrap()));
        assert_eq!(rows.len(), 12, "{lang}: {rows:?}");
    }
    let text = text_of(&page(&file, &["--lang", "en"]));
    for part in [
        "the table does not say",
        "Whether the probes were calibrated",
    ] {
        assert!(text.contains(part), "{part} is missing in\n{text}");
    }
    for part in [
        "at the same distance",
        "were written down",
        "were not calibrated",
    ] {
        assert!(!text.contains(part), "{part} in\n{text}");
    }
    let fortnight = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/fortnight/readings.csv");
    let text = text_of(&page(&fortnight, &["--lang", "en"]));
    assert!(text.contains("With --marks 6h there is one."), "{text}");
}

#[test]
fn a_record_without_a_lamp_says_so_and_tells_the_rest() {
    let input = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/fortnight/readings.csv");
    let text = text_of(&page(&input, &["--lang", "en", "--marks", "6h"]));
    for part in [
        "The lamp was not seen to go on or off",
        "slate was between",
        "Lowest / °C",
        "No instant at which the lamp went on or off",
    ] {
        assert!(text.contains(part), "{part} is missing in\n{text}");
    }
    assert!(!text.contains("warmed by"), "{text}");
}

#[test]
fn one_channel_and_eight_channels_have_their_pages() {
    let folder = tempfile::tempdir().unwrap();
    let one = hand_made(folder.path(), &["moss"]);
    let text = text_of(&page(&one, &["--lang", "en", "--marks", "2m"]));
    assert!(
        text.contains("A table has the temperature of one sample") && !text.contains("warmed most"),
        "{text}"
    );
    let eight = ["t1", "t2", "t3", "t4", "t5", "t6", "t7", "t8"];
    let html = page(
        &hand_made(folder.path(), &eight),
        &["--lang", "en", "--marks", "2m"],
    );
    let rows = cells(section(&html, "The table"));
    assert!(rows.iter().all(|row| row.len() == 10), "{rows:?}");
}

#[test]
fn a_value_that_is_not_there_is_a_dash_with_its_reason() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("gap.csv");
    // The moss's thermometer was dead; the slate's was not read from minute 5 to 9.
    let value = |minute: f64| 20.0 + if minute < 10.0 { minute } else { 20.0 - minute };
    let row = |k: i32| {
        let minute = f64::from(k) / 4.0;
        let slate = if (5.0..9.0).contains(&minute) {
            String::new()
        } else {
            format!("{:.2}", value(minute))
        };
        format!("{},{slate},\n", 60.0 * minute)
    };
    let rows: String = (0..80).map(row).collect();
    std::fs::write(&file, format!("elapsed_s,slate_degc,moss_degc\n{rows}")).unwrap();
    let html = page(&file, &["--lang", "en", "--marks", "1m"]);
    let table = cells(section(&html, "The table"));
    let dashes: Vec<&Vec<String>> = table.iter().filter(|row| row[2].starts_with('–')).collect();
    assert!(!dashes.is_empty(), "{table:?}");
    let text = text_of(section(&html, "The table"));
    assert!(
        text.contains("Too few readings are near this time."),
        "{text}"
    );
    assert!(text.contains("moss: there is no value at all."), "{text}");
    for row in cells(section(&html, "The numbers")) {
        assert!(
            row.iter()
                .all(|cell| !cell.contains("NaN") && !cell.contains("null")),
            "{row:?}"
        );
    }
}

#[test]
fn a_run_that_was_cut_off_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let journal = kept.join("journal.dmj");
    let bytes = std::fs::read(&journal).unwrap();
    std::fs::write(&journal, &bytes[..bytes.len() * 7 / 10]).unwrap();
    let text = text_of(&page(&kept, &["--lang", "en"]));
    assert!(
        text.contains("The run was cut off before its end"),
        "{text}"
    );
    assert!(!text.contains("No reading is missing."), "{text}");
}

#[test]
fn notes_stay_in_the_report_where_the_journal_is_gone() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    std::fs::remove_file(kept.join("journal.dmj")).unwrap();
    let events = kept.join("events.csv");
    let mut text = std::fs::read_to_string(&events).unwrap();
    text.push_str("61.000,2026-03-14T10:33:06.000Z,note,,\"a fly, on the moss\"\n");
    std::fs::write(&events, text).unwrap();
    let text = text_of(&page(&kept, &["--lang", "en"]));
    assert!(text.contains("a fly, on the moss"), "{text}");
}

#[test]
fn what_cannot_be_read_is_told_and_the_others_come_out() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let broken = folder.path().join("broken.csv");
    std::fs::write(&broken, b"\x00\x01\x02 no table").unwrap();
    let words = [
        "report",
        "-q",
        broken.to_str().unwrap(),
        "not-there.csv",
        kept.to_str().unwrap(),
    ];
    run(folder.path(), &words).failed_with(1, &["broken.csv", "not-there.csv"]);
    assert!(kept.join("report.html").exists());
    run(folder.path(), &["report"]).failed_with(2, &["RUN|FILE"]);
    // A folder that is a file cannot take pages.
    let words = [
        "report",
        "--out",
        broken.to_str().unwrap(),
        kept.to_str().unwrap(),
    ];
    run(folder.path(), &words).failed_with(1, &["cannot be written", "--out"]);
}
