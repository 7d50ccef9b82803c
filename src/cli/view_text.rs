//! What is said of boards and events.

use super::text::printable;
use crate::lamp::{EdgeSeen, Kind};
use crate::live::terminal::{Colours, Look};
use crate::probe::Converter;
use crate::run::{Conductor, Step};
use crate::sampler::Sampler;
use crate::wire::Unit;

/// A board that was understood, in a line or two.
pub(super) fn greeting(port: &str, sampler: &Sampler) -> String {
    let dialect = sampler.dialect().map_or("unknown", |d| d.name());
    let id = sampler
        .hello()
        .map_or(String::new(), |h| format!(" {}", h.board_id));
    let unit = match sampler.converter().map(Converter::unit) {
        Some(Unit::Adc) => "converter counts",
        Some(Unit::Ohm) => "ohms",
        Some(Unit::Volt) => "volts",
        Some(Unit::Degf) => "°F",
        Some(Unit::Kelvin) => "kelvin",
        Some(Unit::Degc) | None => "°C",
    };
    let channels = sampler.channels().unwrap_or(0);
    let mut text = format!(
        "Board{} on {}: {dialect} lines, {channels} channel{}, {unit}.",
        printable(&id),
        printable(port),
        if channels == 1 { "" } else { "s" }
    );
    if let Some(mapping) = mapping(sampler) {
        text.push_str(&format!("\n  {mapping}."));
    }
    for warning in super::budget::heat_warnings(sampler, None) {
        text.push_str(&format!("\n  {warning}"));
    }
    text
}

/// Which of the board's labels is which sample, where that needs to be said.
fn mapping(sampler: &Sampler) -> Option<String> {
    let names = sampler.names();
    let pairs: Vec<String> = sampler
        .labels()?
        .iter()
        .zip(&names)
        .filter(|(label, name)| ***label != **name)
        .map(|(label, name)| format!("{} is {}", printable(label), printable(name)))
        .collect();
    (!pairs.is_empty()).then(|| pairs.join(", "))
}

/// Events that people should see at once.
pub(super) fn matters(kind: &str) -> bool {
    !matches!(kind, "hello" | "dialect" | "remark" | "end" | "prediction")
        && !kind.starts_with("cue-")
        && !kind.starts_with("hand-")
}

/// How far from its time the lamp was switched: `, 4.2 s after its time`.
pub(super) fn late(conductor: &Conductor, seen: &EdgeSeen, cued_s: Option<f64>) -> String {
    let due_s = match (seen.edge, conductor.step()) {
        (Kind::Off, Step::Cooling { on_s, .. }) => {
            let heating_s = conductor.plan().heating_s();
            heating_s.map(|heating_s| on_s + heating_s).or(cued_s)
        }
        _ => cued_s,
    };
    let Some(late_s) = due_s.map(|due_s| seen.at_s - due_s) else {
        return String::new();
    };
    let side = if late_s < 0.0 { "before" } else { "after" };
    format!(", {:.1} s {side} its time", late_s.abs())
}

/// What the terminal can show, as far as the environment tells.
pub(super) fn look() -> Look {
    let var = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let locale = var("LC_ALL")
        .or_else(|| var("LC_CTYPE"))
        .or_else(|| var("LANG"));
    let locale = locale.unwrap_or_default().to_lowercase();
    let many =
        var("COLORTERM").is_some() || var("TERM").is_some_and(|term| term.contains("256color"));
    Look {
        unicode: cfg!(windows) || locale.contains("utf-8") || locale.contains("utf8"),
        colours: match var("NO_COLOR") {
            Some(_) => Colours::None,
            None if many || cfg!(windows) => Colours::Many,
            None => Colours::Sixteen,
        },
    }
}
