//! Whole pictures: well-formed, safe, the same each time, and quick.

mod class;

use proptest::prelude::*;
use quick_xml::Reader;
use quick_xml::events::Event;

use super::*;

fn curve(name: &str, points: &[(f64, f64)]) -> Curve<'static> {
    let (t_s, degc): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    Curve {
        name: name.to_owned().into(),
        t_s: t_s.into(),
        degc: degc.into(),
        band: None,
    }
}

fn wave(name: &str, n: usize, span_s: f64, degc: f64) -> Curve<'static> {
    let point = |k: usize| {
        let share = k as f64 / n as f64;
        (share * span_s, degc + 5.0 * (share * 9.0).sin())
    };
    curve(name, &(0..n).map(point).collect::<Vec<_>>())
}

fn lesson() -> Picture<'static> {
    Picture {
        title: "Slate and moss under the lamp".into(),
        curves: vec![
            wave("slate", 1200, 1200.0, 25.0),
            wave("moss", 1200, 1200.0, 23.0),
        ],
        edges: vec![
            LampEdge {
                kind: EdgeKind::On,
                at_s: 92.0,
                low_s: 90.0,
                high_s: 94.0,
            },
            LampEdge {
                kind: EdgeKind::Off,
                at_s: 695.0,
                low_s: 692.0,
                high_s: 698.0,
            },
        ],
        marks_s: vec![152.0, 212.0, 272.0].into(),
        zero_s: 92.0,
        gap_s: None,
        is_invented: false,
    }
}

#[test]
fn invented_readings_are_told_at_the_foot_of_any_picture() {
    let said = "invented readings, from a virtual bench";
    let invented = Picture {
        is_invented: true,
        ..lesson()
    };
    for style in [Style::page(), Style::phone(), Style::projector()] {
        assert!(svg(&invented, &style).contains(said));
        assert!(!svg(&lesson(), &style).contains(said));
    }
}

