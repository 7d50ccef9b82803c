//! What can be told from what: contrast, colour blindness, grey print, line styles.

use duskmark::graph::{Style, Theme, svg};
use palette::color_difference::Ciede2000;
use palette::white_point::D65;
use palette::{IntoColor, Lab, LinSrgb, Srgb};

use super::scenes;

const THEMES: [Theme; 3] = [Theme::Paper, Theme::Dark, Theme::Beam];

fn colour(hex: &str) -> Srgb<f64> {
    let part = |at: usize| f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
    Srgb::new(part(1), part(3), part(5))
}

/// An attribute of an element's line.
fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    let from = element.find(&format!(" {name}=\""))? + name.len() + 3;
    element[from..].split('"').next()
}

/// A picture of sixteen curves in a theme: colour of the ground, curves (colour, dashes), texts.
struct Looks {
    ground: Srgb<f64>,
    band: Srgb<f64>,
    curves: Vec<(Srgb<f64>, Option<String>)>,
    texts: Vec<(Srgb<f64>, String)>,
}

fn looks(theme: Theme) -> Looks {
    let style = Style {
        theme,
        ..Style::page()
    };
    let document = svg(&scenes::many(16), &style);
    let of = |element: &str| -> Vec<&str> {
        document
            .lines()
            .filter(|line| line.starts_with(element))
            .collect()
    };
    let fill = |line: &&str| colour(attribute(line, "fill").unwrap());
    let curve = |line: &&str| {
        let dashes = attribute(line, "stroke-dasharray").map(str::to_owned);
        (colour(attribute(line, "stroke").unwrap()), dashes)
    };
    Looks {
        ground: of("<rect").first().map(fill).unwrap(),
        band: of("<rect").get(1).map(fill).unwrap(),
        curves: of("<path").iter().map(curve).collect(),
        texts: of("<text")
            .iter()
            .map(|line| (fill(line), (*line).to_owned()))
            .collect(),
    }
}

/// Contrast ratio by WCAG 2.2 (W3C Recommendation, definitions of contrast ratio and relative
/// luminance), written here a second time.
fn contrast(a: Srgb<f64>, b: Srgb<f64>) -> f64 {
    let linear = |c: f64| {
        if c <= 0.04045 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    };
    let luminance =
        |c: Srgb<f64>| 0.2126 * linear(c.red) + 0.7152 * linear(c.green) + 0.0722 * linear(c.blue);
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// How full dichromats see a colour: matrices for severity 1.0 of G. M. Machado, M. M. Oliveira and
/// L. A. F. Fernandes, IEEE Transactions on Visualization and Computer Graphics 15 (2009) 1291, on
/// linear RGB.
const PROTANOPIA: [[f64; 3]; 3] = [
    [0.152_286, 1.052_583, -0.204_868],
    [0.114_503, 0.786_281, 0.099_216],
    [-0.003_882, -0.048_116, 1.051_998],
];
const DEUTERANOPIA: [[f64; 3]; 3] = [
    [0.367_322, 0.860_646, -0.227_968],
    [0.280_085, 0.672_501, 0.047_413],
    [-0.011_820, 0.042_940, 0.968_881],
];

fn seen_with(matrix: [[f64; 3]; 3], c: Srgb<f64>) -> Srgb<f64> {
    let c: LinSrgb<f64> = c.into_linear();
    let row = |m: [f64; 3]| (m[0] * c.red + m[1] * c.green + m[2] * c.blue).clamp(0.0, 1.0);
    Srgb::from_linear(LinSrgb::new(row(matrix[0]), row(matrix[1]), row(matrix[2])))
}

fn lab(c: Srgb<f64>) -> Lab<D65, f64> {
    c.into_linear::<f64>().into_color()
}

fn differ(a: Srgb<f64>, b: Srgb<f64>) -> f64 {
    lab(a).difference(lab(b))
}

/// Pairs of CIELAB colours and their difference: table 1 of G. Sharma, W. Wu and E. N. Dalal, Color
/// Research and Application 30 (2005) 21, one of each trap that it was made for.
const SHARMA: [([f64; 3], [f64; 3], f64); 14] = [
    ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425),
    ([50.0, 2.8361, -74.02], [50.0, 0.0, -82.7485], 3.4412),
    ([50.0, -1.3802, -84.2814], [50.0, 0.0, -82.7485], 1.0),
    ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669),
    ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0009], 7.1792),
    ([50.0, 2.49, -0.001], [50.0, -2.49, 0.0011], 7.2195),
    ([50.0, -0.001, 2.49], [50.0, 0.0009, -2.49], 4.8045),
    ([50.0, 2.5, 0.0], [50.0, 0.0, -2.5], 4.3065),
    ([50.0, 2.5, 0.0], [73.0, 25.0, -18.0], 27.1492),
    ([50.0, 2.5, 0.0], [56.0, -27.0, -3.0], 31.903),
    (
        [60.2574, -34.0099, 36.2677],
        [60.4626, -34.1751, 39.4387],
        1.2644,
    ),
    (
        [22.7233, 20.0904, -46.694],
        [23.0331, 14.973, -42.5619],
        2.0373,
    ),
    (
        [90.8027, -2.0831, 1.441],
        [91.1528, -1.6435, 0.0447],
        1.4441,
    ),
    ([2.0776, 0.0795, -1.135], [0.9033, -0.0636, -0.5514], 0.9082),
];

