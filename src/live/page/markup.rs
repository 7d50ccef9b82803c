//! The pages' HTML. Every text from people or boards goes through maud's escaping.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use qrcode::QrCode;
use qrcode::render::svg;

use super::door::Codes;
use super::forms;
use super::hall::State;
use super::now::{LogNow, Now, SampleNow, Strip, TableNow};

fn page(title: &str, run: Option<&str>, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                link rel="icon" href="/page.svg" type="image/svg+xml";
                link rel="stylesheet" href="/page.css";
                script src="/page.js" defer {}
            }
            body data-run=[run] {
                a.skip href="#main" { "To the readings" }
                (body)
                p #heard .unseen role="status" aria-live="polite" {}
                p #answer .answer role="status" aria-live="polite" {}
                p #link .link hidden { "The connection is lost; trying again." }
            }
        }
    }
}

fn head(title: &str, back: bool) -> Markup {
    html! {
        header {
            @if back { nav aria-label="Pages" { a href="/" { "All benches" } } }
            h1 { (title) }
            button #light type="button" aria-pressed="false" { "Dark room" }
        }
    }
}

/// How others in the room find the page.
pub(super) fn invite(codes: &Codes, address: &str) -> Markup {
    // Whoever scans it still types the code: it is for those in the room, not for whoever gets a link.
    let drawing = QrCode::new(address.as_bytes()).ok().map(|code| {
        let text = code
            .render::<svg::Color<'_>>()
            .min_dimensions(160, 160)
            .build();
        text.find("<svg")
            .and_then(|at| text.get(at..))
            .unwrap_or_default()
            .to_owned()
    });
    html! {
        section.invite aria-label="How to look on" {
            @if let Some(drawing) = drawing { div.code role="img" aria-label="Address as a square code" { (PreEscaped(drawing)) } }
            div {
                p { "In this room, open " b { (address) } }
                p { "and give the code " b.letters { (codes.join) } }
            }
        }
    }
}

/// All benches.
pub(super) fn wall(cards: &[Now], invite: Option<&Markup>) -> Markup {
    let body = html! {
        (head("Benches", false))
        @if let Some(invite) = invite { (invite) }
        main #main {
            div #wall .wall {
                @for card in cards { (bench(card)) }
            }
            p #none hidden[!cards.is_empty()] { "No run has begun yet." }
        }
    };
    page("Benches – duskmark", None, &body)
}

fn bench(card: &Now) -> Markup {
    let picture = format!(
        "/run/{}/picture.svg?w=420&h=240&v={}",
        address(&card.id),
        card.picture
    );
    html! {
        article data-id=(card.id) data-state=(state(card.state)) {
            h2 { a href={ "/run/" (address(&card.id)) } { bdi { (card.name) } } }
            p.cue { (card.cue) }
            p.told { (card.poll.text) }
            dl.big {
                @for (index, sample) in card.samples.iter().enumerate() {
                    div.sample data-nr=(index + 1) {
                        dt { bdi { (sample.name) } }
                        dd {
                            @if card.state != State::Finished {
                                span.number { (number(sample)) } "\u{a0}" span.unit { "°C" } " "
                            }
                            span.trend { (doing(sample)) }
                        }
                    }
                }
            }
            img src=(picture) alt={ "Temperatures of " (card.name) } width="420" height="240" loading="lazy";
        }
    }
}

/// Where a sample is going, or what is wrong with it.
fn doing(sample: &SampleNow) -> &str {
    if sample.trend.is_empty() {
        &sample.flag
    } else {
        &sample.trend
    }
}

/// The reading, or a dash.
fn number(sample: &SampleNow) -> &str {
    if sample.degc.is_empty() {
        "–"
    } else {
        &sample.degc
    }
}

fn state(state: State) -> &'static str {
    match state {
        State::Running => "running",
        State::CutOff => "cut-off",
        State::Finished => "finished",
    }
}

