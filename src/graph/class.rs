//! One picture of many runs: every bench's curve faint, the median of each material bold.

use std::borrow::Cow;

use super::median::{course, grid};
use super::picture::{Band, Curve, LampEdge, Picture, Style};
use super::wording::{English, Wording};
use super::{Behind, draw};

/// The line graph of a class: the same materials on many benches.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ClassPicture<'a> {
    /// Heading; text from people, so anything at all.
    pub title: Cow<'a, str>,
    /// What was heated, in the order of their colours.
    pub materials: Vec<Material<'a>>,
    /// When the lamp went on and off, for the class as a whole.
    pub edges: Vec<LampEdge>,
    /// Instants at which the table has rows, in seconds.
    pub marks_s: Cow<'a, [f64]>,
    /// The instant that the time axis calls 0, in seconds of the curves' time base.
    pub zero_s: f64,
    /// Longest time between two neighbouring points that a line may cross, in seconds; beyond it
    /// there is a gap. `None`: only a NaN makes a gap.
    pub gap_s: Option<f64>,
    /// Readings of it are those of a virtual bench, which the picture says at its foot.
    pub is_invented: bool,
    /// Whether the spread of each material is shaded: its middle half from four benches on, the
    /// whole range below.
    pub has_spread: bool,
}

/// One material's courses on all benches, on one time base: whoever puts runs together has moved
/// their clocks so that their lamps went on at the same instant.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Material<'a> {
    /// The material's name; text from people, so anything at all.
    pub name: Cow<'a, str>,
    /// One curve per bench, times increasing; names and bands are not shown.
    pub curves: Vec<Curve<'a>>,
    /// Curves of benches that did something else: thin lines too, but neither in median nor spread.
    pub others: Vec<Curve<'a>>,
}

/// Draws a class as a complete SVG document. Whatever it holds, there is a drawing.
#[must_use]
pub fn class_svg(class: &ClassPicture<'_>, style: &Style) -> String {
    class_svg_in(class, style, &English)
}

/// [`class_svg`] in other words than English ones.
#[must_use]
pub fn class_svg_in(class: &ClassPicture<'_>, style: &Style, words: &dyn Wording) -> String {
    let all = class
        .materials
        .iter()
        .flat_map(|m| m.curves.iter().chain(&m.others));
    let grid: Cow<'_, [f64]> = grid(all).into();
    let gap_s = class.gap_s.filter(|gap_s| *gap_s > 0.0);
    let medians = class.materials.iter().map(|material| {
        let course = course(&material.curves, &grid, gap_s.unwrap_or(f64::INFINITY));
        Curve {
            name: material.name.clone(),
            t_s: grid.clone(),
            degc: course.median.into(),
            band: class.has_spread.then(|| Band {
                low_degc: course.low.into(),
                high_degc: course.high.into(),
                meaning: words.spread(course.spread).into(),
            }),
        }
    });
    let picture = Picture {
        title: class.title.clone(),
        curves: medians.collect(),
        edges: class.edges.clone(),
        marks_s: class.marks_s.clone(),
        zero_s: class.zero_s,
        gap_s: class.gap_s,
        is_invented: class.is_invented,
    };
    let behind: Vec<Behind<'_>> = class
        .materials
        .iter()
        .enumerate()
        .flat_map(|(number, m)| {
            let own = m.curves.iter().map(|curve| (curve, false));
            let all = own.chain(m.others.iter().map(|curve| (curve, true)));
            all.map(move |(curve, is_other)| Behind {
                number,
                curve,
                is_other,
            })
        })
        .collect();
    draw(&picture, &behind, style, words)
}
