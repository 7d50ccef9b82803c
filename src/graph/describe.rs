//! The picture in words, for readers who cannot see it.

use super::frame::Frame;
use super::lamp::{edge_text, edges_in_order};
use super::picture::{Curve, Degrees, Picture};
use super::text;

/// What the picture shows, in a few sentences.
pub(super) fn describe(picture: &Picture<'_>, frame: &Frame) -> String {
    let (from, to) = frame.span_in_units();
    let mut words = format!(
        "Line graph of temperature in {}. {} from {from:.1} to {to:.1}.",
        frame.degrees.symbol(),
        frame.unit.title()
    );
    for curve in &picture.curves {
        words = words + " " + &course(curve, frame.degrees);
    }
    for edge in edges_in_order(picture) {
        words = words + " " + &edge_text(&edge, frame.zero_s) + ".";
    }
    words
}

fn course(curve: &Curve<'_>, degrees: Degrees) -> String {
    let name = text::printable(&curve.name);
    let mut points = curve.points().map(|(_, degc)| degrees.of(degc));
    let Some(first) = points.next() else {
        return format!("{name}: no readings.");
    };
    let whole = (first, first, first);
    let (low, high, last) = points.fold(whole, |(low, high, _), v| (low.min(v), high.max(v), v));
    format!("{name}: first {first:.1}, lowest {low:.1}, highest {high:.1}, last {last:.1}.")
}
