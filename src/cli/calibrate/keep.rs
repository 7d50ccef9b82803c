//! What came out of a calibration: shown, and kept whole or not at all.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::json;

use super::store::{of_store, store};
use super::subject::Subject;
use crate::calibrate::{Calibration, Found};
use crate::cli::exit::Failure;
use crate::cli::out;
use crate::cli::text::{as_word, printable, wrapped};
use crate::port::clock::wall_ns;
use crate::run::{add_calibrations, rfc3339_ms};

/// What came out.
pub(super) struct Outcome {
    /// For people, line by line.
    pub(super) text: String,
    /// For programs: what the calibrations themselves do not say.
    pub(super) more: serde_json::Map<String, serde_json::Value>,
    pub(super) kind: &'static str,
    /// How it was found, in words.
    pub(super) method: String,
    pub(super) conditions: BTreeMap<String, f64>,
    /// What was found of each channel, counted from 0.
    pub(super) found: Vec<(usize, Found)>,
}

/// Keeps what came out, and shows it.
///
/// # Errors
/// [`Failure`] if it cannot be kept; what was kept before stands.
pub(super) fn finish(
    subject: &Subject,
    outcome: Outcome,
    (json, quiet): (bool, bool),
) -> Result<(), Failure> {
    let date = rfc3339_ms(wall_ns());
    let calibrations: Vec<Calibration> = outcome
        .found
        .into_iter()
        .map(|(channel, found)| {
            let words = subject.probes.get(channel).cloned().flatten();
            let is_law = matches!(found, Found::Constants { .. });
            Calibration {
                board: subject.board.clone().unwrap_or_default(),
                channel: channel + 1,
                date: date.clone(),
                method: outcome.method.clone(),
                program: env!("CARGO_PKG_VERSION").into(),
                // The law itself is what constants are; the divider they hold for.
                probe: words.map(|words| match words.split_once("; ") {
                    Some((divider, _)) if is_law => divider.to_owned(),
                    _ => words,
                }),
                found,
                conditions: outcome.conditions.clone(),
            }
        })
        .collect();
    if !json && !quiet {
        out(&outcome.text);
    }
    let stored = match &subject.store {
        Some(path) => {
            add_calibrations(path, &calibrations).map_err(|fault| of_store(&fault))?;
            Some(path.display().to_string())
        }
        None => None,
    };
    if json {
        let mut object = outcome.more;
        object.insert("format".into(), json!("duskmark-calibration-1"));
        object.insert("kind".into(), json!(outcome.kind));
        object.insert("board".into(), json!(subject.board));
        object.insert("store".into(), json!(stored));
        object.insert("calibrations".into(), json!(calibrations));
        out(&format!("{}\n", serde_json::Value::Object(object)));
    } else if !quiet {
        out(&wrapped(&whereabouts(stored.as_deref())));
    }
    Ok(())
}

/// Where it was kept, and whether that counts from now on.
fn whereabouts(stored: Option<&str>) -> String {
    let Some(path) = stored else {
        return "Nothing was kept (--no-store, or a virtual board without --store).".into();
    };
    let shown = printable(path);
    if is_used(path) {
        format!("Kept in {shown}; 'duskmark log' uses it from now on.")
    } else {
        let word = as_word(path.as_ref());
        format!("Kept in {shown}; 'duskmark log --calibration {word}' uses it.")
    }
}

/// Whether 'log' takes this file where none is named.
fn is_used(path: &str) -> bool {
    let whole = |path: &Path| std::fs::canonicalize(path).ok();
    store(None).is_ok_and(|usual| whole(&usual) == whole(Path::new(path)))
}

/// A number of a file for people, to a hundred-thousandth.
pub(super) fn short(value: f64) -> f64 {
    (value * 1e5).round() / 1e5
}
