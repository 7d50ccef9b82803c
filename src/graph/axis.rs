//! Axes, ticks, grid, and the marks as notches on the time axis.

use super::colour::Palette;
use super::frame::Frame;
use super::picture::{Picture, is_drawable_s};
use super::xml::{Anchor, Stroke, Svg, Type};

/// Draws the grid behind the curves.
pub(super) fn draw_grid(svg: &mut Svg, frame: &Frame, palette: &Palette) {
    let line = Stroke::solid(palette.grid, 1.0);
    for (y, _) in frame.temperature_ticks() {
        svg.line((frame.left, y), (frame.right, y), line);
    }
}

/// Draws both axes with ticks, labels and titles.
pub(super) fn draw_axes(svg: &mut Svg, frame: &Frame, palette: &Palette) {
    let em = frame.em;
    let line = Stroke::solid(palette.ink, 0.08 * em);
    let kind = Type {
        size: em,
        fill: palette.ink,
        anchor: Anchor::End,
        bold: false,
    };
    let middle = Type {
        anchor: Anchor::Middle,
        ..kind
    };
    let corner = (frame.left, frame.bottom);
    svg.line(corner, (frame.left, frame.top), line);
    svg.line(corner, (frame.right, frame.bottom), line);
    for (y, label) in frame.temperature_ticks() {
        svg.line((frame.left - 0.4 * em, y), (frame.left, y), line);
        svg.text((frame.left - 0.6 * em, y + 0.35 * em), kind, false, &label);
    }
    for (t_s, label) in frame.time_ticks() {
        let x = frame.x(t_s);
        svg.line((x, frame.bottom), (x, frame.bottom + 0.4 * em), line);
        svg.text((x, frame.bottom + 1.5 * em), middle, false, &label);
    }
    let centre = (
        0.5 * (frame.left + frame.right),
        0.5 * (frame.top + frame.bottom),
    );
    svg.text(
        (centre.0, frame.bottom + 3.0 * em),
        middle,
        false,
        &frame.time_title,
    );
    svg.text((1.3 * em, centre.1), middle, true, &frame.temperature_title);
}

/// Draws the marks, one notch per pixel at most.
pub(super) fn draw_marks(svg: &mut Svg, frame: &Frame, palette: &Palette, picture: &Picture<'_>) {
    let notch = Stroke::solid(palette.ink, 0.16 * frame.em);
    let mut last_x = f64::NEG_INFINITY;
    let mut marks: Vec<f64> = picture
        .marks_s
        .iter()
        .copied()
        .filter(|t_s| is_drawable_s(*t_s))
        .collect();
    marks.sort_by(f64::total_cmp);
    for t_s in marks {
        let x = frame.x(t_s);
        if x - last_x >= 3.0 {
            svg.line(
                (x, frame.bottom - 0.45 * frame.em),
                (x, frame.bottom),
                notch,
            );
            last_x = x;
        }
    }
}
