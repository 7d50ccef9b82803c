//! Text in a picture: made safe, measured, cut to fit; instants and intervals in words.

/// What stays of a text from people: no control characters, no marks that turn the direction of
/// writing, nothing that XML 1.0 forbids.
pub(super) fn printable(text: &str) -> String {
    let turns = |c: char| matches!(c, '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    let forbidden = |c: char| matches!(c, '\u{FFFE}' | '\u{FFFF}' | '\u{2028}' | '\u{2029}');
    let kept = text
        .chars()
        .map(|c| if c == '\n' || c == '\t' { ' ' } else { c });
    kept.filter(|c| !c.is_control() && !turns(*c) && !forbidden(*c))
        .collect()
}

/// Width of a character in ems, on the generous side: the widest of the usual sans-serif fonts.
fn char_em(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | ' ' | 'I' => 0.34,
        'f' | 't' | 'r' | '(' | ')' | '[' | ']' | '-' | '/' => 0.42,
        'm' | 'M' | 'W' | '%' | '@' => 0.98,
        'w' | 'Q' | 'O' | 'G' | 'D' | 'H' | 'N' | '±' | '\u{2212}' | '+' | '=' => 0.84,
        'A'..='Z' | '&' => 0.72,
        // East Asian scripts and symbols stand in a square.
        '\u{1100}'..='\u{11FF}' | '\u{2E80}'..='\u{FFFF}' | '\u{1F000}'.. => 1.05,
        _ => 0.64,
    }
}

/// Estimated width in pixels at a size in pixels.
pub(super) fn width(text: &str, size: f64) -> f64 {
    size * text.chars().map(char_em).sum::<f64>()
}

/// The text, or as much of it as fits a width with an ellipsis.
pub(super) fn fitted(text: &str, size: f64, most: f64) -> String {
    if width(text, size) <= most {
        return text.to_owned();
    }
    let mut left = most - size * char_em('m');
    let fits = |c: &char| {
        left -= size * char_em(*c);
        left >= 0.0
    };
    let kept: String = text.chars().take_while(fits).collect();
    format!("{}\u{2026}", kept.trim_end())
}

/// An instant as on a stop watch: `12:04`, `1:02:03`, `2 d 03:15:00`, with a minus sign before zero.
pub(super) fn clock(t_s: f64, decimals: usize) -> String {
    let parts_per_s = if decimals == 0 { 1.0 } else { 10.0 };
    let parts = libm::round(t_s.abs() * parts_per_s) as u64;
    let (per_s, sign) = (
        parts_per_s as u64,
        if t_s < 0.0 && parts > 0 {
            "\u{2212}"
        } else {
            ""
        },
    );
    let (whole_s, tenth) = (parts / per_s, parts % per_s);
    let (days, h, min, s) = (
        whole_s / 86_400,
        whole_s / 3600 % 24,
        whole_s / 60 % 60,
        whole_s % 60,
    );
    let fraction = if decimals == 0 {
        String::new()
    } else {
        format!(".{tenth}")
    };
    match (days, h) {
        (0, 0) => format!("{sign}{min}:{s:02}{fraction}"),
        (0, _) => format!("{sign}{h}:{min:02}:{s:02}{fraction}"),
        _ => format!("{sign}{days} d {h:02}:{min:02}:{s:02}{fraction}"),
    }
}

/// An instant with the reach of its interval to the farther side: `12:04 ± 3 s`.
///
/// The reach is rounded up, as the GUM (JCGM 100:2008, 7.2.6) allows, so that it still covers.
pub(super) fn instant(at_s: f64, low_s: f64, high_s: f64) -> String {
    let reach_s = (at_s - low_s).max(high_s - at_s);
    if !(reach_s.is_finite() && low_s <= high_s && reach_s >= 0.0) {
        return clock(at_s, 0);
    }
    if reach_s < 1.95 {
        let tenths = (libm::ceil(reach_s * 10.0 - 1e-6) / 10.0).max(0.1);
        format!("{} ± {tenths:.1} s", clock(at_s, 1))
    } else if reach_s <= 120.0 {
        format!("{} ± {:.0} s", clock(at_s, 0), libm::ceil(reach_s - 0.05))
    } else {
        format!(
            "{} ± {:.0} min",
            clock(at_s, 0),
            libm::ceil(reach_s / 60.0 - 0.05)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn instants_read_as_on_a_stop_watch() {
        assert_eq!(instant(724.2, 721.4, 727.0), "12:04 ± 3 s");
        assert_eq!(instant(724.26, 723.9, 724.4), "12:04.3 ± 0.4 s");
        assert_eq!(instant(724.0, f64::NAN, 730.0), "12:04");
        assert_eq!(instant(724.0, 300.0, 730.0), "12:04 ± 8 min");
        assert_eq!(clock(-30.0, 0), "\u{2212}0:30");
        assert_eq!(clock(-0.2, 0), "0:00");
        assert_eq!(clock(59.97, 1), "1:00.0");
        assert_eq!(clock(3_723.0, 0), "1:02:03");
        assert_eq!(clock(184_500.0, 0), "2 d 03:15:00");
    }

    #[test]
    fn control_characters_and_turned_writing_are_gone() {
        assert_eq!(
            printable("a\u{1b}[31m\u{0}b\u{85}c\u{202e}d\ne"),
            "a[31mbcd e"
        );
    }

    proptest! {
        #[test]
        fn a_fitted_text_fits(text in "\\PC{0,60}", most in 20.0_f64..300.0) {
            prop_assert!(width(&fitted(&text, 14.0, most), 14.0) <= most);
        }
    }
}
