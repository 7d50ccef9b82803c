//! `class`: many benches, of boards and of hands, good and bad, in one table.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

#[path = "class/kept.rs"]
mod kept;
#[path = "class/odd.rs"]
mod odd;
mod support;

use std::fmt::Write as _;
use std::path::Path;

use serde_json::Value;
use support::program::{Said, run};

/// One bench with roof slate and wet moss under a work lamp (invented data).
#[derive(Clone, Copy)]
struct Tray {
    slate: f64,
    moss: f64,
    heat_s: f64,
    cool_s: f64,
    moss_tau_s: f64,
    start: f64,
    step_s: f64,
    seed: u64,
}

const TRAY: Tray = Tray {
    slate: 14.0,
    moss: 7.0,
    heat_s: 600.0,
    cool_s: 600.0,
    moss_tau_s: 300.0,
    start: 21.0,
    step_s: 5.0,
    seed: 1,
};

impl Tray {
    /// A temperature at a time; the lamp goes on after two minutes.
    fn degc(&self, rise: f64, tau_s: f64, t_s: f64) -> f64 {
        let since = t_s - 120.0;
        let heated = |t: f64| rise * (1.0 - (-t / tau_s).exp());
        self.start
            + match since {
                s if s <= 0.0 => 0.0,
                s if s <= self.heat_s => heated(s),
                s => heated(self.heat_s) * (-(s - self.heat_s) / tau_s).exp(),
            }
    }

    fn csv(&self, names: [&str; 2]) -> String {
        let quoted = names.map(|n| format!("\"{}\"", n.replace('"', "\"\"")));
        let mut out = format!("time_s,{},{}\n", quoted[0], quoted[1]);
        let rows = ((120.0 + self.heat_s + self.cool_s) / self.step_s) as u64;
        for row in 0..=rows {
            let t_s = row as f64 * self.step_s;
            // The same small noise every time: a multiplicative hash of row and seed.
            let noise = |k: u64| {
                let mixed =
                    (row * 2 + k + 1 + self.seed * 7919).wrapping_mul(0x9e37_79b9_7f4a_7c15);
                0.04 * ((mixed >> 40) as f64 / f64::from(1 << 24) - 0.5)
            };
            let slate = self.degc(self.slate, 300.0, t_s) + noise(0);
            let moss = self.degc(self.moss, self.moss_tau_s, t_s) + noise(1);
            writeln!(out, "{t_s},{slate:.3},{moss:.3}").unwrap();
        }
        out
    }

    fn put(&self, folder: &Path, name: &str) {
        std::fs::write(folder.join(name), self.csv(["slate", "moss"])).unwrap();
    }
}

/// Names of files `bench-01.csv` and so on.
fn files(n: usize) -> Vec<String> {
    (1..=n).map(|i| format!("bench-{i:02}.csv")).collect()
}

/// Benches that differ by a few per cent, as benches do: factors of both samples and of moss alone.
fn ordinary(i: usize) -> Tray {
    let both = 1.0 + 0.01 * ((i * 5 % 7) as f64 - 3.0);
    let moss = 1.0 + 0.01 * ((i * 3 % 5) as f64 - 2.0);
    Tray {
        slate: 14.0 * both,
        moss: 7.0 * both * moss,
        seed: i as u64,
        ..TRAY
    }
}

fn class(folder: &Path, inputs: &[String]) -> Said {
    let mut words = vec!["class", "--json", "--out", "all"];
    words.extend(inputs.iter().map(String::as_str));
    run(folder, &words)
}

fn json(said: &Said) -> Value {
    serde_json::from_str(&said.out).unwrap()
}

fn texts(list: &Value) -> Vec<String> {
    let list = list.as_array().unwrap();
    list.iter()
        .map(|w| w.as_str().unwrap().to_owned())
        .collect()
}

fn quantity<'a>(class: &'a Value, sample: &str, name: &str) -> &'a Value {
    let samples = class["samples"].as_array().unwrap();
    let sample = samples.iter().find(|s| s["name"] == sample).unwrap();
    let all = sample["quantities"].as_array().unwrap();
    all.iter().find(|q| q["quantity"] == name).unwrap()
}

#[test]
fn a_class_is_one_table_one_picture_and_one_workbook() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(9).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    // One bench was timed by hand, in minutes.
    let mut hand = String::from("minutes;Slate;MOSS\n");
    for minute in 0..=22 {
        let t_s = f64::from(minute) * 60.0;
        let (slate, moss) = (TRAY.degc(14.0, 300.0, t_s), TRAY.degc(7.0, 300.0, t_s));
        writeln!(
            hand,
            "{minute};{}",
            format!("{slate:.1};{moss:.1}").replace('.', ",")
        )
        .unwrap();
    }
    std::fs::write(folder.path().join("hand.csv"), hand).unwrap();
    let mut inputs = files(9);
    inputs.push("hand.csv".into());
    let said = class(folder.path(), &inputs);
    let class = json(said.done());
    assert_eq!(class["format"], "duskmark-class-1");
    assert_eq!(class["benches"].as_array().unwrap().len(), 10);
    assert_eq!(
        class["samples"].as_array().unwrap().len(),
        2,
        "Slate is slate: {class}"
    );
    let ratio = &class["ratios"][0];
    assert_eq!(
        (ratio["upper"].as_str(), ratio["lower"].as_str()),
        (Some("slate"), Some("moss"))
    );
    let pooled = &ratio["ratio"]["pooled"];
    assert_eq!(pooled["n"], 10);
    let number = |key: &str| pooled[key].as_f64().unwrap();
    // Known by construction: 2, and 1.4 % between the benches' moss.
    assert!((number("value") - 2.0).abs() < 0.03, "{pooled}");
    assert!((0.01..0.05).contains(&number("between_sd")), "{pooled}");
    assert!(number("low") < 2.0 && 2.0 < number("high"), "{pooled}");
    let read = |name: &str| std::fs::read(folder.path().join("all").join(name)).unwrap();
    let html = String::from_utf8(read("class.html")).unwrap();
    assert!(html.contains("<svg") && html.contains("bench-09"), "{html}");
    assert_eq!(
        serde_json::from_slice::<Value>(&read("class.json")).unwrap(),
        class
    );
    assert!(read("class.xlsx").starts_with(b"PK"));
    assert!(read("class.svg").starts_with(b"<svg"));
}

