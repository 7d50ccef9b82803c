//! Numbers as each language writes them.
//!
//! The decimal mark is the language's; groups of three digits are set apart by a narrow space in
//! every language, never by a point or comma, and four digits stand together (SI Brochure, 9th
//! edition, 5.4.4; ISO 80000-1). A minus is the minus sign, not a hyphen.

use super::language::Language;

/// Between groups of digits: narrow, and no line breaks there.
const THIN: char = '\u{202F}';

impl Language {
    /// A decimal as programs write it (`-1234567.25`) as this language writes it. Text that is no
    /// plain decimal comes back as it is.
    ///
    /// ```
    /// use duskmark::report::Language;
    /// assert_eq!(Language::German.number("-0.50"), "−0,50");
    /// assert_eq!(Language::English.number("1234"), "1234");
    /// ```
    #[must_use]
    pub fn number(self, digits: &str) -> String {
        let (sign, size) = match digits.strip_prefix('-') {
            Some(size) => ("\u{2212}", size),
            None => ("", digits),
        };
        let (whole, decimals) = match size.split_once('.') {
            Some((whole, decimals)) => (whole, Some(decimals)),
            None => (size, None),
        };
        let all_digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        if !all_digits(whole) || !decimals.is_none_or(all_digits) {
            return digits.to_owned();
        }
        let mut out = format!("{sign}{}", grouped(whole));
        if let Some(decimals) = decimals {
            out.push(self.decimal_mark());
            out.push_str(decimals);
        }
        out
    }
}

/// Whole digits in groups of three from the right; decimals stay together, as tables want them.
fn grouped(whole: &str) -> String {
    let length = whole.len();
    if length <= 4 {
        return whole.to_owned();
    }
    let mut out = String::with_capacity(2 * length);
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (length - place).is_multiple_of(3) {
            out.push(THIN);
        }
        out.push(digit);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_written_as_each_language_does() {
        for (digits, english, german) in [
            ("0.5", "0.5", "0,5"),
            ("-12.030", "−12.030", "−12,030"),
            ("5183", "5183", "5183"),
            ("20160", "20\u{202F}160", "20\u{202F}160"),
            (
                "1234567.25",
                "1\u{202F}234\u{202F}567.25",
                "1\u{202F}234\u{202F}567,25",
            ),
            ("", "", ""),
            ("1e5", "1e5", "1e5"),
            ("1.", "1.", "1."),
        ] {
            assert_eq!(Language::English.number(digits), english);
            assert_eq!(Language::German.number(digits), german);
            assert_eq!(Language::French.number(digits), german);
        }
    }
}
