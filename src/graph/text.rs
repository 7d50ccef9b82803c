//! Text in a picture: made safe, measured, cut to fit; instants and intervals in words.

use super::font;

/// What stays of a text from people: no control characters, no marks that turn the direction of
/// writing, nothing that XML 1.0 forbids.
pub(super) fn printable(text: &str) -> String {
    let turns =
        |c: char| matches!(c, '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    let forbidden = |c: char| matches!(c, '\u{FFFE}' | '\u{FFFF}' | '\u{2028}' | '\u{2029}');
    let kept = text
        .chars()
        .map(|c| if c == '\n' || c == '\t' { ' ' } else { c });
    kept.filter(|c| !c.is_control() && !turns(*c) && !forbidden(*c))
        .collect()
}

/// Whether a character is drawn onto the one before it: accents, vowel signs, joiners, variation
/// selectors, skin tones.
fn is_joined(c: char) -> bool {
    matches!(c,
        '\u{300}'..='\u{36F}' | '\u{591}'..='\u{5BD}' | '\u{64B}'..='\u{65F}' | '\u{200B}'..='\u{200E}'
        | '\u{20D0}'..='\u{20FF}' | '\u{FE00}'..='\u{FE0F}' | '\u{1F3FB}'..='\u{1F3FF}' | '\u{E0020}'..='\u{E007F}')
}

/// Whether a visible character is in none of the program's fonts.
pub(super) fn is_without_font(c: char) -> bool {
    !is_joined(c) && font::advance_em(c, false).is_none()
}

/// Width of a character in ems: the font's, or an estimate on the generous side.
fn char_em(c: char, bold: bool) -> f64 {
    if is_joined(c) {
        return 0.0;
    }
    font::advance_em(c, bold).unwrap_or(match c {
        // East Asian scripts and symbols stand in a square.
        '\u{1100}'..='\u{11FF}' | '\u{2E80}'..='\u{FFFF}' | '\u{1F000}'.. => 1.1,
        _ => 0.7,
    })
}

/// Size and weight of a text, all that its width depends on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cut {
    /// Size in pixels.
    pub(super) size: f64,
    pub(super) bold: bool,
}

impl Cut {
    pub(super) fn plain(size: f64) -> Self {
        Self { size, bold: false }
    }

    pub(super) fn bold(size: f64) -> Self {
        Self { size, bold: true }
    }

    /// Width of a text in pixels.
    pub(super) fn width(self, text: &str) -> f64 {
        self.size * text.chars().map(|c| char_em(c, self.bold)).sum::<f64>()
    }

    /// The text, or as much of its beginning as fits a width with an ellipsis.
    pub(super) fn fitted(self, text: &str, most: f64) -> String {
        self.shortened(text, most, 1.0)
    }

    /// The text, or its beginning and its end: names that are told apart by their last words stay
    /// different.
    pub(super) fn fitted_at_both_ends(self, text: &str, most: f64) -> String {
        self.shortened(text, most, 0.6)
    }

    /// Cuts out what is too much, with this share of the width for the beginning.
    fn shortened(self, text: &str, most: f64, share: f64) -> String {
        if self.width(text) <= most {
            return text.to_owned();
        }
        let clusters = clusters(text);
        let room = (most - self.width("\u{2026}")).max(0.0);
        let (head, used) = self.taken(clusters.iter().copied(), share * room);
        let (tail, _) = if share < 1.0 {
            self.taken(clusters.iter().rev().copied(), room - used)
        } else {
            (0, 0.0)
        };
        let head: String = clusters.iter().take(head).copied().collect();
        let from = clusters.len().saturating_sub(tail);
        let tail: String = clusters.iter().skip(from).copied().collect();
        format!("{}\u{2026}{}", head.trim_end(), tail.trim_start())
    }

    /// How many of the clusters fit, and how wide they are.
    fn taken<'a>(self, clusters: impl Iterator<Item = &'a str>, room: f64) -> (usize, f64) {
        let (mut count, mut used) = (0, 0.0);
        for cluster in clusters {
            let width = self.width(cluster);
            if used + width > room {
                break;
            }
            (count, used) = (count + 1, used + width);
        }
        (count, used)
    }
}

/// What must not be cut apart: a character with all that is joined to it.
fn clusters(text: &str) -> Vec<&str> {
    let mut starts = Vec::new();
    let (mut joins_next, mut flags) = (false, 0);
    for (at, c) in text.char_indices() {
        let is_flag_half = matches!(c, '\u{1F1E6}'..='\u{1F1FF}');
        flags = if is_flag_half { flags + 1 } else { 0 };
        if !(at > 0 && (is_joined(c) || joins_next || (is_flag_half && flags % 2 == 0))) {
            starts.push(at);
        }
        joins_next = c == '\u{200D}';
    }
    let ends = starts.iter().copied().skip(1).chain([text.len()]);
    let pieces = starts.iter().zip(ends).filter_map(|(a, b)| text.get(*a..b));
    pieces.collect()
}

/// Whether a character belongs to emoji, or to the signs that may become one.
fn is_emoji(c: char) -> bool {
    matches!(c, '\u{2190}'..='\u{2BFF}' | '\u{1F000}'..='\u{1FAFF}')
}

