//! The key's lines on the graph paper: colour, dashes and a name at the end, so that they differ
//! in print without colour too.

use super::Written;
use super::paper::{LONGEST_NAME, Paper};
use super::svg::{Drawing, Pen, cut, pen};

/// Colours of M. Okabe and K. Ito (Color Universal Design, 2008) that have 3:1 on white, or a
/// darker shade of them, each with dashes of its own.
pub(super) const LINES: [(&str, &str); 8] = [
    ("#0072B2", ""),
    ("#D55E00", "7 4"),
    ("#007A59", "2 3"),
    ("#A85787", "9 3 2 3"),
    ("#9A6A00", "12 4"),
    ("#2F7CA8", "4 2"),
    ("#000000", "1 3"),
    ("#6E6600", "9 3 2 3 2 3"),
];

/// Least distance of two names in pixels.
const NAME_STEP: f64 = 15.0;

/// Draws each sample's values, joined where they follow each other, and its name.
pub(super) fn draw_lines(written: &Written<'_>, d: &mut Drawing, paper: &Paper) {
    let mut names: Vec<(f64, usize)> = Vec::new();
    for (sample, (colour, dashes)) in LINES.iter().enumerate().take(written.labels.len()) {
        let point = |row: usize| {
            let minute = written.rows.get(row)?.minute.parse().ok()?;
            Some((paper.x(minute), paper.y(written.shown(row, sample)?)))
        };
        let points: Vec<Option<(f64, f64)>> = (0..written.rows.len()).map(point).collect();
        let ink = Pen {
            dashes,
            ..pen(colour, 2.0)
        };
        for pair in points.windows(2) {
            if let [Some(a), Some(b)] = pair {
                d.line(*a, *b, ink);
            }
        }
        for at in points.iter().flatten() {
            d.circle(*at, 3.0, colour, pen(colour, 1.0));
        }
        names.extend(points.iter().flatten().next_back().map(|at| (at.1, sample)));
    }
    names.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (y, sample) in apart(names, paper) {
        let label = written.labels.get(sample).map_or("", String::as_str);
        d.text(
            (paper.right + 8.0, y + 4.5),
            13.0,
            "start",
            &cut(label, LONGEST_NAME),
        );
    }
}

/// Names in order, moved down as far as they would touch, and up again as far as they would leave
/// the paper.
fn apart(mut names: Vec<(f64, usize)>, paper: &Paper) -> Vec<(f64, usize)> {
    let mut free = paper.top;
    for (y, _) in &mut names {
        *y = y.max(free);
        free = *y + NAME_STEP;
    }
    let mut free = paper.bottom;
    for (y, _) in names.iter_mut().rev() {
        *y = y.min(free);
        free = *y - NAME_STEP;
    }
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_keep_apart_and_on_the_paper() {
        let paper = Paper {
            left: 50.0,
            right: 400.0,
            top: 20.0,
            bottom: 400.0,
            end_min: 20.0,
            low: 15.0,
            high: 45.0,
        };
        let names = (0..8)
            .map(|sample| (396.0 + sample as f64, sample))
            .collect();
        let set = apart(names, &paper);
        assert!(
            set.windows(2).all(|p| p[1].0 - p[0].0 > NAME_STEP - 1e-9),
            "{set:?}"
        );
        assert!(
            set.iter().all(|(y, _)| (20.0..=400.0).contains(y)),
            "{set:?}"
        );
    }
}
