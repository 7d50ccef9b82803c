//! What a lesson's sentences claim, on summaries made for it.

use super::super::setting::End;
use super::*;
use crate::analysis::{Comparison, Sample, SampleValues, Series, analyse};
use crate::lamp::{Edge, Kind};

/// A summary of samples with these rises, a lamp that went on and off, the first so many compared.
fn summary(rises: &[(&str, f64)], compared: usize) -> Summary {
    let sample = |(name, rise): &(&str, f64)| Sample {
        name: (*name).to_owned(),
        values: SampleValues {
            rise_degc: Some(*rise),
            lowest_degc: Some(22.1),
            highest_degc: Some(22.1),
            mean_degc: Some(22.1),
            ..SampleValues::default()
        },
        u: SampleValues {
            rise_degc: Some(0.1),
            ..SampleValues::default()
        },
    };
    let edge = |edge, at_s: f64| Edge {
        edge,
        at_s,
        low_s: at_s - 2.0,
        high_s: at_s + 2.0,
        level: 0.95,
    };
    let mut all = analyse(&Series::default(), &crate::analysis::Request::default());
    all.samples = rises.iter().map(sample).collect();
    all.lamp = vec![edge(Kind::On, 92.0), edge(Kind::Off, 692.0)];
    all.warnings.clear();
    let names = rises.iter().map(|(name, _)| (*name).to_owned());
    all.comparison = Some(Comparison {
        order: names.take(compared).collect(),
        rise_ratio: Some(1.93),
        initial_rate_ratio: None,
        u: crate::analysis::RatioUncertainty {
            rise_ratio: Some(0.059),
            initial_rate_ratio: None,
        },
        prediction: None,
        predictions: Vec::new(),
    });
    all
}

/// The page's text without its tags, blanks that bind as plain ones.
fn told(summary: &Summary, language: Language, change: impl Fn(&mut Lesson<'_>)) -> String {
    let mut lesson = Lesson {
        title: "bench 1",
        summary,
        graph_svg: "",
        narrow_svg: "",
        degrees: Degrees::Celsius,
        steps: Steps::default(),
        set_up: SetUp::default(),
        record: Record::default(),
        version: "0",
    };
    change(&mut lesson);
    let html = lesson.html(language);
    let (_, body) = html.split_once("<body>").unwrap();
    let parts = body
        .split('<')
        .map(|part| part.split_once('>').map_or(part, |(_, text)| text));
    parts.collect::<String>().replace('\u{A0}', " ")
}

fn says(text: &str, parts: &[&str], none: &[&str]) {
    for part in parts {
        assert!(text.contains(part), "{part} is missing in\n{text}");
    }
    for part in none {
        assert!(!text.contains(part), "{part} stands in\n{text}");
    }
}

#[test]
fn ratios_name_the_samples_that_are_compared() {
    let with_air = summary(&[("slate", 8.1), ("moss", 4.2), ("air", 0.1)], 2);
    for (language, said) in [
        (Language::English, "slate to moss: 1.93 ± 0.12"),
        (Language::German, "„slate“ zu „moss“: 1,93 ± 0,12"),
        (Language::French, "« slate » / « moss » : 1,93 ± 0,12"),
    ] {
        says(
            &told(&with_air, language, |_| {}),
            &[said],
            &["to air", "„air“:"],
        );
    }
}

#[test]
fn what_cools_is_not_told_as_warming() {
    let cooled = summary(&[("moss", -0.9), ("slate", -2.1)], 2);
    let english = told(&cooled, Language::English, |_| {});
    says(
        &english,
        &["slate cooled by 2.1 °C."],
        &["warmed most", "by −", "by -"],
    );
    let even = summary(&[("slate", 0.01)], 1);
    says(
        &told(&even, Language::French, |_| {}),
        &["« slate » est resté à la même température."],
        &["de 0,0"],
    );
    let german = told(&cooled, Language::German, |_| {});
    says(
        &german,
        &["kühlte „slate“ um 2,1 °C ab."],
        &["Am stärksten"],
    );
}

#[test]
fn what_nobody_saw_is_not_told_as_done() {
    let mut unlit = summary(&[("slate", 0.0)], 1);
    unlit.lamp.clear();
    unlit.comparison = None;
    unlit.samples[0].values.rise_degc = None;
    unlit.warnings = vec![Warning::NoEdge];
    let planned = |lesson: &mut Lesson<'_>| lesson.steps.heat_s = Some(600.0);
    says(
        &told(&unlit, Language::German, planned),
        &[
            "Die Lampe sollte ein- und später ausgeschaltet werden.",
            "„slate“ blieb bei 22,1 °C.",
        ],
        &["Die Lampe wurde", "stimmen", "zwischen 22,1"],
    );
    unlit.warnings.push(Warning::NoTime { count: 1, line: 3 });
    says(
        &told(&unlit, Language::English, planned),
        &["1 row has no usable time", "The lamp was to be switched on"],
        &["No reading is missing", "marks.csv", "sound"],
    );
    let going_on = |lesson: &mut Lesson<'_>| {
        lesson.record.end = End::ToCome;
        lesson.record.has_files = true;
    };
    says(
        &told(&unlit, Language::English, going_on),
        &["still going on", "stand in marks.csv"],
        &["cut off"],
    );
}

#[test]
fn switchings_are_told_by_the_clock_that_people_look_at() {
    let mut own = summary(&[("slate", 8.1), ("moss", 4.2)], 2);
    own.first_s = 38_900.0;
    own.lamp[0].at_s = 38_991.0;
    let german = told(&own, Language::German, |_| {});
    says(
        &german,
        &["um 10:49:51 Uhr an", "Uhrzeit"],
        &["38", "bei 10:49"],
    );
    own.first_s = 0.0;
    own.lamp[0].at_s = -9.0;
    let before = told(&own, Language::German, |_| {});
    says(&before, &["ging 9 s vor Beginn an"], &["bei −0:09"]);
}

#[test]
fn notes_and_boards_are_told_in_the_pages_language() {
    let lesson = summary(&[("slate", 8.1), ("moss", 4.2)], 2);
    let noted = |lesson: &mut Lesson<'_>| {
        let record = &mut lesson.record;
        record.notes = vec![(
            60.0,
            "Fenster (offen) (noted afterwards, 2026-03-14T11:02:05Z)".into(),
        )];
        record.events = vec![("renamed".into(), 1), ("prediction".into(), 5)];
        (record.board, record.dialect) = (Some("K7F2".into()), Some("native".into()));
    };
    says(
        &told(&lesson, Language::German, noted),
        &[
            "Fenster (offen) (nachträglich notiert, 2026-03-14 11:02 UTC)",
            "Probe nachträglich umbenannt: 1-mal",
            "K7F2 (Zeilen: duskmarks eigene)",
        ],
        &["noted afterwards", "renamed", "5-mal"],
    );
}
