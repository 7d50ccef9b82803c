//! The note at the picture's foot: that readings are invented, what thin lines, thick lines, shaded bands
//! and ± stand for, and that readings are beyond its edge.

use super::behind::Behind;
use super::colour::Palette;
use super::frame::Frame;
use super::lamp;
use super::picture::Picture;
use super::text::{Cut, printable};
use super::wording::Wording;
use super::xml::{Anchor, Svg, Type};

/// Distance of two lines in ems of ordinary text.
pub(super) const LINE: f64 = 1.3;
/// Size of its letters in ems of ordinary text.
const SIZE: f64 = 0.85;

/// The note's lines, none longer than `most` pixels; nothing if there is nothing to explain.
pub(super) fn lines(
    picture: &Picture<'_>,
    behind: &[Behind<'_>],
    beyond: usize,
    (most, em): (f64, f64),
    words: &dyn Wording,
) -> Vec<String> {
    let cut = Cut::plain(SIZE * em);
    let mut lines: Vec<String> = Vec::new();
    let outside = (beyond > 0).then(|| words.beyond(beyond));
    let invented = picture.is_invented.then(|| words.invented());
    let has_sign = picture.edges.iter().any(lamp::is_told_within);
    let sign = has_sign.then(|| words.plus_minus());
    let parts = parts(picture, behind, words).into_iter().chain(sign);
    let parts = parts.chain(outside);
    for part in invented.into_iter().chain(parts) {
        match lines.last_mut() {
            Some(line) if cut.width(&format!("{line} · {part}")) <= most => {
                *line = format!("{line} · {part}");
            }
            _ => lines.push(cut.fitted(&part, most)),
        }
    }
    lines
}

fn parts(picture: &Picture<'_>, behind: &[Behind<'_>], words: &dyn Wording) -> Vec<String> {
    let mut parts: Vec<String> = Vec::new();
    if !behind.is_empty() {
        parts.push(words.thin(&benches(picture, behind, words)));
        parts.push(if behind.iter().any(|b| b.is_other) {
            words.thick_of_some()
        } else {
            words.thick()
        });
    }
    for band in picture.curves.iter().filter_map(|c| c.band.as_ref()) {
        let part = words.shaded(&printable(&band.meaning));
        if !band.meaning.is_empty() && !parts.contains(&part) {
            parts.push(part);
        }
    }
    parts
}

/// How many benches there are, of each material if their numbers differ.
fn benches(picture: &Picture<'_>, behind: &[Behind<'_>], words: &dyn Wording) -> String {
    let count = |number: usize| {
        let own = behind.iter().filter(|b| b.number == number);
        own.filter(|b| b.curve.points().next().is_some()).count()
    };
    let counts: Vec<usize> = (0..picture.curves.len()).map(count).collect();
    match counts.first() {
        Some(first) if counts.iter().all(|n| n == first) => words.benches(*first),
        _ => {
            let each = counts.iter().zip(&picture.curves);
            let each = each.map(|(n, c)| words.benches_of(*n, &printable(&c.name)));
            each.collect::<Vec<_>>().join(", ")
        }
    }
}

/// Writes it.
pub(super) fn draw_note(svg: &mut Svg, frame: &Frame, palette: &Palette) {
    let kind = Type {
        size: SIZE * frame.em,
        fill: palette.quiet,
        anchor: Anchor::Start,
        bold: false,
    };
    for (below, line) in frame.note.iter().rev().enumerate() {
        let row = frame.height - (0.6 + LINE * below as f64) * frame.em;
        svg.text((frame.em, row), kind, false, line);
    }
}