/// A folder's name within an address.
fn address(id: &str) -> String {
    let mut out = String::new();
    for byte in id.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_') {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// One run.
pub(super) fn run(
    began: &str,
    teacher: bool,
    now: &Now,
    table: &TableNow,
    log: &LogNow,
    warnings: &[String],
) -> Markup {
    let own = address(&now.id);
    let body = html! {
        (head(&now.name, true))
        main #main data-state=(state(now.state)) {
            div.above {
                p #cue .cue { (now.cue) }
                p.began { @if !began.is_empty() { "Began " (began) } }
                p.clock { span #clock { (now.clock) } " " span #next { (now.next) } }
                (strip(&now.strip))
                (forms::poll(now))
            }
            div.cards {
                @for (index, sample) in now.samples.iter().enumerate() { (card(index, sample)) }
            }
            section.graph aria-label="Graph" {
                div #picture data-v=(now.picture) {}
                p #near role="status" {}
                div.tools {
                    button type="button" data-zoom="in" { "Closer" }
                    button type="button" data-zoom="out" { "Wider" }
                    button type="button" data-zoom="back" { "Earlier" }
                    button type="button" data-zoom="on" { "Later" }
                    button type="button" data-zoom="all" { "Whole run" }
                }
            }
            div.below {
                @if teacher { (forms::acts(now)) }
                (marks(&now.samples, table))
                @if !warnings.is_empty() {
                    section { h2 { "To know" } ul { @for text in warnings { li { (text) } } } }
                }
                section {
                    h2 #happened { "What happened" }
                    div.happened tabindex="0" role="region" aria-labelledby="happened" {
                        ol #log .log { @for (at, text) in &log.events { li { span.at { (at) } " " (text) } } }
                    }
                }
                @if teacher { (forms::afterwards(now)) }
                p { a #download href={ "/run/" (own) "/readings.csv" } download { "Download the readings" @if now.state != State::Finished { " so far" } " (CSV)" } }
            }
        }
    };
    page(&format!("{} – duskmark", now.name), Some(&own), &body)
}

fn card(index: usize, sample: &SampleNow) -> Markup {
    html! {
        article.sample data-nr=(index + 1) {
            h2 { bdi { (sample.name) } }
            p.degc { span.number { (number(sample)) } " " span.unit { "°C" } }
            p.trend { (sample.trend) }
            p.flag { (sample.flag) }
        }
    }
}

fn marks(samples: &[SampleNow], table: &TableNow) -> Markup {
    html! {
        section.marks {
            h2 { "At the marks" }
            div.wide tabindex="0" role="region" aria-label="Table at the marks" {
                table {
                    thead { tr {
                        th scope="col" { "min" }
                        @for sample in samples { th scope="col" { bdi { (sample.name) } " / °C" } }
                        th scope="col" { "lamp" }
                    } }
                    tbody #marks aria-live="off" {
                        @for row in &table.rows {
                            tr {
                                th scope="row" { (row.minute) }
                                @for cell in &row.cells { td { @if cell.is_empty() { "–" } @else { (cell) } } }
                                td { (row.phase) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn strip(strip: &Strip) -> Markup {
    let at = |share: f64| format!("{:.2}%", 100.0 * share);
    let mut left = 0.0;
    let parts: Vec<(&str, f64, f64)> = strip
        .parts
        .iter()
        .map(|&(word, share)| {
            left += share;
            (word, left - share, share)
        })
        .collect();
    html! {
        @if let Some(now) = strip.now {
            svg #strip .strip role="img" aria-label="The plan, and how far it has come" {
                @for (word, from, share) in &parts {
                    rect.part data-part=(word) x=(at(*from)) y="24" width=(at(*share)) height="32" {}
                    text.word x=(at(from + share / 2.0)) y="16" text-anchor="middle" { (word) }
                }
                @for mark in &strip.marks {
                    circle.notch.passed[*mark <= now] data-at=(mark) cx=(at(*mark)) cy="40" r="6" {}
                }
                rect #moving .moving x=(at(now)) y="18" width="4" height="44" {}
            }
        }
    }
}

/// Where a code is given.
pub(super) fn join(words: &str) -> Markup {
    let body = html! {
        header { h1 { "The readings of the class" } }
        main #main {
            form method="post" action="/join" {
                label for="code" { "The code that the teacher shows" }
                input #code type="text" name="code" autocomplete="off" autocapitalize="characters" maxlength="20" required autofocus;
                button type="submit" { "Open the readings" }
                @if !words.is_empty() { p.wrong role="alert" { (words) } }
            }
            p { "Nothing is asked of you but the code: no name, no account." }
        }
    };
    page("The readings – duskmark", None, &body)
}

/// What a person sees who is not let on.
pub(super) fn refusal(words: &str) -> Markup {
    let body = html! {
        (head("Not this way", true))
        main #main { p role="alert" { (words) } }
    };
    page("Not this way – duskmark", None, &body)
}
