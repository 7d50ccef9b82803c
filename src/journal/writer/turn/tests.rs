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

/// Seen of ext4 (Linux 6.18) while it turned read-only: `fdatasync` was answered with success, and
/// the disk mounted anew ended before what it had confirmed.
#[test]
fn what_the_last_good_sync_confirmed_wrongly_is_written_again() {
    for cannot_create in [false, true] {
        let disk = SmallDisk::of(1_000_000);
        let mut writer = Writer::create(disk.clone(), Limits::default()).unwrap();
        let mut lengths = Vec::new();
        for n in 1..=4 {
            writer.push(&record(n));
            writer.sync().unwrap();
            lengths.push(writer.place().byte as usize);
        }
        writer.push(&record(5));
        disk.set(|d| {
            d.failing_syncs = 1;
            d.cannot_create = cannot_create;
        });
        writer.sync().unwrap_err();
        if cannot_create {
            let (name, rest) = writer.rest();
            // No more than it may have to repeat: the last record in doubt, and the last confirmed.
            let again = format!(r#""after":{{"piece":1,"byte":{}}},"again":2"#, lengths[2]);
            let text = String::from_utf8(rest.clone()).unwrap();
            assert!(text.contains(&again), "{text}");
            disk.set(|d| _ = d.files.insert(name, rest));
        } else {
            writer.push(&record(6));
            writer.sync().unwrap();
        }
        disk.set(|d| d.files.get_mut("journal.dmj").unwrap().truncate(lengths[2]));
        let last = if cannot_create { 5 } else { 6 };
        assert_eq!(disk.read(), ((1..=last).collect(), 0));
    }
}

#[test]
fn the_end_is_confirmed_twice() {
    let disk = SmallDisk::of(1_000_000);
    let mut writer = Writer::create(disk.clone(), Limits::default()).unwrap();
    for n in 1..=2 {
        writer.push(&record(n));
        writer.sync().unwrap();
    }
    let length = writer.place().byte as usize;
    writer.push(&record(3));
    disk.set(|d| d.failing_after = Some(1));
    let trouble = writer.finish().unwrap_err();
    assert!(matches!(trouble, Trouble::Moved { .. }), "{trouble:?}");
    disk.set(|d| d.files.get_mut("journal.dmj").unwrap().truncate(length));
    assert_eq!(disk.read(), (vec![1, 2, 3], 0));
}
