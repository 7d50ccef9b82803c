//! Colours, and the contrast between them.
//!
//! Curves take the palette of M. Okabe and K. Ito, Color Universal Design (2002, revised 2008), in
//! an order of our own. Where one of them is too faint against what it stands on, it is moved
//! towards the ink until it reaches the contrast that WCAG 2.2 asks for: 3:1 for a line (success
//! criterion 1.4.11), 4.5:1 for text (1.4.3).

use super::picture::Theme;

/// An sRGB colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Colour(pub(super) u8, pub(super) u8, pub(super) u8);

/// Okabe and Ito's colours: blue, vermilion, bluish green, reddish purple, orange, sky blue, black,
/// yellow.
pub(super) const OKABE_ITO: [Colour; 8] = [
    Colour(0x00, 0x72, 0xB2),
    Colour(0xD5, 0x5E, 0x00),
    Colour(0x00, 0x9E, 0x73),
    Colour(0xCC, 0x79, 0xA7),
    Colour(0xE6, 0x9F, 0x00),
    Colour(0x56, 0xB4, 0xE9),
    Colour(0x00, 0x00, 0x00),
    Colour(0xF0, 0xE4, 0x42),
];

/// How much an edge's interval covers what is below it.
pub(super) const INTERVAL_OPACITY: f64 = 0.25;
/// How much a curve's band covers what is below it.
pub(super) const BAND_OPACITY: f64 = 0.16;
/// Least contrast of a line.
const LINE_CONTRAST: f64 = 3.0;
/// Least contrast of text.
const TEXT_CONTRAST: f64 = 4.5;
/// The same where a room's light lies on the picture.
const STRONG: (f64, f64) = (4.5, 7.0);

/// The colours of a theme.
#[derive(Debug, Clone, Copy)]
pub(super) struct Palette {
    /// What everything stands on.
    pub(super) ground: Colour,
    /// Text and axes.
    pub(super) ink: Colour,
    /// Text of less weight.
    pub(super) quiet: Colour,
    /// Grid.
    pub(super) grid: Colour,
    /// Lamp-on time.
    pub(super) band: Colour,
    /// An edge's interval.
    pub(super) interval: Colour,
    /// Least contrast of the first, third, fifth line and so on, and of those between them: two
    /// neighbours differ in grey too.
    line_contrast: [f64; 2],
    /// Least contrast of names.
    name_contrast: f64,
}

impl Palette {
    pub(super) fn of(theme: Theme) -> Self {
        match theme {
            Theme::Paper => Self {
                ground: Colour(0xFF, 0xFF, 0xFF),
                ink: Colour(0x1A, 0x1A, 0x1A),
                quiet: Colour(0x4A, 0x4A, 0x4A),
                grid: Colour(0xE0, 0xE0, 0xE0),
                band: Colour(0xFF, 0xF4, 0xCC),
                interval: Colour(0xD9, 0xB8, 0x4A),
                line_contrast: [LINE_CONTRAST; 2],
                name_contrast: TEXT_CONTRAST,
            },
            Theme::Beam => Self {
                ground: Colour(0xFF, 0xFF, 0xFF),
                ink: Colour(0x00, 0x00, 0x00),
                quiet: Colour(0x33, 0x33, 0x33),
                grid: Colour(0xCC, 0xCC, 0xCC),
                band: Colour(0xFF, 0xEE, 0xA8),
                interval: Colour(0xD9, 0xB8, 0x4A),
                line_contrast: [1.5 * STRONG.0, STRONG.0],
                name_contrast: STRONG.1,
            },
            Theme::Dark => Self {
                ground: Colour(0x12, 0x16, 0x1B),
                ink: Colour(0xF2, 0xF2, 0xF2),
                quiet: Colour(0xBD, 0xC4, 0xCB),
                grid: Colour(0x2E, 0x35, 0x3D),
                band: Colour(0x2A, 0x24, 0x12),
                interval: Colour(0x8A, 0x74, 0x2C),
                line_contrast: [LINE_CONTRAST, 1.8 * LINE_CONTRAST],
                name_contrast: TEXT_CONTRAST,
            },
        }
    }

    /// A curve's line: visible on the ground, on the band, and where an interval covers them.
    pub(super) fn line(&self, curve: usize) -> Colour {
        let plain = OKABE_ITO.iter().cycle().nth(curve % OKABE_ITO.len());
        let [even, odd] = self.line_contrast;
        let least = if curve.is_multiple_of(2) { even } else { odd };
        self.strengthened(plain.copied().unwrap_or(self.ink), &self.grounds(), least)
    }

    /// A curve of many in its colour: as near to the ground as a line may be.
    pub(super) fn faint(&self, curve: usize) -> Colour {
        let line = self.line(curve);
        let seen = |c: &Colour| {
            let grounds = [self.ground, self.band];
            grounds.iter().all(|g| contrast(*c, *g) >= LINE_CONTRAST)
        };
        let steps = (0..=64).map(|k| self.ground.towards(line, f64::from(k) / 64.0));
        steps.into_iter().find(seen).unwrap_or(line)
    }

