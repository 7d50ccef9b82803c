//! Where a read ends says nothing: however a stream is cut, the same rows come out of it.

use proptest::prelude::*;
use proptest::sample::Index;

use super::*;
use crate::wire::{Field, Hello, MAX_LINE, Unit, encode_hello, encode_sample};

/// One byte takes 1 ms, so every byte's own time is known exactly.
const BAUD: u32 = 10_000;
const BYTE_NS: i64 = 1_000_000;

/// The forms of lines that boards speak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Native,
    Plain,
    Labelled,
    /// Each label on a line of its own.
    Apart,
    Json,
    /// By a pattern from people.
    Own,
}

const FORMS: [Form; 6] = [
    Form::Native,
    Form::Plain,
    Form::Labelled,
    Form::Apart,
    Form::Json,
    Form::Own,
];

/// What a stream is made of.
#[derive(Debug, Clone)]
enum Piece {
    /// A sample line with these two temperatures in thousandths of a degree.
    Sample(i32, i32),
    /// Its first bytes only.
    Half(i32, usize),
    /// A native board's introduction.
    Hello,
    /// Bytes that no board meant.
    Noise(Vec<u8>),
    /// Text in which characters are cut.
    Letters(&'static [u8]),
    /// A line about as long as the longest that is taken, or longer.
    Long(usize),
}

fn piece() -> impl Strategy<Value = Piece> {
    let value = -40_000..125_000_i32;
    prop_oneof![
        12 => (value.clone(), value.clone()).prop_map(|(a, b)| Piece::Sample(a, b)),
        2 => (value, 1..20_usize).prop_map(|(a, length)| Piece::Half(a, length)),
        1 => Just(Piece::Hello),
        2 => prop::collection::vec(any::<u8>(), 0..40).prop_map(Piece::Noise),
        1 => prop_oneof![
            Just(b"24.9 \xC2\xB0C".as_slice()),
            Just(b"24.9 \xB0C".as_slice()),
            Just(b"24.9 \xC2".as_slice()),
            Just(b"\xF0\x9F\x92 24.9,23.3".as_slice()),
        ].prop_map(Piece::Letters),
        1 => (MAX_LINE - 3..MAX_LINE + 150).prop_map(Piece::Long),
    ]
}

/// Pieces, each with its line end; some have none and run into the next.
fn stream() -> impl Strategy<Value = Vec<(Piece, &'static str)>> {
    let end = prop_oneof![
        6 => Just("\n"), 3 => Just("\r\n"), 1 => Just("\r"), 1 => Just("\n\r\n"), 1 => Just(""),
    ];
    prop::collection::vec((piece(), end), 1..25)
}

fn hello() -> Vec<u8> {
    let mut line = Vec::new();
    let hello = Hello {
        version: crate::wire::PROTOCOL_VERSION,
        board_id: "K7F2".into(),
        channels: 2,
        unit: Unit::Degc,
        full_scale: None,
        fixed_ohm: None,
        ntc_side: None,
        period_ms: None,
        skew_us: Some(1500),
    };
    encode_hello(&mut line, &hello);
    line
}

/// A sample line without its end, said when so many bytes were on the wire.
fn sample(form: Form, seq: u32, at: usize, a: i32, b: i32) -> Vec<u8> {
    let [slate, moss] = [a, b].map(|value| f64::from(value) / 1000.0);
    let text = match form {
        Form::Native => {
            let fields = [slate, moss].map(|value| Field::Number { value, decimals: 3 });
            let mut line = Vec::new();
            encode_sample(&mut line, seq, at as u32, &fields);
            line.pop();
            return line;
        }
        Form::Plain => format!("{slate:.3},{moss:.3}"),
        Form::Labelled => format!("slate={slate:.3} moss={moss:.3}"),
        Form::Apart => format!("slate={slate:.3}\nmoss={moss:.3}"),
        Form::Json => format!("{{\"slate\":{slate:.3},\"moss\":{moss:.3}}}"),
        Form::Own => format!("S{slate:.3}M{moss:.3}!"),
    };
    text.into_bytes()
}

fn bytes(form: Form, pieces: &[(Piece, &'static str)]) -> Vec<u8> {
    let mut bytes = hello();
    if form != Form::Native {
        bytes.clear();
    }
    for (seq, (piece, end)) in (0..).zip(pieces) {
        let body = match piece {
            Piece::Sample(a, b) => sample(form, seq, bytes.len(), *a, *b),
            Piece::Half(a, length) => {
                let mut line = sample(form, seq, bytes.len(), *a, *a);
                line.truncate(*length);
                line
            }
            Piece::Hello => {
                let mut line = hello();
                line.pop();
                line
            }
            Piece::Noise(noise) => noise.clone(),
            Piece::Letters(letters) => letters.to_vec(),
            Piece::Long(length) => vec![b'7'; *length],
        };
        bytes.extend_from_slice(&body);
        bytes.extend_from_slice(end.as_bytes());
    }
    bytes
}

fn setup(form: Form) -> SamplerSetup {
    let own = LinePattern {
        name: "tray".into(),
        pattern: "S(?<slate>[-0-9.]+)M(?<moss>[-0-9.]+)!".into(),
        ..LinePattern::default()
    };
    SamplerSetup {
        baud: Some(BAUD),
        lines: (form == Form::Own).then_some(own),
        ..SamplerSetup::default()
    }
}

/// When the last of so many bytes is there, in ns.
fn there_ns(bytes: usize) -> i64 {
    i64::try_from(bytes).expect("a short stream") * BYTE_NS
}

/// What an event says, apart from when the read came that brought it.
type Said = (EventKind, Option<usize>, String);

/// Feeds a stream in reads that end at these places, each read when its last byte was there.
fn fed(form: Form, bytes: &[u8], ends: &[usize]) -> (Vec<Row>, Vec<Said>) {
    let mut sampler = Sampler::new(setup(form));
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    let mut begin = 0;
    for &end in ends.iter().chain([&bytes.len()]) {
        let read = &bytes[begin..end];
        sampler.bytes(there_ns(end), read, &mut out);
        begin = end;
    }
    sampler.finish(there_ns(bytes.len()), &mut out);
    let (mut rows, mut said) = (Vec::new(), Vec::new());
    for product in out {
        match product {
            Product::Row(row) => rows.push(row),
            Product::Event(event) => said.push((event.kind, event.channel, event.detail)),
        }
    }
    (rows, said)
}

/// The same rows for every cut: values, times to the nanosecond and flags.
fn same_for_every_cut(
    form: Form,
    pieces: &[(Piece, &'static str)],
    cuts: &[Index],
) -> Result<usize, TestCaseError> {
    let bytes = bytes(form, pieces);
    let mut ends: Vec<usize> = cuts.iter().map(|cut| cut.index(bytes.len() + 1)).collect();
    ends.sort_unstable();
    let each: Vec<usize> = (1..bytes.len()).collect();
    let (rows, said) = fed(form, &bytes, &each);
    for ends in [&[], ends.as_slice()] {
        let (others, words) = fed(form, &bytes, ends);
        prop_assert_eq!(&others, &rows, "{:?} cut at {:?}", form, ends);
        prop_assert_eq!(&words, &said, "{:?} cut at {:?}", form, ends);
    }
    Ok(rows.len())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn every_cut_gives_the_same_rows_in_every_form(
        pieces in stream(),
        cuts in prop::collection::vec(any::<Index>(), 0..40),
    ) {
        for form in FORMS {
            same_for_every_cut(form, &pieces, &cuts)?;
        }
    }
}

#[test]
fn streams_for_this_make_rows_in_every_form() {
    let pieces: Vec<(Piece, &str)> = (0..8)
        .map(|k| (Piece::Sample(20_000 + k, 30_000 - k), "\r\n"))
        .collect();
    for form in FORMS {
        let made = same_for_every_cut(form, &pieces, &[]).expect("the same");
        // The first line after opening may be half a line, where no checksum vouches for it.
        assert!(made >= 6, "{form:?}: {made} rows");
    }
}
