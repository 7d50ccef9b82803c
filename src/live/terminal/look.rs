//! How things look: colours and signs, as far as the terminal has them.

use ratatui::style::{Color, Modifier, Style};

/// Colours that the terminal has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Colours {
    /// None: asked for by `NO_COLOR`, or not to be had.
    #[default]
    None,
    /// The first sixteen.
    Sixteen,
    /// 256 of them.
    Many,
}

/// What the terminal can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Look {
    /// Signs beyond ASCII.
    pub unicode: bool,
    /// Colours.
    pub colours: Colours,
}

/// Of the 256 colours, those near to Okabe and Ito's set (2008) that keep a contrast of 3:1 (WCAG
/// 2.2, 1.4.11) against white and against black, since a terminal does not say which it has.
const MANY: [u8; 8] = [32, 166, 29, 133, 136, 67, 131, 102];

const SIXTEEN: [Color; 8] = [
    Color::Cyan,
    Color::Red,
    Color::Green,
    Color::Magenta,
    Color::Yellow,
    Color::Blue,
    Color::LightRed,
    Color::Gray,
];

/// Signs on the curves, one for each channel.
const MARKERS: [char; 8] = ['o', 'x', '+', '*', 'v', 'a', 's', 'd'];

impl Look {
    /// The look of a channel's curve, number from 0.
    pub(super) fn channel(self, channel: usize) -> Style {
        let place = channel % MANY.len();
        match self.colours {
            Colours::None => Style::new(),
            Colours::Sixteen => SIXTEEN
                .get(place)
                .map_or(Style::new(), |c| Style::new().fg(*c)),
            Colours::Many => MANY
                .get(place)
                .map_or(Style::new(), |c| Style::new().fg(Color::Indexed(*c))),
        }
    }

    /// The sign of a channel.
    pub(super) fn marker(channel: usize) -> char {
        MARKERS.get(channel % MARKERS.len()).copied().unwrap_or('o')
    }

    /// One sign, or its plain stand-in.
    pub(super) fn sign(self, sign: char, plain: char) -> char {
        if self.unicode { sign } else { plain }
    }

    /// `°C`.
    pub(super) fn degc(self) -> &'static str {
        if self.unicode { "°C" } else { "degC" }
    }

    /// Text that must not be missed.
    pub(super) fn loud() -> Style {
        Style::new().add_modifier(Modifier::BOLD | Modifier::REVERSED)
    }

    /// Something is wrong.
    pub(super) fn alarm(self) -> Style {
        match self.colours {
            Colours::None => Style::new().add_modifier(Modifier::BOLD),
            _ => Style::new().fg(Color::Red).add_modifier(Modifier::BOLD),
        }
    }

    /// A text as the terminal can show it, without control characters.
    pub(super) fn text(self, text: &str) -> String {
        let shown = |c: char| match c {
            c if c.is_control() => '?',
            c if self.unicode || c.is_ascii() => c,
            '·' | '–' | '−' => '-',
            _ => '?',
        };
        let text = if self.unicode {
            text.to_owned()
        } else {
            text.replace("°C", "degC")
        };
        text.chars().map(shown).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_can_be_told_from_any_background() {
        // xterm's cube: levels 0, 95, 135, 175, 215, 255. Contrast by WCAG 2.2.
        let level = |n: u8| {
            if n == 0 {
                0.0
            } else {
                (f64::from(n) * 40.0 + 55.0) / 255.0
            }
        };
        let linear = |v: f64| {
            if v <= 0.04045 {
                v / 12.92
            } else {
                ((v + 0.055) / 1.055).powf(2.4)
            }
        };
        for colour in &MANY[..7] {
            let n = colour - 16;
            let [r, g, b] = [n / 36, n / 6 % 6, n % 6].map(|n| linear(level(n)));
            let luminance = 0.2126 * r + 0.7152 * g + 0.0722 * b;
            assert!(1.05 / (luminance + 0.05) >= 3.0, "{colour} on white");
            assert!((luminance + 0.05) / 0.05 >= 3.0, "{colour} on black");
        }
    }

    #[test]
    fn a_plain_terminal_gets_plain_text() {
        let plain = Look::default();
        assert_eq!(
            plain.text("31.2 °C · moss\u{1b}[2J é"),
            "31.2 degC - moss?[2J ?"
        );
        let whole = Look {
            unicode: true,
            ..plain
        };
        assert_eq!(whole.text("31.2 °C\u{7}"), "31.2 °C?");
    }
}
