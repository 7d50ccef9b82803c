//! The curves and their names: colour, line style and a label at the line's end tell them apart.

use super::colour::Palette;
use super::frame::Frame;
use super::picture::{Curve, Picture};
use super::thin::thin;
use super::xml::{Anchor, Stroke, Svg, Type};

/// Line styles in multiples of the line's width: dashes and holes.
const STYLES: [&[f64]; 8] = [
    &[],
    &[4.0, 2.0],
    &[1.2, 1.6],
    &[6.0, 2.0, 1.2, 2.0],
    &[9.0, 2.5],
    &[4.0, 2.0, 1.2, 2.0, 1.2, 2.0],
    &[2.4, 2.4],
    &[9.0, 2.0, 2.4, 2.0],
];

/// The style of a curve: with its colour, another pair for each of the first 64.
fn style(curve: usize) -> &'static [f64] {
    let turn = curve + curve / STYLES.len();
    STYLES
        .iter()
        .cycle()
        .nth(turn % STYLES.len())
        .copied()
        .unwrap_or_default()
}

/// Draws every curve.
pub(super) fn draw_curves(svg: &mut Svg, frame: &Frame, palette: &Palette, picture: &Picture<'_>) {
    let gap_s = picture
        .gap_s
        .filter(|gap_s| *gap_s > 0.0)
        .unwrap_or(f64::INFINITY);
    // Few points, as in a table timed by hand, are shown as points.
    let few = ((frame.right - frame.left) / (1.5 * frame.em)) as usize;
    for (number, curve) in picture.curves.iter().enumerate() {
        let colour = palette.line(number);
        let stroke = Stroke {
            colour,
            width: 0.16 * frame.em,
            dashes: style(number),
        };
        let shows_points = curve.points().take(few + 1).count() <= few;
        for stretch in thin(&curve.t_s, &curve.degc, gap_s, |t_s| frame.x(t_s)) {
            let points: Vec<(f64, f64)> = stretch
                .iter()
                .map(|(t, v)| (frame.x(*t), frame.y(*v)))
                .collect();
            if points.len() > 1 {
                svg.path(&points, stroke);
            }
            if shows_points || points.len() == 1 {
                points
                    .iter()
                    .for_each(|at| draw_point(svg, *at, 0.32 * frame.em, number, palette));
            }
        }
    }
}

/// A point: disc, square, triangle or diamond in turn.
fn draw_point(svg: &mut Svg, (x, y): (f64, f64), r: f64, curve: usize, palette: &Palette) {
    let fill = palette.line(curve);
    let s = 0.9 * r;
    match curve % 4 {
        0 => svg.dot((x, y), r, fill),
        1 => svg.shape(
            &[
                (x - s, y - s),
                (x + s, y - s),
                (x + s, y + s),
                (x - s, y + s),
            ],
            fill,
        ),
        2 => svg.shape(
            &[
                (x, y - 1.2 * r),
                (x + 1.1 * r, y + 0.8 * r),
                (x - 1.1 * r, y + 0.8 * r),
            ],
            fill,
        ),
        _ => svg.shape(
            &[
                (x, y - 1.3 * r),
                (x + 1.3 * r, y),
                (x, y + 1.3 * r),
                (x - 1.3 * r, y),
            ],
            fill,
        ),
    }
}

