//! The rules beside the GUM's own numbers, and budgets of whole channels beside worked cases.

use super::*;
use crate::probe::{ProbeLaw, ProbeSetup};

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

fn component(shape: Shape, size_degc: f64, freedom: Option<f64>) -> Component {
    Component {
        cause: Cause::Noise,
        shape,
        size_degc,
        freedom,
    }
}

fn of(components: Vec<Component>) -> Budget {
    Budget {
        components,
        left_out: Vec::new(),
    }
}

#[test]
fn a_step_and_bounds_are_rectangular() {
    // JCGM 100:2008, F.2.2.1: a step dx has u = dx/√12 = 0.29·dx; the half-width of a step is dx/2.
    for (step, u) in [
        (1.0, 0.288_675_135),
        (0.1, 0.028_867_513),
        (0.0625, 0.018_042_196),
    ] {
        near(
            component(Shape::Rectangular, step / 2.0, None).u_degc(),
            u,
            1e-9,
        );
    }
    // 4.3.7: bounds ±a have a/√3.
    near(
        component(Shape::Rectangular, 3.0, None).u_degc(),
        3.0_f64.sqrt(),
        1e-12,
    );
}

#[test]
fn what_lasts_adds_up_in_squares_and_noise_does_not_last() {
    let with = |cause: Cause, size_degc: f64| Component {
        cause,
        ..component(Shape::Normal, size_degc, None)
    };
    let budget = of(vec![
        with(Cause::Calibration, 0.3),
        with(Cause::SelfHeating, 0.4),
        with(Cause::Noise, 2.0),
        with(Cause::Resolution, 3.0),
        with(Cause::Lag, 4.0),
    ]);
    near(budget.lasting_degc().unwrap(), 0.5, 1e-12);
    let budget = of(vec![with(Cause::Noise, 2.0)]);
    assert_eq!(budget.lasting_degc(), None);
}

#[test]
fn degrees_of_freedom_follow_welch_and_satterthwaite() {
    // JCGM 100:2008, G.4.1, example (value from memory): Y = b·X1·X2·X3 with relative standard
    // uncertainties 0.25 %, 0.57 %, 0.82 % from 10, 5 and 15 readings: 1.03 %, 19 degrees.
    let budget = of(vec![
        component(Shape::Normal, 0.25, Some(9.0)),
        component(Shape::Normal, 0.57, Some(4.0)),
        component(Shape::Normal, 0.82, Some(14.0)),
    ]);
    near(budget.combined_degc(), 1.03, 0.005);
    // By hand: 1.0298⁴/(0.25⁴/9 + 0.57⁴/4 + 0.82⁴/14) = 1.1250/0.0591 = 19.0.
    near(budget.freedom().unwrap(), 19.0, 0.1);
    // Two alike: twice the degrees of one.
    let one = component(Shape::Normal, 0.1, Some(7.0));
    near(of(vec![one, one]).freedom().unwrap(), 14.0, 1e-12);
    // What is taken as known dilutes.
    let known = component(Shape::Rectangular, 0.1 * 3.0_f64.sqrt(), None);
    near(of(vec![one, known]).freedom().unwrap(), 28.0, 1e-9);
    assert_eq!(of(vec![known]).freedom(), None);
}

/// A converter of so many counts with a 10K3A thermistor (constants of Kaw et al., chapter 03.04).
fn board(full_scale: u32, edit: impl Fn(&mut ProbeSetup)) -> Converter {
    let mut setup = ProbeSetup {
        unit: Some(Unit::Adc),
        full_scale: Some(full_scale),
        laws: vec![ProbeLaw::SteinhartHart {
            a: 1.129_241e-3,
            b: 2.341_077e-4,
            c2: 0.0,
            c: 8.775_468e-8,
        }],
        ..ProbeSetup::default()
    };
    edit(&mut setup);
    Converter::new(&setup, None, 2).unwrap()
}

fn at(degc: f64) -> Conditions {
    Conditions {
        degc,
        ..Conditions::default()
    }
}

#[test]
fn the_converters_step_goes_through_the_slope_of_the_law() {
    // Computed with other software: one whole count in K, and that over √12, for a 10 kΩ divider; the
    // law's slope changes by half a percent within a coarse count.
    for (full, degc, step, u) in [
        (1024, 0.0, 0.1067, 0.0308),
        (1024, 25.0, 0.089_02, 0.0257),
        (1024, 80.0, 0.302_68, 0.087_38),
        (4096, 0.0, 0.026_65, 0.007_69),
        (4096, 50.0, 0.032_96, 0.009_51),
    ] {
        let board = board(full, |_| {});
        near(board.count_degc(0, degc).unwrap(), step, 0.006 * step);
        let budget = board.budget(0, &at(degc));
        near(budget.of(Cause::Resolution).unwrap().u_degc(), u, 0.006 * u);
    }
}

