//! The curves, told apart by colour and line style.

use super::colour::Palette;
use super::frame::Frame;
use super::picture::Picture;
use super::thin::thin;
use super::xml::{Stroke, Svg};

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

/// How a curve's line is drawn; colour and style are another pair for each of the first 64.
pub(super) fn stroke(curve: usize, frame: &Frame, palette: &Palette) -> Stroke<'static> {
    Stroke {
        colour: palette.line(curve),
        width: if frame.is_crowded { 0.2 } else { 0.16 } * frame.em,
        dashes: style(curve),
    }
}

fn style(curve: usize) -> &'static [f64] {
    let turn = curve + curve / STYLES.len();
    STYLES
        .iter()
        .cycle()
        .nth(turn % STYLES.len())
        .copied()
        .unwrap_or_default()
}

/// Longest time in seconds that a line may cross.
pub(super) fn gap_of(picture: &Picture<'_>) -> f64 {
    let given = picture.gap_s.filter(|gap_s| *gap_s > 0.0);
    given.unwrap_or(f64::INFINITY)
}

/// Draws every curve.
pub(super) fn draw_curves(svg: &mut Svg, frame: &Frame, palette: &Palette, picture: &Picture<'_>) {
    let gap_s = gap_of(picture);
    // Few points, as in a table timed by hand, are shown as points.
    let few = ((frame.right - frame.left) / (1.5 * frame.em)) as usize;
    for (number, curve) in picture.curves.iter().enumerate() {
        let stroke = stroke(number, frame, palette);
        let shows_points = curve.points().take(few + 1).count() <= few;
        for stretch in thin(&curve.t_s, &curve.degc, gap_s, |t_s| frame.x(t_s)) {
            let points: Vec<(f64, f64)> = stretch
                .iter()
                .map(|(t, v)| (frame.x(*t), frame.y(*v)))
                .collect();
            if points.len() > 1 {
                draw_line(svg, &points, stroke, frame, palette);
            }
            if shows_points || points.len() == 1 {
                for at in &points {
                    draw_point(svg, *at, 0.32 * frame.em, number, palette);
                }
            }
        }
    }
}

/// A line through points: set off from what is below where much is, and whole where it is steep.
fn draw_line(
    svg: &mut Svg,
    points: &[(f64, f64)],
    stroke: Stroke<'_>,
    frame: &Frame,
    palette: &Palette,
) {
    if frame.is_crowded {
        svg.path(
            points,
            Stroke::solid(palette.ground, stroke.width + 0.16 * frame.em),
        );
    }
    svg.path(points, stroke);
    // The hole of a dashed line may fall where the line goes up and down within a column: a spike
    // must not lose its tip.
    let thin = Stroke::solid(stroke.colour, 0.4 * stroke.width);
    let period = stroke.width * stroke.dashes.iter().sum::<f64>();
    let is_steep = |a: &(f64, f64), b: &(f64, f64)| {
        period > 0.0 && (b.1 - a.1).abs() > period && (b.0 - a.0).abs() < 2.0
    };
    let steep = points.windows(2).filter_map(|pair| match pair {
        [a, b] if is_steep(a, b) => Some([*a, *b]),
        _ => None,
    });
    svg.strokes(steep, thin);
}

/// A point: disc, square, triangle or diamond in turn.
fn draw_point(svg: &mut Svg, (x, y): (f64, f64), r: f64, curve: usize, palette: &Palette) {
    let corners: &[(f64, f64)] = match curve % 4 {
        0 => return svg.dot((x, y), r, palette.line(curve)),
        1 => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
        2 => &[(0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)],
        _ => &[(0.0, -1.3), (1.3, 0.0), (0.0, 1.3), (-1.3, 0.0)],
    };
    let placed: Vec<(f64, f64)> = corners
        .iter()
        .map(|(dx, dy)| (x + r * dx, y + r * dy))
        .collect();
    svg.area(&placed, palette.line(curve), 1.0);
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
