//! `report`, as a teacher runs it: which files it leaves, what the page says, and that nothing in
//! a name, a table or a broken run gets the better of it.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

#[path = "reports/looks.rs"]
mod looks;
#[path = "reports/odd.rs"]
mod odd;
mod support;
#[path = "reports/whole.rs"]
mod whole;

use std::path::{Path, PathBuf};

use serde_json::Value;
use support::pages::{cells, demo_run, hand_made, section, text_of};
use support::program::{duskmark, run};

const LANGUAGES: [&str; 3] = ["en", "de", "fr"];

/// The page of an input in a language, made in a folder of its own.
fn page(input: &Path, words: &[&str]) -> String {
    let out = tempfile::tempdir().unwrap();
    let folder = out.path().to_str().unwrap();
    let mut all = vec!["report", "--out", folder, input.to_str().unwrap()];
    all.extend(words);
    run(out.path(), &all).done();
    let made = std::fs::read_dir(out.path()).unwrap();
    let html = made
        .map(|e| e.unwrap().path())
        .find(|p| p.extension().is_some_and(|e| e == "html"));
    std::fs::read_to_string(html.unwrap()).unwrap()
}

#[test]
fn a_run_gets_graph_page_and_workbook_in_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let said = run(
        folder.path(),
        &["report", "--json", "--lang", "en", kept.to_str().unwrap()],
    );
    let written: Vec<Value> = said
        .done()
        .out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let names = ["graph.svg", "graph.png", "report.html", "lesson.xlsx"];
    assert_eq!(written.len(), names.len(), "{}", said.out);
    for (object, name) in written.iter().zip(names) {
        let file = PathBuf::from(object["file"].as_str().unwrap());
        assert_eq!(file, kept.join(name));
        let bytes = std::fs::read(&file).unwrap();
        assert_eq!(object["bytes"].as_u64().unwrap(), bytes.len() as u64);
        // PNG and ZIP begin with signatures of their own (W3C PNG, 5.2; PKWARE APPNOTE, 4.3.7).
        match name {
            "graph.png" => assert_eq!(bytes[..8], *b"\x89PNG\r\n\x1a\n"),
            "lesson.xlsx" => assert_eq!(bytes[..4], *b"PK\x03\x04"),
            _ => {}
        }
        std::fs::rename(&file, kept.join(format!("{name}.first"))).unwrap();
    }
    // Again, the same bytes.
    run(
        folder.path(),
        &["report", "--lang", "en", kept.to_str().unwrap()],
    )
    .done();
    for name in names {
        let file = kept.join(name);
        let first = std::fs::read(kept.join(format!("{name}.first")));
        assert!(
            std::fs::read(&file).unwrap() == first.unwrap(),
            "{name} differs"
        );
    }
}

#[test]
fn the_page_and_the_graph_are_the_same_bytes_each_time() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    for lang in LANGUAGES {
        let once = page(&kept, &["--lang", lang]);
        assert!(once == page(&kept, &["--lang", lang]), "{lang}");
        assert!(once.contains(&format!("<html lang=\"{lang}\" dir=\"ltr\">")));
    }
}

#[test]
fn the_table_has_the_values_of_the_marks_with_what_they_are_known_within() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let marks = std::fs::read_to_string(kept.join("marks.csv")).unwrap();
    let text = std::fs::read_to_string(kept.join("summary.json")).unwrap();
    let summary: serde_json::Value = serde_json::from_str(&text).unwrap();
    for (lang, mark, heading) in [
        ("en", '.', "The table"),
        ("de", ',', "Die Tabelle"),
        ("fr", ',', "Le tableau"),
    ] {
        let html = page(&kept, &["--lang", lang]);
        let rows = cells(section(&html, heading));
        let lines: Vec<&str> = marks.lines().skip(1).collect();
        assert_eq!(rows.len(), lines.len() + 1, "{lang}");
        for (at, (row, line)) in rows[1..].iter().zip(lines).enumerate() {
            let file: Vec<&str> = line.split(',').collect();
            let own = |digits: &str| {
                digits
                    .replace('.', &mark.to_string())
                    .replace('-', "\u{2212}")
            };
            assert_eq!(row[0], own(file[0]));
            for (sample, cell) in row[2..].iter().enumerate() {
                let of = |key: &str| summary["marks"][at][key][sample].as_f64().unwrap();
                let told = duskmark::analysis::plus_minus(of("degc"), of("u_degc"));
                assert_eq!(*cell, own(&told).replace(' ', "\u{a0}"), "{lang}: {line}");
            }
        }
    }
}

