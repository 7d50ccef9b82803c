//! The picture in words, for readers who cannot see it.

use super::frame::Frame;
use super::lamp::{edge_text, edges_in_order};
use super::picture::{Curve, Degrees, Picture};
use super::text;
use super::wording::Wording;

/// What the picture shows, in a few sentences.
pub(super) fn describe(picture: &Picture<'_>, frame: &Frame, words: &dyn Wording) -> String {
    let (from, to) = frame.span_in_units();
    let (from, to) = (format!("{from:.1}"), format!("{to:.1}"));
    let symbol = frame.degrees.symbol();
    let mut said = words.overview(symbol, &frame.time_title, (&from, &to));
    for curve in &picture.curves {
        said = said + " " + &course(curve, frame.degrees, words);
    }
    for edge in edges_in_order(picture) {
        said = said + " " + &edge_text(&edge, frame.zero_s, words) + ".";
    }
    said
}

fn course(curve: &Curve<'_>, degrees: Degrees, words: &dyn Wording) -> String {
    let name = text::printable(&curve.name);
    let mut points = curve.points().map(|(_, degc)| degrees.of(degc));
    let Some(first) = points.next() else {
        return format!("{name}{}.", words.no_readings());
    };
    let whole = (first, first, first);
    let (low, high, last) = points.fold(whole, |(low, high, _), v| (low.min(v), high.max(v), v));
    let all = [first, low, high, last].map(|v| format!("{v:.1}"));
    words.course(&name, all.each_ref().map(String::as_str))
}
