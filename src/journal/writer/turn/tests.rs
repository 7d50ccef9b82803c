//! Where a writer goes when it has to leave its piece.

use super::super::super::Limits;
use super::super::super::testing::{SmallDisk, record};
use super::*;

/// A writer whose disk fails to confirm one record, and has files of these pieces already.
fn failed(strays: std::ops::RangeInclusive<u32>) -> (SmallDisk, Writer<SmallDisk>, Trouble) {
    let disk = SmallDisk::of(1_000_000);
    let mut writer = Writer::create(disk.clone(), Limits::default()).unwrap();
    writer.push(&record(1));
    writer.flush().unwrap();
    disk.set(|d| {
        d.failing_syncs = 1;
        for piece in strays {
            d.files.insert(piece_name(piece), b"not ours".to_vec());
        }
    });
    let trouble = writer.sync().unwrap_err();
    (disk, writer, trouble)
}

#[test]
fn files_that_are_there_are_passed_over_and_not_touched() {
    for (last, moved_to) in [(1, 2), (2, 3), (8, 9)] {
        let (disk, _, trouble) = failed(2..=last);
        let Trouble::Moved { piece, records, .. } = trouble else {
            panic!("{trouble:?}");
        };
        assert_eq!((piece, records), (moved_to, 1));
        for stray in 2..=last {
            assert_eq!(disk.0.borrow().files[&piece_name(stray)], b"not ours");
        }
    }
    // Somebody else's folder: it is not searched for ever.
    let (_, _, trouble) = failed(2..=9);
    assert!(matches!(trouble, Trouble::NotSynced { .. }), "{trouble:?}");
}

#[test]
fn what_is_not_confirmed_is_a_piece_to_be_put_beside_the_others() {
    let (disk, writer, _) = failed(2..=9);
    let (name, bytes) = writer.rest();
    assert_eq!(name, "journal-0002.dmj");
    let text = String::from_utf8(bytes.clone()).unwrap();
    assert!(text.contains(r#"{"piece":2,"why":"rescue","#), "{text}");
    disk.set(|d| {
        d.files.retain(|name, _| name == "journal.dmj");
        d.files.insert(name, bytes);
    });
    assert_eq!(disk.read(), (vec![1], 0));
}