/// Element names; panics where the document is not well-formed.
fn parsed(document: &str) -> Vec<String> {
    let mut reader = Reader::from_str(document);
    reader.config_mut().check_end_names = true;
    let (mut names, mut depth) = (Vec::new(), 0_i32);
    loop {
        match reader.read_event().expect("well-formed") {
            Event::Start(tag) => {
                depth += 1;
                assert!(tag.attributes().all(|a| a.is_ok()));
                names.push(tag.name().as_ref().to_owned());
            }
            Event::Empty(tag) => {
                assert!(tag.attributes().all(|a| a.is_ok()));
                names.push(tag.name().as_ref().to_owned());
            }
            Event::End(_) => depth -= 1,
            Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!(depth, 0);
    names
}

fn count(document: &str, element: &str) -> usize {
    parsed(document)
        .iter()
        .filter(|name| *name == element)
        .count()
}

#[test]
fn a_lesson_has_title_description_axes_names_and_edges() {
    let document = svg(&lesson(), &Style::default());
    let names = parsed(&document);
    assert_eq!(names[..3], ["svg", "title", "desc"]);
    assert!(document.contains("width=\"960\" height=\"540\" viewBox=\"0 0 960 540\""));
    assert!(document.contains("role=\"img\""));
    for text in [
        "Temperature / °C",
        "Time / min",
        ">slate<",
        ">moss<",
        ">lamp on 0:00 ± 2 s<",
        ">lamp off 10:03 ± 3 s<",
    ] {
        assert!(document.contains(text), "{text}");
    }
    assert!(
        document.contains("#0072B2")
            && document.contains("#D55E00")
            && document.contains("stroke-dasharray")
    );
    assert_eq!(count(&document, "path"), 2);
}

#[test]
fn the_same_picture_gives_the_same_bytes() {
    assert_eq!(
        svg(&lesson(), &Style::default()),
        svg(&lesson(), &Style::default())
    );
}

#[test]
fn nothing_outside_is_asked_for_and_no_style_or_script_is_used() {
    let document = svg(&lesson(), &Style::default());
    let without_namespace = document.replace("http://www.w3.org/2000/svg", "");
    for word in [
        "http", "href", "url(", "<script", "<style", "style=", "@import", " on",
    ] {
        let found = without_namespace.matches(word).count();
        // The lamp goes on: in the label and in the description.
        assert_eq!(found, if word == " on" { 2 } else { 0 }, "{word}");
    }
}

#[test]
fn hostile_names_and_titles_are_only_text() {
    let evil = "</text><script>alert(1)</script>\u{0}\u{1b}[2J&\"'\u{202e}";
    let mut picture = lesson();
    picture.title = evil.into();
    picture.curves[0].name = evil.into();
    let style = Style {
        width: 4000.0,
        ..Style::default()
    };
    let document = svg(&picture, &style);
    let names = parsed(&document);
    assert!(!names.contains(&"script".to_owned()));
    assert!(document.contains("&lt;script&gt;"));
    assert!(document.chars().all(|c| c == '\n' || !c.is_control()));
    assert!(!document.contains('\u{202e}'));
}

#[test]
fn odd_pictures_are_drawn_too() {
    let nan = f64::NAN;
    let odd: Vec<Vec<Curve<'_>>> = vec![
        vec![],
        vec![curve("none", &[])],
        vec![curve("one", &[(5.0, 21.0)])],
        vec![curve("two", &[(5.0, 21.0), (6.0, 21.5)])],
        vec![curve("constant", &[(0.0, 21.0), (600.0, 21.0)])],
        vec![curve(
            "nan",
            &[(0.0, nan), (nan, 20.0), (f64::INFINITY, f64::NEG_INFINITY)],
        )],
        vec![curve(
            "huge",
            &[
                (-1e300, 1e300),
                (0.0, f64::MAX),
                (1e11, 999_999.0),
                (0.0, -999_999.0),
            ],
        )],
        (0..16)
            .map(|k| wave(&format!("sample {k}"), 300, 600.0, f64::from(k)))
            .collect(),
        (0..128)
            .map(|k| wave(&format!("bench {k}"), 30, 600.0, f64::from(k) / 30.0))
            .collect(),
    ];
    let edges = vec![
        LampEdge {
            kind: EdgeKind::Off,
            at_s: nan,
            low_s: nan,
            high_s: nan,
        },
        LampEdge {
            kind: EdgeKind::Off,
            at_s: 3.0,
            low_s: nan,
            high_s: nan,
        },
        LampEdge {
            kind: EdgeKind::On,
            at_s: 4.0,
            low_s: 5.0,
            high_s: 3.0,
        },
    ];
    for curves in odd {
        for (width, height) in [
            (960.0, 540.0),
            (1.0, nan),
            (160.0, 120.0),
            (300.0, 3000.0),
            (1e9, 200.0),
        ] {
            let picture = Picture {
                curves: curves.clone(),
                edges: edges.clone(),
                zero_s: nan,
                ..lesson()
            };
            let document = svg(
                &picture,
                &Style {
                    width,
                    height,
                    theme: Theme::Dark,
                    ..Style::default()
                },
            );
            parsed(&document);
            assert!(
                !document.contains("NaN") && !document.contains("inf"),
                "{document}"
            );
        }
    }
}

#[test]
fn a_gap_splits_the_line_and_a_lone_point_is_a_dot() {
    let gap = f64::NAN;
    let mut picture = Picture {
        curves: vec![wave("slate", 1200, 1200.0, 25.0)],
        ..Picture::default()
    };
    picture.curves[0].degc.to_mut()[400..500].fill(gap);
    picture.curves[0].degc.to_mut()[501..600].fill(gap);
    let document = svg(&picture, &Style::default());
    assert_eq!(
        (count(&document, "path"), count(&document, "circle")),
        (2, 1)
    );
}

#[test]
fn more_than_a_million_points_are_drawn_in_two_per_column() {
    let n = 1_200_000;
    let mut curves = vec![wave("slate", n, 1.2e6, 25.0), wave("moss", n, 1.2e6, 23.0)];
    curves[0].degc.to_mut()[777_777] = 60.0;
    let picture = Picture { curves, ..lesson() };
    let document = svg(&picture, &Style::default());
    assert!(document.len() < 60_000, "{} bytes", document.len());
    assert!(document.contains("highest 60.0"));
    let path = document
        .lines()
        .find(|line| line.starts_with("<path"))
        .unwrap();
    assert!(path.matches('L').count() < 2 * 960);
}

#[test]
fn every_text_contrasts_with_the_ground() {
    for theme in [Theme::Paper, Theme::Dark, Theme::Beam] {
        let curves = (0..8)
            .map(|k| wave(&format!("sample {k}"), 30, 600.0, f64::from(k)))
            .collect();
        let picture = Picture { curves, ..lesson() };
        let document = svg(
            &picture,
            &Style {
                theme,
                ..Style::default()
            },
        );
        let ground = Palette::of(theme).ground;
        let fills = document.lines().filter(|line| line.starts_with("<text"));
        let mut texts = 0;
        for line in fills {
            let hex = line.split("fill=\"#").nth(1).unwrap().get(..6).unwrap();
            let part = |k: usize| u8::from_str_radix(&hex[k..k + 2], 16).unwrap();
            let fill = colour::Colour(part(0), part(2), part(4));
            assert!(colour::contrast(fill, ground) >= 4.5, "{line}");
            texts += 1;
        }
        assert!(texts > 15);
    }
}

#[test]
fn fahrenheit_is_on_the_axis_and_in_the_words() {
    let style = Style {
        degrees: Degrees::Fahrenheit,
        ..Style::page()
    };
    let picture = Picture {
        curves: vec![curve("slate", &[(0.0, 0.0), (600.0, 100.0)])],
        ..Picture::default()
    };
    let document = svg(&picture, &style);
    assert!(document.contains(">Temperature / °F<") && !document.contains("°C"));
    // Ice and steam (NIST SP 811, B.8).
    assert!(document.contains("lowest 32.0, highest 212.0"));
    for tick in [">50<", ">100<", ">200<"] {
        assert!(document.contains(tick), "{tick}");
    }
}

#[test]
fn a_band_is_shaded_explained_and_split_where_it_has_a_gap() {
    let mut picture = lesson();
    picture.curves[0].degc.to_mut()[500..600].fill(f64::NAN);
    let degc = picture.curves[0].degc.clone();
    picture.curves[0].band = Some(Band::around(&degc, 5.0, "expanded uncertainty, 95 %"));
    let document = svg(&picture, &Style::default());
    assert_eq!(count(&document, "polygon"), 2);
    assert!(document.contains(">shaded: expanded uncertainty, 95 % · ±: "));
    // The axis reaches over the band: the wave goes up to 30 °C.
    assert!(document.contains(">35<"));
}

proptest! {
    #[test]
    fn any_names_and_numbers_make_a_well_formed_picture(
        title in any::<String>(),
        name in any::<String>(),
        points in proptest::collection::vec((any::<f64>(), any::<f64>()), 0..40),
        edge in any::<(f64, f64, f64)>(),
        marks in proptest::collection::vec(any::<f64>(), 0..5),
        size in any::<(f64, f64)>(),
    ) {
        let (t_s, degc): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        let picture = Picture {
            title: title.into(),
            curves: vec![Curve { name: name.into(), t_s: t_s.into(), degc: degc.into(), band: None }],
            edges: vec![LampEdge { kind: EdgeKind::On, at_s: edge.0, low_s: edge.1, high_s: edge.2 }],
            marks_s: marks.into(),
            zero_s: edge.2,
            gap_s: Some(edge.1),
            is_invented: false,
        };
        let document = svg(&picture, &Style { width: size.0, height: size.1, ..Style::default() });
        let names = parsed(&document);
        let known = ["svg", "title", "desc", "rect", "line", "path", "text", "circle", "polygon"];
        prop_assert!(names.iter().all(|name| known.contains(&name.as_str())));
    }
}
