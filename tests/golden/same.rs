//! Every scene is drawn as it was when last looked at.
//!
//! After a change that is meant: `DUSKMARK_RENEW=1 cargo test --test pictures`, look at
//! `git diff tests/golden` and at the pictures. `DUSKMARK_PICTURES=FOLDER` writes all of them there
//! as PNG.

use std::path::{Path, PathBuf};

use duskmark::graph::png;

use super::scenes;

fn kept(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden");
    folder.join(format!("{name}.svg"))
}

/// The first lines in which two pictures differ, and where in them; nothing if they are the same.
fn difference(was: &str, is: &str) -> String {
    let (was, is): (Vec<&str>, Vec<&str>) = (was.lines().collect(), is.lines().collect());
    let mut told = String::new();
    let (mut differing, none) = (0, "(no such line)");
    for k in 0..was.len().max(is.len()) {
        let (before, now) = (was.get(k).unwrap_or(&none), is.get(k).unwrap_or(&none));
        if before == now {
            continue;
        }
        differing += 1;
        if differing <= 3 {
            told += &format!("  line {}\n", k + 1);
            told += &format!(
                "    was {}\n    is  {}\n",
                around(before, now),
                around(now, before)
            );
        }
    }
    if differing > 3 {
        told += &format!("  and {} lines more\n", differing - 3);
    }
    told
}

/// An element's beginning, and what is around the first character in which it differs.
fn around(text: &str, other: &str) -> String {
    let same = text
        .chars()
        .zip(other.chars())
        .take_while(|(a, b)| a == b)
        .count();
    let letters: Vec<char> = text.chars().collect();
    let part = |from: usize, to: usize| letters[from..to].iter().collect::<String>();
    let (from, to) = (same.saturating_sub(30), (same + 50).min(letters.len()));
    if from <= 20 {
        part(0, to)
    } else {
        format!("{} … {}", part(0, 12), part(from, to))
    }
}

#[test]
fn every_scene_is_drawn_as_it_was() {
    let renew = std::env::var_os("DUSKMARK_RENEW").is_some();
    let pictures = std::env::var_os("DUSKMARK_PICTURES").map(PathBuf::from);
    let mut wrong = String::new();
    for (name, svg) in scenes::all() {
        if renew {
            std::fs::write(kept(name), &svg).unwrap();
        }
        if let Some(folder) = &pictures {
            std::fs::write(folder.join(format!("{name}.png")), png(&svg, 1.0).unwrap()).unwrap();
        }
        let was = std::fs::read_to_string(kept(name)).unwrap_or_default();
        let told = difference(&was, &svg);
        if !told.is_empty() {
            wrong += &format!("{name}.svg\n{told}");
        }
    }
    assert!(
        wrong.is_empty(),
        "pictures differ from tests/golden:\n{wrong}"
    );
}

#[test]
fn no_kept_picture_is_without_its_scene() {
    let known: Vec<PathBuf> = scenes::all().iter().map(|(name, _)| kept(name)).collect();
    for entry in std::fs::read_dir(kept("any").parent().unwrap()).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "svg") {
            assert!(known.contains(&path), "{} is of no scene", path.display());
        }
    }
}

#[test]
fn a_difference_tells_line_and_place() {
    let was = "<svg>\n<line x1=\"1\"/>\n</svg>\n";
    let told = difference(was, &was.replace("x1=\"1\"", "x1=\"2\""));
    assert_eq!(
        told,
        "  line 2\n    was <line x1=\"1\"/>\n    is  <line x1=\"2\"/>\n"
    );
    assert!(difference(was, was).is_empty());
}
