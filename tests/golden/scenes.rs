//! The pictures that the tests look at, each with a name.

use duskmark::graph::{
    Band, ClassPicture, Curve, Degrees, EdgeKind, LampEdge, Material, Picture, Style, Theme,
    class_svg, svg,
};

/// A sample that warms towards an end from 0 s to 600 s and cools again, in degrees Celsius.
pub(crate) fn warmed(t_s: f64, start_degc: f64, rise_degc: f64, tau_s: f64) -> f64 {
    let share = |t_s: f64| 1.0 - libm::exp(-t_s.max(0.0) / tau_s);
    let left = libm::exp(-(t_s - 600.0).max(0.0) / tau_s);
    start_degc + rise_degc * share(t_s.min(600.0)) * left
}

/// A curve of a lesson from 90 s before the lamp goes on, one point each `step_s`.
pub(crate) fn lesson_curve(name: &str, rise_degc: f64, tau_s: f64, step_s: f64) -> Curve<'static> {
    let count = (1290.0 / step_s) as usize;
    let t_s: Vec<f64> = (0..=count).map(|k| -90.0 + k as f64 * step_s).collect();
    let degc: Vec<f64> = t_s
        .iter()
        .map(|t| warmed(*t, 21.5, rise_degc, tau_s))
        .collect();
    Curve {
        name: name.to_owned().into(),
        t_s: t_s.into(),
        degc: degc.into(),
        band: None,
    }
}

/// The lamp's edges of a lesson.
pub(crate) fn lesson_edges() -> Vec<LampEdge> {
    let edge = |kind, at_s, reach_s| LampEdge {
        kind,
        at_s,
        low_s: at_s - reach_s,
        high_s: at_s + reach_s,
    };
    vec![
        edge(EdgeKind::On, 0.0, 3.0),
        edge(EdgeKind::Off, 601.0, 12.0),
    ]
}

/// The double line graph.
pub(crate) fn lesson() -> Picture<'static> {
    Picture {
        title: "Roof slate and wet moss under one lamp".into(),
        curves: vec![
            lesson_curve("slate", 13.0, 260.0, 10.0),
            lesson_curve("moss", 6.5, 330.0, 10.0),
        ],
        edges: lesson_edges(),
        marks_s: (0..=20)
            .map(|k| 60.0 * f64::from(k))
            .collect::<Vec<_>>()
            .into(),
        zero_s: 0.0,
        gap_s: Some(30.0),
        is_invented: false,
    }
}

/// As many curves as asked for, on trays that differ a little.
pub(crate) fn many(count: u32) -> Picture<'static> {
    let curve = |k: u32| {
        let material = if k.is_multiple_of(2) { "slate" } else { "moss" };
        let rise = if k.is_multiple_of(2) { 13.0 } else { 6.5 } + 0.45 * f64::from(k / 2);
        lesson_curve(
            &format!("{material}, tray {}", k / 2 + 1),
            rise,
            280.0 + 9.0 * f64::from(k),
            15.0,
        )
    };
    Picture {
        curves: (0..count).map(curve).collect(),
        ..lesson()
    }
}

/// With gaps: one channel lost for a while, both lost for a while, one point alone between gaps.
fn gaps() -> Picture<'static> {
    let mut picture = lesson();
    picture.curves[0].degc.to_mut()[30..45].fill(f64::NAN);
    picture.curves[0].degc.to_mut()[38] = 31.0;
    for curve in &mut picture.curves {
        let at = 80..95;
        curve.t_s.to_mut().drain(at.clone());
        curve.degc.to_mut().drain(at);
    }
    picture
}

/// A table timed by hand.
fn five_points() -> Picture<'static> {
    let by_hand = |name: &str, degc: [f64; 5]| Curve {
        name: name.to_owned().into(),
        t_s: vec![0.0, 300.0, 600.0, 900.0, 1200.0].into(),
        degc: degc.to_vec().into(),
        band: None,
    };
    Picture {
        title: "Timed by hand".into(),
        curves: vec![
            by_hand("slate", [21.0, 29.5, 33.0, 26.0, 23.5]),
            by_hand("moss", [21.0, 25.0, 27.5, 24.5, 23.0]),
        ],
        marks_s: vec![0.0, 300.0, 600.0, 900.0, 1200.0].into(),
        ..Picture::default()
    }
}