#[test]
fn the_page_fetches_nothing_and_runs_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let html = page(&demo_run(folder.path()), &["--lang", "en"]);
    assert!(
        html.contains("default-src 'none'; style-src 'sha256-"),
        "{}",
        &html[..600]
    );
    // The one address is the name of SVG's namespace, which nobody fetches.
    let rest = html.replace("http://www.w3.org/2000/svg", "");
    for word in [
        "http:", "https:", "src=", "href=", "url(", "@import", "<script", "<link", " on",
        "style=\"",
    ] {
        let hit = rest.find(word).filter(|_| word != " on");
        assert!(hit.is_none(), "{word} at {}", &rest[hit.unwrap()..][..80]);
    }
}

#[test]
fn the_words_tell_what_the_numbers_say() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let summary: Value =
        serde_json::from_str(&std::fs::read_to_string(kept.join("summary.json")).unwrap()).unwrap();
    let rise = summary["samples"][0]["rise_degc"].as_f64().unwrap();
    let english = text_of(&page(&kept, &["--lang", "en", "--prediction", "moss"]));
    let told = format!("Under the lamp slate warmed by {rise:.1}\u{a0}°C.");
    for part in [
        told.as_str(),
        "slate warmed most: 2.0 times as much as moss.",
        "The class predicted that moss would warm most. That was not so",
        "wait until every sample drifts less than 0.1\u{a0}°C per minute; lamp on for 10\u{a0}min",
        "water 4.18, peat soil saturated 4.01 and dry 0.25",
        "No reading is missing.",
        "residual-current device",
        "6\u{a0}s (standard uncertainty 3\u{a0}s) and 2\u{a0}s (1.5\u{a0}s) are assumed",
    ] {
        assert!(english.contains(part), "{part} is missing in\n{english}");
    }
    let german = text_of(&page(&kept, &["--lang", "de", "--probe-lag", "6.5s"]));
    let told =
        format!("Unter der Lampe wurde „slate“ um {rise:.1}\u{a0}°C wärmer.").replace('.', ",");
    let told = told.replace("wärmer,", "wärmer.");
    for part in [
        told.as_str(),
        "Wasser 4,18",
        "Temperatur / °C",
        "Fühler 6,5\u{a0}s",
    ] {
        assert!(german.contains(part), "{part} is missing in\n{german}");
    }
    let french = text_of(&page(&kept, &["--lang", "fr"]));
    for part in [
        "Température / °C",
        "eau 4,18",
        "s’est réchauffé le plus\u{a0}: 2,0 fois autant",
    ] {
        assert!(french.contains(part), "{part} is missing in\n{french}");
    }
}

