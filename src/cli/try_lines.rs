//! `boards --try`: how a pasted line would be read, and where it leaves each dialect.

use serde_json::json;

use super::args::BoardsArgs;
use super::config::NamedLines;
use super::exit::{Code, Failure};
use super::out;
use super::text::printable;
use super::view_text::spoken;
use crate::wire::{
    Dialect, DialectKind, Field, Frame, Framer, LineFault, LinePattern, Own, Sample, Unit,
};

/// The dialects that need no description.
const KNOWN: [DialectKind; 4] = [
    DialectKind::Native,
    DialectKind::Plain,
    DialectKind::Labelled,
    DialectKind::Json,
];

/// One way of reading, tried on a line.
enum Way {
    Known(DialectKind),
    Own(Own),
}

impl Way {
    fn dialect(&self) -> &dyn Dialect {
        match self {
            Self::Known(kind) => kind.dialect(),
            Self::Own(own) => own,
        }
    }
}

pub(super) fn run(args: &BoardsArgs) -> Result<(), Failure> {
    let described = match &args.board.dialect {
        Some(name) => vec![NamedLines::find(name)?],
        None => NamedLines::all()?,
    };
    let known = KNOWN.into_iter().map(Way::Known);
    let mut ways: Vec<Way> = match &args.board.dialect {
        Some(_) => Vec::new(),
        None => known.collect(),
    };
    ways.extend(described.into_iter().filter_map(own));
    let mut all_read = true;
    for line in &args.try_line {
        let mut any = false;
        let mut text = format!("'{}'\n", printable(line));
        for way in &ways {
            let result = read(line, way.dialect());
            any |= matches!(result, Ok(Frame::Sample(_)));
            if args.json {
                out(&format!("{}\n", as_json(line, way, &result)));
            } else {
                text.push_str(&as_text(line, way, &result));
            }
        }
        if !args.json {
            out(&text);
        }
        all_read &= any;
    }
    if all_read {
        return Ok(());
    }
    let failure = Failure::new(Code::Failed, "no reading was found in a line");
    Err(failure.advise(
        "Describe its lines under [dialect.NAME] in duskmark.toml (firmware-notes/settings.md).",
    ))
}

fn own(lines: LinePattern) -> Option<Way> {
    // The settings have been through this already.
    Own::new(lines).ok().map(Way::Own)
}

/// The line through the framer, as if a board had sent it.
fn read(line: &str, dialect: &dyn Dialect) -> Result<Frame, LineFault> {
    let mut result = None;
    let mut framer = Framer::new();
    framer.push(format!("{line}\n").as_bytes(), |raw| {
        result.get_or_insert_with(|| raw.parse(dialect));
    });
    result.unwrap_or(Err(LineFault::NoReading))
}

fn as_text(line: &str, way: &Way, result: &Result<Frame, LineFault>) -> String {
    let said = match result {
        Ok(Frame::Sample(sample)) => readings(sample),
        Ok(Frame::Hello(hello)) => format!("the board says: {}", crate::sampler::describe(hello)),
        Ok(Frame::Remark(_)) => "a remark, no reading".to_owned(),
        Err(fault) => format!("no: {}", misfit(line, way).unwrap_or(fault.to_string())),
    };
    format!(
        "  {:<14} {}\n",
        printable(spoken(way.dialect().name())),
        printable(&said)
    )
}

fn readings(sample: &Sample) -> String {
    let unit = match sample.unit {
        Some(Unit::Degc) => " °C",
        Some(Unit::Degf) => " °F",
        Some(Unit::Kelvin) => " K",
        Some(Unit::Ohm) => " Ω",
        Some(Unit::Adc) => " counts",
        Some(Unit::Volt) => " V",
        None => "",
    };
    let channels = sample.fields.iter().enumerate().map(|(index, field)| {
        let label = match sample.labels.get(index) {
            Some(label) => label.to_string(),
            None => format!("probe {}", index + 1),
        };
        match field {
            Field::Number { value, decimals } => {
                format!("{label} {value:.*}{unit}", usize::from(*decimals).min(9))
            }
            Field::Empty => format!("{label} (nothing)"),
            Field::NotANumber => format!("{label} (no number)"),
        }
    });
    let mut parts: Vec<String> = channels.collect();
    parts.extend(sample.seq.map(|seq| format!("line number {seq}")));
    parts.extend(sample.board_ms.map(|ms| format!("board clock {ms} ms")));
    if !sample.left_out.is_empty() {
        let labels = sample.left_out.join(", ");
        parts.push(format!("left out as no temperature: {labels}"));
    }
    parts.join(", ")
}

/// How far a line fits a described form.
fn misfit(line: &str, way: &Way) -> Option<String> {
    let Way::Own(own) = way else { return None };
    let misfit = own.misfit(line.as_bytes())?;
    let fits = line.get(..misfit.at).unwrap_or_default();
    let fits = match fits {
        "" => "nothing of it fits".to_owned(),
        fits => format!("it fits up to '{fits}'"),
    };
    Some(match misfit.wanted.as_str() {
        "" => format!("{fits}, but then the line goes on: '{}'", misfit.rest),
        wanted if misfit.rest.is_empty() => {
            format!("{fits}, but the pattern goes on: {wanted}")
        }
        wanted => format!("{fits}; '{}' does not fit {wanted}", misfit.rest),
    })
}

fn as_json(line: &str, way: &Way, result: &Result<Frame, LineFault>) -> serde_json::Value {
    let sample = match result {
        Ok(Frame::Sample(sample)) => Some(sample),
        _ => None,
    };
    let numbers: Option<Vec<serde_json::Value>> = sample.map(|sample| {
        let value = |field: &Field| match field {
            Field::Number { value, .. } => json!(value),
            _ => json!(null),
        };
        sample.fields.iter().map(value).collect()
    });
    let fault = result.as_ref().err();
    json!({
        "line": line,
        "dialect": way.dialect().name(),
        "readings": numbers,
        "labels": sample.map(|sample| &sample.labels),
        "unit": sample.and_then(|sample| sample.unit),
        "sequence": sample.and_then(|sample| sample.seq),
        "board_ms": sample.and_then(|sample| sample.board_ms),
        "left_out": sample.map(|sample| &sample.left_out),
        "fault": fault.map(|fault| misfit(line, way).unwrap_or(fault.to_string())),
    })
}
