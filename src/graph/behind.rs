//! Curves behind the picture's own: thin, and as faint as can still be seen.

use super::colour::Palette;
use super::curve::gap_of;
use super::frame::Frame;
use super::picture::{Curve, Picture};
use super::thin::thin;
use super::xml::{Stroke, Svg};

/// A curve without a name, in the colour of one of the picture's own.
#[derive(Debug, Clone, Copy)]
pub(super) struct Behind<'a> {
    /// Which of the picture's curves it belongs to.
    pub(super) number: usize,
    pub(super) curve: &'a Curve<'a>,
    /// Its bench did something else: it is not in the median.
    pub(super) is_other: bool,
}

/// Draws them.
pub(super) fn draw_behind(
    svg: &mut Svg,
    frame: &Frame,
    palette: &Palette,
    picture: &Picture<'_>,
    behind: &[Behind<'_>],
) {
    let gap_s = gap_of(picture);
    for Behind { number, curve, .. } in behind {
        let stroke = Stroke::solid(palette.faint(*number), 0.06 * frame.em);
        for stretch in thin(&curve.t_s, &curve.degc, gap_s, |t_s| frame.x(t_s)) {
            let points = stretch.iter().map(|(t, v)| (frame.x(*t), frame.y(*v)));
            svg.path(&points.collect::<Vec<_>>(), stroke);
        }
    }
}
