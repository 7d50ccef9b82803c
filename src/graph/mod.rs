//! One picture: temperatures over time as an SVG text, for report, live page and print.
//!
//! The curves are told apart three ways: by colour (Okabe and Ito), by line style, and by a name at
//! the line's end. Lamp-on time is a pale band; each edge is labelled and its interval drawn. The
//! text refers to nothing outside itself, holds no script and no style element, and the same
//! picture gives the same bytes. Titles and names come from people: they are escaped and lose
//! their control characters. [`png()`] makes pixels of it, with fonts from inside the program.
//!
//! ```
//! use duskmark::graph::{Curve, Picture, Style, svg};
//!
//! let curve = Curve { name: "moss".into(), t_s: vec![0.0, 60.0].into(), degc: vec![21.0, 22.5].into(), ..Curve::default() };
//! let picture = Picture { title: "Under the lamp".into(), curves: vec![curve], ..Picture::default() };
//! assert!(svg(&picture, &Style::default()).contains("Temperature / °C"));
//! ```

mod area;
mod axis;
mod band;
mod behind;
mod class;
mod colour;
mod curve;
mod describe;
mod extent;
mod font;
mod frame;
mod lamp;
mod median;
mod name;
mod note;
mod picture;
mod png;
mod residual;
mod series;
mod spread;
mod text;
mod thin;
mod tick;
mod wording;
mod xml;

pub use area::{PlotArea, plot_area};
pub use class::{ClassPicture, Material, class_svg, class_svg_in};
pub use picture::{Band, Curve, Degrees, EdgeKind, LampEdge, Picture, Style, Theme};
pub use png::{PngError, letters_without_font, png};
pub use residual::{ResidualPicture, residual_svg};
pub use series::of_series;
pub use text::within;
pub use wording::{English, Spread, Wording};
pub(crate) use xml::escaped;

use behind::Behind;
use colour::Palette;
use frame::Frame;
use xml::{Anchor, Svg, Type};

/// Draws a picture as a complete SVG document.
///
/// Whatever the picture holds, there is a drawing: points that are no numbers are gaps, and a
/// picture without points has empty axes.
#[must_use]
pub fn svg(picture: &Picture<'_>, style: &Style) -> String {
    svg_in(picture, style, &English)
}

/// [`svg`] in other words than English ones.
#[must_use]
pub fn svg_in(picture: &Picture<'_>, style: &Style, words: &dyn Wording) -> String {
    draw(picture, &[], style, words)
}

/// Draws a picture with other curves behind its own.
fn draw(
    picture: &Picture<'_>,
    behind: &[Behind<'_>],
    style: &Style,
    words: &dyn Wording,
) -> String {
    let palette = Palette::of(style.theme);
    let frame = &Frame::new(picture, behind, style, words);
    let title = text::printable(&picture.title);
    let mut out = Svg::new(
        frame.width,
        frame.height,
        &title,
        &describe::describe(picture, frame, words),
    );
    out.rect(0.0, 0.0, frame.width, frame.height, palette.ground, 1.0);
    lamp::draw_band(&mut out, frame, &palette, picture);
    axis::draw_grid(&mut out, frame, &palette);
    lamp::draw_edges(&mut out, frame, &palette, picture);
    axis::draw_axes(&mut out, frame, &palette);
    axis::draw_marks(&mut out, frame, &palette, picture);
    band::draw_bands(&mut out, frame, &palette, picture);
    behind::draw_behind(&mut out, frame, &palette, picture, behind);
    curve::draw_curves(&mut out, frame, &palette, picture);
    name::draw_names(&mut out, frame, &palette, picture, words);
    draw_title(&mut out, frame, &palette, &title);
    note::draw_note(&mut out, frame, &palette);
    out.finish()
}

fn draw_title(out: &mut Svg, frame: &Frame, palette: &Palette, title: &str) {
    let size = 1.2 * frame.em;
    let kind = Type {
        size,
        fill: palette.ink,
        anchor: Anchor::Start,
        bold: true,
    };
    let fitted = text::Cut::bold(size).fitted(title, frame.width - 2.0 * frame.em);
    out.text((frame.em, 1.7 * frame.em), kind, false, &fitted);
}

#[cfg(test)]
mod tests;
