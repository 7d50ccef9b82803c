//! Numbers as people read them: rounded to their uncertainty.

use crate::lamp::Edge;

/// A value and its standard uncertainty as text: the uncertainty to two significant digits, the
/// value to the same place (GUM, JCGM 100:2008, 7.2.6). Without a usable uncertainty the value
/// has at most three decimals and the second text is empty.
///
/// ```
/// assert_eq!(duskmark::analysis::rounded(23.4567, 0.0312), ("23.457".into(), "0.031".into()));
/// assert_eq!(duskmark::analysis::rounded(1234.5, 56.7), ("1235".into(), "57".into()));
/// ```
#[must_use]
pub fn rounded(value: f64, u: f64) -> (String, String) {
    if !value.is_finite() {
        return (String::new(), String::new());
    }
    if !u.is_finite() || u <= 0.0 {
        return (trimmed(value, 3), String::new());
    }
    let places = |u: f64| 1 - u.log10().floor() as i32;
    let first = places(u);
    // 0.0996 rounds to 0.10, which has its digits one place further left.
    let once = rounded_at(u, first);
    let decimals = places(once.max(f64::MIN_POSITIVE)).clamp(-300, 300);
    let text = |x: f64| {
        let digits = decimals.clamp(0, 17) as usize;
        not_minus_zero(format!("{:.digits$}", rounded_at(x, decimals)))
    };
    (text(value), text(u))
}

/// Coverage factor of what people see behind ±: with it some 95 % of true values lie within (GUM,
/// JCGM 100:2008, 6.3.3). The sign is for such an interval alone (7.2.2); files have standard uncertainties,
/// named so.
pub const COVERAGE: f64 = 2.0;

/// A value and what stands behind its ± for people: the expanded uncertainty, rounded as [`rounded`] does.
/// `u` is the standard uncertainty.
#[must_use]
pub fn expanded(value: f64, u: f64) -> (String, String) {
    rounded(value, COVERAGE * u)
}

/// The same as one text: `12.03 ± 0.18`; the value alone where no uncertainty is known.
#[must_use]
pub fn plus_minus(value: f64, u: f64) -> String {
    match expanded(value, u) {
        (value, half) if half.is_empty() => value,
        (value, half) => format!("{value} ± {half}"),
    }
}

/// Instants that are known within less than this are told in tenths of seconds.
pub const TENTHS_BELOW_S: f64 = 1.95;

/// Decimals of a second that an instant has for people, by how far its interval reaches: tenths or whole
/// seconds; negative where that is minutes, so that no more than two digits of the reach stay.
#[must_use]
pub fn instant_decimals(half_s: f64) -> i32 {
    match half_s {
        h if h < TENTHS_BELOW_S => 1,
        h if h < 99.5 => 0,
        h if h.is_finite() => 1 - h.log10().floor() as i32,
        _ => 1,
    }
}

/// From an edge to the farther end of its interval, in seconds.
#[must_use]
pub fn reach_s(edge: &Edge) -> f64 {
    (edge.at_s - edge.low_s).max(edge.high_s - edge.at_s)
}

/// Seconds as people read them where they are known within `half_s`.
#[must_use]
pub fn instant(s: f64, half_s: f64) -> String {
    let decimals = instant_decimals(half_s);
    let digits = decimals.max(0) as usize;
    not_minus_zero(format!("{:.digits$}", rounded_at(s, decimals)))
}

/// `x` rounded to a number of decimals, which may be negative.
fn rounded_at(x: f64, decimals: i32) -> f64 {
    if decimals > 15 {
        return x;
    }
    let scale = 10.0_f64.powi(decimals.abs());
    if decimals >= 0 {
        (x * scale).round() / scale
    } else {
        (x / scale).round() * scale
    }
}

/// At most `decimals` decimals, without trailing zeros.
pub(super) fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    };
    not_minus_zero(text)
}

/// `-0.00` reads as a sign that is not there.
fn not_minus_zero(text: String) -> String {
    let zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if zero {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::{instant, plus_minus, rounded, trimmed};

    #[test]
    fn two_digits_of_uncertainty_set_the_place() {
        for (value, u, v, w) in [
            (23.4567, 0.0996, "23.46", "0.10"),
            (-0.0001, 0.05, "0.000", "0.050"),
            (612.34, 4.449, "612.3", "4.4"),
            (98765.0, 1234.0, "98800", "1200"),
            (20.0, 0.0, "20", ""),
            (20.123_456, f64::NAN, "20.123", ""),
            (f64::NAN, 0.1, "", ""),
        ] {
            assert_eq!(
                rounded(value, u),
                (v.to_owned(), w.to_owned()),
                "{value} {u}"
            );
        }
    }

    #[test]
    fn the_mass_example_of_the_gum() {
        // GUM, JCGM 100:2008, 7.2.2: m_S = 100.021 47 g with u = 0.35 mg.
        assert_eq!(
            rounded(100.021_47, 0.000_35),
            ("100.02147".into(), "0.00035".into())
        );
    }

    #[test]
    fn what_stands_behind_the_sign_covers_some_95_of_a_hundred() {
        // GUM, JCGM 100:2008, 7.2.4: m_S = (100.021 47 ± 0.000 79) g, with k = 2.26 there; here k = 2.
        assert_eq!(plus_minus(100.021_47, 0.000_35), "100.02147 ± 0.00070");
        assert_eq!(plus_minus(12.026_18, 0.006_61), "12.026 ± 0.013");
        assert_eq!(plus_minus(12.5, f64::NAN), "12.5");
    }

    #[test]
    fn instants_have_no_digit_that_their_interval_does_not_know() {
        let told = [0.4, 1.9, 3.0, 62.0, 300.0, f64::NAN].map(|half_s| instant(724.26, half_s));
        assert_eq!(told, ["724.3", "724.3", "724", "724", "720", "724.3"]);
        assert_eq!(instant(-0.3, 3.0), "0");
    }

    #[test]
    fn trailing_zeros_go_and_minus_zero_too() {
        assert_eq!(trimmed(-0.0001, 3), "0");
        assert_eq!(trimmed(10.500, 3), "10.5");
        assert_eq!(trimmed(100.0, 0), "100");
    }
}
