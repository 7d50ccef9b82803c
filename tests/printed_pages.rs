//! Report and sheet in the programs that people use: checked by HTML Tidy and html-validate, laid out and
//! printed by Chromium, read back by Poppler. Every check is tried on something that must fail it.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::{Path, PathBuf};
use std::process::Command;

use support::browser::{invalid, node};
use support::pages::{demo_run, demo_runs, hand_made};
use support::program::run;

const LANGUAGES: [&str; 3] = ["en", "de", "fr"];

/// A paper, and its width and height in points (ISO 216; ANSI/ASME Y14.1 for Letter).
const PAPERS: [(&str, u32, u32); 2] = [("A4", 595, 842), ("letter", 612, 792)];

/// A document that a reader can hold: pages of at most this many.
const MOST_PAGES: usize = 12;

fn output(program: &str, words: &[&str]) -> String {
    let output = Command::new(program).args(words).output();
    let output = output.unwrap_or_else(|error| panic!("{program}: {error}"));
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

fn chromium(work: &Path, words: &[&str]) -> String {
    let profile = format!("--user-data-dir={}", work.join("profile").display());
    // As root, which containers are, Chromium runs only without its sandbox.
    let usual = ["--headless", "--no-sandbox", "--disable-gpu", &profile];
    output("chromium", &[&usual, words].concat())
}

/// The page for one paper. A page leaves the choice of paper to the printer; Chromium's command
/// line has none, so the paper is put into a copy, and the policy that would refuse it is left out.
fn for_paper(page: &Path, paper: &str) -> PathBuf {
    let html = std::fs::read_to_string(page).unwrap();
    let is_policy = |line: &&str| !line.contains("Content-Security-Policy");
    let html: Vec<&str> = html.lines().filter(is_policy).collect();
    let html = html
        .join("\n")
        .replace("@page {", &format!("@page {{ size: {paper};"));
    assert!(
        html.contains(&format!("size: {paper}")),
        "the page says nothing of paper"
    );
    let copy = page.with_extension(format!("{paper}.html"));
    std::fs::write(&copy, html).unwrap();
    copy
}

/// Prints a page and gives its number of pages and its text.
fn printed(work: &Path, page: &Path, (paper, width, height): (&str, u32, u32)) -> (usize, String) {
    let copy = for_paper(page, paper);
    let pdf = copy.with_extension("pdf");
    let to = format!("--print-to-pdf={}", pdf.display());
    let from = format!("file://{}", copy.display());
    chromium(work, &["--no-pdf-header-footer", &to, &from]);
    let info = output("pdfinfo", &[pdf.to_str().unwrap()]);
    let field = |name: &str| {
        let line = info.lines().find_map(|line| line.strip_prefix(name));
        line.unwrap_or_else(|| panic!("no {name} in {info}"))
            .trim()
            .to_owned()
    };
    let size: Vec<f64> = field("Page size:")
        .split(' ')
        .filter_map(|word| word.parse().ok())
        .collect();
    let near = |a: f64, b: u32| (a - f64::from(b)).abs() < 1.0;
    assert!(
        near(size[0], width) && near(size[1], height),
        "{paper}: {size:?}"
    );
    let pages = field("Pages:").parse().unwrap();
    assert!(pages <= MOST_PAGES);
    (
        pages,
        output("pdftotext", &["-layout", pdf.to_str().unwrap(), "-"]),
    )
}

/// How far a page reaches beyond a screen this wide, in CSS pixels: its document in a frame, as the
/// page itself runs no script.
fn overhang(work: &Path, page: &Path, width: u32) -> i64 {
    let frame = work.join("frame.html");
    let html = format!(
        "<!DOCTYPE html><iframe id=\"f\" width=\"{width}\" height=\"800\" style=\"border:0\" src=\"file://{}\"></iframe>\
         <script>addEventListener('load', () => {{\
           const d = document.getElementById('f').contentDocument.documentElement;\
           document.title = 'over ' + (d.scrollWidth - d.clientWidth) + ' of ' + d.clientWidth; }});</script>",
        page.display()
    );
    std::fs::write(&frame, html).unwrap();
    let from = format!("file://{}", frame.display());
    let dom = chromium(
        work,
        &["--allow-file-access-from-files", "--dump-dom", &from],
    );
    let said = dom
        .split("<title>over ")
        .nth(1)
        .unwrap_or_else(|| panic!("no measure in {dom}"));
    let said: Vec<&str> = said.split("</title>").next().unwrap().split(' ').collect();
    let shown: i64 = said[2].parse().unwrap();
    assert!(
        shown > i64::from(width) - 30,
        "the page was laid out for {shown} pixels"
    );
    said[0].parse().unwrap()
}

/// What html-validate and HTML Tidy have against a page. Tidy does not know that SVG 2 has `font-family` on `<svg>`
/// (SVG 2, 6.6: a presentation attribute), which is left out of account.
fn complaints(page: &Path) -> Vec<String> {
    let said = output(
        "tidy",
        &["-quiet", "-errors", "-utf8", page.to_str().unwrap()],
    );
    let known = |line: &&str| !line.contains("<svg> proprietary attribute \"font-family\"");
    let tidy = said.lines().filter(known).map(str::to_owned);
    tidy.chain(invalid(&[page])).collect()
}

/// One page, made by the program in a folder of its own.
fn made(work: &Path, name: &str, words: &[&str]) -> PathBuf {
    let out = work.join(name);
    let folder = out.to_str().unwrap();
    run(work, &[words, &["-q", "--out", folder]].concat()).done();
    let mut all = std::fs::read_dir(&out)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    all.find(|path| path.extension().is_some_and(|e| e == "html"))
        .unwrap()
}

/// The pages whose length is promised: name, words, pages on each paper.
fn usual(work: &Path) -> Vec<(PathBuf, usize)> {
    let run = demo_run(work);
    let run = run.to_str().unwrap();
    let blank = [
        "sheet",
        "--samples",
        "slate,moss",
        "--heat",
        "10m",
        "--marks",
        "1m",
    ];
    let nine = [
        "sheet",
        "--samples",
        "slate,moss",
        "--heat",
        "12m",
        "--marks",
        "3m",
    ];
    let mut all = Vec::new();
    for lang in LANGUAGES {
        let mut page = |kind: &str, words: &[&str], pages: usize| {
            let words = [words, &["--lang", lang][..]].concat();
            all.push((made(work, &format!("{kind}-{lang}"), &words), pages));
        };
        page("report", &["report", run], 4);
        page("blank", &blank, 2);
        page("nine", &nine, 2);
        page("key", &["sheet", run], 2);
    }
    all
}

#[test]
fn the_usual_pages_are_clean_fit_a_phone_and_have_their_number_of_sheets() {
    let work = tempfile::tempdir().unwrap();
    for (page, pages) in usual(work.path()) {
        let name = page.display();
        assert_eq!(complaints(&page), Vec::<String>::new(), "{name}");
        for width in [320, 360, 1024] {
            assert_eq!(overhang(work.path(), &page, width), 0, "{name} at {width}");
        }
        for paper in PAPERS {
            let (count, text) = printed(work.path(), &page, paper);
            assert_eq!(count, pages, "{name} on {}", paper.0);
            // All of it is there: the first sample's name, and the last section.
            assert!(
                text.contains("slate") && text.contains("3. ") || text.contains("duskmark 0."),
                "{name}: {text}"
            );
        }
    }
}

#[test]
fn nobody_is_shut_out_of_a_page_and_captions_stay_while_tables_scroll() {
    let work = tempfile::tempdir().unwrap();
    let benches: [PathBuf; 3] = demo_runs(work.path());
    let [bench, second, third] = benches.each_ref().map(|bench| bench.to_str().unwrap());
    let pages = [
        made(work.path(), "report", &["report", "--lang", "en", bench]),
        made(work.path(), "key", &["sheet", "--lang", "de", bench]),
        made(
            work.path(),
            "class",
            &["class", "--lang", "fr", bench, second, third],
        ),
        made(work.path(), "blank", &["sheet", "--samples", "slate,moss"]),
    ];
    let words: Vec<&str> = pages.iter().map(|page| page.to_str().unwrap()).collect();
    let output = node("pages.cjs", &words).output().unwrap();
    let told: Vec<serde_json::Value> = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(told.len(), pages.len());
    for page in &told {
        assert!(page["axe"]["passes"].as_u64() > Some(10), "{page}");
        assert_eq!(page["axe"]["violations"], serde_json::json!([]), "{page}");
        assert_eq!(page["sideways"], serde_json::json!([0, 0, 0]), "{page}");
        assert_eq!(page["lost"], serde_json::json!([]), "{page}");
    }
    // The last look is a phone's, where the report's tables do scroll.
    assert!(told[0]["scrolls"].as_u64() > Some(0), "{}", told[0]);
}

#[test]
fn the_page_of_a_class_is_clean_and_fits_phone_and_paper() {
    let work = tempfile::tempdir().unwrap();
    let benches: [PathBuf; 3] = demo_runs(work.path());
    let alike = benches.each_ref().map(|bench| bench.to_str().unwrap());
    let table = hand_made(
        work.path(),
        &nasty().iter().map(String::as_str).collect::<Vec<_>>(),
    );
    let table = table.to_str().unwrap();
    for (name, inputs) in [("alike", alike), ("nasty", [alike[0], table, table])] {
        for lang in LANGUAGES {
            let words = [&["class", "--lang", lang][..], &inputs].concat();
            let page = made(work.path(), &format!("{name}-{lang}"), &words);
            assert_eq!(complaints(&page), Vec::<String>::new(), "{name} {lang}");
            assert_eq!(overhang(work.path(), &page, 360), 0, "{name} {lang}");
            for paper in PAPERS {
                let (_, text) = printed(work.path(), &page, paper);
                assert!(text.contains("duskmark 0."), "{name} {lang}: {text}");
            }
        }
    }
}

/// Names that try to break the page, one too long for any column.
fn nasty() -> Vec<String> {
    let mut names: Vec<String> = [
        "<script>alert(1)</script>",
        "=cmd|' /C calc'!A0",
        "a \"q\" & 'q'",
        "🌿 moss",
        "אזוב רטוב",
        "moss",
        "moss",
    ]
    .map(str::to_owned)
    .into();
    names.insert(3, "n".repeat(200));
    names
}

#[test]
fn eight_samples_with_bad_names_fit_screen_and_paper() {
    let work = tempfile::tempdir().unwrap();
    let names = nasty();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let table = hand_made(work.path(), &names);
    let table = table.to_str().unwrap();
    let report = made(
        work.path(),
        "report",
        &["report", "--lang", "de", "--marks", "1m", table],
    );
    let key = made(
        work.path(),
        "key",
        &["sheet", "--lang", "de", "--marks", "1m", table],
    );
    for page in [report, key] {
        let name = page.display();
        assert_eq!(complaints(&page), Vec::<String>::new(), "{name}");
        assert_eq!(overhang(work.path(), &page, 360), 0, "{name}");
        for paper in PAPERS {
            let (_, text) = printed(work.path(), &page, paper);
            assert!(text.contains("20"), "{name}");
        }
    }
}

/// A page of ours with something in it that should not be there.
fn spoilt(work: &Path, name: &str, extra: &str) -> PathBuf {
    let page = made(
        work,
        name,
        &["sheet", "--samples", "slate,moss", "--lang", "en"],
    );
    let html = std::fs::read_to_string(&page).unwrap();
    std::fs::write(&page, html.replace("</main>", &format!("{extra}</main>"))).unwrap();
    page
}

#[test]
fn each_check_sees_what_it_looks_for() {
    let work = tempfile::tempdir().unwrap();
    let wide = spoilt(
        work.path(),
        "wide",
        "<svg width=\"1200\" height=\"10\" class=\"w\"><rect width=\"1200\" height=\"10\"/></svg>",
    );
    // Drawings shrink to the screen by themselves; a table that cannot does not.
    assert_eq!(overhang(work.path(), &wide, 360), 0);
    let row = "<td>unbreakable\u{a0}</td>".repeat(60);
    let table = spoilt(
        work.path(),
        "table",
        &format!("<table><tr>{row}</tr></table>"),
    );
    assert!(overhang(work.path(), &table, 360) > 100);
    let long = spoilt(work.path(), "long", &"<p>one more line</p>\n".repeat(60));
    assert!(printed(work.path(), &long, PAPERS[0]).0 > 2);
    let unclean = spoilt(
        work.path(),
        "unclean",
        "<p><b>never closed</p><blink>no such thing</blink>",
    );
    assert!(complaints(&unclean).len() >= 2);
    let rule = |said: &String| said.contains("close-order") || said.contains("deprecated");
    assert!(complaints(&unclean).iter().any(rule), "of html-validate");
}

#[test]
fn the_policy_lets_the_style_in_and_nothing_else() {
    let work = tempfile::tempdir().unwrap();
    let script = "<script>document.title='ran'</script><img src=\"frame.html\" onerror=\"document.title='ran'\">";
    let page = spoilt(work.path(), "script", script);
    let from = format!("file://{}", page.display());
    let dom = chromium(work.path(), &["--dump-dom", &from]);
    assert!(!dom.contains("<title>ran</title>"), "a script ran");
    // The same page without the policy runs it: the check can fail.
    let copy = format!("file://{}", for_paper(&page, "A4").display());
    assert!(chromium(work.path(), &["--dump-dom", &copy]).contains("<title>ran</title>"));
    // The style is let in: without it the page is as wide as its words, and boxes have no border.
    let probe = work.path().join("probe.html");
    let html = format!(
        "<!DOCTYPE html><iframe id=\"f\" src=\"{from}\"></iframe><script>addEventListener('load', () => {{\
         const w = document.getElementById('f').contentWindow;\
         document.title = 'border ' + w.getComputedStyle(w.document.querySelector('.caution')).borderTopWidth; }});</script>"
    );
    std::fs::write(&probe, html).unwrap();
    let from = format!("file://{}", probe.display());
    let dom = chromium(
        work.path(),
        &["--allow-file-access-from-files", "--dump-dom", &from],
    );
    assert!(
        dom.contains("<title>border 2px</title>"),
        "{}",
        &dom[..300.min(dom.len())]
    );
}
