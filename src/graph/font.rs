//! The program's own fonts: how wide their letters are, and which letters they have.
//!
//! DejaVu Sans has Latin, Greek, Cyrillic, Hebrew and Arabic letters and is among the widest of the
//! usual fonts, so that what fits in it fits in a reader's own font too. Noto Emoji has most of the
//! signs that it lacks. Scripts of East and South Asia are in neither.

use std::sync::OnceLock;

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

/// The family that stands for every other.
pub(super) const FAMILY: &str = "DejaVu Sans";

/// The files, plain letters first, bold ones second.
pub(super) fn files() -> [&'static [u8]; 3] {
    [
        dejavu::sans::regular(),
        dejavu::sans::bold(),
        epaint_default_fonts::NOTO_EMOJI_REGULAR,
    ]
}

/// The parsed files; one that cannot be parsed is left out, and its letters are estimated.
fn fonts() -> &'static [Option<FontRef<'static>>; 3] {
    static FONTS: OnceLock<[Option<FontRef<'static>>; 3]> = OnceLock::new();
    FONTS.get_or_init(|| files().map(|file| FontRef::new(file).ok()))
}

/// Width of a letter in ems, if one of the fonts has it.
pub(super) fn advance_em(c: char, bold: bool) -> Option<f64> {
    let [plain, heavy, signs] = fonts();
    let first = if bold { heavy } else { plain };
    [first, plain, signs]
        .into_iter()
        .flatten()
        .find_map(|font| advance_in(font, c))
}

fn advance_in(font: &FontRef<'_>, c: char) -> Option<f64> {
    let glyph = font.charmap().map(c)?;
    let size = Size::unscaled();
    let per_em = font.metrics(size, LocationRef::default()).units_per_em;
    let metrics = font.glyph_metrics(size, LocationRef::default());
    Some(f64::from(metrics.advance_width(glyph)?) / f64::from(per_em))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fonts_are_there_and_have_the_letters_of_a_graph() {
        assert!(fonts().iter().all(Option::is_some));
        for c in "°±−µΔϑ₁0Az ÄñжשاΩ…".chars() {
            assert!(advance_in(&fonts()[0].clone().unwrap(), c).is_some(), "{c}");
        }
        // The emoji, and what neither font has.
        assert!(advance_em('🌱', false).is_some());
        assert!(advance_em('石', false).is_none());
    }

    #[test]
    fn widths_are_those_that_the_font_states() {
        // DejaVu Sans 2.37: 2048 units to the em; a digit is 1303 wide, an m 1995 (hmtx table).
        assert!((advance_em('0', false).unwrap() - 1303.0 / 2048.0).abs() < 1e-9);
        assert!((advance_em('m', false).unwrap() - 1995.0 / 2048.0).abs() < 1e-9);
        assert!(advance_em('m', true) > advance_em('m', false));
    }
}
