//! Plain lines as sketches print them, good and bad.

use proptest::prelude::*;

use crate::wire::{Dialect, Field, Frame, LineFault, Plain};

/// A short way to write fields down: number and decimals, `None` for empty, NaN for no number.
fn fields(line: &[u8]) -> Vec<Field> {
    match Plain.parse(line) {
        Ok(Frame::Sample(sample)) => {
            assert!(sample.seq.is_none() && sample.board_ms.is_none() && sample.labels.is_empty());
            sample.fields.to_vec()
        }
        other => panic!("{}: {other:?}", line.escape_ascii()),
    }
}

fn number(value: f64, decimals: u8) -> Field {
    Field::Number { value, decimals }
}

#[test]
fn good_lines() {
    use Field::{Empty, NotANumber};
    let pair = || vec![number(23.4, 1), number(25.1, 1)];
    let table: [(&str, Vec<Field>); 29] = [
        ("23.4,25.1", pair()),
        ("23.4, 25.1", pair()),
        (" 23.4 ,25.1 ", pair()),
        ("23.4;25.1", pair()),
        ("23.4 ; 25.1", pair()),
        ("23.4\t25.1", pair()),
        ("23.4 25.1", pair()),
        ("  23.4   25.1  ", pair()),
        ("23,4;25,1", pair()),
        ("23,4; 25,1", pair()),
        ("23,4\t25,1", pair()),
        ("23,4 25,1", pair()),
        ("+23.4,+25.1", pair()),
        ("23.40", vec![number(23.4, 2)]),
        ("-3.25", vec![number(-3.25, 2)]),
        ("512", vec![number(512.0, 0)]),
        // A comma alone separates whole numbers: counts of a converter.
        ("23,4", vec![number(23.0, 0), number(4.0, 0)]),
        ("512,498", vec![number(512.0, 0), number(498.0, 0)]),
        (
            "512,498,300",
            vec![number(512.0, 0), number(498.0, 0), number(300.0, 0)],
        ),
        (
            "812,798,775,801",
            [812.0, 798.0, 775.0, 801.0].map(|v| number(v, 0)).to_vec(),
        ),
        (",25.1", vec![Empty, number(25.1, 1)]),
        ("23.4,", vec![number(23.4, 1), Empty]),
        ("23,4;;25,1", vec![number(23.4, 1), Empty, number(25.1, 1)]),
        ("nan,25.10", vec![NotANumber, number(25.1, 2)]),
        ("NAN 25.10", vec![NotANumber, number(25.1, 2)]),
        ("-inf,25.10", vec![NotANumber, number(25.1, 2)]),
        ("---;25,10", vec![NotANumber, number(25.1, 2)]),
        ("1e999,2.5e1", vec![NotANumber, number(25.0, 0)]),
        ("1,2,3,4.0,5,6,7,8", {
            let mut all: Vec<_> = (1..=8).map(|v| number(f64::from(v), 0)).collect();
            all[3] = number(4.0, 1);
            all
        }),
    ];
    for (line, expected) in table {
        assert_eq!(fields(line.as_bytes()), expected, "{line:?}");
    }
}

#[test]
fn bad_lines() {
    let number = |field, at| LineFault::Number { field, at };
    let ambiguous = |commas| LineFault::AmbiguousComma { commas };
    let grouping = |field, at| LineFault::Grouping { field, at };
    let table: [(&[u8], LineFault); 24] = [
        (b"", LineFault::NoReading),
        (b"   ", LineFault::NoReading),
        (b"\t", LineFault::NoReading),
        (b"slate,moss", number(1, 0)),
        (b"23.4,moss", number(2, 5)),
        (b"23.4, moss", number(2, 6)),
        (b"Ready.", number(1, 0)),
        (b"slate=23.4", number(1, 0)),
        (b">17,4250,33120,30011*1ECC", number(1, 0)),
        (b"23.4 C", number(2, 5)),
        (b"23.4.1", number(1, 0)),
        (b"--5,1", number(1, 0)),
        (b"0x17", number(1, 0)),
        (b"12:30:05 23.4", number(1, 0)),
        (b"23,4,25,1", ambiguous(3)),
        (b"23,45,25,10,24,99", ambiguous(5)),
        (b"1,023", ambiguous(1)),
        (b"23,04", ambiguous(1)),
        (b"23.4,25.1 24.0,25.0", ambiguous(2)),
        (b"23,4, 25,1", ambiguous(3)),
        (b"1.023,5;1.019,2", grouping(1, 0)),
        (b"1,023,5\t1", grouping(1, 0)),
        (b"1 023;1 019", number(1, 0)),
        (
            b"1 2 3 4 5 6 7 8 9",
            LineFault::FieldCount { found: 9, limit: 8 },
        ),
    ];
    for (line, expected) in table {
        assert_eq!(Plain.parse(line), Err(expected), "{}", line.escape_ascii());
    }
}

#[test]
fn remarks_are_kept_for_people() {
    assert_eq!(
        Plain.parse(b"# slate, moss"),
        Ok(Frame::Remark(" slate, moss".to_owned()))
    );
}

proptest! {
    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..260)) {
        let _ = Plain.parse(&bytes);
    }

    #[test]
    fn near_lines_never_give_more_than_they_hold(line in "[-+0-9.,; \te]{0,40}") {
        if let Ok(Frame::Sample(sample)) = Plain.parse(line.as_bytes()) {
            for field in &sample.fields {
                if let Field::Number { value, .. } = field {
                    prop_assert!(value.is_finite());
                }
            }
        }
    }

    /// What separates makes no difference to what is read.
    #[test]
    fn the_same_numbers_in_every_style(tenths in prop::collection::vec(-9999..9999_i32, 2..=8)) {
        let points: Vec<String> = tenths.iter().map(|t| format!("{:.1}", f64::from(*t) / 10.0)).collect();
        let commas: Vec<String> = points.iter().map(|text| text.replace('.', ",")).collect();
        let expected: Vec<Field> = points.iter().map(|text| number(text.parse().unwrap(), 1)).collect();
        for line in [
            points.join(","), points.join(", "), points.join(";"), points.join("\t"), points.join(" "),
            commas.join(";"), commas.join("\t"), commas.join(" "),
        ] {
            prop_assert_eq!(&fields(line.as_bytes()), &expected, "{}", line);
        }
    }
}