#[test]
fn benches_that_stand_apart_are_pointed_out_with_careful_words() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(9).iter().enumerate() {
        let usual = ordinary(i);
        let tray = match i {
            // A nearer lamp: everything more. Wetter moss: moss alone less. A probe on glass: moss
            // alone at another pace. A warm start.
            2 => Tray {
                slate: 18.5,
                moss: 9.25,
                ..usual
            },
            4 => Tray { moss: 4.5, ..usual },
            6 => Tray {
                moss_tau_s: 150.0,
                moss: 6.1,
                ..usual
            },
            7 => Tray {
                start: 25.0,
                ..usual
            },
            _ => usual,
        };
        tray.put(folder.path(), name);
    }
    let class = json(class(folder.path(), &files(9)).done());
    let outlying = class["outlying"].as_array().unwrap();
    let causes = |bench: &str| -> Vec<&str> {
        let own = outlying.iter().filter(|o| o["bench"] == bench);
        own.map(|o| o["cause"].as_str().unwrap()).collect()
    };
    assert_eq!(causes("bench-03"), ["lamp-nearer"], "{outlying:?}");
    assert_eq!(causes("bench-05"), ["wetter"], "{outlying:?}");
    assert_eq!(causes("bench-07"), ["probe-place"], "{outlying:?}");
    assert_eq!(causes("bench-08"), ["start", "start"], "{outlying:?}");
    assert_eq!(outlying.len(), 5, "{outlying:?}");
    for found in outlying {
        let words = found["words"].as_str().unwrap();
        assert!(words.contains("may"), "{words}");
    }
    // The wet bench is not in the pooled ratio, and what it would be with it is there as well.
    let ratio = &class["ratios"][0]["ratio"];
    assert_eq!(ratio["pooled"]["n"], 8);
    assert_eq!(ratio["pooled_all"]["n"], 9);
    assert!(
        (ratio["pooled"]["value"].as_f64().unwrap() - 2.0).abs() < 0.06,
        "{ratio}"
    );
    assert!(
        (ratio["median"].as_f64().unwrap() - 2.0).abs() < 0.06,
        "{ratio}"
    );
}

#[test]
fn exchanged_names_are_taken_for_what_they_are() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(8).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    let file = folder.path().join("bench-04.csv");
    let table = std::fs::read_to_string(&file).unwrap();
    let headings = table.lines().next().unwrap();
    let exchanged = headings
        .replace("slate", "?")
        .replace("moss", "slate")
        .replace('?', "moss");
    std::fs::write(&file, table.replacen(headings, &exchanged, 1)).unwrap();
    let class = json(class(folder.path(), &files(8)).done());
    let outlying = class["outlying"].as_array().unwrap();
    assert_eq!(outlying.len(), 1, "{outlying:?}");
    assert_eq!(outlying[0]["bench"], "bench-04");
    assert_eq!(outlying[0]["cause"], "exchanged");
}

#[test]
fn pages_are_in_the_language_that_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(5).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    for (language, word, in_picture, sheet) in [
        ("de", "Tisch für Tisch", "dünn: 5 Tische", "Zusammen"),
        ("fr_CA.UTF-8", "Table par table", "5 tables", "Ensemble"),
        ("en", "Bench by bench", "thin: 5 benches", "Together"),
    ] {
        let mut words = vec!["class", "--lang", language, "--out", "all", "-q"];
        if language == "en" {
            words.extend(["--degrees", "fahrenheit"]);
        }
        let files = files(5);
        words.extend(files.iter().map(String::as_str));
        run(folder.path(), &words).done();
        let html = std::fs::read_to_string(folder.path().join("all/class.html")).unwrap();
        assert!(html.contains(word), "{language}");
        assert!(html.contains("width=\"390\""), "a picture for phones");
        let svg = std::fs::read_to_string(folder.path().join("all/class.svg")).unwrap();
        assert!(svg.contains(in_picture), "{svg}");
        let book = std::fs::File::open(folder.path().join("all/class.xlsx")).unwrap();
        let mut book = zip::ZipArchive::new(book).unwrap();
        let mut names = String::new();
        let mut part = book.by_name("xl/workbook.xml").unwrap();
        std::io::Read::read_to_string(&mut part, &mut names).unwrap();
        assert!(names.contains(&format!("name=\"{sheet}\"")), "{names}");
        // They began at 21 °C, which is 69.8 °F (NIST SP 811, B.8).
        let text = support::pages::text_of(&html);
        assert_eq!(text.contains("Rise / °F"), language == "en");
        assert_eq!(svg.contains("°C"), language != "en");
        let in_table = support::pages::text_of(support::pages::section(&html, word));
        assert_eq!(in_table.contains("69."), language == "en", "{in_table}");
    }
    run(folder.path(), &["class", "--lang", "tlh", "bench-01.csv"])
        .failed_with(2, &["no pages in 'tlh'; there are en, de, fr"]);
}