    /// Everything that a line may stand on.
    fn grounds(&self) -> [Colour; 4] {
        let covered = |below: Colour| below.towards(self.interval, INTERVAL_OPACITY);
        [
            self.ground,
            self.band,
            covered(self.ground),
            covered(self.band),
        ]
    }

    /// A curve's name.
    pub(super) fn name(&self, curve: usize) -> Colour {
        self.strengthened(self.line(curve), &[self.ground], self.name_contrast)
    }

    /// A colour moved towards the ink until it is seen against all of these.
    fn strengthened(&self, colour: Colour, against: &[Colour], least: f64) -> Colour {
        let enough = |c: &Colour| against.iter().all(|other| contrast(*c, *other) >= least);
        let steps = (0..=64).map(|k| colour.towards(self.ink, f64::from(k) / 64.0));
        steps.into_iter().find(enough).unwrap_or(self.ink)
    }
}

impl Colour {
    /// `#RRGGBB`.
    pub(super) fn hex(self) -> String {
        format!("#{:02X}{:02X}{:02X}", self.0, self.1, self.2)
    }

    fn towards(self, other: Self, share: f64) -> Self {
        let mix = |a: u8, b: u8| (f64::from(a) + share * (f64::from(b) - f64::from(a)) + 0.5) as u8;
        Self(
            mix(self.0, other.0),
            mix(self.1, other.1),
            mix(self.2, other.2),
        )
    }

    /// Relative luminance (WCAG 2.2, definition), 0 to 1.
    fn luminance(self) -> f64 {
        let linear = |v: u8| {
            let c = f64::from(v) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                libm::pow((c + 0.055) / 1.055, 2.4)
            }
        };
        0.2126 * linear(self.0) + 0.7152 * linear(self.1) + 0.0722 * linear(self.2)
    }
}

/// Contrast ratio (WCAG 2.2, definition), 1 to 21.
pub(super) fn contrast(a: Colour, b: Colour) -> f64 {
    let (a, b) = (a.luminance(), b.luminance());
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHITE: Colour = Colour(0xFF, 0xFF, 0xFF);
    const BLACK: Colour = Colour(0, 0, 0);

    /// Colour, relative luminance, contrast on white, contrast on black: Okabe and Ito's palette
    /// (values of R 4.2.2, `palette.colors`), figures by WCAG 2.2's definitions, computed with
    /// independent software.
    const PUBLISHED: [(Colour, f64, f64, f64); 8] = [
        (Colour(0x00, 0x72, 0xB2), 0.152_49, 5.1854, 4.0498),
        (Colour(0xD5, 0x5E, 0x00), 0.221_515, 3.8672, 5.4303),
        (Colour(0x00, 0x9E, 0x73), 0.256_915, 3.4211, 6.1383),
        (Colour(0xCC, 0x79, 0xA7), 0.293_021, 3.061, 6.8604),
        (Colour(0xE6, 0x9F, 0x00), 0.416_193, 2.2523, 9.3239),
        (Colour(0x56, 0xB4, 0xE9), 0.405_041, 2.3075, 9.1008),
        (BLACK, 0.0, 21.0, 1.0),
        (Colour(0xF0, 0xE4, 0x42), 0.744_054, 1.3223, 15.8811),
    ];

    #[test]
    fn palette_and_contrast_are_the_published_ones() {
        for (ours, (colour, luminance, on_white, on_black)) in OKABE_ITO.into_iter().zip(PUBLISHED)
        {
            assert_eq!(ours, colour);
            assert!((colour.luminance() - luminance).abs() < 1e-6);
            assert!((contrast(colour, WHITE) - on_white).abs() < 1e-4);
            assert!((contrast(colour, BLACK) - on_black).abs() < 1e-4);
        }
        // WCAG 2.2 does not round: this grey fails 4.5:1.
        let grey = contrast(Colour(0x77, 0x77, 0x77), WHITE);
        assert!((grey - 4.478_089).abs() < 1e-6);
    }

    #[test]
    fn every_text_reaches_four_and_a_half_and_every_line_three() {
        for theme in [Theme::Paper, Theme::Dark, Theme::Beam] {
            let palette = Palette::of(theme);
            assert!(contrast(palette.ink, palette.ground) >= 7.0);
            assert!(contrast(palette.quiet, palette.ground) >= 4.5);
            for curve in 0..16 {
                assert!(contrast(palette.name(curve), palette.ground) >= 4.5);
                for ground in palette.grounds() {
                    assert!(contrast(palette.line(curve), ground) >= 3.0);
                }
                for ground in [palette.ground, palette.band] {
                    let (faint, line) = (palette.faint(curve), palette.line(curve));
                    assert!(contrast(faint, ground) >= 3.0);
                    assert!(contrast(faint, ground) <= contrast(line, ground));
                }
            }
        }
    }

    #[test]
    fn the_pair_on_paper_is_untouched() {
        let palette = Palette::of(Theme::Paper);
        assert_eq!(palette.line(0).hex(), "#0072B2");
        assert_eq!(palette.line(1).hex(), "#D55E00");
    }

    #[test]
    fn the_band_is_pale_enough_for_grey_print() {
        let palette = Palette::of(Theme::Paper);
        assert!(contrast(palette.band, palette.ground) < 1.2);
    }
}
