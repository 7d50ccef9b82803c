//! A body that follows no single exponential, and errors that last, get uncertainties that say so.
//!
//! Made-up curves with a known answer: both nodes of a bench in air of 22 °C, ten minutes lamp on
//! and ten off, a row a second, with a wobble of a few hundredths of a degree.

use duskmark::analysis::{Channel, Request, Sample, Series, Summary, analyse};
use duskmark::lamp::{Kind, LampOptions};
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

const AIR_DEGC: f64 = 22.0;

/// The sample's numbers for a rise that is the sum of these (rise, time constant) parts.
fn sample(parts: &[(f64, f64)]) -> Sample {
    let t_s: Vec<f64> = (0..1300).map(f64::from).collect();
    let step = |t: f64, tau: f64| if t > 0.0 { 1.0 - (-t / tau).exp() } else { 0.0 };
    let degc = t_s
        .iter()
        .map(|&t| {
            let warm: f64 = parts
                .iter()
                .map(|&(rise, tau)| rise * (step(t - 100.0, tau) - step(t - 700.0, tau)))
                .sum();
            let wobble = 0.02 * (t * 12.9898).sin() + 0.02 * (t * 78.233).cos();
            ((AIR_DEGC + warm + wobble) * 1000.0).round() / 1000.0
        })
        .collect();
    let series = Series {
        t_s,
        channels: vec![Channel {
            name: "slate".into(),
            degc,
            resolution_degc: Some(0.001),
            u_common_degc: None,
        }],
        ..Series::default()
    };
    let request = Request {
        lamp: LampOptions::no_lags(),
        ..Request::default()
    };
    let mut summary = analyse(&series, &request);
    assert_eq!(summary.lamp.len(), 2, "{:?}", summary.lamp);
    summary.samples.remove(0)
}

/// A value and its standard uncertainty.
#[track_caller]
fn both(value: Option<f64>, u: Option<f64>) -> (f64, f64) {
    (value.expect("a value"), u.expect("an uncertainty"))
}

#[test]
fn one_exponential_is_known_well() {
    let slate = sample(&[(12.0, 250.0)]);
    let (tau, u_tau) = both(slate.values.time_constant_s, slate.u.time_constant_s);
    assert!(
        (tau - 250.0).abs() < 3.0 * u_tau.max(1.0),
        "{tau} ± {u_tau}"
    );
    assert!(u_tau < 0.03 * tau, "{tau} ± {u_tau}");
    let (air, u_air) = both(slate.values.air_degc, slate.u.air_degc);
    assert!(
        (air - AIR_DEGC).abs() < 3.0 * u_air.max(0.02),
        "{air} ± {u_air}"
    );
    let (rate, u_rate) = both(
        slate.values.cooling_rate_degc_per_min,
        slate.u.cooling_rate_degc_per_min,
    );
    let truth = 60.0 * 12.0 * (1.0 - (-600.0_f64 / 250.0).exp()) / 250.0;
    assert!(
        (rate - truth).abs() < 3.0 * u_rate.max(0.02),
        "{rate} ± {u_rate} of {truth}"
    );
}

#[test]
fn two_exponentials_do_not_pass_for_one() {
    let slate = sample(&[(4.0, 25.0), (8.0, 400.0)]);
    let (tau, u_tau) = both(slate.values.time_constant_s, slate.u.time_constant_s);
    assert!(u_tau > 0.1 * tau, "a false precision: {tau} ± {u_tau}");
    // The fast part is there in the first rate, though one exponential leaves it out.
    let (rate, u_rate) = both(
        slate.values.heating_rate_degc_per_min,
        slate.u.heating_rate_degc_per_min,
    );
    let truth = 60.0 * (4.0 / 25.0 + 8.0 / 400.0);
    assert!(
        (rate - truth).abs() < 3.0 * u_rate && u_rate < 0.2 * truth,
        "{rate} ± {u_rate} of {truth}"
    );
    let (air, u_air) = both(slate.values.air_degc, slate.u.air_degc);
    assert!(
        (air - AIR_DEGC).abs() < 2.5 * u_air,
        "{air} ± {u_air} is not {AIR_DEGC}"
    );
}

/// Rises and time constants of two samples that exchange heat after Newton.
const BODIES: [(f64, f64); 2] = [(18.0, 400.0), (9.0, 650.0)];

/// Temperature of one of them: lamp on at 120 s, off at 840 s.
fn newton(t: f64, (rise, tau): (f64, f64)) -> f64 {
    let step = |u: f64| 1.0 - (-u.max(0.0) / tau).exp();
    AIR_DEGC + rise * (step(t - 120.0) - step(t - 840.0))
}

