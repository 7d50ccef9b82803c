//! Cells without a value: a dash, a letter, and the reason below the table.

use super::super::page::Markup;
use super::super::words::Words;

/// The reasons of a table's dashes, in the order of their first use.
#[derive(Debug, Default)]
pub(super) struct Dashes {
    reasons: Vec<String>,
}

impl Dashes {
    /// The text of a cell that is empty for a reason; the same reason has the same letter.
    pub(super) fn dash(&mut self, reason: String) -> String {
        let known = self.reasons.iter().position(|r| *r == reason);
        let place = known.unwrap_or_else(|| {
            self.reasons.push(reason);
            self.reasons.len() - 1
        });
        format!("– ({})", letter(place))
    }

    /// Writes the reasons below the table.
    pub(super) fn explain(&self, words: &Words, page: &mut Markup) {
        if self.reasons.is_empty() {
            return;
        }
        page.paragraph_as("small", &words.say("dash-why"));
        let reasons = self.reasons.iter().enumerate();
        let reasons: Vec<String> = reasons
            .map(|(place, reason)| format!("({}) {reason}", letter(place)))
            .collect();
        page.list(&reasons);
    }
}

/// `a` to `z`, then `aa`, `ab` and so on.
fn letter(place: usize) -> String {
    let last = char::from(b'a' + u8::try_from(place % 26).unwrap_or(0));
    match place / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_reason_has_the_same_letter() {
        let mut dashes = Dashes::default();
        assert_eq!(dashes.dash("too short".into()), "– (a)");
        assert_eq!(dashes.dash("no lamp".into()), "– (b)");
        assert_eq!(dashes.dash("too short".into()), "– (a)");
        assert_eq!(
            (letter(25), letter(26), letter(52)),
            ("z".into(), "aa".into(), "ba".into())
        );
    }
}
