//! Elements of a drawing: presentation attributes only, since the page's policy forbids styles.

use unicode_width::{UnicodeWidthChar as _, UnicodeWidthStr as _};

use super::super::page::escaped;

/// Ink of lines and letters.
pub(super) const INK: &str = "#1A1A1A";
/// Lines of less weight.
pub(super) const QUIET: &str = "#767676";
/// The faintest lines that still print.
pub(super) const FAINT: &str = "#C8C8C8";

/// A drawing as it grows.
#[derive(Debug, Default)]
pub(super) struct Drawing {
    out: String,
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pen<'a> {
    pub(super) colour: &'a str,
    pub(super) width: f64,
    /// Dashes as SVG writes them; empty for a solid line.
    pub(super) dashes: &'a str,
}

impl Pen<'_> {
    fn attributes(&self) -> String {
        let dashes = match self.dashes {
            "" => String::new(),
            dashes => format!(" stroke-dasharray=\"{dashes}\""),
        };
        format!(
            "stroke=\"{}\" stroke-width=\"{}\"{dashes}",
            self.colour,
            px(self.width)
        )
    }
}

/// A solid line.
pub(super) fn pen(colour: &str, width: f64) -> Pen<'_> {
    Pen {
        colour,
        width,
        dashes: "",
    }
}

/// A length with one decimal at most.
fn px(value: f64) -> String {
    let text = format!("{:.1}", value + 0.0);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

impl Drawing {
    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64), pen: Pen<'_>) {
        let (x1, y1, x2, y2) = (px(from.0), px(from.1), px(to.0), px(to.1));
        let pen = pen.attributes();
        self.put(&format!(
            "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" {pen}/>"
        ));
    }

    /// Lines from point to point.
    pub(super) fn path(&mut self, points: &[(f64, f64)], fill: &str, pen: Pen<'_>) {
        let points: Vec<String> = points
            .iter()
            .map(|(x, y)| format!("{} {}", px(*x), px(*y)))
            .collect();
        let (d, pen) = (points.join(" L"), pen.attributes());
        self.put(&format!(
            "<path d=\"M{d}\" fill=\"{fill}\" stroke-linejoin=\"round\" {pen}/>"
        ));
    }

    pub(super) fn rect(&mut self, at: (f64, f64), size: (f64, f64), fill: &str, pen: Pen<'_>) {
        let (x, y, w, h) = (px(at.0), px(at.1), px(size.0), px(size.1));
        let pen = pen.attributes();
        self.put(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"{fill}\" {pen}/>"
        ));
    }

    pub(super) fn circle(&mut self, at: (f64, f64), radius: f64, fill: &str, pen: Pen<'_>) {
        let (x, y, r) = (px(at.0), px(at.1), px(radius));
        let pen = pen.attributes();
        self.put(&format!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" fill=\"{fill}\" {pen}/>"
        ));
    }

    /// A text on its base line; `anchor` as SVG has it: `start`, `middle` or `end`.
    pub(super) fn text(&mut self, at: (f64, f64), size: f64, anchor: &str, text: &str) {
        let (x, y, size, text) = (px(at.0), px(at.1), px(size), escaped(text));
        self.put(&format!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" fill=\"{INK}\" text-anchor=\"{anchor}\">{text}</text>"
        ));
    }

    /// The same, reading upwards.
    pub(super) fn upwards(&mut self, at: (f64, f64), size: f64, text: &str) {
        let (x, y, size, text) = (px(at.0), px(at.1), px(size), escaped(text));
        self.put(&format!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" fill=\"{INK}\" text-anchor=\"middle\" \
             transform=\"rotate(-90 {x} {y})\">{text}</text>"
        ));
    }

    fn put(&mut self, element: &str) {
        self.out.push_str(element);
        self.out.push('\n');
    }

    /// The whole drawing, and what a reader who cannot see it is told.
    pub(super) fn finish(self, width: f64, height: f64, title: &str) -> String {
        let (w, h, title) = (px(width), px(height), escaped(title));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" \
             role=\"img\">\n\
             <title>{title}</title>\n{}</svg>\n",
            self.out
        )
    }
}

/// A text cut to the width of so many letters; Chinese ones and their kin are as wide as two.
pub(super) fn cut(text: &str, most: usize) -> String {
    if text.width() <= most {
        return text.to_owned();
    }
    let mut width = 0;
    let fits = |c: &char| {
        width += c.width().unwrap_or(0);
        width < most
    };
    let kept: String = text.chars().take_while(fits).collect();
    format!("{}…", super::super::words::plain(&kept))
}
