//! Holds the house to its plan: imports run one way, and pure rooms stay pure.
//!
//! Reads the source as text: a path that names a room (`crate::room`, alone or in a group) is an
//! import of it. Coarse, but it cannot be forgotten.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What each room may import. The order is that of the picture in `src/lib.rs`.
const MAY_IMPORT: [(&str, &[&str]); 17] = [
    ("wire", &[]),
    ("probe", &["wire"]),
    ("timebase", &["wire"]),
    ("sampler", &["wire", "probe", "timebase"]),
    ("sim", &["wire", "probe"]),
    ("port", &["wire", "sim"]),
    ("journal", &[]),
    ("lamp", &[]),
    ("analysis", &["lamp"]),
    ("calibrate", &["wire", "probe", "lamp", "analysis"]),
    ("graph", &["lamp", "analysis"]),
    ("report", &["lamp", "analysis", "graph"]),
    (
        "run",
        &[
            "wire",
            "probe",
            "sampler",
            "port",
            "journal",
            "lamp",
            "analysis",
            "calibrate",
        ],
    ),
    ("follow", &["wire", "journal", "run"]),
    (
        "live",
        &[
            "wire", "journal", "lamp", "analysis", "graph", "report", "run", "follow",
        ],
    ),
    ("outlet", &["analysis", "run", "follow"]),
    (
        "cli",
        &[
            "wire",
            "probe",
            "sampler",
            "sim",
            "port",
            "journal",
            "lamp",
            "analysis",
            "calibrate",
            "graph",
            "report",
            "live",
            "run",
            "follow",
            "outlet",
        ],
    ),
];

/// Rooms that do no I/O, read no clock and print nothing.
const PURE: [&str; 10] = [
    "wire",
    "probe",
    "timebase",
    "sampler",
    "sim",
    "lamp",
    "analysis",
    "calibrate",
    "graph",
    "report",
];

/// What a pure room must not name.
const IMPURE: [&str; 17] = [
    "std::fs",
    "std::net",
    "std::process",
    "std::env",
    "std::thread",
    "std::io::std",
    "io::stdout",
    "io::stderr",
    "std::time",
    "Instant::",
    "tokio",
    "use std::{",
    "clap",
    "serialport",
    "rustix",
    "tracing",
    "jiff::Timestamp::now",
];

/// Whose work printing, clocks and arguments are.
const PRINTING: [&str; 4] = ["println!", "eprintln!", "print!(", "eprint!("];

/// A file's room, path and text without comments and without what only tests see.
struct Source {
    room: String,
    path: PathBuf,
    code: String,
}

fn sources() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                files.push(path);
            }
        }
    }
    files
        .into_iter()
        .filter_map(|path| {
            let inside = path.strip_prefix(&root).unwrap();
            let mut parts = inside.components();
            let room = parts
                .next()
                .unwrap()
                .as_os_str()
                .to_str()
                .unwrap()
                .to_owned();
            parts.next()?;
            let name = path.file_stem().unwrap().to_str().unwrap();
            if name == "tests"
                || name.ends_with("_tests")
                || inside.starts_with("lamp/bench_model.rs")
            {
                return None;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            Some(Source {
                room,
                code: product_code(&text),
                path,
            })
        })
        .collect()
}

/// The part of a file that is built into the product: no comments, no inline test module.
fn product_code(text: &str) -> String {
    let end = text.find("#[cfg(test)]\nmod tests {").unwrap_or(text.len());
    text[..end]
        .lines()
        .map(|line| line.split("//").next().unwrap_or(""))
        .collect::<Vec<_>>()
        .join("\n")
}

/// Rooms that a text names by `crate::room`, also in groups like `crate::{a, b::C}`.
fn named_rooms(code: &str) -> Vec<String> {
    let mut rooms = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        if let Some(group) = rest.strip_prefix('{') {
            rooms.extend(top_items(group).into_iter().map(first_word));
        } else {
            rooms.push(first_word(rest));
        }
    }
    rooms
}

/// The items of a group, up to its closing brace; groups within are part of their item.
fn top_items(group: &str) -> Vec<&str> {
    let (mut depth, mut start, mut items) = (0, 0, Vec::new());
    for (at, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            ',' | '}' if depth == 0 => {
                items.push(group[start..at].trim());
                start = at + 1;
                if c == '}' {
                    break;
                }
            }
            '}' => depth -= 1,
            _ => {}
        }
    }
    items
}

fn first_word(text: &str) -> String {
    text.chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect()
}

