//! JSON lines as boards print them, good and bad.

use proptest::prelude::*;

use crate::wire::{Dialect, Field, Frame, Json, LineFault, Sample, Unit};

fn number(value: f64, decimals: u8) -> Field {
    Field::Number { value, decimals }
}

fn sample(line: &str) -> Sample {
    match Json.parse(line.as_bytes()) {
        Ok(Frame::Sample(sample)) => sample,
        other => panic!("{line}: {other:?}"),
    }
}

#[test]
fn good_lines() {
    use Field::{Empty, NotANumber};
    let (slate, moss) = (number(24.9, 1), number(23.3, 1));
    let table: [(&str, &[(&str, Field)]); 17] = [
        (
            r#"{"slate":24.9,"moss":23.3}"#,
            &[("slate", slate), ("moss", moss)],
        ),
        // The order of the line, not of the alphabet.
        (
            r#"{"moss":23.3,"slate":24.9}"#,
            &[("moss", moss), ("slate", slate)],
        ),
        (
            r#" { "slate" : 24.9 , "moss" : 23.3 } "#,
            &[("slate", slate), ("moss", moss)],
        ),
        (
            r#"{"slate":24.90,"moss":-3}"#,
            &[("slate", number(24.9, 2)), ("moss", number(-3.0, 0))],
        ),
        (
            r#"{"slate":2.49e1,"moss":1e999}"#,
            &[("slate", number(24.9, 1)), ("moss", NotANumber)],
        ),
        (
            r#"{"temps":{"slate":24.9,"moss":23.3}}"#,
            &[("temps.slate", slate), ("temps.moss", moss)],
        ),
        (
            r#"{"temps":[24.9,23.3]}"#,
            &[("temps1", slate), ("temps2", moss)],
        ),
        (
            r#"{"temps":[24.9,null,"nan"]}"#,
            &[("temps1", slate), ("temps2", Empty), ("temps3", NotANumber)],
        ),
        (
            r#"{"slate":null,"moss":"NaN"}"#,
            &[("slate", Empty), ("moss", NotANumber)],
        ),
        (
            r#"{"slate":NaN,"moss":23.3}"#,
            &[("slate", NotANumber), ("moss", moss)],
        ),
        (
            r#"{"slate":nan,"moss":-Infinity}"#,
            &[("slate", NotANumber), ("moss", NotANumber)],
        ),
        (
            r#"{"slate":[nan, 23.3]}"#,
            &[("slate1", NotANumber), ("slate2", moss)],
        ),
        // What stands in a string stays there.
        (
            r#"{"note":"nan, \"nan\"","slate":24.9}"#,
            &[("slate", slate)],
        ),
        (
            r#"{"board":"K7F2","ok":true,"slate":24.9,"deep":{"a":{"b":1},"c":[2]}}"#,
            &[("slate", slate)],
        ),
        (
            r#"{"t":12,"time":3,"uptime":4,"id":5,"humidity":45.2,"slate":24.9}"#,
            &[("slate", slate)],
        ),
        (
            r#"{"a":{"t":24.9,"rh":45},"b":{"t":23.3,"rh":50}}"#,
            &[("a.t", slate), ("b.t", moss)],
        ),
        (r#"{"schiefer\u00b0":24.9}"#, &[("schiefer°", slate)]),
    ];
    for (line, expected) in table {
        let sample = sample(line);
        let labels = sample.labels.iter().map(|label| &**label);
        let found: Vec<_> = labels.zip(sample.fields.iter().copied()).collect();
        assert_eq!(found, expected, "{line}");
        assert_eq!(sample.labels.len(), sample.fields.len(), "{line}");
    }
}

#[test]
fn clock_counter_and_unit() {
    let sample = sample(r#"{"seq":17,"millis":4250,"unit":"°F","slate":76.8}"#);
    assert_eq!((sample.seq, sample.board_ms), (Some(17), Some(4250)));
    assert_eq!(sample.unit, Some(Unit::Degf));
    assert_eq!(sample.fields[..], [number(76.8, 1)]);
}

#[test]
fn a_degree_sign_in_the_older_encoding_is_read() {
    let parsed = Json.parse(b"{\"unit\":\"\xB0C\",\"slate\":24.9}");
    assert!(matches!(parsed, Ok(Frame::Sample(sample)) if sample.unit == Some(Unit::Degc)));
}

#[test]
fn bad_lines() {
    let not_json = |at| LineFault::NotJson { at };
    let table: [(&str, LineFault); 13] = [
        ("", not_json(0)),
        ("23.4,25.1", not_json(3)),
        ("[23.4,25.1]", not_json(0)),
        (r#"{"slate":24.9"#, not_json(12)),
        (r#"{"slate":24.9}}"#, not_json(14)),
        (r#"{"slate":24.9,}"#, not_json(14)),
        (r#"{"slate":24,9}"#, not_json(12)),
        (r"{slate:24.9}", not_json(1)),
        (r#"{"slate":warm}"#, not_json(9)),
        ("{}", LineFault::NoReading),
        (r#"{"ms":4250}"#, LineFault::NoReading),
        (r#"{"slate":"24.9"}"#, LineFault::NoReading),
        (
            r#"{"a":[1,2,3,4,5,6,7,8,9]}"#,
            LineFault::FieldCount { found: 9, limit: 8 },
        ),
    ];
    for (line, expected) in table {
        assert_eq!(Json.parse(line.as_bytes()), Err(expected), "{line}");
    }
}

proptest! {
    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..260)) {
        let _ = Json.parse(&bytes);
    }

    #[test]
    fn near_json_never_panics(line in "\\{(\"[a-c\\\\]{0,3}\":?[-0-9.enaN\\[\\]{}\",]{0,8},?){0,6}\\}?") {
        if let Ok(Frame::Sample(sample)) = Json.parse(line.as_bytes()) {
            prop_assert_eq!(sample.labels.len(), sample.fields.len());
        }
    }

    /// What serde_json itself writes is read back, in its order.
    #[test]
    fn numbers_written_by_a_library_are_read(values in prop::collection::vec(-1e4..1e4_f64, 1..=8)) {
        let entries: Vec<String> = values.iter().enumerate()
            .map(|(place, value)| format!("\"p{place}\":{}", serde_json::to_string(value).unwrap()))
            .collect();
        let sample = sample(&format!("{{{}}}", entries.join(",")));
        let read: Vec<f64> = sample.fields.iter().map(|field| match field {
            Field::Number { value, .. } => *value,
            other => panic!("{other:?}"),
        }).collect();
        prop_assert_eq!(read, values);
    }
}
