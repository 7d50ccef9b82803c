//! The thermal model against what physics says of it.

use proptest::prelude::*;

use super::*;
use crate::sim::material::ProbeSpec;

fn still_air() -> AirSpec {
    AirSpec {
        mean_degc: 23.0,
        drift_degc: 0.0,
        day: None,
    }
}

fn lamp_from(on_s: f64, off_s: f64) -> LampSpec {
    LampSpec {
        on_off_s: vec![(on_s, off_s)],
        warm_up_s: 2.0,
        afterglow_s: 3.0,
    }
}

fn surfaces(bench: &ThermalBench) -> Vec<f64> {
    bench.surface_degc().collect()
}

#[test]
fn lamp_left_on_ends_where_power_in_equals_power_out() {
    let samples = [SampleSpec::slate(), SampleSpec::moss()];
    let mut bench = ThermalBench::new(still_air(), lamp_from(0.0, f64::INFINITY), &samples, 1);
    bench.advance_to(40_000.0);
    for (body, spec) in bench.bodies.iter().zip(&samples) {
        let to_air = spec.surface_air_w_per_k * (body.surface_degc - 23.0);
        let to_water = spec.wet_w_per_k * (body.surface_degc - 23.0 + spec.wet_below_air_degc);
        let from_bulk = spec.bulk_air_w_per_k * (body.bulk_degc - 23.0);
        assert!((to_air + to_water + from_bulk - spec.lamp_w).abs() < 1e-9);
        assert!((body.tip_degc - body.surface_degc).abs() < 1e-9);
    }
}

#[test]
fn a_closed_pair_of_nodes_keeps_its_heat() {
    // Next to no way out: the pair evens out at the mean weighted by heat capacity.
    let spec = SampleSpec {
        surface_air_w_per_k: 1e-12,
        bulk_air_w_per_k: 1e-12,
        surface_j_per_k: 30.0,
        bulk_j_per_k: 90.0,
        ..SampleSpec::slate()
    };
    let mut bench = ThermalBench::new(still_air(), LampSpec::dark(), &[spec], 1);
    bench.bodies[0].surface_degc = 43.0;
    bench.advance_to(3_000.0);
    assert!((bench.bodies[0].surface_degc - 28.0).abs() < 1e-6);
    assert!((bench.bodies[0].bulk_degc - 28.0).abs() < 1e-6);
}

#[test]
fn a_lone_node_cools_by_newtons_law() {
    // T − Ta = ΔT·exp(−G·t/C): Newton's law of cooling, as in OpenStax Calculus Volume 2, 4.3.
    let spec = SampleSpec {
        surface_bulk_w_per_k: 0.0,
        surface_j_per_k: 100.0,
        surface_air_w_per_k: 0.5,
        start_above_rest_degc: 20.0,
        probe: ProbeSpec {
            lag_s: 0.0,
            offset_degc: 0.0,
        },
        ..SampleSpec::slate()
    };
    let mut bench = ThermalBench::new(still_air(), LampSpec::dark(), &[spec], 1);
    for t_s in [10.0, 200.0, 333.3, 900.0] {
        bench.advance_to(t_s);
        let expected = 23.0 + 20.0 * (-t_s / 200.0).exp();
        assert!((surfaces(&bench)[0] - expected).abs() < 1e-9);
        assert!((bench.tip_degc().next().unwrap() - expected).abs() < 1e-9);
    }
}

#[test]
fn the_tip_is_its_lag_behind_a_steady_ramp() {
    // A first-order lag follows a ramp late by its time constant, after a few of them.
    let spec = SampleSpec {
        surface_air_w_per_k: 1e-6,
        surface_bulk_w_per_k: 0.0,
        surface_j_per_k: 100.0,
        lamp_w: 5.0,
        ..SampleSpec::slate()
    };
    let lamp = LampSpec {
        on_off_s: vec![(0.0, 1e9)],
        warm_up_s: 0.0,
        afterglow_s: 0.0,
    };
    let mut bench = ThermalBench::new(still_air(), lamp, &[spec], 1);
    bench.advance_to(300.0);
    let lag = surfaces(&bench)[0] - bench.tip_degc().next().unwrap();
    assert!((lag - 0.05 * 6.0).abs() < 1e-5, "{lag}");
}

#[test]
fn ten_minutes_under_the_lamp_give_the_lessons_rises() {
    let samples = [SampleSpec::slate(), SampleSpec::moss()];
    let mut bench = ThermalBench::new(still_air(), lamp_from(0.0, 600.0), &samples, 1);
    let start = surfaces(&bench);
    bench.advance_to(600.0);
    let top = surfaces(&bench);
    assert!(
        (top[0] - start[0] - 12.0).abs() < 0.5,
        "slate rises {}",
        top[0] - start[0]
    );
    assert!(
        (top[1] - start[1] - 6.0).abs() < 0.5,
        "moss rises {}",
        top[1] - start[1]
    );
    bench.advance_to(1200.0);
    let end = surfaces(&bench);
    let fall = |k: usize| (top[k] - end[k]) / (top[k] - start[k]);
    assert!(
        fall(0) > 0.75 && fall(1) < fall(0),
        "{} {}",
        fall(0),
        fall(1)
    );
}

#[test]
fn a_spec_with_nan_or_a_negative_store_is_unsound() {
    assert!(SampleSpec::slate().is_sound() && SampleSpec::moss().is_sound());
    assert!(
        !SampleSpec {
            lamp_w: f64::NAN,
            ..SampleSpec::slate()
        }
        .is_sound()
    );
    assert!(
        !SampleSpec {
            bulk_j_per_k: 0.0,
            ..SampleSpec::slate()
        }
        .is_sound()
    );
    assert!(lamp_from(5.0, 6.0).is_sound());
    assert!(!lamp_from(6.0, 5.0).is_sound());
    assert!(!lamp_from(f64::NAN, 5.0).is_sound());
}

proptest! {
    #[test]
    fn the_steps_taken_do_not_matter(cuts in proptest::collection::vec(0.0_f64..900.0, 1..30)) {
        let samples = [SampleSpec::slate(), SampleSpec::moss()];
        let lamp = lamp_from(90.0, 600.5);
        let mut whole = ThermalBench::new(still_air(), lamp.clone(), &samples, 3);
        let mut cut = whole.clone();
        whole.advance_to(900.0);
        let mut cuts = cuts;
        cuts.sort_by(f64::total_cmp);
        for t_s in cuts {
            cut.advance_to(t_s);
        }
        cut.advance_to(900.0);
        for (a, b) in whole.tip_degc().zip(cut.tip_degc()) {
            prop_assert!((a - b).abs() < 2e-3, "{} {}", a, b);
        }
    }

    #[test]
    fn no_stiffness_makes_it_leave_the_range_of_its_surroundings(
        surface in 1e-3_f64..1e3, bulk in 1e-3_f64..1e4, across in 0.0_f64..1e3, start in -20.0_f64..60.0,
    ) {
        let spec = SampleSpec {
            surface_j_per_k: surface,
            bulk_j_per_k: bulk,
            surface_bulk_w_per_k: across,
            start_above_rest_degc: start,
            ..SampleSpec::slate()
        };
        let mut bench = ThermalBench::new(still_air(), LampSpec::dark(), &[spec], 1);
        let (low, high) = (23.0 + start.min(0.0) - 1e-9, 23.0 + start.max(0.0) + 1e-9);
        for k in 1..50 {
            bench.advance_to(f64::from(k) * 7.3);
            for t in bench.surface_degc().chain(bench.tip_degc()) {
                prop_assert!((low..=high).contains(&t));
            }
        }
    }
}
