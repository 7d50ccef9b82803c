//! One frame for all lines: what is read into it is what a fresh one would hold.

use proptest::prelude::*;

use crate::wire::{DialectKind, Frame, MAX_LINE, RawFault, RawLine};

const KINDS: [DialectKind; 4] = [
    DialectKind::Native,
    DialectKind::Plain,
    DialectKind::Labelled,
    DialectKind::Json,
];

fn raw(bytes: &[u8], fault: Option<RawFault>) -> RawLine<'_> {
    RawLine {
        bytes,
        fault,
        maybe_fragment: false,
        bytes_after: 0,
    }
}

fn line() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        Just(b">17,4250,33120,30011*1ECC".to_vec()),
        Just(b"!duskmark 1 id=a channels=1 unit=degc*208B".to_vec()),
        Just(b"# the moss is wet".to_vec()),
        "-?[0-9]{1,3}\\.[0-9]{1,3},-?[0-9]{1,3}\\.[0-9]".prop_map(String::into_bytes),
        "slate=[0-9]{1,3} moss=[0-9]{1,3} ms=[0-9]{1,6}".prop_map(String::into_bytes),
        "\\{\"slate\":[0-9]{1,3},\"unit\":\"F\"\\}".prop_map(String::into_bytes),
        prop::collection::vec(any::<u8>(), 0..30),
    ]
}

proptest! {
    #[test]
    fn a_used_frame_reads_like_a_fresh_one(lines in prop::collection::vec(line(), 1..8)) {
        for kind in KINDS {
            let mut frame = Frame::default();
            for line in &lines {
                let raw = raw(line, None);
                let read = raw.parse_into(kind.dialect(), &mut frame);
                match raw.parse(kind.dialect()) {
                    Ok(fresh) => {
                        prop_assert_eq!(read, Ok(()));
                        prop_assert_eq!(&frame, &fresh, "{:?}", kind);
                    }
                    Err(fault) => prop_assert_eq!(read, Err(fault), "{:?}", kind),
                }
            }
        }
    }
}

#[test]
fn a_line_with_a_fault_of_its_own_is_read_in_no_dialect() {
    let faults = [
        RawFault::NotText,
        RawFault::TooLong {
            bytes: MAX_LINE + 1,
        },
    ];
    for kind in KINDS {
        for fault in faults {
            let raw = raw(b">17,4250,33120,30011*1ECC", Some(fault));
            let mut frame = Frame::default();
            assert_eq!(raw.parse(kind.dialect()), Err(fault.into()));
            let read = raw.parse_into(kind.dialect(), &mut frame);
            assert_eq!(read, Err(fault.into()));
        }
    }
}

#[test]
fn dialects_have_the_names_that_stand_in_files() {
    let names = KINDS.map(DialectKind::name);
    assert_eq!(names, ["native", "plain", "labelled", "json"]);
}
