//! Pictures of a class: every bench thin, medians thick, and what the note says.

use super::*;

fn class(benches: [usize; 2]) -> ClassPicture<'static> {
    let curves = |n: usize, degc: f64| {
        let one = |k: usize| wave("", 300, 1200.0, degc + k as f64);
        (0..n).map(one).collect()
    };
    let material = |name: &'static str, n, degc| Material {
        name: name.into(),
        curves: curves(n, degc),
        others: Vec::new(),
    };
    ClassPicture {
        title: "The class".into(),
        materials: vec![
            material("slate", benches[0], 30.0),
            material("moss", benches[1], 20.0),
        ],
        has_spread: true,
        ..ClassPicture::default()
    }
}

#[test]
fn a_class_has_every_bench_thin_and_each_median_thick_and_named() {
    let document = class_svg(&class([5, 5]), &Style::default());
    let paths: Vec<&str> = document
        .lines()
        .filter(|l| l.starts_with("<path"))
        .collect();
    let of = |hex: &str| paths.iter().filter(|l| l.contains(hex)).count();
    let palette = Palette::of(Theme::Paper);
    assert_eq!(of(&palette.faint(0).hex()), 5);
    assert_eq!(of(&palette.faint(1).hex()), 5);
    assert_eq!((of("#0072B2"), of("#D55E00")), (1, 1));
    assert_eq!(count(&document, "polygon"), 2);
    let note = ">thin: 5 benches · thick: median · shaded: middle half of the benches<";
    for text in [">slate<", ">moss<", note] {
        assert!(document.contains(text), "{text}");
    }
    // The median of five curves one degree apart is the third: it begins where the third does.
    assert!(document.contains("slate: first 32.0"));
}

#[test]
fn a_class_of_unequal_numbers_says_so_and_an_empty_one_is_drawn() {
    let document = class_svg(&class([3, 1]), &Style::default());
    assert!(document.contains("thin: 3 benches of slate, 1 bench of moss"));
    assert!(document.contains("shaded: whole range of the benches"));
    for empty in [class([0, 0]), ClassPicture::default()] {
        parsed(&class_svg(&empty, &Style::phone()));
    }
}

#[test]
fn a_long_note_goes_on_in_the_next_line() {
    let style = Style {
        width: 300.0,
        ..Style::phone()
    };
    let document = class_svg(&class([5, 5]), &style);
    let notes = document
        .lines()
        .filter(|l| l.contains(">thin:") || l.contains(">shaded:"));
    assert_eq!(notes.count(), 2);
}
