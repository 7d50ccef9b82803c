//! IEC 60751: the resistance of platinum, as a share of that at 0 °C.
//!
//! `R/R0 = 1 + A·t + B·t²`, and below 0 °C `+ C·(t − 100 °C)·t³` (Callendar and Van Dusen).

/// From −200 °C to 850 °C (IEC 60751, 4.2).
pub(super) const RANGE_DEGC: (f64, f64) = (-200.0, 850.0);

/// Constants of IEC 60751:2008.
const A: f64 = 3.9083e-3;
const B: f64 = -5.775e-7;
const C: f64 = -4.183e-12;

/// R/R0 at a temperature in °C.
pub(super) fn ratio_at(t: f64) -> f64 {
    let cold = if t < 0.0 { C * (t - 100.0) * t } else { 0.0 };
    1.0 + t * (A + t * (B + cold))
}

/// d(R/R0)/dt in 1/°C.
pub(super) fn ratio_per_degc(t: f64) -> f64 {
    let cold = if t < 0.0 {
        C * t * t * (4.0 * t - 300.0)
    } else {
        0.0
    };
    A + 2.0 * B * t + cold
}

/// Temperature in °C at R/R0 greater than 0; NaN above what the square reaches.
pub(super) fn degc_at(ratio: f64) -> f64 {
    let over = ratio - 1.0;
    // The quadratic's root in the form that subtracts nothing near 0 °C.
    let mut t = 2.0 * over / (A + (A * A + 4.0 * B * over).sqrt());
    if over >= 0.0 || t.is_nan() {
        return t;
    }
    // The fourth power bends it by 2 °C at −200 °C; from there Newton's method needs four steps,
    // and the curve rises all the way to absolute zero.
    for _ in 0..8 {
        let step = (ratio_at(t) - ratio) / ratio_per_degc(t);
        t -= step;
        if step.abs() < 1e-13 {
            break;
        }
    }
    t
}
