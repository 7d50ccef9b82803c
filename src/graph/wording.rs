//! The words of a picture, so that it can be drawn in any language.

use super::picture::EdgeKind;

/// What a class picture's band spans.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Spread {
    /// From the lower quartile to the upper one.
    MiddleHalf,
    /// From the least to the greatest.
    #[default]
    Whole,
}

/// What a picture says in words, English unless said otherwise. Numbers come as programs write
/// them, names as they will be drawn.
pub trait Wording {
    /// The quantity of the upright axis.
    fn temperature(&self) -> String {
        "Temperature".into()
    }

    /// The quantity of the level axis.
    fn time(&self) -> String {
        "Time".into()
    }

    /// What an edge of the lamp is called.
    fn edge(&self, kind: EdgeKind) -> String {
        match kind {
            EdgeKind::On => "lamp on".into(),
            EdgeKind::Off => "lamp off".into(),
        }
    }

    /// What stands after the name of a curve without points.
    fn no_readings(&self) -> String {
        ": no readings".into()
    }

    /// So many curves had no room for their names.
    fn more(&self, count: usize) -> String {
        format!("and {count} more")
    }

    /// So many benches.
    fn benches(&self, count: usize) -> String {
        match count {
            1 => "1 bench".into(),
            n => format!("{n} benches"),
        }
    }

    /// So many benches have this material.
    fn benches_of(&self, count: usize, material: &str) -> String {
        format!("{} of {material}", self.benches(count))
    }

    /// What thin lines stand for.
    fn thin(&self, what: &str) -> String {
        format!("thin: {what}")
    }

    /// What thick lines stand for: the median.
    fn thick(&self) -> String {
        "thick: median".into()
    }

    /// The same where some benches are not in it.
    fn thick_of_some(&self) -> String {
        "thick: median of those with the lamp on equally long".into()
    }

    /// What a shaded band stands for.
    fn shaded(&self, what: &str) -> String {
        format!("shaded: {what}")
    }

    /// So many lone readings are beyond the picture's upper or lower edge.
    fn beyond(&self, count: usize) -> String {
        match count {
            1 => "1 reading is beyond the edge".into(),
            n => format!("{n} readings are beyond the edge"),
        }
    }

    /// What ± says.
    fn plus_minus(&self) -> String {
        "±: with some 95\u{a0}% confidence".into()
    }

    /// The readings are those of a virtual bench.
    fn invented(&self) -> String {
        "invented readings, from a virtual bench".into()
    }

    /// How far the benches are spread.
    fn spread(&self, spread: Spread) -> String {
        match spread {
            Spread::MiddleHalf => "middle half of the benches".into(),
            Spread::Whole => "whole range of the benches".into(),
        }
    }

    /// What the picture is, for readers who cannot see it: units of both axes, ends of the time.
    fn overview(&self, degrees: &str, time: &str, (from, to): (&str, &str)) -> String {
        format!("Line graph of temperature in {degrees}. {time} from {from} to {to}.")
    }

    /// A curve for these readers: its first, lowest, highest and last temperature.
    fn course(&self, name: &str, [first, lowest, highest, last]: [&str; 4]) -> String {
        format!("{name}: first {first}, lowest {lowest}, highest {highest}, last {last}.")
    }

    /// The character between the whole part of a number and its decimals.
    fn decimal_mark(&self) -> char {
        '.'
    }
}

/// The words in English.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct English;

impl Wording for English {}

/// Points between digits as the language's decimal mark.
pub(super) fn marked(text: &str, words: &dyn Wording) -> String {
    text.replace('.', words.decimal_mark().encode_utf8(&mut [0; 4]))
}
