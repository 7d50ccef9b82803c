//! The run's graph, from what is kept of its rows, or from the file for a stretch of it.

use std::fs::File;
use std::io::{self, BufRead as _, BufReader, Read as _, Seek as _, SeekFrom};

use super::hall::Run;
use super::seen::Seen;
use super::thin::Thin;
use crate::follow::RowLine;
use crate::graph::{Curve, Picture, Style, Theme, plot_area, svg};

/// A pause so many times the usual distance of points is drawn as a gap.
const GAP: f64 = 4.0;

/// What a viewer asks for.
#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
pub(super) struct Wish {
    #[serde(default = "wide")]
    w: f64,
    #[serde(default = "high")]
    h: f64,
    #[serde(default)]
    dark: u8,
    /// The stretch in seconds of the run; all of it where nothing is said.
    from: Option<f64>,
    to: Option<f64>,
}

fn wide() -> f64 {
    960.0
}

fn high() -> f64 {
    540.0
}

impl Wish {
    fn style(&self) -> Style {
        let bounded = |value: f64, most: f64| {
            if value.is_finite() {
                value.clamp(160.0, most)
            } else {
                most
            }
        };
        Style {
            width: bounded(self.w, 3840.0),
            height: bounded(self.h, 2160.0),
            theme: if self.dark == 1 {
                Theme::Dark
            } else {
                Theme::Paper
            },
            ..Style::default()
        }
    }

    /// The stretch, if one was asked for that is one.
    fn stretch(&self) -> Option<(f64, f64)> {
        let (from, to) = (self.from?, self.to?);
        (from.is_finite() && to.is_finite() && to > from).then_some((from, to))
    }
}

/// Draws it, and says where the plot is: its left and right in pixels, and the seconds that they
/// stand for. Reads files: not for a thread that must not wait.
///
/// # Errors
/// The system's, where a stretch is read from the file.
pub(super) fn draw(run: &Run, wish: &Wish) -> io::Result<(String, String)> {
    let near = match wish.stretch() {
        Some(stretch) => Some(read_stretch(run, stretch)?),
        None => None,
    };
    Ok(run.ask(|seen| {
        let thin = near.as_ref().unwrap_or(&seen.thin);
        let (mut picture, style) = (picture(run, seen, thin), wish.style());
        if let Some((from_s, to_s)) = wish.stretch() {
            let within = |t_s: f64| (from_s..=to_s).contains(&t_s);
            picture.edges.retain(|edge| within(edge.at_s));
            picture.marks_s.to_mut().retain(|t_s| within(*t_s));
        }
        let plot = plot_area(&picture, &style);
        let area = format!(
            "{:.1},{:.1},{:.3},{:.3}",
            plot.left, plot.right, plot.from_s, plot.to_s
        );
        (svg(&picture, &style), area)
    }))
}

/// The rows of a stretch of time, thinned.
fn read_stretch(run: &Run, (from_s, to_s): (f64, f64)) -> io::Result<Thin> {
    let (path, (from, to), channels) = run.ask(|seen| {
        (
            seen.readings_path(),
            seen.place_of(from_s, to_s),
            seen.names.len(),
        )
    });
    let mut file = File::open(path)?;
    file.seek(SeekFrom::Start(from))?;
    let rest = file.take(to.map_or(u64::MAX, |to| to.saturating_sub(from)));
    let mut thin = Thin::new(channels);
    let mut rest = BufReader::with_capacity(1 << 16, rest);
    let mut line = String::new();
    while rest.read_line(&mut line)? > 0 {
        if let Some(row) = RowLine::of(line.trim_end()) {
            if row.t_s > to_s {
                break;
            }
            if row.t_s >= from_s {
                thin.push(row.t_s, &row.degc());
            }
        }
        line.clear();
    }
    Ok(thin)
}

fn picture<'a>(run: &Run, seen: &Seen, thin: &Thin) -> Picture<'a> {
    let curve = |(channel, name): (usize, &String)| {
        let (t_s, degc) = thin.points(channel);
        Curve {
            name: name.clone().into(),
            t_s: t_s.into(),
            degc: degc.into(),
            band: None,
        }
    };
    let results = seen.results.as_ref();
    let spacing_s = thin.spacing_s().map(|s| s.max(2.0 * thin.width_s()));
    Picture {
        title: run.name.clone().into(),
        curves: seen.names.iter().enumerate().map(curve).collect(),
        edges: seen.edges(),
        marks_s: results
            .map(super::results::Results::marks_s)
            .unwrap_or_default()
            .into(),
        zero_s: seen.zero_s(),
        gap_s: spacing_s.map(|s| GAP * s),
        ..Picture::default()
    }
}
