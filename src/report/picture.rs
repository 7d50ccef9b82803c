//! The graph's own words in the page's language.
//!
//! [`svg`](crate::graph::svg) draws with English words. They are few and each stands in a text
//! element of its own, one to a line, so they are put into the page's language there. A test draws
//! every word that the graph knows and finds none left in English.

use super::words::{Language, Value, Words};

/// The graph with its words and decimal marks in the page's language; `description` is what a
/// reader who cannot see it is told.
#[must_use]
pub fn in_language(svg: &str, words: &Words, description: &str) -> String {
    let mut out = String::with_capacity(svg.len() + 64);
    for line in svg.lines() {
        match parts(line) {
            Some(("desc", opening, _)) => {
                let said = super::page::escaped(description);
                out += &format!("{opening}{said}</desc>");
            }
            Some(("text", opening, text)) => {
                // Names and the heading begin at their point; what is the graph's own does not.
                let own = !opening.contains("text-anchor=\"start\"");
                let said = if own {
                    own_words(text, words)
                } else {
                    tail(text, words)
                };
                out += &format!("{opening}{said}</text>");
            }
            _ => out.push_str(line),
        }
        out.push('\n');
    }
    out
}

/// A line that is one whole element: its name, its opening tag, its text.
fn parts(line: &str) -> Option<(&'static str, &str, &str)> {
    ["text", "desc"].into_iter().find_map(|name| {
        let rest = line.strip_suffix(&format!("</{name}>"))?;
        rest.strip_prefix(&format!("<{name}"))?;
        let (opening, text) = rest.split_at_checked(rest.find('>')? + 1)?;
        Some((name, opening, text))
    })
}

/// Titles of axes, ticks, and labels of the lamp's edges.
fn own_words(text: &str, words: &Words) -> String {
    let heads = [
        ("Temperature /", "graph-temperature", " /"),
        ("Time /", "graph-time", " /"),
        ("lamp on ", "graph-lamp-on", " "),
        ("lamp off ", "graph-lamp-off", " "),
    ];
    let known = heads.iter().find_map(|(head, key, between)| {
        let rest = text.strip_prefix(head)?;
        Some(format!(
            "{}{between}{}",
            words.say(key),
            marked(rest, words.language())
        ))
    });
    known.unwrap_or_else(|| marked(text, words.language()))
}

/// What the graph may put after a name.
fn tail(text: &str, words: &Words) -> String {
    if let Some(name) = text.strip_suffix(": no readings") {
        return format!("{name}{}", words.say("graph-no-readings"));
    }
    let more = text
        .strip_prefix("and ")
        .and_then(|rest| rest.strip_suffix(" more"));
    match more.filter(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit())) {
        Some(n) => words.tell("graph-more", &[("n", Value::Number(n))]),
        None => text.to_owned(),
    }
}

/// Points between digits become the language's decimal mark.
fn marked(text: &str, language: Language) -> String {
    let digit = |c: Option<&char>| c.is_some_and(char::is_ascii_digit);
    let chars: Vec<char> = text.chars().collect();
    let marked = chars.iter().enumerate().map(|(at, &c)| {
        let between = c == '.'
            && digit(at.checked_sub(1).and_then(|before| chars.get(before)))
            && digit(chars.get(at + 1));
        if between { language.decimal_mark() } else { c }
    });
    marked.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graph::{Curve, EdgeKind, LampEdge, Picture, Style, svg};

    /// A picture that shows all that the graph has words for.
    fn drawn(span_s: f64) -> String {
        let edge = |kind, share: f64| LampEdge {
            kind,
            at_s: share * span_s,
            low_s: share * span_s - 0.4,
            high_s: share * span_s + 0.4,
        };
        let curve = |name: &'static str, t_s: Vec<f64>, degc: Vec<f64>| Curve {
            name: name.into(),
            t_s: t_s.into(),
            degc: degc.into(),
            ..Curve::default()
        };
        let picture = Picture {
            title: "lamp on 1.5".into(),
            curves: vec![
                curve("Time / min 2.5", vec![0.0, span_s], vec![21.0, 21.8]),
                curve("moss", vec![], vec![]),
            ],
            edges: vec![edge(EdgeKind::On, 0.2), edge(EdgeKind::Off, 0.7)],
            ..Picture::default()
        };
        svg(&picture, &Style::default())
    }

    #[test]
    fn no_word_of_the_graph_is_left_in_english_and_no_name_is_touched() {
        for span_s in [60.0, 1200.0, 20_000.0, 900_000.0] {
            let english = drawn(span_s);
            assert!(english.contains(">Temperature / °C<") && english.contains("no readings"));
            for language in [Language::German, Language::French] {
                let words = Words::of(language);
                let own = in_language(&english, &words, "D");
                assert!(own.contains("<desc>D</desc>"), "{own}");
                for word in [
                    "Temperature /",
                    "middle\">lamp ",
                    "no readings",
                    ">Time / min<",
                ] {
                    assert!(!own.contains(word), "{word} in {own}");
                }
                assert!(own.contains(&format!(">{} / °C<", words.say("graph-temperature"))));
                assert!(own.contains(&format!(">{} / ", words.say("graph-time"))));
                assert!(own.contains(">lamp on 1.5<"), "the heading is a name");
                assert!(own.contains(">Time / min 2.5<"), "so is a curve's name");
                let is_point = |t: &str| {
                    t.split('<')
                        .next()
                        .is_some_and(|n| n.parse::<f64>().is_ok() && n.contains('.'))
                };
                assert!(!own.split('>').any(is_point), "{own}");
            }
        }
    }

    #[test]
    fn english_stays_as_it_was_but_for_the_description() {
        let drawn = drawn(60.0);
        let own = in_language(&drawn, &Words::of(Language::English), "D");
        let rest = |text: &str| {
            text.lines()
                .filter(|l| !l.starts_with("<desc>"))
                .map(str::to_owned)
                .collect::<Vec<_>>()
        };
        assert_eq!(rest(&own), rest(&drawn));
    }

    #[test]
    fn labels_of_the_lamp_fit_where_the_graph_made_room_for_the_english_ones() {
        for (key, english) in [("graph-lamp-on", "lamp on"), ("graph-lamp-off", "lamp off")] {
            for language in Language::ALL {
                let label = Words::of(language).say(key);
                assert!(label.chars().count() <= english.len(), "{label}");
            }
        }
    }

    #[test]
    fn points_between_digits_become_commas() {
        assert_eq!(
            marked("12:04.3 ± 0.4 s.", Language::German),
            "12:04,3 ± 0,4 s."
        );
    }
}
