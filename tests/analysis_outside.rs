//! Fits of the analysis room against published values.

#![expect(
    clippy::unwrap_used,
    reason = "helpers of these tests may stop a test as its own lines may"
)]

use duskmark::analysis::{fit_decay, fit_line};

/// Columns `y,x` of a reference file; `#` lines say where it comes from.
fn columns(text: &str) -> (Vec<f64>, Vec<f64>) {
    let rows = text
        .lines()
        .filter(|l| !l.starts_with('#') && !l.starts_with('y'));
    rows.map(|line| {
        let (y, x) = line.split_once(',').unwrap();
        (
            x.trim().parse::<f64>().unwrap(),
            y.trim().parse::<f64>().unwrap(),
        )
    })
    .unzip()
}

fn close(value: f64, certified: f64, relative: f64) {
    assert!(
        (value - certified).abs() <= relative * certified.abs(),
        "{value} is not {certified}"
    );
}

#[test]
fn misra1a_is_certified_to_eight_digits() {
    // NIST StRD nonlinear regression, Misra1a: y = b1·(1 - exp(-b2·x)).
    let (x, y) = columns(include_str!("data/nist-misra1a.csv"));
    let fit = fit_decay(&x, &y, 0.0, Some(0.0)).unwrap();
    close(fit.change, 2.389_421_291_8e2, 1e-8);
    close(fit.k_per_s, 5.501_564_318_1e-4, 1e-8);
    close(fit.u_change, 2.707_007_524_1, 1e-6);
    close(fit.u_k_per_s, 7.266_868_843_6e-6, 1e-6);
    close(fit.residual_sd, 1.018_787_633_0e-1, 1e-8);
}

#[test]
fn boxbod_is_certified_to_eight_digits() {
    // NIST StRD nonlinear regression, BoxBOD: the same model, six points, large scatter.
    let (x, y) = columns(include_str!("data/nist-boxbod.csv"));
    let fit = fit_decay(&x, &y, 0.0, Some(0.0)).unwrap();
    close(fit.change, 2.138_094_088_9e2, 1e-8);
    close(fit.k_per_s, 5.472_374_854_2e-1, 1e-8);
    close(fit.u_change, 1.235_451_517_6e1, 1e-6);
    close(fit.u_k_per_s, 1.045_599_323_7e-1, 1e-6);
}

#[test]
fn norris_is_certified_to_ten_digits() {
    // NIST StRD linear regression, Norris.
    let (x, y) = columns(include_str!("data/nist-norris.csv"));
    let fit = fit_line(&x, &y).unwrap();
    close(fit.intercept, -0.262_323_073_774_029, 1e-10);
    close(fit.slope, 1.002_116_818_020_45, 1e-12);
    close(fit.u_intercept, 0.232_818_234_301_152, 1e-10);
    close(fit.u_slope, 4.297_968_481_999_37e-4, 1e-10);
    close(fit.residual_sd, 0.884_796_396_144_373, 1e-10);
}

#[test]
fn the_textbook_coffee_cools_at_the_published_rate() {
    // OpenStax, Calculus Volume 2, section 2.8, example Newton's Law of Cooling: 200 °F at the
    // start, 180 °F after 2 min, 175 °F after 2.56 min, 155 °F after 5.09 min, room 70 °F;
    // k = (ln 13 - ln 11)/2 per minute. The printed times are rounded to 0.01 min.
    let fit = fit_decay(
        &[0.0, 2.0, 2.56, 5.09],
        &[200.0, 180.0, 175.0, 155.0],
        0.0,
        None,
    )
    .unwrap();
    close(fit.k_per_s, (13.0_f64.ln() - 11.0_f64.ln()) / 2.0, 0.03);
    close(fit.level(), 70.0, 0.05);
    close(fit.start, 200.0, 1e-3);
}

#[test]
fn the_gums_thermometer_is_calibrated_as_printed() {
    // JCGM 100:2008 (GUM), annex H.3: b(t) = y1 + y2·(t - 20 °C), y1 = -0.1712 °C with u = 0.0029,
    // y2 = 0.00218 with u = 0.00067; at 30 °C -0.1494 °C with u = 0.0041; s = 0.0035 °C.
    let (t, b) = columns(include_str!("data/gum-h3.csv"));
    let about = |at: f64| {
        let x: Vec<f64> = t.iter().map(|t| t - at).collect();
        fit_line(&x, &b).unwrap()
    };
    let at_20 = about(20.0);
    let printed = |value: f64, as_printed: f64, last_digit: f64| {
        assert!(
            (value - as_printed).abs() <= 0.5 * last_digit,
            "{value} is not {as_printed}"
        );
    };
    assert_eq!(t.len(), 11);
    printed(at_20.intercept, -0.1712, 1e-4);
    printed(at_20.u_intercept, 0.0029, 1e-4);
    printed(at_20.slope, 0.002_18, 1e-5);
    printed(at_20.u_slope, 0.000_67, 1e-5);
    printed(at_20.residual_sd, 0.0035, 1e-4);
    printed(about(30.0).intercept, -0.1494, 1e-4);
    printed(about(30.0).u_intercept, 0.0041, 1e-4);
}

#[test]
fn oxygen_demand_comes_out_as_in_the_textbook() {
    // Marske (1967), in Bates and Watts, Nonlinear Regression Analysis and Its Applications (Wiley
    // 1988), appendix A1.4: y = A·(1 - exp(-k·t)). R 4.2.2 (nls) gives A = 19.1426 with standard
    // error 2.4959, k = 0.5311, residual standard error 2.549 on 4 degrees of freedom.
    let fit = fit_decay(
        &[1.0, 2.0, 3.0, 4.0, 5.0, 7.0],
        &[8.3, 10.3, 19.0, 16.0, 15.6, 19.8],
        0.0,
        Some(0.0),
    )
    .unwrap();
    close(fit.change, 19.142_575_284_6, 1e-8);
    close(fit.k_per_s, 0.531_091_376_97, 1e-8);
    close(fit.u_change, 2.495_917_332, 1e-6);
    close(fit.u_k_per_s, 0.203_082_100_4, 1e-6);
    close(fit.residual_sd, 2.549_032_5, 1e-6);
}

#[test]
fn growth_with_a_free_start_comes_out_as_published() {
    // Loblolly pines of seed source 329: heights at six ages, the example of the self-starting
    // three-parameter asymptotic model in R 4.2.2 (SSasymp): asymptote 94.1282 with standard error
    // 8.4030, start -8.2508 with 1.2261, ln k -3.2176 with 0.1386. The digits beyond R's are from a
    // 40-digit computation. Here all three parameters are free, as in a cooling.
    let fit = fit_decay(
        &[3.0, 5.0, 10.0, 15.0, 20.0, 25.0],
        &[3.93, 9.34, 26.08, 37.79, 48.31, 56.43],
        0.0,
        None,
    )
    .unwrap();
    close(fit.level(), 94.128_209_873_8, 1e-7);
    close(fit.start, -8.250_752_557_0, 1e-7);
    close(fit.k_per_s.ln(), -3.217_578_272_27, 1e-8);
    close(fit.u_level, 8.403_019_144_7, 1e-6);
    close(fit.u_start, 1.226_107_946_3, 1e-6);
    close(fit.u_k_per_s / fit.k_per_s, 0.138_583_677_8, 1e-6);
}
