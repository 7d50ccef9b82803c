//! The lamp in the picture: a pale band while it burned, its edges, their intervals and labels.

use super::colour::{INTERVAL_OPACITY, Palette};
use super::frame::Frame;
use super::picture::{EdgeKind, LampEdge, Picture, is_drawable_s};
use super::spread::spread;
use super::text;
use super::wording::{Wording, marked};
use super::xml::{Anchor, Stroke, Svg, Type};

/// Size of the labels in ems.
const SIZE: f64 = 0.9;

/// The label of one edge.
#[derive(Debug, Clone)]
pub(super) struct EdgeLabel {
    text: String,
    width: f64,
    /// Column of the edge in pixels.
    at: f64,
    /// Column of the label's middle in pixels.
    centre: f64,
}

/// What an edge is called: `lamp off 12:04 ± 3 s`.
pub(super) fn edge_text(edge: &LampEdge, zero_s: f64, words: &dyn Wording) -> String {
    let instant = text::instant(
        edge.at_s - zero_s,
        edge.low_s - zero_s,
        edge.high_s - zero_s,
    );
    format!("{} {}", words.edge(edge.kind), marked(&instant, words))
}

/// Whether an edge's label says how well its instant is known.
pub(super) fn is_told_within(edge: &LampEdge) -> bool {
    is_drawable_s(edge.at_s) && text::reach_s(edge.at_s, edge.low_s, edge.high_s).is_some()
}

/// The edges that can be drawn, in order of time.
pub(super) fn edges_in_order(picture: &Picture<'_>) -> Vec<LampEdge> {
    let mut edges: Vec<LampEdge> = picture
        .edges
        .iter()
        .copied()
        .filter(|e| is_drawable_s(e.at_s))
        .collect();
    edges.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    edges
}

/// Finds room for the labels in one row: all of them moved apart, or, if there are too many, those
/// that fit where they belong; the description has the others.
pub(super) fn place_labels(
    picture: &Picture<'_>,
    frame: &Frame,
    words: &dyn Wording,
) -> Vec<EdgeLabel> {
    let gap = 0.8 * frame.em;
    let (low, high) = (
        frame.left.min(0.2 * frame.width),
        frame.width - 0.3 * frame.em,
    );
    let label = |edge: &LampEdge| {
        let text = edge_text(edge, frame.zero_s, words);
        let width = text::Cut::plain(SIZE * frame.em).width(&text);
        let at = frame.x(edge.at_s);
        EdgeLabel {
            text,
            width,
            at,
            centre: at,
        }
    };
    let mut labels: Vec<EdgeLabel> = edges_in_order(picture).iter().map(label).collect();
    let sizes: Vec<f64> = labels.iter().map(|label| label.width + gap).collect();
    if sizes.iter().sum::<f64>() <= high - low + gap {
        let wanted: Vec<f64> = labels.iter().map(|label| label.at).collect();
        let room = (low - 0.5 * gap, high + 0.5 * gap);
        for (label, centre) in labels.iter_mut().zip(spread(&wanted, &sizes, room)) {
            label.centre = centre;
        }
        return labels;
    }
    let mut end = low;
    labels.retain(|label| {
        let (from, to) = (label.at - 0.5 * label.width, label.at + 0.5 * label.width);
        let fits = from >= end && to <= high;
        if fits {
            end = to + gap;
        }
        fits
    });
    labels
}

/// Draws the band behind everything else.
pub(super) fn draw_band(svg: &mut Svg, frame: &Frame, palette: &Palette, picture: &Picture<'_>) {
    let edges = edges_in_order(picture);
    let mut on_s = match edges.first() {
        // It must have been burning since before the picture begins.
        Some(LampEdge {
            kind: EdgeKind::Off,
            ..
        }) => Some(frame.span_s.0),
        _ => None,
    };
    let mut spans = Vec::new();
    for edge in &edges {
        match edge.kind {
            EdgeKind::On => on_s = on_s.or(Some(edge.at_s)),
            EdgeKind::Off => spans.extend(on_s.take().map(|on_s| (on_s, edge.at_s))),
        }
    }
    spans.extend(on_s.map(|on_s| (on_s, frame.span_s.1)));
    for (from_s, to_s) in spans {
        let (x0, x1) = (frame.x(from_s), frame.x(to_s));
        svg.rect(
            x0,
            frame.top,
            x1 - x0,
            frame.bottom - frame.top,
            palette.band,
            1.0,
        );
    }
}

/// Draws each edge with its interval.
pub(super) fn draw_edges(svg: &mut Svg, frame: &Frame, palette: &Palette, picture: &Picture<'_>) {
    let hair = Stroke {
        colour: palette.quiet,
        width: 0.08 * frame.em,
        dashes: &[],
    };
    for edge in edges_in_order(picture) {
        let x = frame.x(edge.at_s);
        if edge.low_s <= edge.at_s && edge.at_s <= edge.high_s {
            let (x0, x1) = (frame.x(edge.low_s), frame.x(edge.high_s));
            svg.rect(
                x0,
                frame.top,
                x1 - x0,
                frame.bottom - frame.top,
                palette.interval,
                INTERVAL_OPACITY,
            );
            let (y, half) = (frame.top + 0.5 * frame.em, 0.25 * frame.em);
            let beam = Stroke::solid(palette.ink, 0.11 * frame.em);
            svg.line((x0, y), (x1, y), beam);
            svg.line((x0, y - half), (x0, y + half), beam);
            svg.line((x1, y - half), (x1, y + half), beam);
        }
        svg.line((x, frame.top), (x, frame.bottom), hair);
    }
    let kind = Type {
        size: SIZE * frame.em,
        fill: palette.ink,
        anchor: Anchor::Middle,
        bold: false,
    };
    for label in &frame.edge_labels {
        let base = frame.top - 1.1 * frame.em;
        svg.text((label.centre, base), kind, false, &label.text);
        // From the edge to the nearest point below its label.
        let half = 0.5 * label.width;
        let to = label.at.clamp(label.centre - half, label.centre + half);
        svg.line((label.at, frame.top), (to, base + 0.3 * frame.em), hair);
    }
}
