//! From a series to its summary and its table of marks. Data invented.

#![expect(
    clippy::unwrap_used,
    reason = "helpers of these tests may stop a test as its own lines may"
)]

use std::fmt::Write;

use duskmark::analysis::{
    Channel, Phase, PhasePlan, Request, Series, Summary, Warning, analyse, marks_csv, phase_at,
    table,
};
use duskmark::lamp::{Edge, Kind, LampOptions};
use proptest::prelude::*;
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};

/// Air, rise, time constant of slate and moss.
const SLATE: (f64, f64, f64) = (21.0, 18.0, 400.0);
const MOSS: (f64, f64, f64) = (21.0, 9.0, 650.0);

/// A lesson of exact Newton exchange: on at 120 s, off at 840 s.
fn exact(t: f64, (air, rise, tau): (f64, f64, f64)) -> f64 {
    let step = |u: f64| if u > 0.0 { 1.0 - (-u / tau).exp() } else { 0.0 };
    air + rise * (step(t - 120.0) - step(t - 840.0))
}

fn lesson(every_s: f64, noise_degc: f64) -> Series {
    let mut rng = rand_pcg::Pcg64::seed_from_u64(11);
    let noise = Normal::new(0.0, noise_degc).unwrap();
    let t_s: Vec<f64> = (0..=(1560.0 / every_s) as usize)
        .map(|i| i as f64 * every_s)
        .collect();
    let mut channel = |name: &str, p| Channel {
        name: name.to_owned(),
        degc: t_s
            .iter()
            .map(|t| exact(*t, p) + noise.sample(&mut rng))
            .collect(),
        resolution_degc: Some(0.001),
        u_common_degc: Some(0.2),
    };
    let channels = vec![channel("slate", SLATE), channel("moss", MOSS)];
    Series {
        t_s,
        channels,
        ..Series::default()
    }
}

fn request() -> Request {
    Request {
        source: "invented".to_owned(),
        marks_s: Some(60.0),
        lamp: LampOptions::no_lags(),
        prediction: Some("Slate".to_owned()),
        plan: Some(PhasePlan {
            heat_s: 720.0,
            cool_s: 720.0,
        }),
        ..Request::default()
    }
}

/// Within four standard uncertainties, which must not be idle.
fn near(value: Option<f64>, u: Option<f64>, truth: f64, largest_u: f64) {
    let (value, u) = (value.unwrap(), u.unwrap());
    assert!(u > 0.0 && u < largest_u, "u = {u}");
    assert!(
        (value - truth).abs() < 4.0 * u,
        "{value} ± {u} is not {truth}"
    );
}

#[test]
fn a_known_lesson_gives_its_own_numbers_back() {
    let summary = analyse(&lesson(1.0, 0.03), &request());
    assert_eq!(summary.warnings, []);
    assert_eq!(summary.lamp.len(), 2);
    assert!(
        (summary.lamp[0].at_s - 120.0).abs() < 2.0 && (summary.lamp[1].at_s - 840.0).abs() < 2.0
    );
    for (sample, p) in summary.samples.iter().zip([SLATE, MOSS]) {
        let (air, rise, tau) = p;
        let (v, u) = (&sample.values, &sample.u);
        let peak = exact(840.0, p);
        let end = exact(1560.0, p);
        near(v.start_degc, u.start_degc, air, 0.3);
        near(v.peak_degc, u.peak_degc, peak, 0.3);
        near(v.end_degc, u.end_degc, end, 0.3);
        // The calibration's share is common to both and cancels.
        near(v.rise_degc, u.rise_degc, peak - air, 0.1);
        near(v.fall_degc, u.fall_degc, peak - end, 0.1);
        near(
            v.heating_rate_degc_per_min,
            u.heating_rate_degc_per_min,
            60.0 * rise / tau,
            0.1,
        );
        near(
            v.cooling_rate_degc_per_min,
            u.cooling_rate_degc_per_min,
            60.0 * (peak - air) / tau,
            0.1,
        );
        // Of moss little more than one time constant was watched: a slower part of it cannot be ruled out.
        near(v.time_constant_s, u.time_constant_s, tau, 0.05 * tau);
        near(v.air_degc, u.air_degc, air, 0.5);
    }
    let comparison = summary.comparison.unwrap();
    assert_eq!(comparison.order, ["slate", "moss"]);
    let truth = (exact(840.0, SLATE) - 21.0) / (exact(840.0, MOSS) - 21.0);
    near(comparison.rise_ratio, comparison.u.rise_ratio, truth, 0.02);
    let truth = (18.0 / 400.0) / (9.0 / 650.0);
    let u = comparison.u.initial_rate_ratio;
    // One exponential is not all that the rows of twelve minutes leave open.
    near(comparison.initial_rate_ratio, u, truth, 0.15);
    assert_eq!(comparison.prediction.unwrap().right, Some(true));
}