#[test]
fn imports_run_one_way() {
    let allowed: BTreeMap<&str, &[&str]> = MAY_IMPORT.into();
    let mut wrong = Vec::new();
    for source in sources() {
        let may = allowed
            .get(source.room.as_str())
            .unwrap_or_else(|| panic!("{} is in no known room", source.path.display()));
        for room in named_rooms(&source.code) {
            if room != source.room
                && allowed.contains_key(room.as_str())
                && !may.contains(&room.as_str())
            {
                wrong.push(format!("{} imports {room}", source.path.display()));
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "against the picture in src/lib.rs:\n{}",
        wrong.join("\n")
    );
}

#[test]
fn pure_rooms_do_no_io_and_read_no_clock() {
    let mut wrong = Vec::new();
    for source in sources().iter().filter(|s| PURE.contains(&s.room.as_str())) {
        for word in IMPURE.iter().chain(&PRINTING) {
            if source.code.contains(word) {
                wrong.push(format!("{} names {word}", source.path.display()));
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "pure rooms touch the world:\n{}",
        wrong.join("\n")
    );
}

#[test]
fn only_the_front_end_knows_arguments_and_prints() {
    let mut wrong = Vec::new();
    for source in sources().iter().filter(|s| s.room != "cli") {
        for word in PRINTING
            .iter()
            .chain(&["clap", "ExitCode", "process::exit"])
        {
            if source.code.contains(word) {
                wrong.push(format!("{} names {word}", source.path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn files_are_short_and_say_what_they_are_for() {
    let mut wrong = Vec::new();
    for source in sources() {
        let text = std::fs::read_to_string(&source.path).unwrap();
        if !text.starts_with("//!") {
            wrong.push(format!("{} has no module doc", source.path.display()));
        }
        let lines = text.lines().count();
        if lines > 400 {
            wrong.push(format!("{} has {lines} lines", source.path.display()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Functions of more than `most` lines, from their first line to their closing brace, as rustfmt
/// sets them.
fn long_functions(code: &str, most: usize) -> Vec<(String, usize)> {
    let lines: Vec<&str> = code.lines().collect();
    let mut long = Vec::new();
    for (start, line) in lines.iter().enumerate() {
        let body = line.trim_start();
        let indent = line.len() - body.len();
        let head = [
            "fn ",
            "pub fn ",
            "pub(super) fn ",
            "async fn ",
            "pub(super) async fn ",
        ];
        let Some(name) = head.iter().find_map(|h| body.strip_prefix(h)) else {
            continue;
        };
        let close = format!("{}}}", " ".repeat(indent));
        let length = lines[start..].iter().position(|l| *l == close);
        if let Some(length) = length.filter(|length| length + 1 > most) {
            long.push((first_word(name), length + 1));
        }
    }
    long
}

#[test]
fn functions_fit_a_screen() {
    let mut wrong = Vec::new();
    for source in sources() {
        for (name, length) in long_functions(&source.code, 60) {
            wrong.push(format!(
                "{}: {name} has {length} lines",
                source.path.display()
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn this_test_sees_what_it_looks_for() {
    let code =
        product_code("use crate::{lamp::Edge, run};\nlet x = crate::cli::main; // crate::wire\n");
    assert_eq!(named_rooms(&code), ["lamp", "run", "cli"]);
    let nested = named_rooms("use crate::{lamp::{Edge, Kind}, wire::Field, run};");
    assert_eq!(nested, ["lamp", "wire", "run"]);
    assert_eq!(
        long_functions("fn a() {\n    b();\n}\n", 2),
        [("a".to_owned(), 3)]
    );
    let cut = product_code("a\n#[cfg(test)]\nmod tests {\n    use std::fs;\n}\n");
    assert_eq!(cut.trim(), "a");
    assert!(sources().len() > 60);
}

#[test]
fn every_package_has_its_reason() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let manifest = std::fs::read_to_string(root.join("Cargo.toml")).unwrap();
    let manifest: toml::Table = manifest.parse().unwrap();
    let reasons = std::fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    let (_, reasons) = reasons.split_once("## Why these packages").unwrap();
    let systems = manifest["target"].as_table().unwrap().values();
    let tables = std::iter::once(&manifest)
        .chain(systems.filter_map(toml::Value::as_table))
        .flat_map(|of| ["dependencies", "dev-dependencies"].map(|kind| of.get(kind)))
        .flatten();
    let mut seen = 0;
    for name in tables.flat_map(|table| table.as_table().unwrap().keys()) {
        let named = reasons.lines().filter_map(|line| line.split('|').nth(1));
        let named = named.flat_map(|names| names.split(',')).map(str::trim);
        assert!(named.clone().any(|n| n == name), "{name} has no reason");
        seen += 1;
    }
    assert!(seen > 40, "{seen} packages seen");
}

#[test]
fn what_documents_link_to_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let pages = [
        "README.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "benches/README.md",
        "demo-data/README.md",
        "firmware-notes/README.md",
        "firmware-notes/broker/README.md",
        "firmware-notes/other-tools.md",
        "firmware-notes/porting.md",
        "firmware-notes/probes.md",
        "firmware-notes/settings.md",
        "firmware-notes/unattended/README.md",
        "firmware-notes/wiring.md",
        "tests/PROOF.md",
        "tests/RELIABILITY.md",
    ];
    let mut links = 0;
    for page in pages.map(|page| root.join(page)) {
        let text = std::fs::read_to_string(&page).unwrap();
        for link in text
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
        {
            let path = link.split('#').next().unwrap();
            if path.is_empty() || path.starts_with("http") {
                continue;
            }
            links += 1;
            let target = page.parent().unwrap().join(path);
            assert!(target.exists(), "{} links to {link}", page.display());
        }
    }
    assert!(links > 15, "{links} links seen");
}
