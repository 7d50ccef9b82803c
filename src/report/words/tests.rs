//! The translations: complete, alike in what they take, none unused.

mod rows;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use fluent_syntax::ast::{Entry, Expression, InlineExpression, Pattern, PatternElement};

use super::*;
use crate::analysis::{WHY_LAGGING, WHY_OPEN, Warning, WorkedOut};

/// Each message's key, and the names of the values that it takes.
fn messages(language: Language) -> BTreeMap<String, BTreeSet<String>> {
    let mut all = BTreeMap::new();
    for (of, files) in &SOURCES {
        for (file, text) in files.iter().filter(|_| *of == language) {
            let place = format!("{}/{file}.ftl", language.tag());
            let parsed = fluent_syntax::parser::parse(*text);
            let resource = parsed.unwrap_or_else(|(_, faults)| panic!("{place}: {faults:?}"));
            for entry in &resource.body {
                match entry {
                    Entry::Message(message) => {
                        let pattern = message.value.as_ref();
                        let pattern = pattern.unwrap_or_else(|| panic!("{place}: no text"));
                        let mut taken = BTreeSet::new();
                        gather(pattern, &mut taken);
                        let key = message.id.name.to_owned();
                        assert_eq!(all.insert(key, taken), None, "{place}: {}", message.id.name);
                    }
                    Entry::Comment(_) | Entry::GroupComment(_) | Entry::ResourceComment(_) => {}
                    other => panic!("{place}: {other:?}"),
                }
            }
        }
    }
    all
}

fn gather(pattern: &Pattern<&str>, taken: &mut BTreeSet<String>) {
    for element in &pattern.elements {
        let PatternElement::Placeable { expression } = element else {
            continue;
        };
        let inline = match expression {
            Expression::Inline(inline) => inline,
            Expression::Select { selector, variants } => {
                for variant in variants {
                    gather(&variant.value, taken);
                }
                selector
            }
        };
        if let InlineExpression::VariableReference { id } = inline {
            taken.insert(id.name.to_owned());
        }
    }
}

#[test]
fn every_language_says_everything_with_the_same_values() {
    let english = messages(Language::English);
    for language in Language::ALL {
        let own = messages(language);
        let keys = |of: &BTreeMap<String, _>| of.keys().cloned().collect::<BTreeSet<_>>();
        let missing: Vec<_> = keys(&english).difference(&keys(&own)).cloned().collect();
        let extra: Vec<_> = keys(&own).difference(&keys(&english)).cloned().collect();
        assert!(
            missing.is_empty() && extra.is_empty(),
            "{}: missing {missing:?}, extra {extra:?}",
            language.tag()
        );
        for (key, taken) in &own {
            assert_eq!(Some(taken), english.get(key), "{}: {key}", language.tag());
        }
    }
}

/// All text in double quotes in the sources of a room, without what only tests see.
fn quoted(folder: &Path, all: &mut BTreeSet<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            quoted(&path, all);
        } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("tests.rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            let product = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
            all.extend(product.split('"').map(str::to_owned));
        }
    }
}

#[test]
fn no_message_is_unused_and_none_is_unknown() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut used = BTreeSet::new();
    quoted(&root.join("report"), &mut used);
    quoted(&root.join("cli"), &mut used);
    let known = messages(Language::English);
    let unused: Vec<_> = known.keys().filter(|key| !used.contains(*key)).collect();
    assert!(unused.is_empty(), "no code says {unused:?}");
    // A word like a key of a known family that is no key is a slip of the pen.
    let families: BTreeSet<&str> = known
        .keys()
        .filter_map(|k| k.split_once('-'))
        .map(|k| k.0)
        .collect();
    let like_a_key = |word: &&String| {
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        let family = word.split_once('-').map(|(family, _)| family);
        word.chars().all(plain) && family.is_some_and(|family| families.contains(family))
    };
    let unknown: Vec<_> = used
        .iter()
        .filter(like_a_key)
        .filter(|w| !known.contains_key(*w))
        .collect();
    assert!(unknown.is_empty(), "no language knows {unknown:?}");
}