#[test]
fn marks_never_smear_across_an_edge() {
    let summary = analyse(&lesson(1.0, 0.03), &request());
    assert!((summary.zero_s - 120.0).abs() < 2.0);
    assert_eq!(summary.marks.len(), 27);
    for mark in &summary.marks {
        for ((degc, u), p) in mark.degc.iter().zip(&mark.u_degc).zip([SLATE, MOSS]) {
            let truth = exact(mark.at_s, p);
            // 0.2 °C common, which these readings do not have, and their noise.
            assert!((degc.unwrap() - truth).abs() < 0.08, "{mark:?} {truth}");
            assert!((0.2..0.25).contains(&u.unwrap()), "{mark:?}");
        }
    }
    let phases: Vec<Phase> = summary.marks.iter().filter_map(|m| m.phase).collect();
    assert_eq!(phases.len(), summary.marks.len());
    assert_eq!(phases[..3], [Phase::Settling; 3]);
    assert_eq!(phases[3], Phase::Heating);
    assert_eq!(*phases.last().unwrap(), Phase::Cooling);
}

#[test]
fn the_summary_has_exactly_the_promised_keys() {
    let summary = analyse(&lesson(1.0, 0.03), &request());
    let json = serde_json::to_value(&summary).unwrap();
    let keys = |v: &serde_json::Value| v.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    let sorted = |list: &[&str]| {
        let mut list: Vec<String> = list.iter().map(ToString::to_string).collect();
        list.sort();
        list
    };
    let values = [
        "start_degc",
        "peak_degc",
        "end_degc",
        "rise_degc",
        "fall_degc",
        "heating_rate_degc_per_min",
        "cooling_rate_degc_per_min",
        "time_constant_s",
        "air_degc",
        "lowest_degc",
        "highest_degc",
        "mean_degc",
    ];
    let top = [
        "format",
        "source",
        "rows",
        "interval_s",
        "lamp",
        "samples",
        "marks",
        "comparison",
        "warnings",
    ];
    assert_eq!(keys(&json), sorted(&top));
    assert_eq!(json["format"], "duskmark-summary-1");
    assert_eq!(json["lamp"][0]["edge"], "on");
    assert_eq!(json["lamp"][1]["level"], 0.95);
    assert_eq!(
        keys(&json["lamp"][0]),
        sorted(&["edge", "at_s", "low_s", "high_s", "level"])
    );
    assert_eq!(keys(&json["samples"][0]["u"]), sorted(&values));
    assert_eq!(
        keys(&json["samples"][0]),
        sorted(&[&values[..], &["name", "u"]].concat())
    );
    assert_eq!(
        keys(&json["marks"][0]),
        sorted(&["at_s", "phase", "degc", "u_degc"])
    );
    let ratios = ["rise_ratio", "initial_rate_ratio"];
    assert_eq!(
        keys(&json["comparison"]),
        sorted(&[&ratios[..], &["order", "u", "prediction"]].concat())
    );
    assert_eq!(keys(&json["comparison"]["u"]), sorted(&ratios));
    let text = serde_json::to_string(&summary).unwrap();
    assert!(
        text.starts_with("{\"format\":\"duskmark-summary-1\",\"source\":"),
        "{text}"
    );
}

#[test]
fn the_marks_table_is_rounded_to_its_uncertainty() {
    let summary = analyse(
        &lesson(1.0, 0.03),
        &Request {
            zero_s: Some(120.0),
            ..request()
        },
    );
    let text = marks_csv(&summary);
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(
        lines[0],
        "mark_min,phase,slate_degc,u_slate_degc,moss_degc,u_moss_degc"
    );
    assert!(lines[1].starts_with("-2,settling,21."), "{}", lines[1]);
    assert!(lines[3].starts_with("0,"), "{}", lines[3]);
    for line in &lines[1..] {
        let cells: Vec<&str> = line.split(',').collect();
        assert_eq!(cells.len(), 6);
        assert_eq!(cells[3], "0.20");
        assert_eq!(cells[2].split('.').nth(1).map(str::len), Some(2), "{line}");
    }
    // What we write, we read again.
    let (again, _) = table(text.as_bytes()).unwrap();
    assert_eq!(again.channels.len(), 2);
    assert_eq!(again.t_s.len(), summary.marks.len());
}

