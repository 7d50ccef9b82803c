//! The host reads every line of the published test vectors as the specification says.
//!
//! The vectors (`firmware-notes/protocol-vectors.tsv`) are shared with the firmware; their own head
//! explains the columns and the names of the verdicts.

use std::collections::BTreeMap;
use std::fmt::Write;

use duskmark::wire::{
    Dialect, Field, Frame, Hello, LineFault, Native, NtcSide, RawFault, Sample, Unit, crc16,
    request_hello, request_period,
};

struct Vector<'a> {
    row: usize,
    kind: &'a str,
    verdict: &'a str,
    line: Vec<u8>,
    meaning: &'a str,
}

fn vectors(text: &str) -> Vec<Vector<'_>> {
    let rows = text
        .lines()
        .enumerate()
        .filter(|(_, row)| !row.starts_with('#'));
    rows.map(|(index, row)| {
        let columns: Vec<&str> = row.split('\t').collect();
        let [kind, verdict, line, meaning] = columns[..] else {
            panic!("row {}: {} columns", index + 1, columns.len());
        };
        Vector {
            row: index + 1,
            kind,
            verdict,
            line: unescape(line),
            meaning,
        }
    })
    .collect()
}

fn unescape(line: &str) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut rest = line;
    while let Some((before, after)) = rest.split_once("\\x") {
        bytes.extend_from_slice(before.as_bytes());
        let (digits, after) = after.split_at(2);
        bytes.push(u8::from_str_radix(digits, 16).expect("two hexadecimal digits"));
        rest = after;
    }
    bytes.extend_from_slice(rest.as_bytes());
    bytes
}

/// The specification's name for what the host found.
fn verdict(parsed: &Result<Frame, LineFault>) -> &'static str {
    match parsed {
        // The specification knows no words in place of a reading; the host takes no value from
        // such a field and lets the other channels stand.
        Ok(Frame::Sample(sample)) if sample.fields.contains(&Field::NotANumber) => "number",
        Ok(_) => "ok",
        Err(LineFault::Length { .. }) => "length",
        Err(LineFault::Raw(RawFault::NotText)) => "ascii",
        Err(LineFault::Kind) => "kind",
        Err(LineFault::NoChecksum | LineFault::Checksum { .. }) => "crc",
        Err(LineFault::NewerVersion { .. }) => "version",
        Err(LineFault::Syntax { .. } | LineFault::RepeatedKey { .. }) => "syntax",
        Err(LineFault::BadValue { .. }) => "value",
        Err(LineFault::MissingKey { .. }) => "missing",
        Err(LineFault::FieldCount { .. }) => "fields",
        Err(LineFault::Number { .. } | LineFault::Counter { .. }) => "number",
        Err(other) => panic!("not a fault of this protocol: {other}"),
    }
}

fn hello_meaning(hello: &Hello) -> String {
    let unit = match hello.unit {
        Unit::Degc => "degc",
        Unit::Ohm => "ohm",
        Unit::Adc => "adc",
        other => panic!("not a unit of this protocol: {other:?}"),
    };
    let mut text = format!(
        "id={} channels={} unit={unit}",
        hello.board_id, hello.channels
    );
    let ntc = hello
        .ntc_side
        .map(|side| if side == NtcSide::Low { "low" } else { "high" });
    let optional = [
        ("full", hello.full_scale.map(|v| v.to_string())),
        ("fixed_ohm", hello.fixed_ohm.map(|v| v.to_string())),
        ("ntc", ntc.map(str::to_owned)),
        ("period_ms", hello.period_ms.map(|v| v.to_string())),
        ("skew_us", hello.skew_us.map(|v| v.to_string())),
    ];
    for (key, value) in optional {
        if let Some(value) = value {
            write!(text, " {key}={value}").expect("writing to a string");
        }
    }
    text
}

