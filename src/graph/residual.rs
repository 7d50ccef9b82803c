//! What a fit leaves over at its points, with the band that the fit itself is known to.

use std::borrow::Cow;

use super::Style;
use super::colour::{BAND_OPACITY, Palette};
use super::text::{self, Cut};
use super::tick;
use super::xml::{Anchor, Stroke, Svg, Type};

/// Residuals of a calibration over its reference temperatures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ResidualPicture<'a> {
    /// Heading; text from people, so anything at all.
    pub title: Cow<'a, str>,
    /// Reference temperature and residual of each point, in °C.
    pub points: Vec<(f64, f64)>,
    /// Temperature and half width of the band around nought there, in °C; temperatures increasing.
    pub band: Vec<(f64, f64)>,
    /// What a residual is, for the vertical axis.
    pub residual: Cow<'a, str>,
    /// What the band stands for: written at the foot.
    pub meaning: Cow<'a, str>,
}

/// The narrowest vertical axis on either side of nought, in °C: beyond what any such probe resolves.
const NARROWEST_DEGC: f64 = 0.01;

/// Where things stand.
struct Place {
    em: f64,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    x: (f64, f64),
    y: (f64, f64),
    steps: (f64, f64),
}

impl Place {
    fn new(picture: &ResidualPicture<'_>, style: &Style) -> Self {
        let size = |v: f64, least: f64| if v >= least { v.min(8000.0) } else { least };
        let (width, height) = (size(style.width, 320.0), size(style.height, 200.0));
        let em = (width / 60.0).min(height / 34.0).clamp(10.0, 48.0);
        let finite = |v: &f64| v.is_finite() && v.abs() < 1e6;
        let across = picture.points.iter().chain(&picture.band).map(|p| p.0);
        let (low, high) = ends(across.filter(finite), (0.0, 1.0));
        let up = picture
            .points
            .iter()
            .chain(&picture.band)
            .map(|p| p.1.abs());
        let most = up.filter(finite).fold(NARROWEST_DEGC, f64::max);
        let steps = (
            tick::round_step((high - low) / 10.0),
            tick::round_step(2.2 * most / 8.0),
        );
        let outer = |v: f64, step: f64| libm::ceil(v / step) * step;
        let top_y = outer(1.1 * most, steps.1);
        let labels = [tick::label(-top_y, steps.1), tick::label(top_y, steps.1)];
        let widest = labels
            .iter()
            .map(|l| Cut::plain(em).width(l))
            .fold(0.0, f64::max);
        Self {
            em,
            left: 3.1 * em + widest,
            right: width - 2.0 * em,
            top: 3.2 * em,
            bottom: height - 5.4 * em,
            x: (libm::floor(low / steps.0) * steps.0, outer(high, steps.0)),
            y: (-top_y, top_y),
            steps,
        }
    }

    fn x(&self, degc: f64) -> f64 {
        let share = (degc - self.x.0) / (self.x.1 - self.x.0);
        self.left + share.clamp(0.0, 1.0) * (self.right - self.left)
    }

    fn y(&self, degc: f64) -> f64 {
        let share = (degc - self.y.0) / (self.y.1 - self.y.0);
        self.bottom - share.clamp(0.0, 1.0) * (self.bottom - self.top)
    }
}

/// Lowest and highest of some values, or `other` where there are none or they are all the same.
fn ends(values: impl Iterator<Item = f64>, other: (f64, f64)) -> (f64, f64) {
    let start = (f64::INFINITY, f64::NEG_INFINITY);
    let (low, high) = values.fold(start, |(low, high), v| (low.min(v), high.max(v)));
    if low < high {
        (low, high)
    } else if low.is_finite() {
        (low - 0.5, low + 0.5)
    } else {
        other
    }
}

/// Draws residuals as a complete SVG document. Whatever the picture holds, there is a drawing.
#[must_use]
pub fn residual_svg(picture: &ResidualPicture<'_>, style: &Style) -> String {
    let place = Place::new(picture, style);
    let palette = Palette::of(style.theme);
    let title = text::printable(&picture.title);
    let (width, height) = (place.right + 2.0 * place.em, place.bottom + 5.4 * place.em);
    let mut words = format!("{} at reference temperatures in °C:", picture.residual);
    let points = picture.points.iter();
    for (degc, residual) in points.filter(|(x, y)| x.is_finite() && y.is_finite()) {
        words.push_str(&format!(" {degc:.1}: {residual:+.3};"));
    }
    let mut svg = Svg::new(width, height, &title, &words);
    svg.rect(0.0, 0.0, width, height, palette.ground, 1.0);
    draw_band(&mut svg, &place, &palette, picture);
    draw_axes(&mut svg, &place, &palette, picture);
    draw_points(&mut svg, &place, &palette, picture);
    let size = 1.2 * place.em;
    let kind = Type {
        size,
        fill: palette.ink,
        anchor: Anchor::Start,
        bold: true,
    };
    let fitted = Cut::bold(size).fitted(&title, width - 2.0 * place.em);
    svg.text((place.em, 1.7 * place.em), kind, false, &fitted);
    svg.finish()
}