#[test]
fn self_heating_agrees_with_worked_cases() {
    // ΔT = P/δ with P = U²/(4R) at R = fixed = 10 kΩ: 3.3 V and 7 mW/K give 0.0389 K, 5 V and
    // 2 mW/K 0.3125 K.
    for (supply, mw_per_k, degc) in [
        (3.3, 7.0, 0.038_893),
        (3.3, 2.0, 0.136_125),
        (5.0, 2.0, 0.3125),
    ] {
        let board = board(1024, |setup| {
            setup.supply_volt = Some(supply);
            setup.dissipation_mw_per_k = Some(mw_per_k);
        });
        near(board.self_heating_degc(0, 25.0).unwrap(), degc, 1e-5);
        let budget = board.budget(0, &at(25.0));
        let heat = budget.of(Cause::SelfHeating).unwrap();
        near(heat.u_degc(), degc / 3.0_f64.sqrt(), 1e-5);
    }
    let silent = board(1024, |setup| setup.supply_volt = Some(5.0));
    assert_eq!(silent.self_heating_degc(0, 25.0), Err(Why::NotStated));
}

#[test]
fn a_tolerance_is_what_another_resistor_would_read() {
    // The reading of the same count with the resistor, or the reference, at the end of its tolerance.
    let tolerance = 1e-4;
    let nominal = board(4096, |setup| {
        setup.reference_volt = Some(2.5);
        setup.supply_volt = Some(2.0);
        setup.fixed_tolerance = Some(tolerance);
        setup.reference_tolerance = Some(tolerance);
    });
    let (divider, law) = (nominal.divider.unwrap(), &nominal.laws[0]);
    for degc in [5.0, 25.0, 60.0] {
        let counts = divider.counts_at(law.signal_at(degc));
        let mut other = divider;
        other.fixed_ohm *= 1.0 + tolerance;
        let resistor = law.degc_at(other.ohm_at(counts).unwrap()) - degc;
        let mut other = divider;
        other.supply_per_reference *= 1.0 + tolerance;
        let reference = law.degc_at(other.ohm_at(counts).unwrap()) - degc;
        let budget = nominal.budget(0, &at(degc));
        for (cause, seen) in [
            (Cause::FixedResistor, resistor),
            (Cause::Reference, reference),
        ] {
            let size = budget.of(cause).unwrap().size_degc;
            near(size, seen.abs(), 1e-3 * size);
        }
    }
    // A calibration was made with the resistor and the reference that are there.
    let calibrated = Conditions {
        calibration: Some((0.02, None)),
        ..at(25.0)
    };
    let budget = nominal.budget(0, &calibrated);
    near(
        budget.combined_degc(),
        budget.of(Cause::Resolution).unwrap().u_degc().hypot(0.02),
        1e-12,
    );
    assert!(
        budget
            .left_out
            .contains(&(Cause::FixedResistor, Why::InCalibration))
    );
    // One voltage for both cancels; and who states no tolerance gets none.
    let shared = board(4096, |setup| setup.reference_tolerance = Some(tolerance));
    let budget = shared.budget(0, &at(25.0));
    assert!(budget.left_out.contains(&(Cause::Reference, Why::Cancels)));
    assert!(
        budget
            .left_out
            .contains(&(Cause::FixedResistor, Why::NotStated))
    );
}

#[test]
fn noise_is_without_the_rounding_that_it_shows() {
    let printing = Converter::new(&ProbeSetup::default(), None, 1).unwrap();
    let conditions = Conditions {
        degc: 23.4,
        printed_step_degc: Some(0.1),
        scatter: Some(Scatter {
            sd_degc: 0.05,
            freedom: 18.0,
        }),
        calibration: Some((0.03, None)),
        lag_s: Some(6.0),
        rate_degc_per_s: -1.0 / 60.0,
    };
    let budget = printing.budget(0, &conditions);
    let noise = budget.of(Cause::Noise).unwrap();
    near(
        noise.u_degc(),
        (0.05_f64.powi(2) - 0.01 / 12.0).sqrt(),
        1e-12,
    );
    near(budget.of(Cause::Lag).unwrap().size_degc, 0.1, 1e-12);
    // Noise and rounding together are what was seen.
    let rest = 0.03_f64.powi(2) + 0.01 / 3.0;
    near(
        budget.combined_degc(),
        (0.05_f64.powi(2) + rest).sqrt(),
        1e-12,
    );
    near(budget.lasting_degc().unwrap(), 0.03, 1e-12);
    assert!(
        budget
            .left_out
            .contains(&(Cause::SelfHeating, Why::InBoard))
    );
}

#[test]
fn a_voltage_sensor_has_its_reference_in_the_budget() {
    let board = board(4096, |setup| {
        setup.laws = vec![ProbeLaw::Linear {
            v0_volt: 0.5,
            volt_per_degc: 0.01,
        }];
        setup.reference_volt = Some(3.3);
        setup.reference_tolerance = Some(0.01);
    });
    // 0.75 V at 25 °C: a percent is 7.5 mV, 0.75 °C.
    let budget = board.budget(1, &at(25.0));
    near(budget.of(Cause::Reference).unwrap().size_degc, 0.75, 1e-9);
    near(
        board.count_degc(1, 25.0).unwrap(),
        3.3 / 4096.0 / 0.01,
        1e-12,
    );
}
