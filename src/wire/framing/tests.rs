//! Lines out of bytes: line ends, limits, halves, and the same for every cut.

use proptest::prelude::*;

use super::{Framer, MAX_LINE, RawFault, RawLine};

/// What a line is, apart from the chunk it came in.
#[derive(Debug, Clone, PartialEq)]
struct Line {
    bytes: Vec<u8>,
    fault: Option<RawFault>,
    maybe_fragment: bool,
}

impl From<RawLine<'_>> for Line {
    fn from(line: RawLine<'_>) -> Self {
        let RawLine {
            bytes,
            fault,
            maybe_fragment,
            ..
        } = line;
        Self {
            bytes: bytes.to_vec(),
            fault,
            maybe_fragment,
        }
    }
}

fn lines<'a>(framer: &mut Framer, chunks: impl IntoIterator<Item = &'a [u8]>) -> Vec<Line> {
    let mut lines = Vec::new();
    for chunk in chunks {
        framer.push(chunk, |line| lines.push(line.into()));
    }
    lines
}

fn texts(bytes: &[u8]) -> Vec<String> {
    let lines = lines(&mut Framer::new(), [bytes]);
    lines
        .iter()
        .map(|line| line.bytes.escape_ascii().to_string())
        .collect()
}

#[test]
fn every_usual_line_end_is_taken_and_empty_lines_are_skipped() {
    let table: [(&[u8], &[&str]); 8] = [
        (b"a\nb\n", &["a", "b"]),
        (b"a\r\nb\r\n", &["a", "b"]),
        (b"a\rb\r", &["a", "b"]),
        (b"a\n\rb\n\r", &["a", "b"]),
        (b"\n\n\r\n\r\ra\n\n", &["a"]),
        (b"a\nb", &["a"]),
        (b"\n", &[]),
        (b"", &[]),
    ];
    for (bytes, expected) in table {
        assert_eq!(texts(bytes), expected, "{}", bytes.escape_ascii());
    }
}

#[test]
fn the_longest_line_passes_and_one_byte_more_is_counted_once() {
    for (length, fault) in [
        (MAX_LINE, None),
        (
            MAX_LINE + 1,
            Some(RawFault::TooLong {
                bytes: MAX_LINE + 1,
            }),
        ),
        (100_000, Some(RawFault::TooLong { bytes: 100_000 })),
    ] {
        let stream = [vec![b'7'; length], b"\nnext\n".to_vec()].concat();
        for chunk in [1, 255, 256, 257, stream.len()] {
            let found = lines(&mut Framer::new(), stream.chunks(chunk));
            assert_eq!(found.len(), 2, "{length} bytes by {chunk}");
            assert_eq!(found[0].fault, fault, "{length} bytes by {chunk}");
            assert_eq!(found[0].bytes, vec![b'7'; length.min(MAX_LINE)]);
            assert_eq!(
                (found[1].bytes.as_slice(), found[1].fault),
                (b"next".as_slice(), None)
            );
        }
    }
}

#[test]
fn a_stream_without_line_ends_takes_no_memory() {
    let mut framer = Framer::new();
    for _ in 0..1000 {
        framer.push(&[0x55; 4096], |line| panic!("a line: {line:?}"));
    }
    assert_eq!(framer.pending(), 4_096_000);
    assert!(
        size_of_val(&framer) < 2 * MAX_LINE,
        "the framer owns nothing outside itself"
    );
}

#[test]
fn noise_is_marked_but_kept() {
    let bytes = b"\xe0\x1c\x80\xfc\n23.4\n24.9 \xb0C\n";
    let found = lines(&mut Framer::new(), [bytes.as_slice()]);
    let faults: Vec<_> = found.iter().map(|line| line.fault).collect();
    assert_eq!(faults, [Some(RawFault::NotText), None, None]);
    assert_eq!(found[0].bytes, b"\xe0\x1c\x80\xfc");
}

