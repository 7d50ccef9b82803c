//! The same picture in pixels, on a machine without any font.

use duskmark::graph::{Picture, PngError, Style, png, svg};
use resvg::tiny_skia::Pixmap;

use super::scenes;

fn drawn(svg: &str, scale: f64) -> Pixmap {
    Pixmap::decode_png(&png(svg, scale).unwrap()).unwrap()
}

/// Pixels in which two pictures of one size differ.
fn differing(a: &Pixmap, b: &Pixmap) -> usize {
    assert_eq!((a.width(), a.height()), (b.width(), b.height()));
    a.pixels()
        .iter()
        .zip(b.pixels())
        .filter(|(a, b)| a != b)
        .count()
}

/// A document without its texts.
fn without_texts(svg: &str) -> String {
    let kept = svg.lines().filter(|line| !line.starts_with("<text"));
    kept.map(|line| line.to_owned() + "\n").collect()
}

/// A document with one text only.
fn only(text: &str) -> String {
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400\" height=\"60\" font-family=\"sans-serif\">\
         <text x=\"20\" y=\"40\" font-size=\"30\">{text}</text></svg>"
    )
}

#[test]
fn texts_are_there_though_no_font_of_the_machine_is_used() {
    let whole = svg(&scenes::lesson(), &Style::page());
    let texts = differing(&drawn(&whole, 1.0), &drawn(&without_texts(&whole), 1.0));
    // Title, axes, ticks, names, edges: a hundred letters and more, of some forty pixels each.
    assert!(texts > 4000, "{texts} pixels of text");
}

#[test]
fn letters_of_other_scripts_and_emoji_are_painted_each_in_its_shape() {
    let nothing = drawn(&only(""), 1.0);
    let mut seen: Vec<Pixmap> = Vec::new();
    for text in [
        "slate",
        "мох",
        "βρύο",
        "אזוב",
        "طحلب",
        "🌱",
        "☀\u{fe0f}",
        "°C ± Δ ϑ₁ −",
    ] {
        let picture = drawn(&only(text), 1.0);
        assert!(differing(&picture, &nothing) > 60, "{text} is not painted");
        assert!(
            seen.iter().all(|other| differing(other, &picture) > 20),
            "{text} looks like another"
        );
        seen.push(picture);
    }
    // Arabic letters join, and run from the right: not the same as one by one from the left.
    let apart: String = "طحلب".chars().rev().flat_map(|c| [c, '\u{200c}']).collect();
    assert!(differing(&drawn(&only("طحلب"), 1.0), &drawn(&only(&apart), 1.0)) > 20);
}

#[test]
fn the_size_is_the_pictures_times_the_scale_and_the_same_bytes_come_again() {
    let whole = svg(&scenes::lesson(), &Style::page());
    let picture = drawn(&whole, 2.0);
    assert_eq!((picture.width(), picture.height()), (1920, 1080));
    assert_eq!(png(&whole, 2.0).unwrap(), png(&whole, 2.0).unwrap());
}

#[test]
fn what_cannot_be_drawn_is_refused_in_words() {
    let whole = svg(&Picture::default(), &Style::page());
    for scale in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e3] {
        assert!(
            matches!(png(&whole, scale), Err(PngError::Size { .. })),
            "{scale}"
        );
    }
    assert!(matches!(png("no picture", 1.0), Err(PngError::Svg(_))));
}

#[test]
fn every_scene_keeps_its_edges_clear() {
    // Nothing runs over the picture's border: the outermost pixels are the ground's.
    for (name, svg) in scenes::all() {
        let picture = drawn(&svg, 1.0);
        let (w, h) = (picture.width(), picture.height());
        let ground = picture.pixel(0, 0).unwrap();
        let around = (0..w).flat_map(|x| [(x, 0), (x, h - 1)]);
        let around = around.chain((0..h).flat_map(|y| [(0, y), (w - 1, y)]));
        for (x, y) in around {
            assert_eq!(picture.pixel(x, y), Some(ground), "{name} at {x}, {y}");
        }
    }
}
