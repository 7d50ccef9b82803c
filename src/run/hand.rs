//! What people do by hand while a run is logged: keys, as records of the journal.

/// A key that was pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hand {
    /// This instant is worth remembering.
    Mark,
    /// The lamp was switched on just now.
    LampOn,
    /// The lamp was switched off just now.
    LampOff,
    /// On to the next step of the plan: do not wait for steady samples, or this phase is over.
    GoOn,
}

impl Hand {
    const ALL: [(Self, &'static str, &'static str); 4] = [
        (Self::Mark, "mark", "marked by hand"),
        (Self::LampOn, "lamp-on", "switched on now, somebody says"),
        (Self::LampOff, "lamp-off", "switched off now, somebody says"),
        (Self::GoOn, "go-on", "on to the next step, somebody says"),
    ];

    /// The word in the journal; in `events.csv` it follows `hand-`.
    #[must_use]
    pub fn code(self) -> &'static str {
        let entry = Self::ALL.iter().find(|(hand, ..)| *hand == self);
        entry.map_or("", |(_, code, _)| code)
    }

    /// The key of a word in the journal.
    pub(super) fn from_code(code: &str) -> Option<Self> {
        let entry = Self::ALL.iter().find(|(_, word, _)| *word == code);
        entry.map(|(hand, ..)| *hand)
    }

    /// In words, for `events.csv`.
    pub(super) fn detail(self) -> &'static str {
        let entry = Self::ALL.iter().find(|(hand, ..)| *hand == self);
        entry.map_or("", |(.., detail)| detail)
    }
}

/// Characters of a note at most; what is longer is cut.
const LONGEST_NOTE: usize = 200;

/// A note as it is kept: one line without control characters, not too long; none if it is empty.
#[must_use]
pub fn note(text: &str) -> Option<String> {
    let clean: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(LONGEST_NOTE)
        .collect();
    let clean = clean.trim();
    (!clean.is_empty()).then(|| clean.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_has_a_word_of_its_own() {
        for (hand, code, _) in Hand::ALL {
            assert_eq!(Hand::from_code(code), Some(hand));
            assert_eq!(hand.code(), code);
            assert!(!hand.detail().is_empty());
        }
        assert_eq!(Hand::from_code("lamp"), None);
    }

    #[test]
    fn notes_are_one_line_and_not_too_long() {
        assert_eq!(
            note(" bumped the table\n").as_deref(),
            Some("bumped the table")
        );
        assert_eq!(note("a\u{1b}[2Jb\tc").as_deref(), Some("a [2Jb c"));
        assert_eq!(note(" \n"), None);
        assert_eq!(note(&"é".repeat(300)).unwrap().chars().count(), 200);
    }
}