#[test]
fn counts_choose_the_plural_of_their_language() {
    // French counts 0 as one (Unicode CLDR, plural rules), English and German do not.
    for (language, n, text) in [
        (Language::English, 0, "0 rows"),
        (Language::English, 1, "1 row"),
        (Language::German, 1, "1 Zeile"),
        (Language::German, 20_160, "20\u{202F}160 Zeilen"),
        (Language::French, 0, "0 ligne"),
        (Language::French, 1, "1 ligne"),
        (Language::French, 2, "2 lignes"),
    ] {
        let words = Words::of(language);
        assert_eq!(words.tell("rows-counted", &[("n", Value::Count(n))]), text);
    }
}

/// Doubts about what people write into tables.
fn of_tables(column: &str, sample: &str) -> Vec<Warning> {
    let mut all = vec![
        Warning::HoursLong {
            column: column.into(),
            hours: 20.0,
        },
        Warning::TableBeside { place: 5 },
        Warning::Difference {
            column: column.into(),
            of: sample.into(),
            from: column.into(),
        },
        Warning::Swapped {
            line: 3,
            one: column.into(),
            other: sample.into(),
        },
        Warning::RowRepeated { line: 3 },
    ];
    all.extend([true, false].map(|taken| Warning::PointInTimes {
        column: column.into(),
        taken,
    }));
    let off = [(Some(33.0), true), (None, true), (None, false)];
    all.extend(off.map(|(perhaps, left_out)| Warning::OffCurve {
        column: column.into(),
        line: 3,
        written: 43.0,
        perhaps,
        left_out,
    }));
    all
}

/// Doubts about how a table is laid out.
fn of_layout(column: &str, sample: &str) -> Vec<Warning> {
    let mut all = vec![
        Warning::LineForEach {
            column: column.into(),
        },
        Warning::TimeSlip {
            line: 3,
            written: "71".into(),
            room: "17".into(),
        },
    ];
    let ways = [
        WorkedOut::Mean,
        WorkedOut::Sum,
        WorkedOut::Quotient,
        WorkedOut::Rise,
        WorkedOut::OtherUnit,
    ];
    all.extend(ways.map(|how| Warning::WorkedOut {
        column: column.into(),
        how,
        from: vec![sample.into(), column.into()],
    }));
    for yes in [true, false] {
        all.push(Warning::WatchAnew {
            line: 3,
            at_once: yes,
        });
        all.push(Warning::Absurd {
            column: column.into(),
            tenths: yes,
        });
    }
    all
}

/// One doubt of each kind.
fn every_doubt() -> Vec<Warning> {
    let (sample, column, name) = ("moss", "T1", "slate");
    let open = |of| Warning::RatioOpen {
        of,
        sample: sample.into(),
    };
    let assumed = |unit| Warning::TimeUnitAssumed {
        column: column.into(),
        unit,
    };
    let mut all = vec![
        Warning::NotCompared {
            sample: sample.into(),
        },
        Warning::NotNumbers {
            column: column.into(),
            count: 2,
            line: 3,
        },
        Warning::NoTime { count: 1, line: 3 },
        Warning::Sorted { line: 3 },
        Warning::SameTime { count: 2, line: 3 },
        Warning::Titles { count: 2, line: 3 },
        Warning::Turned,
        Warning::OtherEncoding {
            encoding: "windows-1252",
        },
        Warning::ColumnLeftOut {
            column: column.into(),
        },
        Warning::OtherUnit {
            column: column.into(),
            unit: "°F",
        },
        Warning::FewRows { rows: 2 },
        Warning::NoValues {
            sample: sample.into(),
        },
        Warning::Missing {
            sample: sample.into(),
            missing: 2,
            rows: 9,
        },
        Warning::SheetRead {
            sheet: column.into(),
            sheets: 3,
        },
        Warning::Probe {
            sample: sample.into(),
            detail: "so".into(),
            at_s: 60.0,
            episodes: 2,
            hint: "the lead",
        },
        Warning::Late { rows: 12 },
        Warning::NoEdge,
        Warning::LagUnknown,
        Warning::NeverOff,
        Warning::OnFromStart,
        Warning::ManyHeatings { count: 3 },
        Warning::NoMark {
            sample: sample.into(),
            marks_s: vec![60.0, 150.0],
            more: 2,
        },
        Warning::EndsBeforeMark {
            at_s: 1200.0,
            last_s: 1190.0,
        },
        Warning::TooManyMarks {
            interval_s: 1.0,
            limit: 25_000,
        },
        Warning::BadMarks { interval_s: -1.0 },
        Warning::NotAsPlanned {
            planned_s: 600.0,
            seen_s: 590.0,
        },
        Warning::UnknownPrediction { name: name.into() },
        Warning::NothingToPredict { name: name.into() },
        Warning::OrderOpen,
    ];
    let units = ["milliseconds", "seconds", "minutes", "hours", "days"];
    let clocks = ["hours and minutes of a time of day", "minutes and seconds"];
    all.extend(units.into_iter().chain(clocks).map(assumed));
    all.extend(["rises", "initial rates"].map(open));
    all.extend([None, Some(28.3)].map(|perhaps| Warning::Slip {
        column: column.into(),
        line: 3,
        written: 283.0,
        perhaps,
    }));
    all.extend(of_tables(column, sample));
    all.extend(of_layout(column, sample));
    all.extend(no_values(sample));
    all.extend(rows::of_rows());
    all
}

