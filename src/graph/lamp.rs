//! The lamp in the picture: a pale band while it burned, its edges, their intervals and labels.

use super::colour::Palette;
use super::frame::Frame;
use super::picture::{EdgeKind, LampEdge, Picture, is_drawable_s};
use super::text;
use super::xml::{Anchor, Stroke, Svg, Type};

/// Rows of labels above the plot; what does not fit is left to the description.
const MOST_ROWS: usize = 3;

/// The label of one edge.
#[derive(Debug, Clone)]
pub(super) struct EdgeLabel {
    pub(super) text: String,
    /// Left end in pixels.
    pub(super) x: f64,
    pub(super) width: f64,
    /// Row above the plot, 0 being the nearest.
    pub(super) row: usize,
}

/// What an edge is called: `lamp off 12:04 ± 3 s`.
pub(super) fn edge_text(edge: &LampEdge, zero_s: f64) -> String {
    let kind = match edge.kind {
        EdgeKind::On => "on",
        EdgeKind::Off => "off",
    };
    let instant = text::instant(
        edge.at_s - zero_s,
        edge.low_s - zero_s,
        edge.high_s - zero_s,
    );
    format!("lamp {kind} {instant}")
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

/// Finds room for the labels: centred on the edge, else beside it, else a row higher.
pub(super) fn place_labels(picture: &Picture<'_>, frame: &Frame) -> Vec<EdgeLabel> {
    let mut placed: Vec<EdgeLabel> = Vec::new();
    let size = 0.9 * frame.em;
    let apart = 0.8 * frame.em;
    for edge in edges_in_order(picture) {
        let text = edge_text(&edge, frame.zero_s);
        let (width, at) = (text::width(&text, size), frame.x(edge.at_s));
        let most_left = frame.width - width - 0.5 * frame.em;
        if most_left < 0.0 {
            continue;
        }
        let free = |x: f64, row: usize| {
            !placed
                .iter()
                .any(|l| l.row == row && x < l.x + l.width + apart && l.x < x + width + apart)
        };
        let places = [
            at - 0.5 * width,
            at - 0.2 * frame.em,
            at - width + 0.2 * frame.em,
        ];
        let spots = (0..MOST_ROWS).flat_map(|row| places.map(|x| (x.clamp(0.0, most_left), row)));
        if let Some((x, row)) = spots.into_iter().find(|(x, row)| free(*x, *row)) {
            placed.push(EdgeLabel {
                text,
                x,
                width,
                row,
            });
        }
    }
    placed
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
                0.35,
            );
            let (y, half) = (frame.top + 0.5 * frame.em, 0.25 * frame.em);
            let beam = Stroke::solid(palette.ink, 0.14 * frame.em);
            svg.line((x0, y), (x1, y), beam);
            svg.line((x0, y - half), (x0, y + half), beam);
            svg.line((x1, y - half), (x1, y + half), beam);
        }
        svg.line((x, frame.top), (x, frame.bottom), hair);
    }
    let kind = Type {
        size: 0.9 * frame.em,
        fill: palette.ink,
        anchor: Anchor::Middle,
        bold: false,
    };
    for label in &frame.edge_labels {
        let y = frame.top - (0.5 + 1.5 * label.row as f64) * frame.em;
        svg.text((label.x + 0.5 * label.width, y), kind, false, &label.text);
    }
}