/// Two weeks by a window, a point each half hour, with clouds.
fn fortnight() -> Picture<'static> {
    let curve = |name: &str, swing: f64, lag_h: f64| {
        let t_s: Vec<f64> = (0..=672).map(|k| 1800.0 * f64::from(k)).collect();
        let degc = t_s.iter().map(|t| {
            let day = t / 86_400.0;
            let sun = libm::sin(core::f64::consts::TAU * (day - lag_h / 24.0)).max(0.0);
            let clouds = 0.6 + 0.4 * libm::sin(2.3 * libm::floor(day));
            18.0 + swing * sun * clouds + 0.5 * libm::sin(37.0 * day)
        });
        Curve {
            name: name.to_owned().into(),
            degc: degc.collect::<Vec<_>>().into(),
            t_s: t_s.into(),
            band: None,
        }
    };
    Picture {
        title: "A fortnight on the sill".into(),
        curves: vec![curve("slate", 14.0, 6.5), curve("moss", 8.0, 7.0)],
        ..Picture::default()
    }
}

/// Both curves with their expanded uncertainty.
fn uncertain() -> Picture<'static> {
    let mut picture = lesson();
    for curve in &mut picture.curves {
        curve.band = Some(Band::around(&curve.degc, 0.6, "expanded uncertainty, 95 %"));
    }
    picture
}

/// A lesson with the two names given.
fn named(first: &str, second: &str) -> Picture<'static> {
    let mut picture = lesson();
    picture.curves[0].name = first.to_owned().into();
    picture.curves[1].name = second.to_owned().into();
    picture
}

/// A class of benches, each a little different.
pub(crate) fn class(benches: u32, has_spread: bool) -> ClassPicture<'static> {
    let material = |name: &str, rise: f64, tau_s: f64| Material {
        name: name.to_owned().into(),
        curves: (0..benches)
            .map(|k| {
                let other = libm::sin(5.0 * f64::from(k) + rise);
                lesson_curve(
                    "",
                    rise * (1.0 + 0.16 * other),
                    tau_s * (1.0 - 0.2 * other),
                    30.0,
                )
            })
            .collect(),
        ..Material::default()
    };
    ClassPicture {
        is_invented: false,
        title: "All benches of the class".into(),
        materials: vec![material("slate", 13.0, 260.0), material("moss", 6.5, 330.0)],
        edges: lesson_edges(),
        marks_s: lesson().marks_s,
        zero_s: 0.0,
        gap_s: Some(60.0),
        has_spread,
    }
}

/// Every scene with its file's name.
pub(crate) fn all() -> Vec<(&'static str, String)> {
    let page = Style::page();
    let dark = Style {
        theme: Theme::Dark,
        ..page
    };
    let fahrenheit = Style {
        degrees: Degrees::Fahrenheit,
        ..page
    };
    let (projector, phone) = (Style::projector(), Style::phone());
    let without_lamp = Picture {
        edges: Vec::new(),
        ..lesson()
    };
    let one = Picture {
        curves: vec![lesson_curve("slate", 13.0, 260.0, 10.0)],
        ..lesson()
    };
    let long = named(
        "Roof slate from the north side of the old gymnasium, tray 1",
        "Wet moss from the north side of the old gymnasium, tray 2",
    );
    vec![
        ("lesson-page", svg(&lesson(), &page)),
        ("lesson-dark", svg(&lesson(), &dark)),
        ("lesson-projector", svg(&lesson(), &projector)),
        ("lesson-phone", svg(&lesson(), &phone)),
        ("lesson-fahrenheit", svg(&lesson(), &fahrenheit)),
        ("lesson-without-lamp", svg(&without_lamp, &page)),
        ("one-channel", svg(&one, &page)),
        ("eight", svg(&many(8), &page)),
        ("eight-dark", svg(&many(8), &dark)),
        ("sixteen", svg(&many(16), &page)),
        ("sixteen-projector", svg(&many(16), &projector)),
        ("sixteen-phone", svg(&many(16), &phone)),
        ("gaps", svg(&gaps(), &page)),
        ("five-points", svg(&five_points(), &page)),
        ("fortnight", svg(&fortnight(), &page)),
        ("fortnight-phone", svg(&fortnight(), &phone)),
        ("uncertain", svg(&uncertain(), &page)),
        ("uncertain-dark", svg(&uncertain(), &dark)),
        ("long-names", svg(&long, &page)),
        ("long-names-phone", svg(&long, &phone)),
        (
            "right-to-left",
            svg(&named("لوح أردواز", "אזוב רטוב"), &page),
        ),
        (
            "emoji",
            svg(&named("slate ☀\u{fe0f}🔥", "moss 🌱👩🏽\u{200d}🏫"), &page),
        ),
        ("empty", svg(&Picture::default(), &page)),
        ("class", class_svg(&class(8, false), &page)),
        ("class-spread", class_svg(&class(8, true), &page)),
        ("class-projector", class_svg(&class(8, true), &projector)),
        ("class-dark", class_svg(&class(8, true), &dark)),
        ("class-phone", class_svg(&class(8, true), &phone)),
        ("class-of-two", class_svg(&class(2, true), &page)),
    ]
}
