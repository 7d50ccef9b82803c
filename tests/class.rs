//! `class`: many benches, of boards and of hands, good and bad, in one table.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

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
fn one_unreadable_input_among_many_is_left_out_and_said() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(4).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    std::fs::write(folder.path().join("notes.csv"), "no table at all\n").unwrap();
    std::fs::create_dir(folder.path().join("empty-run")).unwrap();
    let mut inputs = files(4);
    inputs.extend(["notes.csv".into(), "empty-run".into(), "missing.csv".into()]);
    let said = class(folder.path(), &inputs);
    said.failed_with(4, &["notes.csv", "empty-run", "missing.csv"]);
    let class = json(&said);
    assert_eq!(class["benches"].as_array().unwrap().len(), 4);
    let warnings = texts(&class["warnings"]).join("\n");
    for name in ["notes.csv", "empty-run", "missing.csv"] {
        assert!(
            warnings.contains(&format!("{name}: left out")),
            "{warnings}"
        );
    }
    let none = run(folder.path(), &["class", "--out", "none", "notes.csv"]);
    none.failed_with(1, &["notes.csv", "none of the inputs"]);
    assert!(!folder.path().join("none").exists());
}

#[test]
fn only_what_did_the_same_is_put_together() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(6).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    Tray {
        heat_s: 300.0,
        ..ordinary(3)
    }
    .put(folder.path(), "short.csv");
    Tray {
        cool_s: 300.0,
        ..ordinary(4)
    }
    .put(folder.path(), "brief.csv");
    // Never under a lamp; and a bench with slate alone.
    let lines: Vec<String> = (0..240)
        .map(|i| format!("{},21.0{},20.0{}", i * 5, i % 3, i % 2))
        .collect();
    let still = lines.join(
        "
",
    );
    std::fs::write(
        folder.path().join("dark.csv"),
        format!("time_s,slate,moss\n{still}"),
    )
    .unwrap();
    let both = ordinary(5).csv(["slate", "x"]);
    let lines: Vec<&str> = both
        .lines()
        .map(|l| l.rsplit_once(',').unwrap().0)
        .collect();
    let alone = lines.join(
        "
",
    );
    std::fs::write(folder.path().join("alone.csv"), alone).unwrap();
    let mut inputs = files(6);
    inputs.extend(["short.csv", "brief.csv", "dark.csv", "alone.csv"].map(str::to_owned));
    let class = json(class(folder.path(), &inputs).done());
    let warnings = texts(&class["warnings"]).join("\n");
    for part in [
        "short: heated for",
        "brief: watched cooling for",
        "dark: the lamp was not seen",
        "alone: one sample only",
        "moss: 9 of 10 benches have it",
    ] {
        assert!(warnings.contains(part), "{part} in\n{warnings}");
    }
    assert_eq!(quantity(&class, "slate", "rise_degc")["n"], 8);
    assert_eq!(quantity(&class, "moss", "rise_degc")["n"], 7);
    assert_eq!(quantity(&class, "slate", "fall_degc")["n"], 7);
    assert_eq!(quantity(&class, "slate", "time_constant_s")["n"], 9);
    assert_eq!(class["ratios"][0]["ratio"]["n"], 7);
}

#[test]
fn too_few_benches_give_nothing_and_the_reason() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(2).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    let class = json(class(folder.path(), &files(2)).done());
    let ratio = &class["ratios"][0]["ratio"];
    assert!(
        ratio["pooled"].is_null() && ratio["robust_sd"].is_null(),
        "{ratio}"
    );
    assert_eq!(ratio["why"], "fewer than three benches have it");
    assert_eq!(ratio["n"], 2);
    assert_eq!(class["outlying"].as_array().unwrap().len(), 0);
    let html = std::fs::read_to_string(folder.path().join("all/class.html")).unwrap();
    assert!(html.contains("fewer than three benches have it"), "{html}");
}

#[test]
fn names_of_any_kind_neither_run_nor_break_anything() {
    let folder = tempfile::tempdir().unwrap();
    let long = "moss ".repeat(40);
    let cases = [
        ["<script>alert(1)</script>", "=cmd|'/c calc'!A1"],
        ["أردواز", "طحلب"],
        ["🪨", "🌿"],
        ["he said \"hot\"", "it's & it isn't"],
        [&long, "moss"],
        ["moss", "moss"],
    ];
    for names in cases {
        for i in 0..3 {
            let name = format!("bench {i} <b>.csv");
            std::fs::write(folder.path().join(name), ordinary(i).csv(names)).unwrap();
        }
        let inputs: Vec<String> = (0..3).map(|i| format!("bench {i} <b>.csv")).collect();
        let class = json(class(folder.path(), &inputs).done());
        assert_eq!(
            class["samples"].as_array().unwrap().len(),
            2,
            "{names:?}: {}",
            class["samples"]
        );
        assert_eq!(class["ratios"][0]["ratio"]["n"], 3, "{names:?}");
        let html = std::fs::read_to_string(folder.path().join("all/class.html")).unwrap();
        assert!(
            !html.contains("<script") && !html.contains("<b>"),
            "{names:?}"
        );
        assert!(!html.contains("onerror"));
        let text = run(
            folder.path(),
            &["class", "--out", "all", &inputs[0], &inputs[1], &inputs[2]],
        );
        assert!(text.done().out.contains("Ratio of the rises"), "{text:?}");
    }
}

#[test]
fn benches_of_one_name_are_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    for i in 0..3 {
        let inner = folder.path().join(format!("group-{i}"));
        std::fs::create_dir(&inner).unwrap();
        ordinary(i).put(&inner, "table.csv");
    }
    let inputs: Vec<String> = (0..3).map(|i| format!("group-{i}/table.csv")).collect();
    let class = json(class(folder.path(), &inputs).done());
    let names: Vec<&str> = class["benches"]
        .as_array()
        .unwrap()
        .iter()
        .map(|b| b["name"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["table", "table (2)", "table (3)"]);
}

#[test]
fn pages_are_in_the_language_that_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(5).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    for (language, word) in [
        ("de", "Tisch für Tisch"),
        ("fr_CA.UTF-8", "Table par table"),
        ("en", "Bench by bench"),
    ] {
        let mut words = vec!["class", "--lang", language, "--out", "all", "-q"];
        let files = files(5);
        words.extend(files.iter().map(String::as_str));
        run(folder.path(), &words).done();
        let html = std::fs::read_to_string(folder.path().join("all/class.html")).unwrap();
        assert!(html.contains(word), "{language}");
    }
    run(folder.path(), &["class", "--lang", "tlh", "bench-01.csv"])
        .failed_with(2, &["write en, de or fr"]);
}