#[test]
fn the_language_is_that_of_the_system_unless_one_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let lang = |environment: &[(&str, &str)], words: &[&str]| {
        let mut all = vec!["report", "-q", kept.to_str().unwrap()];
        all.extend(words);
        let mut command = duskmark(folder.path(), &all);
        for name in ["LC_ALL", "LC_MESSAGES", "LANG"] {
            command.env_remove(name);
        }
        assert!(
            command
                .envs(environment.iter().copied())
                .status()
                .unwrap()
                .success()
        );
        let html = std::fs::read_to_string(kept.join("report.html")).unwrap();
        html.split("<html lang=\"").nth(1).unwrap()[..2].to_owned()
    };
    assert_eq!(lang(&[("LANG", "de_CH.UTF-8")], &[]), "de");
    assert_eq!(
        lang(&[("LANG", "de_CH.UTF-8"), ("LC_ALL", "fr_FR.UTF-8")], &[]),
        "fr"
    );
    assert_eq!(lang(&[("LANG", "de_CH.UTF-8")], &["--lang", "en"]), "en");
    assert_eq!(lang(&[("LANG", "C.UTF-8")], &[]), "en");
    assert_eq!(lang(&[], &[]), "en");
    let said = run(
        folder.path(),
        &["report", "--lang", "tlh", kept.to_str().unwrap()],
    );
    said.failed_with(2, &["no pages in 'tlh'; there are en, de, fr"]);
}

#[test]
fn what_is_said_of_the_set_up_is_told_kept_and_left_by_a_rebuild() {
    let folder = tempfile::tempdir().unwrap();
    let kept = demo_run(folder.path());
    let input = kept.to_str().unwrap();
    let said = [
        "--sample-mass",
        "250g,180g",
        "--sample-volume",
        "0.2L",
        "--lamp-distance",
        "30 cm",
    ];
    let html = page(&kept, &[&said[..], &["--lang", "de"]].concat());
    let told = "slate (250\u{a0}g, 0,2\u{a0}L) · moss (180\u{a0}g, 0,2\u{a0}L)";
    assert!(html.contains(told) && html.contains("30\u{a0}cm"));
    let settings = || std::fs::read_to_string(kept.join("run.toml")).unwrap();
    let before = settings();
    assert!(
        before.contains("sample_mass = [\"250 g\", \"180 g\"]"),
        "{before}"
    );
    run(folder.path(), &["rebuild", "-q", input]).done();
    assert_eq!(settings(), before);
    assert!(page(&kept, &["--lang", "de"]).contains(told));
    let other = page(&kept, &["--lang", "de", "--sample-mass", "300g"]);
    assert!(other.contains("slate (300\u{a0}g, 0,2\u{a0}L)"));
    let wrong = run(
        folder.path(),
        &["report", "--sample-mass", "1g,2g,3g", input],
    );
    wrong.failed_with(2, &["3 quantities for 2 samples"]);
    run(folder.path(), &["report", "--sample-mass", "heavy", input]).failed_with(2, &["no mass"]);
}

#[test]
fn a_table_has_its_pages_beside_it_under_its_own_name() {
    let folder = tempfile::tempdir().unwrap();
    let file = hand_made(folder.path(), &["slate", "moss"]);
    run(folder.path(), &["report", "-q", file.to_str().unwrap()]).done();
    for name in [
        "table.graph.svg",
        "table.graph.png",
        "table.report.html",
        "table.lesson.xlsx",
    ] {
        assert!(folder.path().join(name).exists(), "{name}");
    }
    // Several runs below one folder keep apart.
    let (out, one, other) = (
        folder.path().join("out"),
        folder.path().join("1"),
        folder.path().join("2"),
    );
    let runs = [one, other].map(|folder| {
        std::fs::create_dir(&folder).unwrap();
        demo_run(&folder)
    });
    std::fs::rename(&runs[1], runs[1].with_file_name("other")).unwrap();
    let other = runs[1].with_file_name("other");
    let words = [
        "report",
        "-q",
        "--out",
        out.to_str().unwrap(),
        runs[0].to_str().unwrap(),
        other.to_str().unwrap(),
    ];
    run(folder.path(), &words).done();
    let made: Vec<PathBuf> = std::fs::read_dir(&out)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    assert_eq!(made.len(), 2);
    assert!(
        made.iter()
            .all(|folder| folder.join("report.html").exists()),
        "{made:?}"
    );
}
