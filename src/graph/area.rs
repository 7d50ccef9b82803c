//! Where in a picture the plot is, for reading values off it.

use super::frame::Frame;
use super::picture::{Picture, Style};
use super::wording::English;

/// The plot's place, and what its sides stand for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlotArea {
    /// Left side in pixels.
    pub left: f64,
    /// Right side in pixels.
    pub right: f64,
    /// Time at the left side, in seconds of the curves' time base.
    pub from_s: f64,
    /// Time at the right side, likewise.
    pub to_s: f64,
}

/// Where [`svg`](super::svg) puts the plot of a picture.
#[must_use]
pub fn plot_area(picture: &Picture<'_>, style: &Style) -> PlotArea {
    let frame = Frame::new(picture, &[], style, &English);
    PlotArea {
        left: frame.left,
        right: frame.right,
        from_s: frame.span_s.0,
        to_s: frame.span_s.1,
    }
}
