//! Pages as their readers have them: sections, tables and text of our HTML, and inputs for them.

use std::path::{Path, PathBuf};

use super::program::{only_run, run};

/// A whole lesson on the virtual bench, always the same; its folder.
#[track_caller]
pub fn demo_run(folder: &Path) -> PathBuf {
    demo_run_of(folder, 1)
}

fn demo_run_of(folder: &Path, seed: usize) -> PathBuf {
    let seed = seed.to_string();
    let words = ["demo", "-q", "--run-only", "--seed", &seed];
    let began = ["--began", "2026-03-14T10:32:05Z"];
    run(folder, &[&words[..], &began].concat()).done();
    only_run(folder)
}

/// The runs of so many benches, each in a folder of its own.
pub fn demo_runs<const N: usize>(folder: &Path) -> [PathBuf; N] {
    std::array::from_fn(|place| {
        let own = folder.join(format!("bench-{}", place + 1));
        std::fs::create_dir(&own).unwrap();
        demo_run_of(&own, place + 1)
    })
}

/// `table.csv` with a lesson of samples under these headings, a row every two seconds: lamp on at
/// 120 s, off at 720 s, each body cooling as Newton says. Invented.
#[track_caller]
pub fn hand_made(folder: &Path, names: &[&str]) -> PathBuf {
    let file = folder.join("table.csv");
    let mut writer = csv::Writer::from_path(&file).unwrap();
    writer
        .write_record(std::iter::once("time (s)").chain(names.iter().copied()))
        .unwrap();
    for k in 0..=660 {
        let t_s = f64::from(k) * 2.0;
        let degc = |sample: usize| {
            let tau_s = 300.0 + 20.0 * sample as f64;
            let gain = 18.0 / (1.0 + 0.3 * sample as f64);
            let warm = |t_s: f64| gain * (1.0 - (-t_s.max(0.0) / tau_s).exp());
            // Readings scatter by some hundredths of a degree, the same each time.
            let scatter = ((f64::from(k) * 7.0 + sample as f64 * 3.0) % 11.0 - 5.0) / 250.0;
            21.0 + warm(t_s - 120.0) - warm(t_s - 720.0) + scatter
        };
        let row = (0..names.len()).map(|sample| format!("{:.2}", degc(sample)));
        writer
            .write_record(std::iter::once(t_s.to_string()).chain(row))
            .unwrap();
    }
    writer.flush().unwrap();
    file
}

/// A page's section from its heading on.
#[track_caller]
pub fn section<'a>(html: &'a str, heading: &str) -> &'a str {
    let start = html
        .find(&format!("<h2>{heading}"))
        .unwrap_or_else(|| panic!("no {heading}"));
    let rest = &html[start..];
    &rest[..rest.find("</section>").unwrap()]
}

/// All rows of tables in a piece of a page: their cells' text.
pub fn cells(html: &str) -> Vec<Vec<String>> {
    let rows = html
        .split("<tr>")
        .skip(1)
        .map(|row| row.split("</tr>").next().unwrap());
    let cells = |row: &str| {
        let ends = row.split("</td>").flat_map(|part| part.split("</th>"));
        ends.filter(|cell| cell.contains('<'))
            .map(text_of)
            .collect()
    };
    rows.map(cells).collect()
}

/// What a reader sees: no tags, no style, entities as what they stand for.
pub fn text_of(html: &str) -> String {
    let body = match html.split_once("<body>") {
        Some((_, body)) => body,
        None => html,
    };
    let mut text = String::new();
    for part in body.split('<') {
        // Before the first tag there is none to end.
        text.push_str(part.split_once('>').map_or(part, |(_, after)| after));
    }
    let entities = [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&#39;", "'"),
        ("&amp;", "&"),
    ];
    entities
        .iter()
        .fold(text, |text, (entity, c)| text.replace(entity, c))
}
