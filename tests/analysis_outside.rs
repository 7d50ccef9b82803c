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