#[test]
fn the_measure_of_difference_gives_the_published_values() {
    for (a, b, published) in SHARMA {
        let lab = |v: [f64; 3]| Lab::<D65, f64>::new(v[0], v[1], v[2]);
        let ours = lab(a).difference(lab(b));
        assert!(
            (ours - published).abs() < 1e-4,
            "{a:?} {b:?}: {ours}, not {published}"
        );
    }
}

#[test]
fn the_measure_of_contrast_gives_the_published_values() {
    // W3C, Understanding SC 1.4.11: #949494 on white is 3:1; #767676 the lightest grey at 4.5:1.
    assert!((contrast(colour("#949494"), colour("#FFFFFF")) - 3.03).abs() < 0.01);
    assert!((contrast(colour("#767676"), colour("#FFFFFF")) - 4.54).abs() < 0.01);
    assert!((contrast(colour("#000000"), colour("#FFFFFF")) - 21.0).abs() < 1e-9);
}

#[test]
fn every_text_reaches_four_and_a_half_to_one_and_every_curve_three() {
    for theme in THEMES {
        let looks = looks(theme);
        assert!(looks.curves.len() >= 16 && looks.texts.len() > 30);
        let (text_least, line_least) = if theme == Theme::Beam {
            (7.0, 4.5)
        } else {
            (4.5, 3.0)
        };
        let mut least = (f64::INFINITY, f64::INFINITY);
        for (fill, text) in &looks.texts {
            let reached = contrast(*fill, looks.ground);
            assert!(reached >= text_least, "{theme:?}: {reached:.2} for {text}");
            least.0 = least.0.min(reached);
        }
        for (number, (stroke, _)) in looks.curves.iter().enumerate() {
            for ground in [looks.ground, looks.band] {
                let reached = contrast(*stroke, ground);
                assert!(
                    reached >= line_least,
                    "{theme:?}: {reached:.2} for curve {number}"
                );
                least.1 = least.1.min(reached);
            }
        }
        println!(
            "{theme:?}: least contrast of texts {:.2}, of curves {:.2}",
            least.0, least.1
        );
    }
}

#[test]
fn the_first_two_curves_differ_for_dichromats_too() {
    for theme in THEMES {
        let looks = looks(theme);
        let (a, b) = (looks.curves[0].0, looks.curves[1].0);
        let all = [
            ("all cones", differ(a, b)),
            (
                "protanopia",
                differ(seen_with(PROTANOPIA, a), seen_with(PROTANOPIA, b)),
            ),
            (
                "deuteranopia",
                differ(seen_with(DEUTERANOPIA, a), seen_with(DEUTERANOPIA, b)),
            ),
        ];
        for (eyes, reached) in all {
            println!("{theme:?}, {eyes}: CIEDE2000 {reached:.1}");
            // Ten times what an observer just notices side by side (about 1; common practice, no
            // source) and more.
            assert!(reached > 25.0, "{theme:?}, {eyes}: {reached:.1}");
        }
    }
}

#[test]
fn what_grey_print_takes_away_the_line_style_gives_back() {
    for theme in THEMES {
        let looks = looks(theme);
        let grey = |c: Srgb<f64>| lab(c).l;
        let lightness = (grey(looks.curves[0].0) - grey(looks.curves[1].0)).abs();
        println!("{theme:?}: the first two differ by {lightness:.1} in lightness L*");
        // Twice what is just noticed side by side is little, which is why styles differ as well.
        assert!(lightness > 5.0, "{theme:?}: {lightness:.1}");
        let styles: Vec<_> = looks.curves[..8]
            .iter()
            .map(|(_, dashes)| dashes.clone())
            .collect();
        for (k, style) in styles.iter().enumerate() {
            assert!(
                !styles[..k].contains(style),
                "curve {k} has the style of another"
            );
        }
        // Sixteen curves: no two with one colour and one style.
        let pairs: Vec<_> = looks.curves[..16].iter().collect();
        for (k, look) in pairs.iter().enumerate() {
            assert!(!pairs[..k].contains(look), "curve {k} looks like another");
        }
    }
}