/// A text without what joins emoji and turns them into each other, which the program's fonts do not
/// know and would draw as boxes: the parts of a sequence stand side by side, as the standard
/// foresees where a sequence is not supported (Unicode Technical Standard 51, 2.2).
pub(super) fn without_joiners(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut last = ' ';
    for c in text.chars() {
        let changes_emoji = matches!(c, '\u{FE0E}' | '\u{FE0F}' | '\u{1F3FB}'..='\u{1F3FF}');
        if !(changes_emoji || (c == '\u{200D}' && is_emoji(last))) {
            out.push(c);
            last = c;
        }
    }
    out
}

/// A name with words after it, which stay after it also if the name is written from right to left.
pub(super) fn with_suffix(name: &str, suffix: &str) -> String {
    let is_rtl =
        |c| matches!(c, '\u{590}'..='\u{8FF}' | '\u{FB1D}'..='\u{FDFF}' | '\u{FE70}'..='\u{FEFC}');
    let mark = if name.contains(is_rtl) {
        "\u{200E}"
    } else {
        ""
    };
    format!("{name}{mark}{suffix}")
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

/// From an instant to the farther end of its interval; none where there is no interval.
pub(super) fn reach_s(at_s: f64, low_s: f64, high_s: f64) -> Option<f64> {
    let reach_s = (at_s - low_s).max(high_s - at_s);
    (reach_s.is_finite() && low_s <= high_s && reach_s >= 0.0).then_some(reach_s)
}

/// An instant with the reach of its interval to the farther side: `12:04 ± 3 s`.
pub(super) fn instant(at_s: f64, low_s: f64, high_s: f64) -> String {
    let Some(reach_s) = reach_s(at_s, low_s, high_s) else {
        return clock(at_s, 0);
    };
    let decimals = usize::from(reach_s < crate::analysis::TENTHS_BELOW_S);
    format!("{} {}", clock(at_s, decimals), sign(reach_s))
}

/// What stands behind an instant: `± 3 s`; none where it has no interval.
#[must_use]
pub fn within(at_s: f64, low_s: f64, high_s: f64) -> Option<String> {
    reach_s(at_s, low_s, high_s).map(sign)
}

/// The reach is rounded up, as the GUM (JCGM 100:2008, 7.2.6) allows, so that it still covers.
fn sign(reach_s: f64) -> String {
    if reach_s < crate::analysis::TENTHS_BELOW_S {
        let tenths = (libm::ceil(reach_s * 10.0 - 1e-6) / 10.0).max(0.1);
        format!("± {tenths:.1} s")
    } else if reach_s <= 120.0 {
        format!("± {:.0} s", libm::ceil(reach_s - 0.05))
    } else {
        format!("± {:.0} min", libm::ceil(reach_s / 60.0 - 0.05))
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

    #[test]
    fn long_names_keep_their_ends_and_nothing_joined_is_cut() {
        let cut = Cut::plain(10.0);
        let (one, two) = (
            "roof slate from the north side, tray 1",
            "roof slate from the north side, tray 2",
        );
        assert_eq!(cut.fitted(one, 80.0), cut.fitted(two, 80.0));
        assert_ne!(
            cut.fitted_at_both_ends(one, 80.0),
            cut.fitted_at_both_ends(two, 80.0)
        );
        assert_eq!(clusters("e\u{301}a"), ["e\u{301}", "a"]);
        let teacher = "\u{1F469}\u{1F3FD}\u{200D}\u{1F3EB}";
        assert_eq!(clusters(teacher), [teacher]);
        assert_eq!(clusters("\u{1F1E8}\u{1F1ED}\u{1F1E6}\u{1F1F9}").len(), 2);
        assert!(clusters("").is_empty());
        assert!((cut.width("e\u{301}") - cut.width("e")).abs() < 1e-9);
    }

    #[test]
    fn emoji_are_parted_and_letters_stay_joined() {
        let teacher = "\u{1F469}\u{1F3FD}\u{200D}\u{1F3EB} \u{2600}\u{FE0F}";
        assert_eq!(without_joiners(teacher), "\u{1F469}\u{1F3EB} \u{2600}");
        let persian = "\u{645}\u{6CC}\u{200C}\u{200D}\u{62E}";
        assert_eq!(without_joiners(persian), persian);
    }

    #[test]
    fn words_after_a_name_from_right_to_left_stay_after_it() {
        assert_eq!(with_suffix("moss", ", 3 benches"), "moss, 3 benches");
        assert_eq!(
            with_suffix("طحلب", ", 3 benches"),
            "طحلب\u{200E}, 3 benches"
        );
    }

    proptest! {
        #[test]
        fn a_fitted_text_fits(text in "\\PC{0,60}", most in 20.0_f64..300.0) {
            for cut in [Cut::plain(14.0), Cut::bold(14.0)] {
                prop_assert!(cut.width(&cut.fitted(&text, most)) <= most);
                prop_assert!(cut.width(&cut.fitted_at_both_ends(&text, most)) <= most);
            }
        }
    }
}
