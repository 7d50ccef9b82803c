//! A fortnight at one reading a second: every spike is seen, and the cost is bounded.

use std::time::Instant;

use duskmark::graph::{Curve, Picture, Style, png, svg};
use resvg::tiny_skia::Pixmap;

/// Fourteen days at 1 Hz.
const POINTS: u32 = 14 * 86_400;

/// Two channels, noisy in the last digit, each with a spike of one reading.
fn fortnight(spikes: [(usize, f64); 2]) -> Picture<'static> {
    let t_s: Vec<f64> = (0..POINTS).map(f64::from).collect();
    let curve = |name: &str, base: f64, (at, degc): (usize, f64)| {
        let value = |t: &f64| base + 4.0 * libm::sin(t / 13_750.0) + 0.1 * f64::from(*t as u32 % 3);
        let mut values: Vec<f64> = t_s.iter().map(value).collect();
        values[at] = degc;
        Curve {
            name: name.to_owned().into(),
            t_s: t_s.clone().into(),
            degc: values.into(),
            band: None,
        }
    };
    Picture {
        title: "A fortnight".into(),
        curves: vec![
            curve("slate", 24.0, spikes[0]),
            curve("moss", 20.0, spikes[1]),
        ],
        gap_s: Some(10.0),
        ..Picture::default()
    }
}

/// Rows of a document's path points around a column: the topmost.
fn topmost(document: &str, line: usize, x: f64) -> f64 {
    let path = document
        .lines()
        .filter(|l| l.starts_with("<path"))
        .nth(line)
        .unwrap();
    let d = path.split('"').nth(1).unwrap();
    let points = d.split(['M', 'L']).filter_map(|pair| pair.split_once(' '));
    let points = points.map(|(x, y)| (x.parse::<f64>().unwrap(), y.parse::<f64>().unwrap()));
    points
        .filter(|(at, _)| (at - x).abs() < 1.0)
        .fold(f64::INFINITY, |top, (_, y)| top.min(y))
}

#[test]
fn a_spike_of_one_reading_is_seen_in_a_fortnight() {
    let style = Style::page();
    let calm = svg(&fortnight([(500_000, 59.0), (500_000, 20.0)]), &style);
    let picture = fortnight([(500_000, 59.0), (900_001, 58.9)]);
    let began = Instant::now();
    let document = svg(&picture, &style);
    let drawing_s = began.elapsed().as_secs_f64();
    let began = Instant::now();
    let bytes = png(&document, 1.0).unwrap();
    let painting_s = began.elapsed().as_secs_f64();
    println!(
        "{POINTS} points on each of two curves: SVG of {} bytes in {drawing_s:.3} s, PNG of {} bytes in {painting_s:.3} s",
        document.len(),
        bytes.len()
    );
    // Two points per pixel column and curve, a dozen bytes each, steep parts twice: whatever the
    // number of readings.
    assert!(document.len() < 100_000, "{} bytes", document.len());
    assert!(drawing_s < 2.0, "{drawing_s} s");

    // In the text both reach 59 °C, just below the top of the plot, and in the pixels.
    let (left, right, top) = plot(&document);
    let at = |second: f64| left + (right - left) * second / 1_209_600.0;
    for (line, second) in [(0, 500_000.0), (1, 900_001.0)] {
        let row = topmost(&document, line, at(second));
        assert!(
            row < top + 16.0,
            "curve {line}: {row}, the plot begins at {top}"
        );
    }
    let (with, without) = (pixels(&document), pixels(&calm));
    let column = (at(900_001.0) - 2.0) as u32..=(at(900_001.0) + 2.0) as u32;
    for y in (top as u32 + 14..top as u32 + 120).step_by(4) {
        let differs = column
            .clone()
            .any(|x| with.pixel(x, y) != without.pixel(x, y));
        assert!(differs, "the dashed curve's spike has a hole at row {y}");
    }
}

#[test]
fn a_lesson_is_drawn_fast_enough_for_a_live_page() {
    let picture = super::scenes::many(2);
    let began = Instant::now();
    let rounds = 50;
    let bytes: usize = (0..rounds)
        .map(|_| svg(&picture, &Style::page()).len())
        .sum();
    let each_s = began.elapsed().as_secs_f64() / f64::from(rounds);
    println!("a lesson: {} bytes in {:.2} ms", bytes / 50, 1e3 * each_s);
    assert!(each_s < 0.03, "{each_s} s");
}

fn pixels(svg: &str) -> Pixmap {
    Pixmap::decode_png(&png(svg, 1.0).unwrap()).unwrap()
}

/// Left, right and top of the plot: from the grid's first and last line.
fn plot(document: &str) -> (f64, f64, f64) {
    let grid: Vec<&str> = document
        .lines()
        .filter(|l| l.starts_with("<line") && l.contains("#E0E0E0"))
        .collect();
    let number = |line: &str, at: usize| line.split('"').nth(at).unwrap().parse::<f64>().unwrap();
    let last = grid.last().unwrap();
    (number(last, 1), number(last, 5), number(last, 3))
}