#[test]
fn a_hand_timed_table_is_enough_for_the_lesson() {
    // Common practice, no source: 12 min on, 12 min off, read every 3 min gives nine rows.
    let mut text = String::from("minutes,slate,moss\n");
    for minute in (0..=24).step_by(3) {
        let t = f64::from(minute) * 60.0 + 120.0;
        let _ = writeln!(
            text,
            "{minute},{:.1},{:.1}",
            exact(t, SLATE),
            exact(t, MOSS)
        );
    }
    let (series, _) = table(text.as_bytes()).unwrap();
    let summary = analyse(
        &series,
        &Request {
            marks_s: Some(180.0),
            ..Request::default()
        },
    );
    let off = summary.lamp.iter().find(|e| e.edge == Kind::Off).unwrap();
    assert!(off.low_s <= 720.0 && 720.0 <= off.high_s, "{off:?}");
    assert!(off.high_s - off.low_s > 6.0, "{off:?}");
    assert_eq!(summary.marks.len(), 9);
    assert!(
        summary
            .marks
            .iter()
            .all(|m| m.degc.iter().all(Option::is_some))
    );
    let slate = &summary.samples[0].values;
    assert!((slate.rise_degc.unwrap() - (exact(840.0, SLATE) - 21.0)).abs() < 1.0);
    assert_eq!(summary.comparison.unwrap().order, ["slate", "moss"]);
}

#[test]
fn what_the_data_cannot_say_is_none_with_a_reason() {
    let channel = |name: &str, degc: f64| Channel {
        name: name.into(),
        degc: vec![degc; 100],
        resolution_degc: None,
        u_common_degc: None,
    };
    let flat = Series {
        t_s: (0..100).map(f64::from).collect(),
        channels: vec![channel("slate", 20.0), channel("moss", f64::NAN)],
        ..Series::default()
    };
    let summary = analyse(&flat, &Request::default());
    assert_eq!(summary.lamp, []);
    assert!(summary.warnings.contains(&Warning::NoEdge));
    assert!(summary.warnings.contains(&Warning::NoValues {
        sample: "moss".into()
    }));
    assert_eq!(summary.samples[0].values.peak_degc, None);
    assert_eq!(summary.samples[1].values.start_degc, None);
    assert_eq!(summary.comparison, None);
    let empty = analyse(&Series::default(), &Request::default());
    assert_eq!((empty.rows, empty.interval_s), (0, None));
}

#[test]
fn marks_that_make_no_sense_are_refused_in_words() {
    let series = lesson(5.0, 0.03);
    for every in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let summary = analyse(
            &series,
            &Request {
                marks_s: Some(every),
                ..request()
            },
        );
        assert_eq!(summary.marks, []);
        assert!(
            summary
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::BadMarks { .. })),
            "{every}"
        );
    }
    let summary = analyse(
        &series,
        &Request {
            marks_s: Some(1e-3),
            ..request()
        },
    );
    assert!(
        summary
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::TooManyMarks { .. }))
    );
}

#[test]
fn a_plan_that_was_not_kept_is_noticed() {
    let plan = Some(PhasePlan {
        heat_s: 600.0,
        cool_s: 600.0,
    });
    let summary = analyse(&lesson(1.0, 0.03), &Request { plan, ..request() });
    assert!(
        summary
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::NotAsPlanned { .. }))
    );
}

#[test]
fn phases_follow_the_edges() {
    let edge = |edge, at_s| Edge {
        edge,
        at_s,
        low_s: at_s,
        high_s: at_s,
        level: 0.95,
    };
    let lesson = [edge(Kind::On, 10.0), edge(Kind::Off, 20.0)];
    for (t, phase) in [
        (5.0, Phase::Settling),
        (10.0, Phase::Settling),
        (15.0, Phase::Heating),
        (20.0, Phase::Heating),
        (21.0, Phase::Cooling),
    ] {
        assert_eq!(phase_at(t, &lesson), Some(phase), "{t}");
    }
    assert_eq!(phase_at(5.0, &lesson[1..]), Some(Phase::Heating));
    assert_eq!(phase_at(5.0, &[]), None);
}

fn finite(summary: &Summary) -> bool {
    let text = serde_json::to_string(summary).unwrap();
    marks_csv(summary).lines().count() == summary.marks.len() + 1
        && text.contains("duskmark-summary-1")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn any_series_gets_a_summary(
        steps in prop::collection::vec(1e-3..500.0_f64, 0..50),
        degc in prop::collection::vec(prop_oneof![4 => -30.0..120.0_f64, 1 => Just(f64::NAN), 1 => Just(-1e250)], 50),
        marks in prop::option::of(-1.0..1e4_f64),
    ) {
        let t_s: Vec<f64> = steps.iter().scan(0.0, |t, d| { *t += d; Some(*t) }).collect();
        let channel = |shift: usize| Channel {
            name: format!("=cmd{shift}"),
            degc: degc.iter().cycle().skip(shift).take(t_s.len()).copied().collect(),
            resolution_degc: Some(0.1),
            u_common_degc: None,
        };
        let channels = vec![channel(0), channel(7)];
        let series = Series { t_s: t_s.clone(), channels, ..Series::default() };
        let summary = analyse(&series, &Request { marks_s: marks, ..Request::default() });
        prop_assert!(finite(&summary));
    }
}