/// One doubt for each value that may be missing, and for each reason that has words of its own.
fn no_values(sample: &str) -> Vec<Warning> {
    let no = |what, why| Warning::NoValue {
        sample: sample.into(),
        what,
        why,
    };
    let values = [
        "start temperature",
        "peak temperature",
        "heating rate",
        "time constant",
    ];
    let mut all: Vec<Warning> = values.map(|what| no(what, "so")).into();
    all.push(no("cooling rate", "so"));
    for why in [WHY_LAGGING, WHY_OPEN] {
        all.extend(["heating rate", "cooling rate"].map(|what| no(what, why)));
    }
    all
}

/// Fails to compile when a kind of doubt is added, so that it is not forgotten above.
fn is_in_every_doubt(doubt: &Warning) -> bool {
    match doubt {
        Warning::NotNumbers { .. }
        | Warning::NoTime { .. }
        | Warning::Sorted { .. }
        | Warning::SameTime { .. }
        | Warning::Titles { .. }
        | Warning::Turned
        | Warning::OtherEncoding { .. }
        | Warning::TimeUnitAssumed { .. }
        | Warning::ColumnLeftOut { .. }
        | Warning::OtherUnit { .. }
        | Warning::Slip { .. }
        | Warning::PointInTimes { .. }
        | Warning::HoursLong { .. }
        | Warning::TableBeside { .. }
        | Warning::Difference { .. }
        | Warning::OffCurve { .. }
        | Warning::Swapped { .. }
        | Warning::RowRepeated { .. }
        | Warning::WorkedOut { .. }
        | Warning::LineForEach { .. }
        | Warning::WatchAnew { .. }
        | Warning::TimeSlip { .. }
        | Warning::Absurd { .. }
        | Warning::FewRows { .. }
        | Warning::NoValues { .. }
        | Warning::Missing { .. }
        | Warning::Late { .. }
        | Warning::NotCompared { .. }
        | Warning::RatioOpen { .. }
        | Warning::NoEdge
        | Warning::LagUnknown
        | Warning::NeverOff
        | Warning::OnFromStart
        | Warning::ManyHeatings { .. }
        | Warning::NoValue { .. }
        | Warning::NoMark { .. }
        | Warning::EndsBeforeMark { .. }
        | Warning::TooManyMarks { .. }
        | Warning::BadMarks { .. }
        | Warning::NotAsPlanned { .. }
        | Warning::SheetRead { .. }
        | Warning::Probe { .. }
        | Warning::UnknownPrediction { .. }
        | Warning::NothingToPredict { .. }
        | Warning::OrderOpen => true,
        Warning::Rows(doubt) => rows::is_in_of_rows(doubt),
    }
}

#[test]
fn every_doubt_has_its_sentence_in_every_language() {
    for language in Language::ALL {
        let words = Words::of(language);
        let mut told = BTreeSet::new();
        for doubt in every_doubt() {
            assert!(is_in_every_doubt(&doubt));
            let text = words.doubt(&doubt);
            assert!(text.ends_with('.') && told.insert(text.clone()), "{text}");
            assert!(
                language == Language::English || text != doubt.to_string(),
                "{text}"
            );
            assert!(!text.contains(['{', '}']), "{text}");
        }
    }
}
