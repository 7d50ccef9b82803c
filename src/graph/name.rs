//! The curves' names, each at its curve's end with a piece of its line: no legend to hunt in.

use super::colour::Palette;
use super::curve::stroke;
use super::frame::Frame;
use super::picture::{Curve, Picture};
use super::spread::spread;
use super::wording::Wording;
use super::xml::{Anchor, Stroke, Svg, Type};

/// Distance of two names in their own size.
const LINE: f64 = 1.35;
/// The least distance of two names in pixels: what is smaller cannot be read.
const LEAST_LINE: f64 = 11.0;

/// Writes the names, nudged apart; says how many there was no room for.
pub(super) fn draw_names(
    svg: &mut Svg,
    frame: &Frame,
    palette: &Palette,
    picture: &Picture<'_>,
    words: &dyn Wording,
) {
    let em = frame.em;
    let curves = picture.curves.iter();
    let ends: Vec<Option<(f64, f64)>> = curves.map(|curve| end(curve, frame)).collect();
    let half = 0.5 * LINE * em;
    let (line, rows) = rows(&ends, frame);
    let left = frame.right + frame.leader;
    let size = (line / LINE).min(em);
    let plain = Type {
        size,
        fill: palette.quiet,
        anchor: Anchor::Start,
        bold: false,
    };
    let mut left_out = 0;
    for (number, ((name, end), &row)) in frame.names.iter().zip(&ends).zip(&rows).enumerate() {
        if row > frame.bottom + half {
            left_out += 1;
            continue;
        }
        if let Some((x, y)) = *end
            && (ends.len() > 2 || (row - y).abs() > 2.0 || frame.right - x > 2.0)
        {
            svg.line((x, y), (left, row), Stroke::solid(palette.quiet, 0.05 * em));
        }
        if frame.sample > 0.0 {
            let to = (left + frame.sample, row);
            svg.line((left, row), to, stroke(number, frame, palette));
        }
        let bold = frame.has_bold_names && end.is_some();
        let kind = Type {
            fill: palette.name(number),
            bold,
            ..plain
        };
        let x = left + frame.sample + 0.3 * em;
        svg.text((x, row + 0.35 * size), kind, false, name);
    }
    if left_out > 0 {
        let foot = (left, frame.bottom + half + 1.2 * size);
        svg.text(foot, plain, false, &words.more(left_out));
    }
}

/// Height of a line of names, and where each name stands: beside its curve's end as far as there is
/// room.
fn rows(ends: &[Option<(f64, f64)>], frame: &Frame) -> (f64, Vec<f64>) {
    let em = frame.em;
    let room = frame.bottom - frame.top + LINE * em;
    let line = (room / ends.len().max(1) as f64).clamp(LEAST_LINE, LINE * em);
    // A curve without readings is named at the foot.
    let wanted: Vec<f64> = ends
        .iter()
        .map(|end| end.map_or(frame.bottom, |(_, y)| y))
        .collect();
    let half = 0.5 * LINE * em;
    let within = (frame.top - half, frame.bottom + half);
    (line, spread(&wanted, &vec![line; wanted.len()], within))
}

/// Where a curve ends, if it has points.
fn end(curve: &Curve<'_>, frame: &Frame) -> Option<(f64, f64)> {
    let (t_s, degc) = curve.points().next_back()?;
    Some((frame.x(t_s), frame.y(degc)))
}