fn assert_sample(sample: &Sample, meaning: &str, row: usize) {
    let (counters, fields) = meaning.split_once(" fields=").expect("fields");
    let (seq, ms) = (sample.seq.expect("seq"), sample.board_ms.expect("ms"));
    assert_eq!(format!("seq={seq} ms={ms}"), counters, "row {row}");
    let fields: Vec<&str> = fields.split(',').collect();
    assert_eq!(sample.fields.len(), fields.len(), "row {row}");
    for (field, &printed) in sample.fields.iter().zip(&fields) {
        let expected = if printed.is_empty() {
            Field::Empty
        } else {
            // The standard library's reading of decimal numbers is the outside reference.
            let value = printed.parse().expect("a number");
            let decimals = printed
                .split_once('.')
                .map_or(0, |(_, decimals)| decimals.len());
            Field::Number {
                value,
                decimals: u8::try_from(decimals).expect("few decimals"),
            }
        };
        assert_eq!(*field, expected, "row {row}");
    }
}

#[test]
fn every_vector_is_read_as_specified() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/firmware-notes/protocol-vectors.tsv"
    );
    let text = std::fs::read_to_string(path).expect("the vectors");
    let mut seen: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for vector in vectors(&text) {
        *seen.entry((vector.kind, vector.verdict)).or_default() += 1;
        check(&vector);
    }
    // A file that was cut short or renamed its verdicts would otherwise pass unseen.
    for kind in ["crc", "hello", "sample", "remark", "request"] {
        assert!(
            seen.get(&(kind, "ok")).is_some_and(|&count| count > 0),
            "no good {kind}"
        );
    }
    for fault in ["length", "ascii", "kind", "crc", "fields", "number"] {
        assert!(
            seen.contains_key(&("sample", fault)),
            "no sample with fault {fault}"
        );
    }
    for fault in [
        "length", "ascii", "crc", "version", "syntax", "value", "missing",
    ] {
        assert!(
            seen.contains_key(&("hello", fault)),
            "no hello with fault {fault}"
        );
    }
}

fn check(vector: &Vector<'_>) {
    let Vector { row, meaning, .. } = *vector;
    match vector.kind {
        "crc" => assert_eq!(format!("{:04X}", crc16(&vector.line)), meaning, "row {row}"),
        "request" => check_request(vector),
        _ => {
            let parsed = Native.parse(&vector.line);
            assert_eq!(verdict(&parsed), vector.verdict, "row {row}: {parsed:?}");
            match (vector.kind, parsed) {
                ("hello", Ok(Frame::Hello(hello))) => {
                    // The reason of the reset is for people and is not kept.
                    let expected = meaning.split(" reset=").next().expect("a first part");
                    assert_eq!(hello_meaning(&hello), expected, "row {row}");
                }
                ("sample", Ok(Frame::Sample(sample))) if vector.verdict == "ok" => {
                    assert_sample(&sample, meaning, row);
                }
                ("remark", Ok(Frame::Remark(text))) => {
                    let text = format!("text={text}").into_bytes();
                    assert_eq!(text, unescape(meaning), "row {row}");
                }
                (_, Ok(frame)) => assert_eq!(vector.verdict, "number", "row {row}: {frame:?}"),
                (_, Err(_)) => {}
            }
        }
    }
}

/// The host only writes requests: what it writes must be among the good ones.
fn check_request(vector: &Vector<'_>) {
    let ours = match vector.meaning.split_once("period_ms=") {
        Some((_, period)) => period.parse().map(request_period).unwrap_or_default(),
        None => request_hello().to_vec(),
    };
    let same = ours.strip_suffix(b"\n") == Some(vector.line.as_slice());
    // Leading zeros are allowed to others; we print none.
    let allowed = same || vector.line.windows(2).any(|pair| pair == b"=0");
    if vector.verdict == "ok" {
        assert!(
            allowed,
            "row {}: {}",
            vector.row,
            vector.line.escape_ascii()
        );
    } else {
        assert!(!same, "row {}: {}", vector.row, vector.line.escape_ascii());
    }
}
