//! Classes of which inputs are unreadable, unlike each other, few, or named to do harm.

use super::support::program::run;
use super::{Tray, class, files, json, ordinary, quantity, texts};

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
        "dark: its lamp was not seen",
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
fn the_picture_has_a_median_of_those_only_that_were_heated_as_long() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(6).iter().enumerate() {
        let heat_s = if i < 3 { 300.0 } else { 600.0 };
        let tray = Tray {
            heat_s,
            ..ordinary(i)
        };
        tray.put(folder.path(), name);
    }
    let told = json(class(folder.path(), &files(6)).done());
    let svg = std::fs::read_to_string(folder.path().join("all/class.svg")).unwrap();
    let note = "thin: 6 benches · thick: median of those with the lamp on equally long";
    assert!(svg.contains(note), "{svg}");
    // Both kinds are as many: neither is the usual one.
    let warnings = texts(&told["warnings"]).join("\n");
    assert!(
        warnings.contains("heated for") && !warnings.contains("usual"),
        "{warnings}"
    );
    let html = std::fs::read_to_string(folder.path().join("all/class.html")).unwrap();
    let text = super::support::pages::text_of(&html);
    let few = "With fewer than five benches that did the same none can be said";
    assert!(text.contains(few), "{text}");
}

#[test]
fn first_rates_of_rows_minutes_apart_are_not_put_together_with_a_loggers() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(6).iter().enumerate() {
        let step_s = if i < 5 { 5.0 } else { 120.0 };
        let tray = Tray {
            step_s,
            ..ordinary(i)
        };
        tray.put(folder.path(), name);
    }
    let told = json(class(folder.path(), &files(6)).done());
    let warnings = texts(&told["warnings"]).join("\n");
    let said =
        "bench-06: its rows are 120 s apart, those of the benches that are put together 5.0 s";
    assert!(warnings.contains(said), "{warnings}");
    assert_eq!(quantity(&told, "slate", "rise_degc")["n"], 6);
    assert_eq!(
        quantity(&told, "slate", "heating_rate_degc_per_min")["n"],
        5
    );
    assert_eq!(told["ratios"][1]["ratio"]["n"], 5);
}

#[test]
fn what_has_an_asterisk_is_told_among_the_benches_that_stand_apart() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(7).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    // Its ratio stands apart, neither of its rises does.
    let usual = ordinary(6);
    let tray = Tray {
        slate: 14.0 * 1.06,
        moss: 7.0 * 0.92,
        ..usual
    };
    tray.put(folder.path(), "bench-07.csv");
    let told = json(class(folder.path(), &files(7)).done());
    let html = std::fs::read_to_string(folder.path().join("all/class.html")).unwrap();
    let text =
        super::support::pages::text_of(super::support::pages::section(&html, "Bench by bench"));
    let asterisks = text.matches("\u{a0}*").count();
    let outlying = told["outlying"].as_array().unwrap();
    assert_eq!(asterisks == 0, outlying.is_empty(), "{text}\n{outlying:?}");
    assert!(asterisks > 0, "{text}");
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
    assert!(
        html.contains(
            "at least three benches with both samples that did the same, and there are 2"
        ),
        "{html}"
    );
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
fn the_same_readings_twice_are_one_bench() {
    let folder = tempfile::tempdir().unwrap();
    for (i, name) in files(3).iter().enumerate() {
        ordinary(i).put(folder.path(), name);
    }
    std::fs::copy(
        folder.path().join("bench-01.csv"),
        folder.path().join("copy.csv"),
    )
    .unwrap();
    let mut inputs = files(3);
    inputs.push("copy.csv".into());
    let said = class(folder.path(), &inputs);
    let found = json(&said);
    assert_eq!(said.code, 0);
    assert_eq!(found["benches"].as_array().unwrap().len(), 3);
    let warnings = texts(&found["warnings"]).join("\n");
    assert!(
        warnings.contains("copy.csv has the same readings as bench-01"),
        "{warnings}"
    );
}