#[test]
fn after_opening_only_the_first_line_may_be_a_fragment() {
    for (bytes, expected) in [
        (b"4,25.1\n23.4,25.1\n".as_slice(), vec![true, false]),
        // The first line end was the end of the half line.
        (b"\n23.4,25.1\n".as_slice(), vec![false]),
        (b"\r\n23.4,25.1\r\n".as_slice(), vec![false]),
    ] {
        let mut framer = Framer::new();
        framer.push(b"left over from before", |_| panic!("no line end yet"));
        framer.after_open();
        let found = lines(&mut framer, [bytes]);
        let marks: Vec<_> = found.iter().map(|line| line.maybe_fragment).collect();
        assert_eq!(marks, expected, "{}", bytes.escape_ascii());
        assert!(bytes.starts_with(b"\n") || !found[0].bytes.starts_with(b"left"));
    }
}

#[test]
fn losing_the_port_reports_the_half_line_and_forgets_it() {
    let mut framer = Framer::new();
    framer.push(b"23.4,25.1\n23.", |_| {});
    assert_eq!(framer.pending(), 3);
    let mut cut = Vec::new();
    framer.cut(|line| cut.push(Line::from(line)));
    assert_eq!(
        cut,
        [Line {
            bytes: b"23.".to_vec(),
            fault: None,
            maybe_fragment: true
        }]
    );
    assert_eq!(framer.pending(), 0);
    framer.cut(|line| panic!("reported twice: {line:?}"));
    assert_eq!(lines(&mut framer, [b"1,2\n".as_slice()])[0].bytes, b"1,2");
}

#[test]
fn bytes_after_count_from_the_end_of_the_line() {
    let mut after = Vec::new();
    let mut framer = Framer::new();
    for chunk in [b"23.4\n23.5\n2".as_slice(), b"3.6\r\n", b"23.7\r", b"\n"] {
        framer.push(chunk, |line| after.push(line.bytes_after));
    }
    // With CRLF the LF comes after the first byte of the end, whether it is in the chunk or not.
    assert_eq!(after, [6, 1, 1, 0]);
}

/// Streams with many line ends, long lines, noise and text.
fn stream() -> impl Strategy<Value = Vec<u8>> {
    let piece = prop_oneof![
        4 => prop::collection::vec(0x20..0x7F_u8, 0..40),
        4 => prop_oneof![Just(b"\n".to_vec()), Just(b"\r\n".to_vec()), Just(b"\r".to_vec())],
        1 => prop::collection::vec(any::<u8>(), 0..40),
        1 => (200..300_usize).prop_map(|length| vec![b'7'; length]),
        1 => Just("24.9 °C".as_bytes().to_vec()),
        1 => Just(b"24.9 \xB0C".to_vec()),
    ];
    prop::collection::vec(piece, 0..30).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn every_cut_of_the_stream_gives_the_same_lines(
        stream in stream(),
        cuts in prop::collection::vec(any::<prop::sample::Index>(), 0..20),
        opened in any::<bool>(),
    ) {
        let mut places: Vec<usize> = cuts.iter().map(|cut| cut.index(stream.len() + 1)).collect();
        places.sort_unstable();
        places.push(stream.len());
        let mut start = 0;
        let chunks = places.iter().map(|&end| &stream[std::mem::replace(&mut start, end)..end]);
        let mut whole = Framer::new();
        if opened {
            whole.after_open();
        }
        let mut cut = whole.clone();
        prop_assert_eq!(lines(&mut cut, chunks), lines(&mut whole, [stream.as_slice()]));
        prop_assert_eq!(cut.pending(), whole.pending());
        prop_assert!(stream.iter().filter(|b| !b"\r\n".contains(b)).count() >= whole.pending());
    }

    /// An independent way to the same lines: the standard library's split.
    #[test]
    fn lines_are_what_a_plain_split_gives(stream in stream()) {
        let found = lines(&mut Framer::new(), [stream.as_slice()]);
        let mut pieces: Vec<&[u8]> = stream.split(|b| b"\r\n".contains(b)).collect();
        pieces.pop();
        pieces.retain(|piece| !piece.is_empty());
        prop_assert_eq!(found.len(), pieces.len());
        for (line, piece) in found.iter().zip(pieces) {
            prop_assert_eq!(&line.bytes[..], &piece[..piece.len().min(MAX_LINE)]);
            let too_long = matches!(line.fault, Some(RawFault::TooLong { bytes }) if bytes == piece.len());
            prop_assert_eq!(too_long, piece.len() > MAX_LINE);
        }
    }
}
