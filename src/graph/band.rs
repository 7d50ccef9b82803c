//! The shaded band around a curve.

use super::colour::{BAND_OPACITY, Palette};
use super::curve::gap_of;
use super::frame::Frame;
use super::picture::{Band, Curve, Picture, is_drawable_degc, is_drawable_s};
use super::xml::Svg;

/// A pixel column of a band: row of its upper end, row of its lower end.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Column {
    x: f64,
    upper: f64,
    lower: f64,
}

/// Draws every curve's band.
pub(super) fn draw_bands(svg: &mut Svg, frame: &Frame, palette: &Palette, picture: &Picture<'_>) {
    for (number, curve) in picture.curves.iter().enumerate() {
        let Some(band) = &curve.band else { continue };
        for stretch in columns(curve, band, gap_of(picture), frame) {
            let upper = stretch.iter().map(|c| (c.x, c.upper));
            let lower = stretch.iter().rev().map(|c| (c.x, c.lower));
            let corners: Vec<(f64, f64)> = upper.chain(lower).collect();
            svg.area(&corners, palette.line(number), BAND_OPACITY);
        }
    }
}

/// The band thinned to one entry per pixel column, which holds all that lies in it, and split where
/// it has gaps.
fn columns(curve: &Curve<'_>, band: &Band<'_>, gap_s: f64, frame: &Frame) -> Vec<Vec<Column>> {
    let mut stretches: Vec<Vec<Column>> = Vec::new();
    let (mut last_s, mut last_x) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    let mut is_broken = true;
    let ends = band.low_degc.iter().zip(band.high_degc.iter());
    for (&t_s, (&low, &high)) in curve.t_s.iter().zip(ends) {
        if !(is_drawable_s(t_s) && is_drawable_degc(low) && is_drawable_degc(high)) {
            is_broken = true;
            continue;
        }
        let x = libm::floor(frame.x(t_s));
        let (upper, lower) = (frame.y(high.max(low)), frame.y(low.min(high)));
        let is_gap = is_broken || t_s - last_s > gap_s;
        match stretches.last_mut() {
            #[expect(clippy::float_cmp, reason = "both are whole numbers")]
            Some(open) if x == last_x => {
                if let Some(column) = open.last_mut() {
                    column.upper = column.upper.min(upper);
                    column.lower = column.lower.max(lower);
                }
            }
            Some(open) if !is_gap => open.push(Column {
                x: frame.x(t_s),
                upper,
                lower,
            }),
            _ => stretches.push(vec![Column {
                x: frame.x(t_s),
                upper,
                lower,
            }]),
        }
        (last_s, last_x, is_broken) = (t_s, x, false);
    }
    stretches
}
