//! Labelled lines as sketches print them, good and bad.

use proptest::prelude::*;

use crate::wire::{Dialect, Field, Frame, Labelled, LineFault, Unit};

fn number(value: f64, decimals: u8) -> Field {
    Field::Number { value, decimals }
}

#[test]
fn a_label_that_stands_there_twice_is_two_channels() {
    let line = "Humidity: 45.3%  Temp: 22.5C  Humidity: 61.1%  Temp: 21.4C".as_bytes();
    let Ok(Frame::Sample(sample)) = Labelled.parse(line) else {
        panic!("no sample");
    };
    assert_eq!(sample.labels, ["Temp".into(), "Temp 2".into()]);
    assert_eq!(sample.fields[..], [number(22.5, 1), number(21.4, 1)]);
}

type Good<'a> = (&'a [u8], &'a [(&'a str, Field)], Option<Unit>);

#[test]
fn good_lines() {
    use Field::{Empty, NotANumber};
    let (slate, moss) = (("slate", number(24.9, 1)), ("moss", number(23.3, 1)));
    let degc = Some(Unit::Degc);
    let table: [Good<'_>; 27] = [
        (b"slate=24.9 moss=23.3", &[slate, moss], None),
        (b"slate=24.9,moss=23.3", &[slate, moss], None),
        (b"slate = 24.9; moss = 23.3", &[slate, moss], None),
        (b"slate:24.9\tmoss:23.3", &[slate, moss], None),
        (b"slate=24,9 moss=23,3", &[slate, moss], None),
        (b"slate: 24,9, moss: 23,3", &[slate, moss], None),
        (b"slate: 24.9C moss: 23.3C", &[slate, moss], degc),
        (
            "slate: 24.9 °C, moss: 23.3 °C".as_bytes(),
            &[slate, moss],
            degc,
        ),
        (b"slate: 24.9 \xB0C, moss: 23.3 \xB0C", &[slate, moss], degc),
        (b"slate: 24.9 degC moss: 23.3 degC", &[slate, moss], degc),
        (b"slate=24.9 C moss=23.3", &[slate, moss], degc),
        (b"slate=24.9 moss=nan", &[slate, ("moss", NotANumber)], None),
        (
            b"slate=24.9 moss=-inf",
            &[slate, ("moss", NotANumber)],
            None,
        ),
        (
            b"slate: --- moss: 23.3",
            &[("slate", NotANumber), moss],
            None,
        ),
        (b"slate= moss=23.3", &[("slate", Empty), moss], None),
        (b"slate=,moss=23.3", &[("slate", Empty), moss], None),
        (b"slate=24.9 moss=", &[slate, ("moss", Empty)], None),
        (b"T1: 23.4 C", &[("T1", number(23.4, 1))], degc),
        (
            b"T1: 74.1 F T2: 77.2 F",
            &[("T1", number(74.1, 1)), ("T2", number(77.2, 1))],
            Some(Unit::Degf),
        ),
        (
            b"T1: 296.5K",
            &[("T1", number(296.5, 1))],
            Some(Unit::Kelvin),
        ),
        (
            b"R1=10012 ohm",
            &[("R1", number(10012.0, 0))],
            Some(Unit::Ohm),
        ),
        // A known unit that is followed by `=` or `:` is a label.
        (
            b"C: 23.4 F: 25.1",
            &[("C", number(23.4, 1)), ("F", number(25.1, 1))],
            None,
        ),
        (
            b"Probe 1: -3.25 Probe 2: 1e999",
            &[("Probe 1", number(-3.25, 2)), ("Probe 2", NotANumber)],
            None,
        ),
        (
            b"slate=24.9 RH=45% t=1234 battery: 4.8 V pump: 3 V",
            &[slate],
            None,
        ),
        (b"T: 23.4 H: 45.0", &[("T", number(23.4, 1))], None),
        (
            b"slate: 23.4 H: 24.0",
            &[("slate", number(23.4, 1)), ("H", number(24.0, 1))],
            None,
        ),
        // A capital T is a temperature.
        (
            b"T=23.4;M=24.1",
            &[("T", number(23.4, 1)), ("M", number(24.1, 1))],
            None,
        ),
    ];
    for (line, expected, unit) in table {
        let parsed = Labelled.parse(line);
        let Ok(Frame::Sample(sample)) = parsed else {
            panic!("{}: {parsed:?}", line.escape_ascii());
        };
        let labels = sample.labels.iter().map(|label| &**label);
        let found: Vec<_> = labels.zip(sample.fields.iter().copied()).collect();
        assert_eq!(found, expected, "{}", line.escape_ascii());
        assert_eq!(sample.labels.len(), sample.fields.len());
        assert_eq!(sample.unit, unit, "{}", line.escape_ascii());
    }
}

