//! Languages that pages are written in.

use unic_langid::LanguageIdentifier;

/// A language of pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Language {
    /// English, with a decimal point.
    #[default]
    English,
    /// German, with a decimal comma.
    German,
    /// French, with a decimal comma.
    French,
}

impl Language {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::English, Self::German, Self::French];

    /// The tag by BCP 47, as in `<html lang>`.
    #[must_use]
    pub fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
            Self::French => "fr",
        }
    }

    /// The direction of writing, as in `<html dir>`.
    #[must_use]
    pub fn direction(self) -> &'static str {
        match self {
            Self::English | Self::German | Self::French => "ltr",
        }
    }

    /// The character between the whole part and the decimals.
    #[must_use]
    pub fn decimal_mark(self) -> char {
        match self {
            Self::English => '.',
            Self::German | Self::French => ',',
        }
    }

    /// The language that a tag (`de`, `fr-CA`) or the name of a POSIX locale (`de_CH.UTF-8`) asks
    /// for; none if there are no pages in it.
    ///
    /// ```
    /// use duskmark::report::Language;
    /// assert_eq!(Language::asked_by("de_CH.UTF-8"), Some(Language::German));
    /// assert_eq!(Language::asked_by("C.UTF-8"), None);
    /// ```
    #[must_use]
    pub fn asked_by(tag: &str) -> Option<Self> {
        let primary = tag.split(['-', '_', '.', '@']).next().unwrap_or_default();
        let same = |language: &Self| language.tag().eq_ignore_ascii_case(primary);
        Self::ALL.into_iter().find(same)
    }

    /// As the message library wants it.
    pub(super) fn identifier(self) -> LanguageIdentifier {
        self.tag().parse().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn locales_are_understood_as_systems_write_them() {
        for (tag, language) in [
            ("en_GB.UTF-8", Some(Language::English)),
            ("DE", Some(Language::German)),
            ("fr-CA", Some(Language::French)),
            ("fr_FR@euro", Some(Language::French)),
            ("POSIX", None),
            ("", None),
            ("den", None),
        ] {
            assert_eq!(Language::asked_by(tag), language, "{tag}");
        }
    }
}
