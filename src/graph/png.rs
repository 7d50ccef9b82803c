//! The same picture in pixels.
//!
//! The letters come from fonts inside the program (DejaVu Sans, and Noto Emoji for what it lacks),
//! never from the machine, so that a picture looks the same everywhere, also where no font is
//! installed.

use std::sync::{Arc, OnceLock};

use resvg::usvg::fontdb::{Database, Source};
use resvg::{tiny_skia, usvg};

use super::{font, text};

/// The most pixels of a picture: 64 million, a quarter of a gigabyte while it is drawn.
const MOST_PIXELS: f64 = 64e6;

/// Why there is no PNG.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PngError {
    /// The text is no SVG picture.
    #[error("not a picture: {0}")]
    Svg(#[from] usvg::Error),
    /// The picture is too large, or of no size at all.
    #[error("a picture of {width:.0} by {height:.0} pixels cannot be drawn")]
    Size {
        /// Width in pixels.
        width: f64,
        /// Height in pixels.
        height: f64,
    },
    /// The pixels could not be written as PNG.
    #[error("the pixels cannot be written: {0}")]
    Encoding(String),
}

/// Renders an SVG picture, as [`super::svg`] or [`super::class_svg`] draw it, with `scale` pixels
/// for each CSS pixel (2 for print at 300 dots per inch of a page's width).
///
/// # Errors
/// [`PngError`] if the text is no SVG or the picture would have no pixel or more than 64 million.
pub fn png(svg: &str, scale: f64) -> Result<Vec<u8>, PngError> {
    let options = usvg::Options {
        fontdb: fonts(),
        font_family: font::FAMILY.to_owned(),
        ..usvg::Options::default()
    };
    let tree = usvg::Tree::from_str(&text::without_joiners(svg), &options)?;
    let size = tree.size();
    let (width, height) = (
        (f64::from(size.width()) * scale).ceil(),
        (f64::from(size.height()) * scale).ceil(),
    );
    let refused = PngError::Size { width, height };
    if !(width >= 1.0 && height >= 1.0 && width * height <= MOST_PIXELS) {
        return Err(refused);
    }
    let mut pixels = tiny_skia::Pixmap::new(width as u32, height as u32).ok_or(refused)?;
    let transform = tiny_skia::Transform::from_scale(scale as f32, scale as f32);
    resvg::render(&tree, transform, &mut pixels.as_mut());
    pixels
        .encode_png()
        .map_err(|error| PngError::Encoding(error.to_string()))
}

/// The fonts of the program, read once.
fn fonts() -> Arc<Database> {
    static FONTS: OnceLock<Arc<Database>> = OnceLock::new();
    let load = || {
        let mut fonts = Database::new();
        for file in font::files() {
            fonts.load_font_source(Source::Binary(Arc::new(file)));
        }
        fonts.set_sans_serif_family(font::FAMILY);
        Arc::new(fonts)
    };
    FONTS.get_or_init(load).clone()
}

/// The letters of a text that a PNG cannot show, each once, in order: those that no font of the
/// program has. In the SVG picture they are drawn with the reader's own fonts.
#[must_use]
pub fn letters_without_font(of: &str) -> Vec<char> {
    let mut missing = Vec::new();
    for c in text::printable(of).chars() {
        if !c.is_whitespace() && text::is_without_font(c) && !missing.contains(&c) {
            missing.push(c);
        }
    }
    missing
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_font_comes_from_inside_the_program() {
        let fonts = fonts();
        assert_eq!(fonts.faces().count(), 3);
        for face in fonts.faces() {
            assert!(matches!(face.source, Source::Binary(_)), "{face:?}");
        }
    }

    #[test]
    fn letters_that_cannot_be_painted_are_named() {
        assert_eq!(letters_without_font("石 slate 石 板"), ['石', '板']);
        assert!(letters_without_font("Moos, طحلب, אזוב, мох 🌱👩🏽\u{200d}🏫").is_empty());
    }
}
