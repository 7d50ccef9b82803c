//! What is said of boards and events.

use super::text::{printable, wrapped_within};
use crate::lamp::{EdgeSeen, Kind};
use crate::live::terminal::{Colours, Look};
use crate::probe::Converter;
use crate::run::{Conductor, Step};
use crate::sampler::{Row, Sampler};
use crate::wire::Unit;

/// A way of speaking as people are told of it.
pub(super) fn spoken(dialect: &str) -> &str {
    match dialect {
        "native" => "duskmark's own",
        other => other,
    }
}

/// A board that was understood, in a line or two.
pub(super) fn greeting(port: &str, sampler: &Sampler, row: Option<&Row>) -> String {
    let dialect = sampler.dialect().map_or("unknown", |d| spoken(d.name()));
    let id = sampler
        .hello()
        .map_or(String::new(), |h| format!(" {}", h.board_id));
    let read_as = sampler.converter().map_or(Unit::Degc, Converter::unit);
    let unit = unit_words(read_as);
    let channels = sampler.channels().unwrap_or(0);
    let mut text = format!(
        "Board{} on {}: {dialect} lines, {channels} probe{}, {unit}.",
        printable(&id),
        printable(port),
        if channels == 1 { "" } else { "s" }
    );
    if let Some(own) = sampler
        .hello()
        .map(|h| h.unit)
        .filter(|own| *own != read_as)
    {
        let own = unit_words(own);
        text.push_str(&format!(
            "\n  The board says that it sends {own}; --unit stands over that."
        ));
    }
    if let Some(mapping) = mapping(sampler) {
        text.push_str(&format!("\n  {mapping}."));
    }
    let warnings = super::budget::heat_warnings(sampler, None);
    for warning in warnings {
        text.push_str(&format!("\n  {warning}"));
    }
    if let Some(hint) = super::odd::hint(sampler, row) {
        text.push_str(&format!("\n  {}", wrapped_within(&hint, 77).trim_end()));
    }
    text
}

/// What a board's numbers are.
fn unit_words(unit: Unit) -> &'static str {
    match unit {
        Unit::Adc => "converter counts",
        Unit::Ohm => "ohms",
        Unit::Volt => "volts",
        Unit::Degf => "°F",
        Unit::Kelvin => "kelvin",
        Unit::Degc => "°C",
    }
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

/// What to do about an event, where people can do something.
pub(super) fn to_do(kind: &str, detail: &str) -> Option<String> {
    if kind != "other-board" {
        return None;
    }
    let (_, own) = detail.rsplit_once(" answers instead of ")?;
    Some(format!(
        "Nothing of it is taken into this run. Plug in {}, or end this run and begin a new one: log \
         without --resume.",
        printable(own)
    ))
}

/// How far from the plan the lamp was switched: `, about 4 s after the plan`. While the run goes on that
/// is a first estimate, so less than it leaves open is not told.
pub(super) fn late(conductor: &Conductor, seen: &EdgeSeen, cued_s: Option<f64>) -> String {
    let due_s = match (seen.edge, conductor.step()) {
        (Kind::Off, Step::Cooling { on_s, .. }) => {
            let heating_s = conductor.plan().heating_s();
            heating_s.map(|heating_s| on_s + heating_s).or(cued_s)
        }
        _ => cued_s,
    };
    let Some(due_s) = due_s else {
        return String::new();
    };
    let late_s = seen.at_s - due_s;
    if (seen.low_s..=seen.high_s).contains(&due_s) || late_s.abs() < 0.5 {
        return ", near the plan".into();
    }
    let side = if late_s < 0.0 { "before" } else { "after" };
    format!(", about {:.0} s {side} the plan", late_s.abs())
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
