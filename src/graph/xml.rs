//! A small writer of SVG elements: presentation attributes only, so that a page may forbid styles.

use core::fmt::Write;

use super::colour::Colour;

/// Fonts of the reader's own system.
const FONTS: &str = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, 'DejaVu Sans', sans-serif";

/// SVG text as it grows.
#[derive(Debug, Default)]
pub(super) struct Svg {
    out: String,
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stroke<'a> {
    pub(super) colour: Colour,
    pub(super) width: f64,
    /// Lengths of dashes and holes in multiples of the width; empty for a solid line.
    pub(super) dashes: &'a [f64],
}

impl Stroke<'_> {
    pub(super) fn solid(colour: Colour, width: f64) -> Self {
        Self {
            colour,
            width,
            dashes: &[],
        }
    }

    fn attributes(&self) -> String {
        let mut text = format!(
            "stroke=\"{}\" stroke-width=\"{}\"",
            self.colour.hex(),
            px(self.width)
        );
        if !self.dashes.is_empty() {
            let lengths: Vec<String> = self.dashes.iter().map(|d| px(d * self.width)).collect();
            text = text + " stroke-dasharray=\"" + &lengths.join(" ") + "\"";
        }
        text
    }
}

/// Where a text stands from its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a text is set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Type {
    pub(super) size: f64,
    pub(super) fill: Colour,
    pub(super) anchor: Anchor,
    pub(super) bold: bool,
}

/// A length in pixels: one decimal at most, never a negative zero, never an exponent.
pub(super) fn px(value: f64) -> String {
    let tenths = libm::round(value * 10.0) as i64;
    let (sign, size) = (if tenths < 0 { "-" } else { "" }, tenths.unsigned_abs());
    if size % 10 == 0 {
        format!("{sign}{}", size / 10)
    } else {
        format!("{sign}{}.{}", size / 10, size % 10)
    }
}

/// The attribute of a fill that is seen through.
fn translucent(opacity: f64) -> String {
    if opacity < 1.0 {
        format!(" fill-opacity=\"{opacity:.2}\"")
    } else {
        String::new()
    }
}

/// Text for XML and HTML: the five characters that have a meaning there are replaced.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

impl Svg {
    /// Opens the document, with what a reader who cannot see it is told.
    pub(super) fn new(width: f64, height: f64, title: &str, description: &str) -> Self {
        let (w, h) = (px(width), px(height));
        let mut svg = Self::default();
        svg.put(&format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" \
             role=\"img\" font-family=\"{FONTS}\">"
        ));
        svg.put(&format!("<title>{}</title>", escaped(title)));
        svg.put(&format!("<desc>{}</desc>", escaped(description)));
        svg
    }

    fn put(&mut self, line: &str) {
        self.out.push_str(line);
        self.out.push('\n');
    }

    pub(super) fn rect(
        &mut self,
        x: f64,
        y: f64,
        width: f64,
        height: f64,
        fill: Colour,
        opacity: f64,
    ) {
        let (x, y, w, h) = (px(x), px(y), px(width), px(height));
        let opacity = translucent(opacity);
        self.put(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"{}\"{opacity}/>",
            fill.hex()
        ));
    }

    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: Stroke<'_>) {
        let (x1, y1, x2, y2) = (px(from.0), px(from.1), px(to.0), px(to.1));
        self.put(&format!(
            "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" {}/>",
            stroke.attributes()
        ));
    }

    /// Lines from point to point; nothing without points.
    pub(super) fn path(&mut self, points: &[(f64, f64)], stroke: Stroke<'_>) {
        if points.is_empty() {
            return;
        }
        let mut d = String::with_capacity(points.len() * 12);
        for (k, (x, y)) in points.iter().enumerate() {
            let command = if k == 0 { 'M' } else { 'L' };
            // Writing to a String cannot fail.
            let _ = write!(d, "{command}{} {}", px(*x), px(*y));
        }
        self.put(&format!(
            "<path d=\"{d}\" fill=\"none\" stroke-linejoin=\"round\" {}/>",
            stroke.attributes()
        ));
    }

    /// Lines between pairs of points; lines that go on from each other are one.
    pub(super) fn strokes(
        &mut self,
        pairs: impl Iterator<Item = [(f64, f64); 2]>,
        stroke: Stroke<'_>,
    ) {
        let mut d = String::new();
        let mut last = None;
        for [from, to] in pairs {
            if last != Some(from) {
                // Writing to a String cannot fail.
                let _ = write!(d, "M{} {}", px(from.0), px(from.1));
            }
            let _ = write!(d, "L{} {}", px(to.0), px(to.1));
            last = Some(to);
        }
        if !d.is_empty() {
            let how = stroke.attributes();
            self.put(&format!("<path d=\"{d}\" fill=\"none\" {how}/>"));
        }
    }

    /// A filled shape around its corners.
    pub(super) fn area(&mut self, corners: &[(f64, f64)], fill: Colour, opacity: f64) {
        let points: Vec<String> = corners
            .iter()
            .map(|(x, y)| format!("{},{}", px(*x), px(*y)))
            .collect();
        self.put(&format!(
            "<polygon points=\"{}\" fill=\"{}\"{}/>",
            points.join(" "),
            fill.hex(),
            translucent(opacity)
        ));
    }

    pub(super) fn dot(&mut self, at: (f64, f64), radius: f64, fill: Colour) {
        let (x, y, r) = (px(at.0), px(at.1), px(radius));
        self.put(&format!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" fill=\"{}\"/>",
            fill.hex()
        ));
    }

    /// A text on its base line; `turned` reads upwards.
    pub(super) fn text(&mut self, at: (f64, f64), kind: Type, turned: bool, text: &str) {
        let (x, y) = (px(at.0), px(at.1));
        let anchor = match kind.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = if kind.bold {
            " font-weight=\"bold\""
        } else {
            ""
        };
        let turn = if turned {
            format!(" transform=\"rotate(-90 {x} {y})\"")
        } else {
            String::new()
        };
        self.put(&format!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\" fill=\"{}\" text-anchor=\"{anchor}\"{weight}{turn}>{}</text>",
            px(kind.size),
            kind.fill.hex(),
            escaped(text)
        ));
    }

    /// Closes the document.
    pub(super) fn finish(mut self) -> String {
        self.put("</svg>");
        self.out
    }
}