#[test]
fn errors_that_last_are_in_the_uncertainty() {
    // Each error keeps 0.8 of the one before: uncertainties for independent rows, which once were
    // stated here, are a third of what these deserve.
    let t_s: Vec<f64> = (0..1500).map(f64::from).collect();
    let (mut square, mut count) = (0.0, 0.0);
    for seed in 0..6 {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(seed);
        let channels = BODIES.map(|body| {
            let mut error = 0.0;
            let degc = t_s.iter().map(|&t| {
                let new: f64 = StandardNormal.sample(&mut rng);
                error = 0.8 * error + 0.6 * 0.03 * new;
                newton(t, body) + error
            });
            Channel {
                name: format!("slate of {} s", body.1),
                degc: degc.collect(),
                resolution_degc: None,
                u_common_degc: None,
            }
        });
        let series = Series {
            t_s: t_s.clone(),
            channels: channels.into(),
            ..Series::default()
        };
        let request = Request {
            lamp: LampOptions::no_lags(),
            marks_s: Some(60.0),
            ..Request::default()
        };
        let summary = analyse(&series, &request);
        let mut add = |value: Option<f64>, u: Option<f64>, truth: f64| {
            let (value, u) = both(value, u);
            square += ((value - truth) / u).powi(2);
            count += 1.0;
        };
        for mark in &summary.marks {
            for (i, body) in BODIES.into_iter().enumerate() {
                add(mark.degc[i], mark.u_degc[i], newton(mark.at_s, body));
            }
        }
        for (sample, body) in summary.samples.iter().zip(BODIES) {
            let (v, u) = (&sample.values, &sample.u);
            let rise = newton(840.0, body) - AIR_DEGC;
            add(v.rise_degc, u.rise_degc, rise);
        }
    }
    let rms = f64::sqrt(square / count);
    assert!(count > 250.0, "{count}");
    assert!((0.5..1.3).contains(&rms), "{rms:.2} uncertainties");
}

/// Two samples with a row every `step_s`, in tenths of a degree.
fn bench(step_s: f64, ways: [&dyn Fn(f64) -> f64; 2]) -> Summary {
    let t_s: Vec<f64> = (0..=(1500.0 / step_s) as usize)
        .map(|row| row as f64 * step_s)
        .collect();
    let channels = ways.iter().zip(["slate", "moss"]).map(|(way, name)| {
        let read = |t: &f64| ((way(*t) + 0.03 * (t * 12.9898).sin()) * 10.0).round() / 10.0;
        Channel {
            name: name.into(),
            degc: t_s.iter().map(read).collect(),
            resolution_degc: Some(0.1),
            u_common_degc: None,
        }
    });
    let series = Series {
        channels: channels.collect(),
        t_s,
        ..Series::default()
    };
    let request = Request {
        prediction: Some("slate".into()),
        ..Request::default()
    };
    analyse(&series, &request)
}

#[test]
fn a_sample_taken_away_is_not_the_lamp_going_off() {
    let [slate, moss] = BODIES;
    // From 400 s on it stands beside the lamp.
    let away = move |t: f64| {
        let (rise, tau) = slate;
        let step = |u: f64| 1.0 - (-u.max(0.0) / tau).exp();
        AIR_DEGC + rise * (step(t - 120.0) - step(t - 400.0))
    };
    let found = bench(2.0, [&away, &|t| newton(t, moss)]);
    let off = found
        .lamp
        .iter()
        .find(|edge| edge.edge == Kind::Off)
        .unwrap();
    assert!((off.low_s..off.high_s).contains(&840.0), "{off:?}");
    let [slate, moss] = found.samples.as_slice() else {
        panic!("two samples");
    };
    assert!(slate.values.rise_degc.is_none() && slate.values.end_degc.is_none());
    assert!(moss.values.rise_degc.is_some());
    assert!(found.comparison.is_none());
    let said: Vec<String> = found.warnings.iter().map(ToString::to_string).collect();
    assert!(
        said.iter().any(|one| one.contains("was it moved")),
        "{said:#?}"
    );
}

#[test]
fn a_lamp_that_was_on_before_the_first_row_has_no_first_heating_rate() {
    for step_s in [2.0, 60.0] {
        let late = |body| move |t: f64| newton(t + 240.0, body);
        let found = bench(step_s, [&late(BODIES[0]), &late(BODIES[1])]);
        let kinds: Vec<Kind> = found.lamp.iter().map(|edge| edge.edge).collect();
        assert_eq!(kinds, [Kind::Off], "rows every {step_s} s");
        for sample in &found.samples {
            assert_eq!(sample.values.heating_rate_degc_per_min, None);
            assert!(sample.values.cooling_rate_degc_per_min.is_some());
        }
        let compared = found.comparison.unwrap();
        assert_eq!(compared.initial_rate_ratio, None);
    }
}

#[test]
fn samples_that_come_to_the_rooms_temperature_saw_no_lamp() {
    // Two layers each: the outer one is there in minutes, the inner one in half an hour.
    let room = |degc: f64| {
        move |t: f64| AIR_DEGC + degc * (0.3 * (-t / 150.0).exp() + 0.7 * (-t / 1500.0).exp())
    };
    // Two that warm could as well be lit from the first row on.
    for pair in [(3.0, -6.0), (4.0, 7.0)] {
        let found = bench(60.0, [&room(pair.0), &room(pair.1)]);
        assert_eq!(found.lamp, [], "{pair:?}");
        let verdict = found.comparison.and_then(|c| c.prediction?.right);
        assert_eq!(verdict, None, "{pair:?}");
    }
}
