//! Values within messages.

use fluent_bundle::FluentValue;
use fluent_bundle::types::{FluentNumber, FluentNumberOptions};

use super::language::Language;

/// A value within a message.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value<'a> {
    /// A whole number, which chooses the plural.
    Count(usize),
    /// A decimal as programs write it; written as the language does.
    Number(&'a str),
    /// A text from people: made safe, and kept from turning the text around it.
    Name(&'a str),
    /// A text of our own, in the page's language already.
    Text(&'a str),
}

impl Value<'_> {
    pub(super) fn for_fluent(&self, language: Language) -> FluentValue<'static> {
        match self {
            // No count of rows or marks comes near 2⁵³.
            Self::Count(n) => FluentNumber::new(*n as f64, FluentNumberOptions::default()).into(),
            Self::Number(digits) => language.number(digits).into(),
            Self::Name(name) => plain(name).into(),
            Self::Text(text) => (*text).to_owned().into(),
        }
    }
}

/// A text from people as a page may show it (not yet escaped): no control characters, none that
/// turn the direction of writing; where it has letters of scripts that run right to left, it is
/// set apart by isolates (Unicode Standard Annex 9), so that numbers after it stay in their place.
#[must_use]
pub fn plain(text: &str) -> String {
    let turns = |c: char| matches!(c, '\u{061C}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}');
    let noncharacter = |c: char| {
        matches!(c, '\u{FDD0}'..='\u{FDEF}' | '\u{2028}' | '\u{2029}')
            || (c as u32) & 0xFFFE == 0xFFFE
    };
    let one_line = text
        .chars()
        .map(|c| if c.is_whitespace() { ' ' } else { c });
    let kept: String = one_line
        .filter(|c| !c.is_control() && !turns(*c) && !noncharacter(*c))
        .collect();
    let kept = kept.trim();
    if kept.chars().any(runs_right_to_left) {
        format!("\u{2068}{kept}\u{2069}")
    } else {
        kept.to_owned()
    }
}

/// Letters of the blocks that Unicode keeps for scripts written from right to left.
fn runs_right_to_left(c: char) -> bool {
    matches!(c, '\u{0590}'..='\u{08FF}' | '\u{FB1D}'..='\u{FDFF}' | '\u{FE70}'..='\u{FEFF}'
        | '\u{10800}'..='\u{10FFF}' | '\u{1E800}'..='\u{1EFFF}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_turn_or_break_what_is_around_them() {
        for (name, safe) in [
            ("moss", "moss"),
            (" two\nlines\u{1b}[31m ", "two lines[31m"),
            ("a\u{202e}b\u{2069}c", "abc"),
            ("אזוב", "\u{2068}אזוב\u{2069}"),
            ("\u{FFFF}🌿\u{0}", "🌿"),
        ] {
            assert_eq!(plain(name), safe);
        }
    }
}