/// Writes each curve's name at its end, with a piece of its line, nudged apart from the others.
pub(super) fn draw_names(svg: &mut Svg, frame: &Frame, palette: &Palette, picture: &Picture<'_>) {
    let ends: Vec<(f64, f64)> = picture
        .curves
        .iter()
        .map(|curve| end(curve, frame))
        .collect();
    let room = frame.bottom - frame.top;
    // With very many curves the names get smaller, down to a size that can still be read.
    let line = (room / ends.len().max(1) as f64).clamp(9.0, 1.35 * frame.em);
    let size = (line / 1.35).min(frame.em);
    let wanted: Vec<f64> = ends.iter().map(|(_, y)| *y).collect();
    let rows = spread(&wanted, line, frame.top, frame.bottom);
    let left = frame.right + 0.3 * frame.em;
    let texts = frame.names.iter().zip(&ends).zip(&rows).enumerate();
    for (number, ((name, &(x, y)), &row)) in texts {
        if row > frame.bottom + line {
            continue;
        }
        let colour = palette.line(number);
        if (row - y).abs() > 2.0 || frame.right - x > 2.0 {
            svg.line(
                (x, y),
                (left, row),
                Stroke::solid(palette.quiet, 0.05 * frame.em),
            );
        }
        let stroke = Stroke {
            colour,
            width: 0.16 * frame.em,
            dashes: style(number),
        };
        svg.line((left, row), (left + 2.2 * frame.em, row), stroke);
        let kind = Type {
            size,
            fill: palette.name(number),
            anchor: Anchor::Start,
            bold: ends.len() <= 4,
        };
        svg.text(
            (left + 2.5 * frame.em, row + 0.35 * size),
            kind,
            false,
            name,
        );
    }
}

/// Where a curve ends; the lower right corner if it has no points.
fn end(curve: &Curve<'_>, frame: &Frame) -> (f64, f64) {
    match curve.points().next_back() {
        Some((t_s, degc)) => (frame.x(t_s), frame.y(degc)),
        None => (frame.right, frame.bottom),
    }
}

/// Moves heights apart to at least `line` with the least sum of squared moves, within the plot if
/// there is room for all, below it if not.
///
/// With the rank times `line` taken off, this is isotonic regression: pooling of adjacent
/// violators (Ayer and others, Annals of Mathematical Statistics 26 (1955) 641).
fn spread(wanted: &[f64], line: f64, top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<(usize, f64)> = wanted.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (rank, (_, y)) in order.iter().enumerate() {
        let mut pool = (y - rank as f64 * line, 1);
        while let Some(&(mean, count)) = pools.last()
            && mean > pool.0
        {
            pools.pop();
            let both = count + pool.1;
            pool = (
                (mean * count as f64 + pool.0 * pool.1 as f64) / both as f64,
                both,
            );
        }
        pools.push(pool);
    }
    let highest = bottom - line * order.len().saturating_sub(1) as f64;
    let settled = pools
        .iter()
        .flat_map(|(mean, count)| core::iter::repeat_n(mean.min(highest).max(top), *count));
    let mut rows = vec![0.0; wanted.len()];
    for (rank, ((place, _), base)) in order.iter().zip(settled).enumerate() {
        if let Some(row) = rows.get_mut(*place) {
            *row = base + rank as f64 * line;
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_apart_stay_and_names_together_part_evenly() {
        assert_eq!(spread(&[10.0, 50.0], 16.0, 0.0, 100.0), [10.0, 50.0]);
        assert_eq!(spread(&[50.0, 50.0], 16.0, 0.0, 100.0), [42.0, 58.0]);
        assert_eq!(spread(&[100.0, 99.0], 16.0, 0.0, 100.0), [100.0, 84.0]);
        assert!(spread(&[], 16.0, 0.0, 100.0).is_empty());
    }

    #[test]
    fn no_two_of_the_first_sixty_four_curves_look_alike() {
        let looks: std::collections::HashSet<_> = (0..64)
            .map(|k| {
                (
                    k % 8,
                    style(k).iter().map(|v| v.to_bits()).collect::<Vec<_>>(),
                )
            })
            .collect();
        assert_eq!(looks.len(), 64);
    }

    proptest! {
        #[test]
        fn names_never_overlap_and_stay_in_the_plot(
            wanted in proptest::collection::vec(0.0_f64..400.0, 0..24),
        ) {
            let rows = spread(&wanted, 16.0, 0.0, 400.0);
            let mut sorted = rows.clone();
            sorted.sort_by(f64::total_cmp);
            prop_assert!(sorted.windows(2).all(|w| w[1] - w[0] >= 16.0 - 1e-9));
            prop_assert!(rows.iter().all(|y| (-1e-9..=400.0 + 1e-9).contains(y)));
        }
    }
}
