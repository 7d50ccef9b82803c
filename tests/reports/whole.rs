//! `demo`, which runs the whole lesson.

use serde_json::Value;

use super::support::program::{only_run, run};

#[test]
fn the_demo_makes_every_page_and_names_the_files_to_open() {
    let folder = tempfile::tempdir().unwrap();
    let said = run(folder.path(), &["demo", "--lang", "de"]);
    said.done();
    let kept = only_run(folder.path());
    let (_, list) = said.out.split_once("Open these, in ").unwrap();
    let (named_folder, list) = list.split_once(":\n").unwrap();
    let named: Vec<&str> = list
        .lines()
        .filter_map(|l| l.trim().split("  ").next())
        .collect();
    let names = [
        "report.html",
        "lesson.xlsx",
        "sheet.html",
        "graph.png",
        "class/class.html",
        "class/class.xlsx",
    ];
    assert_eq!(named.len(), names.len(), "{list}");
    for (path, name) in named.iter().zip(names) {
        let path = folder.path().join(named_folder).join(path.trim());
        assert_eq!(path, kept.join(name));
        assert!(path.metadata().unwrap().len() > 1000, "{}", path.display());
    }
    let read = |name: &str| std::fs::read_to_string(kept.join(name)).unwrap();
    assert!(
        read("report.html").contains("<html lang=\"de\"") && read("sheet.html").contains("Lösung")
    );
    let class: Value = serde_json::from_str(&read("class/class.json")).unwrap();
    assert_eq!(class["benches"].as_array().unwrap().len(), 5);
    assert_eq!(class["ratios"][0]["ratio"]["n"], 5, "{class}");
    // The benches are runs like any other: `class` makes the same of them.
    let mut inputs = vec![kept.clone()];
    inputs.extend(
        std::fs::read_dir(kept.join("class"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.is_dir()),
    );
    inputs.sort();
    let mut words = vec!["class", "--json", "--out", "again"];
    words.extend(inputs.iter().map(|path| path.to_str().unwrap()));
    let again: Value = serde_json::from_str(&run(folder.path(), &words).done().out).unwrap();
    let pooled = |class: &Value| {
        class["ratios"][0]["ratio"]["pooled"]["value"]
            .as_f64()
            .unwrap()
    };
    assert!((pooled(&again) - pooled(&class)).abs() < 1e-9);
}

#[test]
fn a_demo_of_the_run_alone_leaves_the_run_alone() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "-q", "--run-only"]).done();
    let kept = only_run(folder.path());
    assert!(kept.join("summary.json").exists());
    assert!(!kept.join("report.html").exists() && !kept.join("class").exists());
}