fn draw_band(svg: &mut Svg, place: &Place, palette: &Palette, picture: &ResidualPicture<'_>) {
    let band = picture
        .band
        .iter()
        .filter(|(x, u)| x.is_finite() && u.is_finite());
    let edge = |sign: f64| {
        let at = move |(x, u): &(f64, f64)| (place.x(*x), place.y(sign * u));
        band.clone().map(at).collect::<Vec<_>>()
    };
    let (upper, lower) = (edge(1.0), edge(-1.0));
    let outline: Vec<(f64, f64)> = upper.into_iter().chain(lower.into_iter().rev()).collect();
    svg.area(&outline, palette.line(0), BAND_OPACITY);
}

fn draw_axes(svg: &mut Svg, place: &Place, palette: &Palette, picture: &ResidualPicture<'_>) {
    let em = place.em;
    let grid = Stroke::solid(palette.grid, 1.0);
    let ink = Stroke::solid(palette.ink, 0.08 * em);
    let end = Type {
        size: em,
        fill: palette.ink,
        anchor: Anchor::End,
        bold: false,
    };
    let middle = Type {
        anchor: Anchor::Middle,
        ..end
    };
    for value in tick::ticks(place.y.0, place.y.1, place.steps.1) {
        let y = place.y(value);
        svg.line((place.left, y), (place.right, y), grid);
        svg.line((place.left - 0.4 * em, y), (place.left, y), ink);
        let label = tick::label(value, place.steps.1);
        svg.text((place.left - 0.6 * em, y + 0.35 * em), end, false, &label);
    }
    svg.line((place.left, place.y(0.0)), (place.right, place.y(0.0)), ink);
    svg.line((place.left, place.bottom), (place.left, place.top), ink);
    svg.line((place.left, place.bottom), (place.right, place.bottom), ink);
    for value in tick::ticks(place.x.0, place.x.1, place.steps.0) {
        let x = place.x(value);
        svg.line((x, place.bottom), (x, place.bottom + 0.4 * em), ink);
        let label = tick::label(value, place.steps.0);
        svg.text((x, place.bottom + 1.5 * em), middle, false, &label);
    }
    let centre = (
        0.5 * (place.left + place.right),
        0.5 * (place.top + place.bottom),
    );
    let below = |lines: f64| (centre.0, place.bottom + lines * em);
    svg.text(below(3.0), middle, false, "Reference temperature / °C");
    let residual = format!("{} / °C", text::printable(&picture.residual));
    svg.text((1.3 * em, centre.1), middle, true, &residual);
    let quiet = Type {
        fill: palette.quiet,
        ..middle
    };
    svg.text(below(4.6), quiet, false, &text::printable(&picture.meaning));
}

fn draw_points(svg: &mut Svg, place: &Place, palette: &Palette, picture: &ResidualPicture<'_>) {
    let (em, colour) = (place.em, palette.line(1));
    let points = picture
        .points
        .iter()
        .filter(|(x, y)| x.is_finite() && y.is_finite());
    for (degc, residual) in points {
        let (x, y) = (place.x(*degc), place.y(*residual));
        svg.line((x, place.y(0.0)), (x, y), Stroke::solid(colour, 0.1 * em));
        let (half, stroke) = (0.42 * em, Stroke::solid(colour, 0.18 * em));
        svg.line((x - half, y - half), (x + half, y + half), stroke);
        svg.line((x - half, y + half), (x + half, y - half), stroke);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(points: &[(f64, f64)], band: &[(f64, f64)]) -> String {
        let picture = ResidualPicture {
            title: "Tray <a> & b".into(),
            points: points.to_vec(),
            band: band.to_vec(),
            residual: "Law minus reference".into(),
            meaning: "Band: two standard uncertainties of the fit".into(),
        };
        residual_svg(&picture, &Style::default())
    }

    #[test]
    fn each_point_is_drawn_and_told_and_text_is_escaped() {
        let svg = drawn(
            &[(0.0, 0.05), (25.0, -0.08), (50.0, 0.03)],
            &[(0.0, 0.1), (50.0, 0.1)],
        );
        assert_eq!(svg.matches(" 25.0: -0.080;").count(), 1);
        assert!(svg.contains("Tray &lt;a&gt; &amp; b") && svg.contains("Law minus reference / °C"));
        let mut reader = quick_xml::Reader::from_str(&svg);
        while reader.read_event().unwrap() != quick_xml::events::Event::Eof {}
    }

    #[test]
    fn whatever_it_holds_there_is_a_drawing() {
        for points in [
            vec![],
            vec![(20.0, 0.0)],
            vec![(f64::NAN, 1.0), (3.0, f64::INFINITY)],
        ] {
            let svg = drawn(&points, &[]);
            assert!(svg.starts_with("<svg") && !svg.contains("NaN") && !svg.contains("inf"));
        }
    }
}
