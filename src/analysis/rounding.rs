//! Numbers as people read them: rounded to their uncertainty.

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
    use super::{rounded, trimmed};

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
    fn trailing_zeros_go_and_minus_zero_too() {
        assert_eq!(trimmed(-0.0001, 3), "0");
        assert_eq!(trimmed(10.500, 3), "10.5");
        assert_eq!(trimmed(100.0, 0), "100");
    }
}