#[test]
fn clock_and_counter_are_taken_from_their_labels() {
    let parsed = Labelled.parse(b"seq=17 ms=4250 slate=24.9");
    let Ok(Frame::Sample(sample)) = parsed else {
        panic!("{parsed:?}")
    };
    assert_eq!((sample.seq, sample.board_ms), (Some(17), Some(4250)));
    assert_eq!(sample.fields.len(), 1);
    for no_clock in ["ms=-1", "ms=4294967296", "ms=1.5", "ms=nan"] {
        let parsed = Labelled.parse(format!("{no_clock} slate=24.9").as_bytes());
        let Ok(Frame::Sample(sample)) = parsed else {
            panic!("{parsed:?}")
        };
        assert_eq!(sample.board_ms, None, "{no_clock}");
    }
}

#[test]
fn bad_lines() {
    let number = |field, at| LineFault::Number { field, at };
    let syntax = |at, expected| LineFault::Syntax { at, expected };
    let after_label = "`=` or `:` after the label";
    let table: [(&str, LineFault); 19] = [
        ("", LineFault::NoReading),
        ("Ready", syntax(5, after_label)),
        ("23.4,25.1", syntax(0, "a label")),
        ("slate=24.9 25.1", syntax(11, "a label")),
        ("slate=24.9 warm", syntax(15, after_label)),
        ("state: warm", number(1, 7)),
        ("slate=24.9 moss=wet", number(2, 16)),
        ("slate=24.9.1", number(1, 6)),
        ("slate=--5", number(1, 6)),
        ("slate=1.023,5", LineFault::Grouping { field: 1, at: 6 }),
        ("slate=1,023,5", LineFault::Grouping { field: 1, at: 6 }),
        (
            "slate=24.9C moss=75.1F",
            LineFault::UnitsDiffer { field: 2 },
        ),
        ("ms=4250", LineFault::NoReading),
        ("rst:0x1 (POWERON_RESET),boot:0x13", number(1, 4)),
        ("load:0x3fff0030,len:1344", number(1, 5)),
        ("slate=24.9abc moss=23.3", number(1, 6)),
        ("12:30:05 slate=24.9", syntax(0, "a label")),
        (
            "a=1 b=2 c=3 d=4 e=5 f=6 g=7 h=8 i=9",
            LineFault::FieldCount { found: 9, limit: 8 },
        ),
        ("=5", syntax(0, "a label")),
    ];
    for (line, expected) in table {
        let parsed = Labelled.parse(line.as_bytes());
        assert_eq!(parsed, Err(expected), "{line:?}");
    }
}

proptest! {
    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..260)) {
        let _ = Labelled.parse(&bytes);
    }

    #[test]
    fn near_lines_keep_labels_and_fields_paired(line in "([a-c°CF]{0,3}[=: ]{0,2}[-+0-9.,e]{0,5}[ ,;\t]{0,2}(C|°C|F|nan)?){0,9}") {
        if let Ok(Frame::Sample(sample)) = Labelled.parse(line.as_bytes()) {
            prop_assert_eq!(sample.labels.len(), sample.fields.len());
            prop_assert!(sample.labels.iter().all(|label| !label.is_empty()));
        }
    }
}
