//! Constants of published thermistors, and what is known of them.

use super::super::points::points;
use super::*;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64;

#[test]
fn three_published_points_give_the_published_constants() {
    // README of the npm package steinhart-hart: three EPCOS points; the answer for 7000 Ω is
    // 307.9031 K. Constants by solving the three equations in 40 digits.
    let fit = fit_constants(
        &points(&[(-25.0, 87_041.0), (0.0, 27_326.0), (25.0, 10_000.0)]),
        true,
        0.1,
    )
    .unwrap();
    let Constants::SteinhartHart { a, b, c } = fit.constants else {
        panic!("three constants");
    };
    for (got, want) in [
        (a, 8.975_539_782_833_848e-4),
        (b, 2.501_791_479_471_128e-4),
        (c, 1.948_344_036_705_607_7e-7),
    ] {
        assert!((got / want - 1.0).abs() < 1e-9, "{got} is not {want}");
    }
    let degc = fit.constants.law().degc_at(7000.0);
    assert!((degc + ZERO_DEGC_K - 307.9031).abs() < 5e-5);
    assert!(fit.residual_sd_degc.is_none());
    assert!(fit.residuals_degc.iter().all(|r| r.abs() < 1e-8));
    // As many points as constants: at a point the law is known as well as the point, to the
    // thermometer's 0.1 °C and as much again of its own.
    let point = 0.1 * 2.0_f64.sqrt();
    assert!((fit.u_at(0.0) - point).abs() < 1e-4 && fit.u_at(60.0) > point);
}

#[test]
fn two_published_points_give_the_published_b() {
    // SEMITEC AT catalogue, 103AT-2: 10 kΩ at 25 °C, 1451 Ω at 85 °C, B25/85 = 3435 K.
    let fit = fit_constants(&points(&[(25.0, 10_000.0), (85.0, 1451.0)]), false, 0.2).unwrap();
    let Constants::Beta { r25_ohm, beta_k } = fit.constants else {
        panic!("two constants");
    };
    assert!((beta_k - 3435.4257).abs() < 1e-3 && (r25_ohm - 10_000.0).abs() < 1e-5);
    // u(R25)/R25 = B/T² · u(T): 3435/298.15² · 0.2 · √2 = 0.01093.
    assert!((fit.u[0] / 10_000.0 - 0.010_93).abs() < 1e-5, "{:?}", fit.u);
}

#[test]
fn a_published_table_is_met_within_its_own_rounding() {
    // EPCOS B57330V2103 as in the Linux kernel (drivers/hwmon/ntc_thermistor.c): whole ohms.
    let table = [
        (0.0, 27_326.0),
        (10.0, 17_973.0),
        (20.0, 12_090.0),
        (25.0, 10_000.0),
        (30.0, 8311.0),
        (40.0, 5825.0),
        (50.0, 4158.0),
        (60.0, 3019.0),
        (80.0, 1668.0),
        (85.0, 1451.0),
    ];
    let three = fit_constants(&points(&table), true, 0.0).unwrap();
    assert!(
        three.residuals_degc.iter().all(|r| r.abs() < 0.02),
        "{three:?}"
    );
    let two = fit_constants(&points(&table), false, 0.0).unwrap();
    assert!(two.residual_sd_degc.unwrap() > 10.0 * three.residual_sd_degc.unwrap());
}

#[test]
fn stated_uncertainties_are_the_scatter_over_repeated_calibrations() {
    let truth = ProbeLaw::Beta {
        r25_ohm: 10_000.0,
        beta_k: 3950.0,
    };
    let mut rng = Pcg64::seed_from_u64(5);
    let mut b = Vec::new();
    let mut told = 0.0;
    let mut at_30 = Vec::new();
    for _ in 0..500 {
        let pairs: Vec<(f64, f64)> = (0..9)
            .map(|i| {
                let degc = 10.0 * f64::from(i);
                let off: f64 = rng.sample(StandardNormal);
                (degc + 0.2 * off, truth.signal_at(degc))
            })
            .collect();
        let fit = fit_constants(&points(&pairs), false, 0.0).unwrap();
        let Constants::Beta { beta_k, .. } = fit.constants else {
            panic!("two constants");
        };
        b.push(beta_k - 3950.0);
        told += fit.u[1].powi(2) / 500.0;
        at_30.push((
            fit.constants.law().degc_at(truth.signal_at(30.0)) - 30.0,
            fit.u_at(30.0),
        ));
    }
    let scatter = b.iter().map(|x| x * x).sum::<f64>() / 500.0;
    assert!((0.8..1.25).contains(&(told / scatter)), "{told} {scatter}");
    let inside = at_30.iter().filter(|(off, u)| off.abs() <= 2.0 * u).count();
    // Two standard uncertainties of 7 degrees of freedom cover 91 %.
    assert!((430..485).contains(&inside), "{inside}");
}

/// JCGM 100:2008, 5.2.2, note 1: what inputs have in common does not average out.
#[test]
fn one_thermometers_error_stays_however_many_baths_it_saw() {
    let truth = ProbeLaw::Beta {
        r25_ohm: 10_000.0,
        beta_k: 3950.0,
    };
    for (baths, step) in [(16_u32, 4.0), (61, 1.0)] {
        let told = |off_degc: f64| {
            let pairs: Vec<(f64, f64)> = (0..baths)
                .map(|i| step * f64::from(i))
                .map(|degc| (degc + off_degc, truth.signal_at(degc)))
                .collect();
            fit_constants(&points(&pairs), false, 0.3).unwrap()
        };
        let (fit, off) = (told(0.0), told(0.3));
        for degc in [0.0, 22.0, 50.0] {
            let u = fit.u_at(degc);
            assert!((0.299..0.36).contains(&u), "{baths} at {degc}: {u}");
            let moved = off.constants.law().degc_at(truth.signal_at(degc)) - degc;
            assert!((moved - 0.3).abs() < 0.03, "{moved}");
        }
    }
}

#[test]
fn points_of_no_thermistor_are_refused() {
    let two = points(&[(0.0, 27_326.0), (25.0, 10_000.0)]);
    let few = fit_constants(&two, true, 0.1).unwrap_err();
    assert!(matches!(
        few,
        PointsFault::TooFew {
            given: 2,
            wanted: 3
        }
    ));
    // A kink that no law of three constants has: c comes out below zero.
    let bent = points(&[(0.0, 27_000.0), (25.0, 10_000.0), (50.0, 9_900.0)]);
    let fault = fit_constants(&bent, true, 0.1).unwrap_err();
    assert!(
        matches!(fault, PointsFault::Implausible { .. }),
        "{fault:?}"
    );
}
